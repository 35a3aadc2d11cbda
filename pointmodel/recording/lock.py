"""One writer a log: a lock beside it, which the system lets go of however its holder ends.

The lock file says who holds it and, while a line is on its way to the disk, which one. A killed
program leaves it behind: it holds nobody up, and tells what the cut-off end of the log is. Only a
file that says so is ever taken for a lock, written to or taken away; links are not followed.
"""

from __future__ import annotations

import errno
import os
import re
import socket
import stat
import time
from dataclasses import dataclass
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.ownfiles import (
    NEVER_FOLLOW,
    clear_leftovers,
    give_name,
    new_beside,
    sync_folder,
    take,
    write_all,
)
from pointmodel.base.trace import passing_over, trace
from pointmodel.base.wording import printable

_OURS = re.compile(rb"process \d+ on [^\n]*, since [^\n]*\n")
_WRITING = b"writing: "
_NOTE_LENGTH = 120  # bytes: one length for all, so that one write replaces another's note
_HOST_LENGTH = 50  # letters: the longest number of a process and the time fit in beside it
_LONGEST_LINE = 1 << 20  # bytes: no line of a log comes near
_DO_NOT_WAIT = getattr(os, "O_NONBLOCK", 0)  # for a reader, if something is a pipe


@dataclass(frozen=True)
class Lock:
    """The right to write to one log; `left_over` where its last holder did not end as it should.

    `unfinished` is the line that the last holder was writing when it was killed, if any.
    """

    path: Path
    fd: int
    left_over: bool
    unfinished: bytes = b""

    def announce(self, line: bytes) -> None:
        """Bring onto the disk which line comes next. Raises OSError."""
        os.lseek(self.fd, _NOTE_LENGTH, os.SEEK_SET)
        write_all(self.fd, _WRITING + line)
        os.ftruncate(self.fd, _NOTE_LENGTH + len(_WRITING) + len(line))
        os.fsync(self.fd)

    def finish(self) -> None:
        """Note that no line is on its way."""
        with passing_over(OSError):  # a line announced that is whole in the log does no harm
            os.ftruncate(self.fd, _NOTE_LENGTH)

    def release(self) -> None:
        """Let go, and take the lock file away."""
        with passing_over(OSError):
            if os.name != "nt" and _is_still_there(self.fd, self.path):
                self.path.unlink()  # while held: whoever waits looks whether it is still there
        with passing_over(OSError):
            os.close(self.fd)
        if os.name == "nt":
            with passing_over(OSError):
                self.path.unlink()


def take_lock(log: Path) -> Lock:
    """Take the lock of a log.

    Raises InputError where another holds it, saying who, where something of that name is no lock,
    and where the folder cannot be written to.
    """
    path = log.with_name(f"{log.name}.lock")
    clear_leftovers(path)
    while True:
        try:
            lock = _left_behind(path, log) if os.path.lexists(path) else _new(path)
        except (OSError, ValueError) as error:
            raise _no_lock(log, error) from None
        if lock is not None:
            sync_folder(log.parent)
            return lock


def _new(path: Path) -> Lock | None:
    """A lock that nobody has; None where another was quicker. Raises OSError."""
    fd, beside = new_beside(path, 0o666)
    try:
        if os.name != "nt":  # there the first of two takings by one program counts
            take(fd)
        write_all(fd, _who())
        os.fsync(fd)
        give_name(beside, path)
        if _is_still_there(fd, path):
            return Lock(path, fd, left_over=False)
    except FileExistsError:
        trace()
    except BaseException:
        os.close(fd)
        raise
    finally:
        beside.unlink()
    os.close(fd)  # another's, or a copy where there are no second names: that is taken over next
    return None


def _left_behind(path: Path, log: Path) -> Lock | None:
    """The lock of a program that was killed; None where it was let go of meanwhile.

    Raises OSError, and InputError where it is held, or is no lock.
    """
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            raise _not_ours(path)
        fd = os.open(path, os.O_RDWR | _DO_NOT_WAIT | NEVER_FOLLOW)
    except FileNotFoundError:
        return None
    try:
        who = _OURS.match(os.read(fd, _NOTE_LENGTH))
        if who is None:
            raise _not_ours(path)
        try:
            take(fd)
        except (BlockingIOError, PermissionError):
            raise _in_use(log, printable(who[0].decode("utf-8", "replace").strip())) from None
        if _is_still_there(fd, path):
            return _taken_over(path, fd)
    except BaseException:
        os.close(fd)
        raise
    os.close(fd)
    return None


def _taken_over(path: Path, fd: int) -> Lock:
    """The lock, now in this program's name; what was on its way stays noted until `finish`."""
    os.lseek(fd, _NOTE_LENGTH, os.SEEK_SET)
    rest = os.read(fd, len(_WRITING) + _LONGEST_LINE)
    unfinished = rest.removeprefix(_WRITING) if rest.startswith(_WRITING) else b""
    os.lseek(fd, 0, os.SEEK_SET)
    write_all(fd, _who())
    if not unfinished:
        os.ftruncate(fd, _NOTE_LENGTH)
    os.fsync(fd)
    return Lock(path, fd, left_over=True, unfinished=unfinished)


def _is_still_there(fd: int, path: Path) -> bool:
    """Whether an open file is the one of that name: its last holder may have taken it away."""
    try:
        return os.path.samestat(os.fstat(fd), os.lstat(path))
    except FileNotFoundError:
        return False


def _who() -> bytes:
    """Who holds the lock, always as long."""
    now = time.strftime("%Y-%m-%d %H:%M:%S %z")
    text = f"process {os.getpid()} on {socket.gethostname()[:_HOST_LENGTH]}, since {now}"
    return text.encode("ascii", "replace").ljust(_NOTE_LENGTH - 1)[: _NOTE_LENGTH - 1] + b"\n"


def _in_use(log: Path, holder: str) -> InputError:
    found = f"a log that is being recorded already ({holder})"
    return InputError(
        [Problem(str(log), None, None, found, "that one ended first, or another log")]
    )


def _not_ours(path: Path) -> InputError:
    found = "something that this program did not make, under the name that a recording needs"
    wanted = "that moved away or given another name, or another name for the log"
    return InputError([Problem(printable(str(path)), None, None, found, wanted)])


def _no_lock(log: Path, error: Exception) -> InputError:
    reason = getattr(error, "strerror", None) or error
    found = f"a folder that cannot be written to ({reason})"
    is_full = getattr(error, "errno", None) in (errno.ENOSPC, errno.EDQUOT)
    wanted = "room on the disk" if is_full else "a log in a folder of your own"
    return InputError([Problem(str(log), None, None, found, wanted)])
