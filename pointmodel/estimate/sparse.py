"""Which terms are really there: a layer of its own, for the diagnosis.

Read `posterior.py` first. Thresholds on the dense posterior fail, since azimuth index, collimation
and non-perpendicularity can stand in for one another: each alone may be anything while one small
set of faults explains the night. So every subset of five faults is weighed with each plausible
further term; a term is either next to nothing (spike) or of a size that matters (slab).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import NORMAL_95
from pointmodel.estimate import gaussian
from pointmodel.estimate.evaluation import Evaluation
from pointmodel.estimate.gaussian import Moments, Spectrum
from pointmodel.estimate.observations import Addition
from pointmodel.estimate.posterior import Posterior, submoments
from pointmodel.estimate.search import log_bayes_factors
from pointmodel.estimate.ties import Ties
from pointmodel.mount.priors import (
    ALTITUDE_ZERO_SLAB,
    AZIMUTH_ZERO_SLAB,
    COLLIMATION_SLAB,
    LEAN_SLAB,
    NON_PERPENDICULARITY_SLAB,
    SPIKE_SD_ARCMIN,
    Slab,
)
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES, TERMS

NODES_AT = (1.0 / 6.0, 0.5, 5.0 / 6.0)  # quantiles in the middle of thirds


@dataclass(frozen=True)
class SlabFault:
    """One of the five faults weighed: its terms, and what is expected of it where it is there."""

    terms: tuple[str, ...]
    slab: Slab

    @property
    def columns(self) -> tuple[int, ...]:
        """Places of its terms among the six."""
        return tuple(STANDARD_NAMES.index(name) for name in self.terms)


FAULTS = (
    SlabFault(("azimuth_index",), AZIMUTH_ZERO_SLAB),
    SlabFault(("altitude_index",), ALTITUDE_ZERO_SLAB),
    SlabFault(("collimation",), COLLIMATION_SLAB),
    SlabFault(("non_perpendicularity",), NON_PERPENDICULARITY_SLAB),
    SlabFault(("tilt_north", "tilt_east"), LEAN_SLAB),
)
SUBSETS = np.array(list(product((False, True), repeat=len(FAULTS))))


@dataclass(frozen=True)
class FaultFinding:
    """How probable it is that a fault is there and large enough to matter, and its size then.

    `value` (v,) and `sd` (v,) of its terms, given that it is there; `limit` is what 95 % of the
    models keep below (of those that have it, for a further term), in the term's unit (the length of
    the vector where a fault has two).
    """

    terms: tuple[str, ...]
    probability: float
    value: FloatArray
    sd: FloatArray
    limit: float


@dataclass(frozen=True)
class _ModelMoments:
    """Models (m,) with a common base set of further terms, each perhaps with one addition.

    `slab` (m, 5) says which faults are there; `mean` and `variance` (m, c) run over `base`, the
    names of the six and of the set, then over the addition, which is `added[choice]`.
    """

    log_weight: FloatArray
    slab: np.ndarray
    mean: FloatArray
    variance: FloatArray
    base: tuple[str, ...]
    choice: np.ndarray
    added: tuple[tuple[str, ...], ...]


def findings(result: Evaluation, posterior: Posterior) -> tuple[FaultFinding, ...]:
    """Return the probability and size of each fault: the five, then every further term."""
    chosen = result.hypothesis.chosen
    nodes = _noise_nodes(result)
    bases: list[tuple[tuple[Addition, ...], tuple[Addition, ...]]]
    bases = [(chosen, posterior.additions)]
    bases += [
        (tuple(a for a in chosen if a is not gone), posterior.additions)
        for gone in result.hypothesis.optional
    ]
    reference: FloatArray | None = None
    parts: list[_ModelMoments] = []
    for terms, additions in bases:
        some, reference = _weigh(
            posterior, terms, additions, nodes, reference, ties=result.hypothesis.ties
        )
        parts.extend(some)
    return _summed_up(parts)


def _noise_nodes(result: Evaluation) -> FloatArray:
    """Return three total variances that stand for the posterior of the noise, equal in weight."""
    middle = np.cumsum(result.weight) - 0.5 * result.weight
    return np.exp(np.interp(NODES_AT, middle, np.log(result.noise.variance)))


def _subset_sd(posterior: Posterior) -> tuple[FloatArray, FloatArray]:
    """Return prior sds (32, 6) of all subsets and their ln prior weights (32,).

    A slab reaches at least to the estimate.
    """
    sd = np.full((len(SUBSETS), N_STANDARD), SPIKE_SD_ARCMIN)
    log_prior = np.zeros(len(SUBSETS))
    size = np.abs(posterior.mean[:N_STANDARD])
    for index, fault in enumerate(FAULTS):
        chosen = SUBSETS[:, index]
        reach = max(fault.slab.sd_arcmin, *(size[c] for c in fault.columns))
        for column in fault.columns:
            sd[chosen, column] = reach
        probability = fault.slab.probability
        log_prior += np.log(np.where(chosen, probability, 1.0 - probability))
    return sd, log_prior


def _as_held(ties: Ties) -> FloatArray:
    """Return ln of what subsets (32,) weigh where faults are held: there if they matter, else not.

    A fault of which a part is free is weighed as usual.
    """
    log_weight = np.zeros(len(SUBSETS))
    for index, fault in enumerate(FAULTS):
        columns = list(fault.columns)
        if ties.held[columns].all():
            size = float(np.hypot.reduce(ties.offset[columns]))
            there = size > TERMS[fault.terms[0]].matters
            log_weight = np.where(SUBSETS[:, index] == there, log_weight, -np.inf)
    return log_weight


def _weigh(
    posterior: Posterior,
    terms: tuple[Addition, ...],
    additions: tuple[Addition, ...],
    nodes: FloatArray,
    reference: FloatArray | None,
    *,
    ties: Ties | None,
) -> tuple[list[_ModelMoments], FloatArray]:
    """Weigh all subsets with one base set of further terms, alone and with each addition."""
    table = posterior.table
    further = [(N_STANDARD + c, a) for a in terms for c in a.columns]
    columns = np.array([*range(N_STANDARD), *(c for c, _ in further)], dtype=int)
    centre = np.zeros(len(table.columns))
    centre[columns[N_STANDARD:]] = [a.mean for _, a in further]
    # here every index stands about zero: a fault is what it adds to a right mount
    every = submoments(table.moments, np.arange(centre.size), centre - table.prior_mean)
    sd, log_prior = _subset_sd(posterior)
    extra = np.tile([a.sd for _, a in further], (len(SUBSETS), 1))
    nothing = np.zeros(columns.size)
    spread, offset = np.hstack([sd, extra]), np.zeros((len(SUBSETS), columns.size))
    if ties is not None:
        about = np.tile(centre[columns], (len(SUBSETS), 1))
        # what is there is a question of priors, whatever the values were asked to rest on
        offset, spread = replace(ties, flat=False).restrict(about, spread)
        offset -= about
        log_prior = log_prior + _as_held(ties)
    spec = gaussian.spectrum(
        submoments(every, columns, nothing), spread, None if ties is None else offset
    )
    log_p = gaussian.log_likelihood(spec, nodes)
    reference = log_p.max(axis=0) if reference is None else reference
    log_weight = log_p - reference + log_prior[:, None] + sum(a.log_odds for a in terms)
    base = _Base(
        spectrum=spec,
        every=every,
        columns=columns,
        centre=centre,
        nodes=nodes,
        log_weight=log_weight,
        offset=offset,
    )
    parts = [base.alone(terms)]
    if additions:
        parts.append(base.extended(terms, additions))
    return parts, reference


@dataclass(frozen=True)
class _Base:
    """All subsets (b,) at all noise nodes (g,) with one set of further terms.

    `every` are the moments of all columns of the table about this set's prior means `centre`; where
    terms are held or tied their means lie `offset` (b, p) from there.
    """

    spectrum: Spectrum
    every: Moments
    columns: np.ndarray
    centre: FloatArray
    nodes: FloatArray
    log_weight: FloatArray
    offset: FloatArray

    @property
    def inverse(self) -> FloatArray:
        """1 / (eigenvalue + variance), (b, g, p)."""
        return 1.0 / (self.spectrum.eigenvalues[:, None] + self.nodes[:, None])

    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Return means and variances (b, g, p) of the columns in use."""
        basis = np.swapaxes(self.spectrum.basis, 1, 2)
        mean = (self.spectrum.score[:, None] * self.inverse) @ basis + self.centre[self.columns]
        mean = mean + self.offset[:, None]
        return mean, (self.nodes[:, None] * self.inverse) @ (basis * basis)

    def alone(self, terms: tuple[Addition, ...]) -> _ModelMoments:
        """Return the models of this set itself."""
        mean, variance = self.moments()
        names = tuple(name for a in terms for name in a.terms)
        shape = self.log_weight.size
        return _ModelMoments(
            log_weight=self.log_weight.ravel(),
            slab=np.repeat(SUBSETS, self.nodes.size, axis=0),
            mean=mean.reshape(shape, -1),
            variance=variance.reshape(shape, -1),
            base=(*STANDARD_NAMES, *names),
            choice=np.zeros(shape, dtype=int),
            added=(),
        )

    def extended(
        self, terms: tuple[Addition, ...], additions: tuple[Addition, ...]
    ) -> _ModelMoments:
        """Return the models with each addition (a,): one more column, or two, by its Bayes factor.

        With P = zᵀM⁻¹r and q = zᵀM⁻¹z for the new columns z, as in `search.py`, their coefficients
        are normal with mean m + τ² (P − m q) / (1 + τ² q) and variance τ² / (1 + τ² q). What they
        take the other terms give back: these are fitted to r − z b, so they lose
        S V diag(1 / (λ + v)) (S V)ᵀ Xᵀz b.
        """
        first = N_STANDARD + np.array([a.columns[0] for a in additions])
        last = N_STANDARD + np.array([a.columns[-1] for a in additions])
        seen = np.swapaxes(self.spectrum.basis, 1, 2) @ self.every.gram[self.columns]
        cross = self.every.cross - (self.spectrum.score[:, None] * self.inverse) @ seen
        cross /= self.nodes[:, None]
        gram = self.every.gram
        inner = (
            np.stack(
                [
                    gram[i, j] - self.inverse @ (seen[:, :, i] * seen[:, :, j])
                    for i, j in ((first, first), (first, last), (last, last))
                ],
                axis=-1,
            )
            / self.nodes[:, None, None]
        )
        inner[..., ::2] = np.maximum(inner[..., ::2], 0.0)
        pull = np.stack([cross[..., first], cross[..., last]], axis=-1)
        value, variance = _coefficients(additions, pull, inner)
        mean, own = self.moments()
        basis = np.swapaxes(self.spectrum.basis, 1, 2)
        taken = np.zeros((*mean.shape[:2], first.size, self.columns.size))
        for place, columns in enumerate((first, last)):
            weights = self.inverse[..., None] * seen[:, None, :, columns]
            taken += np.swapaxes(weights, -1, -2) @ basis[:, None] * value[..., place, None]
        log_weight = self.log_weight[..., None] + log_bayes_factors(list(additions), pull, inner)
        log_weight += np.array([a.log_odds for a in additions])
        count = log_weight.size
        return _ModelMoments(
            log_weight=log_weight.ravel(),
            slab=np.repeat(SUBSETS, count // len(SUBSETS), axis=0),
            mean=np.concatenate([mean[:, :, None] - taken, value], axis=-1).reshape(count, -1),
            variance=np.concatenate(
                [np.broadcast_to(own[:, :, None], taken.shape), variance], axis=-1
            ).reshape(count, -1),
            base=(*STANDARD_NAMES, *(name for a in terms for name in a.terms)),
            choice=np.tile(np.arange(first.size), count // first.size),
            added=tuple(a.terms for a in additions),
        )


def _coefficients(
    additions: tuple[Addition, ...], pull: FloatArray, inner: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return means and variances (b, g, a, 2) of the new columns' coefficients."""
    square = np.array([a.sd for a in additions]) ** 2
    centre = np.array([a.mean for a in additions])
    paired = np.array([len(a.columns) == 2 for a in additions])
    a = 1.0 + square * inner[..., 0]
    b = np.where(paired, square * inner[..., 1], 0.0)
    c = np.where(paired, 1.0 + square * inner[..., 2], 1.0)
    determinant = np.maximum(a * c - b * b, np.maximum(a, c))
    one = pull[..., 0] - centre * inner[..., 0]
    two = np.where(paired, pull[..., 1], 0.0)
    value = np.stack([c * one - b * two, a * two - b * one], axis=-1)
    value *= (square / determinant)[..., None]
    value[..., 0] += centre
    variance = np.stack([c, np.where(paired, a, 0.0)], axis=-1) * (square / determinant)[..., None]
    return value, variance


def _summed_up(parts: list[_ModelMoments]) -> tuple[FaultFinding, ...]:
    top = max(float(part.log_weight.max()) for part in parts)
    weights = [np.exp(part.log_weight - top) for part in parts]
    total = sum(float(weight.sum()) for weight in weights)
    weights = [weight / total for weight in weights]
    found = [_five(fault, index, parts, weights) for index, fault in enumerate(FAULTS)]
    further = {name for part in parts for name in part.base[N_STANDARD:]}
    further = {name for name in further if TERMS[name].acts not in ("readout", "base")}
    groups = {names for part in parts for names in part.added}
    groups |= {tuple(n for n in (name, TERMS[name].partner) if n) for name in further}
    for names in sorted({tuple(sorted(group)) for group in groups}):
        found.append(_further(names, parts, weights))
    return tuple(found)


def _five(
    fault: SlabFault, index: int, parts: list[_ModelMoments], weights: list[FloatArray]
) -> FaultFinding:
    columns = list(fault.columns)
    matters = TERMS[fault.terms[0]].matters
    cells = [
        (weight, part.mean[:, columns], part.variance[:, columns], part.slab[:, index])
        for part, weight in zip(parts, weights, strict=True)
    ]
    return _finding(fault.terms, cells, matters, among_all=True)


def _further(
    names: tuple[str, ...], parts: list[_ModelMoments], weights: list[FloatArray]
) -> FaultFinding:
    """Sum up one further term, or a pair of partners, over the models that have it."""
    cells = []
    for part, weight in zip(parts, weights, strict=True):
        if set(names) <= set(part.base):
            columns = [part.base.index(name) for name in names]
            there = np.ones(weight.size, dtype=bool)
            cells.append((weight, part.mean[:, columns], part.variance[:, columns], there))
            continue
        mine = np.isin(part.choice, [i for i, a in enumerate(part.added) if set(a) == set(names)])
        columns = [len(part.base), len(part.base) + 1][: len(names)]
        zero = np.zeros((weight.size, len(names)))
        mean = np.where(mine[:, None], part.mean[:, columns], zero) if mine.any() else zero
        variance = np.where(mine[:, None], part.variance[:, columns], zero) if mine.any() else zero
        cells.append((weight, mean, variance, mine))
    return _finding(names, cells, TERMS[names[0]].matters, among_all=False)


def _finding(
    names: tuple[str, ...],
    cells: list[tuple[FloatArray, FloatArray, FloatArray, np.ndarray]],
    matters: float,
    *,
    among_all: bool,
) -> FaultFinding:
    """Sum up one fault over cells of weight, mean, variance and presence.

    What is ruled out is asked of all models for the five, of those with the term for a further one.
    """
    weight, mean, variance, there = (np.concatenate(part) for part in zip(*cells, strict=True))
    size = np.hypot.reduce(mean, axis=1)
    real = there & (size > matters)
    probability = float(weight[real].sum())
    share = weight[real] / max(probability, 1e-300)
    value = share @ mean[real]
    spread = share @ (variance[real] + (mean[real] - value) ** 2) if real.any() else variance[0]
    reach = size + NORMAL_95 * np.sqrt(variance.max(axis=1))
    counted = np.ones(weight.size, dtype=bool) if among_all else there & (weight > 0.0)
    order = np.argsort(reach[counted])
    cumulative = np.cumsum(weight[counted][order])
    limit = (
        reach[counted][order][np.searchsorted(cumulative, 0.95 * cumulative[-1])]
        if order.size
        else 0.0
    )
    # shares of one may sum to a hair above it
    return FaultFinding(names, min(probability, 1.0), value, np.sqrt(spread), float(limit))
