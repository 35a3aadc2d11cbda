"""What another program's save took out of a log: lines that it had never read.

A spreadsheet that opened the log before a pair was kept, and saves it afterwards, writes the log
without that pair.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from pointmodel.base.angles import AngleError, parse_angle_deg
from pointmodel.base.errors import InputError
from pointmodel.base.trace import trace
from pointmodel.base.wording import join
from pointmodel.reading.columns import find_columns
from pointmodel.reading.table import read_table
from pointmodel.recording.layout import NamedText, cells_by_name, is_figure

Cells = Mapping[str, str]
_SAME_FIGURE_DECIMALS = 4  # of a degree: a third of an arcsecond, finer than any log


def taken_out(kept: Sequence[Cells], before: bytes, now: bytes) -> list[Cells]:
    """Those of the kept lines that stood in a log before and do not stand in it now.

    A line whose name or figures were only changed is not missing: somebody put it right.
    """
    had, has = rows_of(before), rows_of(now)
    if had is None or has is None:
        return []
    missing = Counter(map(name_of, had)) - Counter(map(name_of, has))
    there = {_figures(cells) for cells in has} - {()}
    found: list[Cells] = []
    for cells in reversed(kept):
        if missing[name_of(cells)] > 0 and _figures(cells) not in there:
            missing[name_of(cells)] -= 1
            found.insert(0, cells)
    return found


def rows_of(data: bytes) -> list[Cells] | None:
    """The lines of a log as cells by column name; None where it cannot be read."""
    try:
        table = read_table(NamedText(data, "the log"))
        positions = find_columns(table)[0]
    except InputError:
        trace()
        return None
    return [cells_by_name(table, row, positions) for row in table.rows]


def name_of(cells: Cells) -> str:
    """What a line is called: its event, else its star."""
    return cells.get("event") or cells.get("target", "")


def said_of(lines: Sequence[Cells]) -> str:
    """What is told of lines that were written again."""
    names = join([name_of(cells) or "a pair" for cells in lines])
    return (
        f"Another program saved this log without what was kept here ({names}): it is written again."
    )


def _figures(cells: Cells) -> tuple[tuple[str, float | str], ...]:
    """The figures of a line by column, however they are written."""
    return tuple(sorted((name, _figure(cells[name])) for name in cells if is_figure(name)))


def _figure(text: str) -> float | str:
    try:
        return round(parse_angle_deg(text), _SAME_FIGURE_DECIMALS)
    except AngleError:
        return text
