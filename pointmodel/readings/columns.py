"""Whole columns that hold something else: which ways there are, and what the sky says of each.

The fit tells where one side alone is misread. Where both are, the fit is as good as before, and
only the sky tells: names, times and site (`entries/columnsky.py`). Read `reading/asread.py` first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.reading.asread import ReadLog, read_as
from pointmodel.reading.mountkeys import ColumnFinding, Side
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.hypotheses import column_hypotheses

if TYPE_CHECKING:
    from pointmodel.entries.columnsky import SkyFit

NEAR_SOUTH_DEG = 3.0
HALF_TURN_DEG = 180.0
SLOPED: tuple[ColumnFinding, ...] = ("hours_not_degrees", "radians_not_degrees")
# ln of: one evening in fifty in one corner of the sky, whose place and size are anybody's guess
CORNER_LOG_ODDS = float(np.log(0.02)) - 5.0
LEAST_CORNER_DEG = 1.0
HEMISPHERE_SR = 2.0 * np.pi


@dataclass(frozen=True, eq=False)
class ColumnReading:
    """A log read otherwise; `log_extra` is its odds, the change of density, the sky's word.

    `harmless`: no advice hangs on it.
    """

    finding: ColumnFinding
    side: Side
    log: NightLog
    log_extra: float
    harmless: bool


def column_readings(log: NightLog, good: bool, index_deg: float) -> list[ColumnReading]:
    """Return the ways to read whole columns that are worth trying.

    `good`: the log fits plainly as it stands, with the azimuth index `index_deg`; then only those
    remain that would fit as well.
    """
    as_written, agrees = _sky_as_written(log)
    from_south = abs(abs(index_deg) - HALF_TURN_DEG) < NEAR_SOUTH_DEG
    known = _Known(
        good=good, agrees=agrees, sky_tells=as_written is not None, half_a_turn=from_south
    )
    wanted = [
        (finding, side, log_odds)
        for finding, side, log_odds in _possible(centred_alone=agrees)
        if _worth_trying(finding, side, known)
    ]
    found = []
    for finding, side, log_odds in wanted:
        read = read_as(log, side, finding)
        if read is None:
            continue
        sky = _sky_says(log, read, side, as_written)
        if sky is not None:
            extra = log_odds + read.log_jacobian + sky - _corner_gain(log, finding, side)
            # where commanded is known to be right, half a turn of the other is an index as any
            harmless = agrees and finding == "azimuth_from_south"
            found.append(ColumnReading(finding, side, read.log, extra, harmless))
    return found


def _sky_as_written(log: NightLog) -> tuple[SkyFit | None, bool]:
    """Return how the commanded places fit the stars, where that is the question, and if they do.

    What needs the sky is imported only for logs that have names, times and a site.
    """
    if log.mount.place_deg is None or not any(log.target):
        return None, False
    from pointmodel.entries.columnsky import plainly_agrees, sky_fit, stars_of

    observed = stars_of(log)
    if observed is None or plainly_agrees(observed, log.mount.place_deg[0]):
        return None, observed is not None
    return sky_fit(observed, log.mount.place_deg[0]), False


def _possible(*, centred_alone: bool) -> Iterator[tuple[ColumnFinding, Side, float]]:
    """Yield every finding with the sides that it can be about and ln of its share of the odds."""
    for finding, hypothesis in column_hypotheses():
        sides = [one for one in hypothesis.sides if one == "centred" or not centred_alone]
        for side in sides:
            yield finding, side, hypothesis.log_odds - float(np.log(len(sides)))


@dataclass(frozen=True)
class _Known:
    """What is known of a log as it stands.

    `good`: it fits plainly. `agrees`: its commanded places are those of the sky; `sky_tells`: they
    are not, and there are stars to tell. `half_a_turn`: its azimuth index is about 180°.
    """

    good: bool
    agrees: bool
    sky_tells: bool
    half_a_turn: bool


def _worth_trying(finding: ColumnFinding, side: Side, known: _Known) -> bool:
    if side != "centred":
        if known.agrees:
            return False
        if known.sky_tells or finding in SLOPED:
            return True
        if side == "both":
            return False
    # a log fits as well with an index of half a turn
    return known.half_a_turn if finding == "azimuth_from_south" else not known.good


def _sky_says(log: NightLog, read: ReadLog, side: Side, as_written: SkyFit | None) -> float | None:
    """Return by how much the sky prefers the log read so, nats; None where it speaks against it.

    Where `commanded` stays as written it says the same of both. What it says counts only where the
    places then fit the stars, and plainly better than they do as written.
    """
    if as_written is None or side == "centred":
        return 0.0
    from pointmodel.entries.columnsky import plainly_better, sky_fit, stars_of

    observed = stars_of(read.log)
    found = None if observed is None else sky_fit(observed, _latitude(log))
    if found is None or not (found.fits or as_written.fits):
        return 0.0
    if not plainly_better(found, as_written):
        return None
    return found.log_evidence - as_written.log_evidence


def _latitude(log: NightLog) -> float:
    place = log.mount.place_deg
    return 0.0 if place is None else place[0]


def _corner_gain(log: NightLog, finding: ColumnFinding, side: Side) -> float:
    """Return what speaks for commanded places that truly stand in one corner of the sky, nats.

    Figures that are degrees of a corner would, as hours or radians, be spread over the sky: that
    alone must not speak for hours. The corner's own place and size cost what they are worth.
    """
    if finding not in SLOPED or side == "centred":
        return 0.0
    az, alt = np.radians(log.commanded_az_deg), np.radians(log.commanded_alt_deg)
    least = np.radians(LEAST_CORNER_DEG)
    width = max(float(np.ptp(az)), least) * max(float(np.ptp(np.sin(alt))), least)
    gain = len(log) * float(np.log(HEMISPHERE_SR / width)) + CORNER_LOG_ODDS
    return max(gain, 0.0)
