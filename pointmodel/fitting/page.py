"""The report: one HTML page that needs nothing beside it, for telephone, paper and the night.

Read `templates/report.html.j2` for what stands where: one screen of decision, one of evidence, the
rest folded. Pictures stand in the modules that `_pictures` names; the table of pairs in
`pairtable.py`. The page carries a marker of its maker, and only a page that carries it is ever
replaced.
"""

from __future__ import annotations

import platform
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.advising.text import NO_GO_TO, now_words
from pointmodel.advising.words import minutes_words
from pointmodel.base import figures
from pointmodel.base.wording import join, sentence
from pointmodel.diagnosis.result import Cause
from pointmodel.fitting import bars, hills, intervals, skymaps, words
from pointmodel.fitting import pictures as leftover
from pointmodel.fitting.eyepiece import eyepiece_picture
from pointmodel.fitting.pairtable import pair_table, zone_of
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.picture import feet_picture
from pointmodel.mount.terms import STANDARD
from pointmodel.readings.question import how_to_answer
from pointmodel.readings.words import figures_read_words
from pointmodel.showing.pages import Scheme, Subject, environment, page_head, version, write_page

if TYPE_CHECKING:
    from pointmodel.advising.result import Step

PICTURES = (
    "feet", "eyepiece", "forecast", "sky_forecast", "sky", "bought", "terms", "ridge", "influence",
    "time", "altitude", "azimuth", "slack",
)  # fmt: skip
FEWEST_FOR_LEFTOVERS = 4  # fewer pairs than this leave nothing over to look at
FEWEST_FOR_EYEPIECE = 2
MOST_ASIDE = 6  # lines set aside that are told on the first screens
SURE_SLACK = 3.0  # times its error: a gap between the two motions that shows


@dataclass(frozen=True)
class ShownCauses:
    """The causes as the page parts them: shown at once, and folded."""

    shown: list[Cause]
    rest: list[Cause]
    open: list[Cause]
    ruled_out: list[Cause]


TOLD_BY_LINE = ("wrong_star", "log_typo")
MOST_CAUSES = 3  # likely ones, and possible ones up to here, are shown at once


def write_report(fit: Showable, path: Path, scheme: Scheme = "auto", log: str = "") -> Path:
    """Write the page of a fit to `path`, whole or not at all, and return the path.

    `log` is which log it is (`reading/whichlog.py`). Missing folders are made. Raises InputError
    where something stands there that this program did not write, or the page of another log, and
    where the system refuses.
    """
    return write_page(path, report_html(fit, scheme), about(log))


def about(log: str) -> Subject:
    """What the page is about."""
    return Subject("report", log)


def report_html(fit: Showable, scheme: Scheme = "auto") -> str:
    """The whole page as text: no outside requests, every word of a user's escaped.

    `scheme` is what the page opens in; auto goes by the screen's own setting.
    """
    from markupsafe import Markup

    templates = environment()
    name = fit.log.mount.name or fit.log.name
    drawn = _pictures(fit)
    causes = shown_causes(fit.causes)
    return templates.get_template("report.html.j2").render(
        **page_head(templates, f"Pointing of {name}, {fit.log.name}", ("report.css",), scheme),
        **_first_screens(fit),
        **_told_beside_pictures(fit),
        fit=fit,
        name=name,
        words=words,
        levelwords=levelwords,
        figures=figures,
        join=join,
        causes=causes,
        feet=fit.levelling.verdict == "level" and not fit.readings.stops,
        sections=_sections(fit, drawn, causes),
        realign=words.realign_words(fit),
        typical=_typical_sizes(),
        pictures={key: Markup(drawn.get(key, "")) for key in PICTURES},
        pair_table=pair_table(fit),
        turn_deg=logged_misses(fit.pair_results).turn_deg,
        settings=_settings(fit),
        correlation=_correlation(fit),
    )


def _first_screens(fit: Showable) -> dict[str, Any]:
    """What the screens of decision show."""
    advice = fit.advice
    asked = advice.question
    return {
        "advice": advice,
        "when": _when(fit),
        "source": _source(fit),
        "made": f"{datetime.now().astimezone():%Y-%m-%d %H:%M}",
        "now": now_words(advice),
        "figures_read": figures_read_words(fit.readings),
        "question": "" if asked is None else f"{asked.why} {how_to_answer(asked)}",
        "quick": () if advice.quick is None else advice.quick.steps,
        "thorough": advice.steps,
        "after_words": _after_words,
        "chances": _chances(fit),
        "set_aside_shown": fit.set_aside[:MOST_ASIDE],
        "set_aside_more": max(len(fit.set_aside) - MOST_ASIDE, 0),
        "not_known": [sentence(one.hint) for one in fit.inseparable],
        "left_out": [words.left_out_words(one) for one in advice.left_out],
        "few": words.few_pairs_words(words.pairs_used(fit)),
        "remarks": words.remarks(fit),
        "feet_words": _feet_words(fit),
    }


