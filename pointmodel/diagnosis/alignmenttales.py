"""What may have happened when a controller was aligned: the tales that the log decides between.

Read `alignedlog.py` first. A tale says which stated star was in truth another one, or was badly
centred, or that the stand was knocked since; with what is to be expected of the numbers that are
not known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.diagnosis.alignedlog import MOUNT, TURN
from pointmodel.mount.priors import (
    ALIGNED_BADLY,
    ALIGNED_BEFORE_MIN,
    ALIGNED_BEFORE_SD_MIN,
    ALIGNED_MOUNT_SDS,
    ALIGNED_ON_ANOTHER,
    ALIGNED_RIGHT,
    ALIGNMENT_BADLY_TO_ARCMIN,
    BETWEEN_ALIGNMENT_STARS_MIN,
    BETWEEN_ALIGNMENT_STARS_SD_MIN,
    DIMMER_BY,
    KNOCK_SDS_ARCMIN,
    KNOCKED_SINCE,
)
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude, catalogue_places
from pointmodel.sky.stars import star_table
from pointmodel.sky.targets import Target, look_up, star_target, target_places

FAINTEST, WITHIN_DEG = 3.5, 15.0
CATALOGUE_DEG = 0.2  # proper motion since 2000, and to spare
LOWEST_DEG = 3.0  # a star nearer to the horizon is hardly chosen to align on
NAKED_EYE_PLANETS = ("Venus", "Mars", "Jupiter", "Saturn")
PLANET_MAGNITUDE = 0.0
NO_TURN_ARCMIN = 1e-3


@dataclass(frozen=True, eq=False)
class Tale:
    """One thing that may have happened: its prior probability, and the stars in it.

    `place`: which stated star it concerns; `instead`: which target was centred in its stead;
    `badly_arcmin` how badly the stated one was centred; `turned`: the stand was knocked since.
    """

    prior: float
    place: int | None = None
    instead: int | None = None
    badly_arcmin: float | None = None
    turned: bool = False


def targets_about(stated: tuple[Target, ...], time_s: float) -> tuple[Target, ...]:
    """Return the stated stars, then all that may have been centred in the stead of one of them."""
    table = star_table()
    ra_deg, dec_deg = target_places(stated, time_s)
    here = direction_vectors(*catalogue_places(ra_deg, dec_deg, time_s))
    at = direction_vectors(table.ra_deg, table.dec_deg)
    reach = np.cos(np.radians(WITHIN_DEG + CATALOGUE_DEG))
    near = (table.magnitude <= FAINTEST) & ((at @ here.T).max(axis=1) > reach)
    others = [star_target(int(row)) for row in np.flatnonzero(near)]
    others += [planet for name in NAKED_EYE_PLANETS if (planet := look_up(name)) is not None]
    names = {star.name for star in stated}
    return (*stated, *(star for star in others if star.name not in names))


def tales_of(targets: tuple[Target, ...], at: FloatArray, stars: int) -> Iterator[Tale]:
    """Yield all that may have happened when the controller was aligned on the first few targets.

    `at` (t, 3) are the targets' directions.
    """
    yield Tale(ALIGNED_RIGHT)
    yield Tale(KNOCKED_SINCE, turned=True)
    up = at[:, 2] > np.sin(np.radians(LOWEST_DEG))
    for place in range(stars):
        for width in ALIGNMENT_BADLY_TO_ARCMIN:
            share = ALIGNED_BADLY / (stars * len(ALIGNMENT_BADLY_TO_ARCMIN))
            yield Tale(share, place, badly_arcmin=width)
        near = up & (at @ at[place] > np.cos(np.radians(WITHIN_DEG)))
        others = [k for k in np.flatnonzero(near).tolist() if k >= stars]
        weight = np.exp([-DIMMER_BY * _magnitude(targets[k]) for k in others])
        for k, part in zip(others, weight / max(weight.sum(), 1e-12), strict=True):
            yield Tale(ALIGNED_ON_ANOTHER * float(part) / stars, place, instead=k)


def _magnitude(star: Target) -> float:
    return PLANET_MAGNITUDE if star.magnitude is None else star.magnitude


def directions_of(targets: tuple[Target, ...], observer: Observer, time_s: float) -> FloatArray:
    """Return the directions (t, 3) of targets at a moment, without the air's lift."""
    ra_deg, dec_deg = target_places(targets, time_s, observer)
    return direction_vectors(*azimuth_altitude(ra_deg, dec_deg, time_s, observer))


def expected_numbers(
    tales: tuple[Tale, ...], stars: int, centring_arcmin: float
) -> tuple[FloatArray, FloatArray]:
    """Return mean and sd (m, p) of the unknown numbers of each tale."""
    moments = MOUNT + 2 * stars
    mean = np.zeros((len(tales), moments + 2 + TURN))
    mean[:, moments], mean[:, moments + 1] = ALIGNED_BEFORE_MIN, BETWEEN_ALIGNMENT_STARS_MIN
    sd = np.full_like(mean, NO_TURN_ARCMIN)
    sd[:, :MOUNT] = ALIGNED_MOUNT_SDS[1]  # where the best fit is sought; evidence weighs several
    sd[:, MOUNT:moments] = centring_arcmin
    sd[:, moments : moments + 2] = (ALIGNED_BEFORE_SD_MIN, BETWEEN_ALIGNMENT_STARS_SD_MIN)
    for k, tale in enumerate(tales):
        if tale.badly_arcmin is not None and tale.place is not None:
            first = MOUNT + 2 * tale.place
            sd[k, first : first + 2] = tale.badly_arcmin
        if tale.turned:
            sd[k, -TURN:] = KNOCK_SDS_ARCMIN
    return mean, sd
