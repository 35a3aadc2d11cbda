"""What the controller of a log believes of time, place and air, as far as its log shows it.

Where the controller sends the mount by what it believes, a target must be put there by the same:
the corrections belong to its places, right or wrong. Read `check.py` first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.errors import InputError, Notice
from pointmodel.base.figures import figure
from pointmodel.base.trace import trace
from pointmodel.entries.believed import solve
from pointmodel.entries.check import check
from pointmodel.entries.observed import LIFTED, Observed, known_targets, observe
from pointmodel.entries.result import CheckResult

if TYPE_CHECKING:
    from pointmodel.entries.answers import Estimate
    from pointmodel.reading.nightlog import NightLog

SURE = 0.95

UNPROVEN = Notice(
    "clock_unproven",
    "targets by name are right only if the controller's date, time and site are right. This log "
    "cannot show that; `pointmodel check` tells what it would need",
)
OLD_EQUINOX = Notice(
    "old_equinox",
    "the controller takes places of the year 2000 (J2000) for those of today. So targets by name "
    "are put where it has them, and right ascension and declination are those of J2000. This error "
    "turns with the sky: after an hour corrections from this log are off by up to 7′",
)


@dataclass(frozen=True)
class Belief:
    """Believed minus true: sidereal time (minutes of it), latitude; what else goes into places.

    `old_equinox`: places of J2000 are taken for those of today. `lifted`: the air's lift is in the
    commanded places; None where the log does not show it.
    """

    sidereal_offset_min: float = 0.0
    latitude_offset_deg: float = 0.0
    old_equinox: bool = False
    lifted: bool | None = None


def belief_of(log: NightLog) -> tuple[Belief, tuple[Notice, ...]]:
    """Return what the log's controller believes, and what is to be said of that.

    Places that were turned at the true time, and those that a camera saw, are true ones. What the
    log cannot show is taken as right.
    """
    verified = log.mount.clock_cleared_by == "verified"
    if log.commanded_equatorial or (log.camera and not log.nudged):
        by_almanac = log.mount.log.commanded_from == "almanac" and not verified
        return Belief(), (UNPROVEN,) if by_almanac else ()
    if not log.shows_entries:
        return Belief(), () if verified else (UNPROVEN,)
    try:
        result = check(log)
    except InputError:  # no names, no times or no site: nothing to see
        trace()
        return Belief(), () if verified else (UNPROVEN,)
    old = result.places == "old_equinox"
    notices = (OLD_EQUINOX,) if old else ()
    lifted = _lifted(log)
    best = result.solutions[0]
    offset, latitude = best.sidereal_offset_min, best.latitude_offset_deg
    right = result.verdict == "agrees" or (_may_be_nil(offset) and _may_be_nil(latitude))
    if right:
        return Belief(old_equinox=old, lifted=lifted), notices
    known = best.weight > SURE and (result.verdict == "disagrees" or result.stale is not None)
    if not known:
        return Belief(old_equinox=old, lifted=lifted), (UNPROVEN, *notices)
    notice = _wrong(result, offset.value, latitude.value)
    return Belief(offset.value, latitude.value, old, lifted), (notice, *notices)


def _may_be_nil(estimate: Estimate) -> bool:
    return estimate.low <= 0.0 <= estimate.high


def _wrong(result: CheckResult, offset_min: float, latitude_deg: float) -> Notice:
    if result.stale is not None and result.verdict == "cannot_tell":
        least, most = figure(result.stale.least_min), figure(result.stale.most_min)
        return Notice(
            "stale_command",
            f"`commanded` seems to have been noted {least} to {most} min before the centring, and "
            "the sky turned meanwhile. So corrections by name are rough: go by azimuth and "
            "altitude. Log commanded_time as well next time",
        )
    text = (
        f"the controller's time or site is wrong: its sidereal time by {figure(offset_min)} min, "
        f"its latitude by {figure(latitude_deg, 2)}° (see `pointmodel check`). Targets by name are "
        "put where it has them. All this holds only until its entries are put right"
    )
    if result.explanations[0].entry == "mount_file":
        text = (
            "the site in the mount file seems to be wrong (see `pointmodel check`). Targets by "
            "name are put where the controller has them. Which stars are up is not known"
        )
    if result.could_be_stale:
        text += (
            ". If instead `commanded` was noted some minutes before the centring, go by azimuth "
            "and altitude alone"
        )
    return Notice("clock_wrong", text)


def _lifted(log: NightLog) -> bool | None:
    """Whether the air's lift is in the commanded places; None where that is not sure."""
    observer = log.mount.observer
    assert observer is not None  # it was checked
    share = _lifted_share(observe(log, known_targets(log), observer))
    return True if share > SURE else False if share < 1.0 - SURE else None


def _lifted_share(observed: Observed) -> float:
    """Probability that the lift is in the commanded places, over all solutions."""
    solutions = solve(observed)
    evidence = np.array([solution.log_evidence for solution in solutions])
    weights = np.exp(evidence - evidence.max())
    lifted = np.array([solution.mode.lifted == LIFTED for solution in solutions])
    return float(weights[lifted].sum() / weights.sum())
