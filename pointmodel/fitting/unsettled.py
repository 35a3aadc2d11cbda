"""What the night leaves open: two terms that stand in for one another, and stars that carry much.

Read `estimate/identify.py` first. Pure functions on the final model of the last segment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.evaluation import Evaluation
from pointmodel.estimate.identify import Unseen, unseen
from pointmodel.estimate.solve import Solution
from pointmodel.mount.terms import STANDARD_NAMES

# χ² of two degrees of freedom at 95 %: −2 ln .05
CHI_SQUARE_95 = float(-2.0 * np.log(0.05))
OUTLINE = 49  # points of an ellipse
FEWEST_FOR_INFLUENCE = 4  # with three stars every one carries everything


@dataclass(frozen=True, eq=False)
class Ridge:
    """Two terms that these stars cannot tell apart, and what one more star would leave of that.

    `now` and `after` (2, 2) are covariances, arcmin², about `centre` (2,); the star stands at
    (azimuth, altitude) `star_deg`.
    """

    names: tuple[str, str]
    centre: FloatArray
    now: FloatArray
    after: FloatArray
    star_deg: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Influence:
    """By how much the lean moves, toward north and east (m,), when one line is left out.

    `line` (m,) are lines of the log; arcminutes.
    """

    line: NDArray[np.int64]
    north_arcmin: FloatArray
    east_arcmin: FloatArray

    @property
    def size_arcmin(self) -> FloatArray:
        """Length of each move (m,)."""
        return np.hypot(self.north_arcmin, self.east_arcmin)


def covariance_of(result: Evaluation) -> FloatArray:
    """Return the covariance (p, p) of the terms in use at the usual noise, their units."""
    variance = result.variance
    basis = result.spectrum.basis[0]
    return np.asarray((basis * (variance / (result.spectrum.eigenvalues[0] + variance))) @ basis.T)


def correlation_of(covariance: FloatArray) -> FloatArray:
    """Return the correlation matrix of a covariance (p, p)."""
    sd = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    return np.asarray(covariance / np.outer(sd, sd))


def ridge_of(
    solution: Solution, targets: tuple[FloatArray, FloatArray], target_design: FloatArray
) -> Ridge | None:
    """Return the two terms that these stars tell apart worst, None where they know all.

    `targets` are azimuths and altitudes (k,) of the open sky, `target_design` (k, 2, c) the design
    there over the posterior's columns.
    """
    result, posterior = solution.candidate.result, solution.posterior
    design = target_design[..., posterior.chosen]
    several = [one for one in unseen(result, design) if len(one.columns) > 1]
    if not several:
        return None
    one = several[0]
    covariance = posterior.covariance[np.ix_(posterior.chosen, posterior.chosen)]
    pair = _worst_pair(covariance, one)
    more = _with_star(covariance, design[one.star], result.variance)
    named = [posterior.columns[posterior.chosen[k]].name for k in pair]
    both = np.ix_(pair, pair)
    return Ridge(
        names=(named[0], named[1]),
        centre=posterior.mean[posterior.chosen][pair],
        now=covariance[both],
        after=more[both],
        star_deg=(float(targets[0][one.star]), float(targets[1][one.star])),
    )


def _worst_pair(covariance: FloatArray, one: Unseen) -> list[int]:
    """The two columns of a combination that are tied the most closely."""
    tied = np.abs(correlation_of(covariance))[np.ix_(one.columns, one.columns)]
    np.fill_diagonal(tied, -1.0)
    first, second = np.unravel_index(int(tied.argmax()), tied.shape)
    return sorted((one.columns[first], one.columns[second]))


def _with_star(covariance: FloatArray, design: FloatArray, variance: float) -> FloatArray:
    """Return the covariance once a star with this design (2, p) is centred too.

    C − C Jᵀ (J C Jᵀ + v I)⁻¹ J C (Bishop, Pattern Recognition and Machine Learning, section 13.3).
    """
    through = covariance @ design.T
    inner = design @ through + variance * np.eye(2)
    return np.asarray(covariance - through @ np.linalg.solve(inner, through.T))


def outline(centre: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the ellipse (m, 2) that holds the truth 19 times in 20, closed."""
    turn = np.linspace(0.0, 2.0 * np.pi, OUTLINE)
    eigenvalues, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(eigenvalues, 0.0) * CHI_SQUARE_95)
    return np.asarray(centre + np.column_stack([np.cos(turn), np.sin(turn)]) @ root.T)


def influence_of(solution: Solution, line: NDArray[np.int64]) -> Influence | None:
    """Return how far the lean moves when each pair used is left out; None with too few pairs.

    Leaving out rows J with residual r and noise v moves the estimate by −C Jᵀ (v I − J C Jᵀ)⁻¹ r
    (Cook and Weisberg, Residuals and Influence in Regression, section 2.2; the rows of one pair
    together). `line` (n,) are the lines of the pairs.
    """
    result = solution.candidate.result
    good = np.flatnonzero(result.hypothesis.good)
    if good.size < FEWEST_FOR_INFLUENCE:
        return None
    covariance = covariance_of(result)
    columns = result.hypothesis.columns
    design = result.rows.design[good][..., columns]
    step = result.mean - result.rows.prior_mean
    left = result.rows.data[good] - design @ step[columns]
    through = covariance @ np.swapaxes(design, 1, 2)
    inner = result.variance * np.eye(2) - design @ through
    pull = np.linalg.solve(inner, left[..., None])
    moved = -(through @ pull)[..., 0]
    north, east = (moved[:, STANDARD_NAMES.index(name)] for name in ("tilt_north", "tilt_east"))
    return Influence(np.asarray(line)[good], north, east)
