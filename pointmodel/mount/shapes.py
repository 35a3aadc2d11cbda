"""What one unit of a term adds at each pair (n,): arcminutes of an axis, or of the star."""

from __future__ import annotations

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.mount.term import Circumstances, refraction_lift_arcmin


def everywhere_one(at: Circumstances) -> FloatArray:
    """The same at every star."""
    return np.ones_like(at.reading_az_deg)


def cosine_of_altitude(at: Circumstances) -> FloatArray:
    """A tube that sags does so by the cosine of its altitude."""
    return np.asarray(np.cos(np.radians(at.star_alt_deg)))


def lift(at: Circumstances) -> FloatArray:
    """The lift of the air at the star."""
    return refraction_lift_arcmin(at.star_alt_deg, at.pressure_hpa, at.temperature_c)


def lift_applied_twice(at: Circumstances) -> FloatArray:
    """The lift where the controller applied it twice: its place is not the true one.

    The commanded altitude then stands two lifts too high, so the lift is taken from there.
    """
    true_alt_deg = at.star_alt_deg - 2.0 * lift(at) / 60.0
    return refraction_lift_arcmin(true_alt_deg, at.pressure_hpa, at.temperature_c)


def azimuth_from_origin(at: Circumstances) -> FloatArray:
    """Degrees from where the count is zero, the way round that the star asks for."""
    expected = wrap_deg(at.expected_az_deg - at.azimuth_origin_deg)
    return np.asarray(expected + wrap_deg(at.reading_az_deg - at.expected_az_deg))


def altitude(at: Circumstances) -> FloatArray:
    """The altitude reading, degrees: a gear that counts wrong grows with it."""
    return at.reading_alt_deg


def sine_of_azimuth(at: Circumstances) -> FloatArray:
    """Once a turn, in sine."""
    return np.asarray(np.sin(np.radians(at.reading_az_deg)))


def cosine_of_azimuth(at: Circumstances) -> FloatArray:
    """Once a turn, in cosine."""
    return np.asarray(np.cos(np.radians(at.reading_az_deg)))


def half_azimuth_motion(at: Circumstances) -> FloatArray:
    """Half the slack either way of the middle, by the last motion in azimuth."""
    return 0.5 * at.az_motion


def half_altitude_motion(at: Circumstances) -> FloatArray:
    """Half the slack either way of the middle, by the last motion in altitude."""
    return 0.5 * at.alt_motion


def hours(at: Circumstances) -> FloatArray:
    """Time since the first pair."""
    return at.hours
