"""Answers written into a mount file, without touching anything else that stands there.

Read `reading/remarks.py` too: where this cannot be done safely, an answer goes into the log.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pointmodel.base.ownfiles import create_bytes, replace_bytes
from pointmodel.base.trace import trace
from pointmodel.reading.newfiles import mount_template

MAY_CHANGE = ("eyepiece",)  # a diagonal is turned; what else is asked is asked once
_MARK = b"\xef\xbb\xbf"


def kept_in_mount_file(path: str, table: str, answers: Mapping[str, str]) -> bool:
    """Add lines for keys of a table to a mount file; False where that cannot be done safely.

    `answers` are values as TOML has them. The file is replaced in one step, and only if it then
    says what it said before and the answers besides. Of `MAY_CHANGE` a value that stands there
    already gives way, its remark stays.
    """
    if not os.path.isfile(path):
        return False
    try:
        data = Path(path).read_bytes()
        text = data.decode("utf-8-sig")
        added = with_answers(text, table, answers)
        wanted = tomllib.loads(text)
        wanted.setdefault(table, {}).update(values_of(answers))
        if tomllib.loads(added) != wanted:
            return False
        mark = _MARK if data.startswith(_MARK) else b""
        replace_bytes(Path(os.path.realpath(path)), mark + added.encode())
    except (OSError, ValueError, AttributeError, RecursionError):
        trace()
        return False  # not ours to mend: the answer goes into the log
    return True


def made_mount_file(path: str, table: str, answers: Mapping[str, str]) -> bool:
    """Make a mount file that says this and explains the rest; False where one cannot be made.

    Nothing that has the name already is touched.
    """
    try:
        create_bytes(Path(path), with_answers(mount_template(), table, answers).encode())
    except (OSError, ValueError):
        trace()
        return False
    return True


def toml_text(text: str) -> str:
    """Return a text as TOML has it: as JSON does, but for one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def values_of(answers: Mapping[str, str]) -> dict[str, Any]:
    """Return plain values from values as TOML has them. Raises ValueError."""
    return {key: tomllib.loads(f"value = {value}")["value"] for key, value in answers.items()}


def with_answers(text: str, table: str, answers: Mapping[str, str]) -> str:
    """Return a mount file's text with a line for each key, under its table, which is made."""
    newline = "\r\n" if "\r\n" in text else "\n"
    parts = text.splitlines(keepends=True)
    if parts and not parts[-1].endswith(("\n", "\r")):
        parts[-1] += newline
    header = re.compile(rf"\s*\[\s*{table}\s*\]\s*(#.*)?")
    at = next((k for k, line in enumerate(parts) if header.fullmatch(line.rstrip("\r\n"))), None)
    if at is None:
        lines = [f"{key} = {value}{newline}" for key, value in answers.items()]
        blank = [newline] if parts else []
        return "".join([*parts, *blank, f"[{table}]{newline}", *lines])
    new = []
    for key, value in answers.items():
        place = _place_of(parts, at, key) if table in MAY_CHANGE else None
        if place is None:
            new.append(f"{key} = {value}{newline}")
        else:
            parts[place] = _with_value(parts[place], value)
    return "".join([*parts[: at + 1], *new, *parts[at + 1 :]])


def _with_value(line: str, value: str) -> str:
    """A line with another value in the place of its number, true or false."""
    match = re.match(r"\s*[\w\"']+\s*=\s*[^\s#]+", line)
    if match is None:
        return line
    head = line[: line.index("=") + 1]
    blank = " " if match[0][len(head) :].startswith(" ") else ""
    return f"{head}{blank}{value}{line[match.end() :]}"


def _place_of(parts: list[str], header: int, key: str) -> int | None:
    """The line in which a key of the table under a header has its value; None: not said yet."""
    for place in range(header + 1, len(parts)):
        if parts[place].lstrip().startswith("["):
            return None
        if re.match(rf"\s*[\"']?{key}[\"']?\s*=", parts[place]):
            return place
    return None
