"""Which pairs are good, and which further terms the night supports: a search by evidence.

Read `evaluation.py` and `badpairs.py` first. A hypothesis is a set of good pairs
and of further terms. From several starts the single best move is repeated (take up a term, set a
pair aside, take one back) until none gains; the hypothesis with the highest total evidence wins.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.badpairs import (
    LOG_BAD,
    LOG_GOOD,
    BadScores,
    score_bad,
)
from pointmodel.estimate.evaluation import (
    MANY_PAIRS,
    Evaluation,
    Hypothesis,
    Settings,
    kept_sane,
    leave_one_out,
    settle,
)
from pointmodel.estimate.observations import (
    Addition,
    Observations,
    with_slip,
)
from pointmodel.mount.terms import N_STANDARD, TERMS

MOST_FURTHER = 5  # no mount of the trade has more faults that a night would show
SLIP_TERMS = ("azimuth_slip", "altitude_slip")
SLIP_PRIOR = TERMS[SLIP_TERMS[0]].priors[0]
SLIP_MARGIN = 3  # pairs before and after a slip: two new zeros explain any two pairs
# a choice: what moves a mount so far, a knock or a slip of the clutch, is a term of its own
OF_NO_MOUNT_ARCMIN = 120.0
SUSPECT_SQUARE = 9.0  # three sigma: one good pair in ninety is looked at in vain


@dataclass(frozen=True)
class PairScores:
    """Of every pair: ln density as a good and as a bad pair (n,), miss from the others (n, 2)."""

    log_good: FloatArray
    log_bad: FloatArray
    miss: FloatArray
    square: FloatArray
    leverage: FloatArray
    suspects: np.ndarray
    bad: BadScores | None


def of_no_mount(miss: FloatArray) -> bool:
    """Whether half the pairs lie farther from the others (n, 2) than a mount can be off."""
    return bool(np.median(np.hypot(miss[:, 0], miss[:, 1])) > OF_NO_MOUNT_ARCMIN)


def score_pairs(result: Evaluation) -> PairScores:
    """Return how good and how bad each pair looks; only suspects are asked which slip they are.

    They are not asked where all pairs together are of no mount: nothing could tell them.
    """
    good = result.hypothesis.good
    log_good, miss, square, leverage = leave_one_out(result)
    suspects = np.flatnonzero((square > SUSPECT_SQUARE) | ~good)
    log_bad = np.full(good.size, -40.0)
    bad = None
    if suspects.size and not (good.all() and of_no_mount(miss)):
        bad = score_bad(result.hypothesis.obs, suspects, miss[suspects], result.predictor())
        log_bad[suspects] = bad.log_density
    return PairScores(
        log_good=log_good,
        log_bad=log_bad,
        miss=miss,
        square=square,
        leverage=leverage,
        suspects=suspects,
        bad=bad,
    )


def addition_scores(result: Evaluation) -> tuple[list[Addition], FloatArray]:
    """Return the further terms that could be taken up, each with its ln posterior odds."""
    taken = {name for addition in result.hypothesis.chosen for name in addition.terms}
    open_now = [a for a in result.hypothesis.obs.additions if not taken.intersection(a.terms)]
    if len(result.hypothesis.chosen) >= MOST_FURTHER:
        open_now = []
    if not open_now:
        return [], np.zeros(0)
    cross, inner = _further_moments(result, open_now)
    log_factor = log_bayes_factors(open_now, cross, inner)
    average = _average(log_factor, result.weight)
    return open_now, average + np.array([a.log_odds for a in open_now])


def _average(log_factor: FloatArray, weight: FloatArray) -> FloatArray:
    top = log_factor.max(axis=0)
    return np.asarray(top + np.log(weight @ np.exp(log_factor - top)))


def _further_moments(
    result: Evaluation, additions: list[Addition]
) -> tuple[FloatArray, FloatArray]:
    """Return P = zᵀM⁻¹r (g, m, 2) and q = zᵀM⁻¹z (g, m, 3: first, both, second) per addition.

    M = v I + X S² Xᵀ is the covariance of r under the present model; by Woodbury's identity
    M⁻¹ = (I − W diag(1 / (λ + v)) Wᵀ) / v with W = X S V, whose products are those of the spectrum.
    """
    good, spec = result.hypothesis.good, result.spectrum
    columns = result.hypothesis.columns
    design = result.rows.design[good]
    z = design[..., N_STANDARD:].reshape(-1, design.shape[-1] - N_STANDARD)
    x = design[..., columns].reshape(-1, columns.size)
    first = np.array([a.columns[0] for a in additions])
    second = np.array([a.columns[-1] for a in additions])
    w = (x @ spec.basis[0]).T @ z
    raw_cross = z.T @ result.rows.data[good].ravel()
    raw_inner = z.T @ z
    variance = result.noise.variance[:, None]
    inverse = 1.0 / (spec.eigenvalues[0] + variance)
    cross = (raw_cross - (spec.score[0] * inverse) @ w) / variance
    products = np.stack([w[:, first] ** 2, w[:, first] * w[:, second], w[:, second] ** 2], axis=-1)
    plain = np.stack(
        [raw_inner[first, first], raw_inner[first, second], raw_inner[second, second]], axis=-1
    )
    inner = (plain - np.tensordot(inverse, products, axes=1)) / variance[..., None]
    inner[..., ::2] = np.maximum(inner[..., ::2], 0.0)
    return np.stack([cross[:, first], cross[:, second]], axis=-1), inner


def log_bayes_factors(
    additions: list[Addition], cross: FloatArray, inner: FloatArray
) -> FloatArray:
    """Return ln Bayes factors (g, m) of columns with normal priors, one or two columns each.

    r ~ N(0, M) without a column z, N(z m, M + τ² z zᵀ) with its coefficient b ~ N(m, τ²). Their
    quotient is, with P = zᵀM⁻¹r and q = zᵀM⁻¹z,
    ln BF = m P − ½ m² q − ½ ln(1 + τ² q) + ½ τ² (P − m q)² / (1 + τ² q)
    (matrix determinant lemma and Sherman & Morrison 1950, Ann. Math. Stat. 21, 124).
    """
    mean = np.array([a.mean for a in additions])
    square = np.array([a.sd for a in additions]) ** 2
    paired = np.array([len(a.columns) == 2 for a in additions])
    q = inner[..., 0]
    shifted = cross[..., 0] - mean * q
    one = mean * cross[..., 0] - 0.5 * mean**2 * q
    one = one - 0.5 * np.log1p(square * q) + 0.5 * square * shifted**2 / (1.0 + square * q)
    two = _log_bayes_factor_pair(square, cross, inner)
    return np.where(paired, two, one)


def _log_bayes_factor_pair(
    square: FloatArray | float, cross: FloatArray, inner: FloatArray
) -> FloatArray:
    """Return ln Bayes factors of pairs of columns with a common prior variance and mean zero.

    As for one column, with the matrix I + τ² Q = [[a, b], [b, c]] in place of 1 + τ² q:
    −½ ln det + ½ τ² Pᵀ (I + τ² Q)⁻¹ P, the inverse of two by two written out.
    """
    a = 1.0 + square * inner[..., 0]
    b = square * inner[..., 1]
    c = 1.0 + square * inner[..., 2]
    determinant = np.maximum(a * c - b * b, np.maximum(a, c))
    p, r = cross[..., 0], cross[..., 1]
    form = (c * p * p - 2 * b * p * r + a * r * r) / determinant
    return np.asarray(-0.5 * np.log(determinant) + 0.5 * square * form)


def slip_scores(result: Evaluation) -> tuple[np.ndarray, FloatArray]:
    """Return every place where a slip could be (first pair after it) with its ln posterior odds.

    The columns of a slip are those of the two indices, switched on from one pair to the end; sums
    from the end give all places at once.
    """
    hypothesis = result.hypothesis
    good = np.flatnonzero(hypothesis.good)
    places = good[SLIP_MARGIN : good.size - SLIP_MARGIN + 1]
    if hypothesis.obs.slip_at is not None or places.size == 0:
        return np.zeros(0, dtype=int), np.zeros(0)
    spec, columns = result.spectrum, hypothesis.columns
    design = result.rows.design[good]
    z = design[..., :2]
    rotated = design[..., columns] @ spec.basis[0]
    tail = slice(SLIP_MARGIN, good.size - SLIP_MARGIN + 1)
    w = _sums_from_end(np.swapaxes(z, 1, 2) @ rotated)[tail]
    raw_cross = _sums_from_end((z * result.rows.data[good][..., None]).sum(axis=1))[tail]
    raw_inner = _sums_from_end(np.swapaxes(z, 1, 2) @ z)[tail]
    keep = np.argsort(result.weight)[-5:]
    weight = result.weight[keep] / result.weight[keep].sum()
    variance = result.noise.variance[keep]
    inverse = 1.0 / (spec.eigenvalues[0] + variance[:, None])
    explained = w @ (spec.score[0] * inverse).T
    cross = (raw_cross[..., None] - explained) / variance
    pairs = ((0, 0), (0, 1), (1, 1))
    products = np.stack([w[:, i] * w[:, j] for i, j in pairs], axis=1)
    plain = np.stack([raw_inner[:, i, j] for i, j in pairs], axis=1)
    inner = (plain[..., None] - products @ inverse.T) / variance
    inner[:, ::2] = np.maximum(inner[:, ::2], 0.0)
    factor = _log_bayes_factor_pair(
        SLIP_PRIOR.sd**2, np.moveaxis(cross, 2, 0), np.moveaxis(inner, 2, 0)
    )
    return places, _average(factor, weight) + np.log(SLIP_PRIOR.odds / places.size)


def _sums_from_end(array: FloatArray) -> FloatArray:
    return np.asarray(np.cumsum(array[::-1], axis=0)[::-1])


def slip_addition(obs: Observations, places: int) -> Addition:
    """Return the slip whose columns are the last two of the observations."""
    last = len(obs.columns)
    return slip_at_columns((last - 2, last - 1), places)


def slip_at_columns(columns: tuple[int, int], places: int) -> Addition:
    """Return the slip in these two columns, its odds shared over the places where it could be."""
    odds = float(np.log(SLIP_PRIOR.odds / places))
    return Addition(SLIP_TERMS, columns, SLIP_PRIOR.mean, SLIP_PRIOR.sd, odds)


def take_up(hypothesis: Hypothesis, addition: Addition) -> Hypothesis:
    """Return the hypothesis with one more further term, started at its prior mean."""
    at = hypothesis.at.copy()
    at[[N_STANDARD + c for c in addition.columns]] = addition.mean
    return replace(hypothesis, chosen=(*hypothesis.chosen, addition), at=at)


def take_up_slip(hypothesis: Hypothesis, first_after: int, places: int) -> Hypothesis:
    """Return the hypothesis with a slip before the pair `first_after`."""
    obs = with_slip(hypothesis.obs, first_after)
    wider = replace(hypothesis, obs=obs, at=np.concatenate([hypothesis.at, np.zeros(2)]))
    return take_up(wider, slip_addition(obs, places))


def drop(hypothesis: Hypothesis, addition: Addition) -> Hypothesis:
    """Return the hypothesis without one of its further terms."""
    at = hypothesis.at.copy()
    at[[N_STANDARD + c for c in addition.columns]] = 0.0
    kept = tuple(a for a in hypothesis.chosen if a is not addition)
    return replace(hypothesis, chosen=kept, at=at)


@dataclass(frozen=True)
class Moves:
    """Terms that could be taken up (m,), slips before pairs (k,), with ln posterior odds."""

    additions: list[Addition]
    gain: FloatArray
    slip_places: np.ndarray
    slip_gain: FloatArray


@dataclass(frozen=True)
class Candidate:
    """The end of one search: evaluation, pairs' scores, the moves left, total evidence."""

    result: Evaluation
    scores: PairScores
    moves: Moves
    log_total: float


