"""`level`: whether to touch the tripod, which foot by how much, and what that would gain.

Read `lean.py`, `feet.py` and `forecast.py` first. The verdict falls in a fixed order: figures that
are not known to mean what they say, and a log in which an alignment hides the lean, say nothing of
the tripod; a lean that is not real, or whose cure gains too little, is left alone; where it is not
known whether there was an alignment the owner is asked; while a wrong clock or place could look
like the lean nothing is ordered.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.rows import ResultRows
from pointmodel.base.wording import one_of, quoted
from pointmodel.diagnosis.happened import of_the_mount
from pointmodel.diagnosis.lean import (
    TILTS,
    Lean,
    lean_of,
    look_alike,
    moments_of,
    rotation_is_real,
)
from pointmodel.estimate.inturn import Happened
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import chance_of, worth_it
from pointmodel.levelling.feet import FootOrder, foot_orders, hand_errors_arcmin, hand_step_mm
from pointmodel.levelling.reason import Reasons, reason_words
from pointmodel.levelling.result import CAUTIONS, ClearedBy, Gain, LevelResult, Verdict, Why
from pointmodel.levelling.stand import stand_for
from pointmodel.levelling.stars import Place, confirming_stars, next_star
from pointmodel.mount.remedies import REMEDIES, USUAL_FIELD_ARCMIN
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import Feet, MountFile
from pointmodel.readings.question import Prospects, question_for
from pointmodel.readings.result import Question, Readings

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault
    from pointmodel.diagnosis.skyevidence import SkyEvidence
    from pointmodel.estimate.posterior import Posterior
    from pointmodel.forecasting.outlook import Outlook
    from pointmodel.forecasting.realignstars import NamedPair
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
}
UNSEEN_ABOVE_ARCMIN = 10.0
REALIGN_GAINS_ARCMIN, REALIGN_GAINS_SHARE = 1.0, 0.2
ROUGH_ABOVE_ARCMIN, FEW_PAIRS = 2.0, 3
FEWEST_AFTER_MOVE = 4  # stars since the base last moved, that its lean now may order feet
OWN_LEAN_BELOW = 0.2
COMPARED = ("none", "zero_on_star", "realign", "level", "apply_corrections")
# what is left to compare once aligned, or while the lean is feigned
WITHOUT_FEET = ("none", "realign", "apply_corrections")
GOOD_CHANCE = 0.95  # nineteen targets in twenty in the eyepiece: a go-to that is good as it is


@dataclass(frozen=True)
class Grounds:
    """What the verdict rests on: the log, its posterior and forecasts, what the sky says.

    `inputs` are the paths that the fit was made from; `sigma_arcmin` is the noise an axis;
    `happened` what happened to the mount meanwhile, unlogged; `readings` what the figures mean;
    `alignment_fault` what went wrong with an alignment, and `realign_on` two stars for another one,
    by name.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    log: NightLog
    posterior: Posterior
    pairs_used: int
    sigma_arcmin: float
    outlook: Outlook
    forecasts: tuple[RemedyForecast, ...]
    sky_evidence: SkyEvidence | None
    happened: tuple[Happened, ...] = ()
    readings: Readings = field(default_factory=Readings)
    alignment_fault: AlignmentFault | None = None
    realign_on: NamedPair | None = None


def level_verdict(grounds: Grounds, clock_cleared_by: str | None = None) -> LevelResult:
    """Return whether to level the base, realign or leave it, and which foot to turn by how much.

    `clock_cleared_by` "check" says that the controller's clock and place were found to agree with
    the stars; left out, the log itself is asked where it has names, times and place, and the mount
    file. Raises InputError for any other word.
    """
    cleared = _cleared_by(grounds, clock_cleared_by)
    mount, posterior = grounds.log.mount, grounds.posterior
    half_field = 0.5 * (mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN)
    by_code = {forecast.remedy: forecast for forecast in grounds.forecasts}
    lean = lean_of(posterior)
    place = mount.site.latitude_deg if mount.site is not None else None
    alike = None if place is None or cleared else look_alike(posterior, place)
    why = _why(grounds, lean, by_code, half_field, cleared)
    mean, _, draws = moments_of(posterior, TILTS)
    deviation = draws - mean
    levels = VERDICTS[why] == "level"
    feet = mount.feet if levels else None
    orders = () if feet is None else foot_orders(feet, mean, deviation)
    toward = lean.toward_az_deg or 0.0
    stand = stand_for(feet, orders, grounds.outlook.model, toward) if levels else None
    by_screws = stand is None or stand.by_screws
    used = grounds.pairs_used
    more = _one_more_star(grounds, why, used, deviation)
    confirm = confirming_stars(grounds.outlook.targets, toward)
    question = _question(mount, by_code) if why == "not_known" else None
    material = Reasons(
        why=why,
        lean=lean,
        by_code=by_code,
        alike=alike,
        more=more,
        used=used,
        half_field_arcmin=half_field,
        sky=grounds.sky_evidence,
        figures=grounds.readings.feet_wait,
        question=question,
        fault=grounds.alignment_fault,
        realign_on=grounds.realign_on,
        moved=_last_move(grounds.happened),
    )
    return LevelResult(
        inputs=grounds.inputs,
        warnings=grounds.warnings,
        name=grounds.log.mount.name or grounds.log.name,
        pairs_used=used,
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
        gain=_gains(by_code, _compared(why, mount), half_field),
        field_of_view_arcmin=2.0 * half_field,
        field_assumed=mount.optics.field_of_view_arcmin is None,
        confirm_at=confirm if levels else (),
        one_more_star=more,
        cautions=CAUTIONS,
        question=question,
    )


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


