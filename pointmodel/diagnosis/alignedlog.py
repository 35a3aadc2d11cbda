"""What an aligned controller shows of centred stars, and what that says of its alignment stars.

Read `mount/starfix.py` first. A story says on which stars the controller thinks it was aligned and
which ones were truly in the eyepiece; it predicts every figure of the log. How well, is the story's
evidence: everything that is not known (the mount's terms, how well the stars were centred, when) is
integrated out about the best fit (Laplace's method: MacKay, Information Theory, Inference, and
Learning Algorithms, 2003, ch. 27). Stories stand side by side along the first axis of each array.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    Geometry,
    axes_from_sky,
    azimuth_altitude,
    directions,
)
from pointmodel.mount.priors import ALIGNED_MOUNT_ODDS, ALIGNED_MOUNT_SDS
from pointmodel.mount.starfix import StarFix, StarFixKind, cross, star_fix

SIDEREAL_RADIANS_A_MINUTE = np.radians(15.041 / 60.0)
MOUNT, TIMES, TURN = 5, 2, 3  # how many numbers: the mount's terms, moments, a turn of the base
STEP_ARCMIN, STEP_MIN = 0.5, 0.2  # of numerical slopes
ITERATIONS = 3


@dataclass(frozen=True, eq=False)
class AlignedLog:
    """The pairs: true directions (n, 3) and those shown once centred (n, 3); the site's latitude.

    `sigmas_arcmin` (s,) are equally probable sizes of the noise an axis.
    """

    sky: FloatArray
    shown: FloatArray
    latitude_deg: float
    sigmas_arcmin: FloatArray


@dataclass(frozen=True, eq=False)
class Stories:
    """Stories (m,): stated stars (m, k, 3) and those truly centred, as they stood at one moment.

    `order` says which of the stars the controller uses: of two it meets the first exactly, more
    than two (one may stand there twice) by least squares.
    `mean` and `sd` (m, p) are what is expected of the unknown numbers: mount's terms, displacement
    of each alignment star (across, up), minutes from that moment to the first star's centring and
    from star to star, turn of the base after the alignment about north, east and up.
    """

    stated: FloatArray
    centred: FloatArray
    kind: StarFixKind
    order: tuple[int, ...]
    mean: FloatArray
    sd: FloatArray


def log_evidence(log: AlignedLog, stories: Stories) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return ln of the evidence (m,), the best numbers (m, p) and misses left (m, n, 2), arcmin."""
    best = stories.mean.copy()
    usual = float(np.median(log.sigmas_arcmin))
    for _ in range(ITERATIONS):
        left, slopes = _linearised(log, stories, best)
        best = _best(left, slopes, stories, best, usual)
    left, slopes = _linearised(log, stories, best)
    total = left + (slopes @ (best - stories.mean)[:, :, None])[..., 0]
    count = stories.mean.shape[0]
    found = np.full((count, len(ALIGNED_MOUNT_ODDS), log.sigmas_arcmin.size), -np.inf)
    for i, mount_sd in enumerate(ALIGNED_MOUNT_SDS):
        sd = np.concatenate([np.tile(mount_sd, (count, 1)), stories.sd[:, MOUNT:]], axis=1)
        for j, sigma in enumerate(log.sigmas_arcmin):
            found[:, i, j] = np.log(ALIGNED_MOUNT_ODDS[i]) + _log_density(
                total, slopes * sd[:, None], sigma
            )
    flat = found.reshape(count, -1)
    top = flat.max(axis=1)
    mean = np.log(np.exp(flat - top[:, None]).sum(axis=1) / log.sigmas_arcmin.size)
    return top + mean, best, left.reshape(count, -1, 2)


def _log_density(left: FloatArray, scaled: FloatArray, sigma: float) -> FloatArray:
    """Return ln N(left (m, r); 0, scaled scaledᵀ + σ²) with scaled slopes (m, r, p)."""
    rows = left.shape[1]
    inner = np.swapaxes(scaled, 1, 2) @ scaled / sigma**2 + np.eye(scaled.shape[2])
    across = np.swapaxes(scaled, 1, 2) @ left[..., None] / sigma
    explained = (across * np.linalg.solve(inner, across)).sum(axis=(1, 2))
    square = (left**2).sum(axis=1) - explained
    _, log_size = np.linalg.slogdet(inner)
    return np.asarray(-0.5 * (log_size + rows * np.log(2.0 * np.pi * sigma**2) + square / sigma**2))


def _best(
    left: FloatArray, slopes: FloatArray, stories: Stories, at: FloatArray, sigma: float
) -> FloatArray:
    """Return the next best numbers (m, p): one step of Gauss and Newton, priors in it."""
    total = left + (slopes @ (at - stories.mean)[:, :, None])[..., 0]
    scaled = slopes * stories.sd[:, None]
    inner = np.swapaxes(scaled, 1, 2) @ scaled / sigma**2 + np.eye(scaled.shape[2])
    step = np.linalg.solve(inner, np.swapaxes(scaled, 1, 2) @ total[..., None] / sigma**2)[..., 0]
    return np.asarray(stories.mean + stories.sd * step)


