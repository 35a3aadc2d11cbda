"""The posterior that is reported: a mixture over models, prior scales and noise.

Read `gaussian.py` and `search.py` first. Each cell (model, scale of the priors, noise node) is a
Gaussian; values are means of the mixture and intervals its 2.5 and 97.5 % points, which keeps them
honest after the program has chosen terms.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import NORMAL_95, distribution_and_density
from pointmodel.estimate import gaussian
from pointmodel.estimate.evaluation import Evaluation, Settings, settle
from pointmodel.estimate.gaussian import Moments, NoiseGrid
from pointmodel.estimate.observations import Addition, Column
from pointmodel.estimate.search import (
    SLIP_TERMS,
    Candidate,
    addition_scores,
    drop,
    log_pair_prior,
    slip_at_columns,
)
from pointmodel.estimate.termsprior import TermsPrior
from pointmodel.estimate.ties import Ties
from pointmodel.mount.priors import NOISE_ALIKE, PROBABILITY_NOISE_ALIKE
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES

# what is left out of the mixture; measured: limits of one night in a hundred move by 3 % for it
MOST_MODELS = 10
LEAST_MODEL_WEIGHT = 0.005
LEAST_SCALE_WEIGHT = 2e-3
LEAST_SCALE_NEARBY = 3e-2  # of the neighbours, which count for less; measured: limits move by 1 %
MOST_SLIPS = 3  # places of one slip; farther ones are far less likely
FEWEST_FOR_MEMORY = 6  # pairs: noise alike is not told from a zero that is off in fewer
DRAWS = 600  # a median of forecasts then stands to 2 %
DRAW_SEED = 20310517
FORGOTTEN = "forgotten"


@dataclass(frozen=True)
class MomentTable:
    """Design and moments of the good pairs for every column that some model may use.

    Columns: the six, the further ones of the observations, then two for each place of a possible
    slip.
    """

    columns: tuple[Column, ...]
    moments: Moments
    prior_mean: FloatArray


@dataclass(frozen=True)
class Mix:
    """One model's share: cells over b priors and g noise nodes.

    Cell (i, j) has weight `weight[i, j]`, mean `offset[i] + basis[i] @ (score / (eigenvalues + v))`
    and covariance `basis[i] diag(v / (eigenvalues + v)) basis[i]ᵀ` over `columns` of the table.
    """

    columns: np.ndarray
    offset: FloatArray
    eigenvalues: FloatArray
    basis: FloatArray
    score: FloatArray
    noise: NoiseGrid
    log_weight: FloatArray

    @cached_property
    def inverse(self) -> FloatArray:
        """1 / (eigenvalue + v) of every cell, (b, g, p)."""
        return np.asarray(1.0 / (self.eigenvalues[:, None] + self.noise.variance[:, None]))

    @property
    def log_evidence(self) -> float:
        """ln evidence of the model, prior odds included."""
        return gaussian.normalised(self.log_weight)[1]

    @cached_property
    def by_prior(self) -> FloatArray:
        """ln evidence under each of its priors (b,), odds included."""
        return np.asarray(np.logaddexp.reduce(self.log_weight, axis=1))


@dataclass(frozen=True)
class Posterior:
    """What is known after the night, over the columns (c,) that some model uses.

    `places` (c,) are their places in the table (the six, the observations' further columns, slips
    that were not chosen). `mean` (c,), `covariance` (c, c), `low` and `high` (c,) of the reported
    columns (0 elsewhere); `draws` (d, c) of the terms with `draws_sigma` (d,), the unknown part of
    the noise; `sigma` its median with its limits. `chosen` index the columns of the final model.
    `additions` are all terms that could be taken up beside it, worth averaging over or not, in
    columns of the `table`. `alternatives` says how probable it is that what was carried over from
    other nights holds in each way, "forgotten" among them; empty where nothing was.
    """

    columns: tuple[Column, ...]
    places: np.ndarray
    chosen: np.ndarray
    mean: FloatArray
    covariance: FloatArray
    low: FloatArray
    high: FloatArray
    draws: FloatArray
    draws_sigma: FloatArray
    sigma: tuple[float, float, float]
    table: MomentTable
    additions: tuple[Addition, ...]
    alternatives: Mapping[str, float]


def table_of(result: Evaluation, slip_places: tuple[int, ...], alike: float = 0.0) -> MomentTable:
    """Return the moments of all columns, with those of slips before the given pairs added.

    `alike` is the correlation of the noise from one pair to the next.
    """
    good = result.hypothesis.good
    everything = bool(good.all())
    design = result.rows.design if everything else result.rows.design[good]
    data = result.rows.data if everything else result.rows.data[good]
    parts = [design]
    columns = [*(Column(name) for name in STANDARD_NAMES), *result.hypothesis.obs.columns]
    order = np.flatnonzero(good)
    for place in slip_places:
        parts.append(design[..., :2] * (order >= place)[:, None, None])
        columns.extend(Column(name) for name in SLIP_TERMS)
    rows, log_jacobian = np.concatenate(parts, axis=-1), -0.5 * np.log(result.rows.rho[good]).sum()
    if alike:
        together = np.concatenate([rows, data[..., None]], axis=-1)
        together, log_stretched = without_memory(together, order, alike)
        rows, data = together[..., :-1], together[..., -1]
        log_jacobian = log_jacobian + log_stretched
    flat = rows.reshape(data.size, -1)
    extra = flat.shape[1] - result.rows.prior_mean.size
    mean = np.concatenate([result.rows.prior_mean, np.zeros(extra)])
    values = data.ravel() + flat @ _further_only(mean)
    moments = Moments(
        flat.T @ flat,
        flat.T @ values,
        float(values @ values),
        values.size,
        float(log_jacobian),
    )
    return MomentTable(tuple(columns), moments, mean - _further_only(mean))


def without_memory(rows: FloatArray, order: np.ndarray, alike: float) -> tuple[FloatArray, float]:
    """Return rows (n, 2, k) whose noise has no memory left, and ln of what that stretched.

    Noise of an autoregression of the first order: from each row goes what the one before tells of
    it, and the rest is brought back to the common spread (Box & Jenkins, Time Series Analysis,
    section 7.1). `order` (n,) are the rows' places in the log, with lines left out in between.
    """
    told = alike ** np.diff(order)
    left = np.sqrt(1.0 - told**2)
    free = rows.copy()
    free[1:] = (rows[1:] - told[:, None, None] * rows[:-1]) / left[:, None, None]
    return free, float(-2.0 * np.log(left).sum())


def _further_only(mean: FloatArray) -> FloatArray:
    further = mean.copy()
    further[:N_STANDARD] = 0.0
    return further


def mix_of(
    table: MomentTable,
    additions: tuple[Addition, ...],
    prior: TermsPrior,
    noise: NoiseGrid,
    ties: Ties | None = None,
) -> Mix:
    """Return one model's cells for each of b priors of the six; `ties` hold or tie its terms."""
    further = [(N_STANDARD + c, a) for a in additions for c in a.columns]
    columns = np.array([*range(N_STANDARD), *(c for c, _ in further)], dtype=int)
    mean = table.prior_mean[columns].copy()
    mean[N_STANDARD:] = [a.mean for _, a in further]
    shift = mean.copy()
    shift[:N_STANDARD] = 0.0
    part = submoments(table.moments, columns, shift)
    offset = np.zeros((prior.log_weight.size, columns.size))
    offset[:, :N_STANDARD] = prior.mean - mean[:N_STANDARD]
    spread = prior.with_further(np.array([a.sd for _, a in further]))
    if ties is not None:
        about, spread = ties.restrict(mean + offset, spread)
        offset = about - mean
    spec = gaussian.spectrum(part, spread, offset if np.any(offset) else None)
    log_prior = prior.log_weight + sum(a.log_odds for a in additions)
    log_noise = noise.log_prior_with(prior.careless)
    log_weight = gaussian.log_likelihood(spec, noise.variance) + log_noise
    return Mix(
        columns=columns,
        offset=mean + offset,
        eigenvalues=spec.eigenvalues,
        basis=spec.basis,
        score=spec.score,
        noise=noise,
        log_weight=log_weight + log_prior[:, None],
    )


