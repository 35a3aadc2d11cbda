"""Files of this program's own making, brought to the disk whole or not at all.

Bytes are written under a name that nobody else uses, beside the file that they are for, and put in
its place in one step. What that rests on (POSIX.1, IEEE Std 1003.1): rename() leaves at every
moment either the old file or the new one under the name; fsync() returns only once the bytes are
handed to the storage; open() with O_CREAT and O_EXCL makes a file or fails, and follows no link.
That a new name is on the disk needs fsync() of its folder as well (Linux, fsync(2), Notes).
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over, trace

NEVER_FOLLOW = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
_NAME_SHOWN = 40  # letters: with what is added, names stay within the 255 bytes of a file system
_RANDOM_BYTES = 8  # so many that two writers never meet
_MARK = ".pointmodel-"

if sys.platform == "win32":
    import msvcrt

    _LOCKED_BYTE = 1 << 20  # beyond the text: a locked byte cannot be read there

    def take(fd: int) -> None:
        """Take the lock on an open file; whoever ends lets go of it. Raises OSError."""
        place = os.lseek(fd, 0, os.SEEK_CUR)
        try:
            os.lseek(fd, _LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        finally:
            os.lseek(fd, place, os.SEEK_SET)
else:
    import fcntl

    def take(fd: int) -> None:
        """Take the lock on an open file; whoever ends lets go of it. Raises OSError."""
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)


def write_whole(path: Path, data: bytes) -> Path:
    """Write bytes to `path` in one step and return the path; missing folders are made.

    Whether what stands there may be replaced is the caller's to ask; it keeps its mode, and a link
    is written through. Raises InputError where the system refuses.
    """
    try:
        real = _through_links(path)
        real.parent.mkdir(parents=True, exist_ok=True)
        if real.exists() and not os.access(real, os.W_OK):
            raise refusal(path, "a file that may not be written to", "a place to write to")
        replace_bytes(real, data)
    except InputError:
        raise
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise refusal(path, why, "a place to write to") from error
    return path


def replace_bytes(path: Path, data: bytes) -> None:
    """Put a file of these bytes in the place of what is there, in one step. Raises OSError."""
    with _written_beside(path, data) as beside:
        os.replace(beside, path)
    sync_folder(path.parent)


def create_bytes(path: Path, data: bytes) -> None:
    """Make a file of these bytes in one step, where there is none of that name. Raises OSError."""
    with _written_beside(path, data) as beside:
        give_name(beside, path)
    sync_folder(path.parent)


def give_name(beside: Path, path: Path) -> None:
    """Give a file a second name that nobody has. Raises FileExistsError where it is taken.

    Where the file system knows no second names, the file of the name is a copy.
    """
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:
        trace()
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | NEVER_FOLLOW, 0o666)
        with os.fdopen(fd, "wb", buffering=0):
            try:
                write_all(fd, beside.read_bytes())
                os.fsync(fd)
            except BaseException:
                path.unlink()  # the one just made
                raise


def new_beside(path: Path, mode: int) -> tuple[int, Path]:
    """An empty file beside `path`, open and locked, and its name. Raises OSError.

    As long as it is open nobody takes it for a leftover; what a killed writer left is taken away.
    """
    clear_leftovers(path)
    beside = path.with_name(f"{_beginning(path)}{secrets.token_hex(_RANDOM_BYTES)}")
    fd = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_EXCL | NEVER_FOLLOW, mode)
    with passing_over(OSError):  # a file system without locks: there no leftover is taken away
        take(fd)
    return fd, beside


def clear_leftovers(path: Path) -> None:
    """Take away what killed writers left beside a path: files of our naming that nobody holds."""
    ours = re.compile(re.escape(_beginning(path)) + rf"[0-9a-f]{{{2 * _RANDOM_BYTES}}}")
    with passing_over(OSError):
        with os.scandir(path.parent) as entries:
            found = [entry for entry in entries if ours.fullmatch(entry.name)]
        for entry in found:
            if entry.is_file(follow_symlinks=False):
                _clear(Path(entry.path))


def write_all(fd: int, data: bytes) -> None:
    """Write until nothing is left: a full disk takes a part first, and refuses the rest."""
    while data:
        data = data[os.write(fd, data) :]


def sync_folder(folder: Path) -> None:
    """Bring a folder's names onto the disk, where the system can."""
    if sys.platform == "win32":
        return
    with passing_over(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def refusal(path: Path, found: str, wanted: str) -> InputError:
    """The error that tells of one file, as a whole."""
    return InputError([Problem(str(path), None, None, found, wanted)])


@contextlib.contextmanager
def _written_beside(path: Path, data: bytes) -> Iterator[Path]:
    """Bytes on the disk beside `path`, with the mode of what is there, under a passing name."""
    there = path.stat() if path.exists() else None
    # closed to others until it has the mode of the old file
    fd, beside = new_beside(path, 0o666 if there is None else 0o600)
    try:
        with os.fdopen(fd, "wb", buffering=0) as file:
            write_all(fd, data)
            if there is not None:
                _given_the_mode_of(there, fd)
            os.fsync(fd)
            if sys.platform == "win32":  # there an open file cannot be given another name
                file.close()
            yield beside
    finally:
        with passing_over(OSError):
            beside.unlink(missing_ok=True)


def _given_the_mode_of(there: os.stat_result, fd: int) -> None:
    if sys.platform == "win32":
        return
    if (there.st_uid, there.st_gid) != (os.geteuid(), os.getegid()):
        with passing_over(OSError):  # only root, or a member of the group, may give it away
            os.fchown(fd, there.st_uid, there.st_gid)
    os.fchmod(fd, stat.S_IMODE(there.st_mode))


def _through_links(path: Path) -> Path:
    """The file that a path stands for. Raises InputError for a link that leads nowhere."""
    if not path.is_symlink():
        return path
    real = Path(os.path.realpath(path))
    if not real.exists():
        raise refusal(path, "a link to a file that is not there", "that link taken away, or mended")
    return real


def _beginning(path: Path) -> str:
    """How the names of files written beside a path begin."""
    return f".{path.name[:_NAME_SHOWN]}{_MARK}"


def _clear(leftover: Path) -> None:
    with passing_over(OSError):
        fd = os.open(leftover, os.O_RDWR | NEVER_FOLLOW)
        with os.fdopen(fd, "rb", buffering=0) as file:
            take(fd)
            if sys.platform == "win32":  # there an open file cannot be taken away
                file.close()
            leftover.unlink()