def _linearised(log: AlignedLog, stories: Stories, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what is left (m, 2 n) at some numbers, and what each adds to it (m, 2 n, p).

    Slopes are differences; all of them are had in one call, since small arrays cost by the call.
    """
    count, numbers = at.shape
    steps = np.full(numbers, STEP_ARCMIN)
    first = MOUNT + 2 * stories.stated.shape[1]
    steps[first : first + TIMES] = STEP_MIN
    stepped = np.concatenate([at[None], at + np.diag(steps)[:, None]]).reshape(-1, numbers)
    every = predicted(log, _repeated(stories, numbers + 1), stepped)
    here, there = every[:count], every[count:].reshape(numbers, count, -1, 3)
    across = _tangents(log.shown)
    change = _on(across, (there - here).reshape(numbers * count, -1, 3))
    slopes = change.reshape(numbers, count, -1) / steps[:, None, None]
    return _on(across, log.shown - here), np.moveaxis(slopes, 0, -1)


def _repeated(stories: Stories, times: int) -> Stories:
    """Return the stories several times over."""
    stars = (np.tile(part, (times, 1, 1)) for part in (stories.stated, stories.centred))
    stated, centred = stars
    return replace(stories, stated=stated, centred=centred)


def _on(across: FloatArray, vectors: FloatArray) -> FloatArray:
    """Return small vectors (m, n, 3) along tangents (n, 2, 3): (m, 2 n) arcminutes."""
    along = (across * vectors[..., None, :]).sum(axis=-1) * ARCMIN_PER_RADIAN
    return np.asarray(along.reshape(len(vectors), -1))


def _tangents(at: FloatArray) -> FloatArray:
    """Return unit vectors across altitude and in altitude (..., 2, 3) at directions (..., 3)."""
    az, alt = azimuth_altitude(at)
    zero = np.zeros_like(az)
    across = np.stack([-np.sin(az), np.cos(az), zero], axis=-1)
    up = np.stack([-np.sin(alt) * np.cos(az), -np.sin(alt) * np.sin(az), np.cos(alt)], axis=-1)
    return np.stack([across, up], axis=-2)


def predicted(log: AlignedLog, stories: Stories, numbers: FloatArray) -> FloatArray:
    """Return the directions (m, n, 3) that each story has the controller show."""
    stars = stories.stated.shape[1]
    moments = MOUNT + 2 * stars
    terms, off = numbers[:, :MOUNT], numbers[:, MOUNT:moments].reshape(-1, stars, 2)
    minutes = numbers[:, [moments]] + numbers[:, [moments + 1]] * np.arange(stars)
    spun = [_spun(part, minutes, log.latitude_deg) for part in (stories.stated, stories.centred)]
    stated, centred = spun
    moved = centred + (off[..., None] * _tangents(centred)).sum(axis=-2) / ARCMIN_PER_RADIAN
    fix = _learnt(stories, stated, _readings(moved, terms))
    turn = numbers[:, None, moments + TIMES :] / ARCMIN_PER_RADIAN
    sky = log.sky + cross(turn, log.sky[None])
    az, alt = _readings(sky, terms)
    return np.asarray(directions(az, alt - fix.altitude_zero[:, None]) @ fix.rotation)


def _learnt(stories: Stories, stated: FloatArray, read: tuple[FloatArray, FloatArray]) -> StarFix:
    """Return what the controller works out from the stars that it uses."""
    order = list(stories.order)
    az, alt = (part[:, order] for part in read)
    return star_fix(stated[:, order], az, alt, stories.kind)


def _readings(sky: FloatArray, terms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and altitudes (m, n), radians, read at directions (m, n, 3).

    The azimuth's own zero is left out: a rotation of the readings, which an alignment takes up.
    """
    altitude_index, *geometry = (part[:, None] / ARCMIN_PER_RADIAN for part in terms.T)
    az, alt, _ = axes_from_sky(sky, Geometry(*geometry))
    return az, alt + altitude_index


def _spun(stars: FloatArray, minutes: FloatArray, latitude_deg: float) -> FloatArray:
    """Return where stars (m, k, 3) stand some minutes (m, k) later: a turn about the pole.

    Rodrigues' formula; in (north, east, up) the sky turns from east over up at the equator.
    """
    latitude = np.radians(latitude_deg)
    pole = np.array([np.cos(latitude), 0.0, np.sin(latitude)])
    angle = (SIDEREAL_RADIANS_A_MINUTE * minutes)[..., None]
    along = (stars @ pole)[..., None] * pole
    return np.asarray(
        stars * np.cos(angle) + cross(pole, stars) * np.sin(angle) + along * (1.0 - np.cos(angle))
    )
