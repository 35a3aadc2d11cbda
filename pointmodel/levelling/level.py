"""`level`: whether to touch the tripod, which foot by how much, and what that would gain.

Read `lean.py`, `feet.py` and `forecast.py` first. The verdict falls in a fixed order: a log made
after an alignment says nothing of the tripod; a lean that is not real, or whose cure gains too
little, is left alone; while a wrong clock or place could look like the lean nothing is ordered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import one_of, quoted
from pointmodel.diagnosis.lean import (
    TILTS,
    Lean,
    LookAlike,
    lean_of,
    look_alike,
    moments_of,
    rotation_is_real,
)
from pointmodel.estimate.results import RemedyForecast
from pointmodel.levelling.feet import FootOrder, foot_orders, hand_errors_arcmin, hand_step_mm
from pointmodel.levelling.reason import reason_words
from pointmodel.levelling.stars import Place, confirming_stars, next_star
from pointmodel.mount.remedies import REMEDIES, USUAL_FIELD_ARCMIN, chance_of, worth_it
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import Feet

if TYPE_CHECKING:
    from pointmodel.fitting.fit import Fit

ClearedBy = Literal["check", "verified", "alignment"]
Verdict = Literal["level", "realign", "leave", "cannot_tell"]
Why = Literal[
    "alignment_off",
    "alignment_good",
    "entries",
    "only_entries",
    "no_lean",
    "unseen",
    "too_little",
    "clock",
    "gains",
]

VERDICTS: dict[Why, Verdict] = {
    "alignment_off": "realign",
    "alignment_good": "leave",
    "entries": "cannot_tell",
    "only_entries": "leave",
    "no_lean": "leave",
    "unseen": "cannot_tell",
    "too_little": "leave",
    "clock": "cannot_tell",
    "gains": "level",
}
UNSEEN_ABOVE_ARCMIN = 10.0
REALIGN_GAINS_ARCMIN, REALIGN_GAINS_SHARE = 1.0, 0.2
ROUGH_ABOVE_ARCMIN, FEW_PAIRS = 2.0, 3
OWN_LEAN_BELOW = 0.2
COMPARED = ("none", "zero_on_star", "realign", "level", "apply_corrections")
# what is left to compare once aligned, or while the lean is feigned
WITHOUT_FEET = ("none", "realign", "apply_corrections")

CAUTIONS = (
    "Follow the maker's manual first.",
    "Take the load off before you turn: a second person or a support holds the telescope.",
    "Turn one foot at a time, a little, and watch that nothing tips.",
    "Prefer lowering: a lower stand is a steadier one.",
    "A leg that stands splayed rises less than it is drawn out: go by the rise at the foot.",
    "Never look at or near the Sun without a certified filter over the front of the telescope.",
)


@dataclass(frozen=True)
class Gain:
    """One remedy: minutes it takes, RMS and chance in the eyepiece that it leaves."""

    remedy: str
    rms_arcmin: float
    chance_in_field: float
    minutes: int


@dataclass(frozen=True)
class LevelResult:
    """Re-level or not, and why; which foot by how much.

    `verdict` is level, realign, leave or cannot_tell. `feet` holds orders wherever they can be
    worked out; only with the verdict level are they meant to be followed. The expected lean after
    is the median, from what is uncertain about the lean and from setting screws by hand
    (`hand_step_mm`); None for a log made after an alignment. `field_assumed`: the field of view is
    not the mount file's. `confirm_at`: zero on the first star; a lean that is left shows at the
    others. `one_more_star`: where a further star is wanted first, None where none is.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    name: str
    pairs_used: int
    verdict: Verdict
    reason: str
    lean: Lean
    confounded_with: tuple[str, ...]
    look_alike: LookAlike | None
    clock_cleared_by: ClearedBy | None
    feet: tuple[FootOrder, ...]
    screw_pitch_mm: float | None
    hand_step_mm: float | None
    expected_lean_after_arcmin: float | None
    gain: tuple[Gain, ...]
    field_of_view_arcmin: float
    field_assumed: bool
    confirm_at: tuple[Place, ...]
    one_more_star: Place | None
    cautions: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the level document: plain types only, equal to the command's JSON."""
        from pointmodel.base.documents import level_document

        return level_document(self)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.levelling.text import level_text

        return level_text(self)


