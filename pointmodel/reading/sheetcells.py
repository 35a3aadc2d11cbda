"""Filled cells of a sheet by row and column, gathered within limits that no log reaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from pointmodel.reading.rows import MOST_COLUMNS
from pointmodel.reading.sheetparts import SheetError

# The last row and column of a sheet: ECMA-376 gives 1,048,576 rows (18.3.1.73, with the grid of the
# programs that write it), OpenDocument names no limit, and its programs have the same.
LAST_ROW = 1_048_576
LAST_COLUMN = 16_384
MOST_CELLS = 150_000  # from the first column to the last filled one of each row: a choice, 12,000
# lines of a dozen columns
LONGEST_TEXT = 32_767  # letters in a cell, the limit of the programs that write sheets
_LETTERS = 26


@dataclass
class SheetCells:
    """One sheet: its name, and its filled cells by row and column, both counted from 1."""

    name: str
    rows: dict[int, dict[int, object]] = field(default_factory=dict)
    _widths: dict[int, int] = field(default_factory=dict)  # last filled column by row
    _area: int = 0

    def put(self, row: int, column: int, value: object) -> None:
        """Hold a filled cell; an empty one is passed over. Raises SheetError beyond the limits."""
        if value is None or value == "":
            return
        if not 1 <= row <= LAST_ROW:
            raise SheetError("a row that no sheet has")
        if not 1 <= column <= MOST_COLUMNS:
            wanted = f"a log within the first {MOST_COLUMNS} columns; empty that cell"
            raise SheetError(f"a filled cell in column {column_letters(column)}", row, wanted)
        if isinstance(value, str) and len(value) > LONGEST_TEXT:
            raise SheetError(f"a text of {len(value)} letters in one cell", row)
        wider = column - self._widths.get(row, 0)
        if wider > 0:
            self._widths[row] = column
            self._area += wider
        if self._area > MOST_CELLS:
            wanted = "the log alone on its sheet"
            raise SheetError(f"a sheet of more than {MOST_CELLS} cells", row, wanted)
        self.rows.setdefault(row, {})[column] = value

    def listed(self) -> tuple[list[int], list[Sequence[object]]]:
        """Numbers of the rows that hold anything, and their cells from the first column on."""
        numbers = sorted(self.rows)
        return numbers, [self._row(number) for number in numbers]

    def _row(self, number: int) -> list[object]:
        cells = self.rows[number]
        return [cells.get(column) for column in range(1, self._widths[number] + 1)]


def column_letters(column: int) -> str:
    """What a sheet calls a column that is counted from 1: A, Z, AA."""
    letters = ""
    while column > 0:
        column, rest = divmod(column - 1, _LETTERS)
        letters = chr(ord("A") + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """The column, from 1, of up to three letters as a sheet calls it."""
    number = 0
    for letter in letters:
        number = number * _LETTERS + ord(letter) - ord("A") + 1
    return number
