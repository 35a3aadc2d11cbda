"""TOML text as tables of plain values, with the line of each key for the messages."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import quoted

_HEADER = re.compile(r"\s*\[+\s*([^\]]+?)\s*\]")
_KEY = re.compile(
    r"""\s*((?:[\w\-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w\-]+|"[^"]*"|'[^']*'))*)\s*="""
)
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
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError([_syntax_problem(text, file, str(error))]) from None
    return TomlText(file, tables, _key_lines(text))


def _key_lines(text: str) -> dict[tuple[str, ...], int]:
    """Line of each table header and key, by path; the parser of the library does not tell."""
    lines: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.split("\n"), start=1):
        if header := _HEADER.match(line):
            table = _path(header[1])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            path = (*table, *_path(key[1]))
            for depth in range(1, len(path) + 1):
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


def _is_bare_text(value: str) -> bool:
    """Whether a value looks like text, or degrees and minutes, whose quotes were forgotten."""
    text = value.split("#")[0]
    if not text or text[0] in "\"'[{":
        return False
    return re.search(r"[^\W\d_]", text) is not None or re.match(r"[+-]?\d+[ :°]", text) is not None
