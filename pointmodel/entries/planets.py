"""What planets say of the date: the controller puts them where they stand at its own moment.

A star cannot tell a clock four minutes slow from a date one day behind; Venus can.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import log_round_normal_2d
from pointmodel.entries.believed import (
    EVEN_DENSITY,
    EntrySolution,
    noise_arcmin,
)
from pointmodel.entries.catalogue import SIDEREAL_RATE, EntryCandidate
from pointmodel.entries.observed import OF_DATE, Observed
from pointmodel.entries.odds import BAD_SHARE
from pointmodel.sky.places import catalogue_places
from pointmodel.sky.targets import target_places


def log_seen_of_moving(
    observed: Observed, solutions: Sequence[EntrySolution], sidereal: Sequence[EntryCandidate]
) -> FloatArray | None:
    """Log likelihood (k, s) of the planets' places under each solution and sidereal entry.

    None where no planet stands beside stars that the solutions rest on.
    """
    rows = np.flatnonzero(observed.moving)
    if not rows.size or observed.moving.all():
        return None
    told = np.zeros((len(solutions), len(sidereal)))
    for k, solution in enumerate(solutions):
        ahead_s = np.array([
            candidate.clock_s
            if candidate.shift is not None
            else 60.0 * solution.sidereal_offset_min / SIDEREAL_RATE * (candidate.entry == "clock")
            for candidate in sidereal
        ])  # fmt: skip
        for row in rows.tolist():
            told[k] += _log_density(observed, solution, row, ahead_s)
    return told


def _log_density(
    observed: Observed, solution: EntrySolution, row: int, ahead_s: FloatArray
) -> FloatArray:
    """Log density of one planet's commanded place, had the controller's UTC been ahead so much."""
    ra_deg, dec_deg = _places(observed, solution, row, ahead_s)
    held = _place_held(observed, solution, row)
    off = separation_arcmin(*held, ra_deg, dec_deg)
    noise = float(noise_arcmin(observed)[row])
    density = np.exp(log_round_normal_2d(off**2, noise**2))
    return np.asarray(np.log((1.0 - BAD_SHARE) * density + BAD_SHARE * EVEN_DENSITY))


def _places(
    observed: Observed, solution: EntrySolution, row: int, ahead_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    moments = observed.time_s[row] + ahead_s
    ra_deg, dec_deg = target_places([observed.targets[row]] * ahead_s.size, moments)
    if solution.mode.places == OF_DATE:
        return ra_deg, dec_deg
    return catalogue_places(ra_deg, dec_deg, moments)


def _place_held(observed: Observed, solution: EntrySolution, row: int) -> tuple[float, float]:
    """The place that the controller, with these beliefs, has in the commanded direction."""
    from pointmodel.entries.probable import place_held

    return place_held(
        observed.commanded[solution.mode.lifted][row],
        solution.sidereal_offset_min,
        solution.latitude_arcmin / 60.0,
        float(observed.sidereal_deg[row]),
    )
