"""The pictures of a comparison: small panels, one a term, nights from left to right.

Read `svg.py` first. All panels have the same width and the same nights at the same places, so they
can be read against each other. Of many nights only points are drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing import changewords as comparechanges
from pointmodel.comparing import tables as comparewords
from pointmodel.fitting.hills import MISS_TICKS_ARCMIN
from pointmodel.showing.svg import AFTER, BEFORE, FAINT, INK, SMALL, drawing, new_figure, svg_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import Change, ComparedTerm

WIDTH_IN, HEIGHT_IN = 4.0, 2.0
PLOT = (0.13, 0.2, 0.78, 0.64)
MOST_LABELS, MOST_LONG_LABELS = 6, 4
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
    with drawing():
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
    figure, axes = _panel(result, "degrees" if degrees else "arcminutes")
    axes.set_ylim(bottom, top)
    if bottom < 0 < top:
        axes.axhline(0, color=FAINT, lw=0.8)
    changes = comparechanges.changes_of(result, term)
    if term.kind in ("mount", "changed"):
        _band(axes, result, term, changes, unit)
    _change_marks(axes, result, changes)
    if value.size <= comparewords.MOST_NIGHTS_IN_WORDS:
        _strokes(axes, np.maximum(low, bottom), np.minimum(high, top), AFTER, 1.6)
        _arrows(axes, low < bottom, bottom, "v")
        _arrows(axes, high > top, top, "^")
    _dots(axes, value)
    title = f"{comparewords.TITLE[term.name]} over the nights"
    told = f"{comparewords.kind_words(term)}. {comparechanges.term_words(result, term)}"
    return svg_text(figure, f"term-{term.name.replace('_', '-')}", title, told)


def _misses_panel(result: CompareResult) -> str:
    before, after = (
        np.maximum(
            [getattr(night, f"{when}_rms_arcmin") for night in result.nights], LEAST_MISS_ARCMIN
        )
        for when in ("logged", "after")
    )
    figure, axes = _panel(result, "a typical miss, as logged and left")
    axes.set_yscale("log")
    axes.minorticks_off()
    least, most = _ends(before, after)
    low, high = 0.6 * max(least, LEAST_MISS_ARCMIN), 1.7 * most
    axes.set_ylim(low, high)
    ticks = [tick for tick in MISS_TICKS_ARCMIN if low <= tick <= high]
    axes.set_yticks(ticks, [MISS_TICKS_ARCMIN[tick] for tick in ticks])
    _change_marks(axes, result, result.changes)
    if before.size <= comparewords.MOST_NIGHTS_IN_WORDS:
        _strokes(axes, np.minimum(before, after), np.maximum(before, after), FAINT, 1.0)
        axes.plot(_places(before), before, "s", ms=5, mfc="none", mec=BEFORE, mew=1.4)
    else:
        _many_dots(axes, before, BEFORE)
    _dots(axes, after)
    told = comparewords.misses_words(result)
    return svg_text(figure, "misses", "Misses before and after the fit, by night", told)


def _noise_panel(result: CompareResult) -> str:
    noise = np.array([night.sigma_arcmin for night in result.nights])
    figure, axes = _panel(result, "how far one centring is off, arcminutes")
    axes.set_ylim(0, 1.25 * _ends(noise)[1])
    _dots(axes, noise)
    return svg_text(figure, "noise", "Noise by night", comparewords.noise_words(result))


def _panel(result: CompareResult, title: str) -> tuple[Figure, Axes]:
    """An empty panel with the nights along its foot."""
    figure = new_figure(WIDTH_IN, HEIGHT_IN)
    axes = figure.add_axes(PLOT)
    axes.set_title(title, loc="left", fontsize=SMALL, pad=7)
    count = len(result.nights)
    axes.set_xlim(0.4, count + 0.6)
    places, labels = _night_labels(result)
    axes.set_xticks(places, labels, fontsize=SMALL)
    axes.yaxis.set_major_locator(_ticks())
    axes.yaxis.set_major_formatter(_figures())
    axes.tick_params(axis="y", labelsize=SMALL)
    return figure, axes


def _ticks() -> Any:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(5, steps=[1, 2, 5, 10])


def _figures() -> Any:
    from matplotlib.ticker import FuncFormatter

    return FuncFormatter(lambda value, _: f"{value:g}".replace("-", "−"))


def _night_labels(result: CompareResult) -> tuple[list[int], list[str]]:
    """Some nights' numbers with the dates below: the first, the last and some between."""
    count = len(result.nights)
    years = {night.start[:4] for night in result.nights if night.start}
    most = min(count, MOST_LABELS if len(years) < 2 else MOST_LONG_LABELS)
    places = np.unique(np.linspace(1, count, most).round().astype(int))
    days = [
        comparewords.day_words(result.nights[place - 1].start, len(years) < 2) for place in places
    ]
    labels = [f"{place}\n{day}".strip() for place, day in zip(places, days, strict=True)]
    return places.tolist(), labels


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


