"""The lean of each night as a point on a compass, as SVG: a leg that is always short shows.

Seen from above, north up and east right, as the feet are drawn. Nothing is estimated here but the
mean over the nights.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.compass import compass_word
from pointmodel.base.figures import miss_words
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    INK,
    TEXT,
    WIDTH,
    arrows,
    circle,
    labels,
    line,
    marks,
    picture,
    words,
)
from pointmodel.showing.panels import ticks

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult

FEWEST_NIGHTS = 3
MOST_NUMBERED = 40  # more nights than this are dots without numbers
# of a mean over few nights, in standard errors, before it is called a habit; a choice
SURE = 3.0
LEAST_ARCMIN = 3.0  # a lean that no go-to would notice


@dataclass(frozen=True, eq=False)
class Leans:
    """The lean of each night toward north and east (n,), and their mean; arcminutes."""

    north: FloatArray
    east: FloatArray

    @property
    def mean(self) -> FloatArray:
        """The mean lean: north, east."""
        return np.array([self.north.mean(), self.east.mean()])

    @property
    def is_habit(self) -> bool:
        """Whether the nights lean one way more than chance would have it."""
        count = self.north.size
        if count < FEWEST_NIGHTS:
            return False
        error = np.sqrt((self.north.var(ddof=1) + self.east.var(ddof=1)) / 2.0 / count)
        size = float(np.hypot(*self.mean))
        return size > SURE * max(float(error), 1e-9) and size > LEAST_ARCMIN


def leans_of(result: CompareResult) -> Leans:
    """Return the lean of each night."""
    by_name = {term.name: np.array([n.value for n in term.by_night]) for term in result.terms}
    return Leans(by_name["tilt_north"], by_name["tilt_east"])


def lean_words(leans: Leans) -> str:
    """What the points say, in a sentence."""
    if len(leans.north) < FEWEST_NIGHTS:
        return "So few nights do not tell whether a leg is short."
    if not leans.is_habit:
        return (
            "The points lie all round: the base is set down again each night, and no leg is short."
        )
    north, east = leans.mean
    toward = compass_word(float(np.degrees(np.arctan2(east, north))) % 360.0)
    size = miss_words(float(np.hypot(north, east)))
    return (
        f"The points lie to one side: the base leans toward the {toward}, by {size} on average. "
        "Is the leg there short, or the ground softer?"
    )


def lean_picture(result: CompareResult) -> str:
    """SVG of a compass with a point a night, as far out as the base leaned."""
    leans = leans_of(result)
    size = np.hypot(leans.north, leans.east)
    rings = [tick for tick in ticks(0.0, 1.05 * max(float(size.max()), 1.0), 3) if tick > 0]
    most = max(1.08 * float(size.max()), rings[-1] if rings else 1.0)
    middle, radius = WIDTH / 2, 118.0
    x0, y0 = middle, radius + 22.0
    scale = radius / most
    parts = [circle(x0, y0, scale * ring, FAINT, dashes="2 4") for ring in rings]
    parts.append(line([x0 - radius, x0 + radius], [y0, y0], FAINT, 0.8))
    parts.append(line([x0, x0], [y0 - radius, y0 + radius], FAINT, 0.8))
    for letter, x, y in (("N", 0, -1), ("E", 1, 0), ("S", 0, 1), ("W", -1, 0)):
        out = radius + 11
        parts.append(words(x0 + out * x, y0 + out * y + 0.35 * TEXT, letter, "middle"))
    ring = rings[-1] if rings else most
    parts.append(words(x0 + 4, y0 + scale * ring - 4, f"{ring:g}′", halo=True))
    px, py = x0 + scale * leans.east, y0 - scale * leans.north
    few = px.size <= MOST_NUMBERED
    parts.append(marks(px, py, "dot", AFTER, 7.0 if few else 3.5))
    if leans.is_habit:
        north, east = leans.mean
        ends = np.array([[x0], [y0], [x0 + scale * east], [y0 - scale * north]])
        parts.append(arrows(ends[0], ends[1], ends[2], ends[3], BEFORE))
    if few:
        places = list(zip(px.tolist(), py.tolist(), strict=True))
        numbers = [str(k + 1) for k in range(px.size)]
        parts.append(labels(places, numbers, (2, 2, WIDTH - 2, y0 + radius + 20)))
    parts.append(marks(np.array([x0]), np.array([y0]), "cross", INK, 5.0))
    told = ", ".join(
        f"night {k + 1}: {miss_words(float(one))} toward the {compass_word(toward)}"
        for k, (one, toward) in enumerate(
            zip(size[:MOST_NUMBERED], _toward(leans)[:MOST_NUMBERED], strict=True)
        )
    )
    title = "The lean of each night on a compass"
    return picture("leans", title, f"{lean_words(leans)} {told}.", y0 + radius + 24, parts)


def _toward(leans: Leans) -> list[float]:
    toward = np.mod(np.degrees(np.arctan2(leans.east, leans.north)), 360.0)
    return [float(one) for one in toward]
