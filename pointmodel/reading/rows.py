"""A log as a table of text: rows fitted to the header, remarks dropped."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import line_list

EXAMPLE_HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"
MOST_COLUMNS = 1000  # a choice: forty mean something; each other one is compared with all of those
MOST_LINES = 200_000  # a choice: as many as `simulate` makes, a thousand times what a night has
MOST_FIELDS = (
    5_000_000  # a choice: 400,000 lines of a dozen columns; short rows are filled up to it
)
WITHDRAWN = "# undone:"  # how `record` marks a line that was taken back
_COMMENT = re.compile(r"\s*#(?!(?:REF|VALUE|NAME|NUM|NULL)[!?]|N/A|DIV/0!)")
_BEGINS_A_FIGURE = re.compile(r"\s*[+−-]?\.?\d")


@dataclass(frozen=True)
class Table:
    """The cells of a log as text: a header, and rows as wide as it, each with its line.

    `remarks` are the lines of a text that begin with #, with their numbers.
    """

    file: str
    header: tuple[str, ...]
    rows: list[Sequence[str]]
    lines: list[int]
    decimal_comma: bool
    header_line: int | None = 1
    problems: list[Problem] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    remarks: tuple[tuple[int, str], ...] = ()


def fit_to_header(
    file: str,
    rows: list[Sequence[str]],
    lines: list[int],
    decimal_comma: bool,
    problems: list[Problem],
    notices: list[Notice],
) -> Table:
    """Take the first row as header, and bring the others to its width or name them as problems.

    Raises InputError for a table far larger than a log.
    """
    header = tuple(cell.strip() for cell in rows[0])
    width = len(header)
    _refuse_too_large(file, lines[0] or None, width, len(rows))
    fitted: list[Sequence[str]] = []
    numbers: list[int] = []
    for row, line in zip(rows[1:], lines[1:], strict=True):
        fits = row if len(row) == width else _fitted(row, width)
        if fits is None:
            problems.append(_too_wide(file, line, row, header))
        elif (joined := "".join(fits)) and not joined.isspace():
            fitted.append(fits)
            numbers.append(line)
    return Table(
        file=file,
        header=header,
        rows=fitted,
        lines=numbers,
        decimal_comma=decimal_comma,
        header_line=lines[0] or None,
        problems=problems,
        notices=notices,
    )


def _refuse_too_large(file: str, header_line: int | None, width: int, rows: int) -> None:
    if width > MOST_COLUMNS:
        found, wanted = f"a header of {width} columns", f"at most {MOST_COLUMNS} columns"
    elif rows > MOST_LINES + 1:
        found, wanted = f"{rows - 1} lines", f"a log of at most {MOST_LINES} lines"
    elif width * rows > MOST_FIELDS:
        found = f"{rows} lines under a header of {width} columns"
        wanted = "a log of one night, without columns that it does not need"
    else:
        return
    raise InputError([Problem(file, header_line, None, found, wanted)])


def _fitted(row: Sequence[str], width: int) -> Sequence[str] | None:
    """A row with empty cells put or cut at its end; None where more than empty cells hang over."""
    if len(row) < width:
        return [*row, *[""] * (width - len(row))]
    return None if any(cell.strip() for cell in row[width:]) else row[:width]


def _too_wide(file: str, line: int, row: Sequence[str], header: Sequence[str]) -> Problem:
    found = f"a row of {len(row)} fields where the header has {len(header)}"
    figures = sum(cell.strip(" -+").isdigit() for cell in row)
    if figures > sum(name.lower().endswith(("_az", "_alt")) for name in header):
        wanted = "a decimal point: if these are decimal commas, part the columns by ; instead"
    else:
        wanted = "one field a column: text that holds the separator in quotation marks"
    return Problem(file, line, None, found, wanted)


def no_header(file: str) -> InputError:
    """The error of a log in which nothing stands but remarks."""
    wanted = f"a header line such as {EXAMPLE_HEADER}"
    return InputError([Problem(file, None, None, "an empty log", wanted)])


def is_comment(first_cell: str) -> bool:
    """Whether a row that begins with this cell is a remark."""
    return _COMMENT.match(first_cell) is not None


def remarks_like_rows(remarks: Iterable[tuple[int, Sequence[str]]], width: int) -> list[Notice]:
    """Tell of remarks that have as many fields as the header, and figures in them.

    `remarks` are line and fields. Lines that `record` withdrew say so, and are not told.
    """
    alike = [
        line
        for line, fields in remarks
        if len(fields) == width
        and sum(_BEGINS_A_FIGURE.match(field) is not None for field in fields[1:]) >= 2
        and not fields[0].strip().startswith(WITHDRAWN)
    ]
    if not alike:
        return []
    text = (
        f"{line_list(alike)}: begins with # and is passed over as a remark, though it looks like a "
        "line of the log. If it is one, take the # away, or put its first cell in quotation marks"
    )
    return [Notice("remark_like_a_line", text)]


def drop_remarks(
    rows: Iterable[tuple[int, Sequence[str]]],
) -> tuple[list[Sequence[str]], list[int], list[Notice]]:
    """Rows of a sheet, given with their numbers, that are neither empty nor remarks; the numbers.

    The third is what to say of the remarks.
    """
    kept: list[tuple[int, Sequence[str]]] = []
    remarks: list[tuple[int, Sequence[str]]] = []
    for number, row in rows:
        if any(cell.strip() for cell in row):
            (remarks if is_comment(row[0]) else kept).append((number, row))
    told = remarks_like_rows(remarks, len(kept[0][1])) if kept else []
    return [row for _, row in kept], [number for number, _ in kept], told
