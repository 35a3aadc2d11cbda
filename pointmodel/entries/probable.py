"""Which star it was: the one that stands where a named one should have been.

Brightness counts beside distance: a bright star near the place is likelier than a faint one on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import erfa
import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.base.compass import COMPASS
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import catalogue_places, places_of_date
from pointmodel.sky.stars import star_table
from pointmodel.sky.targets import Target, look_up, star_target, target_places

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

USUAL_RADIUS_ARCMIN = 45.0  # a choice: what a mount sends and centres amiss by, and to spare
FAINTEST = 4.5  # magnitude: what the eye sees under most skies, and the catalogue holds whole
CATALOGUE_ARCMIN = 10.0  # proper motion since 2000, and to spare
# about the mean opposition (of Mercury and Venus the elongation): the handbook values, from memory
PLANET_MAGNITUDE = {"Mercury": 0.0, "Venus": -4.0, "Mars": 0.7, "Jupiter": -2.2, "Saturn": 0.7}
_SIMILAR = 0.75  # magnitudes, a factor of two: a choice


@dataclass(frozen=True)
class ProbableStar:
    """A star found near a place: which one, how far from it, arcminutes, and its place of date."""

    target: Target
    off_arcmin: float
    ra_deg: float
    dec_deg: float

    def seen_from(self, named: Target | None, time_s: float, observer: Observer) -> str:
        """Where it stands from the star that was named: `4.2° east, similar brightness`."""
        if named is None:
            return ""
        ra_deg, dec_deg = target_places([named], time_s, observer)
        to = (np.radians(part) for part in (ra_deg[0], dec_deg[0], self.ra_deg, self.dec_deg))
        from_ra, from_dec, ra, dec = to
        apart_deg = float(np.degrees(erfa.seps(from_ra, from_dec, ra, dec)))
        angle_deg = float(np.degrees(erfa.pas(from_ra, from_dec, ra, dec))) % 360.0
        where = f"{apart_deg:.1f}° {COMPASS[round(angle_deg / 45.0) % 8]}"
        brightness = _brightness(self.target, named)
        return f"{where}, {brightness}" if brightness else where


def probable_star(
    ra_deg: float,
    dec_deg: float,
    time_s: float,
    observer: Observer,
    named: Target | None = None,
    *,
    radius_arcmin: float = USUAL_RADIUS_ARCMIN,
) -> ProbableStar | None:
    """The star or planet that probably was at a place of date; None where none is near enough.

    Score: distance in units of a third of the radius, brightness in magnitudes.
    """
    targets = _near_in_catalogue(ra_deg, dec_deg, time_s, radius_arcmin)
    targets = [target for target in targets if named is None or target.name != named.name]
    if not targets:
        return None
    ra, dec = target_places(targets, time_s, observer)
    there = direction_vectors(ra, dec) @ direction_vectors(ra_deg, dec_deg)
    off_arcmin = np.degrees(np.arccos(np.clip(there, -1.0, 1.0))) * 60.0
    near = np.flatnonzero(off_arcmin < radius_arcmin)
    if not near.size:
        return None
    magnitude = np.array([_magnitude(targets[k]) for k in near.tolist()])
    k = int(near[np.argmin((3.0 * off_arcmin[near] / radius_arcmin) ** 2 + magnitude)])
    return ProbableStar(
        target=targets[k],
        off_arcmin=float(off_arcmin[k]),
        ra_deg=float(ra[k]),
        dec_deg=float(dec[k]),
    )


def probable_star_words(
    az_deg: float, alt_deg: float, named: Target | None, time_s: float, mount: MountFile
) -> str | None:
    """The star near a true direction (geometric: no air), and where it stands from the named one.

    `Hadar, 4.4° west, similar brightness`; directions are those of the sky (north is toward the
    celestial pole). None where the site is unknown or no star stands near.
    """
    observer = mount.observer
    if observer is None:
        return None
    ra_deg, dec_deg = places_of_date(az_deg, alt_deg, time_s, observer)
    found = probable_star(float(ra_deg), float(dec_deg), time_s, observer, named)
    if found is None:
        return None
    where = found.seen_from(named, time_s, observer)
    return f"{found.target.name}, {where}" if where else found.target.name


def _near_in_catalogue(
    ra_deg: float, dec_deg: float, time_s: float, radius_arcmin: float
) -> list[Target]:
    """Stars about a place of date, by their catalogue places, and all planets."""
    table = star_table()
    here = direction_vectors(*catalogue_places(ra_deg, dec_deg, time_s))
    reach = np.cos(np.radians((radius_arcmin + CATALOGUE_ARCMIN) / 60.0))
    near = direction_vectors(table.ra_deg, table.dec_deg) @ here > reach
    near &= table.magnitude <= FAINTEST
    planets = (look_up(name) for name in PLANET_MAGNITUDE)
    stars = [star_target(row) for row in np.flatnonzero(near).tolist()]
    return [*stars, *(planet for planet in planets if planet is not None)]


def _magnitude(target: Target) -> float:
    if target.magnitude is not None:
        return target.magnitude
    return PLANET_MAGNITUDE.get(target.name, 5.0)


def _brightness(found: Target, named: Target) -> str:
    if named.magnitude is None and named.name not in PLANET_MAGNITUDE:
        return ""
    difference = _magnitude(found) - _magnitude(named)
    if abs(difference) <= _SIMILAR:
        return "similar brightness"
    return "fainter" if difference > 0 else "brighter"


def place_held(
    commanded: FloatArray, offset_min: float, latitude_deg: float, sidereal_deg: float
) -> tuple[float, float]:
    """Place of date, degrees, that a controller with these beliefs has in a direction (3,)."""
    north, east, up = commanded
    altitude = np.arctan2(up, np.hypot(north, east))
    hour, dec = erfa.ae2hd(np.arctan2(east, north), altitude, np.radians(latitude_deg))
    ra_deg = sidereal_deg + offset_min / 4.0 - np.degrees(hour)
    return float(ra_deg % 360.0), float(np.degrees(dec))
