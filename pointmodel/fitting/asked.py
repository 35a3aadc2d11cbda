"""A fit of exactly the terms that a user asked for, by lmfit's own minimiser.

Read `parameters.py` and `estimate/ties.py` first. Which pairs are good and where to start is what
the estimator found. lmfit finds the terms; the estimator's linear core about that point then gives
noise, intervals and draws, so that forecasts, causes and all else follow as from any fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.angles import wrapped_index_arcmin
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import trace
from pointmodel.base.wording import join
from pointmodel.estimate.evaluation import Evaluation, Hypothesis, Settings, evaluate
from pointmodel.estimate.fromlog import circumstances_of
from pointmodel.estimate.identify import statuses
from pointmodel.estimate.observations import (
    Addition,
    Column,
    Observations,
    Varied,
    column_shapes,
    linear_problem,
)
from pointmodel.estimate.posterior import mix_of, posterior_of, table_of
from pointmodel.estimate.search import Candidate, Moves, score_pairs
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.ties import Ties
from pointmodel.fitting.parameters import SLIPS, checked, is_asked, is_term
from pointmodel.forecasting.machine import MountModel
from pointmodel.mount.term import Circumstances, Prior, Term
from pointmodel.mount.terms import N_STANDARD, READOUT, SINKING, STANDARD_NAMES, TERMS
from pointmodel.reading.nightlog import NightLog

if TYPE_CHECKING:
    from lmfit import Parameters

    from pointmodel.fitting.lmfitmodel import MissesOfPairs, Pull, SkyResult

TURN_ARCMIN = 21600.0
SETTLED = 1e-3  # of the noise variance: standard errors then stand to half a thousandth
MOST_ROUNDS = 6
HAIR_ARCMIN = 1e-3  # of doubt about what is held or tied, so that covariances have inverses
UNSEEN = 1e-9  # of the best seen combination: what is seen less is nothing but rounding


@dataclass(frozen=True, eq=False)
class AskedTerms:
    """What a user asked for: parameters as given, whether priors count, terms of one's own.

    `result` is lmfit's of the last segment, once there is one.
    """

    parameters: Parameters
    priors: bool
    own: tuple[Term, ...] = ()
    result: SkyResult | None = None


def as_asked(solution: Solution, log: NightLog, asked: AskedTerms) -> tuple[Solution, SkyResult]:
    """Return a segment's solution with exactly the terms asked for, and lmfit's own result.

    Raises InputError where these parameters cannot be fitted to this log.
    """
    params = checked(asked.parameters, asked.own, log)
    hypothesis = _hypothesis(solution, log, params, asked.own)
    _start(params, solution, hypothesis)
    hypothesis = _tied(hypothesis, params, flat=not asked.priors)
    settings, variance = solution.settings, solution.candidate.result.variance
    _refuse_unseen(hypothesis, _free(params))
    for attempt in range(MOST_ROUNDS):
        result = evaluate(hypothesis, settings, variance)
        before, variance = variance, result.variance
        pull = _pull(result, settings, variance, params) if asked.priors else None
        made = _by_lmfit(result, variance, pull, params, log)
        params = made.params
        hypothesis = _tied(hypothesis, params, flat=not asked.priors)
        if attempt and abs(np.log(variance / before)) < SETTLED:
            break
    return _solution(evaluate(hypothesis, settings, variance), solution, made), made


def _free(params: Parameters) -> tuple[str, ...]:
    return tuple(name for name, p in params.items() if p.vary and not p.expr)


def _names(hypothesis: Hypothesis) -> tuple[str, ...]:
    """Return the terms (p,) in the order of the design's columns."""
    return (*STANDARD_NAMES, *(column.name for column in hypothesis.obs.columns))


def _tied(hypothesis: Hypothesis, params: Parameters, *, flat: bool) -> Hypothesis:
    """Return the hypothesis linearised at the values of the parameters, with their ties there."""
    names, free = _names(hypothesis), _free(params)
    at = _values_of(params, names)
    slope = _slopes(params, names, free)
    ties = Ties(offset=at - slope @ _values_of(params, free), slope=slope, flat=flat)
    return replace(hypothesis, at=at, ties=ties)


