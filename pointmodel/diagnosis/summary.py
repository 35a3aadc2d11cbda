"""The one sentence that comes first: the thing to do first and what it gains.

Read `causes.py` and `forecast.py` first. The remedy that costs least is taken of those that bring
nearly every target into the eyepiece; where none does, the one that comes nearest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pointmodel.base.compass import COMPASS
from pointmodel.base.figures import miss_words
from pointmodel.base.wording import line_list
from pointmodel.diagnosis.faultwords import fault_words, realign_words
from pointmodel.diagnosis.happened import REMEDIES_BY_KIND, of_the_mount, what_happened
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.inturn import Happened
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import chance_of, worth_it
from pointmodel.mount.remedies import REMEDIES, Remedy, order_of
from pointmodel.readings.question import WITH_FEET
from pointmodel.readings.result import Question

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault

ENOUGH_CHANCE = 0.95
VAGUE = 4.0


@dataclass(frozen=True)
class Advice:
    """What the sentence is made from: forecasts, causes, lines set aside, and what is known.

    `half_field_arcmin` is half the eyepiece's field, of a usual one where unstated. `correction`
    says which entry of the controller to put right, None where none is known to be wrong.
    `aligned`: an alignment hides the lean; `fault` is what went wrong with it, `realign_on` two
    stars for another one; `drives_by_alignment`: the figures are not what go-tos go by, so that
    corrections do not help. `feet_wait`: no foot may be turned yet; `question` comes before all.
    `happened` is what happened to the mount while it was logged.
    """

    forecasts: tuple[RemedyForecast, ...]
    causes: tuple[Cause, ...]
    lines_set_aside: tuple[int, ...]
    half_field_arcmin: float
    aligned: bool
    clock_cleared: bool
    correction: str | None
    happened: tuple[Happened, ...] = ()
    drives_by_alignment: bool = False
    feet_wait: bool = False
    question: Question | None = None
    fault: AlignmentFault | None = None
    realign_on: tuple[str, str] | None = None


def summary(advice: Advice) -> str:
    """Return one sentence, full stop included."""
    text = _first_thing(advice)
    if advice.lines_set_aside:
        text += f" Set aside: {line_list(advice.lines_set_aside)}."
    return text


def _first_thing(advice: Advice) -> str:
    by_code = {forecast.remedy: forecast for forecast in advice.forecasts}
    now, corrected = by_code["none"], by_code["apply_corrections"]
    moved = [one for one in of_the_mount(advice.happened) if one.taken_up]
    if moved:
        what, remedy = what_happened(moved[-1]), REMEDIES_BY_KIND[moved[-1].kind]
        return f"{what[:1].upper()}{what[1:]}. {remedy[:1].upper()}{remedy[1:]}."
    if advice.correction is not None:
        return (
            f"{advice.correction} Then zero on a star; until then go-to misses by "
            f"{miss_words(now.rms_arcmin)}."
        )
    if _cannot_tell(advice, now):
        ends = f"{miss_words(now.rms_low_arcmin)} to {miss_words(now.rms_high_arcmin)}"
        return f"Too few stars to say: go-to misses by {ends}. Centre one or two more stars first."
    if advice.fault is not None:
        gain = f"{miss_words(now.rms_arcmin)} → {miss_words(by_code['realign'].rms_arcmin)}"
        minutes = REMEDIES["realign"].minutes
        order = realign_words(advice.realign_on)
        return f"{order} {fault_words(advice.fault)} It takes {minutes} min: {gain}."
    if advice.question is not None:
        return f"{advice.question.ask} {advice.question.why}"
    chosen = first_remedy(advice)
    if chosen == "none" and now.rms_arcmin > advice.half_field_arcmin:
        return (
            f"Go-to misses by {miss_words(now.rms_arcmin)}, and none of the usual remedies makes "
            "that much better."
        )
    if chosen == "none":
        more = ""
        if not advice.drives_by_alignment and _worth(now, corrected, advice):
            more = f"; corrections would make it {miss_words(corrected.rms_arcmin)}"
        return (
            f"Go-to is good, nothing need be done: it misses by {miss_words(now.rms_arcmin)}{more}."
        )
    gain = f"{miss_words(now.rms_arcmin)} → {miss_words(by_code[chosen].rms_arcmin)}"
    minutes = REMEDIES[chosen].minutes
    if chosen == "level" and not advice.clock_cleared:
        return (
            "First compare the controller's clock and place with a phone, since they would look "
            f"like this lean; if they are right, level and zero on a star: {minutes} min, {gain}."
        )
    order, aside = _order(chosen, by_code[chosen], advice), _aside(chosen, advice, by_code)
    return f"{order}: {minutes} min, {gain}{aside}."


def is_good(advice: Advice) -> bool:
    """Whether nineteen go-tos in twenty end in the eyepiece as things stand."""
    now = next(forecast for forecast in advice.forecasts if forecast.remedy == "none")
    return _chance(now, advice) >= ENOUGH_CHANCE


def says_the_same_whatever_the_answer(advice: Advice) -> bool:
    """Whether something else comes first: an entry to put right, or more stars to centre."""
    now = next(forecast for forecast in advice.forecasts if forecast.remedy == "none")
    return advice.correction is not None or _cannot_tell(advice, now)


def _cannot_tell(advice: Advice, now: RemedyForecast) -> bool:
    """Whether nothing is found, nothing is seen to be right, and the miss may be anything."""
    found = any(cause.verdict == "likely" for cause in advice.causes)
    return not found and now.rms_high_arcmin > VAGUE * max(now.rms_low_arcmin, 1.0)


def _order(chosen: str, forecast: RemedyForecast, advice: Advice) -> str:
    if chosen == "realign" and advice.realign_on is not None:
        return f"Realign on {advice.realign_on[0]}, then {advice.realign_on[1]}"
    if chosen == "realign":
        first, second = (_star(az, alt) for az, alt in forecast.stars)
        return f"Realign on two stars, one {first}, the other {second}"
    return order_of(chosen)


def _star(az_deg: float, alt_deg: float) -> str:
    toward = COMPASS[int(az_deg / 45.0 + 0.5) % 8]
    return f"{alt_deg:.0f}° up in the {toward}"


def _aside(chosen: str, advice: Advice, by_code: dict[str, RemedyForecast]) -> str:
    """Say whether the tripod is worth touching, where that is the question in the reader's mind."""
    leans = any(c.cause == "not_level" and c.verdict == "likely" for c in advice.causes)
    if chosen in ("zero_on_star", "realign") and leans:
        if not _worth(by_code[chosen], by_code["level"], advice):
            return "; levelling adds nothing"
        return f"; levelled as well it would be {miss_words(by_code['level'].rms_arcmin)}"
    if chosen == "apply_corrections":
        return "; nothing done by hand comes near that"
    return ""


