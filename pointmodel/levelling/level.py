"""`level`: whether to touch the tripod, which foot by how much, and what that would gain.

Read `advising/advise.py` first: the verdict is the one advice, seen from the tripod. The base is to
be levelled exactly where levelling is among its steps. Here the reason is found, and the feet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.advising.grounds import ClearedBy, Grounds, against_levelling
from pointmodel.advising.result import Advice
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.rows import ResultRows
from pointmodel.base.wording import one_of, quoted
from pointmodel.diagnosis.lean import (
    TILTS,
    look_alike,
    moments_of,
)
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import chance_of
from pointmodel.levelling.feet import FootOrder, foot_orders, hand_errors_arcmin, hand_step_mm
from pointmodel.levelling.reason import Reasons, reason_words
from pointmodel.levelling.result import CAUTIONS, Gain, LevelResult, Verdict, Why
from pointmodel.levelling.stand import Stand, stand_for
from pointmodel.levelling.stars import Place, confirming_stars, next_star
from pointmodel.mount.remedies import REMEDIES
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import Feet, MountFile

if TYPE_CHECKING:
    from pointmodel.diagnosis.skyevidence import SkyEvidence
    from pointmodel.estimate.posterior import Posterior
    from pointmodel.forecasting.machine import MountModel
    from pointmodel.forecasting.outlook import Outlook
    from pointmodel.reading.nightlog import NightLog


VERDICTS: dict[Why, Verdict] = {
    "alignment_off": "realign",
    "alignment_good": "leave",
    "sinking": "cannot_tell",
    "moved_lately": "cannot_tell",
    "entries": "cannot_tell",
    "only_entries": "leave",
    "no_lean": "leave",
    "unseen": "cannot_tell",
    "too_little": "leave",
    "clock": "cannot_tell",
    "gains": "level",
    "figures": "cannot_tell",
    "not_known": "ask",
    "good_now": "leave",
    "taken_up": "leave",
    "realign_instead": "realign",
}
ROUGH_ABOVE_ARCMIN, FEW_PAIRS = 2.0, 3
COMPARED = ("none", "zero_on_star", "realign", "level", "apply_corrections")
# what is left to compare once aligned, or while the lean is feigned
WITHOUT_FEET = ("none", "realign", "apply_corrections")


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What goes with the verdict: the paths it was made from, remarks, the log, its noise an axis.

    `expected` is the fitted mount with what is uncertain about it.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    log: NightLog
    sigma_arcmin: float
    expected: Outlook


def level_verdict(setting: Setting, grounds: Grounds, advice: Advice) -> LevelResult:
    """Return whether to level the base, realign or leave it, and which foot to turn by how much.

    `grounds` are those on which the `advice` was given.
    """
    mount, lean, cleared = grounds.mount, grounds.lean, grounds.cleared
    by_code = {forecast.remedy: forecast for forecast in grounds.forecasts}
    place = mount.site.latitude_deg if mount.site is not None else None
    alike = None if place is None or cleared else look_alike(grounds.posterior, place)
    why = _why(grounds, advice)
    mean, _, draws = moments_of(grounds.posterior, TILTS)
    deviation = draws - mean
    levels = VERDICTS[why] == "level"
    feet = mount.feet if levels else None
    orders, found = feet_to_turn(feet, grounds.posterior, setting.expected.model)
    toward = lean.toward_az_deg or 0.0
    stand = found if levels else None
    by_screws = stand is None or stand.by_screws
    more = _one_more_star(setting, grounds, why)
    confirm = confirming_stars(setting.expected.targets, toward)
    material = Reasons(
        why=why,
        lean=lean,
        by_code=by_code,
        alike=alike,
        more=more,
        used=grounds.pairs_used,
        field_arcmin=advice.field_arcmin,
        sky=grounds.sky,
        figures=grounds.readings.feet_wait,
        question=advice.question,
        fault=grounds.fault,
        realign_on=grounds.realign_on() if mount.lean_is_hidden else None,
        moved=grounds.last_move,
    )
    return LevelResult(
        inputs=setting.inputs,
        warnings=setting.warnings,
        name=mount.name or setting.log.name,
        pairs_used=grounds.pairs_used,
        verdict=VERDICTS[why],
        reason=reason_words(material),
        lean=lean,
        confounded_with=_confounded(why, cleared),
        look_alike=alike,
        clock_cleared_by=cleared,
        feet=ResultRows.of(FootOrder, orders),
        stand=stand,
        screw_pitch_mm=None if feet is None else feet.screw_pitch_mm,
        hand_step_mm=None if feet is None else hand_step_mm(feet, by_screws),
        expected_lean_after_arcmin=_lean_after(deviation, feet, by_screws) if levels else None,
        gain=_gains(by_code, _compared(why, mount), advice),
        field_of_view_arcmin=advice.field_arcmin,
        field_assumed=advice.field_assumed,
        confirm_at=confirm if levels else (),
        one_more_star=more,
        cautions=CAUTIONS,
        advice=advice,
    )


def feet_to_turn(
    feet: Feet | None, posterior: Posterior, model: MountModel
) -> tuple[tuple[FootOrder, ...], Stand]:
    """Return what to do at each foot for the fitted lean, and by which means the stand does it.

    No foot where none is stated.
    """
    mean, _, draws = moments_of(posterior, TILTS)
    orders = () if feet is None else foot_orders(feet, mean, draws - mean)
    toward = float(np.degrees(np.arctan2(mean[1], mean[0])) % 360.0)
    return orders, stand_for(feet, orders, model, toward)


def cleared_by(log: NightLog, sky: SkyEvidence | None, told: str | None) -> ClearedBy | None:
    """Return what clears the controller's clock and place of looking like a lean, if anything.

    `told` "check": they were found to agree with the stars. Raises InputError for any other word.
    """
    if told not in (None, "check"):
        raise InputError([
            Problem("<level>", None, "clock_cleared_by", quoted(told), one_of(("check", "None")))
        ])  # fmt: skip
    from_file = log.clock_cleared_by
    if from_file in ("alignment", "almanac", "camera"):
        return from_file
    if told == "check" or (sky is not None and sky.verdict == "agrees"):
        return "check"
    wrong = sky is not None and sky.verdict == "disagrees"
    return None if wrong else from_file  # the stars know better than whoever verified


def _confounded(why: Why, cleared: ClearedBy | None) -> tuple[str, ...]:
    """Return the entries that would look like the lean, where nothing clears them."""
    return () if cleared or why == "only_entries" else ("clock_or_longitude", "latitude")


def _compared(why: Why, mount: MountFile) -> tuple[str, ...]:
    """Return the remedies whose gain is shown: none that turns a foot where that is no cure."""
    if why == "figures":
        return ()
    if mount.drives_by_alignment:
        return ("none", "realign")
    hidden = mount.lean_is_hidden or why in ("entries", "only_entries", "not_known")
    return WITHOUT_FEET if hidden else COMPARED


def _why(grounds: Grounds, advice: Advice) -> Why:
    """Return what the verdict rests on: the advice, then what stands against turning a foot."""
    against = against_levelling(grounds)
    if advice.state == "ask" and against != "no_lean":
        return "not_known"  # where there is no lean no answer turns a foot
    if advice.levels:
        return "gains"
    realigns = "realign" in advice.actions
    if against == "taken_up":
        return "alignment_off" if realigns else "taken_up"
    if against == "hidden":
        return "alignment_off" if realigns else "alignment_good"
    if against is not None:
        return against
    if "check_entries" in advice.actions:
        return "clock"
    if realigns and grounds.lean.is_real:
        return "realign_instead"
    return "good_now" if advice.state == "good" else "too_little"


def _one_more_star(setting: Setting, grounds: Grounds, why: Why) -> Place | None:
    """Return where to centre one more star first; None where the lean is known well enough."""
    mean, _, draws = moments_of(grounds.posterior, TILTS)
    unsure = float(np.median(np.hypot(*(draws - mean).T)))
    rough = unsure > ROUGH_ABOVE_ARCMIN or grounds.pairs_used <= FEW_PAIRS
    if why != "unseen" and not (rough and why in ("gains", "clock")):
        return None
    north, east = (STANDARD_NAMES.index(name) for name in TILTS)
    return next_star(setting.expected, (north, east), setting.sigma_arcmin)


def _lean_after(deviation: FloatArray, feet: Feet | None, by_screws: bool) -> float:
    """Return the median lean once the feet were turned as told, arcminutes."""
    left = deviation
    if feet is not None:
        left = left + hand_errors_arcmin(feet, deviation.shape[0], by_screws)
    return float(np.median(np.hypot(*left.T)))


def _gains(
    by_code: dict[str, RemedyForecast], compared: tuple[str, ...], advice: Advice
) -> tuple[Gain, ...]:
    return tuple(
        Gain(
            code,
            by_code[code].rms_arcmin,
            chance_of(by_code[code], advice.field_arcmin),
            REMEDIES[code].minutes,
        )
        for code in compared
        if code in by_code
    )
