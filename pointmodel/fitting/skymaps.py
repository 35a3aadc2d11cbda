"""Two pictures of the whole sky: where go-tos missed, and how far they may miss from now on.

Read `svg.py` first. The dome is drawn as it looks to someone lying on their back, feet to the
south: north up, east left, zenith in the middle, height above the horizon in equal steps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from pointmodel.base import figures
from pointmodel.base.arrays import FloatArray
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.showing.svg import (
    AFTER,
    ASIDE,
    BEFORE,
    FAINT,
    INK,
    SMALL,
    WIDTH_IN,
    drawing,
    new_figure,
    svg_text,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Stage = Literal["before", "after"]
_Points = tuple[FloatArray, FloatArray] | tuple[list[float], list[float]]

LONGEST_ARROW_DEG = 24.0
MOST_LABELS = 10
MOST_DISCS = 150
DISC_SIZES = 12
LYING_DOWN = "Seen lying on your back: east is left, the zenith in the middle."
KEY_SIZES_ARCMIN = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 3000, 6000)


def sky_picture(fit: Showable, stage: Stage) -> str:
    """SVG of the dome with an arrow a pair: the way the telescope had to move to centre the star.

    `stage` "before": as logged; a large turn of the azimuth zero is taken out first, and the
    picture says so. "after": what is left once the fitted terms are taken out.
    """
    pairs = fit.pair_results
    if stage == "before":
        logged = logged_misses(pairs)
        x, y, turn = logged.x_arcmin, logged.y_arcmin, logged.turn_deg
        colour, what = BEFORE, "Misses as logged"
    else:
        x, y, turn = pairs.residual_x_arcmin, pairs.residual_y_arcmin, None
        colour, what = AFTER, "What is left after the corrections"
    with drawing():
        figure, axes = _dome(fit, 1 if turn is None else 2)
        longest = _arrows(axes, fit, x, y, colour)
        _arrow_key(axes, longest, colour, turn, bool(np.any(pairs.set_aside)))
        return svg_text(figure, f"sky-{stage}", what, _sky_words(fit, what, longest, turn))


def sky_forecast_picture(fit: Showable) -> str:
    """SVG of the dome with discs as wide as the miss to expect there, corrections applied."""
    sky = fit.sky_forecast
    field = fit.log.mount.optics.field_of_view_arcmin
    with drawing():
        figure, axes = _dome(fit, 1)
        kept = _spread_out(*_place(sky.az_deg, sky.alt_deg))
        sizes = sky.miss_rms_arcmin[kept]
        largest = float(np.percentile(sizes, 98)) if sizes.size else 1.0
        wide = sizes > (np.inf if field is None else field / 2)
        points = max(5.0, min(13.0, 105.0 / np.sqrt(max(kept.size, 1))))
        _discs(axes, fit, kept, sizes / max(largest, 1e-9) * points, wide)
        _disc_key(axes, largest, points, bool(wide.any()))
        low, high = (sizes.min(), sizes.max()) if sizes.size else (np.nan, np.nan)
        title = "Miss to expect over the sky, with corrections"
        told = f"The miss to expect lies between {figures.miss_range_words(low, high)} (RMS)."
        return svg_text(figure, "sky-forecast", title, told)


def _place(az_deg: FloatArray, alt_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where a direction lies on the dome: degrees from the zenith, east to the left."""
    angle = np.radians(az_deg)
    from_zenith = 90.0 - np.asarray(alt_deg)
    return -from_zenith * np.sin(angle), from_zenith * np.cos(angle)


def _dome(fit: Showable, lines_below: int) -> tuple[Figure, Axes]:
    bottom, top, side = -116.0 - 9.0 * lines_below, 102.0, 102.0
    figure = new_figure(WIDTH_IN, WIDTH_IN * (top - bottom) / (2.0 * side))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(-side, side), ylim=(bottom, top), aspect="equal")
    axes.axis("off")
    turn = np.linspace(0.0, 360.0, 181)
    for alt, style, colour in ((0.0, "-", INK), (30.0, ":", FAINT), (60.0, ":", FAINT)):
        axes.plot(*_place(turn, np.full_like(turn, alt)), style, color=colour, lw=0.9)
    for height in (30.0, 60.0):
        x, y = _place(np.array([340.0]), np.array([height]))
        axes.text(x[0], y[0], f"{height:.0f}°", fontsize=SMALL, ha="center", va="center")
    for az, name in ((0, "N"), (90, "E"), (180, "S"), (270, "W")):
        x, y = _place(np.array([az]), np.array([-6.5]))
        axes.text(x[0], y[0], name, ha="center", va="center", fontweight="bold")
    axes.plot(0, 0, "+", color=FAINT, ms=8)
    if fit.log.mount.horizon:
        _shade_horizon(axes, np.array(fit.log.mount.horizon, dtype=float), turn)
    return figure, axes


def _shade_horizon(axes: Axes, profile: FloatArray, turn: FloatArray) -> None:
    skyline = np.interp(turn, profile[:, 0], profile[:, 1], period=360.0)
    inner, outer = _place(turn, skyline), _place(turn, np.zeros_like(turn))
    ring = [np.concatenate((a, b[::-1])) for a, b in zip(inner, outer, strict=True)]
    axes.fill(*ring, facecolor=FAINT, alpha=0.22, lw=0)
    axes.plot(*inner, "--", color=FAINT, lw=0.9)


