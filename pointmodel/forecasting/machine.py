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
    by_term,
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
from pointmodel.mount.term import Circumstances, Where
from pointmodel.mount.terms import N_STANDARD

SUBSTITUTIONS = 4  # each some hundred times closer: further terms change slowly over the sky
SETTLED_DEG = 1e-9  # a few millionths of an arcsecond


@dataclass(frozen=True)
class MountModel:
    """Values (6 + k,) of the six terms and of further columns, with where they are to be applied.

    Values (m, 6 + k) are m mounts posed at once: what is asked at n places then comes as (m, n).
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

    def added_arcmin(self, where: Where, at: Circumstances) -> FloatArray | float:
        """Return what all further terms that act there add (n,)."""
        added: FloatArray | float = 0.0
        for value, column in zip(self.terms[N_STANDARD:], self.columns, strict=True):
            if column.term.acts == where and np.any(value):
                added = added + value * column.shape_at(at)
        return added

    @property
    def terms(self) -> FloatArray:
        """The values, term by term, to go with places: (6 + k,), or (6 + k, m, 1)."""
        return by_term(self.values)


def readings_for(
    model: MountModel, star_az_deg: FloatArray, star_alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the readings (..., n) in degrees that centre stars (n,), and whether any exist.

    Terms on the axis readings depend on the reading sought: a few substitutions settle them.
    """
    terms = model.terms
    at = model.circumstances(star_az_deg, star_alt_deg, star_alt_deg, star_az_deg)
    star_alt = np.radians(star_alt_deg + model.added_arcmin("star_altitude", at) / 60.0)
    az_axis, alt_axis, reachable = axes_from_sky(
        directions(np.radians(star_az_deg), star_alt), geometry_from_arcmin(*terms[2:6])
    )
    base = np.stack([np.degrees(az_axis) + terms[0] / 60.0, np.degrees(alt_axis) + terms[1] / 60.0])
    az_deg, alt_deg = found = base
    for _ in range(SUBSTITUTIONS if np.any(terms[N_STANDARD:]) else 0):
        at = model.circumstances(az_deg, alt_deg, star_alt_deg, base[0])
        before, found = found, base.copy()
        found[0] += model.added_arcmin("azimuth_axis", at) / 60.0
        found[1] += model.added_arcmin("altitude_axis", at) / 60.0
        az_deg, alt_deg = found
        if np.abs(found - before).max(initial=0.0) < SETTLED_DEG:
            break
    if has_readout_tilts(model.columns):
        tilts = -terms[N_STANDARD : N_STANDARD + 2]
        turned = turned_readings(np.radians(az_deg), np.radians(alt_deg), tilts)
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
        vectors = sky_from_axes(
            az - (model.values[0] + model.added_arcmin("azimuth_axis", at)) / ARCMIN_PER_RADIAN,
            alt - (model.values[1] + model.added_arcmin("altitude_axis", at)) / ARCMIN_PER_RADIAN,
            geometry_from_arcmin(*model.values[2:6]),
        )
        sky_az, sky_alt = azimuth_altitude(vectors)
        star_alt_deg = np.degrees(sky_alt) - model.added_arcmin("star_altitude", at) / 60.0
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
