"""Does the site of a mount file lie where its time zone is? Signs and order of its two figures.

The places of zones are those of the tz database, as the `tzdata` package ships it. Read first:
`site_slip`. Distance alone says nothing: zones are large.
"""

from __future__ import annotations

import pkgutil
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np

from pointmodel.base.angles import format_dm, separation_arcmin
from pointmodel.base.errors import Notice

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile, Site

SlipKind = Literal["longitude_sign", "latitude_sign", "exchanged"]
TIMES_NEARER = 3.0  # a choice: of the 418 rows of the tz table none is called wrong
# A choice: sites within 6° of the line where a sign changes cannot be told from a large zone.
LEAST_DISTANCE_DEG = 12.0
_TABLES = ("zone1970.tab", "zone.tab")
_COORDINATES = re.compile(r"([+-]\d{4}(?:\d{2})?)([+-]\d{5}(?:\d{2})?)", re.ASCII)
_MOST_LINKS = 4  # of one name to the next; the tz database has two at most


@dataclass(frozen=True)
class SiteSlip:
    """A slip that the zone betrays: what it is, and the site without it, degrees."""

    kind: SlipKind
    latitude_deg: float
    longitude_deg: float
    text: str
    order: str


def site_slip(mount: MountFile) -> SiteSlip | None:
    """The slip in a mount file's site, None where the zone betrays none or no zone is named.

    A slip is proposed where the stated site is far from every principal place of its zone and the
    site without the slip three times nearer; of several the one that brings it nearest.
    """
    if mount.site is None or mount.place_deg is None or mount.site.time_zone is None:
        return None
    zone = mount.site.time_zone
    stated_deg = distance_to_zone_deg(zone, *mount.place_deg)
    if stated_deg is None or stated_deg < LEAST_DISTANCE_DEG:
        return None
    near = [
        (off_deg, kind, place)
        for kind, place in corrected_places(*mount.place_deg).items()
        if (off_deg := distance_to_zone_deg(zone, *place)) is not None
        and TIMES_NEARER * off_deg < stated_deg
    ]
    if not near:
        return None
    _, kind, (latitude_deg, longitude_deg) = min(near)
    return SiteSlip(
        kind=kind,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        text=_slip_text(kind, zone, mount.place_deg),
        order=site_order(mount.site, latitude_deg, longitude_deg),
    )


def site_notices(mount: MountFile) -> tuple[Notice, ...]:
    """What to say of a slip in the site, before anything that rests on the site."""
    slip = site_slip(mount)
    return () if slip is None else (Notice("site_slip", f"{slip.text}. {slip.order}"),)


def corrected_places(
    latitude_deg: float, longitude_deg: float
) -> dict[SlipKind, tuple[float, float]]:
    """The site without each slip that people make, latitude and longitude in degrees."""
    found: dict[SlipKind, tuple[float, float]] = {
        "longitude_sign": (latitude_deg, -longitude_deg),
        "latitude_sign": (-latitude_deg, longitude_deg),
    }
    if abs(longitude_deg) <= 90.0:
        found["exchanged"] = (longitude_deg, latitude_deg)
    return found


def _slip_text(kind: SlipKind, zone: str, stated_deg: tuple[float, float]) -> str:
    start = f"the mount file puts the telescope at {place_words(*stated_deg)}, far from its {zone}"
    if kind == "exchanged":
        return f"{start}. Latitude and longitude seem to be exchanged"
    name, side = ("longitude", "east") if kind == "longitude_sign" else ("latitude", "north")
    return f"{start}. The {name} seems to have the wrong sign ({side} is positive)"


def site_order(site: Site, latitude_deg: float, longitude_deg: float) -> str:
    """The order that puts a site right, without a full stop."""
    return (
        f"If the telescope stands at {place_words(latitude_deg, longitude_deg)}, write "
        f"{site_lines(site, latitude_deg, longitude_deg)} under [site] in the mount file"
    )


