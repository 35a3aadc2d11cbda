"""What every picture of pairs marks alike: the log's parts, lines set aside, the stars' names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.wording import join
from pointmodel.fitting.showable import Showable
from pointmodel.mount.terms import plain_name
from pointmodel.showing.drawing import (
    AFTER,
    ASIDE,
    PART_MARKS,
    Mark,
    marks,
    shortened,
    width_of,
    words,
)

MANY_PAIRS = 120  # from here on marks are small, arrows are means, and only the worst are named
NAME_WIDTH = 118.0  # of a picture 320 wide: longer names are cut


def name_of(fit: Showable, pair: int) -> str:
    """What to call a pair in a picture: its star, else its line."""
    target = fit.pair_results.target[pair]
    return shortened(target or f"line {fit.pair_results.line[pair]}", NAME_WIDTH)


def line_and_name(fit: Showable, pair: int) -> str:
    """A pair by its line and its star, for descriptions."""
    target = fit.pair_results.target[pair]
    told = f"line {fit.pair_results.line[pair]}"
    return f"{told} ({target})" if target else told


def mark_size(fit: Showable) -> float:
    """How wide a pair's mark is: smaller where there are many."""
    return 6.0 if len(fit.pair_results.line) < MANY_PAIRS else 3.0


def part_marks(
    fit: Showable, x: FloatArray, y: FloatArray, shown: BoolArray, colour: str = AFTER
) -> str:
    """The pairs shown (n,), each part of the log with its own mark."""
    part = fit.breakdown.part
    return "".join(
        marks(x[(part == k) & shown], y[(part == k) & shown], mark_of(k), colour, mark_size(fit))
        for k in np.unique(part)
    )


def mark_of(part: int) -> Mark:
    """The mark of a part of the log."""
    return PART_MARKS[part % len(PART_MARKS)]


def events_between(fit: Showable) -> list[tuple[int, str]]:
    """What parts the log: the first pair after each event (found ones too), and the event."""
    found: dict[int, list[str]] = {}
    for event in fit.log.events:
        found.setdefault(event.before_pair, []).append(plain_name(event.kind))
    lines = fit.pair_results.line
    for one in fit.happened:
        if one.after_line is not None:
            place = int(np.searchsorted(lines, one.after_line, side="right"))
            found.setdefault(place, []).append(_FOUND[one.kind])
    count = len(lines)
    return [(k, join(list(dict.fromkeys(told)))) for k, told in sorted(found.items()) if k < count]


_FOUND = {
    "moved": "moved",
    "tube_shifted": "tube slid",
    "zeroed_elsewhere": "zeroed elsewhere",
    "sinking": "sinking",
}


def key_line(fit: Showable, y: float) -> tuple[str, float]:
    """A line of marks with what they mean, and how tall it is; nothing where marks are all alike.

    A dot alone needs no key; parts of the log and lines set aside do.
    """
    entries: list[tuple[Mark, str, str]] = []
    parts = np.unique(fit.breakdown.part)
    if parts.size > 1:
        first = [int(np.argmax(fit.breakdown.part == k)) for k in parts]
        lines = fit.pair_results.line
        entries += [
            (mark_of(int(k)), AFTER, f"from line {lines[at]}")
            for k, at in zip(parts[: len(PART_MARKS)], first, strict=False)
        ]
    if np.any(fit.pair_results.set_aside):
        entries.append(("cross", ASIDE, "set aside"))
    return _laid_out(entries, y)


def _laid_out(entries: Sequence[tuple[Mark, str, str]], y: float) -> tuple[str, float]:
    parts, x, top = [], 8.0, y
    for mark, colour, told in entries:
        if x + 14 + width_of(told) > 318 and x > 8:
            x, top = 8.0, top + 18
        parts.append(marks(np.array([x]), np.array([top - 4.5]), mark, colour, 7.0))
        parts.append(words(x + 10, top, told))
        x += 26 + width_of(told)
    return "".join(parts), (top - y + 20 if entries else 0.0)


def worst_first(size: FloatArray, among: BoolArray, most: int) -> NDArray[np.intp]:
    """Return the places of the largest of some sizes (n,), largest first."""
    order = np.argsort(-np.where(among & np.isfinite(size), size, -np.inf), kind="stable")
    return order[: min(most, int(np.count_nonzero(among & np.isfinite(size))))]


def set_aside_words(fit: Showable) -> str:
    """Which lines are set aside, for descriptions; empty where none is."""
    named = [f"line {one.line} ({one.target or 'no name'})" for one in fit.set_aside]
    return f" Set aside: {_some(named)}." if named else ""


def _some(names: Iterable[str], most: int = 8) -> str:
    told = list(names)
    return join(told) if len(told) <= most else f"{', '.join(told[:most])} and others"