def submoments(moments: Moments, columns: np.ndarray, shift: FloatArray) -> Moments:
    """Return the moments of some columns (p,), with the prior mean moved by `shift` (p,)."""
    gram = moments.gram[np.ix_(columns, columns)]
    cross = moments.cross[columns]
    square = moments.square
    if np.any(shift):
        square = square - 2.0 * float(shift @ cross) + float(shift @ gram @ shift)
        cross = cross - gram @ shift
    return Moments(gram, cross, square, moments.numbers, moments.log_jacobian)


def full_evidence(candidate: Candidate, settings: Settings) -> float:
    """Return ln evidence of a candidate under the full mixture of priors, pair priors included."""
    result = candidate.result
    table = table_of(result, ())
    chosen = result.hypothesis.chosen
    mixed = [mix_of(table, chosen, prior, result.noise) for prior in _priors_of(result, settings)]
    together = np.logaddexp.reduce([mix.log_evidence for mix in mixed])
    return float(together) + log_pair_prior(result, candidate.scores)


def _priors_of(result: Evaluation, settings: Settings) -> tuple[TermsPrior, ...]:
    return settings.priors_of(result.hypothesis.at[:N_STANDARD], result.mean[:N_STANDARD])


def posterior_of(candidate: Candidate, settings: Settings) -> Posterior:
    """Return the mixture over the chosen model, its deletions and its one-term additions."""
    result = candidate.result
    scored, places = _neighbours(candidate)
    additions = [addition for gain, addition in scored if gain > np.log(LEAST_MODEL_WEIGHT)]
    table = table_of(result, places)
    chosen = result.hypothesis.chosen
    several = _priors_of(result, settings)
    ties = result.hypothesis.ties
    mixes = [mix_of(table, chosen, prior, result.noise, ties) for prior in several]
    least = max(float(mix.by_prior.max()) for mix in mixes) + np.log(LEAST_SCALE_WEIGHT)
    alternatives = _alternative_probabilities(mixes, settings)
    kept = [prior.take(mix.by_prior > least) for prior, mix in zip(several, mixes, strict=True)]
    near = _heaviest(several, mixes)
    models = 1
    for gone in result.hypothesis.optional:
        without = settle(drop(result.hypothesis, gone), settings, result.variance)
        model = tuple(a for a in chosen if a is not gone)
        mixes += [mix_of(table, model, prior, without.noise) for prior in kept]
        models += 1
        swaps = _instead(without, gone, candidate)
        mixes += [
            mix_of(table, (*model, other), prior, result.noise) for other in swaps for prior in near
        ]
        models += len(swaps)
    for new in additions[: MOST_MODELS - models]:
        # one more column seldom moves the noise: the nodes are kept
        mixes += [mix_of(table, (*chosen, new), prior, result.noise) for prior in near]
    mixes += _noise_alike(result, places, near)
    columns = result.hypothesis.columns
    everything = tuple(addition for _, addition in scored)
    mixes = [mix for mix in mixes if mix.log_weight.size]
    return replace(
        _summed_up(table, mixes, columns, settings, everything), alternatives=alternatives
    )