def log_pair_prior(result: Evaluation, scores: PairScores | None) -> float:
    """Return ln of what choosing these good pairs costs, densities of the bad ones included.

    Where none is bad no scores are needed.
    """
    good = result.hypothesis.good
    bad = 0.0 if scores is None else np.sum(LOG_BAD + scores.log_bad[~good])
    return float(good.sum() * LOG_GOOD + bad)


def first_addition(result: Evaluation, settings: Settings) -> float:
    """Return ln evidence of all pairs being good once the best further term is taken up."""
    moves = moves_from(result)
    every = result.hypothesis.good
    hypothesis = replace(result.hypothesis, at=kept_sane(result.mean))
    taken = _best_move(hypothesis, moves, None)
    if taken is not hypothesis:
        result = settle(taken, settings, result.variance, most=3)
    odds = sum(addition.log_odds for addition in taken.chosen)
    return float(result.log_evidence + odds + every.sum() * LOG_GOOD)


def moves_from(result: Evaluation) -> Moves:
    """Return the further terms that could be taken up from here."""
    return Moves(*addition_scores(result), *slip_scores(result))


NOTHING_OPEN = Moves([], np.zeros(0), np.zeros(0, dtype=int), np.zeros(0))


def candidate_of(result: Evaluation, moves: Moves, scores: PairScores | None = None) -> Candidate:
    """Return an evaluation as the end of a search, its pairs scored where they are not yet."""
    scores = scores or score_pairs(result)
    return Candidate(result, scores, moves, _log_total(result, scores))


