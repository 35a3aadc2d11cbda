"""What the stars show of each fault, in a sentence that needs no training.

Each term of `terms.py` carries one of these. Read first: `Seen`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.compass import compass_word
from pointmodel.base.figures import figure, miss_words
from pointmodel.base.wording import join


@dataclass(frozen=True, eq=False)
class Seen:
    """A fault as the pairs show it: its terms (v,), their values (v,), and the range of its size.

    In the terms' unit. `low` and `high` are the 95 % limits of the first term, or of the length of
    the vector where two terms are one. `after_line`: the line after which a readout jumped, None
    where that is not known. `aligned`: the log was made after an alignment. `together`: azimuth
    zero, collimation and non-perpendicularity at 45° up, with limits, where only that is known.
    `apart`: without what a wrong entry adds.
    """

    terms: tuple[str, ...]
    value: FloatArray
    low: float
    high: float
    after_line: int | None = None
    aligned: bool = False
    together: tuple[float, float, float] | None = None
    apart: bool = False

    @property
    def is_positive(self) -> bool:
        """Whether the first term is above zero."""
        return float(self.value[0]) > 0.0

    @property
    def amount(self) -> str:
        """The size of the first term with its 95 % range, the sign left to the words."""
        return amount_words(float(self.value[0]), self.low, self.high)


SeenWords = Callable[[Seen], str]


def nothing_seen(seen: Seen) -> str:
    """Return no words: a term that nobody has described yet."""
    del seen
    return ""


@dataclass(frozen=True)
class OwnSeen:
    """The words of a term of a user's own: what it is called, and what its unit adds to ′."""

    title: str
    unit: str

    def __call__(self, seen: Seen) -> str:
        """Return the sentence."""
        sign = "" if seen.is_positive else "−"
        return f"the log shows {self.title} of {sign}{seen.amount}{self.unit}"


def amount_words(value: float, low: float, high: float) -> str:
    """Return a size in arcminutes with its 95 % range, as seen from the side it is on.

    A range that goes below zero leaves open which way it is.
    """
    ends = (low, high) if value > 0.0 else (-high, -low)
    return f"{miss_words(abs(value))} ({miss_words(ends[0])} to {miss_words(ends[1])})"


def index_seen(axis: str) -> SeenWords:
    """Return the words of an index offset of an axis."""

    def words(seen: Seen) -> str:
        if seen.together is not None:
            value, low, high = seen.together
            way = "high" if value > 0.0 else "low"
            return (
                f"45° up the {axis} readout is {way} by {amount_words(value, low, high)}, zero "
                "and tube together"
            )
        way = "high" if seen.is_positive else "low"
        return f"at every star the {axis} readout is {way} by {seen.amount}"

    return words


def collimation_seen(seen: Seen) -> str:
    """Return the words of a tube that is not square to its axis."""
    side = "left" if seen.is_positive else "right"
    return (
        f"the line of sight points {side} of square by {seen.amount}: the azimuth error grows "
        "toward the zenith"
    )


def non_perpendicularity_seen(seen: Seen) -> str:
    """Return the words of axes that are not at right angles."""
    side = "right" if seen.is_positive else "left"
    return f"the altitude axis stands {seen.amount} high at its {side}-hand end"


def lean_seen(seen: Seen) -> str:
    """Return the words of a lean: two terms, north and east, as one vector."""
    north, east = (float(part) for part in seen.value)
    toward = float(np.degrees(np.arctan2(east, north)) % 360.0)
    what = "the sky of its alignment" if seen.aligned else "the azimuth axis"
    head = f"without the wrong entry, {what}" if seen.apart else what
    amount = amount_words(float(np.hypot(north, east)), seen.low, seen.high)
    return f"{head} leans {amount} toward the {compass_word(toward)} (azimuth {toward:.0f}°)"


def flexure_seen(seen: Seen) -> str:
    """Return the words of a tube that sags."""
    how = "hangs low" if seen.is_positive else "rides high"
    return f"near the horizon the tube {how} by {seen.amount}, and less the higher it points"


def refraction_seen(seen: Seen) -> str:
    """Return the words of refraction left out, or applied twice."""
    how = "leaves refraction out" if seen.is_positive else "applies refraction twice"
    size = figure(abs(float(seen.value[0])), 1)
    return f"low stars are off as if the controller {how} ({size} times as much)"


def scale_seen(axis: str) -> SeenWords:
    """Return the words of an axis that counts too much or too little."""

    def words(seen: Seen) -> str:
        size = abs(float(seen.value[0]))
        way = "too much" if seen.is_positive else "too little"
        # arcmin a degree: 0.6 of them are one per cent
        return (
            f"the {axis} readout counts {way}: {figure(size / 0.6, 2)} % "
            f"({figure(size * 60.0, 0)}′ in 60°)"
        )

    return words


def eccentricity_seen(seen: Seen) -> str:
    """Return the words of a circle off its centre: two terms, sine and cosine, as one swing."""
    size = float(np.hypot.reduce(seen.value))
    return f"the azimuth error swings by {figure(size, 0)}′ either way once a turn"


def backlash_seen(axis: str, one: str, other: str) -> SeenWords:
    """Return the words of slack gears, for the two motions of an axis."""

    def words(seen: Seen) -> str:
        return f"centrings that ended {one} and {other} differ by {seen.amount} in {axis}"

    return words


def drift_seen(axis: str) -> SeenWords:
    """Return the words of a readout that creeps."""

    def words(seen: Seen) -> str:
        way = "up" if seen.is_positive else "down"
        size = figure(abs(float(seen.value[0])), 1)
        return f"the {axis} readout creeps {way} by {size}′ an hour"

    return words


def sinking_seen(seen: Seen) -> str:
    """Return the words of a base that leans ever further: two terms, one a direction."""
    return f"the lean of the base changes by {figure(float(np.hypot.reduce(seen.value)))}′ an hour"


def slip_seen(seen: Seen) -> str:
    """Return the words of a readout that jumped: two terms, one an axis."""
    after = f"after line {seen.after_line}" if seen.after_line else "at some line"
    by_name = dict(zip(seen.terms, seen.value.tolist(), strict=True))
    jumps = [f"{name.split('_')[0]} by {figure(jump, 1)}′" for name, jump in by_name.items()]
    return f"{after} the readout jumps: {join(jumps)}"
