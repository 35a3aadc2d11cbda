"""The lean of the azimuth axis with its limits, and the wrong entries that would look the same.

Read `estimate/posterior.py` first. To a controller that believes in a wrong clock or place the
whole sky stands tipped: the axis then seems to lean although it stands upright.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.angles import wrap_deg, wrapped_index_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.base.times import HOUR_ANGLE_ARCMIN_PER_MINUTE
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN

if TYPE_CHECKING:
    from pointmodel.estimate.posterior import Posterior

REAL_LEAN = 9.21  # 99 % of χ² with two degrees of freedom
REAL_ROTATION = 11.34  # 99 % of χ² with three
TILTS = ("tilt_north", "tilt_east")
READOUT_TILTS = ("readout_tilt_north", "readout_tilt_east")


@dataclass(frozen=True)
class Lean:
    """The lean of the azimuth axis, arcminutes, and the azimuth that it leans toward, degrees.

    A lean that is not real (`is_real`) has 0 as its low end and no direction. Limits of the
    direction run clockwise from low to high.
    """

    amount_arcmin: float
    low: float
    high: float
    toward_az_deg: float | None
    toward_low: float | None
    toward_high: float | None
    is_real: bool


@dataclass(frozen=True)
class LookAlike:
    """Entries, believed minus true, that would look like a lean though the axis stood upright.

    All at once: the clock too fast (minutes) or the longitude too far east (degrees), and the
    latitude too far north (degrees). `clock_counts`, `latitude_counts`: whether that part is more
    than the lean's uncertainty.
    """

    clock_min: float
    longitude_deg: float
    latitude_deg: float
    clock_counts: bool
    latitude_counts: bool


def moments_of(
    posterior: Posterior, names: tuple[str, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mean (k,), covariance (k, k) and draws (d, k) of the terms of these names."""
    known = [column.name for column in posterior.columns]
    at = [known.index(name) for name in names]
    return posterior.mean[at], posterior.covariance[np.ix_(at, at)], posterior.draws[:, at]


def squared_size(mean: FloatArray, covariance: FloatArray) -> float:
    """Return meanᵀ covariance⁻¹ mean: large where the mean cannot be chance."""
    return float(mean @ np.linalg.solve(covariance, mean))


def lean_of(posterior: Posterior) -> Lean:
    """Return the lean with 95 % limits of amount and direction, from the posterior's draws."""
    mean, covariance, draws = moments_of(posterior, TILTS)
    amount = float(np.hypot(*mean))
    low, high = (float(end) for end in np.quantile(np.hypot(*draws.T), [0.025, 0.975]))
    high = max(high, amount)
    if squared_size(mean, covariance) <= REAL_LEAN:
        return Lean(
            amount_arcmin=amount,
            low=0.0,
            high=high,
            toward_az_deg=None,
            toward_low=None,
            toward_high=None,
            is_real=False,
        )
    toward = float(np.degrees(np.arctan2(mean[1], mean[0])))
    aside = wrap_deg(np.degrees(np.arctan2(draws[:, 1], draws[:, 0])) - toward)
    first, last = (float(end) for end in np.quantile(aside, [0.025, 0.975]))
    ends = min(first, 0.0), max(last, 0.0)
    at, first, last = ((toward + part) % 360.0 for part in (0.0, *ends))
    return Lean(
        amount_arcmin=amount,
        low=min(low, amount),
        high=high,
        toward_az_deg=at,
        toward_low=first,
        toward_high=last,
        is_real=True,
    )


def rotation_is_real(posterior: Posterior) -> bool:
    """Whether azimuth zero and lean together cannot be chance: an alignment's error, say.

    Where the controller turns its readings back to the sky, the lean and that turn are seen only
    together: to first order their sum is the error that the alignment made.
    """
    names = ("azimuth_index", *TILTS)
    known = {column.name for column in posterior.columns}
    turned = known.issuperset(READOUT_TILTS)
    mean, covariance, _ = moments_of(posterior, (*names, *READOUT_TILTS) if turned else names)
    if turned:
        together = np.hstack([np.eye(3), np.vstack([np.zeros(2), np.eye(2)])])
        mean, covariance = together @ mean, together @ covariance @ together.T
    mean = np.array([wrapped_index_arcmin(float(mean[0])), *mean[1:]])
    return squared_size(mean, covariance) > REAL_ROTATION


def look_alike(posterior: Posterior, latitude_deg: float) -> LookAlike | None:
    """Return the entries that would look like this lean, None where no entries would.

    Exact: the true zenith stands at the lean's azimuth τ and zenith distance T in the sky that the
    controller believes in, and its declination is the true latitude φ there:
    sin φ = sin φ' cos T + cos φ' sin T cos τ (Smart, Textbook on Spherical Astronomy, 6th ed.,
    ch. 2). To first order tilt_east = −δ cos φ, tilt_north = −(φ' − φ).
    """
    mean, covariance, _ = moments_of(posterior, TILTS)
    found = entries_like(float(mean[0]), float(mean[1]), latitude_deg)
    if found is None:
        return None
    clock_min, latitude = found
    sd_north, sd_east = 3.0 * np.sqrt(np.diag(covariance))
    return LookAlike(
        clock_min,
        clock_min * HOUR_ANGLE_ARCMIN_PER_MINUTE / 60.0,
        latitude,
        bool(abs(mean[1]) > sd_east),
        bool(60.0 * abs(latitude) > sd_north),
    )


def entries_like(
    tilt_north_arcmin: float, tilt_east_arcmin: float, latitude_deg: float
) -> tuple[float, float] | None:
    """Return clock (minutes) and latitude (degrees), believed minus true, that look like a lean.

    None near a pole, where no latitude does, or a clock says little.
    """
    north, east = tilt_north_arcmin / ARCMIN_PER_RADIAN, tilt_east_arcmin / ARCMIN_PER_RADIAN
    lean, toward = np.hypot(north, east), np.arctan2(east, north)
    along, across = np.sin(lean) * np.cos(toward), np.sin(lean) * np.sin(toward)
    size = np.hypot(np.cos(lean), along)
    sine = np.sin(np.radians(latitude_deg)) / size
    if abs(sine) >= np.sin(np.radians(85.0)):
        return None
    believed = np.arcsin(sine) - np.arctan2(along, np.cos(lean))
    hour_angle = np.arctan2(-across, np.cos(believed) * np.cos(lean) - np.sin(believed) * along)
    clock_min = hour_angle * ARCMIN_PER_RADIAN / HOUR_ANGLE_ARCMIN_PER_MINUTE
    return float(clock_min), float(np.degrees(believed) - latitude_deg)
