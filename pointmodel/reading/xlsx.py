"""Sheets of an .xlsx file (ECMA-376, part 1, chapter 18).

The file is a ZIP archive: the workbook names the sheets, its relationships the parts they are in;
texts stand once in a part that the sheets share, formats of numbers in another.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator

from pointmodel.reading.sheetcells import LAST_COLUMN, LAST_ROW, SheetCells, column_number
from pointmodel.reading.sheetnumbers import Shown, figure, number_shown, shown_as
from pointmodel.reading.sheetparts import MOST_SHEETS, SheetError, SheetParts

_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})", re.ASCII)
_ROW_NUMBER = re.compile(r"[1-9]\d{0,6}", re.ASCII)
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")  # ECMA-376, 22.9.2.19
_NOTHING: dict[str, str] = {}


def xlsx_sheets(parts: SheetParts) -> Iterator[SheetCells]:
    """The sheets, one at a time, in the workbook's order. Raises SheetError."""
    book = _book_part(parts)
    related = _relations(parts, book)
    workbook = _Workbook(parts, book)
    by_kind = dict(related.values())
    texts = _texts(parts, by_kind.get("sharedStrings"))
    formats = _formats(parts, by_kind.get("styles"))
    for name, relation in workbook.sheets:
        kind, part = related.get(relation, ("", ""))
        if kind == "worksheet":
            yield _SheetReader(name, texts, formats, workbook.from_1904).read(parts, part)


def _book_part(parts: SheetParts) -> str:
    if "_rels/.rels" in parts:
        for kind, part in _relations(parts, "").values():
            if kind == "officeDocument":
                return part
    raise SheetError("a ZIP archive that is no spreadsheet")


def _relations(parts: SheetParts, part: str) -> dict[str, tuple[str, str]]:
    """Kind and name of each part that a part refers to, by the name of the reference."""
    folder, name = posixpath.split(part)
    found: dict[str, tuple[str, str]] = {}

    def start(tag: str, marks: dict[str, str]) -> None:
        if tag == "Relationship" and marks.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", folder, marks.get("Target", "")))
            kind = marks.get("Type", "").rpartition("/")[2]
            found[marks.get("Id", "")] = (kind, target.lstrip("/"))

    parts.walk(posixpath.join(folder, "_rels", f"{name}.rels"), start, _ignored, _ignored)
    return found


def _ignored(*_: object) -> None:
    pass


class _Workbook:
    """Names of the sheets with their references, and from which year its days count."""

    def __init__(self, parts: SheetParts, part: str) -> None:
        self.sheets: list[tuple[str, str]] = []
        self.from_1904 = False
        parts.walk(part, self._start, _ignored, _ignored)

    def _start(self, tag: str, marks: dict[str, str]) -> None:
        if tag == "sheet":
            self.sheets.append((marks.get("name", ""), marks.get("id", "")))
            if len(self.sheets) > MOST_SHEETS:
                raise SheetError(f"a spreadsheet of more than {MOST_SHEETS} sheets")
        elif tag == "workbookPr":
            self.from_1904 = marks.get("date1904") in ("1", "true")


def _texts(parts: SheetParts, part: str | None) -> list[str]:
    """The texts that the sheets share, in order."""
    texts: list[str] = []
    gathered = _Gathered()

    def start(tag: str, marks: dict[str, str]) -> None:
        if tag == "si":
            gathered.clear()
        gathered.start(tag)

    def end(tag: str) -> None:
        gathered.end(tag)
        if tag == "si":
            texts.append(gathered.text())

    if part is not None and part in parts:
        parts.walk(part, start, end, gathered.add)
    return texts


class _Gathered:
    """Text inside `<t>`, whatever runs it is split into; that of phonetic guides is left out."""

    def __init__(self) -> None:
        self._pieces: list[str] = []
        self._open = self._phonetic = False

    def clear(self) -> None:
        self._pieces = []

    def start(self, tag: str) -> None:
        self._phonetic = self._phonetic or tag == "rPh"
        self._open = tag == "t" and not self._phonetic

    def end(self, tag: str) -> None:
        self._phonetic = self._phonetic and tag != "rPh"
        self._open = False

    def add(self, text: str) -> None:
        if self._open:
            self._pieces.append(text)

    def text(self) -> str:
        joined = "".join(self._pieces)
        return _ESCAPED.sub(lambda code: chr(int(code[1], 16)), joined)


