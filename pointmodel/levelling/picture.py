"""The feet seen from above, north up: as SVG for the page, as letters for the terminal.

Read `feet.py` for the orders. Shown is one way: that which only lowers where it reaches, since a
lower stand is steadier.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.figures import figure
from pointmodel.levelling.stand import rise_mm, turns
from pointmodel.showing.drawing import (
    AFTER,
    BEFORE,
    FAINT,
    TEXT,
    WIDTH,
    arrows,
    circle,
    picture,
    width_of,
    words,
)

if TYPE_CHECKING:
    from pointmodel.levelling.feet import FootOrder
    from pointmodel.levelling.stand import Way

COLUMNS, ROWS = 60, 19
HALF_WIDTH, HALF_HEIGHT = 13, 6  # of the ring of feet; a letter is twice as high as wide
ARROWS = "↑↗→↘↓↙←↖"
LEAST_MM, LEAST_ROUGH_MM = 0.05, 0.5
EIGHTHS = ("", " 1/8", " 1/4", " 3/8", " 1/2", " 5/8", " 3/4", " 7/8")


def order_words(rise: float, by_screws: bool = True) -> str:
    """What to do at a foot, in millimetres: `lower 8.3 mm`; legs and plates in whole ones."""
    size = abs(rise)
    if size < (LEAST_MM if by_screws else LEAST_ROUGH_MM):
        return "leave"
    decimals = 1 if by_screws and size < 99.5 else 0
    return f"{'raise' if rise > 0 else 'lower'} {figure(size, decimals)} mm"


def turns_words(turns: float | None) -> str:
    """Turns of a screw to the nearest eighth: `8 1/4 turns`; nothing where none are to be made."""
    if turns is None:
        return ""
    whole, eighth = divmod(round(8.0 * abs(turns)), 8)
    if whole == eighth == 0:
        return ""
    amount = f"{whole or ''}{EIGHTHS[eighth]}".strip()
    return f"{amount} turn{'s' if whole > 1 or (whole and eighth) else ''}"


def _orders(foot: FootOrder, way: Way, by_screws: bool) -> list[str]:
    """The order at a foot by one way: millimetres, and turns where a screw is turned."""
    turned = turns_words(turns(foot, way)) if by_screws else ""
    return [word for word in (order_words(rise_mm(foot, way), by_screws), turned) if word]


def feet_lines(
    feet: tuple[FootOrder, ...],
    toward_az_deg: float,
    way: Way = "lower_only",
    by_screws: bool = True,
) -> list[str]:
    """The feet from above in `ROWS` lines of at most `COLUMNS` letters, north up, east right."""
    sheet = _Sheet()
    for az in range(0, 360, 6):
        sheet.put(*_spot(az, 1.0), "·")
    for reach in np.arange(0.15, 0.6, 0.1):
        sheet.put(*_spot(toward_az_deg, reach), "·")
    sheet.put(*_spot(toward_az_deg, 0.62), ARROWS[int(toward_az_deg / 45.0 + 0.5) % 8])
    sheet.put(*_spot(0.0, 0.0), "+")
    middle = ROWS // 2
    marks = ((0, COLUMNS // 2, "N"), (ROWS - 1, COLUMNS // 2, "S"), (middle, 0, "W"))
    for row, column, letter in (*marks, (middle, COLUMNS - 1, "E")):
        sheet.put(row, column, letter)
    spots = [_spot(foot.azimuth_deg, 1.0) for foot in feet]
    for number, (row, column) in enumerate(spots, 1):
        sheet.write(row, column - 1, f"({number})")
    for foot, spot in zip(feet, spots, strict=True):
        _label(sheet, spot, _orders(foot, way, by_screws))
    return sheet.lines()


class _Sheet:
    """Letters on a grid of rows and columns; what does not fit on it is left out."""

    def __init__(self) -> None:
        self.cells = [[" "] * COLUMNS for _ in range(ROWS)]

    def put(self, row: int, column: int, letter: str) -> None:
        if 0 <= row < ROWS and 0 <= column < COLUMNS:
            self.cells[row][column] = letter

    def write(self, row: int, column: int, text: str) -> None:
        for k, letter in enumerate(text):
            self.put(row, column + k, letter)

    def is_free(self, row: int, column: int, text: str) -> bool:
        inside = 0 <= row < ROWS and 0 <= column <= COLUMNS - len(text)
        return inside and set(self.cells[row][column : column + len(text)]) <= set(" ·")

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self.cells]


def _spot(az_deg: float, reach: float) -> tuple[int, int]:
    """Row and column of a place on the base; reach 1 is the ring of the feet."""
    angle = np.radians(az_deg)
    row = ROWS // 2 - reach * HALF_HEIGHT * np.cos(angle)
    return round(float(row)), round(float(COLUMNS // 2 + reach * HALF_WIDTH * np.sin(angle)))


def _label(sheet: _Sheet, spot: tuple[int, int], orders: list[str]) -> None:
    """Set the order beside its foot, outward; where it would cover another, the table has it."""
    row, column = spot
    aside = column - COLUMNS // 2
    if abs(aside) <= 3:
        first = row - len(orders) if row < ROWS // 2 else row + 1
        starts = [column - len(word) // 2 for word in orders]
    else:
        first = row
        starts = [column + 3 if aside > 0 else column - 2 - len(word) for word in orders]
    placed = list(enumerate(zip(orders, starts, strict=True), first))
    if all(sheet.is_free(line, start, word) for line, (word, start) in placed):
        for line, (word, start) in placed:
            sheet.write(line, start, word)


def feet_picture(
    feet: tuple[FootOrder, ...],
    toward_az_deg: float,
    way: Way = "lower_only",
    by_screws: bool = True,
) -> str:
    """SVG of the feet from above, north up, each with its order: what `feet_lines` shows."""
    middle_x, middle_y, ring = 0.5 * WIDTH, 114.0, 56.0
    turn = np.radians(toward_az_deg)
    out = 0.6 * ring
    tip_x, tip_y = middle_x + out * np.sin(turn), middle_y - out * np.cos(turn)
    ends = np.array([[middle_x], [middle_y], [tip_x], [tip_y]])
    parts = [circle(middle_x, middle_y, ring, FAINT, dashes="2 4")]
    parts += [
        words(middle_x + x, middle_y + y + 0.35 * TEXT, letter, "middle", bold=letter == "N")
        for letter, x, y in (("N", 0, -105), ("E", 152, 0), ("S", 0, 105), ("W", -152, 0))
    ]
    parts += [
        _drawn_foot(number, foot, _orders(foot, way, by_screws), (middle_x, middle_y, ring))
        for number, foot in enumerate(feet, 1)
    ]
    parts.append(arrows(ends[0], ends[1], ends[2], ends[3], BEFORE))
    parts.append(words(middle_x, middle_y + 0.35 * TEXT, "+", "middle"))
    told = _told(feet, way, by_screws)
    return picture("feet", "The feet seen from above, north up", told, 228.0, parts)


def _drawn_foot(
    number: int, foot: FootOrder, orders: list[str], place: tuple[float, float, float]
) -> str:
    """A foot with its number; its order above it in the upper half, below it in the lower."""
    middle_x, middle_y, ring = place
    turn = np.radians(foot.azimuth_deg)
    x, y = middle_x + ring * float(np.sin(turn)), middle_y - ring * float(np.cos(turn))
    turned, tall = orders != ["leave"], TEXT + 1
    first = y - 14 - tall * (len(orders) - 1) if y <= middle_y else y + 13 + TEXT
    told = [
        circle(x, y, 10.0, AFTER),
        words(x, y + 0.35 * TEXT, str(number), "middle", bold=turned),
    ]
    half = 0.55 * max(map(width_of, orders))
    # outward of the ring, so that two feet side by side do not share their words' place
    aside = x + 0.45 * (x - middle_x)
    at = float(np.clip(aside, 4 + half, WIDTH - 4 - half))
    told += [
        words(at, first + tall * k, order, "middle", bold=turned and k == 0, halo=True)
        for k, order in enumerate(orders)
    ]
    return "".join(told)


def _told(feet: tuple[FootOrder, ...], way: Way, by_screws: bool) -> str:
    orders = (
        f"foot {number} at azimuth {foot.azimuth_deg:.0f}°: "
        f"{' '.join(_orders(foot, way, by_screws))}"
        for number, foot in enumerate(feet, 1)
    )
    return f"{'; '.join(orders)}."
