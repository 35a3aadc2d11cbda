"""A hypothesis evaluated: which pairs are good, which further terms there are, what follows.

Read `observations.py` and `gaussian.py` first. `settle` finds where to linearise; `leave_one_out`
asks of each pair how it looks to the others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import LOG_TWO_PI, log_normal_2d
from pointmodel.estimate import gaussian, termsprior
from pointmodel.estimate.badpairs import (
    Predictor,
)
from pointmodel.estimate.carried import Carried
from pointmodel.estimate.gaussian import Moments, NoiseGrid, NoisePrior, Spectrum
from pointmodel.estimate.observations import (
    Addition,
    LinearProblem,
    Observations,
    circular_middle_deg,
    linear_problem,
)
from pointmodel.estimate.termsprior import TermsPrior
from pointmodel.estimate.ties import Ties
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.terms import N_STANDARD

SEARCH_NODES = 20  # of the noise; measured: twice as many move no limit by a thousandth
KNOW_THEIR_NOISE = 12  # measured: so many pairs need not be told that a set-up was careless
MANY_PAIRS = 300  # from here on a search by single pairs would grow with their square
LARGEST_STEP_ARCMIN = 0.3 * ARCMIN_PER_RADIAN  # beyond, the linearised sky leads astray
LARGEST_TERM_ARCMIN = 2400.0  # 40°: more is no mount but a log of nonsense
LEAST_LEFT = 1e-9  # what rounding of the machine leaves of nothing
FIRST_GUESS_VARIANCE = 4.0  # arcmin²: of a beginner's log
MOST_STEPS = 12  # measured: clean nights settle in two
HOPELESS_VARIANCE = 900.0  # arcmin²: half a degree of noise is bad pairs, not noise


@dataclass(frozen=True)
class Hypothesis:
    """A set of good pairs (n,) and of further terms, with where to linearise next (6 + k,).

    `ties` say which terms are held or tied, where a user asked for that.
    """

    obs: Observations
    chosen: tuple[Addition, ...]
    good: np.ndarray
    at: FloatArray
    ties: Ties | None = None

    @property
    def optional(self) -> tuple[Addition, ...]:
        """The further terms that could be dropped again."""
        return self.chosen[len(self.obs.always) :]

    @property
    def columns(self) -> np.ndarray:
        """The columns of the design that this hypothesis uses."""
        further = [N_STANDARD + c for addition in self.chosen for c in addition.columns]
        return np.array([*range(N_STANDARD), *further], dtype=int)


@dataclass(frozen=True)
class Rows:
    """The linear problem, rows divided by √ρ: design (n, 2, p), data (n, 2) about the prior mean.

    `rho` (n, 2) is each row's variance over the common one. All columns are there, used or not.
    """

    design: FloatArray
    data: FloatArray
    rho: FloatArray
    prior_mean: FloatArray


@dataclass(frozen=True)
class Evaluation:
    """A hypothesis with its posterior: noise nodes and weights (g,), mean (6 + k,), evidence.

    `spread` is that of the prior used: sds (p,) of the columns in use, or a root (p, p), or (p, f)
    where terms are tied and f of them are free.
    """

    hypothesis: Hypothesis
    problem: LinearProblem
    rows: Rows
    spread: FloatArray
    spectrum: Spectrum
    noise: NoiseGrid
    weight: FloatArray
    mean: FloatArray
    log_evidence: float

    @property
    def variance(self) -> float:
        """The posterior mean of the total noise variance, arcmin²."""
        return float(self.weight @ self.noise.variance)

    def predictor(self) -> Predictor:
        """Return what the good pairs predict for others."""
        spread = self.noise.variance[:, None] / (
            self.spectrum.eigenvalues[0] + self.noise.variance[:, None]
        )
        columns = self.hypothesis.columns
        return Predictor(
            mean=self.mean,
            columns=columns,
            factor=self.spectrum.basis[0],
            spread=spread,
            variance=self.noise.variance,
            weight=self.weight,
        )


@dataclass(frozen=True)
class Settings:
    """What is known beforehand: the noise, with the stated centring error as floor, and the mount.

    `carried` is what other nights, or earlier segments of this one, say of it.
    """

    noise: NoisePrior
    centring_variance: float
    carried: Carried | None = None

    def priors_of(self, at: FloatArray, estimate: FloatArray) -> tuple[TermsPrior, ...]:
        """Return the priors to be mixed for an estimate (6,) that was linearised at `at` (6,)."""
        return self._with_carried(termsprior.mixture(at, estimate), at)

    def plug_in_priors(self, at: FloatArray) -> tuple[TermsPrior, ...]:
        """Return the priors to choose from while searching."""
        return self._with_carried(termsprior.plug_in(at), at)

    def _with_carried(self, usual: TermsPrior, at: FloatArray) -> tuple[TermsPrior, ...]:
        if self.carried is None:
            return (usual,)
        share = np.log(self.carried.share_of_usual)
        return self.carried.prior(at[0]), replace(usual, log_weight=usual.log_weight + share)


def settings_for(
    centring_error_arcmin: float | None,
    obs: Observations,
    carried: Carried | None = None,
    *,
    field_arcmin: float | None = None,
) -> Settings:
    """Return the noise prior: the mount's scatter where the centring error is stated, else all.

    The eyepiece's field tells how well stars were centred where nothing else does. What was carried
    over speaks of all the noise, so it is not asked where scatter alone is sought.
    """
    rounding = float(obs.rounding.variance.mean())
    if centring_error_arcmin is None:
        told = None if carried is None else carried.log_sigma
        usual = termsprior.noise_of_portable_mounts(field_arcmin)
        if obs.count > KNOW_THEIR_NOISE:
            usual = replace(usual, careless=None)
        base = replace(usual, floor=rounding, carried=told)
        return Settings(base, 0.0, carried)
    square = centring_error_arcmin**2
    base = termsprior.scatter_of_portable_mounts()
    return Settings(replace(base, floor=square + rounding), square, carried)


def starting_point(obs: Observations) -> FloatArray:
    """Return a point (6 + k,) with a circular estimate of the azimuth index, all else zero."""
    difference_deg = np.degrees(obs.reading_az - obs.star_az)
    at = np.zeros(N_STANDARD + len(obs.columns))
    at[0] = 60.0 * circular_middle_deg(difference_deg, np.degrees(obs.star_alt))
    return at


def prior_means(hypothesis: Hypothesis, standard: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return prior means (6 + k,) of all columns, sds of the further ones used, for (6,) means."""
    mean = np.zeros_like(hypothesis.at)
    mean[:N_STANDARD] = standard
    further = []
    for addition in hypothesis.chosen:
        for column in addition.columns:
            mean[N_STANDARD + column] = addition.mean
            further.append(addition.sd)
    return mean, np.array(further)


