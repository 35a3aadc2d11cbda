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

NEGLIGIBLE_NATS = 30.0  # a thousand models so far behind the best weigh 1e-10 in all
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
_PROBABILITY = np.array([fault.slab.probability for fault in FAULTS])
LOG_SUBSET_PRIOR = np.log(np.where(SUBSETS, _PROBABILITY, 1.0 - _PROBABILITY)).sum(axis=1)


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
class _Models:
    """Models (m, a): with a common base set of further terms, alone and with each addition to it.

    `slab` (m, 5) says which of the five are there. `added` (a,) names what is added, () first;
    `value` and `variance` (m, a - 1, 2) are those of what is added. `base` names the six and the
    set; `mean` and `base_variance` (k, a, c) are theirs, of those models `kept` (m,) that count.
    """

    log_weight: FloatArray
    slab: np.ndarray
    added: tuple[tuple[str, ...], ...]
    value: FloatArray
    variance: FloatArray
    base: tuple[str, ...]
    kept: np.ndarray
    mean: FloatArray
    base_variance: FloatArray


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
    parts: list[_Models] = []
    for terms, additions in bases:
        some, reference = _weigh(
            posterior, terms, additions, nodes, reference, ties=result.hypothesis.ties
        )
        parts.append(some)
    return _summed_up(parts)


def _noise_nodes(result: Evaluation) -> FloatArray:
    """Return three total variances that stand for the posterior of the noise, equal in weight."""
    middle = np.cumsum(result.weight) - 0.5 * result.weight
    return np.exp(np.interp(NODES_AT, middle, np.log(result.noise.variance)))


def _subset_sd(posterior: Posterior) -> FloatArray:
    """Return prior sds (32, 6) of all subsets; a slab reaches at least to the estimate."""
    sd = np.full((len(SUBSETS), N_STANDARD), SPIKE_SD_ARCMIN)
    size = np.abs(posterior.mean[:N_STANDARD])
    for index, fault in enumerate(FAULTS):
        chosen = SUBSETS[:, index]
        reach = max(fault.slab.sd_arcmin, *(size[c] for c in fault.columns))
        for column in fault.columns:
            sd[chosen, column] = reach
    return sd


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
) -> tuple[_Models, FloatArray]:
    """Weigh all subsets with one base set of further terms, alone and with each addition."""
    table = posterior.table
    further = [(N_STANDARD + c, a) for a in terms for c in a.columns]
    columns = np.array([*range(N_STANDARD), *(c for c, _ in further)], dtype=int)
    centre = np.zeros(len(table.columns))
    centre[columns[N_STANDARD:]] = [a.mean for _, a in further]
    # here every index stands about zero: a fault is what it adds to a right mount
    every = submoments(table.moments, np.arange(centre.size), centre - table.prior_mean)
    sd, log_prior = _subset_sd(posterior), LOG_SUBSET_PRIOR
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
    return base.extended(terms, additions), reference


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

    def extended(self, terms: tuple[Addition, ...], additions: tuple[Addition, ...]) -> _Models:
        """Return the models alone and with each addition: a column more, or two, by Bayes factor.

        With P = zᵀM⁻¹r and q = zᵀM⁻¹z for the new columns z, as in `search.py`, their coefficients
        are normal with mean m + τ² (P − m q) / (1 + τ² q) and variance τ² / (1 + τ² q). What they
        take the other terms give back: these are fitted to r − z b, so they lose
        S V diag(1 / (λ + v)) (S V)ᵀ Xᵀz b.
        """
        ends = np.array([(a.columns[0], a.columns[-1]) for a in additions], dtype=int)
        ends = N_STANDARD + ends.reshape(-1, 2).T
        seen = np.swapaxes(self.spectrum.basis, 1, 2) @ self.every.gram[self.columns]
        pull, inner = self._products(seen, *ends)
        value, variance = _coefficients(additions, pull, inner)
        gain = log_bayes_factors(list(additions), pull, inner) + [a.log_odds for a in additions]
        alone = self.log_weight[..., None]
        log_weight = np.concatenate([alone, alone + gain], axis=-1)
        best = log_weight.max(axis=(1, 2))
        kept = best > best.max() - NEGLIGIBLE_NATS
        mean, own = (part[kept, :, None] for part in self.moments())
        inverse, seen = self.inverse[kept, :, :, None], seen[kept, None]
        basis = np.swapaxes(self.spectrum.basis[kept, None], -1, -2)
        taken = np.zeros((*mean.shape[:2], len(additions), mean.shape[-1]))
        for place, columns in enumerate(ends):
            back = np.swapaxes(inverse * seen[..., columns], -1, -2) @ basis
            taken += back * value[kept][..., place, None]
        counts = self.log_weight.size, 1 + len(additions)
        mean = np.concatenate([mean, mean - taken], axis=2)
        return _Models(
            log_weight=log_weight.reshape(counts),
            slab=np.repeat(SUBSETS, self.nodes.size, axis=0),
            added=((), *(a.terms for a in additions)),
            value=value.reshape(counts[0], -1, 2),
            variance=variance.reshape(counts[0], -1, 2),
            base=(*STANDARD_NAMES, *(name for a in terms for name in a.terms)),
            kept=np.repeat(kept, self.nodes.size),
            mean=mean.reshape(-1, *mean.shape[2:]),
            base_variance=np.broadcast_to(own, mean.shape).reshape(-1, *mean.shape[2:]),
        )

    def _products(
        self, seen: FloatArray, first: np.ndarray, last: np.ndarray
    ) -> tuple[FloatArray, FloatArray]:
        """Return P (b, g, a, 2) and q (b, g, a, 3) of additions whose columns are these.

        `seen` (b, p, c) is (S V)ᵀXᵀz of every column of the table.
        """
        cross = self.every.cross - (self.spectrum.score[:, None] * self.inverse) @ seen
        gram = self.every.gram
        inner = np.stack(
            [
                gram[i, j] - self.inverse @ (seen[:, :, i] * seen[:, :, j])
                for i, j in ((first, first), (first, last), (last, last))
            ],
            axis=-1,
        )
        inner[..., ::2] = np.maximum(inner[..., ::2], 0.0)
        pull = np.stack([cross[..., first], cross[..., last]], axis=-1)
        variance = self.nodes[:, None, None]
        return pull / variance, inner / variance


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


