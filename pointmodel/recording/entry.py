"""What a person types for a place: two angles on one line, in any notation of the log.

Read first: `parse_place`. Each figure is read by `angles.parse_angle_deg`; this module only finds
where the azimuth ends and the altitude begins.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pointmodel.base.angles import AngleError, format_dm, parse_angle_deg
from pointmodel.reading.columns import ALT_MOTIONS, AZ_MOTIONS, AZ_RANGE_DEG, READ_ALT_RANGE_DEG

_PARTED = re.compile(r"\s*[;/]\s*|,\s+|\s+,")
_MOST_TOKENS = 6
TWO_ANGLES = "azimuth and altitude, such as 123 45 41 30 or 123.75 41.5"


class EntryError(ValueError):
    """What was typed is no place; the message says what would be right."""


@dataclass(frozen=True)
class EnteredPlace:
    """An azimuth and an altitude, degrees, with the texts that stand for them in the log."""

    az_deg: float
    alt_deg: float
    az_text: str
    alt_text: str

    def __str__(self) -> str:
        """As it is read back to who typed it."""
        return f"{format_dm(self.az_deg)} {format_dm(self.alt_deg)}"


def parse_place(text: str) -> EnteredPlace:
    """Read azimuth and altitude from one line.

    Parted by a comma, semicolon or stroke, or by blanks alone: then the figures of each are as many
    as of the other (123 45 41 30 is 123°45′ and 41°30′), or there is only one way to part them.
    Raises EntryError.
    """
    parts = [part for part in _PARTED.split(text.strip()) if part]
    if len(parts) == 1 and text.count(",") == 1 and not re.search(r"\s", text.strip()):
        parts = text.strip().split(",")
    if len(parts) > 2:
        raise EntryError(TWO_ANGLES)
    if len(parts) == 2:
        return _place(*parts)
    tokens = text.split()
    if not 2 <= len(tokens) <= _MOST_TOKENS:
        raise EntryError(TWO_ANGLES)
    found = [place for cut in range(1, len(tokens)) if (place := _tried(tokens, cut)) is not None]
    if len(tokens) % 2 == 0 or not found:  # either it is read, or the error tells what is wrong
        middle = len(tokens) // 2
        return _place(" ".join(tokens[:middle]), " ".join(tokens[middle:]))
    if len(found) > 1:
        ways = " or ".join(str(place) for place in found)
        raise EntryError(f"azimuth and altitude parted by a comma: this could be {ways}")
    return found[0]


def is_one_angle(text: str) -> bool:
    """Whether a text is an azimuth alone, so that its altitude is still to come."""
    try:
        return len(text.split()) == 1 and _angle(text, AZ_RANGE_DEG, "azimuth") is not None
    except EntryError:
        return False


def looks_like_figures(text: str) -> bool:
    """Whether a text is figures rather than a name: somebody has gone on to the place at once."""
    return re.search(r"\d", text) is not None and re.search(r"[^\W\d_]", text) is None


def take_motions(text: str) -> tuple[str, dict[str, str]]:
    """Part the words for last motions (cw, ccw, up, down) from the rest of a line."""
    motions: dict[str, str] = {}
    rest = []
    for token in text.split():
        word = token.strip(",;").lower()
        if word in AZ_MOTIONS:
            motions["az_motion"] = word
        elif word in ALT_MOTIONS:
            motions["alt_motion"] = word
        else:
            rest.append(token)
    return " ".join(rest), motions


def _tried(tokens: list[str], cut: int) -> EnteredPlace | None:
    try:
        return _place(" ".join(tokens[:cut]), " ".join(tokens[cut:]))
    except EntryError:
        return None


def _place(az_text: str, alt_text: str) -> EnteredPlace:
    az_deg = _angle(az_text, AZ_RANGE_DEG, "azimuth")
    alt_deg = _angle(alt_text, READ_ALT_RANGE_DEG, "altitude")
    return EnteredPlace(az_deg, alt_deg, _cell(az_text), _cell(alt_text))


def _angle(text: str, limits_deg: tuple[float, float], name: str) -> float:
    try:
        angle = parse_angle_deg(text, decimal_comma=True)
    except AngleError as error:
        raise EntryError(f"{name} {text.strip()}: {error}") from None
    low, high = limits_deg
    if not low <= angle <= high:
        raise EntryError(f"{name} from {low:g} to {high:g}; azimuth first, then altitude")
    return angle


def _cell(text: str) -> str:
    """An angle as it is written into the log, with a decimal point."""
    return " ".join(text.split()).replace(",", ".")