def level(fit: Fit, clock_cleared_by: str | None = None) -> LevelResult:
    """Return whether to level the base, realign or leave it, and which foot to turn by how much.

    `clock_cleared_by` "check" says that the controller's clock and place were found to agree with
    the stars; left out, the log itself is asked where it has names, times and place, and the mount
    file. Raises InputError for any other word, and for what is no fit.
    """
    from pointmodel.base.documents import inputs_of

    cleared = _cleared_by(fit, clock_cleared_by)
    mount, posterior = fit.log.mount, fit.solution.posterior
    half_field = 0.5 * (mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN)
    by_code = {forecast.remedy: forecast for forecast in fit.forecasts}
    lean = lean_of(posterior)
    place = mount.site.latitude_deg if mount.site is not None else None
    alike = None if place is None or cleared else look_alike(posterior, place)
    why = _why(fit, lean, by_code, half_field, cleared)
    mean, _, draws = moments_of(posterior, TILTS)
    deviation = draws - mean
    feet = None if mount.is_aligned else mount.feet
    used = fit.pairs_used
    more = _one_more_star(fit, why, used, deviation)
    confirm = confirming_stars(fit.outlook.targets, lean.toward_az_deg or 0.0)
    return LevelResult(
        inputs_of(fit),
        fit.warnings,
        fit.log.mount.name or fit.log.name,
        used,
        VERDICTS[why],
        reason_words(why, lean, by_code, alike, more, used, half_field, fit.sky_evidence),
        lean,
        () if cleared or why == "only_entries" else ("clock_or_longitude", "latitude"),
        alike,
        cleared,
        () if feet is None else foot_orders(feet, mean, deviation),
        None if feet is None else feet.screw_pitch_mm,
        None if feet is None else hand_step_mm(feet),
        None if mount.is_aligned else _lean_after(deviation, feet),
        _gains(by_code, mount.is_aligned or why in ("entries", "only_entries"), half_field),
        2.0 * half_field,
        mount.optics.field_of_view_arcmin is None,
        confirm if VERDICTS[why] == "level" else (),
        more,
        CAUTIONS,
    )


def _cleared_by(fit: Fit, told: str | None) -> ClearedBy | None:
    from pointmodel.fitting.fit import Fit

    if not isinstance(fit, Fit):
        raise InputError([Problem("<fit>", None, None, quoted(fit), "what pm.fit(log) returns")])
    if told not in (None, "check"):
        raise InputError([
            Problem("<level>", None, "clock_cleared_by", quoted(told), one_of(("check", "None")))
        ])  # fmt: skip
    from_file, sky = fit.log.mount.clock_cleared_by, fit.sky_evidence
    if from_file == "alignment":
        return from_file
    if told == "check" or (sky is not None and sky.verdict == "agrees"):
        return "check"
    wrong = sky is not None and sky.verdict == "disagrees"
    return None if wrong else from_file  # the stars know better than whoever verified


def _why(
    fit: Fit,
    lean: Lean,
    by_code: dict[str, RemedyForecast],
    half_field_arcmin: float,
    cleared: ClearedBy | None,
) -> Why:
    """Return what the verdict rests on."""
    if fit.log.mount.is_aligned:
        now = by_code["none"].rms_arcmin
        gained = now - by_code["realign"].rms_arcmin
        needed = max(REALIGN_GAINS_ARCMIN, REALIGN_GAINS_SHARE * now)
        off = rotation_is_real(fit.solution.posterior) and gained > needed
        return "alignment_off" if off else "alignment_good"
    sky = fit.sky_evidence
    if sky is not None and sky.verdict == "disagrees":
        apart = sky.apart
        upright = apart is not None and apart.probability < OWN_LEAN_BELOW
        return "only_entries" if upright else "entries"
    if not lean.is_real:
        return "no_lean" if lean.high <= UNSEEN_ABOVE_ARCMIN else "unseen"
    if not worth_it(by_code["zero_on_star"], by_code["level"], half_field_arcmin):
        return "too_little"
    return "gains" if cleared else "clock"


def _one_more_star(fit: Fit, why: Why, used: int, deviation: FloatArray) -> Place | None:
    """Return where to centre one more star first; None where the lean is known well enough."""
    rough = float(np.median(np.hypot(*deviation.T))) > ROUGH_ABOVE_ARCMIN or used <= FEW_PAIRS
    if why != "unseen" and not (rough and why in ("gains", "clock")):
        return None
    north, east = (STANDARD_NAMES.index(name) for name in TILTS)
    return next_star(fit.outlook, (north, east), fit.noise.sigma_arcmin)


def _lean_after(deviation: FloatArray, feet: Feet | None) -> float:
    """Return the median lean once the feet were turned as told, arcminutes."""
    left = deviation
    if feet is not None:
        left = left + hand_errors_arcmin(feet, deviation.shape[0])
    return float(np.median(np.hypot(*left.T)))


def _gains(
    by_code: dict[str, RemedyForecast], feet_are_out: bool, half_field_arcmin: float
) -> tuple[Gain, ...]:
    return tuple(
        Gain(
            code,
            by_code[code].rms_arcmin,
            chance_of(by_code[code], half_field_arcmin),
            REMEDIES[code].minutes,
        )
        for code in (WITHOUT_FEET if feet_are_out else COMPARED)
        if code in by_code
    )
