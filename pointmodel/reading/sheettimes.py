"""Angles that a spreadsheet keeps as times: which of them it may have made sixty times too small.

Typed as 41:33 (hours and minutes to the sheet) an angle comes back right; 41:33.0 is minutes and
seconds to it, and comes back as 0:41:33. Nobody can see from the cell which was typed.
"""

from __future__ import annotations

from collections.abc import Sequence

from pointmodel.base.arrays import FloatArray
from pointmodel.reading.cells import SheetTime

_SIXTY = 60.0
# The largest figure of each kind of column, a sixtieth of it: what is more was not made small.
_LARGEST_DEG = {
    "az": 360.0 / _SIXTY,
    "alt": 91.0 / _SIXTY,
    "ra": 360.0 / _SIXTY,
    "dec": 90.0 / _SIXTY,
}


def doubtful_rows(cells: Sequence[str], values_deg: FloatArray, column: str) -> list[int]:
    """Rows whose cells may have been made sixty times too small; `values_deg` (n,) as read.

    Where larger figures of the column have seconds, all of it was typed with seconds and is right;
    but no star is ever centred a degree above the horizon.
    """
    kind = column.rsplit("_", 1)[-1]
    times = [row for row, cell in enumerate(cells) if isinstance(cell, SheetTime)]
    small = [row for row in times if 0.0 < abs(values_deg[row]) <= _LARGEST_DEG[kind]]
    if not small or kind == "alt":
        return small
    with_seconds = [row for row in times if _seconds(cells[row]) > 0.0 and row not in small]
    return [] if with_seconds else small


def which_was_typed(cell: str) -> str:
    """What would be right instead of a doubtful cell: both ways to write it."""
    sign = "-" if cell.startswith("-") else ""
    first, minutes, seconds = [*cell.lstrip("-").split(":"), "0"][:3]
    typed = 60 * int(first) + int(minutes)
    shown = seconds.rstrip("0").rstrip(".") if "." in seconds else seconds
    return (
        f"{sign}{typed} {shown} (with a blank) if {typed}:{shown} was typed, which a spreadsheet "
        f"takes for minutes and seconds; {sign}{int(first)}°{minutes}'{shown}\" if not"
    )


def _seconds(cell: str) -> float:
    return float(cell.split(":")[-1]) if cell.count(":") == 2 else 0.0
