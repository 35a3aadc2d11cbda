"""The page of a comparison: what changed, what to do, the nights side by side.

Read `templates/compare.html.j2` for what stands where, `pictures.py` for the panels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pointmodel.base.figures import miss_words
from pointmodel.base.wording import sentence
from pointmodel.comparing import changewords as comparechanges
from pointmodel.comparing import tables as comparewords
from pointmodel.comparing.leans import lean_picture, lean_words, leans_of
from pointmodel.comparing.pictures import panels
from pointmodel.reading.whichlog import folder_identity
from pointmodel.showing import pages

if TYPE_CHECKING:
    from pointmodel.base.errors import Notice
    from pointmodel.comparing.compare import CompareResult

MOST_CARRIED = 8


@dataclass(frozen=True)
class Cell:
    """A place in the table of carry-over: the miss left, and whether a change lies between."""

    miss: str
    across: bool


def write_compare_page(result: CompareResult, path: Path, scheme: pages.Scheme = "auto") -> Path:
    """Write the page of a comparison to `path`, whole or not at all, and return the path.

    Raises InputError where something stands there that this program did not write, or the page of
    other nights, and where the system refuses.
    """
    return pages.write_page(path, compare_html(result, scheme), about(result))


def about(result: CompareResult) -> pages.Subject:
    """What the page is about: a season stays the same one while nights are added to its folder."""
    return pages.Subject("page", folder_identity(result.inputs))


def compare_html(result: CompareResult, scheme: pages.Scheme = "auto") -> str:
    """The whole page as text: no outside requests, every word of a user's escaped.

    `scheme` is what the page opens in; auto goes by the screen's own setting.
    """
    from markupsafe import Markup

    environment = pages.environment()
    drawn = panels(result)
    title = f"Nights compared: {comparewords.nights_words(result)}"
    few = len(result.nights) <= comparewords.MOST_NIGHTS_IN_WORDS
    return environment.get_template("compare.html.j2").render(
        **pages.page_head(environment, title, ("report.css", "compare.css"), scheme),
        result=result,
        leans=Markup(lean_picture(result)),
        lean_words=lean_words(leans_of(result)),
        told=comparewords,
        changed=comparechanges,
        terms=comparewords.ordered_terms(result),
        panels={name: Markup(svg) for name, svg in drawn.terms.items()},
        misses=Markup(drawn.misses),
        noise=Markup(drawn.noise),
        same_scale=drawn.same_scale,
        few=few,
        nights=comparewords.nights_table(result.nights) if few else None,
        carried=_carried(result),
        urgent=_sentences(n for n in result.warnings if n.code in comparewords.URGENT),
        remarks=_sentences(n for n in result.warnings if n.code not in comparewords.URGENT),
    )


def _sentences(notices: Iterable[Notice]) -> list[str]:
    return [sentence(notice.text) for notice in notices]


def _carried(result: CompareResult) -> list[list[Cell | None]]:
    """The table of carry-over: a row the night whose terms are used, a column where they are.

    Empty where not all nights were tried on each other, or there are too many to read.
    """
    count = len(result.nights)
    if count > MOST_CARRIED or not result.carry_over:
        return []
    places = {night.id: place for place, night in enumerate(result.nights)}
    table: list[list[Cell | None]] = [[None] * count for _ in range(count)]
    for one in result.carry_over:
        cell = Cell(miss_words(one.rms_arcmin), comparechanges.is_across(result, one))
        table[places[one.train]][places[one.test]] = cell
    return table
