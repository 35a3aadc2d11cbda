"""A night summed up: what its pairs alone say of the six terms, small enough for a thousand nights.

Read `estimate/posterior.py` first. Prior knowledge of the mount must not be counted once a night,
so the prior of the single fit is put aside: the terms are asked for again under one that is next to
flat, averaged over noise and further terms as the fit does it, and that flat one is taken out too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import Notice
from pointmodel.base.times import fixed_zone
from pointmodel.estimate import gaussian
from pointmodel.estimate.observations import Addition
from pointmodel.estimate.posterior import mix_of
from pointmodel.estimate.reported import radial_rms
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.termsprior import TermsPrior
from pointmodel.fitting.turn import logged_misses
from pointmodel.mount.terms import N_STANDARD

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit
    from pointmodel.reading.nightlog import NightLog

NEXT_TO_FLAT_ARCMIN = 1000.0  # far wider than what nights differ by
LEAST_SHARE = 1e-7  # of the flat prior's information: less is rounding of the machine
MOST_MODELS = 6  # further terms hardly ever leave more to average over


@dataclass(frozen=True, eq=False)
class Quadratic:
    """The sum of squares of a night's misses, rows scaled for rounding, about `at` (6,).

    A step d of the six terms leaves `square` − 2 dᵀ`cross` + dᵀ`gram` d, arcmin²; further terms are
    held where the fit has them. `pairs` were used.
    """

    at: FloatArray
    gram: FloatArray
    cross: FloatArray
    square: float
    pairs: int


@dataclass(frozen=True, eq=False)
class NightSummary:
    """One night summed up.

    Its pairs say of the six terms: normal, likeliest at `mean` (6,), with `information` (6, 6), the
    inverse covariance, zero in directions that they do not show; arcminutes. `fitted` (6,) are the
    terms of the night's own fit. ln of the noise an axis is normal: `log_sigma` of its unknown
    part, `log_noise` of all of it. `misses` tells how other terms would fare at the pairs of the
    last segment.
    """

    source: str
    name: str
    inputs: tuple[str, ...]
    mount_name: str | None
    is_aligned: bool
    start: str | None
    start_s: float | None
    pairs: int
    pairs_read: int
    sigma_arcmin: float
    before_rms_arcmin: float
    behind_turn_rms_arcmin: float
    after_rms_arcmin: float
    mean: FloatArray
    information: FloatArray
    fitted: FloatArray
    log_sigma_mean: float
    log_sigma_sd: float
    log_noise_mean: float
    log_noise_sd: float
    misses: Quadratic
    warnings: tuple[Notice, ...]


def summary_of(fit: Fit) -> NightSummary:
    """Return a fitted night summed up."""
    information, pull = _over_segments(fit)
    sigma = fit.solution.posterior.draws_sigma
    log_sigma = np.log(sigma)
    log_noise = 0.5 * np.log(sigma**2 + fit.solution.settings.noise.floor)
    fitted = fit.solution.posterior.mean[:N_STANDARD]
    beyond = np.linalg.pinv(information, hermitian=True) @ (pull - information @ fitted)
    start, start_s = _start(fit.log)
    return NightSummary(
        source=fit.log.source,
        name=fit.log.name,
        inputs=fit.inputs,
        mount_name=fit.log.mount.name,
        is_aligned=fit.log.mount.lean_is_hidden,
        start=start,
        start_s=start_s,
        pairs=fit.pairs_used,
        pairs_read=fit.pairs_read,
        sigma_arcmin=fit.noise.sigma_arcmin,
        before_rms_arcmin=fit.before_rms_arcmin,
        behind_turn_rms_arcmin=_behind_turn(fit),
        after_rms_arcmin=fit.residual_rms_arcmin,
        mean=fitted + beyond,
        information=information,
        fitted=fitted.copy(),
        log_sigma_mean=float(log_sigma.mean()),
        log_sigma_sd=float(log_sigma.std()),
        log_noise_mean=float(log_noise.mean()),
        log_noise_sd=float(log_noise.std()),
        misses=_misses(fit.solution),
        warnings=fit.warnings,
    )


def _behind_turn(fit: Fit) -> float:
    """Return the RMS of the misses as logged, a large turn of the azimuth circle left out."""
    logged = logged_misses(fit.pair_results)
    return radial_rms(logged.x_arcmin, logged.y_arcmin, ~fit.pair_results.set_aside)


def _over_segments(fit: Fit) -> tuple[FloatArray, FloatArray]:
    """Return information (6, 6) and pull (6,) on the terms as they stand at the end of the log.

    Earlier segments speak of what the events between left alone.
    """
    information, pull = np.zeros((N_STANDARD, N_STANDARD)), np.zeros(N_STANDARD)
    for segment, (_, solution) in zip(fit.parts, fit.segments, strict=True):
        if information.any():
            information, pull = _without(information, pull, list(segment.renewed))
        more = said_by_pairs(solution)
        information, pull = information + more[0], pull + more[1]
    return information, pull


def _without(
    information: FloatArray, pull: FloatArray, gone: list[int]
) -> tuple[FloatArray, FloatArray]:
    """Return what is left of information and pull when some terms may be anything.

    Terms are integrated out in the information form by Schur's complement: of the rest stays
    Λ_rr − Λ_rg Λ_gg⁻¹ Λ_gr (Bishop, Pattern Recognition and Machine Learning, section 2.3.2).
    """
    inner = np.linalg.pinv(information[np.ix_(gone, gone)], hermitian=True)
    through = information[:, gone] @ inner
    left = information - through @ information[gone]
    left_pull = pull - through @ pull[gone]
    left[gone] = left[:, gone] = left_pull[gone] = 0.0
    return left, left_pull


def said_by_pairs(solution: Solution) -> tuple[FloatArray, FloatArray]:
    """Return information (6, 6) and pull (6,) = information times likeliest terms, of the pairs.

    Informations of independent sources add, so that of the flat prior is taken off the posterior's
    again: Λ = C⁻¹ − I / s². A direction in which the pairs say less than a ten-millionth of what
    the flat prior does is unseen.
    """
    centre = solution.posterior.mean[:N_STANDARD]
    mean, covariance = _under_flat_prior(solution, centre)
    scaled = NEXT_TO_FLAT_ARCMIN**2 * np.linalg.inv(covariance)
    eigenvalues, vectors = np.linalg.eigh(0.5 * (scaled + scaled.T))
    said = np.where(eigenvalues - 1.0 > LEAST_SHARE, eigenvalues - 1.0, 0.0)
    seen = (said > 0.0) * eigenvalues
    information = (vectors * said) @ vectors.T / NEXT_TO_FLAT_ARCMIN**2
    step = (vectors * seen) @ vectors.T @ (mean - centre) / NEXT_TO_FLAT_ARCMIN**2
    return information, information @ centre + step


def _under_flat_prior(solution: Solution, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean (6,) and covariance (6, 6) of the terms under a wide prior about `centre` (6,).

    Mixed over noise and over the same further terms as the posterior.
    """
    spread = np.full((1, N_STANDARD), NEXT_TO_FLAT_ARCMIN)
    prior = TermsPrior(centre[None], spread, np.zeros(1))
    result, table = solution.candidate.result, solution.posterior.table
    mixes = [mix_of(table, model, prior, result.noise) for model in _models(solution)]
    weight, _ = gaussian.normalised(np.concatenate([mix.log_weight[0] for mix in mixes]))
    means, within = [], []
    for mix in mixes:
        variance = mix.noise.variance[:, None]
        inverse = 1.0 / (mix.eigenvalues[0] + variance)
        basis = mix.basis[0, :N_STANDARD]
        means.append(mix.offset[0, :N_STANDARD] + (mix.score[0] * inverse) @ basis.T)
        within.append((basis * (variance * inverse)[:, None, :]) @ basis.T)
    mean = np.concatenate(means)
    centre = weight @ mean
    about = mean - centre
    covariance = np.tensordot(weight, np.concatenate(within), 1) + (about.T * weight) @ about
    return centre, np.asarray(covariance)


