"""The eyepiece's view as SVG: where each star of the log landed, and would land once mended.

Read `landings.py` first. The round field is drawn to scale, up is up on the sky and right is right,
as seen by someone who stands behind the tube.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.base import figures
from pointmodel.fitting.landings import Landing
from pointmodel.fitting.marked import (
    key_line,
    line_and_name,
    mark_size,
    name_of,
    part_marks,
    worst_first,
)
from pointmodel.fitting.showable import Showable
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.showing.drawing import (
    ASIDE,
    BEFORE,
    FAINT,
    INK,
    TEXT,
    WIDTH,
    Box,
    circle,
    labels,
    line,
    picture,
    strokes,
    width_of,
    words,
)

LEAST_VIEW = 1.25  # of the field's radius: the field is always seen whole
MOST_KEPT_CLEAR = 60  # stars that a name does not cover
MOST_VIEW = 2.2  # stars farther out are told by a stroke at the rim


def field_of(fit: Showable) -> tuple[float, bool]:
    """The eyepiece's field, arcminutes, and whether it is only assumed."""
    field = fit.log.mount.optics.field_of_view_arcmin
    return (USUAL_FIELD_ARCMIN, True) if field is None else (field, False)


def inside_words(fit: Showable, landing: Landing) -> str:
    """How many of the stars used land inside the field: `3 of 24 inside`."""
    used = ~fit.pair_results.set_aside
    inside = np.count_nonzero(landing.miss_arcmin[used] <= 0.5 * field_of(fit)[0])
    return f"{inside} of {np.count_nonzero(used)} inside"


def eyepiece_picture(fit: Showable, landings: Sequence[Landing]) -> str:
    """SVG of the field with the stars of the log, a round view each of `landings`, to one scale."""
    view = _view_arcmin(fit, landings)
    across = WIDTH / max(len(landings), 2)
    radius = 0.5 * across - 5.0
    top = TEXT + 8
    parts = []
    for k, landing in enumerate(landings):
        middle = across * (k + 0.5) if len(landings) > 1 else WIDTH / 2
        parts.append(words(middle, TEXT, landing.title, "middle", bold=True))
        parts.append(_round_view(fit, landing, (middle, top + radius, radius), view))
        foot = top + 2 * radius + TEXT + 4
        parts.append(words(middle, foot, inside_words(fit, landing), "middle"))
    height = top + 2 * radius + TEXT + 4 + 22
    parts.append(_ruler(fit, height, radius / view))
    key, more = key_line(fit, height + 20)
    return picture(
        "eyepiece",
        "Where the stars of the log land in the eyepiece",
        _told(fit, landings),
        height + 10 + more,
        [*parts, key],
    )


def _view_arcmin(fit: Showable, landings: Sequence[Landing]) -> float:
    """How far out the views reach, arcminutes."""
    half = 0.5 * field_of(fit)[0]
    used = ~fit.pair_results.set_aside
    sizes = [one.miss_arcmin[used] for one in landings if used.any()]
    farthest = max((float(size.max()) for size in sizes), default=half)
    return float(np.clip(1.06 * farthest, LEAST_VIEW * half, MOST_VIEW * half))


def _round_view(
    fit: Showable, landing: Landing, place: tuple[float, float, float], view: float
) -> str:
    x0, y0, radius = place
    scale = radius / view
    x, y, miss = landing.x_arcmin, landing.y_arcmin, landing.miss_arcmin
    used, within = ~fit.pair_results.set_aside, miss <= view
    half = 0.5 * field_of(fit)[0] * scale
    beyond = ~within & np.isfinite(miss)
    unit_x, unit_y = x / np.maximum(miss, 1e-9), -y / np.maximum(miss, 1e-9)
    parts = [
        circle(x0, y0, half, INK),
        line([x0 - 4, x0 + 4], [y0, y0], FAINT),
        line([x0, x0], [y0 - 4, y0 + 4], FAINT),
    ]
    for chosen, colour in ((beyond & used, BEFORE), (beyond & ~used, ASIDE)):
        ux, uy = unit_x[chosen], unit_y[chosen]
        inner = radius - 7.0
        parts.append(
            strokes(
                x0 + inner * ux,
                y0 + inner * uy,
                x0 + radius * ux,
                y0 + radius * uy,
                colour=colour,
                width=2,
            )
        )
    px, py = x0 + scale * x, y0 - scale * y
    size = mark_size(fit)
    parts.append(part_marks(fit, px, py, used & within))
    parts.append(part_marks(fit, px, py, ~used & within, ASIDE))
    worst = worst_first(miss, used, 1)
    if worst.size:
        k = int(worst[0])
        # a star beyond the rim is named at its stroke
        at = (float(px[k]), float(py[k])) if within[k] else (
            x0 + (radius - 9) * float(unit_x[k]), y0 + (radius - 9) * float(unit_y[k])
        )  # fmt: skip
        within_box = (x0 - radius - 4, y0 - radius, x0 + radius + 4, y0 + radius)
        others = np.flatnonzero(used & within & (np.arange(miss.size) != k))[:MOST_KEPT_CLEAR]
        taken = [_about(float(px[i]), float(py[i]), 0.5 * size) for i in others]
        parts.append(labels([at], [name_of(fit, k)], within_box, taken, gap=size))
    return "".join(parts)


def _about(x: float, y: float, half: float) -> Box:
    return (x - half, y - half, x + half, y + half)


def _ruler(fit: Showable, y: float, scale: float) -> str:
    """The field's width as a length with its figure."""
    field, assumed = field_of(fit)
    told = f"the eyepiece: {figures.miss_words(field)} across{', assumed' if assumed else ''}"
    length = min(field * scale, WIDTH - 20 - width_of(told))
    ends = [6, 6, 6, 6 + length, 6 + length, 6 + length]
    return line(ends, [y - 8, y, y - 4, y - 4, y - 8, y], INK) + words(14 + length, y, told)


def _told(fit: Showable, landings: Sequence[Landing]) -> str:
    used = ~fit.pair_results.set_aside
    told = []
    for landing in landings:
        miss = landing.miss_arcmin
        worst = worst_first(miss, used, 1)
        farthest = ""
        if worst.size:
            k = int(worst[0])
            size = figures.miss_words(float(miss[k]))
            farthest = f", the farthest is {line_and_name(fit, k)}, {size} from the middle"
        told.append(f"{landing.title}: {inside_words(fit, landing)}{farthest}")
    field, assumed = field_of(fit)
    across = f"The field is {figures.miss_words(field)} across{' (assumed)' if assumed else ''}. "
    return across + "; ".join(told) + "."
