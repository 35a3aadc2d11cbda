"""How far go-tos will miss after each remedy, as SVG: a hill each, its part in view filled."""

from __future__ import annotations

import numpy as np

from pointmodel.base import figures
from pointmodel.base.arrays import FloatArray
from pointmodel.fitting import words as fitwords
from pointmodel.fitting.prepared import drawn_forecasts, hill, miss_limits
from pointmodel.fitting.showable import Showable
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    INK,
    TEXT,
    WIDTH,
    line,
    picture,
    width_of,
    words,
)
from pointmodel.showing.panels import Panel, Scale

MISS_TICKS_ARCMIN = {0.1: "6″", 1: "1′", 10: "10′", 60: "1°", 600: "10°", 6000: "100°"}
ROW, HILL = 56.0, 24.0
LEFT, RIGHT = 8.0, WIDTH - 10.0


def forecast_picture(fit: Showable) -> str:
    """SVG of how far go-tos will miss after each remedy, the part inside the eyepiece filled."""
    shown = drawn_forecasts(fit.forecasts)
    field = fit.log.mount.optics.field_of_view_arcmin
    low, high = miss_limits(shown)
    x = Scale(low, high, LEFT, RIGHT, logarithmic=True)
    parts, top = [], 4.0
    for forecast in shown:
        parts.append(_hill(x, top, forecast, field))
        top += ROW
    at = [tick for tick in MISS_TICKS_ARCMIN if low <= tick <= high]
    parts.append(Panel(x, Scale(0, 1, top, 0)).x_ticks(at, lambda tick: MISS_TICKS_ARCMIN[tick]))
    top += 2.4 * TEXT
    if field is not None and low < field / 2 < high:
        edge = x.at(field / 2)
        parts.append(line([edge, edge], [TEXT + 8, top - 2.4 * TEXT], INK, 1.2, dashes="4 3"))
        told = f"dashed: the eyepiece's edge, {figures.miss_words(field / 2)} out"
        parts.append(words(LEFT, top + 14, told))
        top += 20
    told = "; ".join(f"{_name(f)}: {_outcome(f)}" for f in shown)
    return picture("forecast", "How far go-tos will miss", f"{told}.", top + 6, parts)


def _name(forecast: RemedyForecast) -> str:
    return fitwords.remedy_words(forecast.remedy)


def _hill(x: Scale, top: float, forecast: RemedyForecast, field: float | None) -> str:
    foot = top + ROW - 8
    centre, often = hill(forecast.sample_arcmin, (x.low, x.high))
    height = foot - HILL * often
    parts = [] if field is None else [_filled(x, (centre, height), foot, field)]
    parts.append(line(x.place(centre), height, BEFORE if field is not None else AFTER, 1.3))
    parts.append(line([LEFT, RIGHT], [foot, foot], FAINT, 0.7))
    middle = x.at(float(np.clip(forecast.median_arcmin, x.low, x.high)))
    parts.append(line([middle, middle], [foot - 6, foot + 6], INK, 2.2))
    name, outcome = _name(forecast), _outcome(forecast)
    parts.append(words(LEFT, top + TEXT, name))
    # a line of its own where both do not fit beside one another
    below = width_of(name) + width_of(outcome) > RIGHT - LEFT
    parts.append(words(RIGHT, top + TEXT * (2.2 if below else 1), outcome, "end", halo=True))
    return "".join(parts)


def _filled(x: Scale, hill: tuple[FloatArray, FloatArray], foot: float, field: float) -> str:
    centre, height = hill
    edge = float(np.clip(field / 2, x.low, x.high))
    inside = np.append(centre[centre < field / 2], edge)
    if inside.size < 2:
        return ""
    top = np.interp(inside, centre, height)
    across = np.concatenate([[inside[0]], inside, [inside[-1]]])
    y = np.concatenate([[foot], top, [foot]])
    return f'<g opacity=".75">{line(x.place(across), y, "none", closed=True, fill=AFTER)}</g>'


def _outcome(forecast: RemedyForecast) -> str:
    if forecast.chance_in_field is None:
        return f"half within {figures.miss_words(forecast.median_arcmin)}"
    return f"{figures.chance_words(forecast.chance_in_field)} in view"
