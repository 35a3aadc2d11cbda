"""Sun, Moon and planets: their places of date, as seen from the Earth's middle or from a site.

How good (ERFA's own figures; the tests hold them against another library): the Sun to 0.1″; the
Moon within 20″ (moon98, after Meeus chapter 47); the planets by ERFA's short series plan94, whose
largest errors from 1800 to 2100 are, seen from the Sun, Mercury and Venus 7″, Mars 26″, Jupiter
78″, Saturn 87″, Uranus 86″, Neptune 11″. From the Earth Venus's and Mars's can be twice that, close
to us.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple, get_args

import erfa
import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.sky.clock import DAY_S, JulianDates, julian_dates, sidereal_time_deg
from pointmodel.sky.observer import Observer

Planet = Literal["Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"]
Body = Literal["Sun", "Moon"] | Planet
PLANETS: tuple[Planet, ...] = get_args(Planet)
_SERIES = dict(zip(PLANETS, (1, 2, 4, 5, 6, 7, 8), strict=True))  # 3 is Earth with Moon
_LIGHT_DAYS_PER_AU = erfa.AULT / DAY_S
_MEAN_MOON_AU = 384_400e3 / erfa.DAU
_WGS84 = 1


class BodyPlace(NamedTuple):
    """Apparent place of date: right ascension in [0, 360), declination, degrees; distance."""

    ra_deg: FloatArray
    dec_deg: FloatArray
    distance_au: FloatArray


def body_place(body: Body, time_s: ArrayLike, observer: Observer | None = None) -> BodyPlace:
    """Place of date of Sun, Moon or a planet at POSIX seconds of any shape.

    Seen from the site of `observer`, else from the Earth's middle, which for the Moon can be a
    degree off. Light time and annual aberration are in it, light deflection is not.
    """
    dates = julian_dates(time_s)
    if body == "Moon":
        vectors = _moon_au(dates)
    else:
        vectors = _sun_au(dates) if body == "Sun" else _planet_au(_SERIES[body], dates)
        vectors = _aberrated(vectors, dates)
    of_date = erfa.rxp(erfa.pnm06a(dates.day, dates.tt), vectors)
    if observer is not None:
        of_date = of_date - _site_au(observer, time_s)
    ra, dec = erfa.c2s(of_date)
    return BodyPlace(wrap_360_deg(np.degrees(ra)), np.degrees(dec), erfa.pm(of_date))


def sun_place(time_s: ArrayLike, observer: Observer | None = None) -> BodyPlace:
    """Place of date of the Sun; see `body_place`."""
    return body_place("Sun", time_s, observer)


def moon_place(time_s: ArrayLike, observer: Observer | None = None) -> BodyPlace:
    """Place of date of the Moon; see `body_place`."""
    return body_place("Moon", time_s, observer)


def moon_lit_fraction(time_s: ArrayLike) -> FloatArray:
    """Share of the Moon's disc that is lit, 0 to 1, from the Earth's middle.

    Meeus, Astronomical Algorithms, 2nd ed., eqs. 48.1 to 48.3.
    """
    sun, moon = sun_place(time_s), moon_place(time_s)
    apart = erfa.seps(*map(np.radians, (sun.ra_deg, sun.dec_deg, moon.ra_deg, moon.dec_deg)))
    phase_angle = np.arctan2(
        sun.distance_au * np.sin(apart), moon.distance_au - sun.distance_au * np.cos(apart)
    )
    return np.asarray((1.0 + np.cos(phase_angle)) / 2.0)


def _earth(dates: JulianDates) -> tuple[Any, Any]:
    """The Earth from the Sun and from the barycentre: positions `p` and velocities `v`, au, days.

    ERFA's bare routine: its dressed one warns outside 1900 to 2100, where the loss is arcseconds.
    """
    heliocentric, barycentric, _ = erfa.ufunc.epv00(dates.day, dates.tt)
    return heliocentric, barycentric


def _sun_au(dates: JulianDates) -> FloatArray:
    """The Sun from the Earth, (..., 3) astronomical units in GCRS axes, without aberration."""
    heliocentric, _ = _earth(dates)
    return -np.asarray(heliocentric["p"])


def _planet_au(series: int, dates: JulianDates) -> FloatArray:
    """A planet from the Earth as its light arrives, likewise; the Sun's own motion is left out."""
    heliocentric, _ = _earth(dates)
    light_days = np.zeros_like(dates.tt)
    for _ in range(3):
        planet = erfa.plan94(dates.day, dates.tt - light_days, series)["p"]
        vectors = planet - heliocentric["p"]
        light_days = erfa.pm(vectors) * _LIGHT_DAYS_PER_AU
    return np.asarray(vectors)


def _moon_au(dates: JulianDates) -> FloatArray:
    """The Moon from the Earth's middle as its light arrives, likewise.

    Annual aberration hardly touches it: the Moon goes around the Sun with us.
    """
    light_days = _MEAN_MOON_AU * _LIGHT_DAYS_PER_AU
    return np.asarray(erfa.moon98(dates.day, dates.tt - light_days)["p"])


def _aberrated(vectors: FloatArray, dates: JulianDates) -> FloatArray:
    """Vectors (..., 3) displaced by the Earth's motion around the Sun, lengths kept (ERFA ab)."""
    heliocentric, barycentric = _earth(dates)
    velocity = barycentric["v"] * _LIGHT_DAYS_PER_AU
    distance, direction = erfa.pn(vectors)
    slowness = np.sqrt(1.0 - erfa.pdp(velocity, velocity))
    displaced = erfa.ab(direction, velocity, erfa.pm(heliocentric["p"]), slowness)
    return np.asarray(erfa.sxp(distance, displaced))


def _site_au(observer: Observer, time_s: ArrayLike) -> FloatArray:
    """The site from the Earth's middle, (..., 3), axes of date."""
    fixed = erfa.gd2gc(
        _WGS84,
        np.radians(observer.longitude_deg),
        np.radians(observer.latitude_deg),
        observer.elevation_m,
    )
    turned = erfa.rz(-np.radians(sidereal_time_deg(time_s)), np.eye(3))
    return np.asarray(erfa.rxp(turned, fixed) / erfa.DAU)
