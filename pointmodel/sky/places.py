"""Places of stars: from the catalogue to the date, and from there to azimuth and altitude.

"Of date" means apparent, true equator and equinox: with precession, nutation, aberration, proper
motion and parallax; not lifted by the air. Shapes broadcast: n stars at n times, or all stars at
each time with `time_s[:, None]`. Time scales and what they leave out: `clock.py`.
"""

from __future__ import annotations

from typing import Any

import erfa
import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import wrap_360_deg, wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.sky.clock import julian_dates, sidereal_time_deg
from pointmodel.sky.observer import Observer

_MAS = np.radians(1.0 / 3.6e6)
_HUMIDITY = 0.5  # hardly matters to light: 0.2″ from dry to damp at 15° altitude
_WAVELENGTH_UM = 0.55


def apparent_places(
    ra_deg: ArrayLike,
    dec_deg: ArrayLike,
    time_s: ArrayLike,
    *,
    pm_ra_mas_yr: ArrayLike = 0.0,
    pm_dec_mas_yr: ArrayLike = 0.0,
    parallax_mas: ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Right ascension in [0, 360) and declination of date, degrees, from ICRS places at J2000.

    `pm_ra_mas_yr` is the motion on the sky, cos(declination) in it. Light deflection by the Sun is
    allowed for; radial velocity is not. IAU 2006/2000A (ERFA apci13, atciq).
    """
    day, _, tt = julian_dates(time_s)
    frame, origins = erfa.apci13(day, tt)
    dec = np.radians(dec_deg)
    ra_from_origin, dec_of_date = erfa.atciq(
        np.radians(ra_deg),
        dec,
        np.asarray(pm_ra_mas_yr) * _MAS / np.cos(dec),
        np.asarray(pm_dec_mas_yr) * _MAS,
        np.asarray(parallax_mas) / 1000.0,
        0.0,
        frame,
    )
    return wrap_360_deg(np.degrees(ra_from_origin - origins)), np.degrees(dec_of_date)


def catalogue_places(
    ra_of_date_deg: ArrayLike, dec_of_date_deg: ArrayLike, time_s: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """ICRS (J2000) right ascension in [0, 360) and declination, degrees, of places of date.

    The inverse of `apparent_places` for a star at rest and far away (ERFA aticq).
    """
    day, _, tt = julian_dates(time_s)
    frame, origins = erfa.apci13(day, tt)
    ra, dec = erfa.aticq(np.radians(ra_of_date_deg) + origins, np.radians(dec_of_date_deg), frame)
    return wrap_360_deg(np.degrees(ra)), np.degrees(dec)


def azimuth_altitude(
    ra_of_date_deg: ArrayLike,
    dec_of_date_deg: ArrayLike,
    time_s: ArrayLike,
    observer: Observer,
    *,
    pressure_hpa: float = 0.0,
    temperature_c: float = 10.0,
) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees, of places of date.

    With `pressure_hpa` (at the station) above 0 the air's lift is in it, as ERFA has it: good above
    5°, a third of the true one at the horizon; else there is none. Diurnal aberration (0.3″) is in.
    ERFA apio, atioq, refco.
    """
    frame = _observed_frame(time_s, observer, pressure_hpa, temperature_c)
    azimuth, zenith_distance, *_ = erfa.atioq(
        np.radians(ra_of_date_deg), np.radians(dec_of_date_deg), frame
    )
    return wrap_360_deg(np.degrees(azimuth)), 90.0 - np.degrees(zenith_distance)


def places_of_date(
    az_deg: ArrayLike,
    alt_deg: ArrayLike,
    time_s: ArrayLike,
    observer: Observer,
    *,
    pressure_hpa: float = 0.0,
    temperature_c: float = 10.0,
) -> tuple[FloatArray, FloatArray]:
    """Right ascension in [0, 360) and declination of date, degrees, of azimuths and altitudes.

    The inverse of `azimuth_altitude` (ERFA atoiq); with air to 0.2″ above 5°, no better than half
    an arcminute below 3°.
    """
    frame = _observed_frame(time_s, observer, pressure_hpa, temperature_c)
    zenith_distance = np.radians(90.0 - np.asarray(alt_deg, dtype=float))
    ra, dec = erfa.atoiq("A", np.radians(az_deg), zenith_distance, frame)
    return wrap_360_deg(np.degrees(ra)), np.degrees(dec)


def _observed_frame(
    time_s: ArrayLike, observer: Observer, pressure_hpa: float, temperature_c: float
) -> Any:
    """ERFA's parameters between places of date and observed ones, one entry a time.

    Sidereal time stands where ERFA takes the Earth rotation angle: right ascensions then count from
    the equinox.
    """
    lift = erfa.refco(pressure_hpa, temperature_c, _HUMIDITY, _WAVELENGTH_UM)
    return erfa.apio(
        0.0,
        np.radians(sidereal_time_deg(time_s)),
        np.radians(observer.longitude_deg),
        np.radians(observer.latitude_deg),
        observer.elevation_m,
        0.0,
        0.0,
        *lift,
    )


def hour_angle_deg(
    ra_of_date_deg: ArrayLike, time_s: ArrayLike, longitude_deg: ArrayLike
) -> FloatArray:
    """Hour angle in (−180, 180] degrees, west positive, of right ascensions of date."""
    local_deg = sidereal_time_deg(time_s) + np.asarray(longitude_deg, dtype=float)
    return wrap_deg(local_deg - np.asarray(ra_of_date_deg, dtype=float))


def horizontal_places(
    hour_angle_deg: ArrayLike, dec_deg: ArrayLike, latitude_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees, by spherical trigonometry alone (ERFA hd2ae)."""
    azimuth, altitude = erfa.hd2ae(*map(np.radians, (hour_angle_deg, dec_deg, latitude_deg)))
    return wrap_360_deg(np.degrees(azimuth)), np.degrees(altitude)


def hour_angles_and_declinations(
    az_deg: ArrayLike, alt_deg: ArrayLike, latitude_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Hour angle in (−180, 180] and declination, degrees: the inverse of `horizontal_places`."""
    hour, dec = erfa.ae2hd(*map(np.radians, (az_deg, alt_deg, latitude_deg)))
    return wrap_deg(np.degrees(hour)), np.degrees(dec)