def _after_words(step: Step) -> str:
    """How go-to is after a step and all before it, and how long it takes."""
    minutes = f"Takes {minutes_words(step.minutes)}." if step.minutes >= 0.5 else ""
    if step.rms_arcmin is None or step.action in NO_GO_TO:
        return minutes
    low, high = step.rms_low_arcmin, step.rms_high_arcmin
    between = "" if low is None or high is None else f" ({figures.miss_range_words(low, high)})"
    seen = ""
    if step.chance_in_field is not None:
        seen = f", {figures.chance_words(step.chance_in_field)} in the eyepiece"
    told = f"Then: typical miss {figures.miss_words(step.rms_arcmin)}{between}{seen}."
    return f"{told} {minutes}".strip()


def _chances(fit: Showable) -> list[tuple[str, float]]:
    """How many targets show now and after the steps, where that can be told."""
    advice = fit.advice
    if advice.now_chance is None or advice.field_assumed:
        return []
    found = [("As it is now", advice.now_chance)]
    quick = advice.quick.steps if advice.quick else ()
    after_all = "After all steps" if len(advice.steps) > 1 else "After that"
    plans = [("After the quick way", quick), (after_all, advice.steps)]
    for title, steps in plans:
        last = steps[-1].chance_in_field if steps else None
        if last is not None:
            found.append((title, last))
    return found


def _feet_words(fit: Showable) -> list[str]:
    told = (
        levelwords.side_words(fit.levelling),
        levelwords.direction_words(fit.levelling),
        levelwords.cleared_words(fit.levelling),
    )
    return [one for one in told if one]


def shown_causes(causes: Sequence[Cause]) -> ShownCauses:
    """Part the causes: likely and the first possible ones at once, the others folded.

    Lines set aside are told with their reasons before: they are left out here.
    """
    found = [
        cause
        for cause in causes
        if cause.verdict in ("likely", "possible") and cause.cause not in TOLD_BY_LINE
    ]
    likely = sum(cause.verdict == "likely" for cause in found)
    most = max(likely, MOST_CAUSES)
    return ShownCauses(
        shown=found[:most],
        rest=found[most:],
        open=[cause for cause in causes if cause.verdict == "open"],
        ruled_out=[cause for cause in causes if cause.verdict == "ruled_out"],
    )


def _pictures(fit: Showable) -> dict[str, str]:
    """The pictures that say something of this night, by name; the others are left out."""
    drawn: dict[str, str] = {}
    used = words.pairs_used(fit)
    feet = levelwords.shown_feet(fit.levelling)
    if feet:
        drawn["feet"] = feet_picture(feet, *levelwords.shown_way(fit.levelling))
    if not fit.readings.stops:
        if used >= FEWEST_FOR_EYEPIECE:
            drawn["eyepiece"] = eyepiece_picture(fit, fit.landings)
        drawn["forecast"] = hills.forecast_picture(fit)
        if not skymaps.sky_is_even(fit):
            drawn["sky_forecast"] = skymaps.sky_forecast_picture(fit)
        if fit.breakdown.ridge is not None:
            drawn["ridge"] = intervals.ridge_picture(fit.breakdown.ridge)
    if used >= FEWEST_FOR_EYEPIECE:
        drawn["sky"] = skymaps.sky_picture(fit, skymaps.sky_panels(fit)[0])
    if fit.breakdown.bought:
        drawn["bought"] = bars.bought_picture(fit)
    drawn["terms"] = intervals.terms_picture(fit)
    if used >= FEWEST_FOR_LEFTOVERS:
        drawn |= _leftovers(fit)
    return drawn


def _leftovers(fit: Showable) -> dict[str, str]:
    drawn = {
        "time": leftover.residual_picture(fit, "time"),
        "altitude": leftover.residual_picture(fit, "altitude"),
        "azimuth": leftover.residual_picture(fit, "azimuth"),
    }
    if bars.influence_matters(fit):
        drawn["influence"] = bars.influence_picture(fit)
    sides = leftover.motion_sides(fit)
    if any(abs(side.gap_arcmin) > SURE_SLACK * side.error_arcmin for side in sides):
        drawn["slack"] = leftover.slack_picture(fit, sides)
    return drawn


