"""Simulated nights as the estimator sees them: shared by the tests of its parts."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
from bench.nights import night

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.evaluation import (
    Evaluation,
    Hypothesis,
    settings_for,
    settle,
    starting_point,
)
from pointmodel.estimate.observations import (
    Observations,
    circular_middle_deg,
    observations,
)
from pointmodel.estimate.posterior import Posterior, posterior_of
from pointmodel.estimate.search import Candidate
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.term import Circumstances
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.simulation.night import SimulatedNight


def circumstances_of(made: SimulatedNight) -> Circumstances:
    """What the log of a simulated night tells of each pair."""
    during = made.circumstances
    return circumstances(
        made.commanded_az_deg,
        made.commanded_alt_deg,
        made.centred_az_deg,
        made.centred_alt_deg,
        az_motion=during.az_motion,
        alt_motion=during.alt_motion,
        hours=during.hours,
        azimuth_origin_deg=during.azimuth_origin_deg,
        pressure_hpa=during.pressure_hpa,
        temperature_c=during.temperature_c,
    )


def circumstances(
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
    **told: Any,
) -> Circumstances:
    """What a log of these figures tells; motions, hours and the mount file's facts as `told`."""
    still = np.zeros_like(star_az_deg)
    index_deg = circular_middle_deg(reading_az_deg - star_az_deg, star_alt_deg)
    given = {"az_motion": still, "alt_motion": still, "hours": still} | told
    return Circumstances(
        reading_az_deg=reading_az_deg,
        reading_alt_deg=reading_alt_deg,
        star_alt_deg=star_alt_deg,
        expected_az_deg=star_az_deg + index_deg,
        **given,
    )


def observed(made: SimulatedNight, order: np.ndarray | None = None) -> Observations:
    """The pairs of a simulated night, in another order if asked."""
    at = circumstances_of(made)
    pick = np.arange(made.time_s.size) if order is None else order
    figures = (
        made.commanded_az_deg,
        made.commanded_alt_deg,
        made.centred_az_deg,
        made.centred_alt_deg,
    )
    shuffled = replace(
        at,
        **{
            field.name: getattr(at, field.name)[pick]
            for field in fields(at)
            if isinstance(getattr(at, field.name), np.ndarray)
        },
    )
    return observations(*(array[pick] for array in figures), shuffled, has_times=True)


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
