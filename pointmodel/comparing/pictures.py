"""The pictures of a comparison: small panels, one a term, nights from left to right.

Read `showing/panels.py` first. All panels have the same width and the same nights at the same
places, so they can be read against each other. Of many nights only points are drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.comparing import changewords as comparechanges
from pointmodel.comparing import tables as comparewords
from pointmodel.fitting.hills import MISS_TICKS_ARCMIN
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    INK,
    TEXT,
    WIDTH,
    line,
    marks,
    picture,
    strokes,
    words,
)
from pointmodel.showing.panels import Panel, Scale, tick_words, ticks

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import Change, ComparedTerm

LEFT, RIGHT, TOP, FOOT, HEIGHT = 50.0, WIDTH - 14.0, 24.0, 124.0, 164.0
MOST_LABELS, MOST_LONG_LABELS = 5, 3
NARROWEST_ARCMIN = 4.0
HIDDEN_BELOW = 6.0
LONGEST_BARS = 4.0
LEAST_MISS_ARCMIN = 0.01


@dataclass(frozen=True)
class Panels:
    """SVG of every term by name, of misses and noise; whether all terms share one scale."""

    terms: dict[str, str]
    misses: str
    noise: str
    same_scale: bool


def panels(result: CompareResult) -> Panels:
    """Draw all panels of a comparison.

    Terms share one scale, so that what is steady looks steady; an azimuth zero that ranges wider
    has its own, and so has a changed term whose step would be lost.
    """
    reach = {t.name: _reach(t) for t in result.terms}
    widest = max(_span(reach[name]) for name in reach if name != "azimuth_index")
    own = {
        t.name
        for t in result.terms
        if t.kind == "changed" and widest > HIDDEN_BELOW * _span(reach[t.name])
    }
    drawn = {
        t.name: _term_panel(result, t, reach[t.name], 0.0 if t.name in own else widest)
        for t in result.terms
    }
    return Panels(drawn, _misses_panel(result), _noise_panel(result), not own)


def _term_panel(
    result: CompareResult, term: ComparedTerm, reach: tuple[float, float], span: float
) -> str:
    degrees = max(map(abs, reach)) >= comparewords.IN_DEGREES_FROM_ARCMIN
    unit = 60.0 if degrees else 1.0
    value, low, high = (part / unit for part in _values(term))
    middle, half = sum(reach) / 2 / unit, 0.56 * max(span, _span(reach)) / unit
    bottom, top = middle - half, middle + half
    panel = _panel(result, Scale(bottom, top, FOOT, TOP))
    key = f"term-{term.name.replace('_', '-')}"
    parts = [_zero_line(panel)] if bottom < 0 < top else []
    changes = comparechanges.changes_of(result, term)
    if term.kind in ("mount", "changed"):
        parts.append(_band(panel, result, term, changes, unit))
    parts.append(_change_marks(panel, result, changes, key))
    if value.size <= comparewords.MOST_NIGHTS_IN_WORDS:
        ends = np.maximum(low, bottom), np.minimum(high, top)
        parts.append(_strokes(panel, *ends, colour=AFTER, width=1.8))
        parts.append(_arrows(panel, low < bottom, bottom))
        parts.append(_arrows(panel, high > top, top))
    parts.append(_dots(panel, value, AFTER))
    parts.append(panel.y_ticks(ticks(bottom, top, 5)))
    title = f"{comparewords.TITLE[term.name]} over the nights"
    told = f"{comparewords.kind_words(term)}. {comparechanges.term_words(result, term)}"
    unit_title = "degrees" if degrees else "arcminutes (′)"
    return _picture(result, panel, (key, title, told), unit_title, parts)


def _misses_panel(result: CompareResult) -> str:
    before, after = (
        np.maximum(
            [getattr(night, f"{when}_rms_arcmin") for night in result.nights], LEAST_MISS_ARCMIN
        )
        for when in ("logged", "after")
    )
    least, most = _ends(before, after)
    low, high = 0.6 * max(least, LEAST_MISS_ARCMIN), 1.7 * most
    panel = _panel(result, Scale(low, high, FOOT, TOP, logarithmic=True))
    parts = [_change_marks(panel, result, result.changes, "misses")]
    few = before.size <= comparewords.MOST_NIGHTS_IN_WORDS
    if few:
        ends = np.minimum(before, after), np.maximum(before, after)
        parts.append(_strokes(panel, *ends, colour=FAINT, width=1.0))
    parts.append(_dots(panel, before, BEFORE, square=few))
    parts.append(_dots(panel, after, AFTER))
    at = [tick for tick in MISS_TICKS_ARCMIN if low <= tick <= high]
    parts.append(panel.y_ticks(at, lambda tick: MISS_TICKS_ARCMIN[tick]))
    told = (
        "misses",
        "Misses before and after the fit, by night",
        comparewords.misses_words(result),
    )
    return _picture(result, panel, told, "a typical miss, as logged and left", parts)


def _noise_panel(result: CompareResult) -> str:
    noise = np.array([night.sigma_arcmin for night in result.nights])
    top = 1.25 * _ends(noise)[1]
    panel = _panel(result, Scale(0.0, max(top, 1e-6), FOOT, TOP))
    parts = [_dots(panel, noise, AFTER), panel.y_ticks(ticks(0.0, top, 4))]
    told = ("noise", "Noise by night", comparewords.noise_words(result))
    return _picture(result, panel, told, "how far one centring is off (′)", parts)


def _panel(result: CompareResult, y: Scale) -> Panel:
    """A panel with the nights along its foot."""
    return Panel(Scale(0.4, len(result.nights) + 0.6, LEFT, RIGHT), y)


def _picture(
    result: CompareResult, panel: Panel, told: tuple[str, str, str], title: str, parts: list[str]
) -> str:
    """The panel with its title above and some nights' numbers and dates below."""
    key, name, description = told
    places, number, day = _night_labels(result)
    below = [panel.x_ticks(places, _by_place(places, number))]
    below += [
        words(panel.x.at(place), FOOT + 5 + 2.15 * TEXT, one, "middle")
        for place, one in zip(places, day, strict=True)
    ]
    return picture(
        key, name, description, HEIGHT, [words(4, TEXT, title), panel.frame(), *parts, *below]
    )


