"""A quick look at many readings of one log at once: ln evidence of six terms with plug-in priors.

Every pair counts as good and no further term is taken up, so this only sorts: what comes near the
best is asked of the estimator itself. Shapes: s ways to read a log of n pairs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import LOG_TWO_PI
from pointmodel.estimate.termsprior import BASE_SD, noise_of_portable_mounts
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN, geometry_from_arcmin, linearise
from pointmodel.mount.priors import FREE_AZIMUTH_BEYOND_ARCMIN, FREE_AZIMUTH_SD_ARCMIN
from pointmodel.mount.terms import N_STANDARD
from pointmodel.reading.nightlog import NightLog

STEPS = 4
CAPPED_STEP_ARCMIN = 0.3 * ARCMIN_PER_RADIAN
STEP_VARIANCE = 4.0  # arcmin²: how firmly the priors hold a step; as for subsets in the estimator
# two classes of mounts, as the estimator's scales: as most are, and several times as bad
CLASSES, LOG_SHARE = np.array([1.0, 4.0]), np.log([0.65, 0.35])
_LOG_SIGMA = np.linspace(np.log(0.1), np.log(2000.0), 28)


@dataclass(frozen=True)
class Places:
    """Stars and readings of s ways to read a log, radians, (s, n); known rounding (s,) arcmin²."""

    star_az: FloatArray
    star_alt: FloatArray
    reading_az: FloatArray
    reading_alt: FloatArray
    rounding: FloatArray


def places_of_logs(logs: list[NightLog]) -> Places:
    """Return the places of several ways to read one log."""
    return Places(
        star_az=np.radians([log.star_az_deg for log in logs]),
        star_alt=np.radians([log.star_alt_deg for log in logs]),
        reading_az=np.radians([log.reading_az_deg for log in logs]),
        reading_alt=np.radians([log.reading_alt_deg for log in logs]),
        rounding=np.zeros(len(logs)),
    )


def log_evidences(places: Places) -> FloatArray:
    """Return ln evidence (s,) of each way to read the log, constants the same for all."""
    terms = _start(places)
    for _ in range(STEPS):
        miss, design, mean = _linear(places, terms)
        precision = STEP_VARIANCE / _spread(terms, 2.0) ** 2
        transposed = np.swapaxes(design, 1, 2)
        normal = transposed @ design + precision[:, :, None] * np.eye(N_STANDARD)
        pull = transposed @ miss[..., None] + (precision * (mean - terms))[..., None]
        step = np.linalg.solve(normal, pull)[..., 0]
        terms = terms + np.clip(step, -CAPPED_STEP_ARCMIN, CAPPED_STEP_ARCMIN)
    miss, design, mean = _linear(places, terms)
    data = miss + (design @ (terms - mean)[..., None])[..., 0]
    heights = [
        _log_marginal(design, data, _spread(terms, scale), places.rounding) for scale in CLASSES
    ]
    return np.asarray(np.logaddexp.reduce(np.stack(heights) + LOG_SHARE[:, None], axis=0))


def _start(places: Places) -> FloatArray:
    """Return terms (s, 6): the mean of the azimuth differences, all else zero."""
    difference = np.exp(1j * (places.reading_az - places.star_az))
    terms = np.zeros((places.star_az.shape[0], N_STANDARD))
    mean = (difference * np.cos(places.star_alt)).sum(axis=1)
    terms[:, 0] = np.angle(mean) * ARCMIN_PER_RADIAN
    return terms


def _linear(places: Places, terms: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return misses (s, 2n), design (s, 2n, 6) and the priors' means (s, 6) at these terms."""
    flat = linearise(
        places.star_az,
        places.star_alt,
        places.reading_az - terms[:, :1] / ARCMIN_PER_RADIAN,
        places.reading_alt - terms[:, 1:2] / ARCMIN_PER_RADIAN,
        geometry_from_arcmin(*(terms[:, j : j + 1] for j in range(2, N_STANDARD))),
    )
    count = terms.shape[0]
    mean = np.zeros_like(terms)
    mean[:, 0] = np.where(np.abs(terms[:, 0]) > FREE_AZIMUTH_BEYOND_ARCMIN, terms[:, 0], 0.0)
    return flat.miss.reshape(count, -1), flat.design.reshape(count, -1, N_STANDARD), mean


def _spread(terms: FloatArray, scale: float) -> FloatArray:
    """Return prior sds (s, 6): an azimuth index far from zero was set anyhow and is free."""
    spread = np.tile(scale * BASE_SD, (terms.shape[0], 1))
    spread[np.abs(terms[:, 0]) > FREE_AZIMUTH_BEYOND_ARCMIN, 0] = FREE_AZIMUTH_SD_ARCMIN
    return spread


def _log_marginal(
    design: FloatArray, data: FloatArray, spread: FloatArray, rounding: FloatArray
) -> FloatArray:
    """Return ln p (s,) with terms and noise integrated out (the algebra of `gaussian.py`)."""
    scaled = design * spread[:, None, :]
    eigenvalues, vectors = np.linalg.eigh(np.swapaxes(scaled, 1, 2) @ scaled)
    score = (np.swapaxes(scaled @ vectors, 1, 2) @ data[..., None])[..., 0]
    variance = np.exp(2.0 * _LOG_SIGMA) + rounding[:, None]
    total = np.maximum(eigenvalues, 0.0)[:, None, :] + variance[..., None]
    explained = (score[:, None, :] ** 2 / total).sum(axis=-1)
    misfit = np.maximum((data**2).sum(axis=1)[:, None] - explained, 0.0) / variance
    determinant = np.log(total / variance[..., None]).sum(axis=-1)
    log_p = -0.5 * (misfit + determinant + data.shape[1] * (LOG_TWO_PI + np.log(variance)))
    log_p = log_p + noise_of_portable_mounts().log_density(_LOG_SIGMA)
    return np.asarray(np.logaddexp.reduce(log_p, axis=1) + np.log(_LOG_SIGMA[1] - _LOG_SIGMA[0]))