def _hypothesis(
    solution: Solution, log: NightLog, params: Parameters, own: tuple[Term, ...]
) -> Hypothesis:
    """Return the model asked for, its good pairs those of the estimator."""
    columns = _columns(params, own)
    obs = _observed(solution.observations, columns, log, _slip_at(params, solution, log))
    chosen = tuple(
        Addition((column.name,), (place,), prior.mean, prior.sd, 0.0)
        for place, column in enumerate(columns)
        for prior in (_prior(column, solution.observations),)
    )
    return Hypothesis(
        obs=replace(obs, always=chosen),
        chosen=chosen,
        good=solution.candidate.result.hypothesis.good,
        at=np.zeros(N_STANDARD + len(columns)),
    )


def _columns(params: Parameters, own: tuple[Term, ...]) -> tuple[Column, ...]:
    """Return the further columns asked for; partners that act together come together."""
    names = [name for name in params if is_term(name, own) and is_asked(params, name)]
    for pair in (READOUT, SINKING, tuple(TERMS[name] for name in SLIPS)):
        both = [term.name for term in pair]
        if set(both).intersection(names):
            others = [name for name in names if name not in both]
            names = [*both, *others] if pair is READOUT else [*others, *both]
    of_own = {term.name: term for term in own}
    return tuple(
        Column(name, negative=_is_negative(params, name), own=of_own.get(name))
        for name in names
        if name not in STANDARD_NAMES
    )


def _is_negative(params: Parameters, name: str) -> bool:
    """Whether a term acts as it does near its negative prior: by the value it starts from."""
    term = TERMS.get(name)
    return term is not None and term.negative_shape is not None and params[name].value < 0.0


def _slip_at(params: Parameters, solution: Solution, log: NightLog) -> int | None:
    """Return the first pair after a slip that is asked for: as told, or as the estimator found."""
    asked = [name for name in SLIPS if is_asked(params, name)]
    if not asked:
        return None
    lines = {params[name].user_data for name in asked} - {None}
    found = solution.observations.slip_at
    if not lines and found is not None:
        return found
    places = [int(np.searchsorted(log.line, line, side="right")) for line in lines if _whole(line)]
    if len(lines) != 1 or len(places) != 1 or not 0 < places[0] < len(log):
        told = join([str(line) for line in lines]) or "no line"
        wanted = "user_data = the line of the log after which it happened, the same for both axes"
        raise InputError([Problem("<params>", None, asked[0], f"a slip after {told}", wanted)])
    return places[0]


def _whole(line: object) -> bool:
    return isinstance(line, (int, np.integer)) and not isinstance(line, bool)


def _prior(column: Column, obs: Observations) -> Prior:
    """Return the prior of a further term: as carried over from an earlier segment, or its own."""
    for addition in obs.additions:
        if column.name in addition.terms and (addition.mean < 0.0) == column.negative:
            return Prior(addition.mean, addition.sd, 1.0)
    term = column.term
    priors = term.priors or (TERMS[term.partner].priors if term.partner else ())
    return next(prior for prior in priors if (prior.mean < 0.0) == column.negative)


def _observed(
    obs: Observations, columns: tuple[Column, ...], log: NightLog, slip_at: int | None
) -> Observations:
    at = circumstances_of(log)
    shapes = column_shapes(columns, at)
    if slip_at is not None:
        before = np.arange(obs.count) < slip_at
        slips = np.array([column.name in SLIPS for column in columns])
        for shape in shapes:
            shape[np.outer(before, slips)] = 0.0
    return replace(
        obs,
        columns=columns,
        az_shape=shapes[0],
        alt_shape=shapes[1],
        star_shape=shapes[2],
        additions=(),
        slip_at=slip_at,
        varied=_sinking(columns, at),
    )


def _sinking(columns: tuple[Column, ...], at: Circumstances) -> tuple[Varied, ...]:
    """Return the columns of a lean that changes; the six are those of the end."""
    names = [term.name for term in SINKING]
    tilts = [STANDARD_NAMES.index(name) for name in ("tilt_north", "tilt_east")]
    since_end = at.hours - at.hours[-1]
    return tuple(
        Varied(place, tilts[names.index(column.name)], since_end)
        for place, column in enumerate(columns)
        if column.name in names
    )


def _start(params: Parameters, solution: Solution, hypothesis: Hypothesis) -> None:
    """Start free terms from what the estimator found; what the model has besides is held at 0."""
    posterior = solution.posterior
    found = {posterior.columns[c].name: float(posterior.mean[c]) for c in posterior.chosen}
    found["azimuth_index"] = wrapped_index_arcmin(found["azimuth_index"])
    for name in (*STANDARD_NAMES, *(column.name for column in hypothesis.obs.columns)):
        if name not in params:
            params.add(name, value=0.0, vary=False)
        one = params[name]
        if one.vary and not one.expr:
            one.value = _within(found.get(name, one.value), one, name)


