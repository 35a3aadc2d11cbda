"""Pictures written as SVG by hand: marks, lines, words, and words that keep clear of one another.

Read `panels.py` for axes with ticks. Coordinates are those of the picture, x right, y down; a
picture is `WIDTH` wide whatever its height, so that letters keep their size on a page. Every colour
is a variable of the page with a fallback, so one picture serves all schemes and a file of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.figures import clean

WIDTH = 320.0  # a telephone's width less its margins, in CSS pixels
TEXT = 13.5  # 12 px where the picture is 285 px wide: on a screen of 320
LETTER_WIDTH = 0.56  # of the size of a letter: the widest usual sans serif, measured

INK = "var(--ink, #1d2430)"
FAINT = "var(--faint, #6b7484)"
BEFORE = "var(--before, #a84a12)"
AFTER = "var(--after, #14618c)"
ASIDE = "var(--aside, #7a3b8f)"
PAPER = "var(--paper, #ffffff)"

Anchor = Literal["start", "middle", "end"]
Mark = Literal["dot", "square", "ring", "cross", "up", "down"]
# the marks of the parts of a log, in their order; a fourth part begins anew
PART_MARKS: tuple[Mark, ...] = ("dot", "square", "ring")
Box = tuple[float, float, float, float]


def picture(key: str, title: str, description: str, height: float, parts: Iterable[str]) -> str:
    """One `<svg>` element, told in words for those who hear it; `key` keeps its ids its own."""
    told = f'<title id="{key}-title">{_xml(title)}</title>'
    told += f'<desc id="{key}-desc">{_xml(description)}</desc>'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {WIDTH:g} {height:.1f}" role="img" '
        f'aria-labelledby="{key}-title {key}-desc" font-family="sans-serif" '
        f'font-size="{TEXT}" fill="{INK}" stroke-linejoin="round">{told}{"".join(parts)}</svg>'
    )


def words(
    x: float,
    y: float,
    told: str,
    anchor: Anchor = "start",
    *,
    bold: bool = False,
    halo: bool = False,
) -> str:
    """Words with their base line at y; `halo` keeps them readable over lines."""
    weight = ' font-weight="bold"' if bold else ""
    around = f' paint-order="stroke" stroke="{PAPER}" stroke-width="3.5"' if halo else ""
    side = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:.1f}" y="{y:.1f}"{side}{weight}{around}>{_xml(told)}</text>'


def line(
    x: Sequence[float] | FloatArray,
    y: Sequence[float] | FloatArray,
    colour: str,
    width: float = 1.0,
    *,
    dashes: str = "",
    closed: bool = False,
    fill: str = "none",
) -> str:
    """A line through points; points that are not finite break it."""
    drawn, pen = [], "M"
    for one, other in zip(x, y, strict=True):
        if not (np.isfinite(one) and np.isfinite(other)):
            pen = "M"
            continue
        drawn.append(f"{pen}{one:.1f} {other:.1f}")
        pen = "L"
    if not drawn:
        return ""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    end = "Z" if closed else ""
    return (
        f'<path d="{"".join(drawn)}{end}" fill="{fill}" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def strokes(
    x: FloatArray,
    y: FloatArray,
    to_x: FloatArray,
    to_y: FloatArray,
    *,
    colour: str,
    width: float,
) -> str:
    """Separate strokes from points to points (n,), all as one path."""
    ways = zip(x, y, to_x, to_y, strict=True)
    drawn = "".join(f"M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}" for a, b, c, d in ways)
    return _path(drawn, colour, width)


def arrows(x: FloatArray, y: FloatArray, to_x: FloatArray, to_y: FloatArray, colour: str) -> str:
    """Arrows from points to points (n,), heads no longer than half of them, as one path."""
    along_x, along_y = to_x - x, to_y - y
    length = np.hypot(along_x, along_y)
    head = np.minimum(6.0, 0.5 * length) / np.maximum(length, 1e-9)
    back_x, back_y = to_x - head * along_x, to_y - head * along_y
    side_x, side_y = -0.5 * head * along_y, 0.5 * head * along_x
    drawn = "".join(
        f"M{a:.1f} {b:.1f}L{c:.1f} {d:.1f}M{p:.1f} {q:.1f}L{c:.1f} {d:.1f}L{r:.1f} {s:.1f}"
        for a, b, c, d, p, q, r, s in zip(
            x, y, to_x, to_y, back_x + side_x, back_y + side_y, back_x - side_x, back_y - side_y,
            strict=True,
        )
    )  # fmt: skip
    return _path(drawn, colour, 1.6)


def marks(x: FloatArray, y: FloatArray, mark: Mark, colour: str, size: float = 6.0) -> str:
    """Marks at points (n,), `size` across, all as one path."""
    if mark in ("dot", "square"):
        cap = "round" if mark == "dot" else "square"
        width = size if mark == "dot" else 0.85 * size
        drawn = "".join(f"M{a:.1f} {b:.1f}h0" for a, b in zip(x, y, strict=True))
        return _path(drawn, colour, width, f' stroke-linecap="{cap}"')
    shape = _SHAPES[mark]
    half = 0.5 * size
    outlines = "".join(
        "".join(
            f"{pen}{a + half * dx:.1f} {b + half * dy:.1f}" for pen, dx, dy in shape
        ) + ("Z" if mark in ("up", "down") else "")
        for a, b in zip(x, y, strict=True)
    )  # fmt: skip
    if mark == "ring":
        r = half - 0.7
        outlines = "".join(
            f"M{a - r:.1f} {b:.1f}a{r:.1f} {r:.1f} 0 1 0 {2 * r:.1f} 0a{r:.1f} {r:.1f} 0 1 0 "
            f"{-2 * r:.1f} 0"
            for a, b in zip(x, y, strict=True)
        )
    fill = f' fill="{colour}"' if mark in ("up", "down") else ""
    return _path(outlines, colour, 1.6, fill)


_SHAPES: dict[Mark, tuple[tuple[str, float, float], ...]] = {
    "cross": (("M", -1, -1), ("L", 1, 1), ("M", -1, 1), ("L", 1, -1)),
    "up": (("M", 0, -1), ("L", 1, 0.8), ("L", -1, 0.8)),
    "down": (("M", 0, 1), ("L", 1, -0.8), ("L", -1, -0.8)),
    "ring": (),
}


def circle(x: float, y: float, radius: float, colour: str, *, dashes: str = "") -> str:
    """A circle without filling."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="none" stroke="{colour}" '
        f'stroke-width="1.2"{dashed}/>'
    )


