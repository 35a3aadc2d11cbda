"""What happened to a mount while it was logged, found where nobody wrote it down.

Read `search.py` and `segments.py` first. A base that is knocked, a tube that shifts in its saddle,
ground that sinks: each makes terms of the six differ from pair to pair, and is weighed as further
columns of the model, with everything else (bad pairs, further terms, a slip of the clutch) free to
explain the log in its stead. Only a log that fits badly is asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray, IntArray
from pointmodel.estimate.evaluation import Hypothesis, Settings
from pointmodel.estimate.glance import Happening, Plain, glance_at, plain_of
from pointmodel.estimate.observations import Addition, Observations, with_varied
from pointmodel.estimate.posterior import full_evidence
from pointmodel.estimate.search import (
    SLIP_MARGIN,
    SLIP_PRIOR,
    SLIP_TERMS,
    Candidate,
    refine,
    take_up_slip,
)
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.priors import (
    LOG_ODDS_MOVED,
    LOG_ODDS_SINKING,
    LOG_ODDS_TUBE_SHIFTED,
    LOOSEST_SIGMA_ARCMIN,
    MOVED_INDEX_SD_ARCMIN,
    MOVED_TILT_SD_ARCMIN,
    PROBABILITY_ZEROED_ELSEWHERE,
    SHIFTED_COLLIMATION_SD_ARCMIN,
    SINKING_SD_ARCMIN_H,
)
from pointmodel.mount.terms import N_STANDARD, SINKING, STANDARD_NAMES

MoveKind = Literal["moved", "tube_shifted", "sinking", "zeroed_elsewhere"]
Tale = MoveKind | Literal["slip"]  # a slip of the clutch is a term of the plain log


@dataclass(frozen=True)
class MoveHypothesis:
    """One thing that may happen: the terms that are new after it, in groups with the sd of change.

    `log_odds` is ln of the prior odds that it happened at all, in a log that fits badly; of a
    zeroing, that it was not on the star of the line above. Sds are arcminutes; of ground that
    sinks, arcminutes an hour.
    """

    kind: Tale
    log_odds: float
    groups: tuple[tuple[tuple[str, ...], float], ...]

    def by(self, factor: FloatArray) -> Happening:
        """Return it with its terms changed by these factors (m, n)."""
        every = [(STANDARD_NAMES.index(name), sd) for names, sd in self.groups for name in names]
        return Happening(tuple(t for t, _ in every), np.array([sd for _, sd in every]), factor)


INDICES = ("azimuth_index", "altitude_index")
TILTS = ("tilt_north", "tilt_east")
MOVED = MoveHypothesis(
    "moved", LOG_ODDS_MOVED, ((INDICES, MOVED_INDEX_SD_ARCMIN), (TILTS, MOVED_TILT_SD_ARCMIN))
)
TUBE_SHIFTED = MoveHypothesis(
    "tube_shifted",
    LOG_ODDS_TUBE_SHIFTED,
    ((INDICES, MOVED_INDEX_SD_ARCMIN), (("collimation",), SHIFTED_COLLIMATION_SD_ARCMIN)),
)
ZEROED_ELSEWHERE = MoveHypothesis(
    "zeroed_elsewhere",
    float(np.log(PROBABILITY_ZEROED_ELSEWHERE / (1.0 - PROBABILITY_ZEROED_ELSEWHERE))),
    ((INDICES, MOVED_INDEX_SD_ARCMIN),),
)
SINKS = MoveHypothesis("sinking", LOG_ODDS_SINKING, (((*TILTS, *INDICES), SINKING_SD_ARCMIN_H),))
SLIPPED = MoveHypothesis("slip", float(np.log(SLIP_PRIOR.odds)), ((INDICES, SLIP_PRIOR.sd),))
SINKING_TERMS = tuple(term.name for term in SINKING)
DRIFTS = ("azimuth_drift", "altitude_drift")

MARGIN = 2  # pairs before and after: one alone is explained by any new zeros
FEWEST_PAIRS = 5  # two on each side and one to spare
# A choice, for time: each place costs a search, and logs of hundreds are a camera's.
MOST_PAIRS = 300
COARSE_PLACES = 32  # evenly spread, then all about the best of them: a choice, for time
FULLY_WEIGHED = 3  # a choice: in trials the right place was never farther down at a glance
REACH_NATS = 8.0  # measured: of 900 moves that were possible at all, two looked worse at a glance
# Of the log's noise: measured, a clean night hardly ever reaches it, a knock of 10′ mostly does.
TIMES_USUAL_NOISE = 1.5
SURE_SLIP = 0.99  # of the pen, beside another star: a choice
MISFIT_SQUARE = 11.8  # .3 % of χ² with two degrees of freedom, as `record` judges one pair
# A move is taken up where it is likelier than all else together, and said as possible down to one
# chance in eight: choices. Measured with them: no false one on 3,000 nights that stood still.
TAKEN_UP_ABOVE_NATS, POSSIBLE_ABOVE_NATS = 0.0, -2.0
MOST_ASIDE = 0.3  # a choice: with more bad lines a move is not what is wrong with the log
AT_A_GLANCE = 1.5  # a choice: what a glance finds so many times beyond these limits is beyond them


@dataclass(frozen=True)
class Move:
    """Something that happened: before which pair (None: all the time), ln odds, what it changed.

    `change` is after minus before by term, arcminutes (an hour, for what goes on).
    """

    kind: MoveKind
    first_after: int | None
    log_odds: float
    change: Mapping[str, float]

    @property
    def taken_up(self) -> bool:
        """Whether the fit is to be of the log so parted."""
        return self.log_odds > TAKEN_UP_ABOVE_NATS

    @property
    def probability(self) -> float:
        """Posterior probability against all that the plain log could be."""
        return float(1.0 / (1.0 + np.exp(-np.clip(self.log_odds, -60.0, 60.0))))


@dataclass(frozen=True)
class Looked:
    """What looking for moves gave: the likeliest, if any is possible, and what to go on with.

    `candidate` explains the log without a move better than the search had; `obs` is how a log is
    seen on ground that sinks. Both None where they are not wanted.
    """

    move: Move | None = None
    candidate: Candidate | None = None
    obs: Observations | None = None


def fits_badly(solution: Solution) -> bool:
    """Whether a log is worth asking: noise above the usual, misfits in a row or at either end.

    So a clean log pays nothing. Two misfits in a row make `record` ask as well; of two lines that
    a move parts from the rest at either end, the fit may well take one up and leave the other out.
    """
    settings, candidate = solution.settings, solution.candidate
    scatter = float(np.exp(settings.noise.log_mean))
    usual = float(np.hypot(scatter, np.sqrt(settings.centring_variance)))
    if solution.posterior.sigma[0] > TIMES_USUAL_NOISE * usual:
        return True
    scores = candidate.scores
    misfit = ~candidate.result.hypothesis.good | (scores.square > MISFIT_SQUARE)
    if scores.bad is not None:  # a pen that slipped says nothing of the mount
        misfit[scores.suspects[scores.bad.slip_share > SURE_SLIP]] = False
    at_an_end = misfit[:MARGIN].any() or misfit[-MARGIN:].any()
    return bool(at_an_end or (misfit[1:] & misfit[:-1]).any())


def look_for_moves(
    obs: Observations, solution: Solution, hours: FloatArray | None, pressed: Sequence[int] = ()
) -> Looked:
    """Return what most likely happened during the log that this is the solution of.

    `obs` is the log as it was given to `solve`, `hours` (n,) its times where it has them, `pressed`
    the first pairs after zeroings that are taken to be on the star of the line above.
    """
    if not FEWEST_PAIRS <= obs.count <= MOST_PAIRS:
        return Looked()
    # its figures as they were taken: rounded, or as exact labels
    obs = replace(obs, rounding=solution.observations.rounding)
    trial = _Trial(obs, solution, hours)
    chosen = trial.within_reach(trial.glanced(pressed))
    if not chosen:
        return Looked()
    plain = full_evidence(solution.candidate, solution.settings)
    weighed = [(one, trial.weighed(one)) for one in chosen]
    best, (total, candidate) = max(weighed, key=lambda pair: pair[1][0])
    if best.kind == "slip":
        return Looked(candidate=candidate) if total > plain else Looked()
    slips = [log_total for one, (log_total, _) in weighed if one.kind == "slip"]
    log_odds = total - max([plain, *slips])
    if log_odds < POSSIBLE_ABOVE_NATS or not fits_now(candidate):
        return Looked()
    move = Move(best.kind, best.place, float(log_odds), _change(candidate, obs))
    sunk = best.kind == "sinking" and move.taken_up
    return Looked(move, obs=trial.seen_with(best) if sunk else None)


def fits_now(candidate: Candidate) -> bool:
    """Whether a log is a person's once a move is taken up: what fits no mount is given no name."""
    noise = candidate.result.weight @ candidate.result.noise.sigma
    aside = np.mean(~candidate.result.hypothesis.good)
    return bool(noise < LOOSEST_SIGMA_ARCMIN and aside < MOST_ASIDE)


