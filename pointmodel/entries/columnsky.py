"""Which figures of a log are places of the sky: evidence from names, times and site.

Commanded places are worked out by a controller or an almanac: under some clock and latitude they
fit the named stars to a fraction of an arcminute. Readings of a mount do not. Read
`believed.py` first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.normal import normal
from pointmodel.entries.believed import (
    MODES,
    EntrySolution,
    misses_arcmin,
    noise_arcmin,
    predicted,
    solve,
)
from pointmodel.entries.observed import Observed, known_targets, observe
from pointmodel.reading.asread import COLUMN_FINDINGS, read_as
from pointmodel.reading.mountkeys import ColumnFinding, Side
from pointmodel.reading.nightlog import NightLog

COLUMN_LOG_ODDS = -4.0  # against "as written": as few logs have misread columns, a choice
TAKEN_UP_ABOVE = 3.0  # nats: 20 to 1 after the odds
MATERIAL_TIMES, MATERIAL_ARCMIN = 3.0, 1.5  # what is nearer than that changes no advice
FEWEST_STARS = 3  # one star always fits, two leave one number to test
PLAINLY_WITHIN_ARCMIN = 2.0  # more than formulas and rounding of a small controller, a choice
NOISES = 3.0
FITS_SHARE = 0.7  # of the stars; the others may be wrong names

# what is wrong with a controller's entries, before anything is known: share and width (a choice:
# most are right; a wrong time is commoner than a wrong latitude)
RIGHT_SHARE, TIME_SHARE, LATITUDE_SHARE, BOTH_SHARE = 0.6, 0.25, 0.1, 0.05
RIGHT_MIN, RIGHT_ARCMIN = 0.3, 2.0  # how exactly people type time and place, one sigma
TURN_MIN, HALF_TURN_ARCMIN = 1440.0, 10800.0


@dataclass(frozen=True)
class SkyFit:
    """How well places fit the named stars: ln evidence, the middle miss, whether most belong."""

    log_evidence: float
    miss_arcmin: float
    fits: bool


def stars_of(log: NightLog) -> Observed | None:
    """Return the pairs of a log whose places can be held against the sky; None where too few."""
    observer = log.mount.observer
    if observer is None or log.commanded_equatorial or not any(log.target):
        return None
    if not np.isfinite(log.noted_places[2]).any():
        return None
    observed = observe(log, known_targets(log), observer)
    return observed if len(observed) >= FEWEST_STARS else None


def plainly_agrees(observed: Observed, latitude_deg: float) -> bool:
    """Whether the commanded places are those of the right clock and site, as they stand."""
    limit = max(PLAINLY_WITHIN_ARCMIN, NOISES * float(np.median(noise_arcmin(observed))))
    nothing, latitude = np.zeros(1), np.array([60.0 * latitude_deg])
    for mode in MODES:
        here, *_ = predicted(observed, mode, nothing, latitude)
        if float(np.median(misses_arcmin(observed, mode, here)[0])) < limit:
            return True
    return False


def sky_fit(observed: Observed, latitude_deg: float) -> SkyFit | None:
    """Return how well the commanded places fit under the best clocks and latitudes."""
    found = solve(observed)
    if not found:
        return None
    log_weight = np.array([s.log_evidence + _log_prior(s, 60.0 * latitude_deg) for s in found])
    best = found[int(log_weight.argmax())]
    miss = float(np.median(best.miss_arcmin))
    return SkyFit(
        log_evidence=float(np.logaddexp.reduce(log_weight)),
        miss_arcmin=miss,
        fits=float(np.mean(best.good)) >= FITS_SHARE,
    )


def plainly_better(found: SkyFit, as_written: SkyFit) -> bool:
    """Whether places fit the stars and those as written do not, or not nearly as well."""
    if not found.fits:
        return False
    limit = max(MATERIAL_TIMES * found.miss_arcmin, MATERIAL_ARCMIN)
    return not as_written.fits or as_written.miss_arcmin > limit


@dataclass(frozen=True, eq=False)
class ReadBySky:
    """A log whose commanded places are read as the sky has them, and what was read so."""

    log: NightLog
    finding: ColumnFinding
    side: Side


def read_by_the_sky(log: NightLog) -> ReadBySky | None:
    """Return the log read so that its commanded places fit the stars; None where they do already.

    None as well where no way of reading does.
    The centred figures are not asked: with them the fit itself decides which side is misread.
    """
    if log.mount.place_deg is None or log.mount.log.figures is not None or log.nudged:
        return None
    latitude_deg = log.mount.place_deg[0]
    observed = stars_of(log)
    if observed is None or plainly_agrees(observed, latitude_deg):
        return None
    as_written = sky_fit(observed, latitude_deg)
    if as_written is None or (as_written.fits and as_written.miss_arcmin <= MATERIAL_ARCMIN):
        return None  # some clock and latitude explain them: nothing can be plainly better
    found = []
    for finding in COLUMN_FINDINGS:
        read = read_as(log, "both" if finding == "columns_exchanged" else "commanded", finding)
        stars = None if read is None else stars_of(read.log)
        fit = None if stars is None else sky_fit(stars, latitude_deg)
        if read is not None and fit is not None and plainly_better(fit, as_written):
            total = fit.log_evidence + read.log_jacobian + COLUMN_LOG_ODDS
            found.append((total - as_written.log_evidence, finding, read.log))
    if not found:
        return None
    gain, finding, best = max(found, key=lambda one: one[0])
    side: Side = "both" if finding == "columns_exchanged" else "commanded"
    return ReadBySky(best, finding, side) if gain > TAKEN_UP_ABOVE else None


def _log_prior(solution: EntrySolution, latitude_arcmin: float) -> float:
    """Return ln prior density of a believed clock (a minute) and latitude (an arcminute)."""
    variance = np.diag(solution.covariance)
    time = _normal(solution.sidereal_offset_min, RIGHT_MIN**2 + float(variance[0]))
    off_arcmin = solution.latitude_arcmin - latitude_arcmin
    latitude = _normal(off_arcmin, RIGHT_ARCMIN**2 + float(variance[1]))
    any_time, any_latitude = 1.0 / TURN_MIN, 1.0 / HALF_TURN_ARCMIN
    density = (
        RIGHT_SHARE * time * latitude
        + TIME_SHARE * any_time * latitude
        + LATITUDE_SHARE * time * any_latitude
        + BOTH_SHARE * any_time * any_latitude
    )
    return float(np.log(density))


def _normal(off: float, variance: float) -> float:
    return float(normal(off, np.sqrt(variance)))
