"""Logs kept in a spreadsheet: the first sheet of an .xlsx or .ods file that holds anything."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import join, quoted
from pointmodel.reading.cells import cell_text
from pointmodel.reading.rows import Table, drop_remarks, fit_to_header, no_header


def table_of_sheet(data: bytes, file: str) -> Table:
    """Rows of the first sheet that is not empty; a Notice names further ones. Raises InputError."""
    filled = [(name, rows) for name, rows in _sheets(data, file) if any(any(row) for row in rows)]
    if not filled:
        raise no_header(file)
    name, cells = filled[0]
    notices = []
    if len(filled) > 1:
        others = join([quoted(other) for other, _ in filled[1:]])
        text = f"{file}: read the sheet {quoted(name)}; not read: {others}"
        notices.append(Notice("other_sheets", text))
    rows, lines, told = drop_remarks([[cell_text(cell) for cell in row] for row in cells])
    if not rows:
        raise no_header(file)
    return fit_to_header(
        file, rows, lines=lines, decimal_comma=True, problems=[], notices=[*notices, *told]
    )


def _sheets(data: bytes, file: str) -> list[tuple[str, list[list[Any]]]]:
    """Names and cells of all sheets, from their first row and column on."""
    try:
        from python_calamine import CalamineWorkbook
    except ImportError:
        found = "a spreadsheet file, which needs a further package"
        wanted = 'pip install "pointmodel[sheets]", or the sheet saved as CSV'
        raise InputError([Problem(file, None, None, found, wanted)]) from None
    try:
        book = CalamineWorkbook.from_filelike(BytesIO(data))
        return [
            (name, book.get_sheet_by_name(name).to_python(skip_empty_area=False))
            for name in book.sheet_names
        ]
    except Exception as error:  # the package's errors have no common base that it promises
        found = f"a file that looks like a spreadsheet but cannot be read ({error})"
        wanted = "an .xlsx or .ods file without password, or the sheet saved as CSV"
        raise InputError([Problem(file, None, None, found, wanted)]) from None
