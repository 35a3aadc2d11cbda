"""Pictures of the whole sky as SVG: arrows of the misses, and how far go-tos may miss from now on.

Read `marked.py` first. The dome is drawn as it looks to someone lying on their back, feet to the
south: north up, east left, zenith in the middle, height above the horizon in equal steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base import figures
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.fitting.marked import (
    MANY_PAIRS,
    key_line,
    line_and_name,
    name_of,
    part_marks,
    set_aside_words,
    worst_first,
)
from pointmodel.fitting.prepared import key_sizes_arcmin, moved_on_dome, on_dome, sky_misses
from pointmodel.fitting.shares import Family
from pointmodel.fitting.showable import Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.showing.drawing import (
    AFTER,
    ASIDE,
    BEFORE,
    FAINT,
    INK,
    TEXT,
    WIDTH,
    arrows,
    circle,
    labels,
    line,
    marks,
    picture,
    words,
)

LONGEST_ARROW_DEG = 30.0
MOST_DISCS = 150
DISC_SIZES = 12
EVEN_BELOW = 1.5  # the largest miss over the least: less is the same everywhere
LYING_DOWN = "Lying on your back: east is left."
FAMILY_TITLE: dict[Family, str] = {
    "lean": "lean alone",
    "tube": "tube alone",
    "zeros": "zeros alone",
}
WORTH_DRAWING_ARCMIN = 1.0  # a typical share below it says nothing; and below an eighth of all
WORTH_DRAWING_SHARE = 0.125


@dataclass(frozen=True, eq=False)
class Arrows:
    """One dome: its title, what to draw (n, 2) in arcminutes, and whether to its own scale."""

    title: str
    miss: FloatArray
    own_scale: bool = False


def as_logged(fit: Showable) -> FloatArray:
    """The misses as logged (n, 2), arcminutes, a large turn of the azimuth circle left out."""
    logged = sky_misses(fit.pair_results, "logged")
    return np.column_stack([logged.x_arcmin, logged.y_arcmin])


def sky_panels(fit: Showable) -> tuple[list[Arrows], list[Family]]:
    """The domes worth drawing, and the families of terms whose share is too small for one.

    Zeros and tube that stand in for one another are drawn together: alone they mean nothing.
    """
    pairs = fit.pair_results
    shares = dict(fit.breakdown.shares)
    titles = dict(FAMILY_TITLE)
    if fit.breakdown.ridge is not None:
        shares["zeros"] = shares["zeros"] + shares.pop("tube")
        titles["zeros"] = "zeros and tube"
    whole = _typical(fit, as_logged(fit))
    least = max(WORTH_DRAWING_ARCMIN, WORTH_DRAWING_SHARE * whole)
    drawn = [Arrows("as logged", as_logged(fit))]
    small: list[Family] = []
    for family, share in shares.items():
        if _typical(fit, share) >= least:
            drawn.append(Arrows(titles[family], share))
        else:
            small.append(family)
    left = np.column_stack([pairs.residual_x_arcmin, pairs.residual_y_arcmin])
    return [*drawn, Arrows("left over", left, True)], small


def _typical(fit: Showable, miss: FloatArray) -> float:
    used = ~fit.pair_results.set_aside
    return float(np.sqrt((miss[used] ** 2).sum(axis=1).mean())) if used.any() else 0.0


def sky_picture(fit: Showable, domes: Sequence[Arrows]) -> str:
    """SVG of small domes, two in a row, each with an arrow a pair.

    An arrow points the way the telescope had to move to centre the star. All but those with a
    scale of their own are drawn to one scale.
    """
    used = ~fit.pair_results.set_aside
    shared = max((_longest(d.miss, used) for d in domes if not d.own_scale), default=1.0)
    parts, radius, row = [], 70.0, 2 * 70.0 + 2 * TEXT + 24
    for k, dome in enumerate(domes):
        x0 = (82.0, 238.0)[k % 2] if len(domes) > 1 else WIDTH / 2
        y0 = (k // 2) * row + 2 * TEXT + 10 + radius
        longest = _longest(dome.miss, used) if dome.own_scale else shared
        parts.append(words(x0, y0 - radius - TEXT - 6, dome.title, "middle", bold=True))
        parts.append(_dome(fit, (x0, y0, radius)))
        parts.append(_arrows(fit, dome, (x0, y0, radius), longest, name=k in (0, len(domes) - 1)))
        if dome.own_scale or k == 0:
            parts.append(_arrow_key(x0 - 66, y0 + radius + TEXT + 2, longest, radius, dome))
    height = -(-len(domes) // 2) * row + TEXT
    parts.append(words(8, height + 4, LYING_DOWN))
    turn = logged_misses(fit.pair_results).turn_deg
    if turn is not None:
        height += 19
        left_out = f"A turn of the circle by {figures.degrees_minutes(turn)} is left out."
        parts.append(words(8, height + 4, left_out))
    key, more = key_line(fit, height + 26)
    title = "Misses over the sky, as logged and by what makes them"
    return picture("sky", title, _sky_words(fit, domes, turn), height + 12 + more, [*parts, key])


def _longest(miss: FloatArray, used: BoolArray) -> float:
    size = np.hypot(miss[used, 0], miss[used, 1])
    return max(float(np.max(size, where=np.isfinite(size), initial=0.0)), 1e-6)


def _place(az_deg: FloatArray, alt_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where a direction lies on the dome, its radius 1: right and down, east to the left."""
    x, y = on_dome(az_deg, alt_deg)
    return x / 90.0, -y / 90.0


