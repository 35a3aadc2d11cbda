"""The JSON documents: what a fit and a verdict on levelling look like to other programs.

Read `results.py` first. Documents are plain Python types; every number in them is finite, or null
with a `reason` beside it. The JSON Schema of each ships in `schemas/`. How a fit is kept on disk
and brought back is the matter of `saved.py`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from pointmodel.base.errors import Notice

if TYPE_CHECKING:
    from pathlib import Path


NEW_SCHEMA = "pointmodel.new/1"
SCHEMAS = ("fit", "check", "level", "compare", "plan", "aim", "record", "simulate", "new")


def new_document(paths: tuple[Path, ...]) -> dict[str, Any]:
    """Return the document of `pointmodel new`: the files that were written."""
    return as_dict({**head(NEW_SCHEMA, (), ()), "files": [str(path) for path in paths]})


def json_text(document: dict[str, Any]) -> str:
    """Return a document as JSON text, indented, ending in a line feed.

    Raises ArithmeticError for a number that is not finite: this program's fault, never the user's.
    """
    encoded = msgspec.json.encode(plain(document))
    return msgspec.json.format(encoded, indent=1).decode() + "\n"


def plain(value: Any, place: str = "document") -> Any:
    """Return a value made of dicts, lists, texts, numbers, truth values and None, and nothing else.

    Texts lose halves of characters that no encoding can hold (file names may have them). Raises
    ArithmeticError for numbers that are not finite, TypeError for any other type.
    """
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, np.generic):
        return plain(value.item(), place)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ArithmeticError(f"{place} is not a finite number")
        return value
    if isinstance(value, dict):
        return {str(key): plain(part, f"{place}.{key}") for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(part, f"{place}[{k}]") for k, part in enumerate(value)]
    raise TypeError(f"{place} is a {type(value).__name__}, which no document holds")


def as_dict(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document as plain types; raises as `plain` does."""
    made: dict[str, Any] = plain(document)
    return made


def head(name: str, inputs: tuple[str, ...], warnings: tuple[Notice, ...]) -> dict[str, Any]:
    """What all documents begin with."""
    return {
        "schema": name,
        "inputs": inputs,
        "warnings": [{"code": notice.code, "text": notice.text} for notice in warnings],
    }


def or_why(key: str, value: Any, why: str) -> dict[str, Any]:
    """Return a value under its key, with the reason beside it where there is none."""
    return {key: value} if value is not None else {key: None, f"{key}_reason": why}