def _heaviest(priors: tuple[TermsPrior, ...], mixes: list[Mix]) -> list[TermsPrior]:
    """Return of each prior the scales that count most, with the weight of those left out."""
    top = max(float(mix.by_prior.max()) for mix in mixes)
    heaviest = []
    for prior, mix in zip(priors, mixes, strict=True):
        counts = mix.by_prior > top + np.log(LEAST_SCALE_NEARBY)
        lost = np.logaddexp.reduce(mix.by_prior) - np.logaddexp.reduce(mix.by_prior[counts])
        some = prior.take(counts)
        heaviest.append(replace(some, log_weight=some.log_weight + lost))
    return [prior for prior in heaviest if prior.log_weight.size]


def _noise_alike(
    result: Evaluation, places: tuple[int, ...], priors: list[TermsPrior]
) -> list[Mix]:
    """Return the chosen model with noise that is alike from star to star, where pairs could tell.

    A stand that settles and a person who tires leave noise of that kind. What looks like many
    stars is fewer then, and the zeros are less certain.
    """
    if np.count_nonzero(result.hypothesis.good) < FEWEST_FOR_MEMORY:
        return []
    table = table_of(result, places, NOISE_ALIKE)
    log_odds = np.log(PROBABILITY_NOISE_ALIKE / (1.0 - PROBABILITY_NOISE_ALIKE))
    asked = [replace(prior, log_weight=prior.log_weight + log_odds) for prior in priors]
    hypothesis = result.hypothesis
    return [
        mix_of(table, hypothesis.chosen, prior, result.noise, hypothesis.ties) for prior in asked
    ]


