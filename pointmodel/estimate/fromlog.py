"""A log as the estimator sees it.

Read `observations.py` first. Only complete pairs are taken.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.inturn import hours_of
from pointmodel.estimate.observations import Observations, circular_middle_deg, observations
from pointmodel.mount.term import Circumstances, Term
from pointmodel.reading.nightlog import NightLog


def hours_since_first(log: NightLog) -> FloatArray:
    """Return hours since the first pair (n,); all zero where any time is missing."""
    hours = hours_of(log)
    return np.zeros(len(log)) if hours is None else hours


def has_times(log: NightLog) -> bool:
    """Return whether every pair has its time."""
    return bool(np.isfinite(log.time_s).all())


def circumstances_of(log: NightLog) -> Circumstances:
    """Return what shapes of terms look at, for the complete pairs of a log."""
    return Circumstances(
        reading_az_deg=log.reading_az_deg,
        reading_alt_deg=log.reading_alt_deg,
        star_alt_deg=log.star_alt_deg,
        az_motion=log.az_motion,
        alt_motion=log.alt_motion,
        hours=hours_since_first(log),
        expected_az_deg=log.star_az_deg
        + circular_middle_deg(log.reading_az_deg - log.star_az_deg, log.star_alt_deg),
        azimuth_origin_deg=log.mount.azimuth_origin_deg,
        pressure_hpa=log.mount.pressure_hpa,
        temperature_c=log.mount.temperature_c,
    )


def observations_of(log: NightLog, own: tuple[Term, ...] = ()) -> Observations:
    """Return a log of complete pairs as the estimator sees it, with terms of a user's own."""
    obs = observations(
        log.star_az_deg,
        log.star_alt_deg,
        log.reading_az_deg,
        log.reading_alt_deg,
        circumstances_of(log),
        has_times=has_times(log),
        own=own,
        readout_turned=log.mount.is_aligned and log.mount.readout == "sky",
    )
    if log.figures_summed is None:
        return obs
    times = log.figures_summed[:, None]
    rounding = obs.rounding
    summed = replace(rounding, star=rounding.star * times, reading=rounding.reading * times)
    return replace(obs, rounding=summed)
