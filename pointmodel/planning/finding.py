"""Where to look for a star, in words for someone with dark-adapted eyes and no instruments.

Read `candidates.py` first. Ten degrees are a fist at arm's length: common practice, no source.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.compass import compass_word
from pointmodel.base.wording import join
from pointmodel.planning.candidates import Confusable, Scene
from pointmodel.sky.stars import colour_word, constellations

FIST_DEG = 10.0
BEST_RANKED = 6
ALONE_DEG = 20.0  # the brightest star within so much stands out
FAR_DEG = 35.0  # beyond that a brighter star is no help in finding another
PLAINLY_BRIGHTER = 0.5  # magnitudes
MOST_NAMED = 3
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def fists_words(alt_deg: float) -> str:
    """Return a height in fists at arm's length, to the half: `four and a half fists`."""
    halves = max(1, int(np.floor(2.0 * alt_deg / FIST_DEG + 0.5)))
    whole, half = divmod(halves, 2)
    if whole == 0:
        return "half a fist"
    number = f"{_NUMBERS[whole]}{' and a half' if half else ''}"
    return f"{number} fist{'s' if halves > 2 else ''}"


def where_to_look(az_deg: float, alt_deg: float) -> str:
    """Return direction and height: `look south-east, four and a half fists up (46°)`."""
    return f"look {compass_word(az_deg)}, {fists_words(alt_deg)} up ({alt_deg:.0f}°)"


def how_to_know(sky: Scene, star: int, confusable: tuple[Confusable, ...]) -> str:
    """Return colour, how a star stands out, its constellation, and what not to take for it."""
    row = int(sky.row[star])
    colour = colour_word(float(sky.table.colour_index[row]))
    constellation = f"in {_constellation(sky.table.constellation[row])}"
    told = ", ".join(filter(None, (colour, _standing_out(sky, star), constellation)))
    if confusable:
        told += f". Take care: {confusable_words(confusable)}"
    return told


def confusable_words(confusable: tuple[Confusable, ...]) -> str:
    """Return what not to take for the star, and where that stands as one faces it."""
    others = []
    for one in confusable[:MOST_NAMED]:
        side = _side(one.right_deg, one.up_deg)
        others.append(f"{one.target} is {one.separation_deg:.1f}° {side} it")
    return join(others)


def _side(right_deg: float, up_deg: float) -> str:
    """Return on which side something stands as one faces it: `above`, `to the lower left of`."""
    eighth = int(np.floor(np.degrees(np.arctan2(right_deg, up_deg)) / 45.0 + 0.5)) % 8
    return _SIDES[eighth]


_SIDES = (
    "above",
    "to the upper right of",
    "to the right of",
    "to the lower right of",
    "below",
    "to the lower left of",
    "to the left of",
    "to the upper left of",
)


def _standing_out(sky: Scene, star: int) -> str:
    """Return how a star stands out: its rank, or where it stands from a brighter one near it.

    Nothing, where it does neither.
    """
    if star < BEST_RANKED:
        return (
            "the brightest star now up"
            if star == 0
            else f"the {ordinal(star + 1)} brightest now up"
        )
    at = direction_vectors(sky.az_deg[: star + 1], sky.alt_deg[: star + 1])
    apart_deg = np.degrees(np.arccos(np.clip(at[:star] @ at[star], -1.0, 1.0)))
    if (apart_deg > ALONE_DEG).all():
        return f"the brightest within {fists_words(ALONE_DEG)} around it"
    plain = sky.magnitude[:star] <= sky.magnitude[star] - PLAINLY_BRIGHTER
    near = np.flatnonzero(plain & (apart_deg < FAR_DEG))
    if near.size == 0:
        return ""
    landmark = int(near[0])
    turn = (sky.az_deg[star] - sky.az_deg[landmark] + 180.0) % 360.0 - 180.0
    middle = np.radians(0.5 * (sky.alt_deg[star] + sky.alt_deg[landmark]))
    rise = float(sky.alt_deg[star] - sky.alt_deg[landmark])
    side = _side(float(turn * np.cos(middle)), rise)
    return f"{fists_words(float(apart_deg[landmark]))} {side} {sky.label(landmark)}"


def ordinal(number: int) -> str:
    """Return `1st`, `2nd`, `11th`."""
    suffix = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{'th' if 10 <= number % 100 <= 13 else suffix}"


def _constellation(abbreviation: str) -> str:
    return _names()[abbreviation]


@cache
def _names() -> dict[str, str]:
    return {row.abbreviation: row.name for row in constellations()}