def _instead(without: Evaluation, gone: Addition, candidate: Candidate) -> list[Addition]:
    """Return the terms that explain the pairs in place of one that was taken up, best first.

    Weak flexure and refraction look alike: whichever was taken up, the other is averaged in.
    """
    additions, gain = addition_scores(without)
    behind = without.log_evidence - candidate.result.log_evidence - gone.log_odds
    ranked = [int(k) for k in np.argsort(-gain) if gain[k] + behind > np.log(LEAST_MODEL_WEIGHT)]
    return [additions[k] for k in ranked if additions[k] is not gone]


def _alternative_probabilities(mixes: list[Mix], settings: Settings) -> Mapping[str, float]:
    """Return how probable each way is in which what was carried over holds."""
    if settings.carried is None:
        return {}
    carried, usual = mixes
    shares, _ = gaussian.normalised(np.append(carried.by_prior, usual.log_evidence))
    alternatives: dict[str, float] = {}
    names = (*(way.name for way in settings.carried.alternatives), FORGOTTEN)
    for name, share in zip(names, shares.tolist(), strict=True):
        alternatives[name] = alternatives.get(name, 0.0) + share
    return alternatives


def _neighbours(candidate: Candidate) -> tuple[list[tuple[float, Addition]], tuple[int, ...]]:
    """Return one-term additions with ln posterior odds, best first, and the places of their slips.

    Of slips only the likeliest places are kept.
    """
    moves = candidate.moves
    scored = [(float(g), a) for g, a in zip(moves.gain, moves.additions, strict=True)]
    best = [int(i) for i in np.argsort(-moves.slip_gain)[:MOST_SLIPS]]
    first = len(candidate.result.hypothesis.obs.columns)
    for index, i in enumerate(best):
        columns = (first + 2 * index, first + 2 * index + 1)
        addition = slip_at_columns(columns, moves.slip_places.size)
        scored.append((float(moves.slip_gain[i]), addition))
    scored.sort(key=lambda pair: -pair[0])
    return scored, tuple(int(moves.slip_places[i]) for i in best)


@dataclass(frozen=True)
class _Cells:
    """The cells that count, of all models: weights (m,), means and sds (m, c), noise.

    `owner` (m,) is the place of the model, `scale` and `node` (m,) those of the cell in it; `share`
    holds the same weights model by model, (b, g), nil where a cell is left out.
    """

    weight: FloatArray
    mean: FloatArray
    sd: FloatArray
    sigma: FloatArray
    owner: np.ndarray
    scale: np.ndarray
    node: np.ndarray
    share: list[FloatArray]


