"""From pairs to everything the estimator has to say of them, in one call.

Read the package's own page (`__init__`) for the way through it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.carried import Carried
from pointmodel.estimate.evaluation import (
    Hypothesis,
    Settings,
    settings_for,
    settle,
    starting_point,
)
from pointmodel.estimate.identify import statuses
from pointmodel.estimate.observations import Observations
from pointmodel.estimate.posterior import Posterior, full_evidence, posterior_of
from pointmodel.estimate.precise import (
    LOG_ODDS_EXACT,
    may_be_exact,
    with_exact_figures,
    with_small_terms,
)
from pointmodel.estimate.results import Status
from pointmodel.estimate.search import NOTHING_OPEN, Candidate, candidate_of, take_up
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.terms import N_STANDARD

# the full priors move evidence by a dozen nats at most: a 71′ collimation against a slip of 1°
RIVALS_WITHIN_NATS = 12.0
MOST_RIVALS = 3


@dataclass(frozen=True)
class Solution:
    """The winning hypothesis with its pairs' scores, the posterior, and each column's status.

    `standard_errors` (p,) are those of the minimiser where terms were asked for, None else.
    """

    observations: Observations
    settings: Settings
    candidate: Candidate
    posterior: Posterior
    statuses: tuple[Status, ...]
    standard_errors: FloatArray | None = None


def solve(
    obs: Observations,
    centring_error_arcmin: float | None,
    carried: Carried | None = None,
    *,
    field_arcmin: float | None = None,
) -> Solution:
    """Return the solution for n ≥ 1 pairs.

    The centring error is one sigma an axis, if known; `carried` is what other nights say;
    `field_arcmin` the eyepiece's field of view, if known.
    """

    def searched(obs: Observations) -> tuple[Candidate, Settings]:
        settings = settings_for(centring_error_arcmin, obs, carried, field_arcmin=field_arcmin)
        return _winner(best_candidates(obs, settings), settings), settings

    candidate, settings = searched(obs)
    if may_be_exact(candidate):
        exact, exact_settings = searched(with_exact_figures(obs))
        if exact.log_total + LOG_ODDS_EXACT > candidate.log_total:
            candidate, settings = exact, exact_settings
    return solution_of(with_small_terms(candidate, settings), settings)


def solve_in_passing(
    obs: Observations,
    centring_error_arcmin: float | None,
    carried: Carried,
    *,
    field_arcmin: float | None = None,
) -> Solution:
    """Return the solution for pairs so few that nothing is searched for among them.

    All are good, and the further terms are those that what is carried over makes likely. As for
    `solve`, and as it would find them next to always.
    """
    settings = settings_for(centring_error_arcmin, obs, carried, field_arcmin=field_arcmin)
    at = starting_point(obs)
    at[1:N_STANDARD] = carried.mean[0, 1:]
    hypothesis = Hypothesis(obs, obs.always, np.ones(obs.count, dtype=bool), at)
    for addition in obs.additions:
        if addition.log_odds > 0.0:
            hypothesis = take_up(hypothesis, addition)
    return solution_of(candidate_of(settle(hypothesis, settings, most=1), NOTHING_OPEN), settings)


def solution_of(candidate: Candidate, settings: Settings) -> Solution:
    """Return the solution that a candidate of the search leads to."""
    return Solution(
        candidate.result.hypothesis.obs,
        settings,
        candidate,
        posterior_of(candidate, settings),
        statuses(candidate.result),
    )


def _winner(candidates: list[Candidate], settings: Settings) -> Candidate:
    """Choose among rival sets of good pairs; close ones are judged under the full priors."""
    best = candidates[0]
    rivals = [
        c for c in candidates[:MOST_RIVALS] if c.log_total > best.log_total - RIVALS_WITHIN_NATS
    ]
    if len(rivals) < 2:
        return best
    return max(rivals, key=lambda rival: full_evidence(rival, settings))