def _models(solution: Solution) -> list[tuple[Addition, ...]]:
    """Return the further terms of the final model, of its deletions and of its additions."""
    hypothesis = solution.candidate.result.hypothesis
    chosen = hypothesis.chosen
    fewer = [tuple(a for a in chosen if a is not gone) for gone in hypothesis.optional]
    more = [(*chosen, new) for new in solution.posterior.additions]
    return [chosen, *fewer, *more][:MOST_MODELS]


def _misses(solution: Solution) -> Quadratic:
    """Return the sum of squares of the misses about the fitted terms."""
    posterior, moments = solution.posterior, solution.posterior.table.moments
    step = -posterior.table.prior_mean
    step[posterior.places] += posterior.mean
    pulled = moments.gram @ step
    square = moments.square - 2.0 * float(step @ moments.cross) + float(step @ pulled)
    return Quadratic(
        posterior.mean[:N_STANDARD].copy(),
        moments.gram[:N_STANDARD, :N_STANDARD],
        (moments.cross - pulled)[:N_STANDARD],
        max(square, 0.0),
        moments.numbers // 2,
    )


def _start(log: NightLog) -> tuple[str | None, float | None]:
    """Return when the first pair was centred: ISO 8601 in the zone of the log, POSIX seconds."""
    known = log.time_s[np.isfinite(log.time_s)]
    if not known.size:
        return None, None
    start_s = float(known.min())
    zone = log.mount.zone or fixed_zone(log.time_offset_s or 0.0)
    return datetime.fromtimestamp(start_s, zone).isoformat(timespec="seconds"), start_s
