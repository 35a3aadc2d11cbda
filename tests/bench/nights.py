"""Simulated nights by the thousand, for the statistics of the estimator.

How to use it:

    rng = np.random.default_rng(1)
    made = night(rng, "varied", 12, wrong_stars=1)      # any field of NightOptions as a keyword
    fit = pm.fit(made.log)                              # a NightLog, ready for the estimator
    made.terms["collimation"]                           # the truth, arcminutes
    made.bad, made.cause                                # (n,) which pairs are bad, and why
    made.scatter_arcmin, made.centring_arcmin           # per axis

Populations: "usual", "varied", "worse" (three times as bad), "perfect". A night takes some .2 ms,
with slips of the pen more. `actual_miss_arcmin` says where go-tos would truly land: the measure of
a forecast. Nothing is drawn here that `pointmodel.simulation.simulate` would not draw.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.simulation.draw import draw_night
from pointmodel.simulation.mount import (
    SimulatedCircumstances,
    direction,
    pointed_deg,
    readings_deg,
    separation_arcmin,
)
from pointmodel.simulation.night import MountClass, NightOptions, SimulatedNight
from pointmodel.simulation.sky import draw_even_places


def night(
    rng: np.random.Generator, population: MountClass, n: int, **options: Any
) -> SimulatedNight:
    """One night of n pairs; `options` are fields of `NightOptions` (terms, pen_slips, ...)."""
    return draw_night(rng, NightOptions(pairs=n, mount_class=population, **options))


def at_the_end(made: SimulatedNight) -> SimulatedCircumstances:
    """How the mount stands after the last pair: slips and drift kept, gears without slack."""
    during = made.circumstances
    return SimulatedCircumstances(
        az_motion=np.zeros(1),
        alt_motion=np.zeros(1),
        hours=during.hours[-1:],
        slipped=during.slipped[-1:],
        azimuth_origin_deg=during.azimuth_origin_deg,
        pressure_hpa=during.pressure_hpa,
        temperature_c=during.temperature_c,
    )


def even_targets(
    number: int = 400, low_alt_deg: float = 15.0, high_alt_deg: float = 80.0
) -> tuple[FloatArray, FloatArray]:
    """Azimuths and altitudes (number,) of go-to targets, even in solid angle, always the same."""
    return draw_even_places(np.random.default_rng(0), number, low_alt_deg, high_alt_deg)


def right_commands_deg(
    made: SimulatedNight, az_deg: FloatArray, alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What would have to be commanded at the night's end to meet these targets, scatter aside."""
    return readings_deg(az_deg, alt_deg, made.terms, at_the_end(made))


def actual_miss_arcmin(
    made: SimulatedNight,
    az_deg: FloatArray,
    alt_deg: FloatArray,
    command_az_deg: FloatArray,
    command_alt_deg: FloatArray,
) -> FloatArray:
    """How far from its target each go-to would land at the night's end without scatter, (k,).

    With the mount's scatter the RMS of a go-to is √(mean(miss²) + 2·scatter²).
    """
    landed = pointed_deg(command_az_deg, command_alt_deg, made.terms, at_the_end(made))
    return separation_arcmin(direction(*landed), direction(az_deg, alt_deg))