def rows_of(problem: LinearProblem, obs: Observations, mean: FloatArray, variance: float) -> Rows:
    """Return the rows about the prior mean, scaled for the known rounding noise of each.

    A row's variance is v + q − q̄, with q its rounding and v the total that holds the mean q̄: ρ is
    that over v. Rows divided by √ρ all have variance v, and one spectrum serves every v near it.
    """
    data = problem.miss + problem.design @ (problem.at - mean)
    rounding = obs.rounding.variance
    extra = rounding - rounding.mean()
    rho = 1.0 + extra / max(variance, float(rounding.max()) * 1.001, 1e-12)
    if float(np.abs(rho - 1.0).max(initial=0.0)) < 1e-4:
        return Rows(problem.design, data, np.ones_like(data), mean)
    root = np.sqrt(rho)
    return Rows(problem.design / root[..., None], data / root, rho, mean)


def moments_of(rows: Rows, good: np.ndarray, columns: np.ndarray) -> Moments:
    """Return the moments of the good pairs for the columns in use."""
    everything = bool(good.all())
    design = rows.design if everything else rows.design[good]
    design = design[..., columns].reshape(-1, columns.size)
    data = (rows.data if everything else rows.data[good]).ravel()
    rho = rows.rho if everything else rows.rho[good]
    return Moments(
        design.T @ design,
        design.T @ data,
        float(data @ data),
        data.size,
        float(-0.5 * np.log(rho).sum()),
    )


