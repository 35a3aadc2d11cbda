"""Any source of a log as one table of text cells with the line of each row.

A file is told by its content, not by its name: a sheet (.xlsx, .ods) or text. Read first: `Table`
and `read_table`; what the cells mean is the matter of `columns.py`.
"""

from __future__ import annotations

import csv
import os
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, TypeAlias

from pointmodel.base.errors import FRAME, InputError, Notice, Problem
from pointmodel.base.streams import no_input
from pointmodel.base.wording import quoted
from pointmodel.reading.files import bounded, decode_text, read_bytes
from pointmodel.reading.rows import (
    Table,
    fit_to_header,
    is_comment,
    no_header,
    remarks_like_rows,
)
from pointmodel.reading.sheetmarks import SHEET_MAGIC

if TYPE_CHECKING:
    import pandas as pd

LogSource: TypeAlias = "str | Path | IO[str] | IO[bytes] | pd.DataFrame | Mapping[str, Any]"
WANTED_SOURCE = (
    "the path of a log (.csv, .tsv, .xlsx, .ods), - for standard input, a frame or a dict of "
    "columns"
)
LARGEST_LOG_BYTES = 20_000_000  # a choice: 200,000 lines of a hundred letters
_SEPARATOR_LINE = re.compile(r"\s*sep=(.)\s*")  # spreadsheets write it above the header


def read_table(source: LogSource) -> Table:
    """Read a path, "-" (standard input), an open file, a frame or a dict of columns.

    Raises InputError where there is no table at all; rows that do not fit are in `problems`.
    """
    if is_frame(source):
        from pointmodel.reading.frames import table_of_frame

        return table_of_frame(source)
    file = source_name(source)
    data = _content(source)
    if isinstance(data, bytes):
        if data.startswith(SHEET_MAGIC):
            from pointmodel.reading.sheets import table_of_sheet

            return table_of_sheet(data, file)
        text, notice = decode_text(data, file)
        return _table_of_text(text, file, [notice] if notice else [])
    return _table_of_text(data.replace("\r\n", "\n").replace("\r", "\n"), file, [])


def is_frame(source: object) -> bool:
    """Whether a source holds columns in memory: a mapping, or a pandas frame.

    Pandas is looked at only if somebody has imported it.
    """
    if isinstance(source, Mapping):
        return True
    pandas = sys.modules.get("pandas")
    return pandas is not None and isinstance(source, pandas.DataFrame)


def source_name(source: Any) -> str:
    """How messages call a source: its path as given, "-" for standard input, "<frame>"."""
    if is_frame(source):
        return FRAME
    if isinstance(source, (str, os.PathLike)):
        return str(source)
    name = getattr(source, "name", None)
    if source is sys.stdin or name == "<stdin>":
        return "-"
    return name if isinstance(name, str) else "<text>"


def _content(source: Any) -> bytes | str:
    """Everything that a path, standard input or an open file holds."""
    if isinstance(source, (str, os.PathLike)):
        if str(source) != "-":
            return read_bytes(Path(source), WANTED_SOURCE, LARGEST_LOG_BYTES)
        if sys.stdin is None:
            raise no_input(WANTED_SOURCE)
        source = getattr(sys.stdin, "buffer", sys.stdin)
    read = getattr(source, "read", None)
    content = None
    if callable(read):
        try:
            content = read(LARGEST_LOG_BYTES + 1) if source_name(source) == "-" else read()
        except (OSError, ValueError) as error:  # closed, not open for reading, or no UTF-8
            found = f"a stream that cannot be read ({error})"
            raise InputError(
                [Problem(source_name(source), None, None, found, WANTED_SOURCE)]
            ) from None
    if not isinstance(content, (bytes, str)):
        raise InputError([Problem("<log>", None, None, quoted(source), WANTED_SOURCE)])
    if isinstance(content, bytes):
        return bounded(content, source_name(source), LARGEST_LOG_BYTES)
    return content


def _table_of_text(text: str, file: str, notices: list[Notice]) -> Table:
    """Rows of separated text; the separator is the header's."""
    all_lines = text.removeprefix("\ufeff").split("\n")
    told = _SEPARATOR_LINE.fullmatch(all_lines[0])
    kept: list[tuple[int, str]] = []
    remarks: list[tuple[int, str]] = []
    for number, line in enumerate(all_lines, start=1):
        if line and not line.isspace():
            (remarks if is_comment(line) else kept).append((number, line))
    if told:
        del kept[0]
    if not kept:
        raise no_header(file)
    separator = told[1] if told else _separator(kept[0][1])
    rows, lines, problems = _split(kept, separator, file)
    if not rows:
        raise InputError(problems)
    split = [(number, line.split(separator)) for number, line in remarks]
    notices = [*notices, *remarks_like_rows(split, len(rows[0]))]
    table = fit_to_header(
        file,
        rows,
        lines=lines,
        decimal_comma=separator in ";\t",
        problems=problems,
        notices=notices,
    )
    return replace(table, remarks=tuple(remarks))


def _separator(header: str) -> str:
    return next((mark for mark in ";\t" if mark in header), ",")


def _split(
    kept: list[tuple[int, str]], separator: str, file: str
) -> tuple[list[Sequence[str]], list[int], list[Problem]]:
    """Split lines at the separator; stops at a quotation mark that makes no sense."""
    reader = csv.reader(
        (line + "\n" for _, line in kept), delimiter=separator, strict=True, skipinitialspace=True
    )
    rows: list[Sequence[str]] = []
    lines: list[int] = []
    start = 0
    try:
        for row in reader:
            rows.append(row)
            lines.append(kept[start][0])
            start = reader.line_num
    except csv.Error as error:
        number, line = kept[min(start, len(kept) - 1)]
        wanted = f"each quotation mark that opens a cell closed at its end ({error})"
        return rows, lines, [Problem(file, number, None, quoted(line.strip()), wanted)]
    return rows, lines, []
