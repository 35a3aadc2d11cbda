"""Names of stars, completed and forgiven: a short beginning is enough for a bright star that is up.

Read `sky/targets.py` first. Nothing is forbidden: a free name stays as it was typed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.reading.mountfile import MountFile
from pointmodel.sky.bodies import PLANETS
from pointmodel.sky.names import squeezed
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.stars import star_table
from pointmodel.sky.targets import did_you_mean, look_up, target_places

SHORTEST_BEGINNING = 2
MOST_OFFERED = 4
BRIGHT_MAGNITUDE = 2.5


@dataclass(frozen=True)
class NamedStar:
    """What a typed name came to: the name for the log, or names to choose from, likeliest first.

    `name` is None where several were meant, or where `choices` are only near misses.
    """

    name: str | None
    choices: tuple[str, ...] = ()


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
        return NamedStar(target.name)
    begun = _beginning_with(text)
    up = [name for name in begun if _is_up(name, mount, time_s)]
    possible = up or begun
    bright = [name for name in possible if _is_bright(name)]
    for only in (possible, bright):
        if len(only) == 1:
            return NamedStar(only[0])
    if possible:
        return NamedStar(None, tuple(possible[:MOST_OFFERED]))
    meant = did_you_mean(text)
    return NamedStar(None if meant else text, meant)


def overhead(name: str, mount: MountFile, time_s: float) -> Overhead | None:
    """Where a target stands now; None for a free name, and where the site is unknown."""
    observer, target = mount.observer, look_up(name)
    if observer is None or target is None:
        return None
    ra_deg, dec_deg = target_places([target], time_s, observer)
    az_deg, alt_deg = azimuth_altitude(ra_deg[0], dec_deg[0], time_s, observer)
    return Overhead(float(az_deg), float(alt_deg))


def bright_names() -> tuple[str, ...]:
    """Proper names of the bundled stars, the brightest first, and the planets."""
    return (*PLANETS, *(name for name in star_table().name if name))


def _beginning_with(text: str) -> list[str]:
    key = squeezed(text)
    if len(key) < SHORTEST_BEGINNING:
        return []
    return [name for name in bright_names() if squeezed(name).startswith(key)]


def _is_bright(name: str) -> bool:
    target = look_up(name)
    return target is not None and (target.magnitude or 0.0) <= BRIGHT_MAGNITUDE


def _is_up(name: str, mount: MountFile, time_s: float) -> bool:
    place = overhead(name, mount, time_s)
    return place is not None and bool(
        place.alt_deg > float(mount.open_alt_deg(np.array(place.az_deg)))
    )