def _within(value: float, one: Any, name: str) -> float:
    """Return a start inside the bounds: on a bound the minimiser sees no slope."""
    if name == "azimuth_index":
        turns = value + TURN_ARCMIN * np.arange(-1, 2)
        inside = turns[(turns >= one.min) & (turns <= one.max)]
        value = float(inside[np.abs(inside).argmin()]) if inside.size else value
    margin = 0.01 * (one.max - one.min) if np.isfinite(one.max - one.min) else 0.1
    if not np.isfinite(one.min) and not np.isfinite(one.max):
        return value
    return float(np.clip(value, one.min + margin, one.max - margin))


def _by_lmfit(
    result: Evaluation, variance: float, pull: Pull | None, params: Parameters, log: NightLog
) -> SkyResult:
    """Return lmfit's result, rows weighted by this noise. Raises InputError where it finds none."""
    from pointmodel.fitting.lmfitmodel import SkyModel, fitted

    model = SkyModel(misses_of_pairs(result.hypothesis, log), pull, tuple(params))
    try:
        return fitted(model, params, _row_sds(result, variance))
    except (ValueError, TypeError, ArithmeticError, NameError) as error:
        trace()
        raise InputError([_unfit(f"what lmfit cannot fit: {error}", "other parameters")]) from error


def _row_sds(result: Evaluation, variance: float) -> FloatArray:
    """Return the standard deviations (2n,) of the good pairs' rows: across, then in height."""
    sd = np.sqrt(variance * result.rows.rho[result.hypothesis.good])
    return np.concatenate([sd[:, 0], sd[:, 1]])


def _pull(
    result: Evaluation, settings: Settings, variance: float, params: Parameters
) -> Pull | None:
    ties = result.hypothesis.ties
    assert ties is not None
    information, mean = _mixed(result, settings)
    centre = np.asarray(np.linalg.lstsq(ties.slope, mean - ties.offset, rcond=None)[0])
    return _pull_to(
        result, variance, ties, information=information, centre=centre, free=_free(params)
    )


def _pull_to(
    result: Evaluation,
    variance: float,
    ties: Ties,
    *,
    information: FloatArray,
    centre: FloatArray,
    free: tuple[str, ...],
) -> Pull:
    """Return the one normal prior that leads to the free parameters `centre` (f,) of the mixture.

    Its `information` (p, p) is the mean of that of all priors, by their weight after the night; its
    mean is such that the posterior's is that of the mixture (one moment matched, as in Minka 2001,
    Expectation Propagation for approximate Bayesian inference): with those of the pairs,
    (Λ + G / v) centre = Λ m + g / v.
    """
    from pointmodel.fitting.lmfitmodel import Pull

    hypothesis, problem = result.hypothesis, result.problem
    scale = np.sqrt(result.rows.rho[hypothesis.good])
    design = problem.design[hypothesis.good][..., hypothesis.columns]
    at = hypothesis.at[hypothesis.columns]
    seen = (design / scale[..., None]).reshape(-1, at.size)
    data = (problem.miss[hypothesis.good] / scale).ravel() + seen @ (at - ties.offset)
    seen = seen @ ties.slope
    own = ties.slope.T @ information @ ties.slope
    told = (seen.T @ (seen @ centre - data)) / variance
    mean = centre + np.linalg.solve(own, told)
    return Pull(free, np.asarray(mean), np.asarray(np.linalg.cholesky(own)))