def _dome(fit: Showable, place: tuple[float, float, float], *, letters: str = "NESW") -> str:
    x0, y0, radius = place
    parts = [circle(x0, y0, radius, INK)]
    parts += [circle(x0, y0, radius * share, FAINT, dashes="2 4") for share in (1 / 3, 2 / 3)]
    for az, name in ((0, "N"), (90, "E"), (180, "S"), (270, "W")):
        if name in letters:
            x, y = _place(np.array([az]), np.array([0.0]))
            inward = radius - 9.0
            parts.append(
                words(x0 + inward * x[0], y0 + inward * y[0] + 0.35 * TEXT, name, "middle")
            )
    if fit.log.mount.horizon:
        profile = np.array(fit.log.mount.horizon, dtype=float)
        turn = np.linspace(0.0, 360.0, 121)
        skyline = np.interp(turn, profile[:, 0], profile[:, 1], period=360.0)
        x, y = _place(turn, skyline)
        parts.append(line(x0 + radius * x, y0 + radius * y, FAINT, dashes="5 3"))
    return "".join(parts)


def _arrows(
    fit: Showable,
    dome: Arrows,
    place: tuple[float, float, float],
    longest: float,
    *,
    name: bool,
) -> str:
    """The arrows of the pairs used, crosses for the others, the largest misses named."""
    x0, y0, radius = place
    pairs, used = fit.pair_results, ~fit.pair_results.set_aside
    at_x, at_y = _place(pairs.star_az_deg, pairs.star_alt_deg)
    px, py = x0 + radius * at_x, y0 + radius * at_y
    scale = radius * LONGEST_ARROW_DEG / 90.0 / longest
    to_x, to_y = _moved(pairs.star_az_deg, scale * dome.miss)
    shown = used & np.isfinite(to_x)
    if np.count_nonzero(shown) < MANY_PAIRS:
        drawn = arrows(px[shown], py[shown], (px + to_x)[shown], (py + to_y)[shown], BEFORE)
        drawn += part_marks_small(fit, px, py, shown)
    else:
        drawn = _mean_arrows(fit, shown, (px, py), (to_x, to_y))
    drawn += marks(px[~used][:200], py[~used][:200], "cross", ASIDE, 7.0)
    if not name:
        return drawn
    worst = worst_first(np.hypot(*dome.miss.T), used, 2)
    places = [(float(px[k]), float(py[k])) for k in worst]
    box = (x0 - 80.0, y0 - radius - 2, x0 + 80.0, y0 + radius + 2)
    return drawn + labels(places, [name_of(fit, int(k)) for k in worst], box)


def part_marks_small(fit: Showable, x: FloatArray, y: FloatArray, shown: BoolArray) -> str:
    """The stars themselves: dots in one part, each part's mark where there are several."""
    if fit.breakdown.part.max(initial=0) == 0:
        return marks(x[shown], y[shown], "dot", INK, 3.2)
    return part_marks(fit, x, y, shown, INK)


