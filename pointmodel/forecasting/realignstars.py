"""Two stars to align on, by name, for a site and a moment: those after which go-tos miss least.

Read `alignment.py` first. Only stars that anybody finds are tried: bright, with a name of their
own, neither low nor overhead, over the open sky and far from the Sun.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.alignment import aligned_misses
from pointmodel.forecasting.outlook import Outlook, square_miss
from pointmodel.mount.starfix import StarFixKind
from pointmodel.reading.mountfile import MountFile
from pointmodel.sky.places import apparent_places, azimuth_altitude
from pointmodel.sky.stars import star_table
from pointmodel.sky.sunguard import sun_at, too_near_sun
from pointmodel.sky.targets import look_up, target_places

FAINTEST = 2.0  # a star that a beginner finds by its brightness; common practice, no source
LOWEST_DEG, HIGHEST_DEG = 20.0, 70.0  # comfortable at the eyepiece, and not beside the zenith
LEAST_APART_DEG, MOST_APART_DEG = 45.0, 130.0  # what manuals ask for; common practice, no source
SOME_TARGETS = 8

NamedPair = tuple[str, str]


def best_named_pair(
    outlook: Outlook, mount: MountFile, time_s: float, kind: StarFixKind = "rotation"
) -> NamedPair | None:
    """Return the names of the best two stars to align on, in the order in which to centre them.

    None where the site is unknown or no two such stars stand well apart. `time_s` is POSIX seconds.
    """
    names, places = _stars_up(mount, time_s)
    pairs = _well_apart(places)
    if not pairs.size:
        return None
    az_deg, alt_deg = (part[::SOME_TARGETS] for part in outlook.targets)
    misses = aligned_misses(outlook, places[pairs], az_deg, alt_deg, kind)
    best = int(square_miss(*misses).expected(outlook.covariance).argmin())
    first, second = pairs[best]
    return names[first], names[second]


def places_of_stars(
    names: tuple[str, ...], mount: MountFile, time_s: float
) -> tuple[tuple[float, float], ...]:
    """Return azimuths and altitudes, degrees, of named stars; () unless all are known and up."""
    targets = [target for name in names if (target := look_up(name)) is not None]
    if mount.observer is None or len(targets) < len(names):
        return ()
    ra_deg, dec_deg = target_places(targets, time_s, mount.observer)
    az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, time_s, mount.observer)
    return tuple(zip(az_deg.tolist(), alt_deg.tolist(), strict=True)) if (alt_deg > 0).all() else ()


def _stars_up(mount: MountFile, time_s: float) -> tuple[list[str], FloatArray]:
    """Return names and places (k, 2), azimuth and altitude in degrees, of stars to align on."""
    observer = mount.observer
    sun = sun_at(observer, time_s)
    if observer is None or sun is None:
        return [], np.empty((0, 2))
    table = star_table()
    named = np.array([bool(name) for name in table.name])
    rows = np.flatnonzero((table.magnitude <= FAINTEST) & named)
    ra_deg, dec_deg = apparent_places(table.ra_deg[rows], table.dec_deg[rows], time_s)
    az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, time_s, observer)
    low = np.maximum(mount.open_alt_deg(az_deg), LOWEST_DEG)
    fit = (alt_deg > low) & (alt_deg < HIGHEST_DEG) & ~too_near_sun(sun, az_deg, alt_deg)
    names = [table.name[row] for row in rows[fit]]
    return names, np.stack([az_deg, alt_deg], axis=-1)[fit]


def _well_apart(places: FloatArray) -> NDArray[np.intp]:
    """Return the pairs (m, 2) of places (k, 2) that stand well apart, in both orders."""
    at = direction_vectors(places[:, 0], places[:, 1])
    apart_deg = np.degrees(np.arccos(np.clip(at @ at.T, -1.0, 1.0)))
    return np.argwhere((apart_deg >= LEAST_APART_DEG) & (apart_deg <= MOST_APART_DEG))
