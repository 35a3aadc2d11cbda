"""Small steps on the sky, seen from behind the tube: so much to the right, so much up.

A step is counted in the frame whose middle is where the tube looks: longitude to the right (toward
growing azimuth), latitude up (toward the zenith). Azimuth and altitude of what stands there follow
by turning that frame up by the tube's altitude, then round by its azimuth.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import wrap_360_deg, wrap_deg
from pointmodel.base.arrays import FloatArray


def step_on_sky_deg(
    from_az_deg: ArrayLike, from_alt_deg: ArrayLike, to_az_deg: ArrayLike, to_alt_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Where a place stands, seen from where the tube looks: right in (−180, 180], up, degrees (n,).

    Any two directions have such a step. It is the place's longitude and latitude in the frame
    described above (rotation of axes: Meeus, Astronomical Algorithms, chapter 13, with the tube's
    altitude in place of the latitude's complement).
    """
    turn = np.radians(np.asarray(to_az_deg, dtype=float) - np.asarray(from_az_deg, dtype=float))
    tube, place = np.radians(from_alt_deg), np.radians(to_alt_deg)
    level = np.cos(place) * np.cos(turn)
    forward = level * np.cos(tube) + np.sin(place) * np.sin(tube)
    right = np.cos(place) * np.sin(turn)
    up = np.sin(place) * np.cos(tube) - level * np.sin(tube)
    return wrap_deg(np.degrees(np.arctan2(right, forward))), np.degrees(
        np.arctan2(up, np.hypot(right, forward))
    )


def before_step_deg(
    az_deg: ArrayLike, alt_deg: ArrayLike, right_deg: ArrayLike, up_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude from which a step ends on a place, degrees (n,).

    The inverse of `step_on_sky_deg` in its first two arguments. In the frame of the tube the place
    is (cos u cos r, cos u sin r, sin u); turned up by the tube's altitude h its height is
    sin alt = sin u cos h + cos u cos r sin h = R sin(h + φ), with R and φ the length and the angle
    of (cos u cos r, sin u). nan where no direction does it: near the zenith only a short way can be
    gone to the right (cos u sin r reaches cos alt at most).
    """
    right, up, height = np.radians(right_deg), np.radians(up_deg), np.radians(alt_deg)
    forward, across, above = np.cos(up) * np.cos(right), np.cos(up) * np.sin(right), np.sin(up)
    sine = np.sin(height) / np.hypot(forward, above)
    possible = np.abs(sine) <= 1.0
    tube = np.arcsin(np.where(possible, sine, 0.0)) - np.arctan2(above, forward)
    level = forward * np.cos(tube) - above * np.sin(tube)
    beyond = np.where(
        np.cos(height) < 0.0, 180.0, 0.0
    )  # an altitude above 90° is across the zenith
    az = np.asarray(az_deg, dtype=float) + beyond - np.degrees(np.arctan2(across, level))
    return (
        np.where(possible, wrap_360_deg(az), np.nan),
        np.where(possible, np.degrees(tube), np.nan),
    )
