"""Cells of sheets and frames as the text that a person would have typed."""

from __future__ import annotations

import datetime
import re
from numbers import Integral, Real

_OPEN_DOCUMENT_LENGTH = re.compile(r"(-?)PT(\d+)H(\d+)M(\d+(?:\.\d+)?)S", re.ASCII)
_SHEET_DAY_ZERO = datetime.datetime(1899, 12, 31)


class SheetTime(str):
    """Text of a cell that its sheet holds as a time: figures parted by colons.

    A spreadsheet takes 123:45:30 for a length of time and 12:30 for a time of day: both are degrees
    and minutes again. But 41:33.0 it takes for 41 minutes and 33 seconds, which is 0:41:33.
    """

    __slots__ = ()


def cell_text(value: object) -> str:
    """The text of one cell; empty for what is missing; a `SheetTime` for what is a time."""
    if value is None or (isinstance(value, float) and value != value):
        return ""
    if isinstance(value, str):
        length = _OPEN_DOCUMENT_LENGTH.fullmatch(value)
        return SheetTime("{}{}:{}:{}".format(*length.groups())) if length else value
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, Real):
        number = float(value)
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    if isinstance(value, datetime.datetime) and value.year <= 1900:
        value = value - _SHEET_DAY_ZERO
    if isinstance(value, datetime.timedelta):
        return SheetTime(_sixties(value))
    if isinstance(value, datetime.time):
        return SheetTime(value.isoformat())
    if isinstance(value, datetime.date):
        return value.isoformat()
    return str(value)


def _sixties(length: datetime.timedelta) -> str:
    """Hours, minutes and seconds of a length of time."""
    microseconds = round(abs(length) / datetime.timedelta(microseconds=1))
    seconds, rest = divmod(microseconds, 1_000_000)
    sign = "-" if length < datetime.timedelta(0) else ""
    fraction = f".{rest:06d}" if rest else ""
    return f"{sign}{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{fraction}"
