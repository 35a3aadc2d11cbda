"""Figures as a reader sees them: rounded to what is known, with units, never nan or inf.

Nothing is computed here. What is not finite is called unknown.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping

from pointmodel.base.angles import format_dm

UNKNOWN = "unknown"
# what a hand at the eyepiece can use: choices
TENTHS_BELOW_ARCMIN, DEGREES_FROM_ARCMIN, LEAST_GAIN_ARCMIN = 3.0, 90.0, 0.1
ARCMINUTE_NOTE = "(′: a sixtieth of a degree; the Moon is 31′ wide)"

UNIT_SUFFIX = {"arcmin": "′", "arcmin/h": "′/h", "arcmin/deg": "′/°", "1": ""}
_FINEST_DECIMALS = {"arcmin": 2, "arcmin/h": 2, "arcmin/deg": 3, "1": 3}
_DIRECTION_MARKS = "\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


def clean(text: str) -> str:
    """The text without control characters, direction marks or broken halves of characters."""
    return text if text.isprintable() else "".join(_shown(letter) for letter in text)


def _shown(letter: str) -> str:
    if letter.isspace():
        return " "
    if letter in _DIRECTION_MARKS:
        return ""
    broken = unicodedata.category(letter) in ("Cc", "Cs") or letter in "\ufffe\uffff"
    return "\ufffd" if broken else letter


def figure(value: float | None, decimals: int = 1) -> str:
    """A number with a true minus sign; "unknown" where there is none."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    text = f"{value:.{decimals}f}"
    return text.replace("-", "−") if float(text) else text.replace("-", "")


def decimals_for(error: float, unit: str = "arcmin") -> int:
    """Decimals worth showing: one digit of the standard error, two where it begins with 1."""
    finest = _FINEST_DECIMALS.get(unit, 2)
    if not math.isfinite(error) or error <= 0:
        return finest
    place = math.floor(math.log10(error))
    leads_with_one = error < 1.95 * 10.0**place
    return min(max(0, int(leads_with_one) - place), finest)


def amount_words(value: float | None, unit: str) -> str:
    """A figure with its unit, units of the terms as ′, to the finest digit ever shown."""
    suffix = UNIT_SUFFIX.get(unit, f" {clean(unit)}")
    return f"{figure(value, _FINEST_DECIMALS.get(unit, 2))}{suffix}"


def range_words(low: float, high: float, unit: str, decimals: int) -> str:
    """The 95 % interval in words."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return UNKNOWN
    suffix = UNIT_SUFFIX.get(unit, "")
    return f"{figure(low, decimals)}{suffix} to {figure(high, decimals)}{suffix}"


def degrees_minutes(angle_deg: float | None, decimals: int = 0, full_turn: bool = False) -> str:
    """An angle as −104°23′, `full_turn` for azimuths; "unknown" where there is none."""
    if angle_deg is None or not math.isfinite(angle_deg):
        return UNKNOWN
    return format_dm(angle_deg, decimals, full_turn)


def miss_words(miss_arcmin: float | None) -> str:
    """A distance on the sky, no finer than a hand can use.

    Tenths of an arcminute below 3′, then whole ones, degrees from 90′ on; below a tenth, where only
    an observatory's mount is, whole arcseconds.
    """
    if miss_arcmin is None or not math.isfinite(miss_arcmin):
        return UNKNOWN
    size = abs(miss_arcmin)
    if size >= DEGREES_FROM_ARCMIN - 0.5:
        return f"{figure(miss_arcmin / 60, 1 if size < 597.0 else 0)}°"
    if 0.0 < size < 0.095:
        return f"{figure(60.0 * miss_arcmin, 0)}″" if size > 0.5 / 60.0 else "under 1″"
    return f"{figure(miss_arcmin, 1 if size < TENTHS_BELOW_ARCMIN - 0.05 else 0)}′"


def gain_words(gained_arcmin: float) -> str:
    """By how much something gets better; less than any hand can use is next to nothing."""
    return miss_words(gained_arcmin) if gained_arcmin >= LEAST_GAIN_ARCMIN else "next to nothing"


def miss_range_words(low_arcmin: float, high_arcmin: float) -> str:
    """The 95 % interval of a distance on the sky."""
    return f"{miss_words(low_arcmin)} to {miss_words(high_arcmin)}"


def nudge_words(nudge: Mapping[str, float] | None) -> str:
    """How far to nudge once the controller has gone to the target by name."""
    if not nudge:
        return "—"
    right, up = nudge["right_arcmin"], nudge["up_arcmin"]
    return (
        f"{miss_words(abs(right))} {'right' if right >= 0 else 'left'}, "
        f"{miss_words(abs(up))} {'up' if up >= 0 else 'down'}"
    )


def chance_words(chance: float | None) -> str:
    """A chance in per cent, never a bare 0 or 100."""
    if chance is None or not math.isfinite(chance):
        return UNKNOWN
    if chance < 0.01:
        return "under 1 %"
    if chance > 0.99:
        return "over 99 %"
    return f"{chance * 100:.0f} %"
