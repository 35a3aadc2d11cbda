"""The normal distribution: densities, distribution and the usual quantile, for every room.

A handbook formula stands in for scipy's: importing that would double the start-up of the command.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.arrays import FloatArray

NORMAL_95 = 1.96  # standard deviations to either side of the mean that hold 95 %
LOG_TWO_PI = float(np.log(2.0 * np.pi))
TINY = 1e-300  # below any density that counts: keeps logarithms finite


def log_normal(x: FloatArray | float, mean: float, sd: float | FloatArray) -> FloatArray:
    """Return ln of the normal density at x."""
    return np.asarray(-0.5 * ((x - mean) / sd) ** 2 - np.log(sd) - 0.5 * LOG_TWO_PI)


def normal(x: FloatArray | float, sd: float | FloatArray) -> FloatArray:
    """Return the normal density at x about zero."""
    return np.asarray(np.exp(log_normal(x, 0.0, sd)))


def log_normal_2d(miss: FloatArray, covariance: tuple[FloatArray, ...]) -> FloatArray:
    """Return ln of the normal density (...,) of misses (..., 2); covariance as (xx, xy, yy).

    A covariance that rounding has left without an inverse is kept next to one that has.
    """
    xx, xy, yy = covariance
    determinant = np.maximum(xx * yy - xy * xy, 1e-10 * np.maximum(xx, yy) ** 2)
    x, y = miss[..., 0], miss[..., 1]
    square = (yy * x * x - 2.0 * xy * x * y + xx * y * y) / determinant
    return np.asarray(-0.5 * (square + np.log(determinant)) - LOG_TWO_PI)


def log_round_normal_2d(square: FloatArray, variance: float | FloatArray) -> FloatArray:
    """Return ln of the density of a miss in two dimensions, alike in both, for its square."""
    return np.asarray(-0.5 * square / variance - np.log(variance) - LOG_TWO_PI)


def log_normal_vector(x: FloatArray, covariance: FloatArray) -> float:
    """Return ln of the normal density of a vector (k,) about zero, covariance (k, k)."""
    log_size = np.linalg.slogdet(covariance)[1] + x.size * LOG_TWO_PI
    return float(-0.5 * (log_size + x @ np.linalg.solve(covariance, x)))


def normal_distribution(z: FloatArray) -> FloatArray:
    """Return Φ(z) to 8e-8: Abramowitz & Stegun, Handbook of Mathematical Functions, 7.1.26."""
    return distribution_and_density(z)[0]


def distribution_and_density(z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return Φ(z), to 8e-8 as `normal_distribution`, and the density there."""
    # one exponential serves both
    bell = np.exp(-0.5 * z * z)
    t = 1.0 / (1.0 + (0.3275911 * np.sqrt(0.5)) * np.abs(z))
    poly = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    tail = 0.5 * poly * bell
    return np.where(z < 0.0, tail, 1.0 - tail), bell / np.sqrt(2.0 * np.pi)
