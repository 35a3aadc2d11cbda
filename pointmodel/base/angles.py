"""Angles as people write them, and directions on the sphere.

Read first: `parse_angle_deg` for what is accepted. Directions use the axes x north, y east, z up (a
left-handed frame, so that azimuth grows from north through east).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pointmodel.base.arrays import FloatArray

_ASCII_MARKS = str.maketrans(
    {
        **dict.fromkeys("−–‒‐﹣-", "-"),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("′’‘´`ʹ", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("\u00a0\u2009\u202f\u2007\t", " "),
    }
)
_PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_FIGURE = r"(?:\d+\.?\d*|\.\d+)"
_SPLIT = re.compile(
    rf"""
    (?P<lead>[NSEW])? \ * (?P<sign>[+-])? \ *
    (?P<degrees>{_FIGURE})
    (?: (?:\ *(?:deg|[°d:])\ *|\ +) (?P<minutes>{_FIGURE})
        (?: (?:\ *['m:]\ *|\ +) (?P<seconds>{_FIGURE}) (?:\ *["s])? | \ *['m] )?
      | \ *(?:deg|[°d])
    )?
    \ * (?P<trail>[NSEW])?
    """,
    re.VERBOSE | re.ASCII,
)
# 12°.5 is 12.5° to some, 12°05′ to others; 12°30'.5 is 30.5′ in old tables, and to nobody 30′0.5″
_LOOSE_POINT = re.compile(r"(?<=\d)(?P<mark> *(?:deg|[°d:'m]) *| +)\.(?P<rest>\d+)", re.ASCII)
_LONGEST_ANGLE = 40
_LOOKALIKES = str.maketrans({"O": "0", "o": "0", "l": "1", "I": "1"})
_ANY_SPELLING = "degrees such as 123.76, or degrees and minutes such as 123 45.5 or 123°45′30″"


class AngleError(ValueError):
    """A text is no angle; the message says what would be right."""


def parse_angle_deg(text: str, decimal_comma: bool = False, sides: str = "") -> float:
    """Read one angle, in degrees, as people write it.

    Accepted: decimal degrees; degrees, minutes and seconds parted by blanks, colons or their marks,
    typographic or not, the last figure with a fraction; a sign in front, kept at zero degrees
    (`-0°30'`); a letter of `sides` ("NS" or "EW") before or behind instead of the sign, south and
    west negative; a decimal comma where `decimal_comma` is set. The range is the caller's matter.
    Raises AngleError, whose message tells what would be right.
    """
    plain = text.translate(_ASCII_MARKS).strip().replace("''", '"')
    if decimal_comma:
        plain = plain.replace(",", ".")
    if len(plain) > _LONGEST_ANGLE:
        raise AngleError(_ANY_SPELLING)
    if _PLAIN.fullmatch(plain) and math.isfinite(value := float(plain)):
        return value
    match = _SPLIT.fullmatch(plain)
    if match is None:
        raise AngleError(_what_would_be_right(plain, sides))
    if loose := _LOOSE_POINT.search(plain):
        raise AngleError(_which_point(plain, loose))
    sign = _sign(match["sign"], match["lead"], match["trail"], sides)
    return sign * _size_deg(*match.group("degrees", "minutes", "seconds"))


def _sign(sign: str | None, lead: str | None, trail: str | None, sides: str) -> float:
    """Sign of an angle from its sign or its one letter N, S, E or W."""
    side = lead or trail
    if side is None:
        return -1.0 if sign == "-" else 1.0
    if not sides:
        raise AngleError(f"an angle without the letter {side}")
    if side not in sides or (lead and trail):
        raise AngleError(f"one letter, {' or '.join(sides)}, at the end")
    if sign is not None:
        raise AngleError(f"either a sign or the letter {side}, not both")
    return -1.0 if side in "SW" else 1.0


def _size_deg(degrees: str, minutes: str | None, seconds: str | None) -> float:
    """Degrees from degrees, minutes and seconds, each below 60 where it must be."""
    if minutes is None:
        return float(degrees)
    if "." in degrees or (seconds is not None and "." in minutes):
        raise AngleError("a decimal fraction in the last figure only")
    minute, second = float(minutes), float(seconds or 0)
    if minute >= 60.0 or second >= 60.0:
        raise AngleError(f"{'minutes' if minute >= 60.0 else 'seconds'} below 60")
    return float(degrees) + minute / 60.0 + second / 3600.0


def _which_point(plain: str, loose: re.Match[str]) -> str:
    """The two angles that a point between two figures may stand for."""
    head, rest, tail = plain[: loose.start("mark")], loose["rest"], plain[loose.end() :]
    mark = loose["mark"].strip() or " "
    decimal = f"{head}.{rest}{mark}{tail}".strip()
    return f"{decimal} or {head}{mark}{rest:0>2}{tail}? A point stands inside a figure only"


def _what_would_be_right(plain: str, sides: str) -> str:
    """What to write instead of a text that is no angle: the likely slip, or what is accepted."""
    repaired = plain.translate(_LOOKALIKES)
    if repaired != plain and (_PLAIN.fullmatch(repaired) or _SPLIT.fullmatch(repaired)):
        return f"digits only: {repaired}?"
    if "," in plain:
        return (
            f"a decimal point: {plain.replace(',', '.')} "
            "(a decimal comma is read where columns are parted by ; or tab)"
        )
    if re.search(r"\d\s*h", plain):
        return "degrees: hours are for right ascension"
    if re.search(r"\d*\.\d*\.", plain):
        return "one decimal point in a figure"
    if "-" in plain[1:] or "+" in plain[1:]:
        return "a sign in front only; degrees and minutes parted by a blank or a colon"
    if re.search(r"\d\W*[nsew]$", plain):
        return f"a capital {' or '.join(sides)} at the end" if sides else _ANY_SPELLING
    return _ANY_SPELLING


def parse_angles_deg(
    cells: Sequence[str], decimal_comma: bool = False
) -> tuple[FloatArray, dict[int, AngleError], bool]:
    """Read a column of angles: degrees (n,), errors by position, and whether all were decimals.

    Empty cells, and those with an error, are nan. A column of plain decimals is read at full speed.
    """
    try:
        values = np.array([float(cell) for cell in cells], dtype=float)
    except ValueError:
        values = np.full(len(cells), np.nan)
    if np.isfinite(values).all() and "_" not in "".join(cells):
        return values, {}, True
    errors: dict[int, AngleError] = {}
    all_decimal = True
    for position, cell in enumerate(cells):
        values[position] = np.nan
        if not cell or cell.isspace():
            continue
        try:
            values[position] = parse_angle_deg(cell, decimal_comma)
        except AngleError as error:
            errors[position] = error
        all_decimal = all_decimal and _is_decimal(cell)
    return values, errors, all_decimal


def _is_decimal(cell: str) -> bool:
    return _PLAIN.fullmatch(cell.translate(_ASCII_MARKS).strip().replace(",", ".")) is not None


def format_dm(angle_deg: float, decimals: int = 1, full_turn: bool = False) -> str:
    """Write a finite angle as degrees and decimal minutes: `123°45.5′`, `−0°30.0′`.

    With `full_turn` what rounds to 360° is written 0°, as an azimuth wants it.
    """
    sign, (degrees, minutes), fraction = _figures(angle_deg, 60, decimals, full_turn)
    return f"{sign}{degrees}°{minutes:02d}{fraction}′"


def format_dms(angle_deg: float, decimals: int = 0, full_turn: bool = False) -> str:
    """Write a finite angle as degrees, minutes and seconds: `123°45′30″`; see `format_dm`."""
    sign, (minutes_in_all, seconds), fraction = _figures(angle_deg, 3600, decimals, full_turn)
    degrees, minutes = divmod(minutes_in_all, 60)
    return f"{sign}{degrees}°{minutes:02d}′{seconds:02d}{fraction}″"


def _figures(
    angle_deg: float, a_degree: int, decimals: int, full_turn: bool
) -> tuple[str, tuple[int, int], str]:
    """Sign, the last unit split by 60, and its decimals; rounded once, so nothing shows 60."""
    steps = round(abs(angle_deg) * a_degree * 10**decimals)
    if full_turn:
        steps %= 360 * a_degree * 10**decimals
    sign = "−" if angle_deg < 0 and steps else ""
    whole, rest = divmod(steps, 10**decimals)
    fraction = f".{rest:0{decimals}d}" if decimals else ""
    return sign, divmod(whole, 60), fraction


def wrap_deg(angle_deg: ArrayLike) -> FloatArray:
    """Angles brought into (-180, 180] degrees, any shape."""
    return np.asarray(180.0 - np.mod(180.0 - np.asarray(angle_deg, dtype=float), 360.0))


def wrap_360_deg(angle_deg: ArrayLike) -> FloatArray:
    """Angles brought into [0, 360) degrees, any shape."""
    turned = np.mod(np.asarray(angle_deg, dtype=float), 360.0)
    return np.where(turned >= 360.0, 0.0, turned)  # a tiny negative angle rounds up to 360


def separation_arcmin(
    az1_deg: ArrayLike, alt1_deg: ArrayLike, az2_deg: ArrayLike, alt2_deg: ArrayLike
) -> FloatArray:
    """Angle on the sphere between directions, arcminutes, broadcast over the shapes given.

    Vincenty's form of the great-circle distance, exact from zero to 180 degrees: Vincenty, Survey
    Review 23 (1975) 88, for a sphere.
    """
    alt1, alt2 = np.radians(alt1_deg), np.radians(alt2_deg)
    turn = np.radians(np.asarray(az2_deg, dtype=float) - np.asarray(az1_deg, dtype=float))
    across = np.cos(alt2) * np.sin(turn)
    along = np.cos(alt1) * np.sin(alt2) - np.sin(alt1) * np.cos(alt2) * np.cos(turn)
    inward = np.sin(alt1) * np.sin(alt2) + np.cos(alt1) * np.cos(alt2) * np.cos(turn)
    return np.asarray(np.degrees(np.arctan2(np.hypot(across, along), inward)) * 60.0)


def direction_vectors(az_deg: ArrayLike, alt_deg: ArrayLike) -> FloatArray:
    """Unit vectors (..., 3) toward azimuth and altitude in degrees; x north, y east, z up."""
    azimuth, altitude = np.broadcast_arrays(np.radians(az_deg), np.radians(alt_deg))
    level = np.cos(altitude)
    return np.stack((level * np.cos(azimuth), level * np.sin(azimuth), np.sin(altitude)), axis=-1)


def directions_deg(vectors: NDArray[np.float64]) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees, of vectors (..., 3) of any length but zero."""
    north, east, up = np.moveaxis(np.asarray(vectors, dtype=float), -1, 0)
    altitude_deg = np.degrees(np.arctan2(up, np.hypot(north, east)))
    return wrap_360_deg(np.degrees(np.arctan2(east, north))), np.asarray(altitude_deg)


HALF_TURN_ARCMIN = 10800.0


def wrapped_index_arcmin(value: float) -> float:
    """Return an azimuth index brought into (−10800, 10800] arcminutes."""
    return HALF_TURN_ARCMIN - (HALF_TURN_ARCMIN - value) % (2.0 * HALF_TURN_ARCMIN)