def evaluate(hypothesis: Hypothesis, settings: Settings, variance: float) -> Evaluation:
    """Return the posterior of a hypothesis linearised at its point, with plug-in priors."""
    problem = linear_problem(hypothesis.obs, hypothesis.at)
    prior, log_share = _likeliest_prior(hypothesis, problem, settings, variance)
    mean, further_sd = prior_means(hypothesis, prior.mean[0])
    columns = hypothesis.columns
    spread = prior.with_further(further_sd)
    if hypothesis.ties is not None:
        about, spread = hypothesis.ties.restrict(mean[None, columns], spread)
        mean[columns] = about[0]
    rows = rows_of(problem, hypothesis.obs, mean, variance)
    spec = gaussian.spectrum(moments_of(rows, hypothesis.good, columns), spread)
    noise = gaussian.noise_grid(
        settings.noise, lambda v: gaussian.log_likelihood(spec, v)[0], SEARCH_NODES
    )
    weight, log_evidence = gaussian.normalised(
        gaussian.log_likelihood(spec, noise.variance)[0] + noise.log_prior
    )
    shrunk = weight @ (spec.score[0] / (spec.eigenvalues[0] + noise.variance[:, None]))
    posterior = mean.copy()
    posterior[columns] += spec.basis[0] @ shrunk
    return Evaluation(
        hypothesis=hypothesis,
        problem=problem,
        rows=rows,
        spread=spread[0],
        spectrum=spec,
        noise=noise,
        weight=weight,
        mean=posterior,
        log_evidence=log_evidence - log_share,
    )


def _likeliest_prior(
    hypothesis: Hypothesis, problem: LinearProblem, settings: Settings, variance: float
) -> tuple[TermsPrior, float]:
    """Return the prior that explains the pairs best, and ln of its share of all their evidence."""
    several = settings.plug_in_priors(hypothesis.at[:N_STANDARD])
    if len(several) == 1:
        return several[0], 0.0
    mean, further_sd = prior_means(hypothesis, several[0].mean[0])
    columns = hypothesis.columns
    rows = rows_of(problem, hypothesis.obs, mean, variance)
    moments = moments_of(rows, hypothesis.good, columns)
    noise = gaussian.grid(settings.noise, gaussian.COARSE_SIGMA_ARCMIN)
    log_posterior = []
    for prior in several:
        offset = np.zeros((prior.log_weight.size, columns.size))
        offset[:, :N_STANDARD] = prior.mean - mean[:N_STANDARD]
        spec = gaussian.spectrum(moments, prior.with_further(further_sd), offset)
        log_p = gaussian.log_likelihood(spec, noise.variance) + noise.log_prior
        log_posterior.append(np.logaddexp.reduce(log_p, axis=1) + prior.log_weight)
    shares, _ = gaussian.normalised(np.concatenate(log_posterior))
    best = int(shares.argmax())
    which = [(prior, k) for prior in several for k in range(prior.log_weight.size)]
    prior, k = which[best]
    kept = np.arange(prior.log_weight.size) == k
    # the evidence of the prior alone, times its weight, over its share is that of all together
    return prior.take(kept), float(np.log(shares[best]) - prior.log_weight[k])


def settle(
    hypothesis: Hypothesis,
    settings: Settings,
    variance: float | None = None,
    most: int = MOST_STEPS,
) -> Evaluation:
    """Evaluate again where the posterior mean lies until the curvature no longer matters."""
    variance = FIRST_GUESS_VARIANCE if variance is None else variance
    coarse_readout = float(hypothesis.obs.rounding.variance.max()) > 0.01 * variance
    for attempt in range(most):
        result = evaluate(hypothesis, settings, variance)
        step = np.clip(result.mean - hypothesis.at, -LARGEST_STEP_ARCMIN, LARGEST_STEP_ARCMIN)
        variance = result.variance
        moved = np.abs(step[hypothesis.columns]).max()
        hypothesis = replace(hypothesis, at=kept_sane(hypothesis.at + step))
        # what is left of a step is its square over the radian: small against the noise is enough
        settled = moved < 4.0 * np.sqrt(np.sqrt(variance))
        if settled and (attempt or not coarse_readout):
            break
        # bad pairs among the good: no step will settle that
        if attempt >= 3 and variance > HOPELESS_VARIANCE:
            break
    return result


