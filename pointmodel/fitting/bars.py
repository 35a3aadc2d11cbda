"""Pictures of ranked figures as SVG: what each term buys, and which star carries the lean."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.base import figures
from pointmodel.fitting.marked import line_and_name
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    WIDTH,
    bar,
    line,
    picture,
    shortened,
    width_of,
    words,
)
from pointmodel.showing.panels import Panel, Scale, ticks

ROW = 34.0
MOST_STARS = 6
LEAST_INFLUENCE_ARCMIN = 1.0  # a lean that no star moves by more rests on all of them


def _rows(
    key: str, title: str, told: str, rows: Sequence[tuple[str, float, str]], unit: str
) -> str:
    """Bars under their words, the figure at the right, an axis below."""
    most = 1.05 * max([value for _, value, _ in rows] + [1e-6])
    x = Scale(0.0, most, 8.0, WIDTH - 12)
    parts, y = [], 0.0
    for name, value, colour in rows:
        size = figures.miss_words(value)
        kept = shortened(name, WIDTH - 24 - width_of(size))
        parts.append(words(8, y + 14, kept))
        parts.append(words(WIDTH - 8, y + 14, size, "end"))
        parts.append(bar(8, y + 19, x.at(value) - 8, 9, colour))
        y += ROW
    parts.append(line([x.start, x.end], [y, y], FAINT))
    at = [tick for tick in ticks(0.0, most, 5) if x.at(tick) < WIDTH - 16]
    parts.append(Panel(x, Scale(0, 1, y, 0)).x_ticks(at))
    parts.append(words(WIDTH / 2, y + 40, unit, "middle"))
    return picture(key, title, told, y + 48, parts)


def bought_picture(fit: Showable) -> str:
    """SVG of the typical miss as logged, then with one term more taken out at each step."""
    steps = bought_steps(fit)
    rows = [(name, value, BEFORE if k == 0 else AFTER) for k, (name, value) in enumerate(steps)]
    told = "; ".join(f"{name} {figures.miss_words(value)}" for name, value in steps)
    title = "Typical miss, term by term"
    return _rows("bought", title, f"{told}.", rows, "typical miss (′)")


def bought_steps(fit: Showable) -> list[tuple[str, float]]:
    """What is left, step by step, the order of what buys most; what buys nothing in one step."""
    pairs, logged = fit.pair_results, logged_misses(fit.pair_results)
    used = ~pairs.set_aside
    square = logged.x_arcmin[used] ** 2 + logged.y_arcmin[used] ** 2
    now = float(np.sqrt(square.mean())) if square.size else 0.0
    found = [("as logged", now)]
    for step in fit.breakdown.bought:
        if step.rms_arcmin < 0.97 * found[-1][1]:
            found.append((f"without {step.title}", step.rms_arcmin))
    if len(found) <= len(fit.breakdown.bought):
        end = min(fit.breakdown.bought[-1].rms_arcmin, found[-1][1])
        found.append(("without the rest too", end))
    return found


def influence_words(fit: Showable) -> str:
    """Which star the lean hangs on most, in one sentence; empty where that cannot be told."""
    told = fit.breakdown.influence
    if told is None or not told.line.size:
        return ""
    worst = int(np.argmax(told.size_arcmin))
    size = float(told.size_arcmin[worst])
    if size < LEAST_INFLUENCE_ARCMIN:
        return (
            "No single star carries the lean: whichever one is left out, the lean moves by no more "
            f"than {figures.miss_words(size)}."
        )
    pair = int(np.flatnonzero(fit.pair_results.line == told.line[worst])[0])
    return (
        f"The lean hangs most on {line_and_name(fit, pair)}: without it the lean moves by "
        f"{figures.miss_words(size)}."
    )


def influence_matters(fit: Showable) -> bool:
    """Whether some star moves the lean enough to be drawn."""
    told = fit.breakdown.influence
    return told is not None and bool(np.any(told.size_arcmin >= LEAST_INFLUENCE_ARCMIN))


def influence_picture(fit: Showable) -> str:
    """SVG of how far the lean moves when each of the stars that move it most is left out."""
    told = fit.breakdown.influence
    assert told is not None
    order = np.argsort(-told.size_arcmin, kind="stable")[:MOST_STARS]
    rows = []
    for k in order:
        pair = int(np.flatnonzero(fit.pair_results.line == told.line[k])[0])
        rows.append((line_and_name(fit, pair), float(told.size_arcmin[k]), AFTER))
    words_ = f"{influence_words(fit)} Shown are the {len(rows)} that move it most."
    title = "How far the lean moves when a star is left out"
    return _rows("influence", title, words_, rows, "the lean moves by (′)")
