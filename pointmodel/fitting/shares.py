"""What each group of terms adds to each pair's miss, and what taking it out would leave.

Read `estimate/observations.py` first. Everything is linear about the fitted terms, segment by
segment; a whole turn of the azimuth circle (`turn.py`) is left out, since one star removes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.estimate import termsprior
from pointmodel.estimate.observations import linear_problem
from pointmodel.estimate.solve import Solution
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES, spoken_together

Family = Literal["lean", "tube", "zeros"]

ZEROS = ("azimuth_index", "altitude_index")
LEAN = ("tilt_north", "tilt_east", "tilt_north_drift", "tilt_east_drift")
STEPS_AND_DRIFTS = ("azimuth_slip", "altitude_slip", "azimuth_drift", "altitude_drift")
SLACK = ("azimuth_backlash", "altitude_backlash")
LEAN_TITLE = "lean"
# wider than any further term: the pairs alone say how large it is; a choice
FREE_SD_ARCMIN = 600.0
FEWEST_PAIRS = 4  # fewer leave nothing over: every miss would be bought by any terms


@dataclass(frozen=True)
class Bought:
    """Typical miss (RMS, arcminutes) left once this term is taken out too, after those above it."""

    title: str
    rms_arcmin: float


@dataclass(frozen=True, eq=False)
class SegmentShares:
    """One part of a log: the misses (n, 2) without a turn, the design (n, 2, p) of the terms used.

    `names` and `values` (p,) are those of the terms, `good` (n,) the pairs used; arcminutes.
    """

    names: tuple[str, ...]
    values: FloatArray
    miss: FloatArray
    design: FloatArray
    good: BoolArray

    def share(self, names: Sequence[str]) -> FloatArray:
        """Return what the named terms add to each miss (n, 2), arcminutes."""
        chosen = [k for k, name in enumerate(self.names) if name in names]
        return np.asarray(self.design[..., chosen] @ self.values[chosen])

    @cached_property
    def left(self) -> FloatArray:
        """What is left (n, 2) once every term is taken out, to first order; arcminutes."""
        return self.miss - self.share(self.names)


def segment_shares(solution: Solution, turn_arcmin: float) -> SegmentShares:
    """Return the shares of one solved segment; `turn_arcmin` of azimuth index counts as nothing."""
    result, posterior = solution.candidate.result, solution.posterior
    obs = result.hypothesis.obs
    columns = result.hypothesis.columns
    start = np.zeros(N_STANDARD + len(obs.columns))
    start[0] = turn_arcmin
    fitted = result.mean.copy()
    there = posterior.places < fitted.size
    fitted[posterior.places[there]] = posterior.mean[there]
    values = fitted - start
    values[0] = 60.0 * float((values[0] / 60.0 + 180.0) % 360.0 - 180.0)
    names = (*STANDARD_NAMES, *(column.name for column in obs.columns))
    return SegmentShares(
        names=tuple(names[c] for c in columns),
        values=values[columns],
        miss=linear_problem(obs, start).miss,
        design=result.problem.design[..., columns],
        good=result.hypothesis.good,
    )


def group_title(name: str) -> str:
    """Return under which title a term is shown: partners together."""
    return LEAN_TITLE if name in LEAN else spoken_together(name)


def family_of(name: str) -> Family:
    """Return whether a term is a zero, the lean, or of tube, axes and air."""
    return "zeros" if name in ZEROS else "lean" if name in LEAN else "tube"


def bought(parts: Sequence[SegmentShares], variance: float) -> tuple[Bought, ...]:
    """Return the typical miss left, term by term, in the order that buys most.

    At each step the terms taken so far are fitted anew to the pairs used, each held by its usual
    size (`variance` is that of a centring, arcmin²), so that no term is paid for with another.
    Empty for so few pairs that any terms would do.
    """
    if sum(int(part.good.sum()) for part in parts) < FEWEST_PAIRS:
        return ()
    titles = list(dict.fromkeys(group_title(name) for part in parts for name in part.names))
    sums = [_sums(part, variance) for part in parts]
    taken: list[str] = []
    found = []
    while titles:
        left = [_rms_left(parts, sums, [*taken, title]) for title in titles]
        best = int(np.argmin(left))
        found.append(Bought(titles[best], left[best]))
        taken.append(titles.pop(best))
    return tuple(found)


_Sums = tuple[FloatArray, FloatArray, FloatArray, float, int]


def _sums(part: SegmentShares, variance: float) -> _Sums:
    """Gram matrix, cross products, ridge of the usual sizes, sum of squares, pairs of a segment."""
    rows = part.design[part.good].reshape(-1, len(part.names))
    miss = part.miss[part.good].ravel()
    usual = [
        termsprior.BASE_SD[STANDARD_NAMES.index(name)] if name in STANDARD_NAMES else FREE_SD_ARCMIN
        for name in part.names
    ]
    ridge = variance / np.square(usual)
    return rows.T @ rows, rows.T @ miss, ridge, float(miss @ miss), miss.size // 2


def _rms_left(parts: Sequence[SegmentShares], sums: Sequence[_Sums], titles: list[str]) -> float:
    square, pairs = 0.0, 0
    for part, (gram, cross, ridge, total, count) in zip(parts, sums, strict=True):
        chosen = [k for k, name in enumerate(part.names) if group_title(name) in titles]
        some = gram[np.ix_(chosen, chosen)]
        step = np.linalg.solve(some + np.diag(ridge[chosen] + 1e-9), cross[chosen])
        square += total - 2.0 * float(step @ cross[chosen]) + float(step @ some @ step)
        pairs += count
    return float(np.sqrt(max(square, 0.0) / max(pairs, 1)))