@dataclass(frozen=True)
class _Tried:
    """One hypothesis at a glance: before which pair, and its evidence with its prior odds."""

    way: MoveHypothesis
    place: int | None
    log_odds: float
    log_total: float

    @property
    def kind(self) -> Tale:
        """What happened."""
        return self.way.kind


@dataclass(frozen=True)
class _Trial:
    """The log that is asked, its hours if it has them, and the solution without a move."""

    given: Observations
    solution: Solution
    hours: FloatArray | None

    @property
    def settings(self) -> Settings:
        """What is known beforehand."""
        return self.solution.settings

    @cached_property
    def plain(self) -> Plain:
        """The log as it is without a move, for a glance."""
        return plain_of(self.solution.candidate, self.settings)

    @cached_property
    def sinking(self) -> Observations | None:
        """The log on ground that sinks, None where it cannot show that."""
        if self.hours is None or not np.ptp(self.hours) > 0:
            return None
        return on_sinking_ground(self.given, self.hours)

    def glanced(self, pressed: Sequence[int]) -> Iterator[_Tried]:
        """Yield every hypothesis that a glance leaves to what a person and a mount can do."""
        for way, margin in ((MOVED, MARGIN), (TUBE_SHIFTED, MARGIN), (SLIPPED, SLIP_MARGIN)):
            places = np.arange(margin, self.given.count - margin + 1)
            if places.size:
                yield from self._over_places(way, places)
        if pressed:
            yield from self._steps(ZEROED_ELSEWHERE, np.array(pressed), 0.0)
        if self.hours is not None and self.sinking is not None:
            factor = (self.hours - self.hours[-1])[None]
            yield from self._tried(SINKS, [None], factor, 0.0)

    def _over_places(self, way: MoveHypothesis, places: IntArray) -> Iterator[_Tried]:
        """Yield the hypotheses of one way at all places, of a long log at those near the best."""
        log_shared = float(np.log(places.size))
        stride = -(-places.size // COARSE_PLACES)
        coarse = list(self._steps(way, places[::stride], log_shared))
        yield from coarse
        if stride > 1 and coarse:
            best = max(coarse, key=lambda one: one.log_total).place or 0
            near = places[np.abs(places - best) < stride]
            yield from self._steps(way, near[near != best], log_shared)

    def _steps(self, way: MoveHypothesis, places: IntArray, log_shared: float) -> Iterator[_Tried]:
        before = (np.arange(self.given.count) < places[:, None]).astype(float)
        return self._tried(way, places.tolist(), before, log_shared)

    def _tried(
        self,
        way: MoveHypothesis,
        places: Sequence[int | None],
        factor: FloatArray,
        log_shared: float,
    ) -> Iterator[_Tried]:
        seen = glance_at(self.plain, way.by(factor))
        log_odds = way.log_odds - log_shared
        possible = seen.sigma_arcmin < AT_A_GLANCE * LOOSEST_SIGMA_ARCMIN
        possible &= seen.share_bad < AT_A_GLANCE * MOST_ASIDE
        for k in np.flatnonzero(possible).tolist():
            yield _Tried(way, places[k], log_odds, float(seen.log_total[k]) + log_odds)

    def within_reach(self, found: Iterator[_Tried]) -> list[_Tried]:
        """Return the best few, of each kind the best at least, that may rival the plain log."""
        enough = self.solution.candidate.log_total - REACH_NATS
        near = sorted(
            (one for one in found if one.log_total > enough), key=lambda one: -one.log_total
        )
        kinds = {one.kind: one for one in reversed(near)}
        chosen = [*near[:FULLY_WEIGHED], *kinds.values()]
        return list({id(one): one for one in chosen}.values())

    def seen_with(self, one: _Tried) -> Observations:
        """Return the log as it is seen where something happened that is no slip."""
        if one.place is not None:
            return with_step(self.given, one.way, one.place)
        assert self.sinking is not None
        return self.sinking

    def weighed(self, one: _Tried) -> tuple[float, Candidate]:
        """Return the full evidence of a hypothesis, prior odds included, and where it was found."""
        if one.kind == "slip":
            assert one.place is not None
            candidate = self._slipped(one.place)
            return full_evidence(candidate, self.settings), candidate
        candidates = best_candidates(self.seen_with(one), self.settings)[:FULLY_WEIGHED]
        heights = [full_evidence(candidate, self.settings) for candidate in candidates]
        best = int(np.argmax(heights))
        return heights[best] + one.log_odds, candidates[best]

    def _slipped(self, place: int) -> Candidate:
        """Return the log with a slip of the clutch before this pair."""
        obs = self.given
        at = np.zeros(N_STANDARD + len(obs.columns))
        at[:N_STANDARD] = self.solution.candidate.result.hypothesis.at[:N_STANDARD]
        start = Hypothesis(obs, obs.always, np.ones(obs.count, dtype=bool), at)
        slipped = take_up_slip(start, place, obs.count - 2 * SLIP_MARGIN + 1)
        return refine(slipped, self.settings, flips=True)


def with_step(obs: Observations, way: MoveHypothesis, place: int) -> Observations:
    """Return the observations with terms that were others before the pair `place`.

    The six are those of the end; the new columns hold before minus after.
    """
    before = (np.arange(obs.count) < place).astype(float)
    varied: list[tuple[str, str, FloatArray]] = []
    additions = []
    for terms, sd in way.groups:
        columns = tuple(range(len(varied), len(varied) + len(terms)))
        names = tuple(f"{name}_before" for name in terms)
        varied += [(f"{name}_before", name, before) for name in terms]
        additions.append(Addition(names, columns, 0.0, sd, 0.0))
    return with_varied(obs, varied, tuple(additions))


def on_sinking_ground(obs: Observations, hours: FloatArray) -> Observations | None:
    """Return the observations with a lean and zeros that drift, the lean being that of the end.

    None where the log cannot show a drift.
    """
    known = [column.name for column in obs.columns]
    if not set(DRIFTS) <= set(known):
        return None
    zeros = Addition(
        DRIFTS, tuple(known.index(name) for name in DRIFTS), 0.0, SINKING_SD_ARCMIN_H, 0.0
    )
    kept = tuple(a for a in obs.additions if not set(DRIFTS).intersection(a.terms))
    lean = Addition(SINKING_TERMS, (0, 1), 0.0, SINKING_SD_ARCMIN_H, 0.0)
    since_end = hours - hours[-1]
    varied = [(drift, term, since_end) for drift, term in zip(SINKING_TERMS, TILTS, strict=True)]
    sinking = with_varied(obs, varied, (lean,))
    return replace(sinking, additions=kept, always=(*sinking.always, zeros))


def _change(candidate: Candidate, given: Observations) -> dict[str, float]:
    """Return what changed, after minus before, by term; of sinking ground the rates."""
    obs, mean = candidate.result.hypothesis.obs, candidate.result.mean
    changes = {}
    for place in range(len(given.columns), len(obs.columns)):
        name, value = obs.columns[place].name, float(mean[N_STANDARD + place])
        if name in SINKING_TERMS:
            changes[name] = value
        elif name not in SLIP_TERMS:
            changes[name.removesuffix("_before")] = -value
    return changes
