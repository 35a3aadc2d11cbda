"""A profile kept in a file: written whole or not at all, never over what is no profile."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

import msgspec

from pointmodel.errors import InputError, Problem
from pointmodel.profile import PROFILE_SCHEMA, Profile, profile_text
from pointmodel.reading.files import read_bytes


def write_profile(profile: Profile, path: Path) -> Path:
    """Write a profile to `path` and return the path; missing folders are made.

    Raises InputError where something stands there that is no profile, or the system refuses.
    """
    _refuse_what_is_no_profile(path)
    beside = path.with_name(f".pointmodel-{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(profile_text(profile), encoding="utf-8", newline="\n")
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise _refusal(path, why, "a place to write to") from None
    finally:
        with contextlib.suppress(OSError, ValueError):
            beside.unlink(missing_ok=True)
    return path


def _refuse_what_is_no_profile(path: Path) -> None:
    wanted = "another name for the profile, or what is there moved out of the way"
    if not os.path.lexists(path):
        return
    if not path.is_file():
        raise _refusal(path, "something that is not a file", wanted)
    try:
        found = msgspec.json.decode(read_bytes(path, wanted))
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        found = None
    if not isinstance(found, dict) or found.get("schema") != PROFILE_SCHEMA:
        raise _refusal(path, "a file that is no profile", wanted)


def _refusal(path: Path, found: str, wanted: str) -> InputError:
    return InputError([Problem(str(path), None, None, found, wanted)])
