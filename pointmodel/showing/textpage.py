"""A page of plain terminal text: headings, paragraphs, lists and tables within a given width.

No colour and no boxes when piped, never wider than asked. Words that a user supplied are cleaned of
control characters before they reach a terminal.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import TYPE_CHECKING, Any

from pointmodel.base.figures import ARCMINUTE_NOTE, clean

if TYPE_CHECKING:
    from rich.console import RenderableType

NARROWEST_COLUMNS = 40
GAP = 2  # blanks between columns
MOST_LINES = 3  # of a cell, before a table becomes a list
LONGEST_WORD = 20
LONGEST_RULE = 60
KEPT = "\x00"  # stands for a blank at which no line may break; no cleaned text holds one

Row = Sequence[str]


class TextPage:
    """Headings, paragraphs, lists and tables set one under the other in a given width."""

    def __init__(self, width: int, color: bool) -> None:
        """An empty page; `color` is overruled by the environment's NO_COLOR."""
        from rich.console import Console

        color = color and not os.environ.get("NO_COLOR")
        self._lines = StringIO()
        self._explained = False
        self._console = Console(
            file=self._lines,
            width=max(width, NARROWEST_COLUMNS),
            force_terminal=color,
            color_system="standard" if color else None,
            no_color=not color,
            legacy_windows=False,
            highlight=False,
        )

    def _explain(self, *told: str) -> None:
        """Say what ′ means below the first words that hold one."""
        if not self._explained and any("′" in part for part in told):
            self._explained = True
            self._console.print(self._set(ARCMINUTE_NOTE))

    def text(self) -> str:
        """All that was set, without blanks at line ends."""
        lines = (line.rstrip() for line in self._lines.getvalue().strip("\n").split("\n"))
        return "\n".join(lines) + "\n"

    def heading(self, told: str) -> None:
        """A heading, in capitals so that it stands out without colour too."""
        self._console.print(self._set(told.upper(), bold=True))

    def paragraph(self, told: str | None, bold: bool = False) -> None:
        """One paragraph; nothing where there are no words."""
        if told:
            self._console.print(self._set(told, bold))
            self._explain(told)
            self._console.print()

    def rule(self) -> None:
        """A line across, between what must be read and what may be."""
        self._console.print("─" * min(self._console.width, LONGEST_RULE))

    def picture(self, lines: Sequence[str]) -> None:
        """Lines set as they are; nothing where the page is too narrow for them."""
        from rich.text import Text

        if lines and max(map(len, lines)) <= self._console.width:
            for line in (*lines, ""):
                self._console.print(Text(clean(line)))

    def bullets(self, title: str | None, items: Iterable[str]) -> None:
        """A list under its title; nothing where it is empty."""
        self.labelled(title, [("-", item) for item in items])

    def labelled(self, title: str | None, rows: Sequence[tuple[str, str]]) -> None:
        """A list under its title, each entry beside its own label; nothing where it is empty."""
        if not rows:
            return
        if title:
            self.heading(title)
        grid = self._grid(2, 0)
        for label, told in rows:
            grid.add_row(self._set(label), self._set(told))
        self._console.print(grid)
        self._explain(*(told for _, told in rows))
        self._console.print()

    def table(self, title: str | None, head: Row, rows: Sequence[Row], right: int = 0) -> None:
        """A table under its title, its last `right` columns set flush right; nothing without rows.

        Columns give way at blanks, the widest first, down to `MOST_LINES` lines a cell. Where the
        width is too small even so, each row becomes an item of a list.
        """
        if not rows:
            return
        widths = _column_widths(head, rows, self._console.width)
        if widths is None:
            self.bullets(title, (_row_in_words(head, row) for row in rows))
        else:
            if title:
                self.heading(title)
            grid = self._grid(len(head) - right, right, widths)
            for row in (head, *rows):
                grid.add_row(*map(self._cell, row, widths))
            self._console.print(grid)
            self._explain(*(cell for row in rows for cell in row))
            self._console.print()

    def _cell(self, told: str, width: int) -> RenderableType:
        return self._lines_of(_wrapped(clean(told).strip(), width))

    @staticmethod
    def _grid(left: int, right: int, widths: Sequence[int | None] = ()) -> Any:
        from rich.table import Table

        grid = Table.grid(padding=(0, GAP, 0, 0))
        for k in range(left + right):
            width = widths[k] if widths else None
            grid.add_column(overflow="fold", justify="left" if k < left else "right", width=width)
        return grid

    @staticmethod
    def _lines_of(lines: Sequence[str]) -> RenderableType:
        from rich.text import Text

        return Text("\n".join(lines))

    @staticmethod
    def _set(told: str, bold: bool = False) -> RenderableType:
        from rich.text import Text

        return Text(clean(told).strip(), style="bold" if bold else "")


def _column_widths(head: Row, rows: Sequence[Row], width: int) -> list[int] | None:
    """Return the columns' widths within the page's; None where that is too narrow for columns."""
    columns = [[clean(cell).strip() for cell in column] for column in zip(head, *rows, strict=True)]
    least = [max(_narrowest(cell, MOST_LINES) for cell in column) for column in columns]
    found = [max(map(len, column)) for column in columns]
    room = width - GAP * len(head)
    if sum(least) > room:
        return None
    while sum(found) > room:
        spare = [now > floor for now, floor in zip(found, least, strict=True)]
        widest = max((k for k, can_give in enumerate(spare) if can_give), key=found.__getitem__)
        found[widest] -= 1
    balanced = [_balanced(column, now) for column, now in zip(columns, found, strict=True)]
    return [found[0], *balanced[1:]]


def _balanced(column: Sequence[str], width: int) -> int:
    """Return the least width at which no cell of a column needs more lines than at this one."""
    return max(_narrowest(cell, max(1, len(_wrapped(cell, width)))) for cell in column)


def _narrowest(cell: str, lines: int) -> int:
    """Return the least width in which a cell stands in so many lines of whole words.

    Words longer than `LONGEST_WORD` (a user's own) are broken; at least 1.
    """
    longest = min(max(map(len, _kept(cell).split()), default=1), LONGEST_WORD)
    widths = range(longest, max(len(cell), longest) + 1)
    return next((width for width in widths if len(_wrapped(cell, width)) <= lines), longest)


def _wrapped(cell: str, width: int) -> list[str]:
    """Return the lines of a cell; a number and its unit stay together."""
    from textwrap import wrap

    return [line.replace(KEPT, " ") for line in wrap(_kept(cell), max(width, 1))]


def _kept(cell: str) -> str:
    return re.sub(r"(?<=\d) (?=%|mm\b|min\b|turns?\b|\d/\d)|(?<=over|nder) (?=\d)", KEPT, cell)


def _row_in_words(head: Row, row: Row) -> str:
    told = (
        f"{title[0].upper() + title[1:]}: {cell}."
        for title, cell in zip(head[1:], row[1:], strict=True)
    )
    return " ".join((f"{row[0]}.", *told))
