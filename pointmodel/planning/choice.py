"""The best few stars, and their order: the expected miss made least by greedy choice and exchange.

Read `knowledge.py` first. Minimised is tr[M (P + Σ XᵢᵀXᵢ)⁻¹] (an A-optimal design weighted by the
open sky; exchange as in Fedorov, Theory of Optimal Experiments, 1972), times each star's handicap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.planning.knowledge import Knowledge, updated

RANDOM_STARTS = 2
MOST_SWEEPS = 8
FULL_WEIGHT_STARS = 3  # up to so many, handicaps count in full
SEED = 14
NEARLY_AS_GOOD = 1.3  # in mean square: the order then goes by what is easy to find


@dataclass(frozen=True, eq=False)
class DesignProblem:
    """Which of k stars: their rows (k, 2, c), and handicaps (k,) of at least 1 on the mean square.

    A star with handicap h is taken only where it makes the mean square miss h times smaller than a
    star without would; see `shared_handicap` for many stars.
    """

    knowledge: Knowledge
    design: FloatArray
    handicap: FloatArray

    def covariance(self, chosen: list[int]) -> FloatArray:
        """Return the covariance of the terms after the chosen stars."""
        if not chosen:
            return self.knowledge.covariance
        return updated(self.knowledge.covariance, self.rows(chosen), self.variance)

    def rows(self, chosen: list[int]) -> FloatArray:
        """Return the rows (2 n, c) of the chosen stars."""
        return np.asarray(self.design[chosen].reshape(-1, self.design.shape[-1]))

    @property
    def variance(self) -> float:
        """The variance of a pair an axis, arcmin²."""
        return self.knowledge.sigma_arcmin**2

    def left(self, chosen: list[int]) -> FloatArray:
        """Return the mean square miss (k,) left if each star came beside the chosen ones."""
        return squares_with_one_more(
            self.knowledge.sky, self.covariance(chosen), self.design, self.variance
        )

    def cost(self, chosen: list[int]) -> float:
        """Return what is minimised: ln of the mean square miss, plus ln of the handicaps."""
        square = float(np.sum(self.knowledge.sky * self.covariance(chosen)))
        return float(np.log(max(square, 1e-12)) + np.log(self.handicap[chosen]).sum())


def shared_handicap(handicap: FloatArray, count: int) -> FloatArray:
    """Return handicaps (k,) for the choice of so many stars, the less the more there are.

    One of many stars tells little by itself: handicaps at full weight would rule the choice.
    """
    return np.asarray(handicap ** min(1.0, FULL_WEIGHT_STARS / count))


def squares_with_one_more(
    sky: FloatArray, covariance: FloatArray, design: FloatArray, variance: float
) -> FloatArray:
    """Return the mean square miss (k,), arcmin², after one star of each design (k, 2, c)."""
    crossed = design @ covariance
    spread = crossed @ np.swapaxes(design, 1, 2)
    spread[:, 0, 0] += variance
    spread[:, 1, 1] += variance
    seen = (crossed @ sky) @ np.swapaxes(crossed, 1, 2)
    determinant = spread[:, 0, 0] * spread[:, 1, 1] - spread[:, 0, 1] ** 2
    gained = (
        spread[:, 1, 1] * seen[:, 0, 0]
        + spread[:, 0, 0] * seen[:, 1, 1]
        - 2.0 * spread[:, 0, 1] * seen[:, 0, 1]
    ) / determinant
    return np.maximum(np.sum(sky * covariance) - gained, 1e-12)


def choose(problem: DesignProblem, count: int) -> list[int]:
    """Return the indices of the `count` best stars (all, where there are fewer), in no order."""
    size = problem.design.shape[0]
    if count >= size:
        return list(range(size))
    rng = np.random.default_rng(SEED)
    starts = [_greedy(problem, count)]
    starts += [rng.permutation(size)[:count].tolist() for _ in range(RANDOM_STARTS)]
    return min((_exchanged(problem, start) for start in starts), key=problem.cost)


def _greedy(problem: DesignProblem, count: int) -> list[int]:
    chosen: list[int] = []
    for _ in range(count):
        chosen.append(_best_beside(problem, chosen))
    return chosen


def _best_beside(problem: DesignProblem, chosen: list[int]) -> int:
    left = problem.left(chosen) * problem.handicap
    left[chosen] = np.inf
    return int(left.argmin())


def _exchanged(problem: DesignProblem, start: list[int]) -> list[int]:
    """Return the stars after each was exchanged for a better one, until none is better."""
    chosen = list(start)
    for _ in range(MOST_SWEEPS):
        before = list(chosen)
        for place in range(len(chosen)):
            others = chosen[:place] + chosen[place + 1 :]
            chosen[place] = _best_beside(problem, others)
        if chosen == before:
            break
    return chosen


def in_order(problem: DesignProblem, chosen: list[int], ease: FloatArray) -> list[int]:
    """Return the chosen stars in the order to centre them.

    Each is the one that gains most beside those before it; of those that gain nearly as much, the
    easiest to find (least `ease` (k,), such as the magnitude).
    """
    order: list[int] = []
    remaining = list(chosen)
    while remaining:
        left = problem.left(order)[remaining]
        near: BoolArray = left <= NEARLY_AS_GOOD * left.min()
        best = min((star for star, ok in zip(remaining, near, strict=True) if ok), key=ease.item)
        order.append(best)
        remaining.remove(best)
    return order
