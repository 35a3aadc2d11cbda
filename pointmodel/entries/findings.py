"""From weighed combinations to explanations: which entry, which second one, how probable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.entries.believed import ARCMIN_A_MINUTE, EntrySolution, wrap_min, wrapped_min
from pointmodel.entries.catalogue import AGREES, LEAST_ARCMIN, Entry, EntryCandidate
from pointmodel.entries.odds import POSSIBLE_ABOVE
from pointmodel.entries.weighing import Weighed

SAME_ARCMIN = 3.0  # a choice: some six times a controller's own roughness


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
    time: EntryCandidate
    place: EntryCandidate
    solution: int
    offset_min: float
    latitude_off_arcmin: float


def findings_of(
    weighed: Weighed, true_latitude_arcmin: float, least_min: float
) -> tuple[Finding, ...]:
    """Every single entry, and every two at once that are possible, likeliest first.

    An entry that may be off by anything explains a difference only where that is larger than what
    can be told from none: `least_min` of sidereal time, LEAST_ARCMIN of latitude. Where it is not,
    the entry agrees as far as the log can say.
    """
    entries = list(dict.fromkeys(c.entry for c in (AGREES, *weighed.sidereal, *weighed.latitude)))
    of_time, of_place = _entries_blamed(weighed, entries, true_latitude_arcmin, least_min)
    group = _groups(entries, of_time, of_place).ravel()
    share = weighed.probability.ravel()
    total = np.bincount(group, share)
    found = []
    for one in np.unique(group).tolist():
        first, second = (entries[k] for k in divmod(one, len(entries)))
        if second != AGREES.entry and total[one] < POSSIBLE_ABOVE:
            continue
        cells = np.flatnonzero(group == one)
        best = np.unravel_index(int(cells[share[cells].argmax()]), weighed.probability.shape)
        k, s, p = (int(part) for part in best)
        time = weighed.sidereal[s] if of_time[k, s, p] else AGREES
        place = weighed.latitude[p] if of_place[k, s, p] else AGREES
        offset_min, off_arcmin = _predicted(weighed.solutions[k], time, place, true_latitude_arcmin)
        found.append(
            Finding(
                entry=first,
                also=None if second == AGREES.entry else second,
                probability=float(total[one]),
                time=time,
                place=place,
                solution=k,
                offset_min=offset_min,
                latitude_off_arcmin=off_arcmin,
            )
        )
    return tuple(sorted(found, key=lambda finding: -finding.probability))


def _groups(
    entries: list[Entry], of_time: NDArray[np.int64], of_place: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Which combinations say the same, (k, s, p): place of the first entry times count + second.

    One entry stands first, and of the mount file both figures may be wrong: that is one entry.
    """
    first = np.where(of_time, of_time, of_place)
    second = np.where((of_time > 0) & (of_time != of_place), of_place, 0)
    return np.asarray(first * len(entries) + second)


def _entries_blamed(
    weighed: Weighed, entries: list[Entry], true_latitude_arcmin: float, least_min: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which entry of time and which of latitude each combination blames, 0 for none: (k, s, p)."""
    sidereal, latitude = weighed.sidereal, weighed.latitude
    x, y = _means(weighed.solutions, true_latitude_arcmin)
    covariance = np.stack([solution.covariance for solution in weighed.solutions])
    xx, xy, yy = covariance[:, 0, 0], covariance[:, 0, 1], covariance[:, 1, 1]
    x_shift, y_shift = (
        np.array([np.nan if c.shift is None else c.shift for c in side])
        for side in (sidereal, latitude)
    )
    # what a free entry is then off by: the solution's mean, given the other entry's shift
    x_given = x[:, None] + (xy / yy)[:, None] * np.nan_to_num(y_shift - y[:, None])
    y_given = y[:, None] + (xy / xx)[:, None] * np.nan_to_num(wrapped_min(x_shift - x[:, None]))
    x_small = np.isnan(x_shift)[:, None] & (np.abs(wrapped_min(x_given)) < least_min)[:, None, :]
    y_small = np.isnan(y_shift) & (np.abs(y_given) < LEAST_ARCMIN)[:, :, None]
    time, place = (
        np.array([entries.index(c.entry) for c in side]) for side in (sidereal, latitude)
    )
    return np.where(x_small, 0, time[:, None]), np.where(y_small, 0, place)


def _means(
    solutions: Sequence[EntrySolution], true_latitude_arcmin: float
) -> tuple[FloatArray, FloatArray]:
    """Sidereal offset, minutes, and latitude minus the true one, arcminutes: (k,) each."""
    x = np.array([solution.sidereal_offset_min for solution in solutions])
    return x, np.array([s.latitude_arcmin - true_latitude_arcmin for s in solutions])


def _predicted(
    solution: EntrySolution,
    time: EntryCandidate,
    place: EntryCandidate,
    true_latitude_arcmin: float,
) -> tuple[float, float]:
    """What the entries predict; where one may be anything, what the solution then asks of it.

    That is the mean of one of a normal pair given the other: E[y | x] = E[y] + (xy / xx)(x − E[x])
    (any handbook of statistics).
    """
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


def same_shift(one: Finding, other: Finding, resolution_min: float = 0.0) -> bool:
    """Whether two explanations predict the same places, so that no star can tell them apart.

    Times noted to a step hide half of it more: two sds of what all of them may be off by alike.
    """
    across = ARCMIN_A_MINUTE * abs(wrap_min(one.offset_min - other.offset_min))
    along = abs(one.latitude_off_arcmin - other.latitude_off_arcmin)
    hidden = ARCMIN_A_MINUTE * resolution_min / 2.0
    return bool(across < SAME_ARCMIN + hidden and along < SAME_ARCMIN)
