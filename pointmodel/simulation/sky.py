"""Stars for a simulated night: bright ones by name where the site is known, else anywhere.

Rough astronomy, good to about half an arcminute: precession and mean sidereal time; no aberration,
no nutation. Read `night.py` for the options that a sky is drawn from.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.simulation.night import NightOptions

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

J2000_S = 946728000.0
CENTURY_S = 36525.0 * 86400.0


@dataclass(frozen=True)
class Sky:
    """Stars of a night, shapes (n,): where they truly stand and where the controller puts them.

    Both in the frame of commands; they differ where the controller was told a wrong time or site.
    """

    target: tuple[str, ...]
    star_az_deg: FloatArray
    star_alt_deg: FloatArray
    commanded_az_deg: FloatArray
    commanded_alt_deg: FloatArray


@cache
def bright_stars() -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Names, right ascensions and declinations (degrees, J2000) of the bundled bright stars."""
    text = resources.files(__package__).joinpath("bright_stars.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    ra = np.array([float(row["ra_deg"]) for row in rows])
    dec = np.array([float(row["dec_deg"]) for row in rows])
    return tuple(row["name"] for row in rows), ra, dec


def sidereal_time_deg(time_s: FloatArray) -> FloatArray:
    """Greenwich mean sidereal time, degrees, at POSIX seconds (UT1 taken as UTC).

    Meeus, Astronomical Algorithms, 2nd ed., eq. 12.4.
    """
    days = (time_s - J2000_S) / 86400.0
    centuries = days / 36525.0
    turned = 280.46061837 + 360.98564736629 * days + 0.000387933 * centuries**2
    return np.asarray(turned % 360.0)


def of_date_deg(
    ra_deg: FloatArray, dec_deg: FloatArray, time_s: float
) -> tuple[FloatArray, FloatArray]:
    """Mean places of date from J2000 places; Lieske 1977, leading terms of its three angles."""
    centuries = (time_s - J2000_S) / CENTURY_S
    arcsec = np.pi / 648000.0
    zeta = (2306.2181 * centuries + 0.30188 * centuries**2) * arcsec
    z = (2306.2181 * centuries + 1.09468 * centuries**2) * arcsec
    theta = (2004.3109 * centuries - 0.42665 * centuries**2) * arcsec
    ra, dec = np.radians(ra_deg) + zeta, np.radians(dec_deg)
    a = np.cos(dec) * np.sin(ra)
    b = np.cos(theta) * np.cos(dec) * np.cos(ra) - np.sin(theta) * np.sin(dec)
    c = np.sin(theta) * np.cos(dec) * np.cos(ra) + np.cos(theta) * np.sin(dec)
    return np.degrees(np.arctan2(a, b) + z) % 360.0, np.degrees(np.arctan2(c, np.hypot(a, b)))


def horizontal_deg(
    hour_angle_deg: FloatArray, dec_deg: FloatArray, latitude_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Azimuth and altitude, degrees, from hour angle (west positive) and declination."""
    hour, dec, latitude = (np.radians(v) for v in (hour_angle_deg, dec_deg, latitude_deg))
    north = np.sin(dec) * np.cos(latitude) - np.cos(dec) * np.cos(hour) * np.sin(latitude)
    east = -np.cos(dec) * np.sin(hour)
    up = np.sin(dec) * np.sin(latitude) + np.cos(dec) * np.cos(hour) * np.cos(latitude)
    az_deg = np.degrees(np.arctan2(east, north)) % 360.0
    return az_deg, np.degrees(np.arctan2(up, np.hypot(north, east)))


def draw_sky(rng: np.random.Generator, options: NightOptions, time_s: FloatArray) -> Sky:
    """Draw the stars of a night centred at these POSIX seconds.

    Raises `InputError` where site, horizon and altitudes leave no star.
    """
    if options.mount is not None and options.mount.place_deg is not None:
        return _draw_named_sky(rng, options, options.mount, options.mount.place_deg, time_s)
    return _draw_even_sky(rng, options)


def draw_even_places(
    rng: np.random.Generator, number: int, low_alt_deg: float, high_alt_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Azimuths and altitudes even in solid angle between two altitudes, degrees, (number,) each."""
    az_deg = rng.uniform(0.0, 360.0, number)
    low, high = np.sin(np.radians((low_alt_deg, high_alt_deg)))
    return az_deg, np.degrees(np.arcsin(rng.uniform(low, high, number)))


def _draw_even_sky(rng: np.random.Generator, options: NightOptions) -> Sky:
    """Nameless stars even in solid angle over the part of the sky that is open."""
    low, high, n = options.low_alt_deg, options.high_alt_deg, options.pairs
    names = tuple(f"star {k + 1}" for k in range(n))
    az_deg, alt_deg = draw_even_places(rng, n, low, high)
    for _ in range(200):
        hidden = ~_open(options.mount, az_deg, alt_deg)
        if not hidden.any():
            return Sky(names, az_deg, alt_deg, az_deg, alt_deg)
        az_deg[hidden], alt_deg[hidden] = draw_even_places(rng, int(hidden.sum()), low, high)
    raise InputError([_no_star("a horizon that hides nearly all of the sky asked for")])


def _draw_named_sky(
    rng: np.random.Generator,
    options: NightOptions,
    mount: MountFile,
    site_deg: tuple[float, float],
    time_s: FloatArray,
) -> Sky:
    """Bright stars that are up at the site, each used as seldom as can be.

    The controller's places differ from the true ones by its errors of sidereal time and latitude.
    """
    latitude_deg, longitude_deg = site_deg
    factor = float(options.terms.get("refraction", 0.0))
    names, ra_deg, dec_deg = bright_stars()
    ra_deg, dec_deg = of_date_deg(ra_deg, dec_deg, float(time_s[0]))
    hour_deg = (sidereal_time_deg(time_s) + longitude_deg)[:, None] - ra_deg
    error_deg = options.sidereal_error_min / 4.0
    true = horizontal_deg(hour_deg, dec_deg, latitude_deg)
    told = horizontal_deg(hour_deg + error_deg, dec_deg, latitude_deg + options.latitude_error_deg)
    true, told = (_as_commanded(place, factor, mount) for place in (true, told))
    usable = _open(mount, *true)
    usable &= (true[1] >= options.low_alt_deg) & (true[1] <= options.high_alt_deg)
    if not usable.any(axis=1).all():
        raise InputError([_no_star("a moment with no bright star there")])
    pairs, stars = np.arange(time_s.size), _pick(rng.random(usable.shape), usable)
    return Sky(
        tuple(names[k] for k in stars),
        true[0][pairs, stars],
        true[1][pairs, stars],
        told[0][pairs, stars],
        told[1][pairs, stars],
    )


def _as_commanded(
    place: tuple[FloatArray, FloatArray], factor: float, mount: MountFile
) -> tuple[FloatArray, FloatArray]:
    """Places as a controller commands them that leaves the share `factor` of the refraction out."""
    az_deg, alt_deg = place
    lift = refraction_lift_arcmin(alt_deg, mount.pressure_hpa, mount.temperature_c)
    return az_deg, alt_deg + (1.0 - factor) * lift / 60.0


def _pick(keys: FloatArray, usable: NDArray[np.bool_]) -> list[int]:
    """For each pair the usable star used least so far; ties by the drawn key."""
    used = np.zeros(keys.shape[1])
    picked = []
    for key, possible in zip(keys, usable, strict=True):
        star = int(np.argmin(np.where(possible, used + key, np.inf)))
        used[star] += 1.0
        picked.append(star)
    return picked


def _open(mount: MountFile | None, az_deg: FloatArray, alt_deg: FloatArray) -> NDArray[np.bool_]:
    if mount is None or not mount.horizon:
        return np.ones(az_deg.shape, dtype=bool)
    return np.asarray(alt_deg >= mount.open_alt_deg(az_deg))


def _no_star(found: str) -> Problem:
    wanted = "low_alt_deg and high_alt_deg, start and horizon that leave stars to choose from"
    return Problem("simulate", None, "low_alt_deg", found, wanted)
