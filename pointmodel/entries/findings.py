"""From weighed combinations to explanations: which entry, which second one, how probable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.entries.believed import ARCMIN_A_MINUTE, Solution, wrap_min, wrapped_min
from pointmodel.entries.catalogue import AGREES, LEAST_ARCMIN, Candidate, Entry
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


def findings_of(
    weighed: Weighed, true_latitude_arcmin: float, least_min: float
) -> tuple[Finding, ...]:
    """Every single entry, and every two at once that are possible, likeliest first.

    An entry that may be off by anything explains a difference only where that is larger than what
    can be told from none: `least_min` of sidereal time, LEAST_ARCMIN of latitude. Where it is not,
    the entry agrees as far as the log can say.
    """
    entries = list(dict.fromkeys(c.entry for c in (AGREES, *weighed.sidereal, *weighed.latitude)))
    group = _groups(weighed, entries, true_latitude_arcmin, least_min).ravel()
    share = weighed.probability.ravel()
    total = np.bincount(group, share)
    found = []
    for one in np.flatnonzero(np.bincount(group)).tolist():
        time_entry, place_entry = (entries[k] for k in divmod(one, len(entries)))
        entry, also = _blamed(time_entry, place_entry)
        if also is not None and total[one] < POSSIBLE_ABOVE:
            continue
        cells = np.flatnonzero(group == one)
        best = int(cells[share[cells].argmax()])
        k, s, p = (int(part) for part in np.unravel_index(best, weighed.probability.shape))
        time = AGREES if time_entry == AGREES.entry else weighed.sidereal[s]
        place = AGREES if place_entry == AGREES.entry else weighed.latitude[p]
        offset_min, off_arcmin = _predicted(weighed.solutions[k], time, place, true_latitude_arcmin)
        found.append(
            Finding(
                entry=entry,
                also=also,
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
    weighed: Weighed, entries: list[Entry], true_latitude_arcmin: float, least_min: float
) -> NDArray[np.int64]:
    """Which entries each combination blames, (k, s, p): place of the first times count + second."""
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
    none = entries.index(AGREES.entry)
    of_time = np.where(x_small, none, time[:, None])
    return np.asarray(of_time * len(entries) + np.where(y_small, none, place))


def _means(
    solutions: Sequence[Solution], true_latitude_arcmin: float
) -> tuple[FloatArray, FloatArray]:
    """Sidereal offset, minutes, and latitude minus the true one, arcminutes: (k,) each."""
    x = np.array([solution.sidereal_offset_min for solution in solutions])
    return x, np.array([s.latitude_arcmin - true_latitude_arcmin for s in solutions])


def _blamed(time: Entry, place: Entry) -> tuple[Entry, Entry | None]:
    if place == AGREES.entry:
        return time, None
    return (place, None) if time == AGREES.entry else (time, place)


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
    across = ARCMIN_A_MINUTE * abs(wrap_min(one.offset_min - other.offset_min))
    return bool(across < 3.0 and abs(one.latitude_off_arcmin - other.latitude_off_arcmin) < 3.0)