LEAST_CELL = 1e-4  # of the weight of the best; measured: limits move by .5 % at most for it
LIMIT_WITHIN = 3e-4  # of the spread: no figure is printed more finely
LAST_STEP = 5e-3  # of the spread: what a step so small leaves goes with its square


def _cells(mixes: list[Mix], width: int) -> _Cells:
    top = max(float(mix.log_weight.max()) for mix in mixes)
    weights = [np.exp(mix.log_weight - top) for mix in mixes]
    kept = [weight > LEAST_CELL for weight in weights]
    total = sum(float(weight[mine].sum()) for weight, mine in zip(weights, kept, strict=True))
    share = [
        np.where(mine, weight / total, 0.0) for weight, mine in zip(weights, kept, strict=True)
    ]
    parts: list[tuple[np.ndarray, ...]] = []
    for owner, (mix, mine) in enumerate(zip(mixes, kept, strict=True)):
        scale, node = np.nonzero(mine)
        basis = np.swapaxes(mix.basis, 1, 2)
        mean, sd = np.zeros((2, scale.size, width))
        every = (mix.score[:, None] * mix.inverse) @ basis + mix.offset[:, None]
        mean[:, mix.columns] = every[mine]
        square = (mix.noise.variance[:, None] * mix.inverse) @ (basis * basis)
        sd[:, mix.columns] = np.sqrt(square[mine])
        owners = np.full(scale.size, owner)
        parts.append((share[owner][mine], mean, sd, mix.noise.sigma[node], owners, scale, node))
    weight, mean, sd, sigma, owners, scale, node = (
        np.concatenate(part) for part in zip(*parts, strict=True)
    )
    return _Cells(
        weight=weight,
        mean=mean,
        sd=sd,
        sigma=sigma,
        owner=owners,
        scale=scale,
        node=node,
        share=share,
    )


def _summed_up(
    table: MomentTable,
    mixes: list[Mix],
    chosen: np.ndarray,
    settings: Settings,
    additions: tuple[Addition, ...],
) -> Posterior:
    places = np.unique(np.concatenate([mix.columns for mix in mixes]))
    mixes = [replace(mix, columns=np.searchsorted(places, mix.columns)) for mix in mixes]
    chosen = np.searchsorted(places, chosen)
    width = places.size
    cells = _cells(mixes, width)
    mean = cells.weight @ cells.mean
    draws, draws_sigma = _draws(cells, mixes, width)
    low, high = np.zeros(width), np.zeros(width)
    low[chosen], high[chosen] = mixture_limits(
        cells.weight, cells.mean[:, chosen], cells.sd[:, chosen]
    )
    return Posterior(
        columns=tuple(table.columns[place] for place in places),
        places=places,
        chosen=chosen,
        mean=mean,
        covariance=_covariance(cells, mixes, mean, width),
        low=low,
        high=high,
        draws=draws,
        draws_sigma=draws_sigma,
        sigma=_sigma_summary(cells, settings),
        table=table,
        additions=additions,
        alternatives={},
    )


def _covariance(cells: _Cells, mixes: list[Mix], mean: FloatArray, width: int) -> FloatArray:
    """Return the covariance (c, c) of the mixture: within cells, plus that of their means.

    The law of total covariance (Ross, A First Course in Probability, section 7.5).
    """
    about = cells.mean - mean
    total = (about * cells.weight[:, None]).T @ about
    for mix, share in zip(mixes, cells.share, strict=True):
        left = np.einsum("bg,bgp->bp", share * mix.noise.variance, mix.inverse)
        basis = np.moveaxis(mix.basis, 1, 0).reshape(mix.columns.size, -1)
        total[np.ix_(mix.columns, mix.columns)] += (basis * left.ravel()) @ basis.T
    return np.asarray(total)


