"""A quick look at all that may have happened to a mount, every place of it in one pass.

Read `moves.py` for what is looked for, `gaussian.py` for the algebra. What happens makes some of
the six terms differ from pair to pair by a factor (n,): one before a step and zero after it, or the
hours on ground that sinks. Of the pairs only weighted sums of their moments are needed, so all
places are fitted together. Which pairs are bad is found by weights: each is the probability that a
pair is good, given the fit (expectation and maximisation: Dempster, Laird & Rubin 1977, J. R. Stat.
Soc. B 39, 1). This only sorts: what comes near the plain log is then searched as any log is.

Shapes: m hypotheses of n pairs, p columns, of which the last k are new.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.normal import LOG_TWO_PI, log_round_normal_2d
from pointmodel.estimate import gaussian
from pointmodel.estimate.badpairs import LOG_BAD, LOG_GOOD, LOG_WRONG_STAR, log_wrong_star
from pointmodel.estimate.evaluation import HOPELESS_VARIANCE, Settings
from pointmodel.estimate.gaussian import COARSE_SIGMA_ARCMIN, Moments, NoisePrior, Spectrum
from pointmodel.estimate.search import SLIP_TERMS, Candidate
from pointmodel.mount.priors import WRONG_STAR_WITHIN_ARCMIN

ROUNDS, LAST_ROUNDS = 6, 6  # measured: who is bad hardly changes after these


@dataclass(frozen=True)
class Happening:
    """What may have happened: `terms` of the six (k,) change with sds (k,), by `factor` (m, n)."""

    terms: tuple[int, ...]
    sd: FloatArray
    factor: FloatArray


@dataclass(frozen=True)
class Glance:
    """Of m hypotheses: ln evidence (m,), noise an axis, arcminutes (m,), share of bad pairs (m,).

    The evidence is that of a `Candidate`, prior odds of what happened apart.
    """

    log_total: FloatArray
    sigma_arcmin: FloatArray
    share_bad: FloatArray


@dataclass(frozen=True)
class Plain:
    """A log as it was solved with nothing having happened, as far as it is used here.

    `design` (n, 2, 6) of the six terms; `columns` (n, 2, p) of all in use, each times its prior
    root, and `data` (n, 2) about the prior mean; `miss` (n, 2) from what the good pairs expect;
    `log_bad` (n,) of the pairs that were suspected; `log_odds` of the further terms; `log_jacobian`
    (n,) of unequal rounding; `variance` of the noise, arcmin².
    """

    design: FloatArray
    columns: FloatArray
    data: FloatArray
    good: BoolArray
    near: BoolArray
    log_bad: FloatArray
    log_odds: float
    log_jacobian: FloatArray
    variance: float
    noise: NoisePrior


def plain_of(candidate: Candidate, settings: Settings) -> Plain:
    """Return what a search ended with; a slip of the clutch is taken out of it."""
    result, scores = candidate.result, candidate.scores
    hypothesis, rows = result.hypothesis, result.rows
    slips = [a for a in hypothesis.chosen if set(a.terms) & set(SLIP_TERMS)]
    lost = {column for addition in slips for column in addition.columns}
    six = hypothesis.columns.size - sum(len(a.columns) for a in hypothesis.chosen)
    kept = np.array([column - six not in lost for column in hypothesis.columns.tolist()])
    root = np.diag(result.spread) if result.spread.ndim == 1 else result.spread
    return Plain(
        design=rows.design[..., :six],
        columns=rows.design[..., hypothesis.columns[kept]] @ root[kept],
        data=rows.data,
        good=hypothesis.good,
        near=np.hypot(*scores.miss.T) < WRONG_STAR_WITHIN_ARCMIN,
        log_bad=scores.log_bad,
        log_odds=sum(a.log_odds for a in hypothesis.chosen if a not in slips),
        log_jacobian=-0.5 * np.log(rows.rho).sum(axis=1),
        variance=result.variance,
        noise=settings.noise,
    )


def glance_at(plain: Plain, happening: Happening) -> Glance:
    """Return how well each of the hypotheses explains the log, whatever pairs are bad."""
    pairs = _Pairs(plain, happening)
    ends = [_settled(pairs, *start, ROUNDS) for start in _starts(plain, happening.factor)]
    best = np.argmax([end.log_mixed for end in ends], axis=0)
    each = np.arange(best.size)
    weight = np.stack([end.weight for end in ends])[best, each]
    variance = np.stack([end.variance for end in ends])[best, each]
    return _judged(pairs, _settled(pairs, weight, variance, LAST_ROUNDS))


def _starts(plain: Plain, factor: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    """Return weights (m, n) and variances (m,) to start from.

    What a move parts from most of the log was set aside where nothing moved: so either part is
    begun with all that may be of its stars.
    """
    later = factor == factor[:, -1:]
    loose = np.full(len(factor), HOPELESS_VARIANCE)
    everything = np.broadcast_to(plain.near, factor.shape)
    good = np.broadcast_to(plain.good, factor.shape)
    return [
        (everything.astype(float), loose),
        (np.where(later, everything, good).astype(float), loose),
        (np.where(later, good, everything).astype(float), loose),
        (good.astype(float), np.full(len(factor), plain.variance)),
    ]


class _Pairs:
    """The pairs as weighted sums see them: rows (n, 2, p + 1), the data last, and factors (m, n).

    A new column is a term of the six times the factor: its products with those of the plain log are
    weighted by the factor, those with its like by the square of it.
    """

    def __init__(self, plain: Plain, happening: Happening) -> None:
        """Hold the pairs for these hypotheses."""
        new = plain.design[..., list(happening.terms)] * happening.sd
        self.plain, self.factor = plain, happening.factor
        self.old = plain.columns.shape[-1]
        self.rows = np.concatenate([plain.columns, new, plain.data[..., None]], axis=-1)
        products = np.swapaxes(self.rows, 1, 2) @ self.rows
        is_new = np.zeros(self.rows.shape[-1], dtype=int)
        is_new[self.old : -1] = 1
        times = is_new[:, None] + is_new
        self.products = [
            np.where(times == power, products, 0.0).reshape(len(products), -1) for power in range(3)
        ]

    def moments(self, weight: FloatArray) -> FloatArray:
        """Return the summed products (m, p + 1, p + 1) for weights (m, n)."""
        size = self.rows.shape[-1]
        total = weight @ self.products[0]
        total += (weight * self.factor) @ self.products[1]
        total += (weight * self.factor**2) @ self.products[2]
        return np.asarray(total.reshape(-1, size, size))

    def misses(self, terms: FloatArray) -> FloatArray:
        """Return what these terms (m, p), in prior sds, leave of the data, (m, n, 2)."""
        count = len(self.rows)
        flat = self.rows.reshape(2 * count, -1)
        left = flat[:, -1] - terms[:, : self.old] @ flat[:, : self.old].T
        moved = (terms[:, self.old :] @ flat[:, self.old : -1].T).reshape(-1, count, 2)
        return np.asarray(left.reshape(-1, count, 2) - self.factor[..., None] * moved)


@dataclass(frozen=True)
class _End:
    """Weights (m, n), noise variance (m,), and ln of the mixture of good and bad pairs (m,)."""

    weight: FloatArray
    variance: FloatArray
    log_mixed: FloatArray
    log_bad: FloatArray


def _settled(pairs: _Pairs, weight: FloatArray, variance: FloatArray, rounds: int) -> _End:
    """Return where weights and noise settle: fitted in turn, so many times."""
    for _ in range(rounds):
        end = _round(pairs, weight, variance)
        weight, variance = end.weight, end.variance
    return end


def _round(pairs: _Pairs, weight: FloatArray, variance: FloatArray) -> _End:
    """Fit the terms to the weighted pairs, then the noise, then the weights.

    Terms in prior sds have u ~ N(0, I): u = (A + v I)⁻¹ b, which takes p − v tr (A + v I)⁻¹ degrees
    of freedom. The noise's prior counts as one number.
    """
    moments = pairs.moments(weight)
    size = moments.shape[-1] - 1
    ridge = variance[:, None, None] * np.eye(size)
    inverse = np.linalg.inv(moments[:, :-1, :-1] + ridge)
    terms = (inverse @ moments[:, :-1, -1:])[..., 0]
    taken = size - variance * np.trace(inverse, axis1=1, axis2=2)
    miss = pairs.misses(terms)
    square = (miss**2).sum(axis=-1)
    prior = float(np.exp(2.0 * pairs.plain.noise.log_mean)) + pairs.plain.noise.floor
    free = np.maximum(2.0 * weight.sum(axis=1) - taken, 0.0) + 1.0
    variance = ((weight * square).sum(axis=1) + prior) / free
    log_good = log_round_normal_2d(square, variance[:, None]) + LOG_GOOD
    log_bad = np.maximum(log_wrong_star(miss) + LOG_WRONG_STAR, pairs.plain.log_bad) + LOG_BAD
    log_mixed = np.logaddexp(log_good, log_bad)
    return _End(np.exp(log_good - log_mixed), variance, log_mixed.sum(axis=1), log_bad)


def _judged(pairs: _Pairs, end: _End) -> Glance:
    """Return the evidence with the pairs of more than even odds as the good ones."""
    good = end.weight > 0.5
    moments = pairs.moments(good.astype(float))
    eigenvalues, vectors = np.linalg.eigh(moments[:, :-1, :-1])
    score = (moments[:, None, :-1, -1] @ vectors)[:, 0]
    # the numbers that count differ from hypothesis to hypothesis, and are added here
    none = Moments(moments[0, :-1, :-1], moments[0, :-1, -1], square=0.0, numbers=0)
    spec = Spectrum(np.maximum(eigenvalues, 0.0), vectors, score, moments[:, -1, -1], none)
    noise = gaussian.grid(pairs.plain.noise, COARSE_SIGMA_ARCMIN)
    log_p = gaussian.log_likelihood(spec, noise.variance) + noise.log_prior
    log_p -= good.sum(axis=1)[:, None] * (LOG_TWO_PI + np.log(noise.variance))
    log_pairs = np.where(good, LOG_GOOD, end.log_bad).sum(axis=1)
    weight = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    sigma = (weight @ noise.sigma) / weight.sum(axis=1)
    log_pairs += good @ pairs.plain.log_jacobian + pairs.plain.log_odds
    return Glance(np.logaddexp.reduce(log_p, axis=1) + log_pairs, sigma, np.mean(~good, axis=1))
