"""Bytes of a file, and their text, or an InputError that says what to do."""

from __future__ import annotations

import codecs
from pathlib import Path

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import printable

_UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
LARGEST_FILE_BYTES = 100_000_000  # a choice: the fit of 200,000 pairs, saved, has half as many
_CONTROL = bytes(set(range(32)) - set(b"\t\n\r\f\x1a"))


def read_bytes(path: Path, wanted: str, at_most: int = LARGEST_FILE_BYTES) -> bytes:
    """Everything in a file of `at_most` so many bytes; no more is read of what does not end.

    Raises InputError, with `wanted` as what would be right.
    """
    try:
        with path.open("rb") as file:
            return bounded(file.read(at_most + 1), printable(str(path)), at_most)
    except InputError:
        raise
    except FileNotFoundError:
        found = "no file of that name"
    except IsADirectoryError:
        found = "a folder"
    except PermissionError:
        found = "a folder" if path.is_dir() else "a file that may not be opened"
    except (OSError, ValueError) as error:
        found = f"a name that cannot be opened ({getattr(error, 'strerror', None) or error})"
    raise InputError([Problem(printable(str(path)), None, None, found, wanted)])


def bounded(data: bytes, file: str, at_most: int) -> bytes:
    """The bytes. Raises InputError where they are more than allowed."""
    if len(data) <= at_most:
        return data
    found = f"more than {at_most // 1_000_000} MB"
    raise InputError([Problem(file, None, None, found, "a file of a few thousand lines")])


def decode_text(data: bytes, file: str) -> tuple[str, Notice | None]:
    """Text of a file: UTF-8 or marked UTF-16; failing these Western European, with a Notice.

    Line ends become newlines. Raises InputError for what is no text at all.
    """
    encoding = "utf-16" if data.startswith(_UTF16_MARKS) else "utf-8-sig"
    notice = None
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding == "utf-16" or _is_binary(data):
            raise _no_text(file) from None
        text = _decode_western(data, file)
        line = data.count(b"\n", 0, error.start) + 1
        notice = Notice(
            "encoding",
            f"{file} is not UTF-8 text (from line {line} on). It is read as Western European "
            "(Windows-1252). Names may show wrong letters",
        )
    else:
        if _is_binary(text.encode("utf-8", "replace")):
            raise _no_text(file)
    return text.replace("\r\n", "\n").replace("\r", "\n"), notice


def _decode_western(data: bytes, file: str) -> str:
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        raise _no_text(file) from None


def _is_binary(data: bytes) -> bool:
    return len(data.translate(None, _CONTROL)) != len(data)


def _no_text(file: str) -> InputError:
    wanted = "text (UTF-8), one line a star, or a sheet saved as .xlsx or .ods"
    return InputError([Problem(file, None, None, "a file that is not text", wanted)])
