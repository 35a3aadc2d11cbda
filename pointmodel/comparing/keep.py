"""A profile kept in a file: written whole or not at all, never over what is no profile."""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from pointmodel.base.ownfiles import refusal, write_whole
from pointmodel.base.trace import trace
from pointmodel.estimate.profile import PROFILE_SCHEMA, Profile, profile_text
from pointmodel.reading.files import read_bytes


def write_profile(profile: Profile, path: Path) -> Path:
    """Write a profile to `path` and return the path; missing folders are made.

    Raises InputError where something stands there that is no profile, or the system refuses.
    """
    _refuse_what_is_no_profile(path)
    return write_whole(path, profile_text(profile).encode())


def _refuse_what_is_no_profile(path: Path) -> None:
    wanted = "another name for the profile, or what is there moved out of the way"
    if not os.path.lexists(path):
        return
    if not path.is_file():
        raise refusal(path, "something that is not a file", wanted)
    try:
        found = msgspec.json.decode(read_bytes(path, wanted))
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        trace()
        found = None
    if not isinstance(found, dict) or found.get("schema") != PROFILE_SCHEMA:
        raise refusal(path, "a file that is no profile", wanted)
