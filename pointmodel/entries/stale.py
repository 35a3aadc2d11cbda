"""Commanded places that were noted some minutes before the time that the log gives them.

Each then carries the star's own motion since, another amount at every star. One amount for all
looks like a slow clock and cannot be told from it; a spread of them is no clock's doing. Only logs
with centred stars and without `commanded_time` can have this fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import erfa
import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.normal import normal
from pointmodel.entries.believed import (
    ARCMIN_A_MINUTE,
    EVEN_DENSITY,
    MODES,
    SHARED_ARCMIN,
    EntrySolution,
    Mode,
    noise_arcmin,
    wrapped_min,
)
from pointmodel.entries.catalogue import EntryCandidate
from pointmodel.entries.observed import MINUTES_A_DEGREE, Observed
from pointmodel.entries.odds import BAD_SHARE, OLDEST_MIN, STALE_SHARE, USUAL_AGE_MIN

if TYPE_CHECKING:
    from pointmodel.reading.nightlog import NightLog

LEAST_STARS = 3  # two ages and a shift fit any two stars
LEAST_SPREAD_MIN = 0.2  # a choice, three arcminutes: some six times the noise
_SHOWS_ABOVE = -0.1  # minutes: an age below nothing, by the noise of 1.5′
_FITS_WITHIN_SDS = 4.0


@dataclass(frozen=True)
class StaleCommands:
    """How old the commanded places were at the times logged, minutes: the least and the most."""

    least_min: float
    most_min: float


class StaleAnswer(NamedTuple):
    """A solution with an age of its own for each star, and its log weight (s, l) by entries."""

    solution: EntrySolution
    log_weight: FloatArray
    offsets_min: FloatArray


def may_be_stale(night: NightLog, observed: Observed) -> bool:
    """Whether commanded places could have been noted before the times logged."""
    rows = observed.pair
    told = np.isfinite(night.commanded_time_s[rows]).any()
    return bool(night.has_both[rows].any() and not night.camera and not told)


def stale_answer(
    observed: Observed,
    sidereal: Sequence[EntryCandidate],
    latitude: Sequence[EntryCandidate],
    true_deg: float,
) -> StaleAnswer | None:
    """The best answer with ages; None for too few stars, or where all would have one age.

    Only entries with a shift of their own are weighed: an age takes up what others would explain.
    """
    if len(observed) < LEAST_STARS or observed.moving.all():
        return None
    shifts = np.array([np.nan if c.shift is None else c.shift for c in sidereal])
    log_weight = np.full((len(MODES), shifts.size, len(latitude)), -np.inf)
    held = {}
    for m, mode in enumerate(MODES):
        for p, place in enumerate(latitude):
            if place.shift is not None:
                offsets, across = _held(observed, mode, true_deg + place.shift / 60.0)
                held[m, p] = offsets, across
                log_weight[m, :, p] = _log_weight(observed, mode, offsets, across, shifts)
    best = np.unravel_index(int(log_weight.argmax()), log_weight.shape)
    m, s, p = (int(k) for k in best)
    offsets, across = held[m, p]
    fits = _fits(observed, offsets - shifts[s], across)
    least_spread_min = max(LEAST_SPREAD_MIN, observed.resolution_min)
    if fits.sum() < LEAST_STARS or np.ptp(offsets[fits]) < least_spread_min:
        return None
    mean = float(offsets[fits].mean())
    solution = EntrySolution(
        mode=MODES[m],
        sidereal_offset_min=mean,
        latitude_arcmin=60.0 * true_deg + (latitude[p].shift or 0.0),
        covariance=np.diag([float(offsets[fits].var()) / fits.sum(), SHARED_ARCMIN**2]),
        log_evidence=float(log_weight.max()),
        miss_arcmin=np.abs(across),
        weight=fits.astype(float),
    )
    total = np.logaddexp.reduce(log_weight, axis=0)
    return StaleAnswer(solution=solution, log_weight=total, offsets_min=offsets)


def ages(answer: StaleAnswer, shift_min: float) -> StaleCommands:
    """How old the commanded places were, if the entries shift sidereal time by so much."""
    good = answer.solution.good
    age = -wrapped_min(answer.offsets_min[good] - shift_min)
    return StaleCommands(least_min=float(max(age.min(), 0.0)), most_min=float(age.max()))


def _held(observed: Observed, mode: Mode, latitude_deg: float) -> tuple[FloatArray, FloatArray]:
    """Each star's own sidereal offset (minutes), and how far it is off in declination (arcmin)."""
    north, east, up = np.moveaxis(observed.commanded[mode.lifted], -1, 0)
    altitude = np.arctan2(up, np.hypot(north, east))
    hour, dec = erfa.ae2hd(np.arctan2(east, north), altitude, np.radians(latitude_deg))
    true_hour = observed.sidereal_deg - observed.ra_deg[mode.places]
    offsets = wrapped_min(MINUTES_A_DEGREE * (np.degrees(hour) - true_hour))
    return offsets, 60.0 * (np.degrees(dec) - observed.dec_deg[mode.places])


def _log_weight(
    observed: Observed, mode: Mode, offsets: FloatArray, across: FloatArray, shifts: FloatArray
) -> FloatArray:
    """Log of density of all stars for each shift (s,), -inf where there is none.

    Along its parallel a star stands where its age puts it, 15 cos δ arcminutes a minute (that turns
    a density of ages into one of places); across it there is only noise.
    """
    noise = noise_arcmin(observed)
    age = -wrapped_min(offsets - shifts[:, None])
    youngest = _youngest_min(observed)
    real = (age > youngest) & (age < OLDEST_MIN)
    of_age = np.exp(-np.maximum(age, 0.0) / USUAL_AGE_MIN) / (USUAL_AGE_MIN - youngest)
    arc = ARCMIN_A_MINUTE * np.cos(np.radians(observed.dec_deg[mode.places]))
    sideways = normal(across, noise)
    inside = (1.0 - BAD_SHARE) * np.where(real, of_age * sideways / np.maximum(arc, 0.1), 0.0)
    log_density = np.log(inside + BAD_SHARE * EVEN_DENSITY)[:, ~observed.moving].sum(axis=-1)
    log_density += np.log(mode.share * STALE_SHARE)
    return np.where(np.isfinite(shifts), log_density, -np.inf)


def _fits(observed: Observed, offsets: FloatArray, across: FloatArray) -> BoolArray:
    """Which stars have a possible age and stand on their own parallel, (n,)."""
    age = -wrapped_min(offsets)
    real = (age > _youngest_min(observed)) & (age < OLDEST_MIN)
    return real & (np.abs(across) < _FITS_WITHIN_SDS * noise_arcmin(observed))


def _youngest_min(observed: Observed) -> float:
    """The least age that a fresh command can seem to have, minutes: moments cut or rounded.

    Against the middle of the two habits a moment is late by three quarters of a step at most.
    """
    return _SHOWS_ABOVE - 0.75 * observed.resolution_min
