"""From weighed combinations to explanations: which entry, which second one, how probable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.entries.believed import Solution, wrap_min
from pointmodel.entries.catalogue import Candidate, Entry
from pointmodel.entries.weighing import POSSIBLE_ABOVE, Weighed


@dataclass(frozen=True)
class Finding:
    """One explanation: the entry at fault, a second one where two are, and what they predict.

    `time` and `place` are the likeliest ways in which these entries are wrong; `offset_min` and
    `latitude_off_arcmin` what they predict, believed minus true, under `solution`, the index of the
    solution that they explain best.
    """

    entry: Entry
    also: Entry | None
    probability: float
    time: Candidate
    place: Candidate
    solution: int
    offset_min: float
    latitude_off_arcmin: float


def findings_of(weighed: Weighed, true_latitude_arcmin: float) -> tuple[Finding, ...]:
    """Every single entry, and every two at once that are possible, likeliest first."""
    groups: dict[tuple[Entry, Entry | None], list[tuple[int, int]]] = {}
    for s, time in enumerate(weighed.sidereal):
        for p, place in enumerate(weighed.latitude):
            groups.setdefault(_blamed(time, place), []).append((s, p))
    found = []
    for (entry, also), cells in groups.items():
        rows, columns = np.array(cells).T
        shares = weighed.probability[:, rows, columns]
        probability = float(shares.sum())
        if also is not None and probability < POSSIBLE_ABOVE:
            continue
        k, best = np.unravel_index(int(shares.argmax()), shares.shape)
        time, place = weighed.sidereal[rows[best]], weighed.latitude[columns[best]]
        solution = weighed.solutions[int(k)]
        offset_min, off_arcmin = _predicted(solution, time, place, true_latitude_arcmin)
        found.append(Finding(entry, also, probability, time, place, int(k), offset_min, off_arcmin))
    return tuple(sorted(found, key=lambda finding: -finding.probability))


def _blamed(time: Candidate, place: Candidate) -> tuple[Entry, Entry | None]:
    if place.entry == "agrees":
        return time.entry, None
    if time.entry == "agrees":
        return place.entry, None
    return time.entry, place.entry


def _predicted(
    solution: Solution, time: Candidate, place: Candidate, true_latitude_arcmin: float
) -> tuple[float, float]:
    """What the entries predict; where one may be anything, what the solution then asks of it."""
    (xx, xy), (_, yy) = solution.covariance
    x, y = solution.sidereal_offset_min, solution.latitude_arcmin - true_latitude_arcmin
    if time.shift is not None and place.shift is not None:
        return time.shift, place.shift
    if place.shift is not None:
        return wrap_min(x + xy / yy * (place.shift - y)), place.shift
    if time.shift is not None:
        off = wrap_min(time.shift - x)
        return time.shift, y + xy / xx * off
    return x, y


def same_shift(one: Finding, other: Finding) -> bool:
    """Whether two explanations predict the same places, so that no star can tell them apart."""
    across = 15.0 * abs(wrap_min(one.offset_min - other.offset_min))
    return bool(across < 3.0 and abs(one.latitude_off_arcmin - other.latitude_off_arcmin) < 3.0)