def _draws(cells: _Cells, mixes: list[Mix], width: int) -> tuple[FloatArray, FloatArray]:
    """Return systematic draws (d, c) of the terms over the cells, and the noise of each (d,).

    One comb over the summed weights picks the cells (systematic sampling: Cochran, Sampling
    Techniques, ch. 8); normals come in pairs of either sign, so that their mean is exact.
    """
    ends = np.cumsum(cells.weight)
    pick = np.searchsorted(ends, (np.arange(DRAWS) + 0.5) / DRAWS * ends[-1])
    normal = _normals(width)
    out = cells.mean[pick].copy()
    for owner, mix in enumerate(mixes):
        mine = np.flatnonzero(cells.owner[pick] == owner)
        scale, node = cells.scale[pick[mine]], cells.node[pick[mine]]
        root = np.sqrt(mix.noise.variance[node, None] * mix.inverse[scale, node])
        step = mix.basis[scale] @ (root * normal[mine, : root.shape[1]])[..., None]
        out[np.ix_(mine, mix.columns)] += step[..., 0]
    return out, cells.sigma[pick]


@cache
def _normals(width: int) -> FloatArray:
    """Return standard normals (d, c), the same in every fit, in pairs of either sign."""
    normal = np.random.default_rng(DRAW_SEED).standard_normal((DRAWS, width))
    normal[1::2] = -normal[::2]
    normal.flags.writeable = False
    return normal


def _sigma_summary(cells: _Cells, settings: Settings) -> tuple[float, float, float]:
    """Return mean and 95 % limits of the noise an axis without rounding, arcminutes."""
    order = np.argsort(cells.sigma)
    value = np.sqrt(cells.sigma[order] ** 2 + settings.centring_variance)
    middle = np.cumsum(cells.weight[order]) - 0.5 * cells.weight[order]
    low, centre, high = np.interp([0.025, 0.5, 0.975], middle, value)
    return float(centre), float(low), float(high)


def mixture_limits(
    weight: FloatArray, mean: FloatArray, sd: FloatArray, tail: float = 0.025
) -> tuple[FloatArray, FloatArray]:
    """Return the points (c,) below and above which `tail` of a mixture of normals lies.

    Newton's steps on the logit of the distribution within a shrinking bracket, which is halved
    instead where a step leaves it or is not half the one before the last (Press et al., Numerical
    Recipes, section 9.4); weights (m,), means and sds (m, c).
    """
    sd = np.maximum(sd, 1e-12)
    centre = weight @ mean
    spread = np.sqrt(np.maximum(weight @ (sd**2 + (mean - centre) ** 2), 1e-300))
    probability = np.array([[tail], [1.0 - tail]])
    target = np.log(probability / (1.0 - probability))
    low = centre - 14.0 * spread + np.zeros((2, 1))
    high = centre + 14.0 * spread + np.zeros((2, 1))
    x = centre + spread * np.array([[-NORMAL_95], [NORMAL_95]])
    last, before = np.full((2, *x.shape), np.inf)
    for _ in range(60):
        below, density = distribution_and_density((x[:, None, :] - mean) / sd)
        below, density = weight @ below, weight @ (density / sd)
        low, high = np.where(below < probability, x, low), np.where(below >= probability, x, high)
        safe = np.clip(below, 1e-12, 1.0 - 1e-12)
        error = target - np.log(safe / (1.0 - safe))
        step = error * safe * (1.0 - safe) / np.maximum(density, 1e-300)
        near = (np.abs(step) <= LAST_STEP * spread) & (np.abs(error) < 0.02)
        trusted = (x + step > low) & (x + step < high) & (np.abs(step) < 0.5 * before)
        moved = np.where(near | trusted, x + step, 0.5 * (low + high))
        x, last, before = moved, np.abs(moved - x), last
        if np.all(near | (high - low <= LIMIT_WITHIN * spread)):
            break
    return x[0], x[1]
