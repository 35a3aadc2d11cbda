"""Logs kept in a spreadsheet: the first sheet of an .xlsx or .ods file that holds anything."""

from __future__ import annotations

from collections.abc import Iterator

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import join, printable, quoted
from pointmodel.reading.cells import cell_text
from pointmodel.reading.opendocument import CONTENT, opendocument_sheets
from pointmodel.reading.rows import Table, drop_remarks, fit_to_header, no_header
from pointmodel.reading.sheetcells import SheetCells
from pointmodel.reading.sheetmarks import OLD_SHEET_MAGIC
from pointmodel.reading.sheetparts import SheetError, SheetParts
from pointmodel.reading.xlsx import xlsx_sheets

_WANTED = "an .xlsx or .ods file without password, or the sheet saved as CSV"
_MOST_NAMED = 20  # sheets in one remark


def table_of_sheet(data: bytes, file: str) -> Table:
    """Rows of the first sheet that is not empty; a Notice names further ones. Raises InputError."""
    try:
        filled = [sheet for sheet in _sheets(data) if sheet.rows]
    except SheetError as error:
        found, wanted = printable(str(error)), error.wanted or _WANTED
        raise InputError([Problem(file, error.line, None, found, wanted)]) from None
    if not filled:
        raise no_header(file)
    notices = _other_sheets(file, filled)
    numbers, cells = filled[0].listed()
    rows, lines, told = drop_remarks(
        zip(numbers, [[cell_text(cell) for cell in row] for row in cells], strict=True)
    )
    if not rows:
        raise no_header(file)
    return fit_to_header(
        file, rows, lines=lines, decimal_comma=True, problems=[], notices=[*notices, *told]
    )


def _sheets(data: bytes) -> Iterator[SheetCells]:
    """The sheets of a file, told by its content. Raises SheetError."""
    if data.startswith(OLD_SHEET_MAGIC):
        raise SheetError("a spreadsheet of the older kind (.xls), or one with a password")
    parts = SheetParts(data)
    return opendocument_sheets(parts) if CONTENT in parts else xlsx_sheets(parts)


def _other_sheets(file: str, filled: list[SheetCells]) -> list[Notice]:
    if len(filled) < 2:
        return []
    others = join([quoted(sheet.name) for sheet in filled[1 : 1 + _MOST_NAMED]])
    text = f"{file}: read the sheet {quoted(filled[0].name)}; not read: {others}"
    return [Notice("other_sheets", text)]
