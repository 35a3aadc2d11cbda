"""The controller told "this is the star" while logging: what each press did to the readings.

A press sets both readouts so that the star just centred stands where it was commanded; every figure
read after it differs by that line's miss. Where it is known after which lines it was pressed, the
misses are summed and nothing is lost: the log is as if nobody had pressed.

The sum is exact for a wrong star and for a poor centring, since the press took them out of the sky
and into the readout. A slip of the pen was in the log alone: its line must be put right first.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.reading.nightlog import Event, NightLog

PRESS = "zero_on_star"
LONGEST_NAME_WORDS = 3


def logged_presses(log: NightLog) -> BoolArray:
    """Return after which pairs (n,) a logged zeroing was on the star just centred.

    A zeroing is taken to be on the star of the line above, unless its own line names another, that
    line was never centred, or something else happened to the mount between them. After an
    alignment on two stars a press may turn the whole sky: then none is taken so.
    """
    pressed = np.zeros(len(log), dtype=bool)
    if log.mount.is_aligned:
        return pressed
    complete, disturbed = log.has_both, set[int]()
    for event in log.events:
        above = event.before_pair - 1
        if event.kind != PRESS:
            disturbed.add(event.before_pair)
        elif above >= 0 and complete[above] and event.before_pair not in disturbed:
            pressed[above] |= not names_another_star(event, log)
    return pressed


def names_another_star(event: Event, log: NightLog) -> bool:
    """Whether the line of an event names a star, and not the one that was centred above it."""
    if not event.note:
        return False
    from pointmodel.sky.names import squeezed
    from pointmodel.sky.targets import look_up

    above = squeezed(log.target[event.before_pair - 1] or "")
    if above and above in squeezed(event.note):
        return False
    of_this_log = {squeezed(name) for name in log.target if name}
    words = re.findall(r"[^\W_]+", event.note)
    runs = [
        " ".join(words[first : first + size])
        for size in range(1, LONGEST_NAME_WORDS + 1)
        for first in range(len(words) - size + 1)
    ]
    # a word of two letters is no star's name, whatever catalogues call by it
    return any(
        squeezed(run) in of_this_log or (len(run) > 2 and look_up(run) is not None) for run in runs
    )


def summed_misses_deg(log: NightLog, pressed: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Return how far both readouts (n,) had been set back by then, degrees, from the log's start.

    What was pressed after a line counts from the next one on.
    """
    parts = []
    for reading, star in (
        (log.reading_az_deg, log.star_az_deg),
        (log.reading_alt_deg, log.star_alt_deg),
    ):
        miss = np.where(pressed, wrap_deg(reading - star), 0.0)
        parts.append(np.concatenate([[0.0], np.cumsum(miss)]))
    return parts[0], parts[1]


def without_presses(log: NightLog, pressed: BoolArray) -> NightLog:
    """Return the log as it would be had nobody pressed since, with the readout of the log's end.

    `pressed` (n,) says after which pairs "this is the star" was pressed; the figures that were read
    before a press are set to what the readout would show for them now. The events of those presses
    are gone.
    """
    if not pressed.any():
        return log
    sums_az_deg, sums_alt_deg = summed_misses_deg(log, pressed)
    az_deg = np.mod(log.reading_az_deg + sums_az_deg[:-1] - sums_az_deg[-1], 360.0)
    alt_deg = log.reading_alt_deg + sums_alt_deg[:-1] - sums_alt_deg[-1]
    events = tuple(
        event
        for event in log.events
        if event.kind != PRESS or event.before_pair == 0 or not pressed[event.before_pair - 1]
    )
    return replace(log.with_readings(az_deg, alt_deg), events=events)
