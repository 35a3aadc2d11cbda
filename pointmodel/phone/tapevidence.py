"""How well taps fit a mount, under several ways in which the eyepiece may stand: ln evidence.

Everything is linear about the terms that are fitted already. How well a person taps is known
beforehand, far better than how well a star is centred, and so is how bad a mount may be; both are
summed over a few values, the terms integrated out (the algebra of `estimate/gaussian.py`). One tap
in twenty may be of another star; the base may have been knocked once. Shapes: h ways, n pairs, c
cells (a class of mounts with a size of the noise).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray, IntArray
from pointmodel.base.normal import LOG_TWO_PI
from pointmodel.estimate.termsprior import BASE_SD, azimuth_sd
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN, geometry_from_arcmin, linearise
from pointmodel.mount.priors import FREE_AZIMUTH_SD_ARCMIN, LOG_ODDS_MOVED
from pointmodel.mount.terms import N_STANDARD
from pointmodel.readings.screen import CLASSES, LOG_SHARE

# how much better or worse than expected a person may tap: ln of the factor, one sigma; a choice
LOG_TIMES, LOG_TIMES_SD = np.array([-0.7, -0.35, 0.0, 0.35, 0.7, 1.05]), 0.45
LOG_ODDS_BAD = float(np.log(0.05 / 0.95))  # of a tap on another star; a choice
MOST_BAD = 3  # one in three: no more bad taps can be told from a wrong eyepiece
FEWEST_A_SIDE = 2  # of a knock
_LOG_P_TIMES = -0.5 * (LOG_TIMES / LOG_TIMES_SD) ** 2
_LOG_P_TIMES = _LOG_P_TIMES - np.logaddexp.reduce(_LOG_P_TIMES)
_CLASS, _TIMES = (part.ravel() for part in np.meshgrid(CLASSES, LOG_TIMES, indexing="ij"))
_LOG_WEIGHT = np.add.outer(LOG_SHARE, _LOG_P_TIMES).ravel()
_CLOSENESS = np.exp(-2.0 * _TIMES)  # (c,) by which the expected noise's inverse is multiplied


@dataclass(frozen=True)
class TapProblem:
    """Misses (h, n, 2) about the terms' prior means, with their design (h, n, 2, 6).

    `variance` (n,) is the noise to be expected of each pair an axis, arcmin²; `precision` (c, 6)
    the terms' prior; `log_bad` the ln odds of a bad pair, times the density of where it may lie.
    """

    miss: FloatArray
    design: FloatArray
    variance: FloatArray
    precision: FloatArray
    log_bad: float

    def take(self, ways: IntArray) -> TapProblem:
        """Some of the ways alone."""
        return TapProblem(
            self.miss[ways], self.design[ways], self.variance, self.precision, self.log_bad
        )


def tap_problem(
    stars: FloatArray,
    readings: FloatArray,
    terms: FloatArray,
    variance: FloatArray,
    field_arcmin: float,
) -> TapProblem:
    """Return the problem of h ways to read n pairs, linearised at six terms, arcminutes.

    `stars` (2, h, n) is where each way has the tube look, `readings` (2, n) what it read there,
    radians.
    """
    az, alt = (np.broadcast_to(part, stars[0].shape) for part in readings)
    flat = linearise(
        stars[0],
        stars[1],
        az - terms[0] / ARCMIN_PER_RADIAN,
        alt - terms[1] / ARCMIN_PER_RADIAN,
        geometry_from_arcmin(*terms[2:N_STANDARD]),
    )
    spread = _CLASS[:, None] * BASE_SD
    spread[:, 0] = _CLASS * azimuth_sd(float(terms[0]))
    about = terms.copy()
    if azimuth_sd(float(terms[0])) >= FREE_AZIMUTH_SD_ARCMIN:
        about[0] = 0.0  # a free azimuth zero stands about where it was found
    return TapProblem(
        miss=flat.miss + flat.design @ about,
        design=flat.design,
        variance=variance,
        precision=1.0 / spread**2,
        log_bad=LOG_ODDS_BAD - 2.0 * float(np.log(field_arcmin)),
    )


def quick_log_evidences(problem: TapProblem) -> FloatArray:
    """Return ln evidence (h,) of each way, every pair good and nothing knocked."""
    ways, pairs = problem.miss.shape[:2]
    everything = np.ones((ways, _CLASS.size, pairs))
    return np.asarray(np.logaddexp.reduce(_solved(problem, everything).log_p + _LOG_WEIGHT, axis=1))


def log_evidences(problem: TapProblem) -> FloatArray:
    """Return ln evidence (h,) of each way, with bad taps left out and one knock thought of."""
    best = np.logaddexp.reduce(_with_bad_left_out(problem) + _LOG_WEIGHT, axis=1)
    if problem.miss.shape[1] < 2 * FEWEST_A_SIDE:
        return np.asarray(best)
    return np.logaddexp(best, _knocked(problem))


@dataclass(frozen=True)
class _Solved:
    """Terms (h, c, 6) with their covariance, and ln p (h, c) of the pairs that count."""

    terms: FloatArray
    covariance: FloatArray
    log_p: FloatArray


def _solved(problem: TapProblem, counts: FloatArray) -> _Solved:
    """Solve for the pairs that count (h, c, n), 1 or 0."""
    weight = counts * (_CLOSENESS[:, None] / problem.variance)
    design, miss = problem.design, problem.miss
    gram = np.einsum("hnij,hnik->hnjk", design, design)
    pull = np.einsum("hnij,hni->hnj", design, miss)
    square = (miss**2).sum(axis=-1)
    information = np.einsum("hcn,hnjk->hcjk", weight, gram)
    information += problem.precision[:, :, None] * np.eye(N_STANDARD)
    score = np.einsum("hcn,hnj->hcj", weight, pull)
    covariance = np.linalg.inv(information)
    terms = (covariance @ score[..., None])[..., 0]
    misfit = np.einsum("hcn,hn->hc", weight, square) - (score * terms).sum(axis=-1)
    log_noise = LOG_TWO_PI + np.log(problem.variance) + 2.0 * _TIMES[:, None]
    log_p = -0.5 * (misfit + np.linalg.slogdet(information)[1]) - (counts * log_noise).sum(axis=-1)
    log_p += 0.5 * np.log(problem.precision).sum(axis=-1)
    return _Solved(terms, covariance, log_p)


def _with_bad_left_out(problem: TapProblem) -> FloatArray:
    """Return ln p (h, c), the pair that fits least left out as long as that gains, one by one."""
    ways, pairs = problem.miss.shape[:2]
    counts = np.ones((ways, _CLASS.size, pairs))
    best = np.full(counts.shape[:2], -np.inf)
    for left_out in range(pairs // MOST_BAD + 1):
        solved = _solved(problem, counts)
        bad = (counts == 0.0).sum(axis=-1) * problem.log_bad
        best = np.maximum(best, solved.log_p + bad)
        if left_out == pairs // MOST_BAD:
            break
        gain = np.where(counts > 0.0, problem.log_bad - _log_p_left_out(problem, solved), -np.inf)
        worst = gain.argmax(axis=-1)[..., None]
        drops = np.take_along_axis(gain, worst, axis=-1) > 0.0
        if not drops.any():
            break
        kept = np.where(drops, 0.0, np.take_along_axis(counts, worst, axis=-1))
        np.put_along_axis(counts, worst, kept, axis=-1)
    return best


def _log_p_left_out(problem: TapProblem, solved: _Solved) -> FloatArray:
    """Return ln p (h, c, n) of each pair given the others that count.

    From the inverse of the pairs' joint covariance: its block of a pair is the inverse of what the
    others leave of it (Rasmussen & Williams, Gaussian Processes, section 5.4.2).
    """
    close = (_CLOSENESS[:, None] / problem.variance)[None, :, :, None]
    left = problem.miss[:, None] - np.einsum("hnij,hcj->hcni", problem.design, solved.terms)
    reach = np.einsum("hnij,hcjk->hcnik", problem.design, solved.covariance)
    known = np.einsum("hcnik,hnlk->hcnil", reach, problem.design)
    block = np.eye(2) * close[..., None] - known * close[..., None] ** 2
    pull = left * close
    determinant = block[..., 0, 0] * block[..., 1, 1] - block[..., 0, 1] ** 2
    determinant = np.maximum(determinant, 1e-300)
    x, y = pull[..., 0], pull[..., 1]
    square = block[..., 1, 1] * x**2 - 2.0 * block[..., 0, 1] * x * y + block[..., 0, 0] * y**2
    return np.asarray(-0.5 * (square / determinant - np.log(determinant)) - LOG_TWO_PI)


def _knocked(problem: TapProblem) -> FloatArray:
    """Return ln evidence (h,) of a mount that was knocked once: as two mounts, one after another.

    The odds of a knock are those of a log that fits badly, shared over the places.
    """
    pairs = problem.miss.shape[1]
    cuts = np.arange(FEWEST_A_SIDE, pairs - FEWEST_A_SIDE + 1)
    before = np.arange(pairs) < cuts[:, None]
    parts = [_log_p_of_parts(problem, side) for side in (before, ~before)]
    every = np.logaddexp.reduce(parts[0] + parts[1] + _LOG_WEIGHT[:, None], axis=(1, 2))
    return np.asarray(every + LOG_ODDS_MOVED - np.log(cuts.size))


def _log_p_of_parts(problem: TapProblem, parts: BoolArray) -> FloatArray:
    """Return ln p (h, c, k) of each part of the pairs, (k, n) true where a pair is in it."""
    inside = parts / problem.variance
    design, miss = problem.design, problem.miss
    gram = np.einsum("kn,hnij,hnil->hkjl", inside, design, design, optimize=True)
    score = np.einsum("kn,hnij,hni->hkj", inside, design, miss, optimize=True)
    square = np.einsum("kn,hn->hk", inside, (miss**2).sum(axis=-1))
    log_noise = parts @ (LOG_TWO_PI + np.log(problem.variance))
    count = parts.sum(axis=-1)
    close = _CLOSENESS[:, None]
    information = gram[:, None] * close[..., None, None]
    information = information + (problem.precision[:, None, :, None] * np.eye(N_STANDARD))
    pull = score[:, None] * close[..., None]
    terms = np.linalg.solve(information, pull[..., None])[..., 0]
    misfit = square[:, None] * close - (pull * terms).sum(axis=-1)
    log_p = -0.5 * (misfit + np.linalg.slogdet(information)[1])
    log_p += 0.5 * np.log(problem.precision).sum(axis=-1)[:, None]
    return np.asarray(log_p - log_noise - 2.0 * _TIMES[:, None] * count)
