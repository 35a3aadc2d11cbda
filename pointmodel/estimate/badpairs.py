"""Bad pairs: how a wrong star or a slip of the pen would look, and which slip explains a pair.

Read `penslips.py` and `lostfigures.py` first.

A bad pair is half a wrong star (density even over a disk on the sky), half a slip of the pen: a
mixture over the slips people make, each undone and scored with the density of the place it leads
to.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import FloatArray, IntArray
from pointmodel.base.normal import log_normal_2d
from pointmodel.estimate.lostfigures import (
    LOST_SLIPS,
    NOTHING,
    LostSlip,
    Written,
    log_lost,
)
from pointmodel.estimate.observations import Observations, six_terms
from pointmodel.estimate.penslips import (
    SIDES,
    Figures,
    UndoneSlips,
    cases,
    log_shares,
    slip_hint,
    undo_slips,
)
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
LOG_WRONG_STAR = float(np.log(WRONG_STAR_OF_BAD))
LOG_SLIP = float(np.log(1.0 - WRONG_STAR_OF_BAD))
# a wrong star is nearly always near the right one; a little density covers the rest of the sky
LOG_IN_DISK = float(np.log(PROBABILITY_WITHIN / (np.pi * WRONG_STAR_WITHIN_ARCMIN**2)))
LOG_ANYWHERE = float(np.log((1.0 - PROBABILITY_WITHIN) / (4.0 * np.pi * ARCMIN_PER_RADIAN**2)))


@dataclass(frozen=True)
class Explained:
    """The slip that explains a pair best: what is said of it, on which side, what was meant there.

    `about`: the other lines alone say what was meant, not the figures. `either`: the same slip the
    other way on the other side would explain the pair as well.
    """

    hint: str
    side: str
    az_deg: float
    alt_deg: float
    about: bool = False
    either: bool = False


WRONG_STAR_CASE = -1  # among the cases of slips
SCORED_AT_ONCE = 2000  # a choice, for memory: each pair is undone in some fifty ways


@dataclass(frozen=True)
class BadScores:
    """Of m pairs: ln density as a bad pair (m,), the probability of a slip given that the pair is
    bad (m,), the case of the likeliest slip (m,), `WRONG_STAR_CASE` where a wrong star does better,
    and the figures (m, 2), degrees, that were meant if that is what happened.

    Cases are those of `cases()`, then the lost slips of one side and of the other.
    """

    log_density: FloatArray
    slip_share: FloatArray
    case: IntArray
    meant_deg: FloatArray

    @cached_property
    def best_slip(self) -> tuple[Explained | None, ...]:
        """The slip that explains each pair best, None where a wrong star does better."""
        pairs = zip(self.case.tolist(), self.meant_deg.tolist(), strict=True)
        return tuple(
            None if case == WRONG_STAR_CASE else _explained(case, *meant) for case, meant in pairs
        )


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
    flat = design.reshape(-1, design.shape[-1]) @ predictor.factor
    rotated = flat.reshape(*design.shape[:-1], -1)
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
    starts = range(0, max(which.size, 1), SCORED_AT_ONCE)
    parts = [
        _scored(obs, which[k : k + SCORED_AT_ONCE], miss[k : k + SCORED_AT_ONCE], predictor)
        for k in starts
    ]
    if len(parts) == 1:
        return parts[0]
    return BadScores(
        log_density=np.concatenate([part.log_density for part in parts]),
        slip_share=np.concatenate([part.slip_share for part in parts]),
        case=np.concatenate([part.case for part in parts]),
        meant_deg=np.concatenate([part.meant_deg for part in parts]),
    )


def _scored(
    obs: Observations, which: np.ndarray, miss: FloatArray, predictor: Predictor
) -> BadScores:
    undone = undo_slips(
        *(
            np.degrees(array[which])
            for array in (obs.star_az, obs.star_alt, obs.reading_az, obs.reading_alt)
        )
    )
    written = _as_written(obs, which, predictor)
    parts = [_log_of_slips(obs, which, undone, predictor)]
    parts += [log_lost(written[side]) for side in SIDES]
    log_slips = np.concatenate(parts, axis=1)
    log_wrong = log_wrong_star(miss) + LOG_WRONG_STAR
    log_slip = np.logaddexp.reduce(log_slips, axis=1) + LOG_SLIP
    log_density = np.logaddexp(log_wrong, log_slip)
    case = np.where(log_slip > log_wrong, log_slips.argmax(axis=1), WRONG_STAR_CASE)
    return BadScores(
        log_density=log_density,
        slip_share=np.exp(log_slip - log_density),
        case=case,
        meant_deg=_meant(case, undone, written),
    )


def _meant(case: IntArray, undone: UndoneSlips, written: dict[str, Written]) -> FloatArray:
    """Return the figures (m, 2) that were meant, NaN of a wrong star."""
    meant = np.full((case.size, 2), np.nan)
    for one in set(case.tolist()) - {WRONG_STAR_CASE}:
        rows = case == one
        meant[rows] = np.stack(_figures_meant(one, undone, written), axis=-1)[rows]
    return meant


def _figures_meant(case: int, undone: UndoneSlips, written: dict[str, Written]) -> Figures:
    """Return azimuths and altitudes (m,) that all pairs would have meant by one slip."""
    listed = cases()
    if case < len(listed):
        if listed[case].side == "centred":
            return undone.reading_az_deg[:, case], undone.reading_alt_deg[:, case]
        return undone.star_az_deg[:, case], undone.star_alt_deg[:, case]
    slip, side = _lost_case(case)
    return slip.meant(written[side])


def _lost_case(case: int) -> tuple[LostSlip, str]:
    which, lost = divmod(case - len(cases()), len(LOST_SLIPS))
    return list(LOST_SLIPS.values())[lost], SIDES[which]


def _explained(case: int, az_deg: float, alt_deg: float) -> Explained:
    """Return what is said of a slip by which these figures were meant."""
    listed = cases()
    if case < len(listed):
        slip, side = listed[case]
        return Explained(slip_hint(case), side, az_deg, alt_deg, either=slip.either)
    lost, side = _lost_case(case)
    about = not lost.name.endswith("_digit")
    return Explained(lost.hint.format(side=side), side, az_deg, alt_deg, about=about)


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


def _as_written(obs: Observations, which: np.ndarray, predictor: Predictor) -> dict[str, Written]:
    """Return the figures of some pairs (m,) on either side, with what the good pairs expect."""
    further = predictor.mean[N_STANDARD:]
    six = _six_of(obs, which, predictor.mean)
    shift = np.stack([obs.az_shape[which] @ further, obs.alt_shape[which] @ further])
    lift = (obs.star_shape[which] @ further) / ARCMIN_PER_RADIAN
    index = ((six[:2] if six.ndim == 2 else six[:2, None]) + shift) / ARCMIN_PER_RADIAN
    star, reading = _figures(obs.star_az, obs.star_alt), _figures(obs.reading_az, obs.reading_alt)
    geometry = geometry_from_arcmin(*six[2:])
    az, alt, _ = axes_from_sky(directions(star[0, which], star[1, which] + lift), geometry)
    sky = azimuth_altitude(sky_from_axes(*_both(reading[:, which] - index), geometry))
    rounding = obs.rounding
    # what the terms add to the noise is on average what they take of the degrees of freedom
    noise = float(predictor.weight @ predictor.variance) * (1.0 + N_STANDARD / (2.0 * obs.count))
    sides = {
        "centred": (reading, star, np.stack([az, alt]) + index, rounding.reading_step_arcmin),
        "commanded": (star, reading, np.stack([sky[0], sky[1] - lift]), rounding.star_step_arcmin),
    }
    return {
        side: _written(which, figures, other, expected=expected, noise=noise, step_arcmin=step)
        for side, (figures, other, expected, step) in sides.items()
    }


def _both(places: FloatArray) -> tuple[FloatArray, FloatArray]:
    return places[0], places[1]


def _figures(az: FloatArray, alt: FloatArray) -> FloatArray:
    return np.stack([az, alt])


FINEST_STEP_ARCMIN = 1.0 / 60.0  # a choice: what is written more finely was hardly written by hand


def _written(
    which: np.ndarray,
    figures: FloatArray,
    other: FloatArray,
    *,
    expected: FloatArray,
    noise: float,
    step_arcmin: float,
) -> Written:
    """Return one side's figures (2, n), those expected (2, m), radians, as the slips see them."""
    step = max(step_arcmin, FINEST_STEP_ARCMIN)
    before = np.where(which > 0, np.degrees(figures[:, which - 1]), np.nan)
    there, beside = np.degrees(figures[:, which]), np.degrees(other[:, which])
    beside_before = np.where(which > 0, np.degrees(other[:, which - 1]), np.nan)
    return Written(
        az_deg=there[0],
        alt_deg=there[1],
        before_az_deg=before[0],
        before_alt_deg=before[1],
        expected_az_deg=wrap_360_deg(np.degrees(expected[0])),
        expected_alt_deg=np.degrees(expected[1]),
        other_copied=(np.abs(beside - beside_before) < SAME_PLACE_DEG).all(axis=0),
        sd_arcmin=float(np.sqrt(noise + step**2 / 12.0)),
        step_arcmin=step,
    )


SAME_PLACE_DEG = 1e-6
