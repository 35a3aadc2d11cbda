"""Simulated nights as the estimator sees them: shared by the tests of its parts."""

from __future__ import annotations

from typing import Any

import numpy as np
from bench.nights import night

from pointmodel.estimate.observations import Observations, observations
from pointmodel.estimate.posterior import Posterior, posterior_of
from pointmodel.estimate.search import (
    Candidate,
    Evaluation,
    Hypothesis,
    settings_for,
    settle,
    starting_point,
)
from pointmodel.estimate.starts import best_candidates
from pointmodel.simulation.night import SimulatedNight
from pointmodel.terms import STANDARD_NAMES, Circumstances, FloatArray


def circumstances_of(made: SimulatedNight) -> Circumstances:
    """What the log of a simulated night tells of each pair."""
    during = made.circumstances
    return Circumstances(
        made.centred_az_deg,
        made.centred_alt_deg,
        made.commanded_alt_deg,
        during.az_motion,
        during.alt_motion,
        during.hours,
        during.azimuth_origin_deg,
        during.pressure_hpa,
        during.temperature_c,
    )


def observed(made: SimulatedNight, order: np.ndarray | None = None) -> Observations:
    """The pairs of a simulated night, in another order if asked."""
    at = circumstances_of(made)
    pick = np.arange(made.time_s.size) if order is None else order
    arrays = (
        made.commanded_az_deg,
        made.commanded_alt_deg,
        made.centred_az_deg,
        made.centred_alt_deg,
    )
    shuffled = Circumstances(
        at.reading_az_deg[pick],
        at.reading_alt_deg[pick],
        at.star_alt_deg[pick],
        at.az_motion[pick],
        at.alt_motion[pick],
        at.hours[pick],
        at.azimuth_origin_deg,
        at.pressure_hpa,
        at.temperature_c,
    )
    return observations(*(array[pick] for array in arrays), shuffled, has_times=True)


def seeded_night(seed: int, population: str, pairs: int, **options: Any) -> SimulatedNight:
    """The night that a seed stands for."""
    return night(np.random.default_rng(seed), population, pairs, **options)  # type: ignore[arg-type]


def winner(obs: Observations) -> Candidate:
    """The best hypothesis of the whole search."""
    return best_candidates(obs, settings_for(None, obs))[0]


def posterior(obs: Observations) -> Posterior:
    """What is reported after the whole search."""
    return posterior_of(winner(obs), settings_for(None, obs))


def settled(obs: Observations, good: np.ndarray | None = None) -> Evaluation:
    """The six terms fitted to all pairs (or to the good ones), no further term."""
    kept = np.ones(obs.count, dtype=bool) if good is None else good
    return settle(Hypothesis(obs, (), kept, starting_point(obs)), settings_for(None, obs))


def chosen_terms(candidate: Candidate) -> set[str]:
    """Names of the further terms that the search took up."""
    return {name for addition in candidate.result.hypothesis.chosen for name in addition.terms}


def truth(made: SimulatedNight) -> FloatArray:
    """The six standard terms that the night was made with, arcminutes."""
    return np.array([made.terms[name] for name in STANDARD_NAMES])
