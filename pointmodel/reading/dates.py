"""Times of day that a log holds without a date, and the day that each is of.

The day comes from the line's `date`, else from the date of the evening in the mount file; past
midnight it is the next day. Full moments are left as they are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from pointmodel.base.times import Moment, TimeTextError, parse_date, parse_moment
from pointmodel.base.wording import LONGEST_FIGURE, quoted

_TIME_OF_DAY = re.compile(
    r"(?P<clock>\d{1,2}:[0-5]\d(?::[0-5]\d(?:[.,]\d+)?)?)\s*(?:(?P<half>[ap])\.?m\.?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[+\-−]\d{2}(?::?\d{2})?)?",
    re.ASCII | re.IGNORECASE,
)
_DAY = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?", re.ASCII)
NOON = 12
HALF_A_DAY_S = 43200.0
ONE_DAY = timedelta(days=1)
DATE_WANTED = (
    "date and time such as 2031-05-17T21:04:30+10:00; for times alone a column date, or "
    'date = "2031-05-17" (of the evening) under [log] in the mount file'
)


@dataclass(frozen=True)
class TimeOfDay:
    """A time of day as written: hour, the rest of the clock time (`:04:30`), and its zone or ''."""

    hour: int
    rest: str
    zone: str

    def on(self, day: date) -> str:
        """The moment of this time on a day, ISO 8601."""
        return f"{day.isoformat()}T{self.hour:02d}{self.rest}{self.zone}"

    def evening_or_morning_after(self, evening: date) -> date:
        """The day of this time in the night that begins on the evening of a date."""
        return evening if self.hour >= NOON else evening + ONE_DAY


def time_of_day(text: str) -> TimeOfDay | None:
    """Read a time of day such as `21:04`, `21:04:30 +10:00` or `9:04 pm`; None if it is none."""
    plain = text.strip()
    match = _TIME_OF_DAY.fullmatch(plain) if len(plain) <= LONGEST_FIGURE else None
    if match is None:
        return None
    hour_text, _, rest = match["clock"].partition(":")
    hour, half = int(hour_text), (match["half"] or "").lower()
    if half and 1 <= hour <= NOON:
        hour = hour % NOON + (NOON if half == "p" else 0)
    elif half or hour > 23:
        return None
    return TimeOfDay(hour, f":{rest.replace(',', '.')}", match["zone"] or "")


def evening_of(text: str) -> date:
    """The date of the evening, as the mount file has it (checked there)."""
    year, month, day = parse_date(text, "year-month-day")
    assert year is not None  # it is in that order
    return date(year, month, day)


def day_of(text: str) -> date | None:
    """The day of a cell such as `2031-05-17`, a sheet's midnight behind it or not; None if none.

    The year has four figures and stands first: others write 17/05, or 05/17.
    """
    match = _DAY.fullmatch(text.strip())
    try:
        return date(*map(int, match.groups())) if match else None
    except ValueError:
        return None


@dataclass
class Days:
    """Reads the moments of one column from top to bottom, and gives times of day their day.

    `dates` are the cells of the column `date`, None where empty.
    """

    dates: Sequence[str | None]
    zone: tzinfo | None
    evening: date | None
    _last: tuple[date, float] | None = None
    _evening_seen: bool = False

    def moment(self, row: int, text: str) -> tuple[Moment, bool]:
        """The moment of a row's cell; and whether it is of another day than is plainly written.

        Such are times after midnight under the evening's own date, and a log that begins before
        noon while the mount file gives the date of an evening. Raises TimeTextError.
        """
        clock = time_of_day(text)
        if clock is None:
            return parse_moment(text, self.zone), False
        written = self.dates[row]
        if written is not None:
            return self._under_its_date(clock, written)
        if self.evening is None:
            raise TimeTextError(DATE_WANTED)
        if clock.zone and self.zone is not None:
            return self._in_this_night(clock, self.evening, self.zone), False
        day = clock.evening_or_morning_after(self.evening)
        self._evening_seen = self._evening_seen or day == self.evening
        return parse_moment(clock.on(day), self.zone), not self._evening_seen

    def _in_this_night(self, clock: TimeOfDay, evening: date, zone: tzinfo) -> Moment:
        """The moment, in a zone of its own, between noon of the evening's day here and the next."""
        noon_s = datetime.combine(evening, time(NOON), zone).timestamp()
        moments = [parse_moment(clock.on(evening + k * ONE_DAY), zone) for k in (-1, 0, 1)]
        return next(
            (one for one in moments if 0.0 <= one.posix_s - noon_s < 2.0 * HALF_A_DAY_S), moments[1]
        )

    def _under_its_date(self, clock: TimeOfDay, written: str) -> tuple[Moment, bool]:
        """The moment under the row's own date: the next day where the clock has gone round.

        That is where it stands more than half a day before the line above of the same date.
        """
        day = day_of(written)
        if day is None:
            raise TimeTextError(
                f"a date such as 2031-05-17 in the column date, not {quoted(written)}"
            )
        moment = parse_moment(clock.on(day), self.zone)
        gone_round = (
            self._last is not None
            and self._last[0] == day
            and moment.posix_s < self._last[1] - HALF_A_DAY_S
        )
        if gone_round:
            moment = parse_moment(clock.on(day + ONE_DAY), self.zone)
        self._last = (day, moment.posix_s)
        return moment, gone_round
