"""The frame of a log's commanded places: how the controller computes them from the sky.

Corrections map that frame to readings, so a target must first be put where the controller has it.
Read `belief.py` first, and `reading/places.py` for what is done to equatorial logs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.aiming.belief import Belief
from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import (
    apparent_places,
    azimuth_altitude,
    catalogue_places,
    places_of_date,
)

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit

_DEG_PER_MINUTE = 0.25  # of sidereal time
_LIFT_STEPS = 5


@dataclass(frozen=True)
class CommandFrame:
    """How commanded places are computed at one moment (POSIX seconds).

    `observer` is the true one, `believed` the controller's, whose longitude stands for its sidereal
    time. `lifts` is how often it adds the air's lift: 0 (left out), 1, or 2 (applied twice).
    `old_equinox`: it takes places of J2000 for those of today.
    """

    observer: Observer
    believed: Observer
    time_s: float
    lifts: int
    old_equinox: bool
    pressure_hpa: float
    temperature_c: float

    def commanded(self, ra_deg: FloatArray, dec_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Azimuth in [0, 360) and altitude where the controller puts places of date (n,)."""
        if self.old_equinox:
            ra_deg, dec_deg = catalogue_places(ra_deg, dec_deg, self.time_s)
        az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, self.time_s, self.believed)
        return az_deg, alt_deg + self.lifts * self._lift_deg(alt_deg)

    def entered(self, az_deg: FloatArray, alt_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Right ascension and declination to give the controller so that it drives there (n,).

        The inverse of its own computing: of date, or of J2000 where it takes those for today's.
        """
        geometric_deg = alt_deg
        for _ in range(_LIFT_STEPS if self.lifts else 0):
            geometric_deg = alt_deg - self.lifts * self._lift_deg(geometric_deg)
        return places_of_date(az_deg, geometric_deg, self.time_s, self.believed)

    def of_date(self, az_deg: FloatArray, alt_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """True place of date of what the controller puts there; undoes `commanded`."""
        ra_deg, dec_deg = self.entered(az_deg, alt_deg)
        if self.old_equinox:
            return apparent_places(ra_deg, dec_deg, self.time_s)
        return ra_deg, dec_deg

    def seen(self, ra_deg: FloatArray, dec_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """True azimuth in [0, 360) and apparent altitude, degrees, of places of date (n,)."""
        az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, self.time_s, self.observer)
        return az_deg, alt_deg + self._lift_deg(alt_deg)

    def _lift_deg(self, alt_deg: FloatArray) -> FloatArray:
        return refraction_lift_arcmin(alt_deg, self.pressure_hpa, self.temperature_c) / 60.0


def command_frame(fit: Fit, time_s: float, belief: Belief) -> CommandFrame | None:
    """Return the frame of a fit's commanded places at a moment; None where the site is unknown."""
    mount = fit.log.mount
    observer = mount.observer
    if observer is None:
        return None
    believed = replace(
        observer,
        latitude_deg=float(np.clip(observer.latitude_deg + belief.latitude_offset_deg, -90, 90)),
        longitude_deg=float(
            wrap_360_deg(observer.longitude_deg + belief.sidereal_offset_min * _DEG_PER_MINUTE)
        ),
    )
    return CommandFrame(
        observer=observer,
        believed=believed,
        time_s=time_s,
        lifts=lifts_of(fit, belief),
        old_equinox=belief.old_equinox,
        pressure_hpa=mount.pressure_hpa,
        temperature_c=mount.temperature_c,
    )


def lifts_of(fit: Fit, belief: Belief) -> int:
    """How often the air's lift is in the places that the fit's stars stand at.

    Once, unless the commanded places show that it is left out, or the fit found that it is left out
    or applied twice. Equatorial places were turned without it where both of a pair are.
    """
    log = fit.log
    if log.commanded_equatorial and log.centred_equatorial:
        return 0
    found = next((t.value for t in fit.term_estimates if t.name == "refraction"), 0.0)
    if belief.lifted is None or found < 0.0:
        return 1 - int(np.sign(found))
    return int(belief.lifted)