def bar(x: float, y: float, width: float, height: float, colour: str, *, solid: bool = True) -> str:
    """A box: filled, or as an outline."""
    fill = colour if solid else "none"
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 0):.1f}" height="{height:.1f}" '
        f'fill="{fill}" stroke="{colour}" stroke-width="1.2"/>'
    )


def _path(drawn: str, colour: str, width: float, more: str = "") -> str:
    if not drawn:
        return ""
    fill = "" if "fill=" in more else ' fill="none"'
    return f'<path d="{drawn}" stroke="{colour}" stroke-width="{width:g}"{fill}{more}/>'


def width_of(told: str) -> float:
    """How wide words are at most, in the picture's units."""
    return LETTER_WIDTH * TEXT * len(told)


def shortened(told: str, width: float) -> str:
    """The words, cut to a width with an ellipsis where they are longer."""
    most = max(int(width / (LETTER_WIDTH * TEXT)), 2)
    return told if len(told) <= most else f"{told[: most - 1].rstrip()}…"


def labels(
    places: Sequence[tuple[float, float]],
    told: Sequence[str],
    within: Box,
    taken: Sequence[Box] = (),
    gap: float = 6.0,
) -> str:
    """Words beside points, each where it covers no other and stays `within` (x, y, x, y).

    Given first, placed first; one that finds no room is left out.
    """
    boxes, drawn = list(taken), []
    for (x, y), one in zip(places, told, strict=True):
        for box, anchor in _beside(x, y, width_of(one), gap):
            if _inside(box, within) and not any(_overlap(box, other) for other in boxes):
                boxes.append(box)
                at = {"start": box[0], "middle": (box[0] + box[2]) / 2, "end": box[2]}[anchor]
                drawn.append(words(at, box[3] - 0.25 * TEXT, one, anchor, halo=True))
                break
    return "".join(drawn)


def _beside(x: float, y: float, width: float, gap: float) -> list[tuple[Box, Anchor]]:
    """The places for words about a point: right, left, above, below, then the corners."""
    half, tall = 0.5 * TEXT, TEXT
    found: list[tuple[Box, Anchor]] = [
        ((x + gap, y - half, x + gap + width, y + half), "start"),
        ((x - gap - width, y - half, x - gap, y + half), "end"),
        ((x - width / 2, y - gap - tall, x + width / 2, y - gap), "middle"),
        ((x - width / 2, y + gap, x + width / 2, y + gap + tall), "middle"),
    ]
    for down in (-1.0, 1.0):
        top = y + down * (gap + half) - half
        found.append(((x + gap, top, x + gap + width, top + tall), "start"))
        found.append(((x - gap - width, top, x - gap, top + tall), "end"))
    return found


def _inside(box: Box, within: Box) -> bool:
    return (
        box[0] >= within[0] and box[1] >= within[1] and box[2] <= within[2] and box[3] <= within[3]
    )


def _overlap(one: Box, other: Box) -> bool:
    return not (
        one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
    )


def _xml(text: str) -> str:
    return escape(clean(text))