def kept_sane(at: FloatArray) -> FloatArray:
    """Return terms kept within what a mount can have: a log of nonsense must not run away."""
    kept = np.clip(at, -LARGEST_TERM_ARCMIN, LARGEST_TERM_ARCMIN)
    kept[0] = at[0] if abs(at[0]) < 1e5 else 0.0
    return kept


def leave_one_out(result: Evaluation) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return ln density of each pair given the others (n,), its miss from them (n, 2), its squared
    distance in standard deviations (n,), and its leverage (n,).

    Exact for the linear model: with B = I − H of the pair's two rows, the miss from the others is
    B⁻¹e and its covariance v B⁻¹ (Cook & Weisberg 1982, Residuals and Influence, section 2.2); for
    a pair that is already out, the predictive density.
    """
    spec, noise, weight = result.spectrum, result.noise, result.weight
    if result.hypothesis.obs.count > MANY_PAIRS:
        keep = np.argsort(weight)[-3:]
        weight, variance = weight[keep] / weight[keep].sum(), noise.variance[keep]
    else:
        variance = noise.variance
    columns, good = result.hypothesis.columns, result.hypothesis.good
    rotated = result.rows.design[..., columns] @ spec.basis[0]
    data = result.rows.data
    inverse = 1.0 / (spec.eigenvalues[0] + variance[:, None])
    residual = data[:, None, :] - np.swapaxes(rotated @ (spec.score[0] * inverse).T, 1, 2)
    x, y = rotated[:, 0, :], rotated[:, 1, :]
    sign = np.where(good, -1.0, 1.0)[:, None]
    # a pair that alone fixes a term leaves nothing of I − H but rounding: keep it above that
    xx = np.maximum(1.0 + sign * ((x * x) @ inverse.T), 0.0) + LEAST_LEFT
    xy = sign * ((x * y) @ inverse.T)
    yy = np.maximum(1.0 + sign * ((y * y) @ inverse.T), 0.0) + LEAST_LEFT
    determinant = np.maximum(xx * yy - xy * xy, LEAST_LEFT * np.maximum(xx, yy))
    # a pair that is in: miss from the others B⁻¹e, covariance v B⁻¹; one that is out: e, v (I + H)
    inside = good[:, None]
    mx = np.where(
        inside, (yy * residual[..., 0] - xy * residual[..., 1]) / determinant, residual[..., 0]
    )
    my = np.where(
        inside, (xx * residual[..., 1] - xy * residual[..., 0]) / determinant, residual[..., 1]
    )
    cxx = np.where(inside, yy / determinant, xx) * variance
    cxy = np.where(inside, -xy / determinant, xy) * variance
    cyy = np.where(inside, xx / determinant, yy) * variance
    log_p = log_normal_2d(np.stack([mx, my], axis=-1), (cxx, cxy, cyy))
    # p(r_i | rest) = 1 / Σ p(σ | all) / p(r_i | rest, σ) for a pair that is in
    flipped = np.where(inside, -log_p, log_p)
    top = flipped.max(axis=1)
    total = top + np.log(np.exp(flipped - top[:, None]) @ weight)
    log_density = np.where(good, -total, total) - 0.5 * np.log(result.rows.rho).sum(axis=1)
    miss = np.stack([mx @ weight, my @ weight], axis=-1) * np.sqrt(result.rows.rho)
    log_size = 2.0 * np.log(variance) + np.where(inside, -1.0, 1.0) * np.log(determinant)
    square = -2.0 * (log_p @ weight) - log_size @ weight - 2.0 * LOG_TWO_PI
    leverage = np.where(good, 1.0 - 0.5 * (xx + yy) @ weight, 0.0)
    return log_density, miss, square, leverage
