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
from pointmodel.estimate.observations import Observations
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    linearise,
    sky_from_axes,
)
from pointmodel.mount.terms import N_STANDARD

LOG_BAD = float(np.log(0.04))
LOG_GOOD = float(np.log(0.96))
WRONG_STAR_DISK_ARCMIN = 600.0
NOTHING = -745.0  # ln of the smallest number there is
LOG_HALF = float(np.log(0.5))
# a wrong star is nearly always near the right one; a little density covers the rest of the sky
LOG_IN_DISK = float(np.log(0.95 / (np.pi * WRONG_STAR_DISK_ARCMIN**2)))
LOG_ANYWHERE = float(np.log(0.05 / (4.0 * np.pi * ARCMIN_PER_RADIAN**2)))


@dataclass(frozen=True)
class SlipKind:
    """One slip of the pen: its prior weight among slips and how a person would name it."""

    weight: float
    hint: str


SAME_FIGURE = SlipKind(0.02, "one figure stands in both columns (azimuth and altitude alike)")


@dataclass(frozen=True)
class UndoneSlips:
    """Figures with each slip undone: (m, k) arrays in degrees, and where a slip was possible."""

    star_az_deg: FloatArray
    star_alt_deg: FloatArray
    reading_az_deg: FloatArray
    reading_alt_deg: FloatArray
    possible: np.ndarray


Figures = tuple[FloatArray, FloatArray]


def _shifts() -> list[tuple[float, float, float, str]]:
    """Return (az shift, alt shift, weight, wording) that undo slips of whole degrees."""
    shifts = []
    for size, weight in ((1.0, 0.25), (10.0, 0.25)):
        for sign in (1.0, -1.0):
            for in_azimuth in (True, False):
                word = "low" if sign > 0 else "high"
                other = "high" if sign > 0 else "low"
                name = "azimuth" if in_azimuth else "altitude"
                hint = (
                    f"{name} reads {size:.0f}° {word} (or the commanded {name} {size:.0f}° {other})"
                )
                undo = (sign * size, 0.0) if in_azimuth else (0.0, sign * size)
                shifts.append((*undo, weight / 8.0, hint))
    return shifts


SHIFTS = _shifts()


def _swap_digits(degrees: FloatArray, high: int) -> FloatArray:
    """Swap the digits of 10**high and 10**(high-1) in the whole degrees, the sign kept."""
    size = np.abs(degrees)
    whole = np.floor(size + 1e-9)
    upper = np.floor(whole / 10**high) % 10
    lower = np.floor(whole / 10 ** (high - 1)) % 10
    change = (lower - upper) * (10**high - 10 ** (high - 1))
    return np.asarray(np.sign(degrees) * (size + change))


def _swap_minutes(degrees: FloatArray) -> FloatArray:
    size = np.abs(degrees)
    whole = np.floor(size + 1e-9)
    minutes = (size - whole) * 60.0
    full = np.floor(minutes + 1e-6)
    swapped = (full % 10) * 10 + np.floor(full / 10)
    changed = np.where(swapped < 60, size + (swapped - full) / 60.0, size)
    return np.asarray(np.sign(degrees) * changed)


def _column_slips(az: FloatArray, alt: FloatArray) -> list[Figures]:
    """Return the slips of one pair of figures undone, in the order of `COLUMN_SLIPS`."""
    return [
        (az, -alt),
        (_swap_digits(az, 1), alt),
        (_swap_digits(az, 2), alt),
        (az, _swap_digits(alt, 1)),
        (alt, az),
        (_swap_minutes(az), alt),
        (az, _swap_minutes(alt)),
    ]


COLUMN_SLIPS = (
    SlipKind(0.15 / 2, "sign of {side} altitude wrong"),
    SlipKind(0.20 / 6, "digits of {side} azimuth swapped"),
    SlipKind(0.20 / 6, "digits of {side} azimuth swapped"),
    SlipKind(0.20 / 6, "digits of {side} altitude swapped"),
    SlipKind(0.10 / 2, "columns swapped ({side} azimuth and altitude)"),
    SlipKind(0.05 / 4, "minute digits of {side} azimuth swapped"),
    SlipKind(0.05 / 4, "minute digits of {side} altitude swapped"),
)
SLIP_KINDS = (
    # whole degrees look nearly alike on either side of the log: one wording for both
    *(SlipKind(weight, hint) for _ in range(2) for _, _, weight, hint in SHIFTS),
    *(
        SlipKind(kind.weight, kind.hint.format(side=side))
        for side in ("centred", "commanded")
        for kind in COLUMN_SLIPS
    ),
)
LOG_SLIP_WEIGHT = np.log([kind.weight for kind in SLIP_KINDS])