def _by_place(places: list[float], told: list[str]) -> Callable[[float], str]:
    named = dict(zip(places, told, strict=True))
    return lambda place: named.get(place, tick_words(place))


def _night_labels(result: CompareResult) -> tuple[list[float], list[str], list[str]]:
    """Some nights' places, numbers and dates: the first, the last and some between."""
    count = len(result.nights)
    years = {night.start[:4] for night in result.nights if night.start}
    most = min(count, MOST_LABELS if len(years) < 2 else MOST_LONG_LABELS)
    places = np.unique(np.linspace(1, count, most).round().astype(int)).tolist()
    days = [
        comparewords.day_words(result.nights[place - 1].start, len(years) < 2) for place in places
    ]
    return [float(place) for place in places], [str(place) for place in places], days


def _values(term: ComparedTerm) -> tuple[FloatArray, FloatArray, FloatArray]:
    rows = np.array([(one.value, one.low, one.high) for one in term.by_night])
    return rows[:, 0], rows[:, 1], rows[:, 2]


def _reach(term: ComparedTerm) -> tuple[float, float]:
    """The lowest and highest that a panel shows: all values, and all bars but the longest."""
    value, low, high = _values(term)
    longest = LONGEST_BARS * float(np.median(high - low))
    bottom, top = _ends(np.maximum(low, value - longest), np.minimum(high, value + longest))
    spare = max(0.05 * (top - bottom), (NARROWEST_ARCMIN - (top - bottom)) / 2)
    return bottom - spare, top + spare


