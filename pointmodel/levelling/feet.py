"""How far each foot must rise so that the azimuth axis stands upright.

An axis that leans toward azimuth τ by T stands upright once the feet on that side are raised: a
foot at azimuth θ and radius r by r · tan T · cos(θ − τ), up to one amount common to all feet. This
is exact for screws parallel to the azimuth axis: their ends then lie in a plane that leans as the
ground does (a plane through the feet; derived here). Only the rise counts, not how much longer a
sloping leg is made.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import NORMAL_95
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.reading.mountfile import Feet

HAND_TURNS = 0.125  # screws are set to the nearest eighth of a turn,
HAND_MM = 0.2  # or, where their pitch is unknown, to the nearest fifth of a millimetre
ROUGH_MM = 2.0  # legs that slide, or plates put under a foot, end within so much: a choice
HAND_SEED = 12


@dataclass(frozen=True)
class FootOrder:
    """What to do at one foot: rises, negative to lower it, by each of three ways to the same end.

    Millimetres at the foot, and turns of its screw (None where the pitch is unknown). The
    uncertainty is half the 95 % range of the foot's rise about the middle of the base.
    """

    azimuth_deg: float
    raise_only_mm: float
    lower_only_mm: float
    least_travel_mm: float
    uncertainty_mm: float
    raise_only_turns: float | None
    lower_only_turns: float | None
    least_travel_turns: float | None
    uncertainty_turns: float | None


def rises_mm(
    radius_mm: float,
    azimuths_deg: FloatArray,
    tilt_north_arcmin: FloatArray | float,
    tilt_east_arcmin: FloatArray | float,
) -> FloatArray:
    """Return the rises (..., f) of feet at azimuths (f,), the middle of the base staying put.

    The tilts (...) say where the azimuth axis leans. Any lean below 90°.
    """
    north = np.asarray(tilt_north_arcmin, dtype=float)[..., None] / ARCMIN_PER_RADIAN
    east = np.asarray(tilt_east_arcmin, dtype=float)[..., None] / ARCMIN_PER_RADIAN
    lean = np.hypot(north, east)
    # tan T / T, which is 1 where nothing leans
    stretch = np.tan(lean) / np.where(lean > 0.0, lean, 1.0)
    stretch = np.where(lean > 0.0, stretch, 1.0)
    foot = np.radians(azimuths_deg)
    return np.asarray(radius_mm * stretch * (north * np.cos(foot) + east * np.sin(foot)))


def foot_orders(
    feet: Feet, lean_arcmin: FloatArray, deviation_arcmin: FloatArray
) -> tuple[FootOrder, ...]:
    """Return the orders for a lean (2,), north and east, whose error is drawn: (d, 2)."""
    azimuths = np.asarray(feet.azimuths_deg, dtype=float)
    rise = rises_mm(feet.radius_mm, azimuths, *lean_arcmin)
    drawn = rises_mm(feet.radius_mm, azimuths, *(lean_arcmin + deviation_arcmin).T)
    error = NORMAL_95 * np.sqrt(np.mean((drawn - rise) ** 2, axis=0))
    ways = np.stack([rise - rise.min(), rise - rise.max(), rise - np.median(rise), error])
    pitch = feet.screw_pitch_mm
    return tuple(
        FootOrder(
            float(azimuths[k]),
            *(float(way) for way in ways[:, k]),
            *(None if pitch is None else float(way) / pitch for way in ways[:, k]),
        )
        for k in range(azimuths.size)
    )


def hand_step_mm(feet: Feet, by_screws: bool = True) -> float:
    """Return how finely a hand is taken to set a foot, millimetres; without screws, roughly."""
    if not by_screws:
        return ROUGH_MM
    return HAND_MM if feet.screw_pitch_mm is None else HAND_TURNS * feet.screw_pitch_mm


def hand_errors_arcmin(feet: Feet, count: int, by_screws: bool = True) -> FloatArray:
    """Return leans (count, 2), arcminutes, that come of setting each foot to a hand's step.

    A plane by least squares through the feet's errors, each even within half a step; the same at
    every call.
    """
    foot = np.radians(feet.azimuths_deg)
    plane = np.stack([np.ones_like(foot), *(feet.radius_mm * f(foot) for f in (np.cos, np.sin))], 1)
    slopes = np.linalg.pinv(plane)[1:]
    errors = hand_step_mm(feet, by_screws) * _even(count, foot.size)
    return np.asarray(errors @ slopes.T * ARCMIN_PER_RADIAN)


@cache
def _even(rows: int, columns: int) -> FloatArray:
    return np.random.default_rng(HAND_SEED).uniform(-0.5, 0.5, (rows, columns))
