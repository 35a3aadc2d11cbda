"""The report: one HTML page that needs nothing beside it, for telephone, paper and the night.

Read `templates/report.html.j2` for what stands where, `pictures.py` for the pictures. The page
carries a marker of its maker, and only a page that carries it is ever replaced.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from pointmodel.base import figures
from pointmodel.base.wording import join
from pointmodel.fitting import pictures as plots
from pointmodel.fitting import words
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.picture import feet_picture
from pointmodel.mount.remedies import REMEDIES
from pointmodel.mount.terms import STANDARD
from pointmodel.readings.question import how_to_answer
from pointmodel.readings.words import figures_read_words
from pointmodel.showing.pages import environment, scheme_script, version, write_page


@dataclass(frozen=True)
class PairRow:
    """One line of the page's table of pairs, worded."""

    line: int
    target: str
    cells: tuple[str, ...]
    note: str
    aside: bool


def write_report(fit: Showable, path: Path) -> Path:
    """Write the page of a fit to `path`, whole or not at all, and return the path.

    Missing folders are made. Raises InputError where something stands there that this program did
    not write, or where the system refuses.
    """
    return write_page(path, report_html(fit), "report")


def report_html(fit: Showable) -> str:
    """The whole page as text: no outside requests, every word of a user's escaped."""
    from markupsafe import Markup

    templates, asked = environment(), fit.advice.question
    return templates.get_template("report.html.j2").render(
        fit=fit,
        version=version(),
        **scheme_script(templates),
        words=words,
        levelwords=levelwords,
        figures=figures,
        join=join,
        when=_when(fit),
        now=words.go_to_now(fit),
        figures_read=figures_read_words(fit.readings),
        question="" if asked is None else f"{asked.why} {how_to_answer(asked)}",
        remarks=words.remarks(fit),
        few=words.few_pairs_words(words.pairs_used(fit)),
        realign=words.realign_words(fit),
        in_field=_now_and_after(fit),
        ruled_out=[cause for cause in fit.causes if cause.verdict == "ruled_out"],
        typical=_typical_sizes(),
        pictures={name: Markup(svg) for name, svg in _pictures(fit).items()},
        pairs=_pair_rows(fit),
        turn_deg=logged_misses(fit.pair_results).turn_deg,
    )


def _pictures(fit: Showable) -> dict[str, str]:
    feet = levelwords.shown_feet(fit.levelling)
    return {
        "feet": feet_picture(feet, *levelwords.shown_way(fit.levelling)) if feet else "",
        "before": plots.sky_picture(fit, "before"),
        "after": plots.sky_picture(fit, "after"),
        "sky_forecast": plots.sky_forecast_picture(fit),
        "forecast": plots.forecast_picture(fit),
        "terms": plots.terms_picture(fit),
        "altitude": plots.residual_picture(fit, "altitude"),
        "azimuth": plots.residual_picture(fit, "azimuth"),
    }


def _now_and_after(fit: Showable) -> list[RemedyForecast]:
    """The forecast as things stand and after the remedy advised, where the field is known."""
    known = [f for f in fit.forecasts if f.chance_in_field is not None]
    advised = next(
        (one.name for one in REMEDIES.values() if one.actions == fit.advice.actions), "none"
    )
    return [f for f in known if f.remedy == "none"] + [
        f for f in known if f.remedy == advised and f.remedy != "none"
    ]


def _typical_sizes() -> str:
    return ", ".join(
        f"{term.name} {figures.figure(term.sd, 0)}′"
        for term in STANDARD
        if term.acts != "azimuth_axis"
    )


def _when(fit: Showable) -> str:
    times = fit.log.time_s[np.isfinite(fit.log.time_s)]
    if times.size == 0:
        return ""
    start, end = (datetime.fromtimestamp(float(t), UTC) for t in (times.min(), times.max()))
    return f"{start:%Y-%m-%d %H:%M} to {end:%H:%M} UTC"


def _pair_rows(fit: Showable) -> list[PairRow]:
    pairs = fit.pair_results
    logged = logged_misses(pairs)
    sizes = (
        logged.x_arcmin,
        logged.y_arcmin,
        pairs.residual_x_arcmin,
        pairs.residual_y_arcmin,
    )
    rows = []
    for k, line in enumerate(pairs.line):
        places = (figures.figure(pairs.star_az_deg[k], 1), figures.figure(pairs.star_alt_deg[k], 1))
        # where no mount fits, no line of the log gets a name either
        cause, hint = (None, None) if fit.readings.stops else (pairs.cause[k], pairs.hint[k])
        rows.append(
            PairRow(
                int(line),
                pairs.target[k] or "—",
                (*(f"{p}°" for p in places), *(figures.miss_words(size[k]) for size in sizes)),
                "; ".join(filter(None, (cause and words.cause_words(cause), hint))),
                bool(pairs.set_aside[k]),
            )
        )
    return rows
