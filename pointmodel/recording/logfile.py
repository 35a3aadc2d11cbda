"""A log on the disk, written so that nothing accepted is ever lost.

Four rules. One writer: a lock beside the log. A line is appended whole, with its line feed, and
brought onto the disk before anyone hears of it; where that fails, the file is cut back to what it
was. Whatever changes earlier text (striking a line, adding a column) writes a new file beside the
log and puts it in the log's place in one step. What a killed program left half written was never
accepted: it becomes a remark at the next start.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over, trace
from pointmodel.base.wording import printable
from pointmodel.reading.columns import KNOWN
from pointmodel.reading.files import read_bytes
from pointmodel.reading.rows import WITHDRAWN
from pointmodel.recording.layout import (
    Layout,
    has_header,
    layout_of,
    refuse_sheets,
    renamed,
    usual_header,
    widened,
)
from pointmodel.recording.lock import Lock, sync_folder, take_lock

_BINARY = getattr(os, "O_BINARY", 0)
_WANTED = "the path of a log (.csv, .tsv) to go on with or to begin"


class NotSavedError(Exception):
    """Nothing was written, the log is as it was; the message says why."""

    def __init__(self, error: OSError) -> None:
        """Say why, in the system's words."""
        super().__init__(error.strerror or str(error))


class LogFile:
    """A log held open for writing by this program alone; `mended` says what was put right."""

    def __init__(self, path: Path, lock: Lock, layout: Layout, is_new: bool, mended: str) -> None:
        """Use `open_log`."""
        self.path, self.layout, self.is_new, self.mended = path, layout, is_new, mended
        self._lock = lock

    def close(self) -> None:
        """Let another program write."""
        self._lock.release()

    def append(self, values: Mapping[str, str]) -> None:
        """Bring one line of cells by column name onto the disk. Raises NotSavedError."""
        missing = [name for name in values if name not in self.layout.positions]
        if missing:
            self._add_columns(missing)
        self.append_text(self.layout.line(values))

    def append_text(self, line: str) -> None:
        """Bring one line as it stands onto the disk. Raises NotSavedError."""
        with _saving():
            append_bytes(self.path, self.layout.encoded(line + self.layout.newline))

    def strike(self, line: int) -> None:
        """Turn a line, counted from 1, into a remark that says so. Raises NotSavedError."""
        with _saving():
            lines = self.path.read_bytes().splitlines(keepends=True)
            lines[line - 1] = f"{WITHDRAWN} ".encode() + lines[line - 1]
            replace_bytes(self.path, b"".join(lines))

    def restore(self, line: int) -> None:
        """Make a struck line, counted from 1, one of the log again. Raises NotSavedError."""
        with _saving():
            lines = self.path.read_bytes().splitlines(keepends=True)
            lines[line - 1] = lines[line - 1].removeprefix(f"{WITHDRAWN} ".encode())
            replace_bytes(self.path, b"".join(lines))

    def rename_columns(self, names: Mapping[str, str], holds_rows: bool) -> None:
        """Call columns in which nothing stands yet by other names. Raises NotSavedError."""
        self._rewrite_header(renamed(self.layout, names, holds_rows))

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
        with _saving():
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
    try:
        is_new = not os.path.lexists(real)
        mended = "" if is_new else _made_ready(real, str(told), lock.left_over)
        if is_new or not has_header(real.read_bytes()):
            _begin(real, new_header(), is_new)
        return LogFile(real, lock, layout_of(real.read_bytes(), str(told)), is_new, mended)
    except NotSavedError as error:
        lock.release()
        raise _unwritable(told, str(error)) from None
    except BaseException:
        lock.release()
        raise


def append_bytes(path: Path, data: bytes) -> None:
    """Append bytes to a file and bring them onto the disk, or leave it as it was. Raises OSError.

    A last line that somebody left without its end is ended first.
    """
    fd = os.open(path, os.O_RDWR | os.O_APPEND | _BINARY)
    try:
        size = os.lseek(fd, 0, os.SEEK_END)
        if size:
            os.lseek(fd, size - 1, os.SEEK_SET)
            if os.read(fd, 1) not in b"\r\n":
                data = b"\n" + data
        try:
            _write_all(fd, data)
            os.fsync(fd)
        except BaseException:
            with passing_over(OSError):
                os.ftruncate(fd, size)
                os.fsync(fd)
            raise
    finally:
        os.close(fd)


def replace_bytes(path: Path, data: bytes) -> None:
    """Put a file with other bytes in the place of one, in one step. Raises OSError."""
    with _written_beside(path, data) as beside:
        os.chmod(beside, path.stat().st_mode & 0o7777)
        os.replace(beside, path)
    sync_folder(path.parent)


def _create(path: Path, data: bytes) -> None:
    """Make a file of bytes in one step, where there is none of that name. Raises OSError."""
    with _written_beside(path, data) as beside:
        try:
            os.link(beside, path)
        except FileExistsError:
            raise
        except OSError:  # a file system without second names
            trace()
            with path.open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
    sync_folder(path.parent)


@contextlib.contextmanager
def _written_beside(path: Path, data: bytes) -> Iterator[Path]:
    """Bytes on the disk under a name that only the lock's holder uses, gone at the end."""
    beside = path.with_name(f".{path.name}.rewritten")
    try:
        fd = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _BINARY, 0o644)
        try:
            _write_all(fd, data)
            os.fsync(fd)
        finally:
            os.close(fd)
        yield beside
    finally:
        with passing_over(OSError):
            beside.unlink()


def _write_all(fd: int, data: bytes) -> None:
    """Write until nothing is left: a full disk takes a part first, and refuses the rest."""
    while data:
        data = data[os.write(fd, data) :]


@contextlib.contextmanager
def _saving() -> Iterator[None]:
    """Tell of a disk that does not take it as NotSavedError."""
    try:
        yield
    except OSError as error:
        raise NotSavedError(error) from None


def _begin(path: Path, header: str, is_new: bool) -> None:
    """Write the header of a log that has none."""
    data = f"{header}\n".encode()
    with _saving():
        if not is_new:
            append_bytes(path, data)
            return
        _create(path, data)


def _made_ready(path: Path, file: str, was_killed: bool) -> str:
    """See that a log can be written to, and mend its end; what was mended, in words.

    Where the last writer was killed, an end without a line feed is a line that it had not finished;
    elsewhere somebody's editor leaves the last line so, and `append_bytes` ends it.
    """
    data = read_bytes(path, _WANTED)
    refuse_sheets(data, file)
    if not path.is_file():
        raise InputError([Problem(file, None, None, "something that is no file", _WANTED)])
    with _saving():
        os.close(os.open(path, os.O_RDWR | os.O_APPEND | _BINARY))
        torn = data[max(data.rfind(b"\n"), data.rfind(b"\r")) + 1 :]
        if not was_killed or not torn:
            return ""
        rest = torn.strip(b"\0 ")
        whole = data[: len(data) - len(torn)]
        replace_bytes(path, whole + (b"# cut off, not kept: " + rest + b"\n" if rest else b""))
    return "the last line was cut off when the program was stopped; it was not kept: enter it again"


def _unwritable(path: Path, reason: str) -> InputError:
    found = f"a log that cannot be written to ({reason})"
    wanted = "a file of your own on a disk with room; nothing was changed"
    return InputError([Problem(printable(str(path)), None, None, found, wanted)])