def first_remedy(advice: Advice) -> str:
    """Return the code of the remedy to try first."""
    by_code = {forecast.remedy: forecast for forecast in advice.forecasts}
    by_hand = [remedy for remedy in REMEDIES.values() if remedy.by_hand]
    offered = [remedy.name for remedy in by_hand if _makes_sense(remedy, advice)]
    for code in offered:
        if _chance(by_code[code], advice) >= ENOUGH_CHANCE:
            return code
    best = min(offered, key=lambda code: by_code[code].rms_arcmin)
    corrected = by_code["apply_corrections"]
    if not advice.drives_by_alignment and _worth(by_code[best], corrected, advice):
        best = "apply_corrections"
    if best != "none" and not _worth(by_code["none"], by_code[best], advice):
        return "none"
    return best


def _makes_sense(remedy: Remedy, advice: Advice) -> bool:
    if advice.aligned and remedy.asks_for_axes:
        return False
    if advice.feet_wait and remedy.name in WITH_FEET:
        return False
    return remedy.only_for is None or any(
        cause.cause == remedy.only_for and cause.verdict == "likely" for cause in advice.causes
    )


def _chance(forecast: RemedyForecast, advice: Advice) -> float:
    return chance_of(forecast, advice.half_field_arcmin)


def _worth(before: RemedyForecast, after: RemedyForecast, advice: Advice) -> bool:
    return worth_it(before, after, advice.half_field_arcmin)
