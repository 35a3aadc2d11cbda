"""One number a night with a known error, such as the noise: its mean over nights and its spread.

Random-effects meta-analysis with moment estimates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.summary import NightSummary
from pointmodel.mount.priors import LEAST_LOG_SIGMA_BETWEEN

MOST_STEPS = 100  # of an iteration that takes ten
WITHIN = 1e-9  # relative


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


def pooled_noise(summaries: Sequence[NightSummary]) -> Pooled:
    """Return ln of the unknown noise an axis, pooled over the nights."""
    return random_effects(
        np.array([summary.log_sigma_mean for summary in summaries]),
        np.array([summary.log_sigma_sd**2 for summary in summaries]),
    )


def noise_of_one_more_night(summaries: Sequence[NightSummary]) -> tuple[float, float]:
    """Return mean and sd of ln of the unknown noise an axis on one more night."""
    pooled = pooled_noise(summaries)
    return pooled.mean, _sd_of_one_night(pooled)


def _sd_of_one_night(pooled: Pooled) -> float:
    between = max(float(np.sqrt(pooled.between_variance)), LEAST_LOG_SIGMA_BETWEEN)
    return float(np.hypot(between, pooled.standard_error))


def information_gains(summaries: Sequence[NightSummary]) -> FloatArray:
    """Return by how much (n,) each night's information grows once its noise is seen with the rest.

    A dozen pairs know their noise to a fifth, and a night whose pairs happen to agree would count
    for too much; each is drawn toward the others as far as nights are alike.
    """
    mean = np.array([summary.log_noise_mean for summary in summaries])
    variance = np.array([summary.log_noise_sd**2 for summary in summaries])
    pooled = random_effects(mean, variance)
    weight = 1.0 / variance, np.full(mean.size, 1.0 / _sd_of_one_night(pooled) ** 2)
    drawn_variance = 1.0 / (weight[0] + weight[1])
    drawn = drawn_variance * (weight[0] * mean + weight[1] * pooled.mean)
    # the mean of a variance whose ln is normal: exp(2 mean + 2 variance)
    return np.asarray(np.exp(2.0 * (mean + variance - drawn - drawn_variance)))
