"""What the first two stars say against the controller's date, time and place.

Read `entries/check.py` first. A wrong clock spoils a whole night and is put right in a minute, so
it is said as soon as it shows.
"""

from __future__ import annotations

from dataclasses import dataclass

from pointmodel.base.errors import InputError, Notice
from pointmodel.base.trace import trace
from pointmodel.entries.check import check
from pointmodel.entries.words import verdict_words
from pointmodel.reading.nightlog import NightLog
from pointmodel.recording.names import BelievedSky, knows

FEWEST_STARS = 2  # one star leaves two answers
# A choice: figures are read off, then typed, and noted up to half a minute late.
LEAST_OFFSET_MIN = 1.0
LEAST_LATITUDE_DEG = 0.25
AFTERWARDS = (
    "Put that right in its menu. Then begin a new log: type quit, then pointmodel record with "
    "another name."
)


@dataclass(frozen=True)
class EntriesDoubt:
    """The entry that is probably wrong, what to do, and where the controller has the sky."""

    text: str
    belief: BelievedSky

    @property
    def notice(self) -> Notice:
        """The doubt as it is said."""
        return Notice("controller_entries", self.text)


def entries_doubt(log: NightLog) -> EntriesDoubt | None:
    """What the named stars of a log say against the controller's entries; None: nothing."""
    named = {name for name in log.target if name and knows(name)}
    if len(named) < FEWEST_STARS or log.mount.place_deg is None or not log.shows_entries:
        return None
    try:
        found = check(log)
    except InputError:  # no times
        trace()
        return None
    if found.verdict != "disagrees":
        return None
    first = found.explanations[0]
    small = abs(first.sidereal_offset_min) < LEAST_OFFSET_MIN
    if small and abs(first.latitude_offset_deg) < LEAST_LATITUDE_DEG:
        return None
    return EntriesDoubt(
        text=f"CHECK THE CONTROLLER FIRST. {verdict_words(found)} {AFTERWARDS}",
        belief=BelievedSky(first.sidereal_offset_min, first.latitude_offset_deg),
    )