def _places(value: FloatArray) -> FloatArray:
    return np.arange(1.0, value.size + 1.0)


def _dots(axes: Axes, value: FloatArray) -> None:
    if value.size <= comparewords.MOST_NIGHTS_IN_WORDS:
        axes.plot(_places(value), value, "o", color=AFTER, ms=5)
        return
    _many_dots(axes, value, AFTER)


def _many_dots(axes: Axes, value: FloatArray, colour: str) -> None:
    """Dots as one path of strokes next to nothing long, with round ends.

    A thousand markers would be a thousand elements of the page.
    """
    bottom, top = axes.get_ylim()
    tiny = 0.01 * value if axes.get_yscale() == "log" else 0.002 * (top - bottom)
    crowded = (comparewords.MOST_NIGHTS_IN_WORDS / value.size) ** 0.4
    _strokes(axes, value, value + tiny, colour, max(1.8, 5.0 * crowded))


def _strokes(axes: Axes, low: FloatArray, high: FloatArray, colour: str, width: float) -> None:
    """A stroke a night from low to high, all as one path."""
    gap = np.full(low.size, np.nan)
    x = np.column_stack([_places(low), _places(low), gap]).ravel()
    y = np.column_stack([low, high, gap]).ravel()
    line = axes.plot(x, y, color=colour, lw=width, solid_capstyle="round")[0]
    line.get_path().should_simplify = False


def _arrows(axes: Axes, beyond: np.ndarray, edge: float, mark: str) -> None:
    """Arrows at the edge for bars that reach beyond it."""
    places = np.flatnonzero(beyond) + 1
    if places.size:
        axes.plot(places, np.full(places.size, edge), mark, color=BEFORE, ms=4.5, clip_on=False)


def _band(
    axes: Axes, result: CompareResult, term: ComparedTerm, changes: Sequence[Change], unit: float
) -> None:
    """What the nights share, as a line within its 95 % band; after a change, from there on."""
    start = max((_number(result, change.before) - 0.5 for change in changes), default=0.4)
    end = len(result.nights) + 0.6
    low, high = term.common.low / unit, term.common.high / unit
    axes.fill_between([start, end], low, high, facecolor=FAINT, alpha=0.25, lw=0)
    axes.plot([start, end], [term.common.value / unit] * 2, color=INK, lw=0.9, ls=(0, (1, 2)))


def _change_marks(axes: Axes, result: CompareResult, changes: Sequence[Change]) -> None:
    """A dashed line between the two nights of a change, or stripes over all it may lie in."""
    for change in changes:
        after, before = (_number(result, one) for one in (change.after, change.before))
        if before - after > 1:
            axes.axvspan(after, before, facecolor="none", edgecolor=FAINT, hatch="////", lw=0)
        axes.axvline((after + before) / 2, color=INK, lw=1.3, ls=(0, (4, 2)))


def _number(result: CompareResult, name: str) -> int:
    return [night.id for night in result.nights].index(name) + 1
