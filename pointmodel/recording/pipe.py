"""The same for programs: log lines on standard input, one JSON line back for each.

The header comes first and is not answered. An answer with `kept` is given once the line is safely
on the disk; one with `refused` leaves the log as it was.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, BinaryIO

import msgspec

from pointmodel.base.documents import or_why, plain
from pointmodel.base.errors import InputError, Problem
from pointmodel.reading.columns import CENTRED, COMMANDED, KNOWN, find_columns
from pointmodel.reading.rows import EXAMPLE_HEADER, is_comment
from pointmodel.reading.table import read_table
from pointmodel.recording.layout import NamedText, cells_by_name, has_header, usual_header
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.session import Kept, RefusedError, Session

STDIN = "-"
_LINE_END = re.compile(rb"\r|\n")
_READ_AT_ONCE = 1 << 16  # bytes
_LONGEST_LINE = 1_000_000  # bytes, a choice: a line of a log has a hundred or two


class PipedLines:
    """Lines from a stream: the header, read when first asked for, then one line after another.

    A line ends with LF, CR, or both; one that ends with CR is answered without waiting for more.
    """

    def __init__(self, stream: BinaryIO) -> None:
        """Nothing is read yet."""
        # whatever has come: `read` waits for the end, `readline` for a line feed
        self._more: Callable[[int], bytes] = getattr(stream, "read1", stream.readline)
        self._read = b""  # what was read and is no line yet
        self._header = b""
        self._has_header = False
        self._after_cr = False

    def header(self) -> bytes:
        """The header with what stands above it. Raises InputError where it names no pairs."""
        while not self._has_header:
            line = self._line()
            if line is None:
                wanted = f"a header line such as {EXAMPLE_HEADER}"
                raise InputError([Problem(STDIN, None, None, "no header", wanted)])
            self._header += line + b"\n"
            self._has_header = has_header(line)
        find_columns(read_table(NamedText(self._header, STDIN)))
        return self._header

    def _line(self) -> bytes | None:
        """The next line without its end, None at the end of the stream.

        Raises InputError for one that does not end.
        """
        while True:
            if self._after_cr and self._read:
                self._read, self._after_cr = self._read.removeprefix(b"\n"), False
            if end := _LINE_END.search(self._read):
                line, self._read = self._read[: end.start()], self._read[end.end() :]
                self._after_cr = end[0] == b"\r"
                return line
            more = self._more(_READ_AT_ONCE)
            if not more:
                rest, self._read = self._read, b""
                return rest or None
            self._read += more
            if len(self._read) > _LONGEST_LINE and not _LINE_END.search(self._read):
                found = f"{_LONGEST_LINE // 1_000_000} MB without the end of a line"
                raise InputError([Problem(STDIN, None, None, found, "the lines of a log")])

    def header_for_new_log(self) -> str:
        """The usual header, with the columns that the program sends."""
        positions, _ = find_columns(read_table(NamedText(self.header(), STDIN)))
        names = usual_header().split(",")
        if not set(CENTRED) & set(positions):  # a camera's, or written in right ascension
            names = [n for n in names if n in positions or n not in (*COMMANDED, *CENTRED)]
        return ",".join([*names, *(n for n in KNOWN if n in positions and n not in names)])

    def __iter__(self) -> Iterator[str]:
        """Every further line that is not empty."""
        self.header()
        while (line := self._line()) is not None:
            if line:
                yield line.decode("utf-8", "replace")

    def cells(self, line: str) -> Mapping[str, str]:
        """The filled cells of a line by column name. Raises InputError."""
        head = self.header()
        table = read_table(NamedText(head.rstrip(b"\r\n") + b"\n" + line.encode(), STDIN))
        if table.problems or not table.rows:
            found = Problem(STDIN, None, None, "an empty line", "the figures of a pair")
            raise InputError(table.problems or [found])
        return cells_by_name(table, table.rows[0], find_columns(table)[0])


def answer_lines(
    session: Session, lines: PipedLines, say: Callable[[str], None], clock: Callable[[], float]
) -> None:
    """Answer every line by one line of JSON until the stream ends."""
    for line in lines:
        if not line.isspace():
            say(msgspec.json.encode(plain(_answer(session, lines, line, clock()))).decode())


def _answer(session: Session, lines: PipedLines, line: str, now_s: float) -> dict[str, Any]:
    try:
        if is_comment(line):
            return _kept(session.keep_remark(line))
        kept = session.keep(lines.cells(line), now_s)
    except NotSavedError as error:
        why = f"not saved: {error}; the log is as it was. {error.cure}. Send the line again"
        return {"refused": why}
    except RefusedError as error:
        return {"refused": str(error)}
    except InputError as error:
        return {"refused": "; ".join(f"read {p.found}; wanted {p.wanted}" for p in error.problems)}
    return _kept(kept)


CANNOT_TELL = "too few pairs before it, or no complete pair"


def _kept(kept: Kept) -> dict[str, Any]:
    remark = kept.remark
    return {
        "kept": kept.line,
        "pairs": kept.pairs,
        "fits": remark.fits,
        **or_why("miss_arcmin", remark.miss_arcmin, CANNOT_TELL),
        "text": remark.text,
    }