def _summed_up(parts: list[_Models]) -> tuple[FaultFinding, ...]:
    top = max(float(part.log_weight.max()) for part in parts)
    weights = [np.exp(part.log_weight - top) for part in parts]
    total = sum(float(weight.sum()) for weight in weights)
    weights = [weight / total for weight in weights]
    further = {name for part in parts for name in part.base[N_STANDARD:]}
    further = {name for name in further if TERMS[name].acts not in ("readout", "base")}
    groups = {names for part in parts for names in part.added if names}
    groups |= {tuple(n for n in (name, TERMS[name].partner) if n) for name in further}
    names = sorted({tuple(sorted(group)) for group in groups})
    return (*_five(parts, weights), *(_further(group, parts, weights) for group in names))


def _five(parts: list[_Models], weights: list[FloatArray]) -> list[FaultFinding]:
    """Sum up the five faults over all models."""
    weight, mean, variance, slab = (np.concatenate(one, axis=-1) for one in zip(*(
        (
            weight[part.kept].ravel(),
            part.mean[..., :N_STANDARD].reshape(-1, N_STANDARD).T,
            part.base_variance[..., :N_STANDARD].reshape(-1, N_STANDARD).T,
            np.repeat(part.slab[part.kept], len(part.added), axis=0).T,
        )
        for part, weight in zip(parts, weights, strict=True)
    ), strict=True))  # fmt: skip
    return [
        _finding(
            fault.terms,
            weight,
            mean[list(fault.columns)],
            variance[list(fault.columns)],
            there=slab[index],
        )
        for index, fault in enumerate(FAULTS)
    ]


def _further(
    names: tuple[str, ...], parts: list[_Models], weights: list[FloatArray]
) -> FaultFinding:
    """Sum up one further term, or a pair of partners, over the models that have it."""
    cells = []
    for part, weight in zip(parts, weights, strict=True):
        if set(names) <= set(part.base):
            columns = [part.base.index(name) for name in names]
            shares, mean, variance = weight[part.kept], part.mean, part.base_variance
        else:
            ways = [way for way, added in enumerate(part.added) if set(added) == set(names)]
            columns = [part.added[ways[0]].index(name) for name in names] if ways else []
            before = [way - 1 for way in ways]
            shares = weight[:, ways]
            mean, variance = part.value[:, before], part.variance[:, before]
        flat = (array[..., columns].reshape(-1, len(names)).T for array in (mean, variance))
        cells.append((shares.ravel(), *flat))
    return _finding(names, *(np.concatenate(one, axis=-1) for one in zip(*cells, strict=True)))


def _finding(
    names: tuple[str, ...],
    weight: FloatArray,
    mean: FloatArray,
    variance: FloatArray,
    there: np.ndarray | None = None,
) -> FaultFinding:
    """Sum up one fault over models of weights (m,), means and variances (v, m).

    `there` (m,) says in which models it is; in all, where that is left out.
    """
    size = np.hypot.reduce(mean, axis=0)
    real = size > TERMS[names[0]].matters
    if there is not None:
        real &= there
    probability = float(weight[real].sum())
    share = weight[real] / max(probability, 1e-300)
    value = mean[:, real] @ share
    spread = (variance[:, real] + (mean[:, real] - value[:, None]) ** 2) @ share
    reach = size + NORMAL_95 * np.sqrt(variance.max(axis=0))
    order = np.argsort(reach)
    cumulative = np.cumsum(weight[order])
    limit = reach[order[np.searchsorted(cumulative, 0.95 * cumulative[-1])]]
    # shares of one may sum to a hair above it
    return FaultFinding(names, min(probability, 1.0), value, np.sqrt(spread), float(limit))
