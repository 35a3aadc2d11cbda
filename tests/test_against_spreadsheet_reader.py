"""The reader of sheets against another one: python-calamine, on random sheets of other writers.

openpyxl and odfpy write them. What differs by intent: whole days of the year 1900 (lengths of time
past 24 hours here, dates there) and truth (`true` here, `True` there).
"""

from __future__ import annotations

import datetime
import io
from typing import Any

import numpy as np
import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from python_calamine import CalamineWorkbook

from pointmodel.reading.cells import SheetTime, cell_text
from pointmodel.reading.sheets import _sheets

FORMATS = (
    "General", "0.00", "h:mm", "hh:mm:ss", "[h]:mm:ss", "[h]:mm", "mm:ss", "mm:ss.0", "yyyy-mm-dd",
    "dd/mm/yyyy hh:mm", "d mmm yy", '0.0"h"', "[Red]0.0", "#,##0.00;[Red]-#,##0.00", "@",
    "0.00E+00", 'yyyy-mm-dd"T"hh:mm:ss', "h:mm AM/PM", "[$-409]d-mmm;@", r"0\d", "m/d/yy h:mm",
)  # fmt: skip
VALUES: tuple[Any, ...] = (
    "text <b>&\"é", "_x0041_", datetime.datetime(2031, 5, 17, 21, 4, 30), "a\nb", "",
    datetime.date(2031, 5, 17), datetime.time(12, 30, 36), "2031-05-17T20:10+10:00",
    datetime.timedelta(hours=123, minutes=45, seconds=30.5), datetime.timedelta(minutes=41.55),
)  # fmt: skip
OPEN_CELLS: tuple[dict[str, str], ...] = (
    {"valuetype": "float", "value": "123.456"},
    {"valuetype": "percentage", "value": "0.5"},
    {"valuetype": "date", "datevalue": "2031-05-17"},
    {"valuetype": "date", "datevalue": "2031-05-17T20:10:00"},
    {"valuetype": "time", "timevalue": "PT123H45M30.5S"},
    {"valuetype": "time", "timevalue": "PT12H30M36S"},
    {"valuetype": "string"},
    {},
)


def assert_alike(data: bytes) -> None:
    (ours,) = _sheets(data)
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    theirs = book.get_sheet_by_index(0).to_python(skip_empty_area=False)
    for row in range(1, len(theirs) + 1):
        for column in range(1, len(theirs[0]) + 1):
            mine = cell_text(ours.rows.get(row, {}).get(column))
            other = cell_text(theirs[row - 1][column - 1])
            if not other.startswith("1900-"):
                assert mine.strip() == other.strip()
                assert isinstance(mine, SheetTime) == isinstance(other, SheetTime)


@pytest.mark.parametrize("from_1904", [False, True])
def test_cells_of_a_workbook_are_read_alike(from_1904: bool) -> None:
    rng = np.random.default_rng(4)
    book = openpyxl.Workbook()
    if from_1904:
        book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for row in range(1, 120):
        for column in range(1, 8):
            figures = (rng.uniform(0, 400), rng.uniform(0, 1), rng.uniform(4e4, 5e4),
                       int(rng.integers(0, 400)), int(rng.integers(40000, 50000)))  # fmt: skip
            choice = int(rng.integers(0, len(VALUES) + len(figures)))
            cell = book.active.cell(row, column)
            if choice < len(VALUES):
                cell.value = VALUES[choice]
            else:
                cell.value = figures[choice - len(VALUES)]
                cell.number_format = FORMATS[int(rng.integers(0, len(FORMATS)))]
    stream = io.BytesIO()
    book.save(stream)
    assert_alike(stream.getvalue())


def test_cells_of_an_open_document_are_read_alike() -> None:
    rng = np.random.default_rng(5)
    document, table = OpenDocumentSpreadsheet(), Table(name="night")
    for _ in range(60):
        row = TableRow(numberrowsrepeated=int(rng.integers(1, 4)))
        for _ in range(7):
            marks = OPEN_CELLS[int(rng.integers(0, len(OPEN_CELLS)))]
            cell = TableCell(**marks, numbercolumnsrepeated=int(rng.integers(1, 4)))
            if marks:
                cell.addElement(P(text="as it is shown"))
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    stream = io.BytesIO()
    document.save(stream)
    assert_alike(stream.getvalue())