def _mixed(result: Evaluation, settings: Settings) -> tuple[FloatArray, FloatArray]:
    """Return the mean information (p, p) of the priors and the mean (p,) of their posteriors.

    Weighted by what the night says of each prior and of the noise.
    """
    hypothesis = result.hypothesis
    several = settings.priors_of(hypothesis.at[:N_STANDARD], result.mean[:N_STANDARD])
    table, ties = table_of(result, ()), hypothesis.ties
    mixes = [mix_of(table, hypothesis.chosen, one, result.noise, ties) for one in several]
    top = max(float(mix.log_weight.max()) for mix in mixes)
    weights = [np.exp(mix.log_weight - top) for mix in mixes]
    total = sum(float(weight.sum()) for weight in weights)
    further = np.array([addition.sd for addition in hypothesis.chosen for _ in addition.columns])
    width = mixes[0].columns.size
    information, mean = np.zeros((width, width)), np.zeros(width)
    for prior, mix, weight in zip(several, mixes, weights, strict=True):
        share = weight / total
        inverse = 1.0 / (mix.eigenvalues[:, None] + mix.noise.variance[:, None])
        centred = mix.score * (share[..., None] * inverse).sum(axis=1)
        mean += share.sum(axis=1) @ mix.offset + np.einsum("bpf,bf->p", mix.basis, centred)
        information += _informations(prior.with_further(further), share.sum(axis=1))
    return information, mean


def _informations(spread: FloatArray, share: FloatArray) -> FloatArray:
    """Return the weighted sum (p, p) of the inverses of covariances with sds or roots `spread`."""
    if spread.ndim == 2:
        return np.diag(share @ (1.0 / spread**2))
    inverse = np.linalg.inv(spread)
    return np.asarray(np.einsum("b,bkp,bkq->pq", share, inverse, inverse))


def chosen_by_lmfit(solution: Solution, log: NightLog) -> SkyResult:
    """Return lmfit's result for the model that the estimator chose, its priors as further rows."""
    from lmfit import Parameters

    result, posterior = solution.candidate.result, solution.posterior
    hypothesis = result.hypothesis
    columns = hypothesis.columns
    information, _ = _mixed(result, solution.settings)
    untied = Ties(offset=np.zeros(columns.size), slope=np.eye(columns.size))
    variance = result.variance
    obs = _with_columns(hypothesis.obs, columns[N_STANDARD:] - N_STANDARD)
    alone = replace(result, hypothesis=replace(hypothesis, obs=obs, at=hypothesis.at[columns]))
    names = _names(alone.hypothesis)
    centre = posterior.mean[posterior.chosen]
    pull = _pull_to(result, variance, untied, information=information, centre=centre, free=names)
    params = Parameters()
    for name, value in zip(names, centre.tolist(), strict=True):
        params.add(name, value=value)
    return _by_lmfit(alone, variance, pull, params, log)


def _with_columns(obs: Observations, places: FloatArray) -> Observations:
    """Return the observations with some of their further columns (k,) only, in that order."""
    new = {int(old): place for place, old in enumerate(places)}
    return replace(
        obs,
        columns=tuple(obs.columns[place] for place in places),
        az_shape=obs.az_shape[:, places],
        alt_shape=obs.alt_shape[:, places],
        star_shape=obs.star_shape[:, places],
        additions=(),
        varied=tuple(
            replace(one, column=new[one.column]) for one in obs.varied if one.column in new
        ),
    )


def _unfit(found: str, wanted: str) -> Problem:
    return Problem("<params>", None, None, found, wanted)


def _values_of(params: Parameters, names: Sequence[str]) -> FloatArray:
    return np.array([float(params[name].value) for name in names])


def misses_of_pairs(hypothesis: Hypothesis, log: NightLog) -> MissesOfPairs:
    """Return the model function of the good pairs of a hypothesis."""
    from pointmodel.fitting.lmfitmodel import MissesOfPairs

    good, at = hypothesis.good, circumstances_of(log)
    places = {
        "az_deg": log.star_az_deg[good],
        "alt_deg": log.star_alt_deg[good],
        "az_motion": np.asarray(at.az_motion, dtype=float)[good],
        "alt_motion": np.asarray(at.alt_motion, dtype=float)[good],
        "hours": at.hours[good],
    }
    machine = MountModel(
        values=hypothesis.at,
        columns=hypothesis.obs.columns,
        hours=float(at.hours[-1]),
        azimuth_origin_deg=log.mount.azimuth_origin_deg,
        pressure_hpa=log.mount.pressure_hpa,
        temperature_c=log.mount.temperature_c,
    )
    return MissesOfPairs(_only(hypothesis.obs, good), places, machine)


def _only(obs: Observations, good: BoolArray) -> Observations:
    """Return the good pairs alone, without what only a search needs."""
    return replace(
        obs,
        star_az=obs.star_az[good],
        star_alt=obs.star_alt[good],
        reading_az=obs.reading_az[good],
        reading_alt=obs.reading_alt[good],
        az_shape=obs.az_shape[good],
        alt_shape=obs.alt_shape[good],
        star_shape=obs.star_shape[good],
        varied=tuple(replace(one, factor=one.factor[good]) for one in obs.varied),
    )


