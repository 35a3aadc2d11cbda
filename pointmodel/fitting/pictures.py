"""What the model leaves as SVG: in the order of time, by height, by direction, by last motion.

Read `marked.py` for what all pictures of pairs share, `showing/panels.py` for axes. Pictures format
what the fit holds; nothing is worked out but places on paper.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from pointmodel.base import figures
from pointmodel.base.arrays import FloatArray
from pointmodel.base.times import fixed_zone
from pointmodel.fitting import words as fitwords
from pointmodel.fitting.marked import (
    MANY_PAIRS,
    events_between,
    key_line,
    line_and_name,
    name_of,
    part_marks,
    set_aside_words,
    worst_first,
)
from pointmodel.fitting.showable import Showable
from pointmodel.showing.drawing import (
    AFTER,
    ASIDE,
    BEFORE,
    FAINT,
    TEXT,
    WIDTH,
    labels,
    line,
    marks,
    picture,
    shortened,
    strokes,
    width_of,
    words,
)
from pointmodel.showing.panels import Panel, Scale, ticks

Against = Literal["time", "altitude", "azimuth"]

LEFT, RIGHT, PANEL_HEIGHT = 44.0, WIDTH - 16.0, 108.0
COMPASS_TICKS = {0: "N", 90: "E", 180: "S", 270: "W", 360: "N"}
STEPS_S = (300, 600, 900, 1800, 3600, 7200, 14400)


@dataclass(frozen=True)
class Along:
    """What runs along the foot of a picture: a place (n,) of each pair, ends, ticks, title."""

    place: FloatArray
    low: float
    high: float
    ticks: list[float]
    told: Callable[[float], str]
    title: str


def along(fit: Showable, against: Against) -> Along:
    """Return what runs along the foot; the order of lines where not every pair has its time."""
    pairs = fit.pair_results
    if against == "altitude":
        return Along(
            place=pairs.star_alt_deg,
            low=0.0,
            high=90.0,
            ticks=[0, 15, 30, 45, 60, 75, 90],
            told=_degrees,
            title="height of the star",
        )
    if against == "azimuth":
        return Along(
            place=np.mod(pairs.star_az_deg, 360.0),
            low=0.0,
            high=360.0,
            ticks=list(COMPASS_TICKS),
            told=lambda az: COMPASS_TICKS[int(az)],
            title="direction of the star",
        )
    if pairs.line.size > 1 and np.isfinite(fit.log.time_s).all() and np.ptp(fit.log.time_s) > 0:
        return _by_clock(fit)
    count = len(pairs.line)
    return Along(
        place=np.arange(1.0, count + 1.0),
        low=0.4,
        high=count + 0.6,
        ticks=[tick for tick in ticks(0.5, count + 0.5, 6) if tick == round(tick)],
        told=lambda k: f"{k:.0f}",
        title="pairs in the log's order",
    )


def _degrees(value: float) -> str:
    return f"{value:.0f}°"


def _by_clock(fit: Showable) -> Along:
    """Pairs by the moment of centring, the clock of the log's own zone along the foot."""
    time_s = fit.log.time_s
    zone = fit.log.mount.zone or fixed_zone(fit.log.time_offset_s or 0.0)
    first, last = float(time_s.min()), float(time_s.max())
    step = next((s for s in STEPS_S if (last - first) / s <= 5.0), 86400)
    offset = datetime.fromtimestamp(first, zone).utcoffset()
    shift = 0.0 if offset is None else offset.total_seconds()
    at = np.arange(np.ceil((first + shift) / step), np.floor((last + shift) / step) + 1) * step
    spare = 0.03 * (last - first)
    return Along(
        place=time_s,
        low=first - spare,
        high=last + spare,
        ticks=(at - shift).tolist(),
        told=lambda t: f"{datetime.fromtimestamp(t, zone):%H:%M}",
        title="time by the log's clock" if np.ptp(time_s) < 86400 else "time",
    )


