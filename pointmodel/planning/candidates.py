"""The stars that may be asked for: bright, alone, neither low nor near the zenith, off the Sun.

Read `sunguard.py` and `sky/stars.py` first. A `Scene` is the sky over one site at one moment; the
candidates are picked from it. Places are where a star is seen: lifted by the air.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.mountfile import MountFile
from pointmodel.sky.bodies import Body, Planet, body_place
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import apparent_places, azimuth_altitude
from pointmodel.sky.stars import StarTable, star_table
from pointmodel.sky.sunguard import Sun, sun_at, sun_separation_deg, too_near_sun

FAINTEST, FAINT, BRIGHT = 3.5, 3.0, 2.5  # magnitudes
LOWEST_DEG, LOWER_DEG, LOW_DEG, HIGH_DEG, HIGHEST_DEG = 10.0, 15.0, 20.0, 75.0, 80.0
CONFUSABLE_WITHIN_DEG, CONFUSABLE_MAGNITUDES = 6.0, 1.0
CONFUSED_AS_MAGNITUDES = 3.0  # as hard to find, by that much, as a fainter star
ONE_STAR_WITHIN_DEG = 0.1  # closer than that the eye sees one star
NEAR_MOON_DEG = 6.0
SESSION_S, SESSION_STEP_S = 2700.0, 900.0  # a star should stay in the open that long
NAKED_EYE_PLANETS: tuple[Planet, ...] = ("Mercury", "Venus", "Mars", "Jupiter", "Saturn")

# By how much a star must better the mean square miss to be asked for in spite of a shortcoming; the
# square root of it is its cost in miss.
HANDICAPS = {
    "confusable": 1.20,
    "nameless": 1.06,
    "faint": 1.15,
    "fainter": 1.3,
    "low": 1.4,
    "lower": 2.0,
    "high": 1.4,
    "sets": 1.2,
    "moon": 1.1,
}
A_MAGNITUDE = 1.015  # likewise for each magnitude that a star is fainter than 0


@dataclass(frozen=True)
class Confusable:
    """A star or planet that might be centred by mistake: how far, and which way as one faces it.

    `up_deg` and `right_deg` are how far above and to the right it stands.
    """

    target: str
    separation_deg: float
    up_deg: float
    right_deg: float


@dataclass(frozen=True, eq=False)
class Scene:
    """Stars (n,), brightest first, and planets over a site at a moment, as they are seen; degrees.

    `row` are the stars' rows in `star_table`. The Moon's place is a direction like the others.
    """

    mount: MountFile
    time_s: float
    sun: Sun
    row: NDArray[np.intp]
    az_deg: FloatArray
    alt_deg: FloatArray
    magnitude: FloatArray
    planets: tuple[tuple[str, float, float], ...]
    moon: tuple[float, float]

    @property
    def table(self) -> StarTable:
        """The table that `row` counts in."""
        return star_table()

    def label(self, star: int) -> str:
        """What a person calls the star."""
        return str(self.table.label[self.row[star]])


def scene(mount: MountFile, observer: Observer, time_s: float) -> Scene:
    """Return the sky over a site, at POSIX seconds; the mount's weather lifts it."""
    held = _naked_eye_stars()
    az_deg, alt_deg = star_directions(held, mount, observer, time_s)
    sun = sun_at(mount.observer, time_s)
    assert sun is not None  # the site is known
    up = alt_deg > 0.0
    planets = []
    for planet in NAKED_EYE_PLANETS:
        az, alt = _body_direction(planet, mount, observer, time_s)
        if alt > 0.0:
            planets.append((planet, az, alt))
    return Scene(
        mount=mount,
        time_s=time_s,
        sun=sun,
        row=held[up],
        az_deg=az_deg[up],
        alt_deg=alt_deg[up],
        magnitude=star_table().magnitude[held[up]],
        planets=tuple(planets),
        moon=_body_direction("Moon", mount, observer, time_s),
    )