def _told_beside_pictures(fit: Showable) -> dict[str, Any]:
    """Sentences beside pictures, and in place of those that would say nothing."""
    ridge, sides = fit.breakdown.ridge, leftover.motion_sides(fit)
    return {
        "eyepiece_words": _one_star_words(fit),
        "sky_forecast_words": skymaps.sky_forecast_words(fit),
        "small_families": _small_families(fit),
        "ridge_words": "" if ridge is None else intervals.ridge_words(ridge),
        "influence_words": bars.influence_words(fit),
        "slack_words": _slack_words(sides),
    }


def _slack_words(sides: list[leftover.MotionSide]) -> str:
    if not sides:
        return ""
    told = sentence("; ".join(leftover.slack_words(side) for side in sides))
    if any(abs(side.gap_arcmin) > SURE_SLACK * side.error_arcmin for side in sides):
        return told
    return f"No slack shows in the gears. {told}"


def _one_star_words(fit: Showable) -> str:
    """Where a single star stood; empty where there are more, or where figures say nothing."""
    used = np.flatnonzero(~fit.pair_results.set_aside)
    if used.size != 1 or fit.readings.stops:
        return ""
    landing = fit.landings[0]
    size = figures.miss_words(float(landing.miss_arcmin[used[0]]))
    star = fit.pair_results.target[used[0]] or "The star"
    return f"{star} stood {size} from the middle of the eyepiece when the go-to had ended."


def _small_families(fit: Showable) -> str:
    """Which families of terms have no picture, since they do next to nothing."""
    small = skymaps.sky_panels(fit)[1] if words.pairs_used(fit) >= FEWEST_FOR_EYEPIECE else []
    if not small:
        return ""
    return sentence(f"next to nothing comes from {join([_FAMILY[one] for one in small])}")


_FAMILY = {"lean": "the lean", "tube": "tube and axes", "zeros": "the zeros"}


def _sections(fit: Showable, drawn: dict[str, str], causes: ShownCauses) -> dict[str, str]:
    """The folded parts of the page with their titles, by the name that leads to them."""
    speaks = not fit.readings.stops
    there = {
        "causes": bool(causes.open or causes.ruled_out or causes.rest or fit.advice.left_out),
        "forecast": speaks and bool(fit.forecasts),
        "sky": "sky" in drawn,
        "terms": True,
        "pairs": True,
        "left": "time" in drawn,
        "engineer": True,
        "method": True,
    }
    return {name: _TITLES[name] for name, is_there in there.items() if is_there}


_TITLES = {
    "causes": "Other causes and remedies",
    "forecast": "How far go-tos will land",
    "sky": "Misses over the sky",
    "terms": "The terms",
    "left": "What is left over",
    "pairs": "Every line",
    "engineer": "For the engineer",
    "method": "How this was made",
}


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
    zone = zone_of(fit.log)
    start, end = (datetime.fromtimestamp(float(t), zone) for t in (times.min(), times.max()))
    return f"{start:%Y-%m-%d %H:%M} to {end:%H:%M} ({start:%Z})"


def _settings(fit: Showable) -> list[tuple[str, str]]:
    """What an engineer asks for: freedom, settings used, versions."""
    mount, told = fit.log.mount, fit.breakdown
    optics = mount.optics
    field = optics.field_of_view_arcmin
    return [
        ("Degrees of freedom", f"{told.degrees_of_freedom} (two figures a line, less the terms)"),
        ("Noise, one axis", figures.miss_words(fit.noise.sigma_arcmin)),
        ("Left over (RMS)", figures.miss_words(fit.residual_rms_arcmin)),
        ("Steps of the readout", _step_words(fit.noise.readout_step_arcsec)),
        ("Eyepiece's field", "not stated" if field is None else figures.miss_words(field)),
        ("Centring error", _stated(optics.centring_error_arcmin)),
        ("Alignment", mount.alignment.state.replace("_", " ")),
        ("Readout", mount.readout or "not stated"),
        ("Log", _source(fit)),
        ("pointmodel", version()),
        ("Python, numpy", f"{platform.python_version()}, {np.__version__}"),
    ]


def _step_words(step_arcsec: float) -> str:
    return f"{figures.figure(step_arcsec, 0)}″" if step_arcsec >= 1 else "finer than 1″"


def _source(fit: Showable) -> str:
    """Where the log came from: its path, or that it was a table in memory."""
    source = fit.log.source
    return "a table in memory" if source.startswith("<") else source


def _stated(size_arcmin: float | None) -> str:
    return "not stated" if size_arcmin is None else figures.miss_words(size_arcmin)


def _correlation(fit: Showable) -> dict[str, Any]:
    told = fit.breakdown
    return {
        "names": told.names,
        "rows": [[figures.figure(float(one), 2) for one in row] for row in told.correlation],
    }