def residual_picture(fit: Showable, against: Against) -> str:
    """SVG of what the model leaves, across and in height, one panel each.

    A bar about zero shows where each pair should lie 19 times in 20. Pairs set aside are crosses;
    one that lies beyond the picture is a triangle at its edge. In the order of time slips and
    drifts are put back and drawn as a line, and what happened between pairs is marked.
    """
    pairs, foot = fit.pair_results, along(fit, against)
    put_back = fit.breakdown.steps if against == "time" else np.zeros((len(pairs.line), 2))
    sides = (
        ("across, to the right (′)", pairs.residual_x_arcmin, pairs.band_x_arcmin),
        ("in height, upward (′)", pairs.residual_y_arcmin, pairs.band_y_arcmin),
    )
    parts, top = [], TEXT + 4
    happened = events_between(fit) if against == "time" else []
    if happened:
        told, tall = _event_words(fit, foot, happened)
        parts.append(told)
        top += tall
    for row, (title, residual, band) in enumerate(sides):
        drawn = put_back[:, row]
        shown = residual + drawn
        limit = _limit(fit, shown, np.abs(drawn) + band)
        panel = Panel(
            Scale(foot.low, foot.high, LEFT, RIGHT),
            Scale(-limit, limit, top + 8 + PANEL_HEIGHT, top + 8),
        )
        parts.append(words(4, top, title))
        parts.append(_panel(fit, panel, foot.place, (shown, drawn, band), happened))
        top += PANEL_HEIGHT + 32
        if row == 1:
            parts.append(panel.x_ticks(foot.ticks, foot.told))
    parts.append(words((LEFT + RIGHT) / 2, top + 12, foot.title, "middle"))
    key, more = key_line(fit, top + 34)
    title = {"time": "in the order of time"}.get(against, f"against {against}")
    return picture(
        f"residuals-{against}",
        f"What the model leaves, {title}",
        _told(fit, [told for _, told in happened]),
        top + 18 + more,
        [*parts, key],
    )


def _limit(fit: Showable, shown: FloatArray, reach: FloatArray) -> float:
    used = ~fit.pair_results.set_aside
    sizes = np.concatenate((np.abs(shown[used]), reach))
    return 1.12 * float(np.max(sizes, where=np.isfinite(sizes), initial=0.1))


def _panel(
    fit: Showable,
    panel: Panel,
    place: FloatArray,
    sides: tuple[FloatArray, FloatArray, FloatArray],
    happened: list[tuple[int, str]],
) -> str:
    shown, drawn, band = sides
    limit = panel.y.high
    x, y = panel.x.place(place), panel.y.place(np.clip(shown, -limit, limit))
    parts = [panel.frame(), panel.y_ticks(ticks(-limit, limit, 5))]
    zero = panel.y.at(0.0)
    parts.append(line([LEFT, RIGHT], [zero, zero], FAINT, 0.8))
    parts.append(_band(fit, panel, x, drawn, band))
    if np.any(drawn):
        order = np.argsort(place, kind="stable")
        parts.append(line(x[order], panel.y.place(drawn[order]), BEFORE, 1.6, dashes="5 3"))
    for k, _ in happened:
        edge = _between(x, k)
        parts.append(line([edge, edge], [panel.y.end, panel.y.start], BEFORE, 1.2, dashes="4 3"))
    used = ~fit.pair_results.set_aside
    parts.append(part_marks(fit, x, y, used))
    parts.append(_aside(fit, x, y, shown, limit))
    return "".join([*parts, _named(fit, panel, x, y, shown / np.maximum(band, 1e-9))])


def _band(fit: Showable, panel: Panel, x: FloatArray, middle: FloatArray, band: FloatArray) -> str:
    """Where each pair should lie 19 times in 20: a bar a pair, two lines where there are many."""
    limit = panel.y.high
    half = np.where(np.isfinite(band), band, limit)
    low, high = (panel.y.place(np.clip(middle + s * half, -limit, limit)) for s in (-1, 1))
    if x.size < MANY_PAIRS:
        return f'<g opacity=".35">{strokes(x, low, x, high, colour=FAINT, width=6)}</g>'
    usual = float(np.median(half))
    edges = [panel.y.at(s * min(usual, limit)) for s in (-1, 1)]
    return "".join(line([LEFT, RIGHT], [edge, edge], FAINT, 1, dashes="2 3") for edge in edges)


def _aside(fit: Showable, x: FloatArray, y: FloatArray, shown: FloatArray, limit: float) -> str:
    aside = fit.pair_results.set_aside
    near = aside & (np.abs(shown) <= limit)
    parts = [marks(x[near], y[near], "cross", ASIDE, 9.0)]
    for mark, far in (("up", aside & (shown > limit)), ("down", aside & (shown < -limit))):
        parts.append(marks(x[far], y[far], "up" if mark == "up" else "down", ASIDE, 9.0))
    return "".join(parts)


def _named(fit: Showable, panel: Panel, x: FloatArray, y: FloatArray, misfit: FloatArray) -> str:
    """The two worst of the pairs used by name, and every line that is set aside."""
    aside = np.flatnonzero(fit.pair_results.set_aside)[:4]
    named = [*aside, *worst_first(np.abs(misfit), ~fit.pair_results.set_aside, 2)]
    box = (LEFT, panel.y.end - 6, WIDTH - 2, panel.y.start)
    places = [(float(x[k]), float(y[k])) for k in named]
    return labels(places, [_name_or_line(fit, int(k)) for k in named], box)