def _question(mount: MountFile, by_code: dict[str, RemedyForecast]) -> Question:
    """Return what must be answered before a foot is turned: the feet hang on it."""
    aligned = "realign" if _realigning_gains(by_code) else "none"
    prospects = Prospects(good_now=False, not_aligned="level", aligned=aligned)
    asked = question_for(mount.alignment.state, mount.alignment.presses, prospects)
    assert asked is not None  # levelling and aligning are different advice
    return asked


def _realigning_gains(by_code: dict[str, RemedyForecast]) -> bool:
    """Whether aligning afresh makes go-to plainly better."""
    now = by_code["none"].rms_arcmin
    needed = max(REALIGN_GAINS_ARCMIN, REALIGN_GAINS_SHARE * now)
    return now - by_code["realign"].rms_arcmin > needed


def _cleared_by(grounds: Grounds, told: str | None) -> ClearedBy | None:
    if told not in (None, "check"):
        raise InputError([
            Problem("<level>", None, "clock_cleared_by", quoted(told), one_of(("check", "None")))
        ])  # fmt: skip
    from_file, sky = grounds.log.clock_cleared_by, grounds.sky_evidence
    if from_file in ("alignment", "almanac", "camera"):
        return from_file
    if told == "check" or (sky is not None and sky.verdict == "agrees"):
        return "check"
    wrong = sky is not None and sky.verdict == "disagrees"
    return None if wrong else from_file  # the stars know better than whoever verified


def _why(
    grounds: Grounds,
    lean: Lean,
    by_code: dict[str, RemedyForecast],
    half_field_arcmin: float,
    cleared: ClearedBy | None,
) -> Why:
    """Return what the verdict rests on."""
    mount, readings = grounds.log.mount, grounds.readings
    at_stake = lean.is_real and worth_it(
        by_code["zero_on_star"], by_code["level"], half_field_arcmin
    )
    good = chance_of(by_code["none"], half_field_arcmin) >= GOOD_CHANCE
    if readings.stops is not None:
        return "figures"
    if mount.drives_by_alignment:
        return "alignment_off" if _realigning_gains(by_code) else "taken_up"
    if mount.lean_is_hidden:
        off = rotation_is_real(grounds.posterior) and _realigning_gains(by_code)
        return "alignment_off" if off or grounds.alignment_fault else "alignment_good"
    if readings.feet_wait is not None:
        return "figures"
    moved = _last_move(grounds.happened)
    if moved is not None and moved.kind == "sinking":
        return "sinking"
    if moved is not None and moved.pairs_after < FEWEST_AFTER_MOVE:
        return "moved_lately"
    sky = grounds.sky_evidence
    if sky is not None and sky.verdict == "disagrees" and cleared != "camera":
        apart = sky.apart
        upright = apart is not None and apart.probability < OWN_LEAN_BELOW
        return "only_entries" if upright else "entries"
    if not lean.is_real:
        return "no_lean" if lean.high <= UNSEEN_ABOVE_ARCMIN else "unseen"
    if not at_stake:
        return "too_little"
    if mount.alignment.state == "unknown":
        return "good_now" if good else "not_known"
    return "gains" if cleared else "clock"


def _last_move(happened: tuple[Happened, ...]) -> Happened | None:
    """Return what last happened to the mount unlogged, None where nothing did."""
    moves = [one for one in of_the_mount(happened) if one.taken_up]
    return moves[-1] if moves else None


def _one_more_star(grounds: Grounds, why: Why, used: int, deviation: FloatArray) -> Place | None:
    """Return where to centre one more star first; None where the lean is known well enough."""
    rough = float(np.median(np.hypot(*deviation.T))) > ROUGH_ABOVE_ARCMIN or used <= FEW_PAIRS
    if why != "unseen" and not (rough and why in ("gains", "clock")):
        return None
    north, east = (STANDARD_NAMES.index(name) for name in TILTS)
    return next_star(grounds.outlook, (north, east), grounds.sigma_arcmin)


def _lean_after(deviation: FloatArray, feet: Feet | None, by_screws: bool) -> float:
    """Return the median lean once the feet were turned as told, arcminutes."""
    left = deviation
    if feet is not None:
        left = left + hand_errors_arcmin(feet, deviation.shape[0], by_screws)
    return float(np.median(np.hypot(*left.T)))


def _gains(
    by_code: dict[str, RemedyForecast], compared: tuple[str, ...], half_field_arcmin: float
) -> tuple[Gain, ...]:
    return tuple(
        Gain(
            code,
            by_code[code].rms_arcmin,
            chance_of(by_code[code], half_field_arcmin),
            REMEDIES[code].minutes,
        )
        for code in compared
        if code in by_code
    )
