"""The pictures of a fit as SVG text: misses left, terms, and what go-tos will do after each remedy.

Read `showing/svg.py` for colours and clean-up, `showing/skymaps.py` for the pictures of the dome.
Pictures format what the fit holds; the drawing library is imported only when one is asked for. All
are drawn for a telephone's width first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from pointmodel.base import figures
from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.results import TermEstimate
from pointmodel.fitting import words
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.skymaps import sky_forecast_picture, sky_picture
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.showing.svg import (
    AFTER,
    ASIDE,
    BEFORE,
    FAINT,
    INK,
    SMALL,
    TEXT,
    WIDTH_IN,
    drawing,
    new_figure,
    svg_text,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "forecast_picture",
    "residual_picture",
    "sky_forecast_picture",
    "sky_picture",
    "terms_picture",
]

Against = Literal["altitude", "azimuth"]

ROW_IN = 0.45
OFF_SCALE = 5.0
UNIT_TITLE = {
    "arcmin": "arcminutes",
    "arcmin/deg": "arcminutes a degree",
    "arcmin/h": "arcminutes an hour",
    "1": "parts of the refraction",
}
MISS_TICKS_ARCMIN = {0.1: "6″", 1: "1′", 10: "10′", 60: "1°", 600: "10°", 6000: "100°"}


def residual_picture(fit: Showable, against: Against) -> str:
    """SVG of what the model leaves, across and in height, against the star's altitude or azimuth.

    A bar about zero shows where each pair should lie 19 times in 20. Pairs set aside are crosses;
    one that lies beyond the picture is a triangle at its edge.
    """
    pairs = fit.pair_results
    place = pairs.star_alt_deg if against == "altitude" else pairs.star_az_deg
    sides = (
        ("across, positive to the right", pairs.residual_x_arcmin, pairs.band_x_arcmin),
        ("in height, positive upward", pairs.residual_y_arcmin, pairs.band_y_arcmin),
    )
    with drawing():
        figure = new_figure(WIDTH_IN, 4.3)
        for row, (label, residual, band) in enumerate(sides):
            axes = figure.add_axes((0.09, 0.58 - 0.46 * row, 0.875, 0.34))
            axes.set_title(f"{label}, arcminutes", loc="left", fontsize=TEXT)
            _residual_panel(axes, fit, place, residual, band)
            _place_axis(axes, against, last=row == 1)
        return svg_text(
            figure,
            f"residuals-{against}",
            f"What the model leaves, against {against}",
            f"{words.cured_words(fit)} {len(fit.set_aside)} pairs are set aside.",
        )


def terms_picture(fit: Showable) -> str:
    """SVG of the terms with their 95 % intervals, one panel a unit."""
    units = [u for u in UNIT_TITLE if any(t.unit == u for t in fit.term_estimates)]
    groups = {u: [t for t in fit.term_estimates if t.unit == u] for u in units}
    height = sum(len(group) * ROW_IN + 0.62 for group in groups.values()) or 1.0
    with drawing():
        figure = new_figure(WIDTH_IN, height)
        top = height
        for unit, group in groups.items():
            tall = len(group) * ROW_IN
            box = (0.03, (top - tall - 0.08) / height, 0.94, tall / height)
            _terms_panel(figure, box, group, UNIT_TITLE[unit])
            top -= tall + 0.62
        told = "; ".join(
            f"{words.term_title(t)} {words.value_words(t)} ({words.term_range_words(t)})"
            for t in fit.term_estimates
        )
        return svg_text(figure, "terms", "The terms with their 95 % ranges", f"{told}.")


def forecast_picture(fit: Showable) -> str:
    """SVG of how far go-tos will miss after each remedy, the part inside the eyepiece filled."""
    shown = [f for f in fit.forecasts if np.isfinite(f.sample_arcmin).any()]
    field = fit.log.mount.optics.field_of_view_arcmin
    height = 0.62 * max(len(shown), 1) + 0.75
    with drawing():
        figure = new_figure(WIDTH_IN, height)
        axes = figure.add_axes((0.03, 0.3 / height, 0.94, 1 - 0.6 / height))
        low, high = _miss_limits(shown)
        axes.set(xlim=(low, high), ylim=(-len(shown) + 0.02, 0.12), xscale="log", yticks=[])
        axes.spines["left"].set_visible(False)
        axes.minorticks_off()
        ticks = [tick for tick in MISS_TICKS_ARCMIN if low <= tick <= high]
        axes.set_xticks(ticks, [MISS_TICKS_ARCMIN[tick] for tick in ticks])
        for row, forecast in enumerate(shown):
            _ridge(axes, -row - 0.9, forecast, field, (low, high))
        if field is not None and low < field / 2 < high:
            feet = -0.9 - np.arange(len(shown))
            axes.vlines(
                np.full_like(feet, field / 2),
                feet - 0.06,
                feet + 0.6,
                color=INK,
                lw=1,
                ls=(0, (4, 2)),
            )
            edge = f"Dashed: the edge of the eyepiece's field, {figures.miss_words(field / 2)} out"
            axes.text(low, 0.2, edge, va="bottom", fontsize=SMALL)
        return svg_text(figure, "forecast", "How far go-tos will miss", _forecast_words(shown))


def _residual_panel(
    axes: Axes, fit: Showable, place: FloatArray, residual: FloatArray, band: FloatArray
) -> None:
    aside = fit.pair_results.set_aside
    reach = np.concatenate((np.abs(residual[~aside]), np.abs(band)))
    limit = 1.12 * float(np.max(reach, where=np.isfinite(reach), initial=0.1))
    axes.set_ylim(-limit, limit)
    axes.axhline(0, color=FAINT, lw=0.8)
    bar = np.where(np.isfinite(band), band, limit)
    axes.vlines(place, -bar, bar, color=FAINT, lw=5, alpha=0.4)
    axes.plot(place[~aside], residual[~aside], "o", color=AFTER, ms=4.5)
    near = aside & (np.abs(residual) < limit)
    axes.plot(place[near], residual[near], "X", color=ASIDE, ms=7)
    for k in np.flatnonzero(aside & ~near):
        up = residual[k] > 0
        edge = 0.9 * limit if up else -0.9 * limit
        axes.plot(place[k], edge, "^" if up else "v", color=ASIDE, ms=7)
        size = figures.miss_words(abs(residual[k]))
        axes.annotate(
            f"line {fit.pair_results.line[k]}: {size}",
            (place[k], edge),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL,
        )


def _place_axis(axes: Axes, against: Against, last: bool) -> None:
    if against == "altitude":
        axes.set_xlim(0, 90)
        axes.set_xticks(range(0, 91, 15), [f"{a}°" for a in range(0, 91, 15)])
    else:
        axes.set_xlim(0, 360)
        axes.set_xticks(range(0, 361, 45), ["N", "NE", "E", "SE", "S", "SW", "W", "NW", "N"])
    if last:
        axes.set_xlabel("height of the star" if against == "altitude" else "direction of the star")


def _terms_panel(
    figure: Figure, box: tuple[float, float, float, float], group: list[TermEstimate], title: str
) -> None:
    axes = figure.add_axes(box)
    limit = _terms_limit(group)
    axes.set(xlim=(-limit, limit), ylim=(-len(group), 0), yticks=[])
    axes.set_xlabel(title, labelpad=1)
    axes.spines["left"].set_visible(False)
    for row, term in enumerate(group):
        axes.text(-limit, -row - 0.58, _term_label(term, limit), va="bottom")
        _interval(axes, -row - 0.73, term, limit)


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
    name = words.term_title(term)
    if term.status == "not_determined":
        return f"{name}: not known"
    in_degrees = f" ({figures.degrees_minutes(term.value / 60)}, off this scale)"
    shown = in_degrees if abs(term.value) > limit and term.unit == "arcmin" else ""
    return f"{name}: {words.value_words(term)}{shown}"


def _interval(axes: Axes, y: float, term: TermEstimate, limit: float) -> None:
    """The interval as a line: full where the term is known, dashed where not; arrow off scale."""
    axes.plot([0, 0], [y - 0.13, y + 0.13], color=FAINT, lw=1)
    low, high = max(term.low, -limit), min(term.high, limit)
    if low >= limit or high <= -limit:
        edge, mark = (limit, ">") if low >= limit else (-limit, "<")
        axes.plot(0.97 * edge, y, mark, color=AFTER, ms=7)
        return
    unknown = term.status == "not_determined"
    line = (0, (2, 2)) if unknown else "-"
    axes.plot([low, high], [y, y], color=BEFORE if unknown else AFTER, lw=2.2, ls=line)
    for end, edge, mark in ((low, -limit, "<"), (high, limit, ">")):
        if end == edge:
            axes.plot(0.985 * edge, y, mark, color=BEFORE, ms=5)
    if not unknown:
        fill = AFTER if term.status == "determined" else "none"
        axes.plot(term.value, y, "o", ms=6, mfc=fill, mec=AFTER, mew=1.4)


def _miss_limits(shown: list[RemedyForecast]) -> tuple[float, float]:
    """Ends of the scale of misses: all but the rarest of every remedy's, at most four decades."""
    if not shown:
        return 0.1, 100.0
    ends = np.array([np.nanpercentile(f.sample_arcmin, (1.0, 99.5)) for f in shown])
    high = max(1.2 * float(ends[:, 1].max()), 0.2)
    return max(float(ends[:, 0].min()), high / 1e4, 0.01), high