def _formats(parts: SheetParts, part: str | None) -> list[Shown]:
    """What each format of a cell shows, in the order that cells refer to."""
    codes: dict[int, str] = {}
    numbers: list[int] = []
    inside: list[bool] = [False]

    def start(tag: str, marks: dict[str, str]) -> None:
        if tag == "numFmt":
            codes[_whole(marks.get("numFmtId"), -1)] = marks.get("formatCode", "")
        elif tag == "cellXfs":
            inside[0] = True
        elif tag == "xf" and inside[0]:
            numbers.append(_whole(marks.get("numFmtId"), 0))

    def end(tag: str) -> None:
        if tag == "cellXfs":
            inside[0] = False

    if part is not None and part in parts:
        parts.walk(part, start, end, _ignored)
    return [shown_as(number, codes.get(number)) for number in numbers]


def _whole(text: str | None, otherwise: int) -> int:
    return int(text) if text is not None and re.fullmatch(r"\d{1,9}", text, re.A) else otherwise


class _SheetReader:
    """Reads the cells of one sheet; where a cell has no reference it is the next one."""

    def __init__(self, name: str, texts: list[str], formats: list[Shown], from_1904: bool) -> None:
        self._cells = SheetCells(name)
        self._texts, self._formats, self._from_1904 = texts, formats, from_1904
        self._row = self._column = 0
        self._marks = _NOTHING
        self._value: list[str] = []
        self._in_value = False
        self._inline = _Gathered()

    def read(self, parts: SheetParts, part: str) -> SheetCells:
        """The sheet's cells. Raises SheetError."""
        parts.walk(part, self._start, self._end, self._text)
        return self._cells

    def _start(self, tag: str, marks: dict[str, str]) -> None:
        if tag == "c":
            self._open_cell(marks)
        elif tag == "v":
            self._in_value = True
        elif tag == "row":
            self._open_row(marks.get("r"))
        self._inline.start(tag)

    def _end(self, tag: str) -> None:
        self._inline.end(tag)
        if tag == "v":
            self._in_value = False
        elif tag == "c":
            self._cells.put(self._row, self._column, self._held())

    def _text(self, text: str) -> None:
        if self._in_value:
            self._value.append(text)
        else:
            self._inline.add(text)

    def _open_row(self, number: str | None) -> None:
        self._column = 0
        if number is None:
            self._row += 1
        elif _ROW_NUMBER.fullmatch(number) and int(number) <= LAST_ROW:
            self._row = int(number)
        else:
            raise SheetError(f"a row numbered {number[:20]}, which no sheet has", self._row or None)

    def _open_cell(self, marks: dict[str, str]) -> None:
        self._marks, self._value = marks, []
        self._inline.clear()
        reference = marks.get("r")
        if reference is None:
            self._column += 1
            return
        place = _REFERENCE.fullmatch(reference)
        if place is None or int(place[2]) > LAST_ROW or column_number(place[1]) > LAST_COLUMN:
            raise SheetError(
                f"a cell named {reference[:20]}, which no sheet has", self._row or None
            )
        self._column, self._row = column_number(place[1]), int(place[2])

    def _held(self) -> object:
        """The value of the cell that has just ended."""
        kind, text = self._marks.get("t", "n"), "".join(self._value)
        if kind == "inlineStr":
            return self._inline.text()
        if kind == "s":
            return self._shared(text)
        if kind == "b" and text:
            return text.strip() in ("1", "true")
        if kind != "n" or not text:
            return text
        number = figure(text)
        if isinstance(number, str):
            return number
        style = _whole(self._marks.get("s"), 0)
        shown = self._formats[style] if style < len(self._formats) else "number"
        return number_shown(number, shown, self._from_1904)

    def _shared(self, text: str) -> str:
        number = _whole(text.strip(), len(self._texts))
        if number >= len(self._texts):
            raise SheetError(f"a cell with text number {text[:20]}, which is not there", self._row)
        return self._texts[number]
