"""Sheets of an .ods file (OpenDocument 1.3, part 3, chapter 9).

All of them stand in one part. Rows and cells that are alike are written once, with how often they
come: a sheet of a few bytes may say a million million cells, so what is empty is only counted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pointmodel.reading.sheetcells import LAST_COLUMN, LAST_ROW, LONGEST_TEXT, SheetCells
from pointmodel.reading.sheetnumbers import figure
from pointmodel.reading.sheetparts import SheetError, SheetParts

CONTENT = "content.xml"
MANIFEST = "META-INF/manifest.xml"
_ENCRYPTED = b"encryption-data"  # OpenDocument 1.3, part 2, 4.8.1
_COUNT = re.compile(r"\d{1,9}", re.ASCII)
_CELLS = ("table-cell", "covered-table-cell")
_FIGURES = ("float", "percentage", "currency")


def opendocument_sheets(parts: SheetParts) -> Iterator[SheetCells]:
    """The sheets in the file's order. Raises SheetError."""
    if MANIFEST in parts and _ENCRYPTED in parts.unpacked(MANIFEST):
        raise SheetError("a spreadsheet with a password")
    reader = _OpenReader()
    parts.walk(CONTENT, reader.start, reader.end, reader.text)
    yield from reader.sheets


class _OpenReader:
    """Gathers sheets from the elements of the content, one after the other."""

    def __init__(self) -> None:
        self.sheets: list[SheetCells] = []
        self._row = self._column = 0
        self._repeated = 1
        self._marks: dict[str, str] | None = None  # of the cell that is open
        self._row_cells: list[tuple[int, int, object]] = []
        self._pieces: list[str] = []
        self._length = 0
        self._in_text = self._notes = self._tables = 0

    def start(self, tag: str, marks: dict[str, str]) -> None:
        """An element begins."""
        if tag == "table":
            self._open_table(marks)
        elif self._tables != 1:
            return
        elif tag == "table-row":
            self._repeated, self._column, self._row_cells = self._times(marks, "rows"), 0, []
        elif tag in _CELLS:
            self._marks, self._pieces, self._length = marks, [], 0
        elif tag == "annotation":  # a remark on a cell stands inside it
            self._notes += 1
        elif self._marks is not None and not self._notes:
            self._start_text(tag, marks)

    def _open_table(self, marks: dict[str, str]) -> None:
        self._tables += 1  # tables within cells are no sheets
        if self._tables == 1:
            self.sheets.append(SheetCells(marks.get("name", "")))
            self._row = 0

    def _start_text(self, tag: str, marks: dict[str, str]) -> None:
        if tag == "p":
            if self._pieces:
                self._add("\n")
            self._in_text += 1
        elif tag == "s":
            self._add(" " * min(self._counted(marks.get("c")), LONGEST_TEXT + 1))
        elif tag in ("tab", "line-break"):
            self._add(" ")

    def end(self, tag: str) -> None:
        """An element ends."""
        if tag == "table":
            self._tables -= 1
        elif self._tables != 1:
            return
        elif tag == "annotation":
            self._notes -= 1
        elif tag == "p" and not self._notes and self._in_text:
            self._in_text -= 1
        elif tag in _CELLS and self._marks is not None:
            self._close_cell(self._marks)
        elif tag == "table-row":
            self._close_row()

    def text(self, text: str) -> None:
        """Letters inside an element."""
        if self._in_text and not self._notes and self._tables == 1:
            self._add(text)

    def _add(self, text: str) -> None:
        self._length += len(text)
        if self._length > LONGEST_TEXT:
            raise SheetError("a text of more letters than a cell holds", self._row + 1)
        self._pieces.append(text)

    def _close_cell(self, marks: dict[str, str]) -> None:
        times = self._times(marks, "columns")
        value = self._value(marks)
        if value != "":
            self._row_cells.append((self._column + 1, times, value))
        self._column += times
        self._marks, self._in_text = None, 0
        if self._column > LAST_COLUMN:
            raise SheetError(f"a row of more than {LAST_COLUMN} cells", self._row + 1)

    def _close_row(self) -> None:
        """Put the row down as often as it comes; an empty one is but counted."""
        sheet, first = self.sheets[-1], self._row + 1
        self._row += self._repeated
        if self._row > LAST_ROW:
            raise SheetError(f"more than {LAST_ROW} rows", first)
        for row in range(first, self._row + 1) if self._row_cells else ():
            for column, times, value in self._row_cells:
                for further in range(times):
                    sheet.put(row, column + further, value)

    def _value(self, marks: dict[str, str]) -> object:
        """What the cell that has just ended holds, as it is written in the file."""
        kind = marks.get("value-type")
        if kind in _FIGURES:
            return figure(marks.get("value", ""))
        if kind in ("date", "time", "boolean"):
            return marks.get(f"{kind}-value", "")
        return marks.get("string-value") or "".join(self._pieces)

    def _times(self, marks: dict[str, str], what: str) -> int:
        return self._counted(marks.get(f"number-{what}-repeated"))

    def _counted(self, text: str | None) -> int:
        if text is None:
            return 1
        if not _COUNT.fullmatch(text) or int(text) < 1:
            raise SheetError(f"something that comes {text[:20]} times", self._row + 1)
        return int(text)
