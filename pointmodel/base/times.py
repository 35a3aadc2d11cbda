"""Moments and time zones as people write them.

A moment is held as POSIX seconds (UTC, without leap seconds). Read first: `parse_moment`.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from functools import lru_cache
from math import comb
from typing import NamedTuple
from zoneinfo import ZoneInfo, available_timezones

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.wording import LONGEST_FIGURE, nearest

_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-]?)(\d{1,2})(?:[:.]?([0-5]\d))?", re.ASCII)
_ZONE = re.compile(r"[A-Za-z0-9_+/-]+", re.ASCII)  # the letters of the names in the tz database
_ISO = re.compile(
    r"\d{4}-\d{2}-\d{2}[ T]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:[+-]\d{2}(?::?\d{2})?)?", re.ASCII
)
_CLOCK = re.compile(
    r"(\d{1,2}):([0-5]?\d)(?::([0-5]?\d(?:\.\d*)?))?\s*(?:([AP])\.?M\.?)?", re.ASCII
)
_DATE_EXAMPLES = {"month-day": "05/17", "day-month": "17/05", "year-month-day": "2031-05-17"}
_SOME_LEAP_YEAR = 2028
DATE_ORDERS = tuple(_DATE_EXAMPLES)
_QUARTER_HOUR_S = 900.0  # no zone in use today keeps another fraction (tz database)
_LARGEST_OFFSET_S = 14 * 3600
_YEARS = range(1900, 2201)
RESOLUTIONS_S = (60.0, 30.0, 15.0, 10.0, 5.0)  # how coarsely people note times; else seconds
FINEST_RESOLUTION_S = 1.0
_CHANCE = 0.02  # a choice: a single time on the full minute (1 in 60) counts as one to the minute
_EXCEPTIONS = 5  # of so many lines one may be written more finely than the rest
_SAME_S = 1e-3  # rounding of POSIX seconds in a float is below 1e-6 s
MOMENT_WANTED = "date and time such as 2031-05-17T21:04:30+10:00"
OFFSET_WANTED = 'an offset from UTC such as "+10:00", within 14 hours'


class TimeTextError(ValueError):
    """A text is no moment, offset or zone; the message says what would be right."""


class Moment(NamedTuple):
    """A moment as it was written: POSIX seconds, and its zone's offset from UTC.

    `offset_s` is None where the zone is unknown; `in_doubt` is set where the local clock showed
    this time twice or never (change of clocks).
    """

    posix_s: float
    offset_s: float | None
    in_doubt: bool = False


def parse_moment(text: str, zone: tzinfo | None = None) -> Moment:
    """Read an ISO 8601 date and time; without a zone of its own it is one of `zone`, else of UTC.

    A blank instead of T, `Z` and `UTC` are accepted. Raises TimeTextError.
    """
    plain = text.strip()
    if len(plain) > LONGEST_FIGURE:
        raise TimeTextError(MOMENT_WANTED)
    if not _ISO.fullmatch(plain):
        plain = _as_iso(plain)
    if not _ISO.fullmatch(plain):
        raise TimeTextError(MOMENT_WANTED)
    try:
        moment = datetime.fromisoformat(plain)
    except ValueError as error:
        raise TimeTextError(f"{MOMENT_WANTED} ({error})") from None
    if moment.year not in _YEARS:
        raise TimeTextError(f"a year from {_YEARS[0]} to {_YEARS[-1]}")
    if moment.tzinfo is not None:
        return Moment(moment.timestamp(), _offset_s(moment))
    if zone is None:
        return Moment(moment.replace(tzinfo=UTC).timestamp(), None)
    local = moment.replace(tzinfo=zone)
    in_doubt = _offset_s(local) != _offset_s(local.replace(fold=1))
    return Moment(local.timestamp(), _offset_s(local), in_doubt)


def _offset_s(moment: datetime) -> float:
    offset = moment.utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def _as_iso(text: str) -> str:
    """A moment with its zone, minus and point spelt the way ISO 8601 has them."""
    plain = text.upper().replace("−", "-").replace(",", ".")
    plain = re.sub(r"\s*(?:Z|UTC|GMT)$", "+00:00", plain)
    return re.sub(r"\s+(?=[+-]\d{2}(?::?\d{2})?$)", "", plain)


def parse_utc_offset_s(value: str | int | float) -> float:
    """Seconds east of UTC from `+10:00`, `-3:30`, `+1000`, `Z`, or a number of hours.

    Raises TimeTextError.
    """
    if isinstance(value, (int, float)):
        if not abs(value) <= _LARGEST_OFFSET_S:  # nor can a larger whole number become a float
            raise TimeTextError(OFFSET_WANTED)
        seconds = float(value) * 3600.0
        if seconds % _QUARTER_HOUR_S and math.isfinite(seconds):
            raise TimeTextError(_no_quarter_hour(float(value)))
    else:
        plain = value.strip().upper().replace("−", "-")
        match = _OFFSET.fullmatch("+0" if plain in {"Z", "UTC", "GMT"} else plain)
        if match is None or len(plain) > LONGEST_FIGURE:
            raise TimeTextError(OFFSET_WANTED)
        sign, hours, minutes = match.groups()
        seconds = (int(hours) * 3600.0 + int(minutes or 0) * 60.0) * (-1.0 if sign == "-" else 1.0)
    if not abs(seconds) <= _LARGEST_OFFSET_S:
        raise TimeTextError(OFFSET_WANTED)
    return seconds


def _no_quarter_hour(hours: float) -> str:
    """What is wanted in place of a number such as 9.30, by which 9 h 30 min is meant."""
    whole, hundredths = divmod(round(abs(hours) * 100.0), 100)
    sign = "-" if hours < 0 else ""
    if hundredths < 60 and whole <= 14:
        return f'hours in quarters, as all zones have; write "{sign}{whole}:{hundredths:02d}"'
    return f"hours in quarters, as all zones have, or {OFFSET_WANTED}"


def format_utc_offset(offset_s: float) -> str:
    """Write an offset of whole minutes from UTC as `+10:00`."""
    minutes = round(abs(offset_s) / 60.0)
    return f"{'-' if offset_s < 0 and minutes else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def parse_zone_name(name: str) -> str:
    """An IANA zone name, checked. Raises TimeTextError with the name that was probably meant."""
    try:
        named_zone(name)
    except (OSError, ValueError, KeyError):
        meant = nearest(name, available_timezones())
        hint = f"; did you mean {meant}?" if meant else ""
        raise TimeTextError(f'a zone name such as "Australia/Hobart"{hint}') from None
    return name


@lru_cache(maxsize=32)
def named_zone(name: str) -> tzinfo:
    """The zone of an IANA name. Raises KeyError, ValueError or OSError for an unknown one."""
    if len(name) > LONGEST_FIGURE or not _ZONE.fullmatch(name):
        raise ValueError("no name of a zone")  # the library would look for it as a module
    return ZoneInfo(name)


def fixed_zone(offset_s: float) -> tzinfo:
    """The zone that is always `offset_s` seconds east of UTC."""
    return timezone(timedelta(seconds=offset_s))


def parse_clock_s(text: str) -> float:
    """Seconds since midnight of a clock time as typed: `21:00`, `21:00:40`, `9:00:40 pm`.

    Raises TimeTextError.
    """
    plain = text.strip().upper().replace(",", ".")
    match = _CLOCK.fullmatch(plain) if len(plain) <= LONGEST_FIGURE else None
    hour, minute, second = (float(match[part] or 0) for part in (1, 2, 3)) if match else (99, 0, 0)
    half = match[4] if match else None
    if half is not None and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "P" else 0)
    elif half is not None or hour >= 24:
        raise TimeTextError("a clock time such as 21:00:40 or 9:00:40 pm")
    return hour * 3600.0 + minute * 60.0 + second


def parse_date(text: str, order: str) -> tuple[int | None, int, int]:
    """Year (None where not typed), month and day of a date typed in a controller's `order`.

    Figures may be parted by / - . or blanks; a two-figure year is one of 2000 to 2099. Raises
    TimeTextError.
    """
    wanted = f"a date in the order {order} such as {_DATE_EXAMPLES[order]}"
    figures = re.split(r"[/.\-\s]+", text.strip()[: LONGEST_FIGURE + 1])
    names = order.split("-")
    if len(names) == 2 and len(figures) == 3:
        names.append("year")
    if len(figures) != len(names) or not all(re.fullmatch(r"\d{1,4}", part) for part in figures):
        raise TimeTextError(wanted)
    named = {name: int(figure) for name, figure in zip(names, figures, strict=True)}
    year = named.get("year")
    if year is not None and year < 100:
        year += 2000
    try:
        date(year or _SOME_LEAP_YEAR, named["month"], named["day"])
    except ValueError as error:
        raise TimeTextError(f"{wanted} ({error})") from None
    return year, named["month"], named["day"]


def time_resolution_s(moments_s: FloatArray) -> float | None:
    """How finely moments were written, seconds: 60, 30, 15, 10, 5 or 1; None without any.

    `moments_s` (n,) are POSIX seconds, nan where there is none. It is the largest of these steps
    that all moments are multiples of, and that chance would not give: n moments to the second are
    all multiples of a step by (1 / step)^n. Of five lines or more one in five may be finer: who
    notes nine of ten to the minute has not looked at the seconds of those nine.
    """
    known = moments_s[np.isfinite(moments_s)]
    if not known.size:
        return None
    found = FINEST_RESOLUTION_S
    for step_s in reversed(RESOLUTIONS_S):
        off_s = np.abs(known - step_s * np.rint(known / step_s))
        exceptions = int(np.count_nonzero(off_s > _SAME_S))
        by_chance = FINEST_RESOLUTION_S if exceptions == 0 else found
        allowed = exceptions <= known.size // _EXCEPTIONS
        if allowed and _chance_of_multiples(known.size, exceptions, by_chance / step_s) < _CHANCE:
            found = step_s
    return found


def _chance_of_multiples(count: int, exceptions: int, share: float) -> float:
    """The chance that all but so many of `count` moments, or more, fall on a step: binomial."""
    return sum(
        comb(count, k) * (1.0 - share) ** k * share ** (count - k) for k in range(exceptions + 1)
    )


HOUR_ANGLE_ARCMIN_PER_MINUTE = 15.041


SIDEREAL_DEG_PER_S = 360.98564736629 / 86400.0  # Meeus, Astronomical Algorithms, eq. 12.4