def site_lines(site: Site, latitude_deg: float, longitude_deg: float) -> str:
    """The lines of a mount file that put a site right: only the figures that change."""
    figures = {
        "latitude": (site.latitude_deg, latitude_deg),
        "longitude": (site.longitude_deg, longitude_deg),
    }
    return " and ".join(
        f"{name} = {_plain(right)}"
        for name, (held, right) in figures.items()
        if held is None or _plain(held) != _plain(right)
    )


def place_words(latitude_deg: float, longitude_deg: float) -> str:
    """A place on the Earth: `41°18′ S, 146°12′ E`."""
    return (
        f"{format_dm(abs(latitude_deg), 0)} {'S' if latitude_deg < 0 else 'N'}, "
        f"{format_dm(abs(longitude_deg), 0)} {'W' if longitude_deg < 0 else 'E'}"
    )


def _plain(angle_deg: float) -> str:
    """Degrees as the mount file takes them, to a third of an arcminute."""
    return f"{angle_deg:.4f}".rstrip("0").rstrip(".") or "0"


def distance_to_zone_deg(zone: str, latitude_deg: float, longitude_deg: float) -> float | None:
    """How far a site is from the nearest principal place of a zone, degrees of arc; None: no place.

    Zones such as UTC or Etc/GMT-10 have none.
    """
    places = zone_places(zone)
    if not places:
        return None
    latitudes, longitudes = np.array(places).T
    arcmin = separation_arcmin(longitude_deg, latitude_deg, longitudes, latitudes)
    return float(arcmin.min()) / 60.0


@cache
def zone_places(zone: str) -> tuple[tuple[float, float], ...]:
    """Latitude and longitude, degrees, of the principal places of a zone; none for a made-up one.

    Those of its own rows; a name without rows is looked up as the zone that it is another name for.
    """
    return places_by_zone().get(zone) or places_by_zone().get(_resolved(zone, zone_of_name()), ())


def _resolved(zone: str, links: dict[str, str]) -> str:
    for _ in range(_MOST_LINKS):
        zone = links.get(zone, zone)
    return zone


@cache
def zone_of_name() -> dict[str, str]:
    """Each other name of a zone, and the zone it is: lines `L zone name` of tzdata.zi."""
    lines = (line.split() for line in _table("tzdata.zi").splitlines() if line.startswith("L "))
    return {name: zone for _, zone, name in lines}


@cache
def places_by_zone() -> dict[str, tuple[tuple[float, float], ...]]:
    """The principal places by zone name: columns coordinates and TZ of the tz database's tables."""
    found: dict[str, list[tuple[float, float]]] = {}
    for table in _TABLES:
        for line in _table(table).splitlines():
            if not line or line.startswith("#"):
                continue
            _, coordinates, zone, *_ = line.split("\t")
            found.setdefault(zone, []).append(_place_deg(coordinates))
    return {zone: tuple(dict.fromkeys(places)) for zone, places in found.items()}


def _place_deg(coordinates: str) -> tuple[float, float]:
    """Degrees from ISO 6709 `±DDMM±DDDMM` or `±DDMMSS±DDDMMSS`."""
    match = _COORDINATES.fullmatch(coordinates)
    assert match is not None  # as the tz database documents it
    latitude, longitude = match.groups()
    return _angle_deg(latitude, 2), _angle_deg(longitude, 3)


def _angle_deg(figures: str, degree_digits: int) -> float:
    sign, digits = figures[0], figures[1:]
    degrees, minutes = digits[:degree_digits], digits[degree_digits : degree_digits + 2]
    seconds = digits[degree_digits + 2 :] or "0"
    size = int(degrees) + int(minutes) / 60.0 + int(seconds) / 3600.0
    return -size if sign == "-" else size


def _table(name: str) -> str:
    found = pkgutil.get_data("tzdata", f"zoneinfo/{name}")
    return "" if found is None else found.decode("utf-8")