def _name_or_line(fit: Showable, pair: int) -> str:
    pairs = fit.pair_results
    if not pairs.set_aside[pair]:
        return name_of(fit, pair)
    size = float(np.hypot(pairs.residual_x_arcmin[pair], pairs.residual_y_arcmin[pair]))
    return f"line {pairs.line[pair]}: {figures.miss_words(size)}"


def _between(x: FloatArray, pair: int) -> float:
    return float(x[pair] if pair == 0 else (x[pair - 1] + x[pair]) / 2)


def _event_words(fit: Showable, foot: Along, happened: list[tuple[int, str]]) -> tuple[str, float]:
    """What happened, over its place: a row of words each, and how tall they are together."""
    x = Scale(foot.low, foot.high, LEFT, RIGHT).place(foot.place)
    parts = []
    for row, (k, told) in enumerate(happened[:4]):
        edge, text = _between(x, k), shortened(told, WIDTH - 20)
        half = width_of(text) / 2
        parts.append(
            words(float(np.clip(edge, 4 + half, WIDTH - 4 - half)), TEXT + 17 * row, text, "middle")
        )
    return "".join(parts), 17.0 * min(len(happened), 4)


def _told(fit: Showable, happened: list[str]) -> str:
    pairs = fit.pair_results
    size = np.hypot(pairs.residual_x_arcmin, pairs.residual_y_arcmin)
    told = fitwords.cured_words(fit)
    worst = worst_first(size, ~pairs.set_aside, 1)
    if worst.size:
        k = int(worst[0])
        told += f" The worst is {line_and_name(fit, k)}, {figures.miss_words(float(size[k]))}."
    if happened:
        told += f" Between pairs: {', '.join(happened)}."
    return told + set_aside_words(fit)


@dataclass(frozen=True)
class MotionSide:
    """Residuals of one axis by the last motion of its centring: words and values for both ways."""

    title: str
    ways: tuple[tuple[str, FloatArray], tuple[str, FloatArray]]

    @property
    def gap_arcmin(self) -> float:
        """By how much the means of both ways differ."""
        return float(self.ways[0][1].mean() - self.ways[1][1].mean())

    @property
    def error_arcmin(self) -> float:
        """The standard error of that difference."""
        return float(np.hypot(*(one.std(ddof=1) / np.sqrt(one.size) for _, one in self.ways)))


def motion_sides(fit: Showable) -> list[MotionSide]:
    """Return the axes on which both last motions were logged, twice each at least."""
    pairs, used = fit.pair_results, ~fit.pair_results.set_aside
    sides = (
        ("azimuth axis", fit.log.az_motion, pairs.residual_x_arcmin, 0, ("clockwise", "counter")),
        ("altitude axis", fit.log.alt_motion, pairs.residual_y_arcmin, 1, ("up", "down")),
    )
    found = []
    for title, motion, residual, axis, told in sides:
        value = residual + fit.breakdown.slack[:, axis]
        one, other = (value[used & (motion == way)] for way in (1.0, -1.0))
        if min(one.size, other.size) >= 2:
            found.append(MotionSide(title, ((told[0], one), (told[1], other))))
    return found


def slack_picture(fit: Showable, sides: list[MotionSide]) -> str:
    """SVG of what is left by last motion: a row of dots each way, its mean as a stroke."""
    values = np.concatenate([value for side in sides for _, value in side.ways])
    limit = 1.1 * max(float(np.abs(values).max()), 0.1)
    x = Scale(-limit, limit, 96.0, RIGHT)
    parts, y = [], TEXT
    for side in sides:
        parts.append(words(4, y, f"last motion of the {side.title}"))
        for told, value in side.ways:
            y += 24
            parts.append(words(88, y + 0.35 * TEXT, told, "end"))
            parts.append(line([x.start, x.end], [y, y], FAINT, 0.8))
            parts.append(marks(x.place(value), np.full(value.size, y), "dot", AFTER, 6))
            mean = x.at(float(value.mean()))
            parts.append(line([mean, mean], [y - 10, y + 10], BEFORE, 2.5))
        y += 30
    panel = Panel(x, Scale(0, 1, y - 12, 0))
    parts.append(line([x.start, x.end], [y - 12, y - 12], FAINT))
    parts.append(panel.x_ticks(ticks(-limit, limit, 5)))
    parts.append(words((x.start + x.end) / 2, y + 28, "left over (′)", "middle"))
    told = "; ".join(slack_words(side) for side in sides)
    return picture("slack", "Left over by last motion", f"{told}.", y + 36, parts)


def slack_words(side: MotionSide) -> str:
    """How far the two ways of approaching differ, in words."""
    gap, error = figures.miss_words(abs(side.gap_arcmin)), figures.miss_words(side.error_arcmin)
    return f"{side.title}: {gap} between the two ways (give or take {error})"
