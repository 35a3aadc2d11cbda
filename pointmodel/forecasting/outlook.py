"""The fitted mount with its uncertainty, and misses of go-tos as linear functions of that.

Read `machine.py` first. An `Outlook` is what forecasts start from, a `MissModel` what one remedy
leaves at targets spread over the open sky.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.reading.mountfile import MountFile

TARGETS = 160  # measured: four times as many move no forecast by .2 %
LOW_ALT_DEG, HIGH_ALT_DEG = 15.0, 80.0  # where one observes: below is haze, above the mount's axis
# turns that never come to lie over one another: even points (Vogel 1979, Math. Biosci. 44, 179)
GOLDEN_ANGLE_DEG = 180.0 * (3.0 - np.sqrt(5.0))
NEAR_AZ_DEG = 30.0  # open targets nearer than this speak for a place


@dataclass(frozen=True)
class Outlook:
    """The fitted mount with what is uncertain about it.

    `deviation` (d, c): draws of the terms less their mean; `scatter_arcmin` (d,): the mount's own
    scatter an axis; `scatter_known` is False where the centring error hides in it. `targets` are
    azimuths and altitudes (k,) of the open sky, degrees.
    """

    model: MountModel
    deviation: FloatArray
    scatter_arcmin: FloatArray
    scatter_known: bool
    targets: tuple[FloatArray, FloatArray]
    field_of_view_arcmin: float | None

    @cached_property
    def covariance(self) -> FloatArray:
        """The covariance (c, c) of the draws."""
        return np.asarray(self.deviation.T @ self.deviation / self.deviation.shape[0])

    @cached_property
    def corrected(self) -> MissModel:
        """The misses where every command is corrected by the fitted model."""
        az_deg, alt_deg = self.targets
        reading_az, reading_alt, _ = readings_for(self.model, az_deg, alt_deg)
        there = linearised_at(self.model, az_deg, alt_deg, reading_az, reading_alt)
        return MissModel(np.zeros_like(there.miss), -there.design)


@dataclass(frozen=True)
class MissModel:
    """Misses of go-tos, linear in the draws: `central` (k, 2) + `slope` (k, 2, c) · δ."""

    central: FloatArray
    slope: FloatArray

    def mean_square(self, deviation: FloatArray) -> FloatArray:
        """Return the mean square miss over the targets for each draw (d,), arcmin²."""
        return square_miss(self.central, self.slope).drawn(deviation)


@dataclass(frozen=True)
class SquareMiss:
    """Mean squares of misses over the targets, c + 2 lᵀδ + δᵀQ δ of the deviation δ; arcmin².

    `constant` c (...,), `linear` l (..., c), `square` Q (..., c, c).
    """

    constant: FloatArray
    linear: FloatArray
    square: FloatArray

    def drawn(self, deviation: FloatArray) -> FloatArray:
        """Return the mean squares (..., d) for each draw of the deviations (..., d, c)."""
        linear = (deviation @ self.linear[..., None])[..., 0]
        square = np.einsum("...dc,...dc->...d", deviation @ self.square, deviation)
        return np.asarray(np.maximum(self.constant[..., None] + 2.0 * linear + square, 0.0))

    def expected(self, covariance: FloatArray) -> FloatArray:
        """Return the mean (...,) over deviations about zero of this covariance (..., c, c)."""
        return np.asarray(self.constant + np.einsum("...ab,...ab->...", self.square, covariance))


def square_miss(central: FloatArray, slope: FloatArray) -> SquareMiss:
    """Return the mean squares of misses (..., k, 2) with slopes (..., k, 2, c) over k targets."""
    *several, targets, _ = central.shape
    miss = central.reshape(*several, 2 * targets)
    flat = slope.reshape(*several, 2 * targets, -1)
    turned = np.swapaxes(flat, -1, -2)
    return SquareMiss(
        constant=(miss * miss).sum(axis=-1) / targets,
        linear=(turned @ miss[..., None])[..., 0] / targets,
        square=turned @ flat / targets,
    )


def open_sky(mount: MountFile) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and altitudes (k,), degrees, even in solid angle over the open sky.

    15° to 80° and above the horizon profile where one is given; a spiral by the golden angle, made
    denser where a profile leaves little of it. Where nothing is open, the highest part of the
    spiral.
    """
    for density in (1, 4, 16):
        az_deg, alt_deg = _spiral(density * TARGETS)
        is_open = alt_deg >= mount.open_alt_deg(az_deg)
        if np.count_nonzero(is_open) >= TARGETS // 2:
            break
    if not is_open.any():
        return az_deg[-TARGETS:], alt_deg[-TARGETS:]
    keep = np.flatnonzero(is_open)
    keep = keep[np.linspace(0, keep.size - 1, min(TARGETS, keep.size)).astype(int)]
    return az_deg[keep], alt_deg[keep]


@cache
def _spiral(count: int) -> tuple[FloatArray, FloatArray]:
    steps = np.arange(count)
    low, high = np.sin(np.radians([LOW_ALT_DEG, HIGH_ALT_DEG]))
    alt_deg = np.degrees(np.arcsin(low + (high - low) * (steps + 0.5) / count))
    return np.mod(steps * GOLDEN_ANGLE_DEG, 360.0), alt_deg


def reading_slopes(design_at_star: FloatArray) -> FloatArray:
    """Return how the two readings of a star move with each column, (..., 2, c), from its design.

    The readings follow the miss on the sky: index columns times readings equal all columns. A hair
    is added so that a tube at its own zenith, where azimuth turns nothing, gives no error.
    """
    index = design_at_star[..., :2] + 1e-9 * np.eye(2)
    return np.asarray(np.linalg.inv(index) @ design_at_star)


def has_open_sky(
    targets: tuple[FloatArray, FloatArray], az_deg: FloatArray, alt_deg: FloatArray
) -> BoolArray:
    """Return whether places of any shape stand no lower than the open targets near them."""
    here, there = np.radians(az_deg), np.radians(targets[0])
    # the cosine of the difference: so large an array is not wrapped
    apart = np.stack([np.cos(here), np.sin(here)], axis=-1) @ [np.cos(there), np.sin(there)]
    lowest = np.where(apart > np.cos(np.radians(NEAR_AZ_DEG)), targets[1], 90.0).min(axis=-1)
    return np.asarray(alt_deg >= lowest)


def at_targets(outlook: Outlook, az_deg: FloatArray, alt_deg: FloatArray) -> Outlook:
    """Return the same outlook for other targets (k,), degrees."""
    return replace(outlook, targets=(az_deg, alt_deg))
