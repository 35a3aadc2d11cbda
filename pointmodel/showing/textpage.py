"""A page of plain terminal text: headings, paragraphs, lists and tables within a given width.

No colour and no boxes when piped, never wider than asked. Words that a user supplied are cleaned of
control characters before they reach a terminal.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import TYPE_CHECKING, Any

from pointmodel.base.figures import clean

if TYPE_CHECKING:
    from rich.console import RenderableType

NARROWEST_COLUMNS = 40
WIDEST_UNBROKEN_CELL = 20
LONGEST_RULE = 60

Row = Sequence[str]


class TextPage:
    """Headings, paragraphs, lists and tables set one under the other in a given width."""

    def __init__(self, width: int, color: bool) -> None:
        """An empty page; `color` is overruled by the environment's NO_COLOR."""
        from rich.console import Console

        color = color and not os.environ.get("NO_COLOR")
        self._lines = StringIO()
        self._console = Console(
            file=self._lines,
            width=max(width, NARROWEST_COLUMNS),
            force_terminal=color,
            color_system="standard" if color else None,
            no_color=not color,
            legacy_windows=False,
            highlight=False,
        )

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
            self._console.print()

    def rule(self) -> None:
        """A line across, between what must be read and what may be."""
        self._console.print("─" * min(self._console.width, LONGEST_RULE))
        self._console.print()

    def picture(self, lines: Sequence[str]) -> None:
        """Lines set as they are; nothing where the page is too narrow for them."""
        from rich.text import Text

        if lines and max(map(len, lines)) <= self._console.width:
            for line in (*lines, ""):
                self._console.print(Text(clean(line)))

    def bullets(self, title: str | None, items: Iterable[str]) -> None:
        """A list under its title; nothing where it is empty."""
        rows = list(items)
        if not rows:
            return
        if title:
            self.heading(title)
        grid = self._grid(2, 0)
        for item in rows:
            grid.add_row("-", self._set(item))
        self._console.print(grid)
        self._console.print()

    def table(self, title: str | None, head: Row, rows: Sequence[Row], right: int = 0) -> None:
        """A table under its title, its last `right` columns set flush right; nothing without rows.

        Where the width is too small for columns, each row becomes an item of a list.
        """
        if rows and _least_width(head, rows) > self._console.width:
            self.bullets(title, (_row_in_words(head, row) for row in rows))
        elif rows:
            if title:
                self.heading(title)
            grid = self._grid(len(head) - right, right)
            for row in (head, *rows):
                grid.add_row(*(self._set(cell) for cell in row))
            self._console.print(grid)
            self._console.print()

    @staticmethod
    def _grid(left: int, right: int) -> Any:
        from rich.table import Table

        grid = Table.grid(padding=(0, 2, 0, 0))
        for k in range(left + right):
            grid.add_column(overflow="fold", justify="left" if k < left else "right")
        return grid

    @staticmethod
    def _set(told: str, bold: bool = False) -> RenderableType:
        from rich.text import Text

        return Text(clean(told).strip(), style="bold" if bold else "")


def _least_width(head: Row, rows: Sequence[Row]) -> int:
    titles = [max(map(len, title.split())) for title in head]
    cells = [max(min(len(row[k]), WIDEST_UNBROKEN_CELL) for row in rows) for k in range(len(head))]
    return sum(max(pair) + 2 for pair in zip(titles, cells, strict=True))


def _row_in_words(head: Row, row: Row) -> str:
    told = (
        f"{title[0].lower() + title[1:]} {cell}"
        for title, cell in zip(head[1:], row[1:], strict=True)
    )
    return f"{row[0]}: {'; '.join(told)}"
