"""The reason for the verdict on levelling, in sentences for someone with cold fingers.

Read `level.py` for the verdicts. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.compass import COMPASS, place_in_words
from pointmodel.base.figures import figure, miss_range_words, miss_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.wording import join
from pointmodel.diagnosis.faultwords import fault_words
from pointmodel.diagnosis.faultwords import realign_words as realign_order
from pointmodel.diagnosis.happened import REMEDIES_BY_KIND, what_happened
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import chance_of
from pointmodel.levelling.result import Why
from pointmodel.mount.remedies import REMEDIES
from pointmodel.readings.question import how_to_answer

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault
    from pointmodel.diagnosis.lean import Lean, LookAlike
    from pointmodel.diagnosis.skyevidence import SkyEvidence
    from pointmodel.estimate.inturn import Happened
    from pointmodel.levelling.stars import Place
    from pointmodel.readings.result import Question

SETTLE = (
    "Compare the controller's date, time, zone, summer time and site with a phone, or put a "
    "bubble level on the base."
)
SEE_THE_LEAN = (
    "To see how the base leans, put a bubble level on it, or log a few stars before you align."
)
VOID = "Turning a foot would make the alignment useless: you would have to align again."
NEARLY_ALL = 0.95

Forecasts = Mapping[str, RemedyForecast]


@dataclass(frozen=True)
class Reasons:
    """What the reason is worded from: what the verdict rests on, and all that goes with it.

    `more` is where one more star is wanted; `figures` why the figures themselves forbid a verdict;
    `question` what the owner must answer; `fault` what went wrong with the alignment, `realign_on`
    two stars for another one; `moved` what last happened to the mount unlogged.
    """

    why: Why
    lean: Lean
    by_code: Forecasts
    alike: LookAlike | None
    more: Place | None
    used: int
    field_arcmin: float
    sky: SkyEvidence | None
    figures: str | None
    question: Question | None
    fault: AlignmentFault | None
    realign_on: tuple[str, str] | None
    moved: Happened | None


def reason_words(one: Reasons) -> str:
    """Return the reason in a few sentences."""
    if one.why == "figures" and one.figures is not None:
        return one.figures
    if one.moved is not None and one.why in ("sinking", "moved_lately"):
        return moved_words(one.why, one.moved, one.lean)
    return since_moved_words(one.moved) + _still_words(one)


def _still_words(one: Reasons) -> str:
    """Return the reason where the base stood still, or since it does."""
    why, lean, by_code = one.why, one.lean, one.by_code
    if one.sky is not None and why in ("entries", "only_entries"):
        return _entry_words(one.sky)
    if why in ("alignment_off", "alignment_good"):
        return _alignment_words(one)
    if why == "taken_up":
        return _taken_up_words(one)
    if why == "no_lean":
        return f"The stars show no lean: if there is any, it is below {miss_words(lean.high)}."
    if one.question is not None:
        return f"{one.question.ask} {one.question.why} {how_to_answer(one.question)}"
    if why == "good_now":
        return f"Go-to is good as it is: it misses by {_rms(by_code, 'none')}."
    star = "" if one.more is None else f"Centre one more star first, {place_in_words(*one.more)}."
    if why == "unseen":
        stars = "This one star cannot" if one.used == 1 else f"These {one.used} stars cannot"
        unseen = miss_words(lean.high)
        return f"{stars} tell whether the base leans: {unseen} could pass unseen. {star}"
    if why == "realign_instead":
        return (
            f"The base leans {lean_words(lean)}. Aligned again on two stars, go-tos miss by "
            f"{_rms(by_code, 'realign')}. Levelled and zeroed on a star they miss by "
            f"{_rms(by_code, 'level')}, which gains too little for the time that it takes."
        )
    if why == "too_little":
        return (
            f"The base leans {lean_words(lean)}, but levelling gains too little. Levelled and "
            f"zeroed on a star, go-tos miss by {_rms(by_code, 'level')}. Only zeroed, they miss by "
            f"{_rms(by_code, 'zero_on_star')}."
        )
    if why == "clock":
        like = look_alike_words(lean, one.alike)
        told = f"The base seems to lean {lean_words(lean)}. But {like}."
        return " ".join(filter(None, (told, SETTLE, star)))
    rough = f" That is only roughly known. {star}" if star else ""
    return f"The base leans {lean_words(lean)}.{rough} {_gain_words(by_code, one.field_arcmin)}"


def _taken_up_words(one: Reasons) -> str:
    """Return what a lean means to a controller that drives by its alignment."""
    now = _rms(one.by_code, "none")
    told = "No lean shows" if not one.lean.is_real else f"The base leans {lean_words(one.lean)}"
    return (
        f"{told}. The controller was aligned before this log, and that makes up for a lean. As it "
        f"stands its go-tos miss by about {now}. {VOID}"
    )


def moved_words(why: str, one: Happened, lean: Lean) -> str:
    """Return the reason where the base did not stand still while the stars were logged."""
    remedy = REMEDIES_BY_KIND[one.kind]
    order = f"{remedy[:1].upper()}{remedy[1:]}."
    if why == "sinking":
        return f"The ground gives way under the feet. Turn no foot yet. {order}"
    what = what_happened(one)
    return (
        f"{what[:1].upper()}{what[1:]}. {_stars(one.pairs_after)} after it cannot tell how the "
        f"base leans now: {miss_words(lean.high)} could pass unseen. {order}"
    )


def since_moved_words(one: Happened | None) -> str:
    """Return what to know of the lean where the base moved in the log, nothing where it did not."""
    if one is None:
        return ""
    what = what_happened(one)
    return f"{what[:1].upper()}{what[1:]}. What follows is for the stars after it. "


def _stars(count: int) -> str:
    return "The one star" if count == 1 else f"The {count} stars"


def _entry_words(sky: SkyEvidence) -> str:
    """Return what wrong entries make of the lean, and what is left of it without them."""
    if sky.doubts_mount_file and sky.apart is None:
        return (
            "The controller and the mount file hold different sites, and that looks like a lean. "
            f"{sky.remedy}"
        )
    if sky.apart is None:
        return f"The controller's entries are wrong, and that looks like a lean. {sky.remedy}"
    north, east = sky.apart.mean_arcmin
    size = float(np.hypot(north, east))
    limit = size + NORMAL_95 * float(np.sqrt(np.diag(sky.apart.covariance).max()))
    seeming = miss_words(sky.apart.seeming_arcmin)
    if sky.apart.probability < 0.5:
        left = f"Apart from that the base leans by no more than {miss_words(limit)}"
        return f"The wrong entry alone looks like a lean of {seeming}. {left}. {sky.remedy}"
    toward = compass_word(float(np.degrees(np.arctan2(east, north)) % 360.0))
    return (
        f"{sky.remedy} This wrong entry alone looks like a lean of {seeming}. Apart from it the "
        f"base leans about {miss_words(size)} toward the {toward}. Put the entry right, centre the "
        "stars again, and ask again."
    )


def lean_words(lean: Lean) -> str:
    """Return amount and direction: `44′ (42′ to 46′) toward the east (azimuth 70°)`."""
    text = f"{miss_words(lean.amount_arcmin)} ({miss_range_words(lean.low, lean.high)})"
    if lean.toward_az_deg is None:
        return text
    return f"{text} toward the {compass_word(lean.toward_az_deg)} ({azimuth_words(lean)})"


def azimuth_words(lean: Lean) -> str:
    """Return the azimuth that the axis leans toward, whole degrees."""
    return f"azimuth {round(lean.toward_az_deg or 0.0) % 360}°"


def compass_word(az_deg: float) -> str:
    """Return the nearest of the eight points of the compass."""
    return COMPASS[int(az_deg / 45.0 + 0.5) % 8]


def look_alike_words(lean: Lean, alike: LookAlike | None) -> str:
    """Return which wrong entries would look the same."""
    if alike is None:
        if lean.toward_az_deg is None:
            return "a wrong clock or site could hide a lean"
        return "a wrong clock or site would look the same"
    clock = (
        f"a clock {figure(abs(alike.clock_min), 1)} min {'fast' if alike.clock_min > 0 else 'slow'}"
        f" (or a longitude {miss_words(60.0 * abs(alike.longitude_deg))} too far "
        f"{'east' if alike.longitude_deg > 0 else 'west'})"
    )
    latitude = (
        f"a latitude {miss_words(60.0 * abs(alike.latitude_deg))} too far "
        f"{'north' if alike.latitude_deg > 0 else 'south'}"
    )
    parts = [latitude] if alike.latitude_counts else []
    if alike.clock_counts or not parts:
        parts.insert(0, clock)
    both = "together " if len(parts) == 2 else ""
    return f"{join(parts)} would {both}look the same"


def _gain_words(by_code: Forecasts, field_arcmin: float) -> str:
    levelled, zeroed = by_code["level"].rms_arcmin, by_code["zero_on_star"].rms_arcmin
    text = (
        f"Levelled and zeroed on a star, go-tos miss by {miss_words(levelled)}. Only zeroed, they "
        f"miss by {miss_words(zeroed)}"
    )
    realign = by_code.get("realign")
    if realign is None:
        return f"{text}."
    text += f". Aligned again on two stars, they miss by {miss_words(realign.rms_arcmin)}"
    if realign.rms_arcmin > zeroed:
        return f"{text}, which is worse than zeroing on one."
    if chance_of(realign, field_arcmin) >= NEARLY_ALL:
        minutes = REMEDIES["realign"].minutes
        return f"{text}: near enough for this eyepiece if you have only {minutes} min."
    return f"{text}."


def _alignment_words(one: Reasons) -> str:
    """Return what an alignment before the log means for the feet, and what to do about it."""
    now, realign = _rms(one.by_code, "none"), one.by_code["realign"]
    if one.fault is not None:
        return f"{fault_words(one.fault)} {realign_order(one.realign_on)} {SEE_THE_LEAN}"
    if one.why == "alignment_good":
        return (
            "The controller was aligned before this log, so the feet play no part in its misses. "
            f"Aligning again gains too little: {now} → {miss_words(realign.rms_arcmin)}."
            f"{_corrected_words(one.by_code)} {SEE_THE_LEAN}"
        )
    where = ""
    if one.realign_on is not None:
        where = f" ({one.realign_on[0]}, then {one.realign_on[1]})"
    elif len(realign.stars) == 2:
        first, other = (place_in_words(*star) for star in realign.stars)
        where = f", one {first}, the other {other}"
    return (
        "The controller was aligned before this log. That alignment is off, and no foot cures "
        f"that. Aligned again on two stars{where}, go-tos miss by {miss_words(realign.rms_arcmin)} "
        f"instead of {now}.{_badly_placed(realign)} {SEE_THE_LEAN}"
    )


def _badly_placed(realign: RemedyForecast) -> str:
    if realign.bad_pair_rms_arcmin is None:
        return ""
    return f" Two badly placed ones would leave {miss_words(realign.bad_pair_rms_arcmin)}."


def _corrected_words(by_code: Forecasts) -> str:
    if by_code["apply_corrections"].rms_arcmin > 0.5 * by_code["none"].rms_arcmin:
        return ""
    return (
        f" Corrected positions (pointmodel aim) would leave {_rms(by_code, 'apply_corrections')}."
    )


def _rms(by_code: Forecasts, code: str) -> str:
    return miss_words(by_code[code].rms_arcmin)
