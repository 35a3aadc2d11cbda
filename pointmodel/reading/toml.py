"""TOML text as tables of plain values, with the line of each key for the messages."""

from __future__ import annotations

import re
import sys
import tomllib
from dataclasses import dataclass, field
from typing import Any

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import quoted

_KEY = re.compile(
    r"""\s*((?:[\w\-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w\-]+|"[^"]*"|'[^']*'))*)\s*="""
)
# A key has a table and a name; the parser of the library takes the square of a dotted key's length.
_MOST_DOTS = 200
LARGEST_BYTES = 1_000_000  # a choice: a mount file with every key and remark has a hundredth of it
_KEY_DEPTH = 3
_PLACE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


@dataclass(frozen=True)
class TomlText:
    """Parsed TOML: plain values as nested dicts, and line numbers by key path (table, key)."""

    file: str
    tables: dict[Any, Any]
    lines: dict[tuple[str, ...], int] = field(default_factory=dict)

    def line(self, *path: str) -> int | None:
        """Line of a key, or of the nearest thing around it; None where there is no text."""
        while path:
            if path in self.lines:
                return self.lines[path]
            path = path[:-1]
        return None


def parse_toml(text: str, file: str) -> TomlText:
    """Parse TOML text. Raises InputError with the line at which it stops being TOML."""
    _refuse_endless_keys(text, file)
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError([_syntax_problem(text, file, str(error))]) from None
    return TomlText(file, tables, _key_lines(text))


def _refuse_endless_keys(text: str, file: str) -> None:
    """Raise InputError for a text or a key that is far larger than any of a mount file."""
    if len(text) > LARGEST_BYTES:
        found, wanted = (
            f"{len(text) / 1e6:.1f} MB of text",
            "a mount file, of a few thousand letters",
        )
        raise InputError([Problem(file, None, None, found, wanted)])
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.lstrip().startswith("#") and line.partition("=")[0].count(".") > _MOST_DOTS:
            wanted = "a key of one word, such as latitude"
            raise InputError([Problem(file, number, None, quoted(line.strip()), wanted)])


def _key_lines(text: str) -> dict[tuple[str, ...], int]:
    """Line of each table header and key, by path; the parser of the library does not tell."""
    lines: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.split("\n"), start=1):
        if line.lstrip().startswith("["):
            table = _path(line.lstrip(" \t[").partition("]")[0])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            path = (*table, *_path(key[1]))
            for depth in range(1, min(len(path), _KEY_DEPTH) + 1):
                lines.setdefault(path[:depth], number)
    return lines


def _path(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _syntax_problem(text: str, file: str, message: str) -> Problem:
    """The line that is no TOML, what it reads, and the likeliest way to put it right."""
    place = _PLACE.search(message)
    lines = text.split("\n")
    number = int(place[1]) if place and place[1] else len(lines)
    line = lines[min(number, len(lines)) - 1]
    if (endless := _endless_figure(message, lines)) is not None:
        found = quoted(lines[endless].strip())
        return Problem(file, endless + 1, None, found, "a figure of fewer digits")
    reason = _PLACE.sub("", message).strip()
    wanted = f"TOML ({reason[:1].lower()}{reason[1:]})"
    key, equals, value = (part.strip() for part in line.partition("="))
    if equals and not re.fullmatch(r"[\w.\-]+", key):
        wanted = f"a key of letters before the = ({wanted})"
    elif equals and (figure := re.match(r"[+-]?\d+(?:\.\d+)?(?= *[a-zA-Z°′']+ *$)", value)):
        wanted = f"the number alone: {key} = {figure[0]}"
    elif equals and _is_bare_text(value):
        wanted = f'text in quotes: {key} = "{value}"'
    elif equals and re.fullmatch(r"[+-]?\d+,\d+", value):
        wanted = f"a decimal point: {key} = {value.replace(',', '.')}"
    elif not equals and line and not line.lstrip().startswith("["):
        wanted = "a line of the form key = value, or a # in front of a remark"
    return Problem(file, number, None, quoted(line.strip()), wanted)


def _endless_figure(message: str, lines: list[str]) -> int | None:
    """Index of the line whose whole number has more digits than Python reads; None: no such."""
    limit = sys.get_int_max_str_digits()
    if "integer string conversion" not in message:
        return None
    return next((k for k, line in enumerate(lines) if len(line) > limit), None)


def _is_bare_text(value: str) -> bool:
    """Whether a value looks like text, or degrees and minutes, whose quotes were forgotten."""
    text = value.split("#")[0]
    if not text or text[0] in "\"'[{":
        return False
    return re.search(r"[^\W\d_]", text) is not None or re.match(r"[+-]?\d+[ :°]", text) is not None
