"""A commented mount file and an empty log, to start a night from."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import quoted

NEW_FILES = ("mount.toml", "night.csv")
_WANTED = "a folder that can be written to and holds neither of the two files"


def new_files(folder: str | Path = ".") -> tuple[Path, ...]:
    """Write `mount.toml` and `night.csv` into a folder, made if need be, and return their paths.

    Nothing is ever overwritten. Raises InputError where one of the files is there already or the
    folder cannot be written to; then neither file is left behind.
    """
    if not isinstance(folder, (str, os.PathLike)):
        raise InputError([Problem("<folder>", None, None, quoted(folder), _WANTED)])
    templates = files("pointmodel").joinpath("templates")
    texts = [templates.joinpath(name).read_text("utf-8") for name in NEW_FILES]
    paths = tuple(Path(folder) / name for name in NEW_FILES)
    written: list[Path] = []
    try:
        if there := [path for path in paths if os.path.lexists(path)]:
            raise InputError([_is_there(path) for path in there])
        Path(folder).mkdir(parents=True, exist_ok=True)
        for path, text in zip(paths, texts, strict=True):
            with path.open("x", encoding="utf-8", newline="\n") as file:
                written.append(path)
                file.write(text)
    except (OSError, ValueError) as error:
        for path in written:
            path.unlink(missing_ok=True)
        if isinstance(error, InputError):
            raise
        if isinstance(error, FileExistsError) and error.filename in map(str, paths):
            raise InputError([_is_there(Path(error.filename))]) from None
        found = f"a folder that cannot be used ({getattr(error, 'strerror', None) or error})"
        raise InputError([Problem(str(folder), None, None, found, _WANTED)]) from None
    return paths


def _is_there(path: Path) -> Problem:
    wanted = "another folder, or that file moved away: nothing is overwritten"
    return Problem(str(path), None, None, "a file that is there already", wanted)
