"""A log on the disk, written so that nothing accepted is ever lost.

Five rules. One writer: a lock beside the log. A line is appended whole, with its line feed, and
brought onto the disk before anyone hears of it; where that fails, the file is cut back to what it
was. Before that the log is read again: other programs save it too, and nothing is written into what
cannot be read, or does not say what this program takes it to say. Whatever changes earlier text
(striking a line, adding a column) writes a new file beside the log and puts it in the log's place
in one step (`base/ownfiles.py`). What a killed program left half written was never accepted: it
becomes a remark at the next start.

POSIX.1 on write(): with O_APPEND the bytes go to the end of the file as it is at that moment.
"""

from __future__ import annotations

import contextlib
import csv
import errno
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.ownfiles import clear_leftovers, create_bytes, replace_bytes, write_all
from pointmodel.base.trace import passing_over, trace
from pointmodel.base.wording import printable
from pointmodel.reading.columns import KNOWN, find_columns
from pointmodel.reading.files import read_bytes
from pointmodel.reading.rows import WITHDRAWN, is_comment
from pointmodel.reading.table import read_table
from pointmodel.recording.layout import (
    Layout,
    NamedText,
    cells_by_name,
    has_header,
    is_figure,
    layout_of,
    refuse_sheets,
    renamed,
    usual_header,
    what_changed,
    widened,
)
from pointmodel.recording.lock import Lock, take_lock

_BINARY = getattr(os, "O_BINARY", 0)
CUT_OFF = b"# cut off, not kept: "  # before what a killed program left half written
_WANTED = "the path of a log (.csv, .tsv) to go on with or to begin"
_CURES = {
    errno.ENOSPC: "Make room on the disk first",
    errno.EDQUOT: "Make room on the disk first",
    errno.EFBIG: "Make room on the disk first",
    errno.ENOENT: "Put the log back where it was first",
}


class NotSavedError(Exception):
    """Nothing was written, the log is as it was; the message says why, `cure` what to do."""

    def __init__(self, why: str, cure: str) -> None:
        """Say why and what to do, both without a full stop."""
        super().__init__(why)
        self.cure = cure


