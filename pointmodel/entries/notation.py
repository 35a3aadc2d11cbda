"""A right value written the way the wrong one was typed, to be compared at a glance."""

from __future__ import annotations

import re
from datetime import date, timedelta

from pointmodel.base.angles import format_dm, format_dms

_FIGURE = re.compile(r"\d+(?:[.,]\d+)?")
_HALF_DAY = re.compile(r"([AaPp])\.?\s*[Mm]\.?")


def angle_words(angle_deg: float, sides: str) -> str:
    """An angle as a hand controller shows it: `41°18′ S`; `sides` are "NS" or "EW"."""
    return f"{format_dm(abs(angle_deg), 0)} {sides[1] if angle_deg < 0 else sides[0]}"


def angle_like(typed: str, angle_deg: float, sides: str) -> str:
    """An angle in the notation of a typed one: same parts, marks, decimals, letter or sign."""
    parts = _FIGURE.findall(typed)
    if not 1 <= len(parts) <= 3:
        return angle_words(angle_deg, sides)
    figures = iter(_split(abs(angle_deg), parts))
    bare = _FIGURE.sub(lambda _: next(figures), re.sub(r"^\s*[-−+]\s*", "", typed.strip()))
    lettered = re.sub(f"[{sides}]", sides[1] if angle_deg < 0 else sides[0], bare)
    if lettered != bare or re.search(f"[{sides}]", bare):
        return lettered
    return f"-{bare}" if angle_deg < 0 else bare


def two_angles(like: str | None, held_deg: float, true_deg: float, sides: str) -> tuple[str, str]:
    """Two angles written as a typed one was, or as finely as it takes to see that they differ."""
    found = [
        angle_like(like, a, sides) if like else angle_words(a, sides) for a in (held_deg, true_deg)
    ]
    if found[0] == found[1]:
        found = [
            f"{format_dms(abs(a))} {sides[1] if a < 0 else sides[0]}" for a in (held_deg, true_deg)
        ]
    return found[0], found[1]


def _split(size_deg: float, like: list[str]) -> list[str]:
    """Degrees, minutes and seconds in as many parts and decimals as the typed ones have."""
    separator = "," if "," in like[-1] else "."
    decimals = len(re.split("[.,]", like[-1])[1]) if re.search("[.,]", like[-1]) else 0
    steps = round(size_deg * 60 ** (len(like) - 1) * 10**decimals)
    whole, fraction = divmod(steps, 10**decimals)
    parts: list[str] = []
    for _ in like[1:]:
        whole, last = divmod(whole, 60)
        parts.insert(0, f"{last:02d}")
    parts.insert(0, str(whole))
    if decimals:
        parts[-1] += f"{separator}{fraction:0{decimals}d}"
    return parts


def date_like(typed: str, order: str, day: date) -> str:
    """A date in the order and with the marks of a typed one."""
    names = order.split("-")
    parts = _FIGURE.findall(typed)
    if len(parts) == 3 and len(names) == 2:
        names.append("year")
    if len(parts) != len(names):
        return day.isoformat()
    values = {"year": day.year, "month": day.month, "day": day.day}
    figures = iter(
        f"{values[name] % 100 if name == 'year' and len(part) == 2 else values[name]:0{len(part)}d}"
        for name, part in zip(names, parts, strict=True)
    )
    return _FIGURE.sub(lambda _: next(figures), typed.strip())


def clock_like(typed: str | None, second_of_day: float) -> str:
    """A time of day, seconds since midnight, as a typed one was written; else as 21:04."""
    text = typed or "21:00"
    half = _HALF_DAY.search(text)
    with_seconds = text.count(":") > 1
    seconds = round(second_of_day) if with_seconds else 60 * round(second_of_day / 60.0)
    shown = str(timedelta(seconds=seconds % 86400)).rjust(8, "0")
    hour, rest = int(shown[:2]), shown[2:] if with_seconds else shown[2:5]
    if half is None:
        return f"{hour:02d}{rest}"
    return f"{(hour + 11) % 12 + 1}{rest} {'am' if hour < 12 else 'pm'}"
