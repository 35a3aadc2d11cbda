"""The comparison of nights as terminal text: what changed, what to do, then the figures.

Read `changewords.py` first: words are there, this file says what stands where.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.wording import sentence
from pointmodel.comparing import changewords as comparechanges
from pointmodel.comparing import tables as comparewords
from pointmodel.showing.textpage import TextPage

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult


def compare_text(result: CompareResult, *, width: int = 100, color: bool = False) -> str:
    """The whole comparison as text, at most `width` columns wide."""
    page = TextPage(width, color)
    page.paragraph(result.summary, bold=True)
    page.bullets("What to do", (*comparechanges.steps(result), comparechanges.PROFILE_ADVICE))
    page.bullets(None, comparechanges.PROFILE_COMMANDS)
    page.bullets("What changed", comparechanges.change_lines(result))
    page.table(
        "The terms over the nights", comparechanges.SAID_HEAD, comparechanges.said_rows(result)
    )
    if len(result.nights) <= comparewords.MOST_NIGHTS_IN_TEXT:
        head, nights = comparewords.nights_table(result.nights)
        page.table("Night by night", head, nights, right=4)
        page.paragraph(comparewords.NIGHTS_WORDS)
    else:
        page.paragraph(comparewords.many_nights_words(result))
    page.paragraph(comparechanges.carry_over_words(result))
    page.bullets("Habits", result.habits)
    page.bullets("Remarks", (sentence(notice.text) for notice in result.warnings))
    return page.text()