def undo_slips(
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
) -> UndoneSlips:
    """Return the figures of m pairs (m,) with every slip of `SLIP_KINDS` undone, (m, k)."""
    star = (star_az_deg, star_alt_deg)
    reading = (reading_az_deg, reading_alt_deg)
    cases = [(star, (reading[0] + az, reading[1] + alt)) for az, alt, _, _ in SHIFTS]
    cases += [((star[0] - az, star[1] - alt), reading) for az, alt, _, _ in SHIFTS]
    cases += [(star, figures) for figures in _column_slips(*reading)]
    cases += [(figures, reading) for figures in _column_slips(*star)]
    stacked = [np.stack([case[i][j] for case in cases], axis=-1) for i in (0, 1) for j in (0, 1)]
    differs = np.zeros(stacked[0].shape, dtype=bool)
    for array, original in zip(stacked, (*star, *reading), strict=True):
        differs |= np.abs(array - original[:, None]) > 1e-6
    possible = differs & (np.abs(stacked[1]) <= 90.0) & (np.abs(stacked[3]) <= 90.0)
    star_az, star_alt, reading_az, reading_alt = stacked
    return UndoneSlips(star_az, star_alt, reading_az, reading_alt, possible)


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
    return np.where(distance < WRONG_STAR_DISK_ARCMIN, LOG_IN_DISK, LOG_ANYWHERE)


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
    log_wrong = log_wrong_star(miss) + LOG_HALF
    log_slip = np.logaddexp.reduce(log_slips, axis=1) + LOG_HALF
    log_density = np.logaddexp(log_wrong, log_slip)
    best = np.where(log_slip > log_wrong, log_slips.argmax(axis=1), -1)
    return BadScores(log_density, best, np.exp(log_slip - log_density))


def slip_hint(best_slip: int) -> str:
    """Return the wording of the slip with this index in the scores."""
    return (*SLIP_KINDS, SAME_FIGURE)[best_slip].hint


def _log_of_slips(
    obs: Observations,
    which: np.ndarray,
    undone: UndoneSlips,
    predictor: Predictor,
) -> FloatArray:
    mean = predictor.mean
    further = mean[N_STANDARD:]
    shift_az = (mean[0] + obs.az_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    shift_alt = (mean[1] + obs.alt_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    lift = (obs.star_shape[which] @ further)[:, None] / ARCMIN_PER_RADIAN
    flat = linearise(
        np.radians(undone.star_az_deg),
        np.radians(undone.star_alt_deg) + lift,
        np.radians(undone.reading_az_deg) - shift_az,
        np.radians(undone.reading_alt_deg) - shift_alt,
        geometry_from_arcmin(*mean[2:N_STANDARD]),
    )
    # the further columns matter little here: their part of the covariance is left out
    standard = predictor.columns < N_STANDARD
    narrow = Predictor(
        mean,
        predictor.columns[standard],
        predictor.factor[standard],
        predictor.spread,
        predictor.variance,
        predictor.weight,
    )
    log_density = predictive(flat.miss, flat.design, narrow)
    return np.where(undone.possible, log_density + LOG_SLIP_WEIGHT, NOTHING)


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
    expected_reading, expected_star = _expected(star, reading, predictor.mean)
    for figures, expected in ((reading, expected_reading), (star, expected_star)):
        alike = np.abs(figures[0] - figures[1]) < close
        off = np.angle(np.exp(1j * (figures - expected))) * ARCMIN_PER_RADIAN
        off[0] *= np.cos(expected[1])
        one = log_normal(np.abs(off).min(axis=0), 0.0, float(np.sqrt(variance)))
        candidate = one - np.log(step) + np.log(SAME_FIGURE.weight / 2)
        log_density = np.where(alike, np.logaddexp(log_density, candidate), log_density)
    return log_density


def _expected(
    star: FloatArray, reading: FloatArray, mean: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the readings (2, m) expected at the stars, and the stars expected at the readings."""
    geometry = geometry_from_arcmin(*mean[2:N_STANDARD])
    index = mean[:2, None] / ARCMIN_PER_RADIAN
    az, alt, _ = axes_from_sky(directions(star[0], star[1]), geometry)
    sky = azimuth_altitude(sky_from_axes(reading[0] - index[0], reading[1] - index[1], geometry))
    return np.stack([az, alt]) + index, np.stack(sky)
