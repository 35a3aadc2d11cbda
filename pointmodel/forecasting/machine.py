"""The fitted mount as a machine: where to send it, and where it then points.

Read `kinematics.py` first. A `MountModel` holds numbers only: values of all columns, and the
circumstances (end of the log, side of approach, air) in which they are to be applied.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.estimate.observations import (
    Column,
    LinearProblem,
    Observations,
    column_shapes,
    has_readout_tilts,
    linear_problem,
)
from pointmodel.estimate.rounding import no_rounding
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    sky_from_axes,
    turned_readings,
)
from pointmodel.mount.term import Circumstances
from pointmodel.mount.terms import N_STANDARD

SUBSTITUTIONS = 4  # each some hundred times closer: further terms change slowly over the sky


@dataclass(frozen=True)
class MountModel:
    """Values (6 + k,) of the six terms and of further columns, with where they are to be applied.

    Motions say from which side each axis comes to rest: +1 clockwise or up, 0 not known.
    """

    values: FloatArray
    columns: tuple[Column, ...]
    az_motion: float = 0.0
    alt_motion: float = 0.0
    hours: float = 0.0
    azimuth_origin_deg: float = 0.0
    pressure_hpa: float = 1010.0
    temperature_c: float = 10.0

    def with_values(self, values: FloatArray) -> MountModel:
        """Return the same mount with other values."""
        return replace(self, values=values)

    def circumstances(
        self,
        az_deg: FloatArray,
        alt_deg: FloatArray,
        star_alt_deg: FloatArray,
        expected_az_deg: FloatArray,
    ) -> Circumstances:
        """Return what shapes of terms look at, for readings and star altitudes of shape (n,)."""
        one = np.ones_like(az_deg)
        return Circumstances(
            reading_az_deg=az_deg,
            reading_alt_deg=alt_deg,
            star_alt_deg=star_alt_deg,
            az_motion=self.az_motion * one,
            alt_motion=self.alt_motion * one,
            hours=self.hours * one,
            expected_az_deg=expected_az_deg,
            azimuth_origin_deg=self.azimuth_origin_deg,
            pressure_hpa=self.pressure_hpa,
            temperature_c=self.temperature_c,
        )


def readings_for(
    model: MountModel, star_az_deg: FloatArray, star_alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the readings (n,) in degrees that centre the stars (n,), and whether any exist.

    Terms on the axis readings depend on the reading sought: a few substitutions settle them.
    """
    further = model.values[N_STANDARD:]
    at = model.circumstances(star_az_deg, star_alt_deg, star_alt_deg, star_az_deg)
    star_alt = np.radians(star_alt_deg)
    if further.size:
        star_alt = star_alt + column_shapes(model.columns, at)[2] @ further / ARCMIN_PER_RADIAN
    az_axis, alt_axis, reachable = axes_from_sky(
        directions(np.radians(star_az_deg), star_alt), geometry_from_arcmin(*model.values[2:6])
    )
    az_deg = np.degrees(az_axis) + model.values[0] / 60.0
    alt_deg = np.degrees(alt_axis) + model.values[1] / 60.0
    base_az_deg, base_alt_deg = az_deg, alt_deg
    for _ in range(SUBSTITUTIONS if further.size else 0):
        at = model.circumstances(az_deg, alt_deg, star_alt_deg, base_az_deg)
        az_shape, alt_shape, _ = column_shapes(model.columns, at)
        az_deg = base_az_deg + az_shape @ further / 60.0
        alt_deg = base_alt_deg + alt_shape @ further / 60.0
    if has_readout_tilts(model.columns):
        turned = turned_readings(np.radians(az_deg), np.radians(alt_deg), -further[:2])
        az_deg, alt_deg = np.degrees(turned.az), np.degrees(turned.alt)
    return np.mod(az_deg, 360.0), alt_deg, reachable


def pointing_at(
    model: MountModel, reading_az_deg: FloatArray, reading_alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where the mount points at these readings (n,): azimuth in [0, 360), altitude, degrees.

    The inverse of `readings_for`, in the frame of the stars of the log. What acts on the altitude
    of the star depends on the altitude sought: a few substitutions settle it.
    """
    further = model.values[N_STANDARD:]
    az, alt = np.radians(reading_az_deg), np.radians(reading_alt_deg)
    if has_readout_tilts(model.columns):
        turned = turned_readings(az, alt, further[:2])
        az, alt = turned.az, turned.alt
    star_alt_deg = reading_alt_deg
    for _ in range(SUBSTITUTIONS if further.size else 1):
        at = model.circumstances(reading_az_deg, reading_alt_deg, star_alt_deg, reading_az_deg)
        az_shape, alt_shape, star_shape = column_shapes(model.columns, at)
        vectors = sky_from_axes(
            az - (model.values[0] + az_shape @ further) / ARCMIN_PER_RADIAN,
            alt - (model.values[1] + alt_shape @ further) / ARCMIN_PER_RADIAN,
            geometry_from_arcmin(*model.values[2:6]),
        )
        sky_az, sky_alt = azimuth_altitude(vectors)
        star_alt_deg = np.degrees(sky_alt - star_shape @ further / ARCMIN_PER_RADIAN)
    return np.degrees(sky_az), star_alt_deg


def linearised_at(
    model: MountModel,
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
) -> LinearProblem:
    """Return where the mount points at these readings: misses from the stars, with the design."""
    at = model.circumstances(reading_az_deg, reading_alt_deg, star_alt_deg, reading_az_deg)
    az_shape, alt_shape, star_shape = column_shapes(model.columns, at)
    obs = Observations(
        star_az=np.radians(star_az_deg),
        star_alt=np.radians(star_alt_deg),
        reading_az=np.radians(reading_az_deg),
        reading_alt=np.radians(reading_alt_deg),
        columns=model.columns,
        az_shape=az_shape,
        alt_shape=alt_shape,
        star_shape=star_shape,
        additions=(),
        rounding=no_rounding(star_az_deg.size),
    )
    return linear_problem(obs, model.values)