def _log_total(result: Evaluation, scores: PairScores | None) -> float:
    odds = sum(addition.log_odds for addition in result.hypothesis.chosen)
    return float(result.log_evidence + odds + log_pair_prior(result, scores))


def refine(
    hypothesis: Hypothesis,
    settings: Settings,
    *,
    flips: bool,
    variance: float | None = None,
    first: Evaluation | None = None,
) -> Candidate:
    """Repeat the single best move until none gains; at least half the pairs stay good.

    `first` is the hypothesis already settled, where the caller has it.
    """
    seen: set[bytes] = set()
    while True:
        result = first or settle(hypothesis, settings, variance)
        first = None
        moves = moves_from(result)
        scores = score_pairs(result) if flips else None
        variance = result.variance
        hypothesis = replace(result.hypothesis, at=kept_sane(result.mean))
        moved = _best_move(hypothesis, moves, scores)
        key = moved.good.tobytes() + repr((moved.chosen, moved.obs.slip_at)).encode()
        if moved is hypothesis or key in seen:
            return _pruned(candidate_of(result, moves, scores), settings)
        seen.add(key)
        hypothesis = moved


def _best_move(hypothesis: Hypothesis, moves: Moves, scores: PairScores | None) -> Hypothesis:
    """Return the hypothesis after its best move, itself where none gains; flips need scores."""
    flip_gain = np.full(1, -np.inf) if scores is None else flip_gains(hypothesis.good, scores)
    best_addition = moves.gain.max(initial=-np.inf)
    best_slip = moves.slip_gain.max(initial=-np.inf)
    best = max(best_addition, best_slip, flip_gain.max(initial=-np.inf))
    if best <= 0.0:
        return hypothesis
    if best == best_addition:
        return take_up(hypothesis, moves.additions[int(moves.gain.argmax())])
    if best == best_slip:
        places = moves.slip_places
        return take_up_slip(hypothesis, int(places[moves.slip_gain.argmax()]), places.size)
    good = hypothesis.good.copy()
    if good.size > MANY_PAIRS:
        turn = np.flatnonzero(flip_gain > 0)
        turn = turn[np.argsort(-flip_gain[turn])][: max(1, good.size // 8)]
    else:
        turn = np.array([flip_gain.argmax()])
    good[turn] = ~good[turn]
    return replace(hypothesis, good=good)


def flip_gains(good: np.ndarray, scores: PairScores) -> FloatArray:
    """Return what turning each pair from good to bad, or back, gains in ln evidence (n,)."""
    as_bad = LOG_BAD + scores.log_bad - LOG_GOOD - scores.log_good
    gain = np.where(good, as_bad, -as_bad)
    if 2 * (np.count_nonzero(good) - 1) < good.size:
        gain = np.where(good, -np.inf, gain)
    return np.asarray(gain)


def _pruned(candidate: Candidate, settings: Settings) -> Candidate:
    """Drop further terms that an earlier step took up and the last state no longer supports."""
    for addition in candidate.result.hypothesis.optional[:-1]:
        without = settle(
            drop(candidate.result.hypothesis, addition), settings, candidate.result.variance
        )
        scores = None if without.hypothesis.good.all() else score_pairs(without)
        if _log_total(without, scores) > candidate.log_total:
            candidate = candidate_of(without, moves_from(without), scores)
    return candidate
