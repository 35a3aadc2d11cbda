"""How much something differs from night to night, from few nights.

Two estimates. For one number a night with a known error (the noise), the moment estimate of
random-effects meta-analysis. For terms, whose errors hang together within a night, the posterior
under all nights' pairs: it stays sane at two or three nights, where a moment estimate is often zero
and says nothing of how little it knows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.comparing.blocks import BLOCKS, Block
from pointmodel.comparing.evidence import Assumptions, Nights, assumptions_of, log_evidence
from pointmodel.comparing.kinds import Weighed
from pointmodel.comparing.results import Interval
from pointmodel.estimate.gaussian import normalised
from pointmodel.terms import FloatArray

NODES = 28
MOST_STEPS = 100
WITHIN = 1e-9


@dataclass(frozen=True)
class Pooled:
    """The mean over nights with its standard error, and the variance between nights."""

    mean: float
    standard_error: float
    between_variance: float


def moment_variance(value: FloatArray, variance: FloatArray, weight: FloatArray) -> float:
    """Return the moment estimate of the variance between n ≥ 2 nights for fixed weights (n,).

    With weights 1/variance it is that of DerSimonian & Laird 1986, Control. Clin. Trials 7, 177;
    for any weights DerSimonian & Kacker 2007, Contemp. Clin. Trials 28, 105, eq. 6. Values and
    their error variances (n,); never below zero.
    """
    total = weight.sum()
    mean = weight @ value / total
    misfit = weight @ (value - mean) ** 2
    expected = weight @ variance - (weight**2) @ variance / total
    return max(0.0, float((misfit - expected) / (total - (weight**2).sum() / total)))


def random_effects(value: FloatArray, variance: FloatArray) -> Pooled:
    """Return the mean over n ≥ 2 nights and how they differ, by the estimate of Paule & Mandel.

    The moment estimate with the weights that follow from itself (Paule & Mandel 1982, J. Res. NBS
    87, 377; DerSimonian & Kacker 2007, section 2): the variance between nights at which the misfit
    is what chance leaves. Values and their error variances (n,).
    """
    between = 0.0
    for _ in range(MOST_STEPS):
        last, between = between, moment_variance(value, variance, 1.0 / (variance + between))
        if abs(between - last) <= WITHIN * (between + variance.min()):
            break
    weight = 1.0 / (variance + between)
    total = weight.sum()
    return Pooled(float(weight @ value / total), float(1.0 / np.sqrt(total)), between)


def trend(value: FloatArray, variance: FloatArray) -> tuple[float, float]:
    """Return the slope of values (n,) over evenly spaced nights, and its standard error.

    Least squares, weighted by the error variances (n,) and what nights differ by about the slope.
    """
    straight = np.arange(value.size) - 0.5 * (value.size - 1)
    level = value - straight * (straight @ value) / (straight @ straight)
    weight = 1.0 / (variance + random_effects(level, variance).between_variance)
    place = straight - weight @ straight / weight.sum()
    size = float(weight @ place**2)
    return float(weight @ (place * value) / size), float(1.0 / np.sqrt(size))


def between_night_sd(nights: Nights, weighed: Weighed, block: int) -> Interval:
    """Return how much a block's terms differ from night to night, beside a step: median, limits.

    The posterior on a grid, the other blocks at their best, under a half-Cauchy prior whose scale
    is what is usual of a set-up (Gelman 2006, Bayesian Analysis 1, 515, section 4.3).
    """
    best = assumptions_of(weighed.options, weighed.picks[:1])
    grid = _grid(BLOCKS[block])
    between = np.tile(best.between_sd, (NODES, 1))
    between[:, list(BLOCKS[block].terms)] = grid[:, None]
    step, place = (np.tile(part, (NODES, 1)) for part in (best.step_sd, best.place))
    height = log_evidence(nights, Assumptions(between, step, place))
    scale = BLOCKS[block].typical_scatter
    weight, _ = normalised(height - np.log1p((grid / scale) ** 2) + np.log(grid))
    middle = np.cumsum(weight) - 0.5 * weight
    low, value, high = np.exp(np.interp([0.025, 0.5, 0.975], middle, np.log(grid)))
    return Interval(float(value), float(low), float(high))


def _grid(block: Block) -> FloatArray:
    widest = max(sd for sd, _ in block.scatter)
    return np.exp(np.linspace(np.log(0.1), np.log(2.0 * widest), NODES))
