"""One writer a log: a lock beside it, which the system lets go of however its holder ends.

The lock file says who holds it. One that is left behind by a killed program holds nothing any more,
but tells that a line may have been cut off.
"""

from __future__ import annotations

import os
import socket
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over
from pointmodel.base.wording import printable

_BINARY = getattr(os, "O_BINARY", 0)
_LOCKED_BYTE = 1 << 20  # beyond the text: a locked byte cannot be read on every system
_LONGEST_NOTE = 200

if sys.platform == "win32":
    import msvcrt

    def _take(fd: int) -> None:
        os.lseek(fd, _LOCKED_BYTE, os.SEEK_SET)
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _take(fd: int) -> None:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)


@dataclass(frozen=True)
class Lock:
    """The right to write to one log; `left_over` where its last holder did not end as it should."""

    path: Path
    fd: int
    left_over: bool

    def release(self) -> None:
        """Let go, and take the lock file away."""
        with passing_over(OSError):
            if sys.platform != "win32":  # while held: whoever waits looks whether it is still there
                self.path.unlink()
        with passing_over(OSError):
            os.close(self.fd)
        if sys.platform == "win32":
            with passing_over(OSError):
                self.path.unlink()


def take_lock(log: Path) -> Lock:
    """Take the lock of a log. Raises InputError where another holds it, saying who."""
    path = log.with_name(f"{log.name}.lock")
    while True:
        fd = _open(path, log)
        try:
            _take(fd)
            if not _is_still_there(fd, path):
                os.close(fd)
                continue
            left_over = os.fstat(fd).st_size > 0
            os.ftruncate(fd, 0)
            os.lseek(fd, 0, os.SEEK_SET)
            os.write(fd, _who().encode("utf-8", "replace"))
            os.fsync(fd)
        except (BlockingIOError, PermissionError):
            holder = _holder(fd)
            os.close(fd)
            raise _in_use(log, holder) from None
        except OSError as error:
            Lock(path, fd, False).release()
            raise _no_lock(log, error) from None
        sync_folder(log.parent)
        return Lock(path, fd, left_over)


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


def _open(path: Path, log: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | _BINARY, 0o644)
    except (OSError, ValueError) as error:
        raise _no_lock(log, error) from None


def _is_still_there(fd: int, path: Path) -> bool:
    """Whether the file that was locked is the one of that name: its last holder may remove it."""
    try:
        return os.path.samestat(os.fstat(fd), os.stat(path))
    except FileNotFoundError:
        return False


def _who() -> str:
    now = time.strftime("%Y-%m-%d %H:%M:%S %z")
    return f"process {os.getpid()} on {socket.gethostname()}, since {now}\n"


def _holder(fd: int) -> str:
    with passing_over(OSError):
        os.lseek(fd, 0, os.SEEK_SET)
        text = os.read(fd, _LONGEST_NOTE).decode("utf-8", "replace").strip()
        if text:
            return printable(text)
    return "it does not say who"


def _in_use(log: Path, holder: str) -> InputError:
    found = f"a log that is being recorded already ({holder})"
    return InputError(
        [Problem(str(log), None, None, found, "that one ended first, or another log")]
    )


def _no_lock(log: Path, error: Exception) -> InputError:
    reason = getattr(error, "strerror", None) or error
    found = f"a folder that cannot be written to ({reason})"
    return InputError([Problem(str(log), None, None, found, "a log in a folder of your own")])
