"""Names of stars, completed and forgiven: a short beginning is enough for a bright star that is up.

Read `sky/targets.py` first. Nothing is forbidden: a free name stays as it was typed, once it is
said that it is meant so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.times import SIDEREAL_DEG_PER_S
from pointmodel.reading.mountfile import MountFile
from pointmodel.sky.bodies import PLANETS
from pointmodel.sky.names import squeezed
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.stars import star_table
from pointmodel.sky.targets import did_you_mean, look_up, target_places

SHORTEST_BEGINNING = 2
NEAR_DEG = 2.0  # a choice: bright stars seldom stand closer to one another
MOST_OFFERED = 4
BRIGHT_MAGNITUDE = 2.5
_DEG_PER_MIN = 0.25  # of sidereal time


@dataclass(frozen=True)
class NamedStar:
    """What a typed name came to.

    `one`: the target `name`. `several`: the beginning of each of `choices`, the likeliest first.
    `unknown`: no target that is known; `choices` are spelt nearly so.
    """

    found: Literal["one", "several", "unknown"]
    name: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class BelievedSky:
    """By how much the controller's sky is ahead of the true one, and its latitude too far north."""

    sidereal_offset_min: float
    latitude_offset_deg: float


@dataclass(frozen=True)
class Overhead:
    """Where a target stands now, degrees."""

    az_deg: float
    alt_deg: float


def complete(text: str, mount: MountFile, time_s: float) -> NamedStar:
    """Find the target that a name or its beginning stands for.

    A beginning is completed among stars that have a proper name and planets: to the only one, or
    the only bright one; where site and time tell, of those that are up.
    """
    if (target := look_up(text)) is not None:
        return NamedStar("one", target.name)
    begun = _beginning_with(text)
    up = [name for name in begun if _is_up(name, mount, time_s)]
    possible = up or begun
    bright = [name for name in possible if _is_bright(name)]
    for only in (possible, bright):
        if len(only) == 1:
            return NamedStar("one", only[0])
    if possible:
        return NamedStar("several", text, tuple(possible[:MOST_OFFERED]))
    return NamedStar("unknown", text, did_you_mean(text))


def overhead(
    name: str, mount: MountFile, time_s: float, belief: BelievedSky | None = None
) -> Overhead | None:
    """Where a target stands now; None for a free name, and where the site is unknown.

    With a `belief`, where the controller has it.
    """
    observer, target = mount.observer, look_up(name)
    if observer is None or target is None:
        return None
    if belief is not None:
        latitude_deg = observer.latitude_deg + belief.latitude_offset_deg
        observer = replace(observer, latitude_deg=min(max(latitude_deg, -90.0), 90.0))
        time_s += belief.sidereal_offset_min * _DEG_PER_MIN / SIDEREAL_DEG_PER_S
    ra_deg, dec_deg = target_places([target], time_s, observer)
    az_deg, alt_deg = azimuth_altitude(ra_deg[0], dec_deg[0], time_s, observer)
    return Overhead(float(az_deg), float(alt_deg))


def star_near(
    az_deg: float, alt_deg: float, mount: MountFile, time_s: float
) -> tuple[str, float] | None:
    """The bright star or planet nearest to a place and within two degrees, and how far."""
    if mount.observer is None:
        return None
    known = [
        target
        for name in bright_names()
        if _is_bright(name) and (target := look_up(name)) is not None
    ]
    there = azimuth_altitude(*target_places(known, time_s, mount.observer), time_s, mount.observer)
    apart = np.degrees(
        np.arccos(
            np.clip(direction_vectors(*there) @ direction_vectors(az_deg, alt_deg), -1.0, 1.0)
        )
    )
    nearest = int(apart.argmin())
    return (known[nearest].name, float(apart[nearest])) if apart[nearest] < NEAR_DEG else None


def apart_deg(there: Overhead, az_deg: float, alt_deg: float) -> float:
    """How far a place is from where a target stands, degrees on the sky."""
    places = direction_vectors(np.array([there.az_deg, az_deg]), np.array([there.alt_deg, alt_deg]))
    return float(np.degrees(np.arccos(np.clip(places[0] @ places[1], -1.0, 1.0))))


def knows(name: str) -> bool:
    """Whether a name is that of a known target."""
    return look_up(name) is not None


def bright_names() -> tuple[str, ...]:
    """Proper names of the bundled stars, the brightest first, and the planets."""
    return (*PLANETS, *(name for name in star_table().name if name))


def begins_with(name: str, text: str) -> bool:
    """Whether a star's name begins with a text, case and blanks apart."""
    return squeezed(name).startswith(squeezed(text))


def _beginning_with(text: str) -> list[str]:
    key = squeezed(text)
    if len(key) < SHORTEST_BEGINNING:
        return []
    return [name for name in bright_names() if begins_with(name, key)]


def _is_bright(name: str) -> bool:
    target = look_up(name)
    return target is not None and (target.magnitude or 0.0) <= BRIGHT_MAGNITUDE


def _is_up(name: str, mount: MountFile, time_s: float) -> bool:
    place = overhead(name, mount, time_s)
    return place is not None and bool(
        place.alt_deg > float(mount.open_alt_deg(np.array(place.az_deg)))
    )