def _arrows(axes: Axes, fit: Showable, x: FloatArray, y: FloatArray, colour: str) -> float:
    """Draw the arrows of the pairs that were used, mark the others; the longest miss, arcmin."""
    pairs = fit.pair_results
    across, up = _place(pairs.star_az_deg, pairs.star_alt_deg)
    angle = np.radians(pairs.star_az_deg)
    used = ~pairs.set_aside
    longest = float(np.hypot(x, y)[used].max()) if used.any() else 1.0
    scale = LONGEST_ARROW_DEG / max(longest, 1e-6)
    step_x = scale * (-x * np.cos(angle) + y * np.sin(angle))
    step_y = scale * (-x * np.sin(angle) - y * np.cos(angle))
    axes.plot(across[used], up[used], "o", color=INK, ms=2.6)
    if used.any():
        starts, steps = (across[used], up[used]), (step_x[used], step_y[used])
        _draw_arrows(axes, starts, steps, colour)
    axes.plot(across[~used], up[~used], "X", color=ASIDE, ms=7)
    for k in np.flatnonzero(~used)[:MOST_LABELS]:
        label = f"line {pairs.line[k]}"
        side = "right" if across[k] > 40 else "left"
        shift = -5 if side == "right" else 5
        axes.text(across[k] + shift, up[k], label, ha=side, va="center", fontsize=SMALL)
    return longest


def _draw_arrows(axes: Axes, starts: _Points, steps: _Points, colour: str) -> None:
    axes.quiver(
        *starts,
        *steps,
        color=colour,
        angles="xy",
        scale_units="xy",
        scale=1,
        width=0.0065,
        headwidth=4,
    )


def _arrow_key(axes: Axes, longest: float, colour: str, turn: float | None, marked: bool) -> None:
    size = _key_sizes(longest)[-1]
    length = LONGEST_ARROW_DEG * size / max(longest, 1e-6)
    _draw_arrows(axes, ([-100.0], [-109.0]), ([length], [0.0]), colour)
    axes.text(-96 + length, -109, f"a miss of {_key_words(size)}", va="center")
    if marked:
        axes.plot(38, -109, "X", color=ASIDE, ms=7)
        axes.text(44, -109, "set aside", va="center")
    axes.text(-100, -120, LYING_DOWN, va="center", fontsize=SMALL)
    if turn is not None:
        left_out = f"The whole circle's turn of {figures.degrees_minutes(turn)} is left out."
        axes.text(-100, -129, left_out, va="center", fontsize=SMALL)


def _key_sizes(longest_arcmin: float) -> tuple[float, ...]:
    """Round sizes for a key, the largest last; at least one."""
    return tuple(s for s in KEY_SIZES_ARCMIN if s <= longest_arcmin) or KEY_SIZES_ARCMIN[:1]


def _key_words(size_arcmin: float) -> str:
    return f"{size_arcmin:g}′" if size_arcmin < 120 else f"{size_arcmin / 60:g}°"


def _sky_words(fit: Showable, what: str, longest: float, turn: float | None) -> str:
    told = f"{what}: the longest arrow is {figures.miss_words(longest)}."
    if turn is not None:
        told += f" A turn of {figures.degrees_minutes(turn)} in azimuth is left out."
    names = ", ".join(f"line {a.line} ({a.target or 'no name'})" for a in fit.set_aside)
    return f"{told} Set aside: {names}." if names else told


def _spread_out(x: FloatArray, y: FloatArray) -> NDArray[np.intp]:
    """Indices of at most about `MOST_DISCS` places that keep their distance from one another."""
    if x.size <= MOST_DISCS:
        return np.arange(x.size)
    nearest = 150.0 / np.sqrt(MOST_DISCS)
    kept: list[int] = []
    for k in range(x.size):
        if all(np.hypot(x[kept] - x[k], y[kept] - y[k]) > nearest):
            kept.append(k)
    return np.array(kept, dtype=np.intp)


def _discs(
    axes: Axes, fit: Showable, kept: NDArray[np.intp], points: FloatArray, wide: NDArray[np.bool_]
) -> None:
    """Discs in a dozen sizes: full where the target should show, rings where it should not."""
    sky = fit.sky_forecast
    x, y = _place(sky.az_deg[kept], sky.alt_deg[kept])
    top = max(float(points.max(initial=0.0)), 1e-9)
    grade = np.clip(np.ceil(points / top * DISC_SIZES), 1, DISC_SIZES)
    for step in np.unique(grade):
        size = step / DISC_SIZES * min(top, 14.0)
        inside, outside = (grade == step) & ~wide, (grade == step) & wide
        axes.plot(x[inside], y[inside], "o", ms=size, color=AFTER, mew=0)
        axes.plot(x[outside], y[outside], "o", ms=size, mfc="none", mec=BEFORE, mew=1.3)


def _disc_key(axes: Axes, largest: float, points: float, wide: bool) -> None:
    left = -95
    for size in _key_sizes(largest)[-2:]:
        axes.plot(left, -109, "o", ms=points * size / max(largest, 1e-9), color=AFTER, mew=0)
        axes.text(left + 8, -109, _key_words(size), va="center")
        left += 36
    if wide:
        axes.plot(left, -109, "o", ms=points * 0.8, mfc="none", mec=BEFORE, mew=1.3)
        axes.text(left + 8, -109, "wider than the eyepiece", va="center")
    axes.text(-100, -120, LYING_DOWN, va="center", fontsize=SMALL)