def _slopes(params: Parameters, names: Sequence[str], free: Sequence[str]) -> FloatArray:
    """Return how terms (p,) change with free parameters (f,); ties by central differences."""
    slope = np.array([[float(name == one) for one in free] for name in names])
    if not any(p.expr for p in params.values()):
        return slope.reshape(len(names), len(free))
    moved = deepcopy(params)
    for column, one in enumerate(free):
        value = float(params[one].value)
        step = 1e-4 * max(1.0, abs(value))
        ends = []
        for side in (step, -step):
            moved[one].value = value + side
            moved.update_constraints()
            ends.append(_values_of(moved, names))
        moved[one].value = value
        slope[:, column] = (ends[0] - ends[1]) / (2.0 * step)
    return slope


def _refuse_unseen(hypothesis: Hypothesis, free: tuple[str, ...]) -> None:
    """Raise InputError where pairs and priors say nothing of some free parameters."""
    ties = hypothesis.ties
    assert ties is not None
    idle = [name for name, column in zip(free, ties.slope.T, strict=True) if not column.any()]
    if idle:
        wanted = "free parameters that are terms, or to which terms are tied"
        raise InputError([_unfit(f"{join(idle)}, which no term follows", wanted)])
    if not ties.flat:
        return
    design = linear_problem(hypothesis.obs, hypothesis.at).design[hypothesis.good]
    design = design.reshape(-1, len(ties.slope)) @ ties.slope
    size = np.sqrt((design**2).sum(axis=0))
    _, seen, directions = np.linalg.svd(design / np.maximum(size, 1e-300), full_matrices=True)
    seen = np.concatenate([seen, np.zeros(len(free) - len(seen))])
    if seen[-1] > UNSEEN * seen[0] and size.min() > 0.0:
        return
    lost = np.abs(directions[-1]) > 0.1 * np.abs(directions[-1]).max()
    names = [name for name, one in zip(free, lost, strict=True) if one]
    pairs = int(hypothesis.good.sum())
    found = f"{len(free)} free parameters, but {pairs} good pairs say nothing of {join(names)}"
    raise InputError([_unfit(found, "more stars, some held (vary=False), or priors=True")])


def _solution(result: Evaluation, before: Solution, made: SkyResult) -> Solution:
    """Return all that the estimator says about the optimum that lmfit found."""
    hypothesis, settings = result.hypothesis, before.settings
    result = replace(result, mean=hypothesis.at)
    nothing = np.zeros(0)
    moves = Moves([], nothing, np.zeros(0, dtype=int), nothing)
    candidate = Candidate(result, score_pairs(result), moves, before.candidate.log_total)
    posterior = posterior_of(candidate, settings)
    names = [column.name for column in posterior.columns]
    low, high = _bounds(made.params, names)
    assert hypothesis.ties is not None
    as_usual = replace(hypothesis, ties=replace(hypothesis.ties, flat=False))
    usual = evaluate(as_usual, settings, result.variance)
    return Solution(
        observations=hypothesis.obs,
        settings=settings,
        candidate=candidate,
        posterior=replace(
            posterior,
            mean=hypothesis.at,
            covariance=posterior.covariance + HAIR_ARCMIN**2 * np.eye(len(names)),
            low=np.clip(posterior.low, low, hypothesis.at),
            high=np.clip(posterior.high, hypothesis.at, high),
            draws=np.clip(posterior.draws + (hypothesis.at - posterior.mean), low, high),
        ),
        statuses=statuses(usual),
        standard_errors=_standard_errors(made.params, names, posterior.covariance),
    )


def _bounds(params: Parameters, names: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    """Return the bounds (p,) of the terms."""
    low = np.array([params[name].min for name in names], dtype=float)
    high = np.array([params[name].max for name in names], dtype=float)
    return low, high


def _standard_errors(
    params: Parameters, names: Sequence[str], covariance: FloatArray
) -> FloatArray:
    """Return lmfit's standard errors (p,); the posterior's where lmfit could give none."""
    own = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    told = [params[name].stderr for name in names]
    return np.array([
        sd if one is None or not np.isfinite(one) else float(one)
        for one, sd in zip(told, own.tolist(), strict=True)
    ])  # fmt: skip
