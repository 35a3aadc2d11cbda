"""Axes of pictures: scales, ticks at round figures, a panel with its frame.

Read `drawing.py` first. A `Scale` takes a value to a place in the picture; a `Panel` is two.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.showing.drawing import FAINT, TEXT, line, words

ROUND = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True)
class Scale:
    """Values from `low` to `high` laid out from `start` to `end`, evenly or by their logarithm."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def place(self, value: FloatArray | float) -> FloatArray:
        """Return where values of any shape lie in the picture."""
        low, high, told = self.low, self.high, np.asarray(value, dtype=float)
        if self.logarithmic:
            low, high, told = np.log(low), np.log(high), np.log(np.maximum(told, 1e-12))
        return np.asarray(self.start + (told - low) / (high - low) * (self.end - self.start))

    def at(self, value: float) -> float:
        """Return where one value lies."""
        return float(self.place(value))


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Return round values from low to high, at most so many.

    Steps of 1, 2 or 5 times a power of ten (Heckbert, "Nice Numbers for Graph Labels", in Graphics
    Gems, 1990).
    """
    if not (np.isfinite(low) and np.isfinite(high) and high > low):
        return []
    raw = (high - low) / max(most, 1)
    power = 10.0 ** np.floor(np.log10(raw))
    step = next(power * one for one in ROUND if power * one >= raw * (1 - 1e-9))
    first = np.ceil(low / step - 1e-9)
    count = int(np.floor(high / step - first + 1e-9)) + 1
    return [float(step * (first + k)) + 0.0 for k in range(count)]


def tick_words(value: float) -> str:
    """Return a tick's figure with a true minus sign."""
    return f"{value:.6g}".replace("-", "−")


@dataclass(frozen=True)
class Panel:
    """A plot of its own: two scales, y upward."""

    x: Scale
    y: Scale

    def frame(self) -> str:
        """The two edges along which ticks stand."""
        left, right = self.x.start, self.x.end
        bottom, top = self.y.start, self.y.end
        return line([left, left, right], [top, bottom, bottom], FAINT)

    def x_ticks(self, at: Sequence[float], told: Callable[[float], str] = tick_words) -> str:
        """Ticks with figures below the panel."""
        foot = self.y.start
        parts = []
        for value in at:
            x = self.x.at(value)
            parts.append(line([x, x], [foot, foot + 4], FAINT))
            parts.append(words(x, foot + 5 + TEXT, told(value), "middle"))
        return "".join(parts)

    def y_ticks(self, at: Sequence[float], told: Callable[[float], str] = tick_words) -> str:
        """Ticks with figures left of the panel."""
        edge = self.x.start
        parts = []
        for value in at:
            y = self.y.at(value)
            parts.append(line([edge - 4, edge], [y, y], FAINT))
            parts.append(words(edge - 6, y + 0.35 * TEXT, told(value), "end"))
        return "".join(parts)
