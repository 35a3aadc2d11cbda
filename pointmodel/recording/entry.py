"""What a person types for a place: two angles on one line, in any notation of the log; or a nudge.

Read first: `parse_place`, `parse_nudge`. Each figure is read by `angles.parse_angle_deg` or by
`nudges.parse_nudge_arcmin`; this module only finds where one figure ends and the next begins.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pointmodel.base.angles import AngleError, format_dm, parse_angle_deg
from pointmodel.base.figures import nudge_words
from pointmodel.reading.columns import (
    ALT_MOTIONS,
    AZ_MOTIONS,
    AZ_RANGE_DEG,
    NUDGE,
    READ_ALT_RANGE_DEG,
)
from pointmodel.reading.nudges import parse_nudge_arcmin

_PARTED = re.compile(r"\s*[;/]\s*|,\s+|\s+,")
_MOST_TOKENS = 6
TWO_ANGLES = "type azimuth and altitude, such as 123 45 41 30 or 123.75 41.5"
TWO_STEPS = "type how far right and up in arcminutes, such as 12r 5u, 12 left 5 down or 12 -5"
_WAY = r"right|left|up|down|[rlud]"
_UNIT = r"""'{1,2}|′{1,2}|″|"|°|fields?|f|arcmin|arcsec|deg"""
_STEP = re.compile(
    rf"([+\-−]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*((?:{_UNIT})?)\s*({_WAY})(?![a-z])[,;]?",
    re.IGNORECASE | re.ASCII,
)
_PLAIN_STEP = re.compile(rf"[+\-−]?(?:\d+(?:\.\d*)?|\.\d+)\s*(?:{_UNIT})?", re.IGNORECASE)


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

    @property
    def offered(self) -> str:
        """As it is offered again: as typed, its two angles parted by a comma."""
        return f"{self.az_text}, {self.alt_text}"

    def cells(self, which: str) -> dict[str, str]:
        """The cells of the log; `which` is commanded, centred or seen."""
        return {f"{which}_az": self.az_text, f"{which}_alt": self.alt_text}


@dataclass(frozen=True)
class EnteredNudge:
    """How far the tube was moved on to the star, arcminutes, with the texts for the log."""

    right_arcmin: float
    up_arcmin: float
    right_text: str
    up_text: str

    def __str__(self) -> str:
        """As it is read back to who typed it."""
        return nudge_words({"right_arcmin": self.right_arcmin, "up_arcmin": self.up_arcmin})

    @property
    def offered(self) -> str:
        """As it is offered again."""
        return f"{self.right_text}, {self.up_text}"

    @property
    def with_ways(self) -> str:
        """As it is typed so that nobody takes it for a place: `12r 5d`."""
        right, up = (text.lstrip("+-−") for text in (self.right_text, self.up_text))
        side, height = "l" if self.right_arcmin < 0 else "r", "d" if self.up_arcmin < 0 else "u"
        return f"{right}{side} {up}{height}"

    def cells(self, which: str = "nudge") -> dict[str, str]:
        """The cells of the log."""
        return dict(zip(NUDGE, (self.right_text, self.up_text), strict=True))


def parse_place(text: str) -> EnteredPlace:
    """Read azimuth and altitude from one line.

    Parted by a comma, semicolon or stroke, or by blanks alone: then the figures of each are as many
    as of the other (123 45 41 30 is 123°45′ and 41°30′), or there is only one way to part them.
    Raises EntryError.
    """
    parts = [part for part in _PARTED.split(" ".join(text.split())) if part]
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
        raise EntryError(f"this could be {ways}: type a comma between azimuth and altitude")
    return found[0]


def parse_nudge(text: str, field_arcmin: float | None) -> EnteredNudge:
    """Read how far the tube went: `12r 5u`, `12' left, 5' down`, or two plain figures, right first.

    `field_arcmin` is the eyepiece's field, for steps told in fields (`0.5fr`). Raises EntryError.
    """
    steps = _STEP.findall(text)
    if steps and not _STEP.sub("", text).strip(" ,;"):
        return _nudge_of_ways(steps, field_arcmin)
    parts = [part for part in _PARTED.split(text.strip()) if part]
    parts = text.split() if len(parts) == 1 else parts
    if len(parts) != 2 or not all(_PLAIN_STEP.fullmatch(part.strip()) for part in parts):
        raise EntryError(TWO_STEPS)
    return _nudge(parts[0].strip(), parts[1].strip(), field_arcmin)


def names_a_way(text: str) -> bool:
    """Whether every figure of a text says which way the tube went: then it is a nudge."""
    return bool(_STEP.search(text)) and not re.search(r"\d", _STEP.sub("", text))


def take_ways(text: str) -> tuple[str, str]:
    """Part a nudge, whose figures say which way, from what stands beside it."""
    return " ".join(match[0] for match in _STEP.finditer(text)), _STEP.sub("", text)


def _nudge_of_ways(steps: list[tuple[str, str, str]], field_arcmin: float | None) -> EnteredNudge:
    found: dict[str, str] = {}
    for figure, unit, way in steps:
        column = NUDGE[way[0].lower() in "ud"]
        if column in found:
            raise EntryError("type one figure for right or left, and one for up or down")
        back = way[0].lower() in "ld"
        if back and figure[0] in "+-−":
            raise EntryError("type a sign or a word such as left, not both")
        found[column] = f"{'-' if back else ''}{figure.strip()}{f' {unit}' if unit else ''}"
    right, up = (found.get(column, "0") for column in NUDGE)
    return _nudge(right, up, field_arcmin)


def _nudge(right: str, up: str, field_arcmin: float | None) -> EnteredNudge:
    texts = [_cell(part) for part in (right, up)]
    try:
        steps = [
            parse_nudge_arcmin(text, column, decimal_comma=False, field_arcmin=field_arcmin)
            for text, column in zip(texts, NUDGE, strict=True)
        ]
    except AngleError as error:
        raise EntryError(f"type {error}") from None
    return EnteredNudge(steps[0], steps[1], texts[0], texts[1])


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
        raise EntryError(f"{name} {text.strip()}: type {error}") from None
    low, high = limits_deg
    if not low <= angle <= high:
        raise EntryError(f"type {name} from {low:g} to {high:g}; azimuth first, then altitude")
    return angle


def _cell(text: str) -> str:
    """An angle as it is written into the log, with a decimal point."""
    return " ".join(text.split()).replace(",", ".")
