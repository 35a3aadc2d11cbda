"""Which log it is: so that what was written of one does not replace what was written of another.

Of a file it is where the file stands, which stays the same while the log grows and is put right; of
a stream or a frame it is the first pair, with which the same night begins however often it is read.
Both are kept as a digest: a page that is sent to others tells nothing of folders and their names.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pointmodel.reading.night import NightLog

_LENGTH = 16  # hexadecimal digits: two logs in 10¹⁹ are taken for one


def file_identity(source: object) -> str:
    """Which log the file of a path is; empty for standard input and what is no path."""
    if not isinstance(source, (str, os.PathLike)) or str(source) == "-":
        return ""
    return _digest(os.fsencode(os.path.realpath(source)))


def identity(log: NightLog) -> str:
    """Which log it is, as `file_identity` says where it came from a file."""
    if log.file_identity or not len(log):
        return log.file_identity
    angles = log.commanded_az_deg, log.commanded_alt_deg, log.centred_az_deg, log.centred_alt_deg
    first = (log.target[0], *(float(column[0]) for column in (log.time_s, *angles)))
    return _digest(repr(first).encode("utf-8", "replace"))


def folder_identity(paths: Sequence[str]) -> str:
    """Which logs these are: those under their common folder."""
    folders = [os.path.dirname(os.path.realpath(path)) for path in paths]
    try:
        return _digest(os.fsencode(os.path.commonpath(folders))) if folders else ""
    except ValueError:  # on several drives
        return _digest(os.fsencode("\0".join(sorted(folders))))


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:_LENGTH]
