"""Bad pairs: how a wrong star or a slip of the pen would look, and which slip explains a pair.

A bad pair is half a wrong star (density even over a disk on the sky), half a slip of the pen: a
mixture over the slips people make, each undone and scored with the density of the place it leads
to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import log_normal, log_normal_2d
from pointmodel.estimate.observations import Observations, six_terms
from pointmodel.estimate.penslips import SAME_FIGURE_SHARE, UndoneSlips, log_shares, undo_slips
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    linearise,
    sky_from_axes,
)
from pointmodel.mount.priors import (
    PROBABILITY_BAD,
    PROBABILITY_WITHIN,
    WRONG_STAR_OF_BAD,
    WRONG_STAR_WITHIN_ARCMIN,
)
from pointmodel.mount.terms import N_STANDARD

LOG_BAD = float(np.log(PROBABILITY_BAD))
LOG_GOOD = float(np.log(1.0 - PROBABILITY_BAD))
NOTHING = -745.0  # ln of the smallest number there is
LOG_WRONG_STAR = float(np.log(WRONG_STAR_OF_BAD))
LOG_SLIP = float(np.log(1.0 - WRONG_STAR_OF_BAD))
# a wrong star is nearly always near the right one; a little density covers the rest of the sky
LOG_IN_DISK = float(np.log(PROBABILITY_WITHIN / (np.pi * WRONG_STAR_WITHIN_ARCMIN**2)))
LOG_ANYWHERE = float(np.log((1.0 - PROBABILITY_WITHIN) / (4.0 * np.pi * ARCMIN_PER_RADIAN**2)))


@dataclass(frozen=True)
class BadScores:
    """Of m pairs: ln density as a bad pair (m,), the best slip's index (m,), -1 where a wrong star
    explains the pair better, and the probability of a slip given that the pair is bad (m,)."""

    log_density: FloatArray
    best_slip: np.ndarray
    slip_share: FloatArray


@dataclass(frozen=True)
class Predictor:
    """What the good pairs say: terms, their covariance (per noise node), and noise variances.

    `mean` (6 + k,); `factor` (p, p) and `spread` (g, p) give the covariance at node g as
    factor diag(spread) factorᵀ over `columns`; `variance` (g,) and `weight` (g,).
    """

    mean: FloatArray
    columns: np.ndarray
    factor: FloatArray
    spread: FloatArray
    variance: FloatArray
    weight: FloatArray


def predictive(miss: FloatArray, design: FloatArray, predictor: Predictor) -> FloatArray:
    """Return ln predictive density (...,) of unseen misses (..., 2), design (..., 2, p)."""
    rotated = design @ predictor.factor
    x, y = rotated[..., 0, :], rotated[..., 1, :]
    noise = predictor.variance
    xx = (x * x) @ predictor.spread.T + noise
    xy = (x * y) @ predictor.spread.T
    yy = (y * y) @ predictor.spread.T + noise
    log_density = log_normal_2d(miss[..., None, :], (xx, xy, yy))
    top = log_density.max(axis=-1)
    total = np.exp(log_density - top[..., None]) @ predictor.weight
    return np.asarray(top + np.log(np.maximum(total, 1e-300)))


def log_wrong_star(miss: FloatArray) -> FloatArray:
    """Return ln density (...,) of a wrong star at misses (..., 2), arcminutes."""
    distance = np.hypot(miss[..., 0], miss[..., 1])
    return np.where(distance < WRONG_STAR_WITHIN_ARCMIN, LOG_IN_DISK, LOG_ANYWHERE)


def score_bad(
    obs: Observations, which: np.ndarray, miss: FloatArray, predictor: Predictor
) -> BadScores:
    """Return how well each of the pairs `which` (m,) is explained as a bad one.

    `miss` (m, 2) is the pair's miss from what the good pairs predict.
    """
    undone = undo_slips(
        *(
            np.degrees(array[which])
            for array in (obs.star_az, obs.star_alt, obs.reading_az, obs.reading_alt)
        )
    )
    log_slips = _log_of_slips(obs, which, undone, predictor)
    log_same = _log_same_figure(obs, which, predictor)
    log_slips = np.concatenate([log_slips, log_same[:, None]], axis=1)
    log_wrong = log_wrong_star(miss) + LOG_WRONG_STAR
    log_slip = np.logaddexp.reduce(log_slips, axis=1) + LOG_SLIP
    log_density = np.logaddexp(log_wrong, log_slip)
    best = np.where(log_slip > log_wrong, log_slips.argmax(axis=1), -1)
    return BadScores(log_density, best, np.exp(log_slip - log_density))


def _log_of_slips(
    obs: Observations,
    which: np.ndarray,
    undone: UndoneSlips,
    predictor: Predictor,
) -> FloatArray:
    mean = predictor.mean
    six, further = _six_of(obs, which, mean), mean[N_STANDARD:]
    shift_az = (six[0] + obs.az_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    shift_alt = (six[1] + obs.alt_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    lift = (obs.star_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    flat = linearise(
        np.radians(undone.star_az_deg),
        np.radians(undone.star_alt_deg) + lift,
        np.radians(undone.reading_az_deg) - shift_az,
        np.radians(undone.reading_alt_deg) - shift_alt,
        geometry_from_arcmin(*(term[..., None] for term in six[2:])),
    )
    # the further columns matter little here: their part of the covariance is left out
    standard = predictor.columns < N_STANDARD
    narrow = Predictor(
        mean=mean,
        columns=predictor.columns[standard],
        factor=predictor.factor[standard],
        spread=predictor.spread,
        variance=predictor.variance,
        weight=predictor.weight,
    )
    log_density = predictive(flat.miss, flat.design, narrow)
    return np.where(undone.possible, log_density + log_shares(), NOTHING)


def _six_of(obs: Observations, which: np.ndarray, mean: FloatArray) -> FloatArray:
    """Return the six terms of some pairs (6, m), or (6,) where all have the same."""
    six = six_terms(obs, mean)
    return six if six.ndim == 1 else six[:, which]


def _log_same_figure(obs: Observations, which: np.ndarray, predictor: Predictor) -> FloatArray:
    """Return ln density (m,) of one figure written in both columns: one coordinate tells."""
    step = max(obs.rounding.step_arcmin, 1.0 / 60.0)
    log_density = np.full(which.size, NOTHING)
    variance = float(predictor.weight @ predictor.variance) + step**2
    star = np.stack([obs.star_az[which], obs.star_alt[which]])
    reading = np.stack([obs.reading_az[which], obs.reading_alt[which]])
    close = 0.51 * step / ARCMIN_PER_RADIAN
    if min(np.abs(star[0] - star[1]).min(), np.abs(reading[0] - reading[1]).min()) > close:
        return log_density
    six = _six_of(obs, which, predictor.mean)
    expected_reading, expected_star = _expected(star, reading, six)
    for figures, expected in ((reading, expected_reading), (star, expected_star)):
        alike = np.abs(figures[0] - figures[1]) < close
        off = np.angle(np.exp(1j * (figures - expected))) * ARCMIN_PER_RADIAN
        off[0] *= np.cos(expected[1])
        one = log_normal(np.abs(off).min(axis=0), 0.0, float(np.sqrt(variance)))
        candidate = one - np.log(step) + np.log(SAME_FIGURE_SHARE / 2)
        log_density = np.where(alike, np.logaddexp(log_density, candidate), log_density)
    return log_density


def _expected(
    star: FloatArray, reading: FloatArray, six: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the readings (2, m) expected at the stars, and the stars expected at the readings."""
    geometry = geometry_from_arcmin(*six[2:])
    index = (six[:2] if six.ndim == 2 else six[:2, None]) / ARCMIN_PER_RADIAN
    az, alt, _ = axes_from_sky(directions(star[0], star[1]), geometry)
    sky = azimuth_altitude(sky_from_axes(reading[0] - index[0], reading[1] - index[1], geometry))
    return np.stack([az, alt]) + index, np.stack(sky)
