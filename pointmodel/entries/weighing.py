"""Which entries explain what the controller believes: every combination, weighed.

Each entry of the sidereal list with each of the latitude list predicts an offset and a latitude.
Its weight is its odds times the overlap of the prediction, smeared by how exactly people type, with
the solutions that the sky left. Entries that may be off by anything (clock, longitude, latitude)
have wide predictions instead of sharp ones: an exact match beats them by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import TINY, log_normal_2d, normal
from pointmodel.entries.believed import TURN_MIN, EntrySolution, wrapped_min
from pointmodel.entries.catalogue import EntryCandidate
from pointmodel.entries.odds import (
    AGREES_ODDS,
    CLOCK_WIDTH_MIN,
    ELSEWHERE_ODDS,
    EVEN_SHARE,
    LATITUDE_WIDTH_ARCMIN,
    LONGITUDE_WIDTH_MIN,
    PLACE_SMEARS_ARCMIN,
    TIME_SMEARS_MIN,
    TWO_AT_ONCE,
)


@dataclass(frozen=True, eq=False)
class Weighed:
    """Posterior probability of each solution, sidereal entry and latitude entry, (k, s, l)."""

    solutions: tuple[EntrySolution, ...]
    sidereal: tuple[EntryCandidate, ...]
    latitude: tuple[EntryCandidate, ...]
    probability: FloatArray

    @property
    def of_solution(self) -> FloatArray:
        """Probability of each solution, (k,)."""
        return np.asarray(self.probability.sum(axis=(1, 2)))


def weigh(
    solutions: tuple[EntrySolution, ...],
    sidereal: tuple[EntryCandidate, ...],
    latitude: tuple[EntryCandidate, ...],
    true_latitude_arcmin: float,
    *,
    log_seen: FloatArray | None = None,
    beside: tuple[EntrySolution, FloatArray] | None = None,
) -> Weighed:
    """Weigh every combination; at least one solution.

    `log_seen` (k, s), where given, is what else speaks for a sidereal entry under a solution;
    `beside` one more solution with its own log weight (s, l) but for the odds.
    """
    with np.errstate(divide="ignore"):
        log_odds = np.log(_odds(sidereal, latitude))
    log_weight = np.stack([
        solution.log_evidence
        + _log_overlap(solution, sidereal, latitude, true_latitude_arcmin)
        + log_odds
        for solution in solutions
    ])  # fmt: skip
    if log_seen is not None:
        log_weight = log_weight + log_seen[:, :, None]
    if beside is not None:
        solutions = (*solutions, beside[0])
        log_weight = np.concatenate([log_weight, (beside[1] + log_odds)[None]])
    weight = np.exp(log_weight - log_weight.max())
    return Weighed(
        solutions=solutions,
        sidereal=sidereal,
        latitude=latitude,
        probability=weight / weight.sum(),
    )


def _odds(sidereal: Sequence[EntryCandidate], latitude: Sequence[EntryCandidate]) -> FloatArray:
    """Odds of each combination, (s, l): of the one that is wrong; two at once are rarer."""
    of_time = np.array([candidate.odds for candidate in sidereal])
    of_place = np.array([candidate.odds for candidate in latitude])
    time_right = np.array([candidate.entry == "agrees" for candidate in sidereal])
    place_right = np.array([candidate.entry == "agrees" for candidate in latitude])
    odds = TWO_AT_ONCE * of_time[:, None] * of_place
    alone = of_time[:, None] * of_place / AGREES_ODDS
    odds = np.where(time_right[:, None] | place_right, alone, odds)
    exchanged_time, exchanged_place, free_time, free_place = (
        np.array([c.entry == "mount_file" and told(c) for c in side])
        for told in (_is_exchanged, _is_free)
        for side in (sidereal, latitude)
    )
    # one mistake, not two: the mount file is that of another place
    odds = np.where(free_time[:, None] & free_place, ELSEWHERE_ODDS, odds)
    # the two halves of one mistake: together or not at all
    odds = np.where(exchanged_time[:, None] & exchanged_place, alone, odds)
    return np.asarray(np.where(exchanged_time[:, None] ^ exchanged_place, 0.0, odds))


def _is_exchanged(candidate: EntryCandidate) -> bool:
    return candidate.variant == "exchanged"


def _is_free(candidate: EntryCandidate) -> bool:
    return candidate.shift is None


def _log_overlap(
    solution: EntrySolution,
    sidereal: Sequence[EntryCandidate],
    latitude: Sequence[EntryCandidate],
    true_latitude_arcmin: float,
) -> FloatArray:
    """Log of the overlap of one solution with each prediction, (s, l).

    Both normal: ∫ N(z; solution, C) N(z; prediction, S) dz = N(solution − prediction; 0, C + S),
    summed over the smears S. An entry that may be off by anything has its wide density at the
    solution in place of a smear, taken at the mean given the other: the solution is far narrower.
    """
    off_arcmin = solution.latitude_arcmin - true_latitude_arcmin
    time_free = np.array([candidate.shift is None for candidate in sidereal])
    place_free = np.array([candidate.shift is None for candidate in latitude])
    dx = np.array([solution.sidereal_offset_min - (c.shift or 0.0) for c in sidereal])
    dx = wrapped_min(dx)
    dy = np.array([off_arcmin - (c.shift or 0.0) for c in latitude])
    (xx, xy), (_, yy) = solution.covariance
    given_time, given_place = xy / xx * dx[:, None], xy / yy * dy
    time_density = _free_time_density(sidereal, dx[:, None] - given_place)
    place_density = _free_place_density(dy - given_time)
    off = np.stack(np.broadcast_arrays(dx[:, None], dy), axis=-1)
    overlap = np.zeros((dx.size, dy.size))
    for smear_x, share_x in TIME_SMEARS_MIN:
        for smear_y, share_y in PLACE_SMEARS_ARCMIN:
            both = np.exp(log_normal_2d(off, (xx + smear_x**2, xy, yy + smear_y**2)))
            overlap += share_x * share_y * both
    given_y, given_x = np.zeros_like(dy), np.zeros_like(dx)
    for smear_x, share in TIME_SMEARS_MIN:
        given_x += share * normal(dx, np.sqrt(xx + smear_x**2))
    for smear_y, share in PLACE_SMEARS_ARCMIN:
        given_y += share * normal(dy, np.sqrt(yy + smear_y**2))
    overlap = np.where(time_free[:, None], time_density * given_y, overlap)
    overlap = np.where(place_free, place_density * given_x[:, None], overlap)
    anything = _free_time_density(sidereal, dx[:, None]) * _free_place_density(dy)
    overlap = np.where(time_free[:, None] & place_free, anything, overlap)
    return np.log(np.maximum(overlap, TINY))


def _free_time_density(sidereal: Sequence[EntryCandidate], off_min: FloatArray) -> FloatArray:
    """Density of offsets (s, l) by anything, a minute: people's clocks are off by minutes."""
    width = np.array([
        LONGITUDE_WIDTH_MIN if candidate.entry == "longitude" else CLOCK_WIDTH_MIN
        for candidate in sidereal
    ])  # fmt: skip
    return (1.0 - EVEN_SHARE) * _cauchy(off_min, width[:, None]) + EVEN_SHARE / TURN_MIN


def _free_place_density(off_arcmin: FloatArray) -> FloatArray:
    """Density of a latitude off by anything, an arcminute."""
    return (1.0 - EVEN_SHARE) * _cauchy(off_arcmin, LATITUDE_WIDTH_ARCMIN) + EVEN_SHARE / 10800.0


def _cauchy(off: FloatArray, width: float | FloatArray) -> FloatArray:
    return np.asarray(width / (np.pi * (off**2 + width**2)))
