"""Numbers of an .xlsx sheet as what they show: a plain figure, a date, a time or a length of time.

The file keeps days since 1900 and a format of the cell that says whether days are meant (ECMA-376,
part 1, 18.8.30 for the formats, 18.17.4 for dates).
"""

from __future__ import annotations

import datetime
import math
import re
from typing import Literal

Shown = Literal["number", "date", "length"]

# Formats that have no text in the file: 14 to 22 dates and times of day, 45 and 47 minutes and
# seconds, 46 hours that run past 24; 27 to 36 and 50 to 58 dates of eastern Asia.
_DATES = {*range(14, 23), *range(27, 37), 45, 47, *range(50, 59)}
_LENGTHS = {46}
_LONGEST_FORMAT = 255  # letters: ECMA-376, 18.8.30, as the programs that write it have it
_NOT_SHOWN = re.compile(r'"[^"]*"|\\.|_.|\*.')  # texts, escaped letters, widths, fillings
_RUNS_ON = re.compile(r"\[(?:h+|m+|s+)\]", re.IGNORECASE)
_IN_BRACKETS = re.compile(r"\[[^\]]*\]")
_FIGURE = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_DAY_ZERO = datetime.datetime(1899, 12, 30)
_DAYS_TO_1904 = 1462
_FIRST_OF_MARCH_1900 = 60.0  # the sheets' calendar has a 29 February 1900, day 60
_FIRST_YEAR = 1900
_SECONDS = 86_400
_LAST_DAY = 2_958_466.0  # the day after 9999-12-31


def figure(text: str) -> float | str:
    """The number that a text is, as XML writes numbers; any other text as it is."""
    return float(text) if _FIGURE.fullmatch(text.strip()) else text


def shown_as(number: int, code: str | None) -> Shown:
    """What a format shows: `number` is its number, `code` its text where the file has one."""
    if code is None:
        return "length" if number in _LENGTHS else "date" if number in _DATES else "number"
    first = _NOT_SHOWN.sub("", code[:_LONGEST_FORMAT].split(";")[0])
    if _RUNS_ON.search(first):
        return "length"
    plain = _IN_BRACKETS.sub("", first).lower().replace("general", "")
    return "date" if re.search(r"[dmyhs]", plain) else "number"


def number_shown(value: float, shown: Shown, from_1904: bool = False) -> object:
    """The value of a cell as Python has it: float, date, datetime, time or timedelta."""
    if shown == "number" or not math.isfinite(value) or abs(value) >= _LAST_DAY:
        return value
    if shown == "length":
        return datetime.timedelta(microseconds=_microseconds(value))
    if value < 0.0:
        return value
    if value < 1.0:
        length = datetime.timedelta(microseconds=_microseconds(value))
        return (datetime.datetime.min + length).time() if length.days == 0 else length
    if from_1904:
        value += _DAYS_TO_1904
    if value < _FIRST_OF_MARCH_1900:
        value += 1.0
    try:
        moment = _DAY_ZERO + datetime.timedelta(microseconds=_microseconds(value))
    except OverflowError:
        return value
    whole = value.is_integer() and moment.year > _FIRST_YEAR  # in it, hours that ran past 24
    return moment.date() if whole else moment


def _microseconds(days: float) -> int:
    """Days as microseconds, rounded to milliseconds: sheets keep no finer times."""
    return round(days * _SECONDS * 1000.0) * 1000
