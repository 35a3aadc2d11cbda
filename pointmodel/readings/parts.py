"""A log's parts between events, with what is known to have been pressed taken out of the figures.

Read `logged.py` first. Which lines were pressed is told by the log as it was written, incomplete
lines included; it is kept by line, so that a log read otherwise is parted alike.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.arrays import IntArray
from pointmodel.estimate.segments import Segment, segments_of
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.logged import logged_presses, presses_of, without_presses


def pressed_lines(log: NightLog) -> IntArray:
    """Return the lines after which a logged zeroing was on the star just centred."""
    return np.asarray(log.line[logged_presses(log)])


def parts_put_right(log: NightLog, pressed: IntArray) -> tuple[Segment, ...]:
    """Return the segments as `parts_of` does, slips of the pen in pressed lines undone first."""
    presses = presses_of(log, np.isin(log.line, pressed))
    return segments_of(without_presses(log, presses.pressed, presses.miss_deg), presses.pressed)


def parts_of(log: NightLog, pressed: IntArray) -> tuple[Segment, ...]:
    """Return the segments of complete pairs; `pressed` are lines as `pressed_lines` gives them."""
    after = np.isin(log.line, pressed)
    return segments_of(without_presses(log, after), after)
