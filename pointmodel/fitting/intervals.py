"""How well terms are known, as SVG: intervals, and the ellipse of two that are hard to part."""

from __future__ import annotations

import numpy as np

from pointmodel.base import figures
from pointmodel.base.compass import place_in_words
from pointmodel.estimate.results import TermEstimate
from pointmodel.fitting import words as fitwords
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.unsettled import Ridge, outline
from pointmodel.mount.terms import spoken
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    TEXT,
    WIDTH,
    circle,
    line,
    marks,
    picture,
    words,
)
from pointmodel.showing.panels import Panel, Scale, ticks

OFF_SCALE = 5.0
ROW = 36.0
UNIT_TITLE = {
    "arcmin": "arcminutes",
    "arcmin/deg": "arcminutes a degree",
    "arcmin/h": "arcminutes an hour",
    "1": "parts of the refraction",
}


def terms_picture(fit: Showable) -> str:
    """SVG of the terms with their 95 % intervals, one panel a unit."""
    parts, top = [], 0.0
    for unit, title in UNIT_TITLE.items():
        group = [t for t in fit.term_estimates if t.unit == unit]
        if group:
            drawn, tall = _terms_panel(group, top, title)
            parts.append(drawn)
            top += tall
    told = "; ".join(
        f"{fitwords.term_title(t)} {fitwords.value_words(t)} ({fitwords.term_range_words(t)})"
        for t in fit.term_estimates
    )
    return picture("terms", "The terms with their 95 % ranges", f"{told}.", top + 4, parts)


def _terms_panel(group: list[TermEstimate], top: float, title: str) -> tuple[str, float]:
    limit = _terms_limit(group)
    x = Scale(-limit, limit, 10.0, WIDTH - 10)
    parts = []
    foot = top + ROW * len(group) + 6
    zero = x.at(0.0)
    parts.append(line([zero, zero], [top + 16, foot], FAINT, 0.8))
    for row, term in enumerate(group):
        y = top + ROW * row
        parts.append(words(10, y + TEXT, _term_label(term, limit), halo=True))
        parts.append(_interval(x, y + TEXT + 12, term))
    parts.append(line([x.start, x.end], [foot, foot], FAINT))
    parts.append(Panel(x, Scale(0, 1, foot, 0)).x_ticks(ticks(-limit, limit, 5)))
    parts.append(words(WIDTH / 2, foot + 40, title, "middle"))
    return "".join(parts), foot + 48 - top


def _terms_limit(group: list[TermEstimate]) -> float:
    """Half-width of the panel: all that is known fits, but for one term that dwarfs the others."""
    known = sorted(_reach(t) for t in group if t.status != "not_determined")
    unknown = [_reach(t) for t in group if t.status == "not_determined"]
    if len(known) > 1 and known[-1] > OFF_SCALE * known[-2]:
        known.pop()
    needed = known[-1] if known else max(unknown, default=0.0)
    return 1.05 * max(needed, min(max(unknown, default=0.0), 3 * needed), 1e-3)


def _reach(term: TermEstimate) -> float:
    ends = np.abs([term.low, term.high])
    return float(np.max(ends, where=np.isfinite(ends), initial=0.0))


def _term_label(term: TermEstimate, limit: float) -> str:
    name = fitwords.term_title(term)
    if term.status == "not_determined":
        return f"{name}: not known"
    if abs(term.value) > limit and term.unit == "arcmin":
        return f"{name}: {figures.degrees_minutes(term.value / 60)} (off this scale)"
    return f"{name}: {fitwords.value_words(term)}"


def _interval(x: Scale, y: float, term: TermEstimate) -> str:
    """The interval as a line: full where the term is known, dashed where not; arrow off scale."""
    limit, start, end = x.high, x.start, x.end
    low, high = max(term.low, -limit), min(term.high, limit)
    if not (np.isfinite(low) and np.isfinite(high)) or low >= limit or high <= -limit:
        return _pointer(end if term.value > 0 else start, y, 1 if term.value > 0 else -1, AFTER)
    unknown = term.status == "not_determined"
    colour = BEFORE if unknown else AFTER
    places = [x.at(low), x.at(high)]
    parts = [line(places, [y, y], colour, 2.6, dashes="3 3" if unknown else "")]
    for value, edge, way in ((low, -limit, -1), (high, limit, 1)):
        if value == edge:
            parts.append(_pointer(x.at(edge), y, way, BEFORE))
    if not unknown and abs(term.value) <= limit:
        at = x.at(term.value)
        if term.status == "determined":
            parts.append(marks(np.array([at]), np.array([y]), "dot", AFTER, 8))
        else:
            parts.append(circle(at, y, 4.2, AFTER))
    return "".join(parts)


def _pointer(x: float, y: float, way: int, colour: str) -> str:
    """A small arrow head at the end of a scale."""
    tail = x - 7 * way
    return line([tail, x, tail], [y - 5, y, y + 5], colour, 2)


def ridge_words(ridge: Ridge) -> str:
    """What the ellipse shows, in words with figures."""
    now, after = (2.0 * np.sqrt(np.diag(c)) for c in (ridge.now, ridge.after))
    first, second = (spoken(name) for name in ridge.names)
    return (
        f"These stars leave {first} open by ± {figures.miss_words(float(now[0]))} and {second} by "
        f"± {figures.miss_words(float(now[1]))}, but tie them together. One more star "
        f"{place_in_words(*ridge.star_deg)} would leave ± {figures.miss_words(float(after[0]))} "
        f"and ± {figures.miss_words(float(after[1]))}."
    )


def ridge_picture(ridge: Ridge) -> str:
    """SVG of the ellipse that holds two terms 19 times in 20, now and after one more star."""
    now, after = (outline(ridge.centre, c) for c in (ridge.now, ridge.after))
    low, high = now.min(axis=0), now.max(axis=0)
    spare = 0.06 * (high - low) + 1e-6
    x = Scale(float(low[0] - spare[0]), float(high[0] + spare[0]), 58.0, WIDTH - 12)
    y = Scale(float(low[1] - spare[1]), float(high[1] + spare[1]), 214.0, 26.0)
    panel = Panel(x, y)
    first, second = (spoken(name) for name in ridge.names)
    centre = (x.place(ridge.centre[:1]), y.place(ridge.centre[1:]))
    parts = [
        words(8, TEXT, f"{second} (′)"),
        panel.frame(),
        panel.x_ticks(ticks(x.low, x.high, 5)),
        panel.y_ticks(ticks(y.low, y.high, 5)),
        line(x.place(now[:, 0]), y.place(now[:, 1]), BEFORE, 2.2, closed=True),
        line(x.place(after[:, 0]), y.place(after[:, 1]), AFTER, 2.2, dashes="5 3", closed=True),
        marks(*centre, "dot", AFTER, 7),
        words(WIDTH / 2 + 20, 252, f"{first} (′)", "middle"),
        line([10, 34], [272, 272], BEFORE, 2.2),
        words(40, 276, "now"),
        line([90, 114], [272, 272], AFTER, 2.2, dashes="5 3"),
        words(120, 276, "with one more star"),
    ]
    title = f"What these stars know of {first} and {second}"
    return picture("ridge", title, ridge_words(ridge), 284.0, parts)
