"""What a log's own remarks say of the controller: lines such as `# [alignment] stars = []`.

They are written where a recording was asked and there is no mount file to keep the answer in. Such
a line says what a mount file would, for this log alone, and counts for more than the mount file.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from pointmodel.base.errors import InputError, Notice
from pointmodel.reading.mountfile import MountFile, read_mount

_SAYS = re.compile(r"\s*#+\s*\[\s*(\w+)\s*\]\s*(\w+)\s*=\s*(\S.*)")
# what a single log can say; the rest belongs to the mount and stands in its file
_OF_A_LOG: dict[str, tuple[str, ...]] = {
    "alignment": ("stars", "solves", "presses", "noted"),
    "mount": ("readout",),
}


def remark_that_says(table: str, key: str, value: str) -> str:
    """Return the line that keeps a key of the mount file in a log; `value` as TOML has it."""
    return f"# [{table}] {key} = {value}"


def said_in_remarks(
    mount: MountFile, remarks: Iterable[tuple[int, str]]
) -> tuple[MountFile, list[Notice]]:
    """Return the mount file with what a log's remarks (line, text) say, the last of them first.

    A remark that looks like a key but cannot be read is told in a Notice: remarks are free text.
    """
    notices = []
    for line, table, key, value in _found(remarks):
        try:
            told = read_mount({table: {key: tomllib.loads(f"value = {value}")["value"]}})
        except (InputError, ValueError, RecursionError) as error:
            reason = error.problems[0].wanted if isinstance(error, InputError) else "a TOML value"
            text = f"line {line}: the remark about {key} is not understood; wanted {reason}"
            notices.append(Notice("remark_not_understood", text))
        else:
            mount = _with(mount, told, table, key)
    return mount, notices


def _found(remarks: Iterable[tuple[int, str]]) -> Iterator[tuple[int, str, str, str]]:
    for line, text in remarks:
        says = _SAYS.fullmatch(text.rstrip())
        if says and says[2] in _OF_A_LOG.get(says[1], ()):
            yield line, says[1], says[2], says[3]


def _with(mount: MountFile, told: MountFile, table: str, key: str) -> MountFile:
    if table == "mount":
        return msgspec.structs.replace(mount, readout=told.readout)
    changed: dict[str, Any] = {key: getattr(told.alignment, key)}
    return msgspec.structs.replace(
        mount, alignment=msgspec.structs.replace(mount.alignment, **changed)
    )