def _ends(*values: FloatArray) -> tuple[float, float]:
    """The least and the most of all that is finite."""
    known = np.concatenate(values)
    known = known[np.isfinite(known)]
    return (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)


def _span(reach: tuple[float, float]) -> float:
    return reach[1] - reach[0]


def _places(panel: Panel, value: FloatArray) -> FloatArray:
    return panel.x.place(np.arange(1.0, value.size + 1.0))


def _dots(panel: Panel, value: FloatArray, colour: str, *, square: bool = False) -> str:
    """A dot a night, smaller where there are many; one path in all."""
    many = comparewords.MOST_NIGHTS_IN_WORDS / max(value.size, 1)
    size = 7.0 if many >= 1.0 else max(2.2, 7.0 * many**0.4)
    known = np.isfinite(value)
    x, y = _places(panel, value)[known], panel.y.place(value[known])
    return marks(x, y, "square" if square else "dot", colour, size)


def _strokes(panel: Panel, low: FloatArray, high: FloatArray, *, colour: str, width: float) -> str:
    """A stroke a night from low to high, all as one path."""
    known = np.isfinite(low) & np.isfinite(high)
    x = _places(panel, low)[known]
    ends = panel.y.place(low[known]), panel.y.place(high[known])
    return strokes(x, ends[0], x, ends[1], colour=colour, width=width)


def _arrows(panel: Panel, beyond: BoolArray, edge: float) -> str:
    """Arrows at the edge for bars that reach beyond it."""
    places = panel.x.place(np.flatnonzero(beyond).astype(float) + 1.0)
    up = edge == panel.y.high
    return marks(places, np.full(places.size, panel.y.at(edge)), "up" if up else "down", BEFORE)


def _zero_line(panel: Panel) -> str:
    zero = panel.y.at(0.0)
    return line([LEFT, RIGHT], [zero, zero], FAINT, 0.8)


def _band(
    panel: Panel,
    result: CompareResult,
    term: ComparedTerm,
    changes: Sequence[Change],
    unit: float,
) -> str:
    """What the nights share, as a line within its 95 % band; after a change, from there on."""
    start = max((_number(result, change.before) - 0.5 for change in changes), default=0.4)
    x, end = panel.x.at(start), panel.x.end
    common = np.array([term.common.high, term.common.low, term.common.value]) / unit
    high, low, value = panel.y.place(np.clip(common, panel.y.low, panel.y.high))
    shade = f'<rect x="{x:.1f}" y="{high:.1f}" width="{end - x:.1f}" height="{low - high:.1f}" '
    shade += f'fill="{FAINT}" opacity=".25"/>'
    return shade + line([x, end], [value, value], INK, 0.9, dashes="1 2")


def _change_marks(panel: Panel, result: CompareResult, changes: Sequence[Change], key: str) -> str:
    """A dashed line between the two nights of a change, or stripes over all it may lie in."""
    parts = []
    for place, change in enumerate(changes):
        after, before = (_number(result, one) for one in (change.after, change.before))
        if before - after > 1:
            ends = panel.x.at(after), panel.x.at(before)
            parts.append(_stripes(ends, f"{key}-stripes-{place}"))
        x = panel.x.at((after + before) / 2)
        parts.append(line([x, x], [TOP, FOOT], INK, 1.4, dashes="4 3"))
    return "".join(parts)


def _stripes(ends: tuple[float, float], name: str) -> str:
    left, right = ends
    return (
        f'<defs><pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V6" stroke="{FAINT}"/></pattern></defs>'
        f'<rect x="{left:.1f}" y="{TOP:.1f}" width="{right - left:.1f}" height="{FOOT - TOP:.1f}" '
        f'fill="url(#{name})"/>'
    )


def _number(result: CompareResult, name: str) -> int:
    return [night.id for night in result.nights].index(name) + 1
