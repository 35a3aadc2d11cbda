"""What the controller may believe, in brief: the solutions without regard to how it computes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from pointmodel.base.normal import NORMAL_95
from pointmodel.entries.believed import EntrySolution, wrap_min
from pointmodel.entries.observed import J2000
from pointmodel.entries.weighing import Weighed

Places = Literal["apparent", "old_equinox", "unknown"]
SAME_MIN, SAME_ARCMIN = 4.0, 60.0  # a choice: a degree; ways to compute places differ by .4°
COUNTS_ABOVE, PLACES_KNOWN_ABOVE = 0.01, 0.95  # choices: worth naming; sure enough to act on
FITS_WITHIN = 3.0  # of the best log evidence: a choice, a factor of 20


class Estimate(NamedTuple):
    """A value with the ends of its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class BelievedSolution:
    """What the controller may believe, minus what is true: sidereal time, latitude; its weight."""

    sidereal_offset_min: Estimate
    latitude_offset_deg: Estimate
    weight: float


def different_answers(weighed: Weighed) -> tuple[tuple[int, ...], ...]:
    """Indices of the solutions that count, in groups that differ only in how places are computed.

    Likeliest first, in and among the groups. A solution that fits the stars as well as any counts,
    however little the entries speak for it.
    """
    weights = weighed.of_solution
    evidence = np.array([solution.log_evidence for solution in weighed.solutions])
    counts = (weights > COUNTS_ABOVE) | (evidence > evidence.max() - FITS_WITHIN)
    left = [k for k in np.argsort(-weights).tolist() if counts[k]]
    groups = []
    while left:
        first = weighed.solutions[left[0]]
        groups.append(tuple(k for k in left if _near(first, weighed.solutions[k])))
        left = [k for k in left if k not in groups[-1]]
    return tuple(groups)


def merged(weighed: Weighed, true_latitude_arcmin: float) -> tuple[BelievedSolution, ...]:
    """The different answers that the stars leave, likeliest first; weights sum to 1."""
    groups = different_answers(weighed)
    shares = [float(weighed.of_solution[list(group)].sum()) for group in groups]
    return tuple(
        _believed([weighed.solutions[k] for k in group], true_latitude_arcmin, share / sum(shares))
        for group, share in zip(groups, shares, strict=True)
    )


def _believed(
    group: list[EntrySolution], true_latitude_arcmin: float, share: float
) -> BelievedSolution:
    """The first of a group, with the limits of all its variants."""
    offset = group[0].sidereal_offset_min
    latitude = group[0].latitude_arcmin - true_latitude_arcmin
    time_low, time_high = _reach(group, 0)
    place_low, place_high = _reach(group, 1)
    return BelievedSolution(
        sidereal_offset_min=Estimate(value=offset, low=offset + time_low, high=offset + time_high),
        latitude_offset_deg=Estimate(
            value=latitude / 60.0,
            low=(latitude + place_low) / 60.0,
            high=(latitude + place_high) / 60.0,
        ),
        weight=share,
    )


def _near(one: EntrySolution, other: EntrySolution) -> bool:
    across = abs(wrap_min(one.sidereal_offset_min - other.sidereal_offset_min))
    return across < SAME_MIN and abs(one.latitude_arcmin - other.latitude_arcmin) < SAME_ARCMIN


def _reach(group: list[EntrySolution], axis: int) -> tuple[float, float]:
    """How far below and above the first the 95 % intervals of all its variants reach."""
    first, ends = group[0], []
    for one in group:
        across = wrap_min(one.sidereal_offset_min - first.sidereal_offset_min)
        off = (across, one.latitude_arcmin - first.latitude_arcmin)[axis]
        half = NORMAL_95 * float(np.sqrt(one.covariance[axis, axis]))
        ends.append((off - half, off + half))
    return min(low for low, _ in ends), max(high for _, high in ends)


def residual_arcmin(best: EntrySolution) -> float | None:
    """RMS miss of the pairs that belong; None for a single one, which always fits."""
    if best.good.sum() < 2:
        return None
    return float(np.sqrt(np.mean(best.miss_arcmin[best.good] ** 2)))


def places_of(weighed: Weighed) -> Places:
    """Whether the controller works with apparent places or with those of J2000."""
    old = sum(
        float(weight)
        for weight, solution in zip(weighed.of_solution, weighed.solutions, strict=True)
        if solution.mode.places == J2000
    )
    if old > PLACES_KNOWN_ABOVE:
        return "old_equinox"
    return "apparent" if old < 1.0 - PLACES_KNOWN_ABOVE else "unknown"