@cache
def _naked_eye_stars() -> NDArray[np.intp]:
    """Rows of stars that may be asked for or be taken for one of those, brightest first.

    Of stars so close that the eye sees one, the brightest stands for all.
    """
    table = star_table()
    rows = np.flatnonzero(table.magnitude <= FAINTEST + CONFUSABLE_MAGNITUDES)
    rows = rows[np.argsort(table.magnitude[rows], kind="stable")]
    at = direction_vectors(table.ra_deg[rows], table.dec_deg[rows])
    close = np.tril(at @ at.T > np.cos(np.radians(ONE_STAR_WITHIN_DEG)), -1)
    return np.asarray(rows[~close.any(axis=1)])


def star_directions(
    rows: NDArray[np.intp], mount: MountFile, observer: Observer, time_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and altitudes (n,), degrees, at which rows of `star_table` are seen."""
    table = star_table()
    ra_deg, dec_deg = apparent_places(
        table.ra_deg[rows],
        table.dec_deg[rows],
        time_s,
        pm_ra_mas_yr=table.pm_ra_mas_yr[rows],
        pm_dec_mas_yr=table.pm_dec_mas_yr[rows],
    )
    az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, time_s, observer)
    return az_deg, _lifted(alt_deg, mount)


def _lifted(alt_deg: FloatArray, mount: MountFile) -> FloatArray:
    lift = refraction_lift_arcmin(alt_deg, mount.pressure_hpa, mount.temperature_c)
    return np.asarray(alt_deg + lift / 60.0)


def _body_direction(
    body: Body, mount: MountFile, observer: Observer, time_s: float
) -> tuple[float, float]:
    place = body_place(body, time_s, observer)
    az_deg, alt_deg = azimuth_altitude(place.ra_deg, place.dec_deg, time_s, observer)
    return float(az_deg), float(_lifted(alt_deg, mount))


@dataclass(frozen=True, eq=False)
class Candidates:
    """The stars (k,) of a scene that may be asked for; `star` are indices into the scene.

    `handicap` is the product of each star's `HANDICAPS`; `easy` are those without any; `stays`
    those that stay in the open while others are centred.
    """

    star: NDArray[np.intp]
    az_deg: FloatArray
    alt_deg: FloatArray
    magnitude: FloatArray
    sun_separation_deg: FloatArray
    confusable: tuple[tuple[Confusable, ...], ...]
    handicap: FloatArray
    easy: BoolArray
    stays: BoolArray

    @property
    def hard_to_find(self) -> FloatArray:
        """How hard each star is to find (k,): its magnitude, more where it can be confused."""
        confused = np.array([bool(found) for found in self.confusable], dtype=bool)
        return np.asarray(self.magnitude + CONFUSED_AS_MAGNITUDES * confused)


def candidates(sky: Scene) -> Candidates:
    """Return the stars of a scene that may be asked for."""
    open_alt = sky.mount.open_alt_deg(sky.az_deg)
    usable = (sky.magnitude <= FAINTEST) & (sky.alt_deg >= np.maximum(open_alt, LOWEST_DEG))
    usable &= sky.alt_deg <= HIGHEST_DEG
    usable &= ~too_near_sun(sky.sun, sky.az_deg, sky.alt_deg)
    star = np.flatnonzero(usable)
    az_deg, alt_deg, magnitude = sky.az_deg[star], sky.alt_deg[star], sky.magnitude[star]
    confusable = confusables(sky, star)
    stays = _stays_open(sky, star)
    near_moon = _separation_deg(*sky.moon, az_deg, alt_deg) < NEAR_MOON_DEG
    handicap = A_MAGNITUDE ** np.maximum(magnitude, 0.0)
    easy = np.ones(star.size, dtype=bool)
    for shortcoming, which in (
        ("confusable", np.array([bool(found) for found in confusable], dtype=bool)),
        ("nameless", np.array([not sky.table.name[sky.row[k]] for k in star], dtype=bool)),
        ("faint", (magnitude > BRIGHT) & (magnitude <= FAINT)),
        ("fainter", magnitude > FAINT),
        ("low", (alt_deg < LOW_DEG) & (alt_deg >= LOWER_DEG)),
        ("lower", alt_deg < LOWER_DEG),
        ("high", alt_deg > HIGH_DEG),
        ("sets", ~stays),
        ("moon", near_moon),
    ):
        handicap[which] *= HANDICAPS[shortcoming]
        easy &= ~which
    return Candidates(
        star=star,
        az_deg=az_deg,
        alt_deg=alt_deg,
        magnitude=magnitude,
        sun_separation_deg=sun_separation_deg(sky.sun, az_deg, alt_deg),
        confusable=confusable,
        handicap=handicap,
        easy=easy,
        stays=stays,
    )


def _stays_open(sky: Scene, star: NDArray[np.intp]) -> BoolArray:
    """Return which stars (k,) stay in the open, and off the zenith, while the others are centred.

    By the diurnal turn alone, which is a rotation about the pole.
    """
    assert sky.mount.place_deg is not None
    pole = direction_vectors(0.0, sky.mount.place_deg[0])
    at = direction_vectors(sky.az_deg[star], sky.alt_deg[star])
    along = (at @ pole)[:, None] * pole
    across = np.cross(pole, at)  # the way the sky turns: east of south goes up
    stays = np.ones(star.size, dtype=bool)
    for later_s in np.arange(SESSION_STEP_S, SESSION_S + 1.0, SESSION_STEP_S):
        turn = np.radians(later_s * 15.041 / 3600.0)
        moved = along + (at - along) * np.cos(turn) + across * np.sin(turn)
        az_deg = np.mod(np.degrees(np.arctan2(moved[:, 1], moved[:, 0])), 360.0)
        alt_deg = np.degrees(np.arcsin(np.clip(moved[:, 2], -1.0, 1.0)))
        floor = np.maximum(sky.mount.open_alt_deg(az_deg), LOWEST_DEG)
        stays &= (alt_deg >= floor) & (alt_deg <= HIGHEST_DEG)
    return stays


def confusables(sky: Scene, star: NDArray[np.intp]) -> tuple[tuple[Confusable, ...], ...]:
    """Return for each star (k,) of a scene what might be taken for it, nearest first.

    That is whatever is near and about as bright or brighter; planets that the naked eye sees always
    count as bright.
    """
    planet_az, planet_alt = (np.array([p[i] for p in sky.planets], dtype=float) for i in (1, 2))
    az_deg = np.concatenate([sky.az_deg, planet_az])
    alt_deg = np.concatenate([sky.alt_deg, planet_alt])
    magnitude = np.concatenate([sky.magnitude, np.full(planet_az.size, -np.inf)])
    apart = _separation_deg(az_deg[star, None], alt_deg[star, None], az_deg, alt_deg)
    rivals = apart < CONFUSABLE_WITHIN_DEG
    rivals &= magnitude <= magnitude[star, None] + CONFUSABLE_MAGNITUDES
    rivals[np.arange(star.size), star] = False
    found: list[list[Confusable]] = [[] for _ in range(star.size)]
    for k, other in np.argwhere(rivals):
        turn = (az_deg[other] - az_deg[star[k]] + 180.0) % 360.0 - 180.0
        middle = np.radians(0.5 * (alt_deg[other] + alt_deg[star[k]]))
        stars = sky.az_deg.size
        found[k].append(
            Confusable(
                sky.label(other) if other < stars else sky.planets[other - stars][0],
                float(apart[k, other]),
                float(alt_deg[other] - alt_deg[star[k]]),
                float(turn * np.cos(middle)),
            )
        )
    return tuple(tuple(sorted(one, key=lambda other: other.separation_deg)) for one in found)


def _separation_deg(
    az_deg: FloatArray | float,
    alt_deg: FloatArray | float,
    other_az: FloatArray | float,
    other_alt: FloatArray | float,
) -> FloatArray:
    """Return separations by the chord, good to a thousandth of a degree."""
    one = direction_vectors(az_deg, alt_deg)
    chord = np.linalg.norm(direction_vectors(other_az, other_alt) - one, axis=-1)
    return np.asarray(np.degrees(2.0 * np.arcsin(np.minimum(0.5 * chord, 1.0))))
