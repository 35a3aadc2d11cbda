"""What a log's own remarks say of the mount: lines such as `# [alignment] stars = []`.

They are written where a recording was asked and there is no mount file to keep the answer in, and
wherever an eyepiece was set: the lines after it were tapped with that one. Such a line says what a
mount file would, for this log alone, and counts for more than the mount file; of several that say
the same the last counts.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from pointmodel.base.errors import InputError, Notice
from pointmodel.reading.mountfile import MountFile, read_mount

_SAYS = re.compile(r"\s*#+\s*\[\s*(\w+)\s*\]\s*((\w+)\s*=\s*\S.*)")
# what a single log can say; the rest belongs to the mount and stands in its file
_OF_A_LOG: dict[str, tuple[str, ...]] = {
    "alignment": ("stars", "solves", "presses", "noted"),
    "mount": ("readout",),
    "site": ("latitude", "longitude"),
    "eyepiece": ("turn", "mirrored", "side"),
    "optics": ("field_of_view",),
}


def remark_that_says(table: str, answers: Mapping[str, str]) -> str:
    """Return the line that keeps keys of the mount file in a log; values as TOML has them."""
    said = ", ".join(f"{key} = {value}" for key, value in answers.items())
    return f"# [{table}] {said}"


def lines_that_say(table: str, remarks: Iterable[tuple[int, str]]) -> list[int]:
    """Return the lines of the remarks (line, text) that say something of a table."""
    return [line for line, found, _, _ in _found(remarks) if found == table]


def said_in_remarks(
    mount: MountFile, remarks: Iterable[tuple[int, str]]
) -> tuple[MountFile, list[Notice]]:
    """Return the mount file with what a log's remarks (line, text) say, the last of them first.

    A remark that looks like a key but cannot be read is told in a Notice: remarks are free text.
    """
    notices = []
    for line, table, first, text in _found(remarks):
        try:
            told = tomllib.loads(f"said = {{{text}}}")["said"]
            said = {key: told[key] for key in _OF_A_LOG[table] if key in told}
            mount = _with(mount, read_mount({table: said}), table)
        except (InputError, ValueError, RecursionError) as error:
            reason = error.problems[0].wanted if isinstance(error, InputError) else "a TOML value"
            text = f"line {line}: the remark about {first} is not understood; wanted {reason}"
            notices.append(Notice("remark_not_understood", text))
    return mount, notices


def _found(remarks: Iterable[tuple[int, str]]) -> Iterator[tuple[int, str, str, str]]:
    """Line, table, first key, and all that is said, of each remark that says something."""
    for line, text in remarks:
        says = _SAYS.fullmatch(text.rstrip())
        if says and says[3] in _OF_A_LOG.get(says[1], ()):
            yield line, says[1], says[3], says[2]


def _with(mount: MountFile, told: MountFile, table: str) -> MountFile:
    """The mount file with what another says of one table."""
    if table == "mount":
        return msgspec.structs.replace(mount, readout=told.readout)
    own, new = getattr(mount, table), getattr(told, table)
    if own is None:
        return msgspec.structs.replace(mount, **{table: new})
    unsaid = type(own)()
    said = {
        name: value
        for name in own.__struct_fields__
        if (value := getattr(new, name)) != getattr(unsaid, name)
    }
    changed: dict[str, Any] = {table: msgspec.structs.replace(own, **said)}
    return msgspec.structs.replace(mount, **changed)
