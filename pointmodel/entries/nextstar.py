"""One star leaves two answers: which bright star would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.entries.answers import different_answers
from pointmodel.entries.believed import predicted
from pointmodel.entries.observed import Observed
from pointmodel.entries.weighing import Weighed
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.stars import star_table
from pointmodel.sky.sunguard import sun_at, too_near_sun
from pointmodel.sky.targets import star_target, target_places

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

# Choices: stars that anyone finds, where altitude is easily read and azimuth means something;
# apart from those centred, and put by two answers farther apart than a finder shows.
BRIGHT = 2.1  # magnitude
LOW_ALT_DEG, HIGH_ALT_DEG = 20.0, 75.0
APART_DEG, TELLS_DEG = 20.0, 3.0


@dataclass(frozen=True)
class NextStar:
    """A star to go to next: where it truly stands now, degrees."""

    target: str
    az_deg: float
    alt_deg: float


def star_that_settles(
    observed: Observed, weighed: Weighed, observer: Observer, mount: MountFile
) -> NextStar | None:
    """The brightest star well up, apart from those centred, that the two likeliest answers place
    differently; None where there is none.
    """
    table = star_table()
    targets = [star_target(row) for row in np.flatnonzero(table.magnitude < BRIGHT).tolist()]
    now_s = float(observed.time_s.max())
    ra_deg, dec_deg = target_places(targets, now_s, observer)
    az_deg, alt_deg = azimuth_altitude(ra_deg, dec_deg, now_s, observer)
    there = direction_vectors(ra_deg, dec_deg)
    used = direction_vectors(observed.ra_deg[0], observed.dec_deg[0])
    apart = np.degrees(np.arccos(np.clip(there @ used.T, -1.0, 1.0))).min(axis=1)
    fit = (alt_deg > LOW_ALT_DEG) & (alt_deg < HIGH_ALT_DEG) & (apart > APART_DEG)
    fit &= (alt_deg > mount.open_alt_deg(az_deg)) & ~too_near_sun(
        sun_at(mount.observer, now_s), az_deg, alt_deg
    )
    fit &= _difference_deg(ra_deg, dec_deg, now_s, observer, weighed) > TELLS_DEG
    if not fit.any():
        return None
    k = int(np.flatnonzero(fit)[0])
    return NextStar(target=targets[k].name, az_deg=float(az_deg[k]), alt_deg=float(alt_deg[k]))


def _difference_deg(
    ra_deg: FloatArray, dec_deg: FloatArray, now_s: float, observer: Observer, weighed: Weighed
) -> FloatArray:
    """How differently the likeliest answer and any other place stars, (n,)."""
    first, *others = (weighed.solutions[group[0]] for group in different_answers(weighed))
    if not others:
        return np.zeros_like(ra_deg)
    n = ra_deg.size
    sky = Observed(
        pair=np.arange(n),
        targets=(),
        time_s=np.full(n, now_s),
        ra_deg=np.stack([ra_deg, ra_deg]),
        dec_deg=np.stack([dec_deg, dec_deg]),
        commanded=np.zeros((2, n, 3)),
        sidereal_deg=np.full(n, float(sidereal_time_deg(now_s)) + observer.longitude_deg),
        moving=np.zeros(n, dtype=bool),
        step_arcmin=0.0,
    )
    offsets = np.array([s.sidereal_offset_min for s in (first, *others)])
    latitudes = np.array([s.latitude_arcmin for s in (first, *others)])
    here, *_ = predicted(sky, first.mode, offsets, latitudes)
    cosine = np.clip((here[1:] * here[0]).sum(axis=-1), -1.0, 1.0)
    return np.asarray(np.degrees(np.arccos(cosine)).max(axis=0))