class LogFile:
    """A log held open for writing by this program alone; `mended` says what was put right."""

    def __init__(self, path: Path, lock: Lock, layout: Layout, is_new: bool, mended: str) -> None:
        """Use `open_log`."""
        self.path, self.layout, self.is_new, self.mended = path, layout, is_new, mended
        self._lock = lock

    def close(self) -> None:
        """Let another program write."""
        self._lock.release()

    def read(self) -> bytes:
        """All that the log holds now. Raises NotSavedError."""
        with _saving():
            return self.path.read_bytes()

    def append(self, values: Mapping[str, str]) -> None:
        """Bring one line of cells by column name onto the disk. Raises NotSavedError."""
        with _saving():
            line = self._line_of(values)
            self._refuse_to_bury(line)
            self._append(line)

    def insert(self, values: Mapping[str, str], at_line: int) -> None:
        """Bring a line of cells onto the disk as the line of this number, from 1, in one step.

        The lines from there on have numbers one higher. Raises NotSavedError.
        """
        with _saving():
            line = self._line_of(values)
            lines = self.path.read_bytes().splitlines(keepends=True)
            lines.insert(at_line - 1, line)
            replace_bytes(self.path, b"".join(lines))

    def append_text(self, line: str) -> None:
        """Bring one line as it stands onto the disk. Raises NotSavedError."""
        with _saving():
            self._read_again()
            self._append(self._encoded(line))

    def strike(self, line: int) -> None:
        """Turn a line, counted from 1, into a remark that says so. Raises NotSavedError."""
        with _saving():
            lines = self._read_again().splitlines(keepends=True)
            lines[line - 1] = f"{WITHDRAWN} ".encode() + lines[line - 1]
            replace_bytes(self.path, b"".join(lines))

    def restore(self, line: int) -> None:
        """Make a struck line, counted from 1, one of the log again. Raises NotSavedError."""
        with _saving():
            lines = self._read_again().splitlines(keepends=True)
            lines[line - 1] = lines[line - 1].removeprefix(f"{WITHDRAWN} ".encode())
            replace_bytes(self.path, b"".join(lines))

    def put_right(self, lines: Mapping[int, str], remark: str) -> None:
        """Write lines, by number from 1, anew below what they were, which stays as withdrawn.

        The remark stands above the first of them. All of it is done in one step, or none of it.
        Raises NotSavedError.
        """
        with _saving():
            told = self._encoded(remark)
            parts = []
            for number, old in enumerate(self._read_again().splitlines(keepends=True), start=1):
                if number == min(lines):
                    parts.append(told)
                if number in lines:
                    ended = old.rstrip(b"\r\n") + self._encoded("")
                    parts += [f"{WITHDRAWN} ".encode() + ended, self._encoded(lines[number])]
                else:
                    parts.append(old)
            replace_bytes(self.path, b"".join(parts))

    def rename_columns(self, names: Mapping[str, str], holds_rows: bool) -> None:
        """Call columns in which nothing stands yet by other names. Raises NotSavedError."""
        with _saving():
            self._read_again(told=True)
            self._rewrite_header(renamed(self.layout, names, holds_rows))

    def _line_of(self, values: Mapping[str, str]) -> bytes:
        """A line as the log has it now, with the columns that it lacked. Raises NotSavedError."""
        self._read_again(told=True)
        missing = [name for name in values if name not in self.layout.positions]
        if missing:
            self._add_columns(missing)
        return self._encoded(self.layout.line(values))

    def _encoded(self, line: str) -> bytes:
        return self.layout.encoded(line + self.layout.newline)

    def _append(self, line: bytes) -> None:
        self._lock.announce(line)
        try:
            append_bytes(self.path, line, self.layout.newline)
        finally:
            self._lock.finish()

    def _read_again(self, told: bool = False) -> bytes:
        """What the log holds now; its layout is followed. Raises NotSavedError.

        That is raised for what no line can be added to, and once, where it is to be `told`, when
        another program has moved columns or parted them by something else.
        """
        data = self.path.read_bytes()
        before = self.layout
        try:
            self.layout = layout_of(data, str(self.path))
        except InputError as error:
            problem = error.problems[0]
            why = f"another program has changed this log; it is now {problem.found}"
            raise NotSavedError(why, f"Mend it there first; wanted {problem.wanted}") from None
        changed = what_changed(before, self.layout)
        if changed and told:
            why = f"another program has saved this log since: {changed}"
            raise NotSavedError(why, "From here on lines are written in that way")
        return data

    def _refuse_to_bury(self, line: bytes) -> None:
        """Raise NotSavedError where a quotation mark before a line would swallow it."""
        data = self.path.read_bytes()
        data += line if data.endswith((b"\n", b"\r")) else self._encoded("") + line
        table = read_table(NamedText(data, str(self.path)))
        if table.lines and table.lines[-1] == len(data.splitlines()):
            return
        where = next((problem.line for problem in table.problems if problem.line), None)
        place = "" if where is None else f" in line {where}"
        why = f"a quotation mark{place} of this log is not closed, so that lines after it are lost"
        raise NotSavedError(why, "Close it, or take it away, in an editor first")

    def line_with(self, values: Mapping[str, str]) -> bytes:
        """Header and line of these cells alone, to be read before they are kept."""
        missing = [name for name in values if name not in self.layout.positions]
        layout = self._widened(missing) if missing else self.layout
        return layout.alone(layout.line(values))

    def _widened(self, names: list[str]) -> Layout:
        header = widened(self.layout, [name for name in KNOWN if name in names])
        return layout_of(f"{self.layout.told}{header}\n".encode(), str(self.path))

    def _add_columns(self, names: list[str]) -> None:
        """Lengthen the header; rows that are shorter than it are read as they are."""
        self._rewrite_header(self._widened(names).header)

    def _rewrite_header(self, header: str) -> None:
        lines = self.path.read_bytes().splitlines(keepends=True)
        old = lines[self.layout.header_line - 1]
        end = old[len(old.rstrip(b"\r\n")) :]
        start = b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b""
        lines[self.layout.header_line - 1] = start + self.layout.encoded(header) + end
        replace_bytes(self.path, b"".join(lines))
        self.layout = layout_of(self.path.read_bytes(), str(self.path))


def open_log(path: str | Path, new_header: Callable[[], str] = usual_header) -> LogFile:
    """Take a log for writing: one that exists is gone on with, else one is begun.

    Raises InputError where another records on it, where it is no text that lines can be added to,
    and where the file or its folder cannot be written to.
    """
    if str(path) == "-" or "\0" in str(path):
        found = "standard input" if str(path) == "-" else "a name that no file can have"
        raise InputError([Problem(printable(str(path)), None, None, found, _WANTED)])
    told = Path(path)
    real = Path(os.path.realpath(told))  # of a link the file is rewritten, not the link
    refuse_sheets(b"", str(told))
    if real.is_dir():
        raise InputError([Problem(printable(str(told)), None, None, "a folder", _WANTED)])
    lock = take_lock(real)
    clear_leftovers(real)
    try:
        is_new = not os.path.lexists(real)
        mended = "" if is_new else _made_ready(real, str(told), lock)
        if is_new or not has_header(real.read_bytes()):
            _begin(real, new_header(), is_new, lock)
        lock.finish()
        return LogFile(real, lock, layout_of(real.read_bytes(), str(told)), is_new, mended)
    except NotSavedError as error:
        lock.release()
        raise _unwritable(told, str(error)) from None
    except BaseException:
        lock.release()
        raise


