"""The sheet to print: the entry card, the stars with a picture of the sky, lines to write on.

Read `words.py` and `templates/sheet.html.j2` first. In large type, black on white in print: it is
read by a red torch. On a screen it takes the page's colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.compass import compass_word
from pointmodel.base.figures import miss_words
from pointmodel.base.wording import sentence
from pointmodel.planning import words as planwords
from pointmodel.showing import pages

if TYPE_CHECKING:
    from pointmodel.planning.plan import PlanResult
    from pointmodel.planning.results import PlannedStar

FEWEST_LINES = 12
SPARE_LINES = 2
MANY_STARS = 10  # more are set closer, so that the sheet stays one leaf
RADIUS = 100.0
INK, PAPER = "var(--ink, #000)", "var(--paper, #fff)"
LETTER = 13.0  # 12 points where the picture is 92 mm wide
DOT = 3.2


@dataclass(frozen=True)
class StarRow:
    """One star of the sheet, worded."""

    where: str
    find: str
    miss: str


def write_sheet(result: PlanResult, path: Path, scheme: pages.Scheme = "auto") -> Path:
    """Write the sheet of a plan to `path`; replaces only a sheet of this program's own making.

    Raises InputError where something else stands there, or where the system refuses.
    """
    return pages.write_page(path, sheet_html(result, scheme), pages.Subject("sheet"))


def sheet_html(result: PlanResult, scheme: pages.Scheme = "auto") -> str:
    """The sheet as one page of HTML that needs nothing beside it.

    `scheme` is what the page opens in on a screen; auto goes by the screen's own setting.
    """
    from markupsafe import Markup

    environment = pages.environment()
    title = f"Stars to centre, {planwords.moment_words(result)}"

    names = [(str(star.order), star.target) for star in result.stars]
    spare = max(SPARE_LINES, FEWEST_LINES - len(names))
    names += [(str(len(names) + k + 1), "") for k in range(spare)]
    rows = [_row(result, place) for place in range(len(result.stars))]
    return environment.get_template("sheet.html.j2").render(
        **pages.page_head(environment, title, ("sheet.css",), scheme),
        minutes_words=planwords.minutes_words(result),
        plan=result,
        when=planwords.moment_words(result),
        sky_when=planwords.clock_words(result),
        alarms=planwords.alarm_lines(result),
        card=planwords.card_cells(result),
        stars=list(zip(result.stars, rows, strict=True)),
        many=len(result.stars) > MANY_STARS,
        stop=planwords.stop_words(result),
        picture=Markup(sky_svg(result)),
        marked=planwords.marked_words(result),
        pairs=planwords.pair_sentence(result),
        lines=names,
    )


def _row(result: PlanResult, place: int) -> StarRow:
    star = result.stars[place]
    return StarRow(
        planwords.where_words(star),
        sentence(star.how_to_know),
        miss_words(result.expected[place].rms_arcmin),
    )


def sky_svg(result: PlanResult) -> str:
    """The dome as one looks up at it, as SVG: north up, east left, planned stars numbered."""
    parts = [_title(result), _horizon(result)]
    for height_deg in (0.0, 30.0, 60.0):
        style = (
            'stroke-width="1.6"' if height_deg == 0 else 'stroke-width=".6" stroke-dasharray="2 3"'
        )
        parts.append(
            f'<circle r="{RADIUS * (90 - height_deg) / 90:.1f}" fill="none" '
            f'stroke="{INK}" {style}/>'
        )
    parts.append(f'<path d="M-4 0H4M0 -4V4" stroke="{INK}" stroke-width=".8"/>')
    for az_deg, name in ((0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")):
        x, y = _spot(az_deg, -8.0)
        parts.append(_letters(x, y, name, LETTER))
    for az_deg, alt_deg, magnitude in result.picture.stars:
        x, y = _spot(az_deg, alt_deg)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{max(0.5, 1.9 - 0.45 * magnitude):.1f}"/>'
        )
    parts += [_body(name, az, alt) for name, az, alt in result.picture.bodies]
    spots = np.array([_spot(star.az_deg, star.alt_deg) for star in result.stars])
    parts += [_numbered(star, spots, k) for k, star in enumerate(result.stars)]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-116 -118 232 236" role="img" '
        f'fill="{INK}" aria-labelledby="sky-title">{"".join(parts)}</svg>'
    )


def _title(result: PlanResult) -> str:
    places = ", ".join(f"{s.order} in the {compass_word(s.az_deg)}" for s in result.stars)
    return f'<title id="sky-title">The sky as one looks up: {places}</title>'


def _spot(az_deg: float, alt_deg: float) -> tuple[float, float]:
    """Where a direction lies on the picture: x to the right, y down, east to the left."""
    angle, reach = np.radians(az_deg), RADIUS * (90.0 - alt_deg) / 90.0
    return float(-reach * np.sin(angle)), float(-reach * np.cos(angle))


def _letters(x: float, y: float, told: str, size: float) -> str:
    return (
        f'<text x="{x:.1f}" y="{y + 0.35 * size:.1f}" font-size="{size:.0f}" font-weight="bold" '
        f'text-anchor="middle" paint-order="stroke" stroke="{PAPER}" stroke-width="2.5">'
        f"{told}</text>"
    )


def _numbered(star: PlannedStar, spots: FloatArray, k: int) -> str:
    """A planned star: a dot with a ring, its number on the side with more room."""
    x, y = spots[k]
    others = np.delete(spots, k, axis=0)
    sides = [(dx, dy) for dx in (-1.0, 1.0) for dy in (-0.35, 0.35)]
    sides += [(0.0, -1.0), (0.0, 1.0)]
    labels = np.array([(x + 10.0 * dx, y + 10.0 * dy) for dx, dy in sides])
    room = np.full(len(sides), np.inf)
    if others.size:
        room = np.linalg.norm(labels[:, None] - others[None], axis=-1).min(axis=1)
    room = np.minimum(room, 25.0) - 0.02 * np.hypot(*labels.T)
    label = labels[int(room.argmax())]
    place = f'cx="{x:.1f}" cy="{y:.1f}" r="{DOT + 1.6:.1f}"'
    ring = f'<circle {place} fill="{PAPER}" stroke="{INK}"/>'
    dot = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{DOT:.1f}"/>'
    return ring + dot + _letters(label[0], label[1], str(star.order), LETTER)


def _body(name: str, az_deg: float, alt_deg: float) -> str:
    """The Moon as an open ring, a planet as a small diamond."""
    x, y = _spot(az_deg, alt_deg)
    if name == "Moon":
        place = f'cx="{x:.1f}" cy="{y:.1f}" r="5"'
        return f'<circle {place} fill="{PAPER}" stroke="{INK}" stroke-width="1.4"/>'
    shape = f"M{x:.1f} {y - 3.4:.1f}l3.4 3.4l-3.4 3.4l-3.4 -3.4z"
    return f'<path d="{shape}" fill="{PAPER}" stroke="{INK}" stroke-width="1.2"/>'


def _horizon(result: PlanResult) -> str:
    """What the horizon profile hides, striped."""
    if not result.mount.horizon:
        return ""
    turn = np.arange(0.0, 360.0, 3.0)
    inner = [_spot(az, alt) for az, alt in zip(turn, result.mount.open_alt_deg(turn), strict=True)]
    outer = [_spot(az, 0.0) for az in turn]
    path = "".join(f"{'L' if k else 'M'}{x:.1f} {y:.1f}" for k, (x, y) in enumerate(outer)) + "Z"
    path += "".join(f"{'L' if k else 'M'}{x:.1f} {y:.1f}" for k, (x, y) in enumerate(inner)) + "Z"
    stripes = (
        '<pattern id="hidden" width="4" height="4" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V4" stroke="{INK}"/></pattern>'
    )
    return f'<defs>{stripes}</defs><path d="{path}" fill="url(#hidden)" fill-rule="evenodd"/>'