def _ridge(
    axes: Axes,
    foot: float,
    forecast: RemedyForecast,
    field: float | None,
    limits: tuple[float, float],
) -> None:
    edges = np.geomspace(*limits, 61)
    sample = np.clip(forecast.sample_arcmin, *limits)
    count, _ = np.histogram(sample[np.isfinite(sample)], edges)
    smooth = np.convolve(count, (0.25, 0.5, 0.25), "same")
    centre = np.sqrt(edges[1:] * edges[:-1])
    height = foot + 0.58 * smooth / max(smooth.max(), 1e-9)
    axes.plot(centre, height, color=BEFORE if field is not None else AFTER, lw=1.1)
    axes.axhline(foot, color=FAINT, lw=0.6)
    if field is not None:
        inside = np.append(centre[centre < field / 2], np.clip(field / 2, *limits))
        top = np.interp(inside, centre, height)
        axes.fill_between(inside, foot, top, facecolor=AFTER, alpha=0.75, lw=0)
    axes.plot(forecast.median_arcmin, foot, "|", color=INK, ms=9, mew=1.8)
    axes.text(limits[0], foot + 0.62, words.remedy_words(forecast.remedy), va="bottom")
    axes.text(limits[1], foot + 0.62, _outcome(forecast), va="bottom", ha="right")


def _outcome(forecast: RemedyForecast) -> str:
    if forecast.chance_in_field is None:
        return f"half within {figures.miss_words(forecast.median_arcmin)}"
    return f"{figures.chance_words(forecast.chance_in_field)} in the eyepiece"


def _forecast_words(shown: list[RemedyForecast]) -> str:
    told = (f"{words.remedy_words(f.remedy)}: {_outcome(f)}" for f in shown)
    return f"{'; '.join(told)}."