def _moved(az_deg: FloatArray, miss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How misses (n, 2) point on the dome: right of a star is clockwise, up is to the zenith."""
    right, up = moved_on_dome(az_deg, miss[:, 0], miss[:, 1])
    return right, -up


def _mean_arrows(
    fit: Showable,
    shown: BoolArray,
    at: tuple[FloatArray, FloatArray],
    to: tuple[FloatArray, FloatArray],
) -> str:
    """Of many pairs one mean arrow a patch of sky, an eighth of the way round and 15° high."""
    pairs = fit.pair_results
    az, alt = np.mod(pairs.star_az_deg, 360.0) // 30.0, pairs.star_alt_deg // 15.0
    patch = (az + 12 * alt).astype(int)
    middles = np.array([
        [float(np.mean(values[shown & (patch == one)])) for values in (*at, *to)]
        for one in np.unique(patch[shown])
    ])  # fmt: skip
    x, y, dx, dy = middles.T
    return arrows(x, y, x + dx, y + dy, BEFORE) + marks(x, y, "dot", INK, 3.2)


def _arrow_key(x: float, y: float, longest: float, radius: float, dome: Arrows) -> str:
    size = key_sizes_arcmin(longest)[-1]
    length = radius * LONGEST_ARROW_DEG / 90.0 * size / longest
    one = np.array([1.0])
    drawn = arrows(x * one, (y - 4.5) * one, (x + length) * one, (y - 4.5) * one, BEFORE)
    own = ", own scale" if dome.own_scale else ""
    return drawn + words(x + length + 7, y, f"{_key_words(size)}{own}")


def _key_words(size_arcmin: float) -> str:
    return f"{size_arcmin:g}′" if size_arcmin < 120 else f"{size_arcmin / 60:g}°"


def _sky_words(fit: Showable, domes: Sequence[Arrows], turn: float | None) -> str:
    used = ~fit.pair_results.set_aside
    told = []
    for dome in domes:
        size = np.hypot(*dome.miss.T)
        worst = worst_first(size, used, 1)
        typical = f"{dome.title}: {figures.miss_words(_typical(fit, dome.miss))} typically"
        if worst.size:
            k = int(worst[0])
            typical += f", most at {line_and_name(fit, k)}, {figures.miss_words(float(size[k]))}"
        told.append(typical)
    left_out = "" if turn is None else (
        f" A turn of {figures.degrees_minutes(turn)} in azimuth is left out."
    )  # fmt: skip
    return f"{'; '.join(told)}.{left_out}{set_aside_words(fit)}"


def sky_is_even(fit: Showable) -> bool:
    """Whether the miss to expect is so alike over the sky that a map would say nothing."""
    sizes = fit.sky_forecast.miss_rms_arcmin
    if sizes.size < 2 or not np.isfinite(sizes).all():
        return True
    return bool(np.percentile(sizes, 98) < EVEN_BELOW * sizes.min())


def sky_forecast_words(fit: Showable) -> str:
    """How far corrected go-tos will miss, where least and where most."""
    sky = fit.sky_forecast
    if not sky.miss_rms_arcmin.size:
        return "The miss to expect over the sky is not known."
    low, high = float(sky.miss_rms_arcmin.min()), float(sky.miss_rms_arcmin.max())
    told = figures.miss_range_words(low, high)
    if sky_is_even(fit):
        return f"Corrected go-tos miss alike over the whole open sky: by {told} (typical miss)."
    worst = int(np.argmax(sky.miss_rms_arcmin))
    az, alt = float(sky.az_deg[worst]), float(sky.alt_deg[worst])
    return (
        f"Corrected go-tos miss by {told} (typical miss), most near azimuth {az:.0f}°, {alt:.0f}° "
        "up."
    )


def sky_forecast_picture(fit: Showable) -> str:
    """SVG of the dome with discs as wide as the miss to expect there, corrections applied."""
    sky, radius = fit.sky_forecast, 140.0
    field = fit.log.mount.optics.field_of_view_arcmin
    x0, y0 = WIDTH / 2, radius + 8
    at_x, at_y = _place(sky.az_deg, sky.alt_deg)
    kept = _spread_out(at_x, at_y)
    sizes = sky.miss_rms_arcmin[kept]
    largest = float(np.percentile(sizes, 98)) if sizes.size else 1.0
    wide = sizes > (np.inf if field is None else field / 2)
    points = max(6.0, min(18.0, 150.0 / np.sqrt(max(kept.size, 1))))
    parts = [_dome(fit, (x0, y0, radius))]
    grade = np.clip(np.ceil(sizes / max(largest, 1e-9) * DISC_SIZES), 1, DISC_SIZES)
    px, py = x0 + radius * at_x[kept], y0 + radius * at_y[kept]
    for step in np.unique(grade):
        size = step / DISC_SIZES * points
        inside, outside = (grade == step) & ~wide, (grade == step) & wide
        parts.append(marks(px[inside], py[inside], "dot", AFTER, size))
        parts.append(marks(px[outside], py[outside], "ring", BEFORE, size))
    left, foot = 14.0, y0 + radius + 22
    for size in key_sizes_arcmin(largest)[-2:]:
        parts.append(_disc(left, foot - 4.5, points * min(size / max(largest, 1e-9), 1.0)))
        parts.append(words(left + 13, foot, _key_words(size)))
        left += 58
    if wide.any():
        parts.append(marks(np.array([left]), np.array([foot - 4.5]), "ring", BEFORE, 10.0))
        parts.append(words(left + 12, foot, "wider than the eyepiece"))
    parts.append(words(8, foot + 20, LYING_DOWN))
    title = "Miss to expect over the sky, with corrections"
    return picture("sky-forecast", title, sky_forecast_words(fit), foot + 28, parts)


def _disc(x: float, y: float, size: float) -> str:
    return marks(np.array([x]), np.array([y]), "dot", AFTER, size)


def _spread_out(x: FloatArray, y: FloatArray) -> NDArray[np.intp]:
    """Indices of at most about `MOST_DISCS` places that keep their distance from one another."""
    if x.size <= MOST_DISCS:
        return np.arange(x.size)
    nearest = 1.67 / np.sqrt(MOST_DISCS)
    kept: list[int] = []
    for k in range(x.size):
        if all(np.hypot(x[kept] - x[k], y[kept] - y[k]) > nearest):
            kept.append(k)
    return np.array(kept, dtype=np.intp)
