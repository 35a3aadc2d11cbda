"""How the lines of one log are written: its columns in their order, separator and line ends.

A log that exists is gone on with as it is; only a column that it lacks is added, at the end.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.figures import clean
from pointmodel.reading.columns import NUDGE, find_columns
from pointmodel.reading.freetext import plain_cell, safe_cell
from pointmodel.reading.rows import Table, is_comment
from pointmodel.reading.sheetmarks import SHEET_ENDINGS, SHEET_MAGIC
from pointmodel.reading.table import read_table

_TOLD_SEPARATOR = re.compile(r"\s*sep=(.)\s*")  # as in reading/table.py
_MARK = b"\xef\xbb\xbf"
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class NamedText(io.BytesIO):
    """Text in memory that messages call by a file's name."""

    def __init__(self, data: bytes, name: str) -> None:
        """Hold the bytes of a file, or of a part of it."""
        super().__init__(data)
        self.name = name


@dataclass(frozen=True)
class Layout:
    """One log's way to write: known columns by place, what parts them, how a line ends.

    `header` is the header line as it stands, `told` a spreadsheet's `sep=` line above it.
    """

    header: str
    positions: Mapping[str, int]
    width: int
    separator: str
    newline: str
    encoding: str
    header_line: int
    told: str

    @property
    def second(self) -> str:
        """What stands beside the commanded place: `centred`, `nudge`, or `seen` in a camera log."""
        if NUDGE[0] in self.positions:
            return "nudge"
        return "seen" if "seen_az" in self.positions else "centred"

    def line(self, values: Mapping[str, str]) -> str:
        """One line of the log, without its end, from cells by column name."""
        cells = [""] * self.width
        for name, text in values.items():
            cells[self.positions[name]] = _cell(name, text, self.separator)
        return self.separator.join(cells)

    def changed(self, row: Sequence[str], values: Mapping[str, str]) -> str:
        """A row of the log as it stands there, without its end, but for some cells by name."""
        cells = [_quoted(cell, self.separator) for cell in row]
        for name, text in values.items():
            cells[self.positions[name]] = _cell(name, text, self.separator)
        return self.separator.join(cells)

    def alone(self, line: str) -> bytes:
        """A log of the header and this one line, to be read before the line is kept."""
        return f"{self.told}{self.header}\n{line}\n".encode()

    def encoded(self, text: str) -> bytes:
        """A text in the log's encoding."""
        return text.encode(self.encoding, "replace")


def _cell(name: str, text: str, separator: str) -> str:
    """One cell, in quotation marks where it would be misread without them."""
    return _quoted(safe_cell(name, clean(text).strip()), separator)


def _quoted(plain: str, separator: str) -> str:
    if separator in plain or '"' in plain or is_comment(plain) or _TOLD_SEPARATOR.match(plain):
        return '"' + plain.replace('"', '""') + '"'
    return plain


def usual_header() -> str:
    """The header of a new log, as `pointmodel new` writes it."""
    text = files("pointmodel").joinpath("templates", "night.csv").read_text("utf-8")
    return text.rstrip("\n").rsplit("\n", 1)[-1]


def has_header(data: bytes) -> bool:
    """Whether anything but remarks, and a spreadsheet's `sep=` line, stands in a log."""
    lines = data.decode("utf-8-sig", "replace").replace("\r", "\n").split("\n")
    if lines and _TOLD_SEPARATOR.fullmatch(lines[0]):
        del lines[0]
    return any(line.strip() and not is_comment(line) for line in lines)


def layout_of(data: bytes, file: str) -> Layout:
    """The layout of a log's bytes. Raises InputError for what cannot be gone on with."""
    refuse_sheets(data, file)
    table = read_table(NamedText(data, file))
    positions, _ = find_columns(table)
    encoding = _encoding(data)
    lines = data.removeprefix(_MARK).splitlines(keepends=True)
    number = table.header_line or 1
    header = lines[number - 1].decode(encoding)
    told = _TOLD_SEPARATOR.fullmatch(lines[0].decode(encoding).rstrip("\r\n"))
    separator = told[1] if told else next((mark for mark in ";\t" if mark in header), ",")
    return Layout(
        header=header.rstrip("\r\n"),
        positions=positions,
        width=len(table.header),
        separator=separator,
        newline=header[len(header.rstrip("\r\n")) :] or "\n",
        encoding=encoding,
        header_line=number,
        told=f"sep={separator}\n" if told else "",
    )


def refuse_sheets(data: bytes, file: str) -> None:
    """Raise InputError for what no line can be appended to: a spreadsheet, UTF-16 text."""
    if data.startswith(SHEET_MAGIC) or file.lower().endswith(SHEET_ENDINGS):
        found = "a spreadsheet, to which no line can be added safely"
    elif data.startswith(_UTF16_MARKS):
        found = "UTF-16 text, to which no line can be added safely"
    else:
        return
    raise InputError([Problem(file, None, None, found, "that log saved as CSV (UTF-8)")])


def _encoding(data: bytes) -> str:
    """UTF-8, or the Western European that `decode_text` falls back to."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def what_changed(before: Layout, now: Layout) -> str | None:
    """What another program did to the way a log is written; None where a line stays the same."""
    names = {",": "commas", ";": "semicolons", "\t": "tabs"}
    if now.separator != before.separator:
        parted = names.get(now.separator, now.separator)
        return f"its columns are parted by {parted} now"
    if all(now.positions.get(name) == place for name, place in before.positions.items()):
        return None
    return "its columns stand in another order now, or are other ones"


def widened(layout: Layout, names: Iterable[str]) -> str:
    """The header line with further columns at its end; shorter rows are read as they are."""
    return layout.separator.join([layout.header, *names])


def renamed(layout: Layout, names: Mapping[str, str], holds_rows: bool) -> str:
    """The header line with columns called otherwise; those that get no name are taken out.

    Where the log `holds_rows` already they stay, without a name, so that the others keep their
    places.
    """
    cells = layout.header.split(layout.separator)
    for old, new in names.items():
        cells[layout.positions[old]] = new
    kept = cells if holds_rows else [cell for cell in cells if cell]
    return layout.separator.join(kept)


def cells_by_name(table: Table, row: Sequence[str], positions: Mapping[str, int]) -> dict[str, str]:
    """The filled cells of a row by column name; decimal commas of angles become points."""
    cells = {name: plain_cell(name, row[place].strip()) for name, place in positions.items()}
    if table.decimal_comma:
        for name in cells:
            if is_figure(name):
                cells[name] = cells[name].replace(",", ".")
    return {name: cell for name, cell in cells.items() if cell}


def is_figure(name: str) -> bool:
    """Whether a column holds one of the figures of a pair."""
    return name.endswith(("_az", "_alt", "_ra", "_dec")) or name in NUDGE
