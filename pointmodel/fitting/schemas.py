"""The JSON Schema of each command's document, its lists of names taken from the registries.

Read `base/documents.py` first. The files in `schemas/` are whole by themselves; a list that a
registry holds is marked there by `$comment`, and filled from it here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.resources import files
from typing import Any, get_args

import msgspec

from pointmodel.base.documents import SCHEMAS
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import one_of, quoted
from pointmodel.diagnosis.kinds import cause_titles
from pointmodel.mount.remedies import ACTIONS, REMEDIES


def _entries() -> list[str]:
    """Return the entries of the controller; imported when asked for, since the sky comes along."""
    from pointmodel.entries.catalogue import Entry

    return list(get_args(Entry))


LISTS: Mapping[str, Callable[[], list[str]]] = {
    "actions": lambda: list(ACTIONS),
    "causes": lambda: list(cause_titles()),
    "entries": _entries,
    "remedies": lambda: list(REMEDIES),
}


def schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a command's document, by the command's name.

    Raises InputError for a command that has none.

    >>> import pointmodel as pm
    >>> pm.schema("fit")["type"]
    'object'
    """
    if name not in SCHEMAS:
        raise InputError([Problem("<schema>", None, None, quoted(name), one_of(SCHEMAS))])
    text = files("pointmodel").joinpath("schemas", f"{name}.json").read_bytes()
    found: dict[str, Any] = _filled(msgspec.json.decode(text))
    return found


def _filled(part: Any) -> Any:
    """Return a part of a schema with the lists that a registry holds."""
    if isinstance(part, list):
        return [_filled(one) for one in part]
    if not isinstance(part, dict):
        return part
    whole = {key: _filled(value) for key, value in part.items()}
    held = whole.get("$comment")
    if "enum" in whole and isinstance(held, str) and held in LISTS:
        whole["enum"] = LISTS[held]()
    return whole
