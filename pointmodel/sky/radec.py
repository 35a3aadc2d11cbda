"""Right ascension and declination as people write them."""

from __future__ import annotations

import re
from typing import NamedTuple

from pointmodel.base.angles import AngleError, parse_angle_deg
from pointmodel.base.wording import LONGEST_FIGURE

_HOUR_MARKS = str.maketrans({"ʰ": "h", "ᵐ": "m", "ˢ": "s", "H": "h", "M": "m", "S": "s"})
_HOURS = re.compile(r"(\d+(?:\.\d+)?)\s*h\s*(.*)", re.ASCII)
_MINUTES_APART = re.compile(r"\d+\s+\d", re.ASCII)
_EQUINOX = re.compile(r"[\s,(]+(of\s+date|jnow|icrs|j2000(?:\.0)?)\)?\s*$", re.IGNORECASE)
_LABELS = re.compile(r"\b(?:ra|r\.a\.|dec)\b\.?[\s:=]*", re.IGNORECASE)
_SIGN = re.compile(r"[+−–-]\s*(?=[\d.])")
_RA_WANTED = (
    "a right ascension in hours such as 05:34:31 or 5h34.5m, below 24, or in degrees such as "
    "83.63, below 360"
)


class RaDec(NamedTuple):
    """An equatorial place, degrees; of date, else ICRS."""

    ra_deg: float
    dec_deg: float
    of_date: bool


def parse_right_ascension_deg(text: str, decimal_comma: bool = False) -> float:
    """Right ascension in [0, 360) degrees: hours where written `h:m:s`, `5h34.5m` or `5 34 31`.

    A plain number is degrees, and so is what carries a degree mark. Raises AngleError.
    """
    plain = text.strip().translate(_HOUR_MARKS)
    if len(plain) > LONGEST_FIGURE:
        raise AngleError(_RA_WANTED)
    hours = _HOURS.fullmatch(plain)
    if hours is not None:
        plain = f"{hours[1]}:{hours[2]}" if hours[2] else hours[1]
    in_hours = hours is not None or ":" in plain or bool(_MINUTES_APART.match(plain))
    try:
        value = parse_angle_deg(plain, decimal_comma)
    except AngleError:
        raise AngleError(_RA_WANTED) from None
    if not 0.0 <= value < (24.0 if in_hours else 360.0):
        raise AngleError(_RA_WANTED)
    return value * 15.0 if in_hours else value


def parse_declination_deg(text: str, decimal_comma: bool = False) -> float:
    """Declination, degrees within ±90, written as any angle. Raises AngleError."""
    value = parse_angle_deg(text, decimal_comma, sides="NS")
    if not abs(value) <= 90.0:
        raise AngleError("a declination from -90 to +90 degrees")
    return value


def parse_radec(text: str) -> RaDec | None:
    """Read `05:34:31 +22:00:52`, `5h34.5m, -22d01m (of date)`, `83.63 +22.01`; None if it is none.

    ICRS (J2000) unless marked "of date" or "JNow". Two plain numbers parted by a comma are taken
    for none: that is how azimuth and altitude are written. Raises AngleError where right ascension
    and declination are meant and a figure is wrong.
    """
    equinox = _EQUINOX.search(text)
    of_date = equinox is not None and equinox[1].lower() not in {"icrs", "j2000", "j2000.0"}
    parts = _halves(_LABELS.sub("", text[: equinox.start()] if equinox else text).strip())
    if parts is None:
        return None
    return RaDec(parse_right_ascension_deg(parts[0]), parse_declination_deg(parts[1]), of_date)


def _halves(plain: str) -> tuple[str, str] | None:
    """The texts of the two figures; None where the text is no pair that starts with hours.

    The declination starts at its sign; without one at a comma, or at the only blank.
    """
    sign = _SIGN.search(plain, 1)
    if sign is not None:
        first, second = plain[: sign.start()], sign[0][0] + plain[sign.end() :]
    elif plain.count(",") == 1:
        first, _, second = plain.partition(",")
    elif len(plain.split()) == 2:
        first, second = plain.split()
    else:
        return None
    looks_like_hours = re.search(r"\d\s*[hʰ:]|\d\s+\d", first, re.IGNORECASE) is not None
    if not first[:1].isdigit() or not (looks_like_hours or (sign is not None and "," not in first)):
        return None
    return first.strip(" ,;"), second.strip(" ,;")