def is_cut_off(line: bytes) -> bool:
    """Whether a line is the remark that half a line was made into: it was never accepted."""
    return line.startswith(CUT_OFF)


def append_bytes(path: Path, data: bytes, newline: str = "\n") -> None:
    """Append bytes to a file and bring them onto the disk, or leave it as it was. Raises OSError.

    A last line that somebody left without its end is ended first.
    """
    fd = os.open(path, os.O_RDWR | os.O_APPEND | _BINARY)
    try:
        size = os.lseek(fd, 0, os.SEEK_END)
        if size:
            os.lseek(fd, size - 1, os.SEEK_SET)
            if os.read(fd, 1) not in b"\r\n":
                data = newline.encode() + data
        try:
            write_all(fd, data)
            os.fsync(fd)
        except BaseException:
            with passing_over(OSError):
                os.ftruncate(fd, size)
                os.fsync(fd)
            raise
    finally:
        os.close(fd)


@contextlib.contextmanager
def _saving() -> Iterator[None]:
    """Tell of a disk that does not take it as NotSavedError."""
    try:
        yield
    except OSError as error:
        cure = _CURES.get(error.errno or 0, "See first that the disk can be written to")
        raise NotSavedError(error.strerror or str(error), cure) from None


def _begin(path: Path, header: str, is_new: bool, lock: Lock) -> None:
    """Write the header of a log that has none."""
    data = f"{header}\n".encode()
    with _saving():
        if is_new:
            create_bytes(path, data)
        else:
            lock.announce(data)
            append_bytes(path, data)


def _made_ready(path: Path, file: str, lock: Lock) -> str:
    """See that a log can be written to, and mend its end; what was mended, in words.

    Where the last writer was killed, an end without a line feed may be a line that it had not
    finished; elsewhere somebody's editor leaves the last line so, and `append_bytes` ends it.
    """
    data = read_bytes(path, _WANTED)
    refuse_sheets(data, file)
    if not path.is_file():
        raise InputError([Problem(file, None, None, "something that is no file", _WANTED)])
    with _saving():
        os.close(os.open(path, os.O_RDWR | os.O_APPEND | _BINARY))
        torn = data[max(data.rfind(b"\n"), data.rfind(b"\r")) + 1 :]
        if not lock.left_over or not torn or not _is_cut_off(data, torn, lock.unfinished):
            return ""
        rest = torn.strip(b"\0 ")
        whole = data[: len(data) - len(torn)]
        replace_bytes(path, whole + (CUT_OFF + rest + b"\n" if rest else b""))
    return "the last line was cut off when the program was stopped; it was not kept: enter it again"


def _is_cut_off(data: bytes, torn: bytes, unfinished: bytes) -> bool:
    """Whether the open end of a log is what a killed writer had begun, not what an editor left.

    It is what the writer had announced, or has zeros in it (a power cut), or is not all that a line
    should be.
    """
    if b"\0" in torn or (unfinished and unfinished.startswith(torn)):
        return True
    try:
        layout = layout_of(data, "the log")
        table = read_table(NamedText(data, "the log"))
    except InputError:
        trace()
        return True
    text = torn.decode(layout.encoding, "replace")
    if is_comment(text) or table.header_line == len(data.splitlines()):
        return False
    if not table.lines or table.lines[-1] != len(data.splitlines()):
        return True
    cells = cells_by_name(table, table.rows[-1], find_columns(table)[0])
    has_all_figures = all(name in cells for name in layout.positions if is_figure(name))
    has_all_cells = len(next(csv.reader([text], delimiter=layout.separator))) >= layout.width
    return not (has_all_figures or has_all_cells)


def _unwritable(path: Path, reason: str) -> InputError:
    found = f"a log that cannot be written to ({reason})"
    wanted = "a file of your own on a disk with room; nothing was changed"
    return InputError([Problem(printable(str(path)), None, None, found, wanted)])
