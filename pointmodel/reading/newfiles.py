"""A commented mount file and an empty log, to start a night from."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.ownfiles import clear_leftovers, create_bytes
from pointmodel.base.trace import passing_over
from pointmodel.base.wording import quoted

NEW_FILES = ("mount.toml", "night.csv")
_WANTED = "a folder that can be written to and holds neither of the two files"


def new_files(folder: str | Path = ".") -> tuple[Path, ...]:
    """Write `mount.toml` and `night.csv` into a folder, made if need be, and return their paths.

    Nothing is ever overwritten: where one of them is there just as it would be written, because a
    start was cut short, only the other is. Raises InputError where one is there that is anything
    else, where both are, and where the folder cannot be written to; then no new file is left.
    """
    if not isinstance(folder, (str, os.PathLike)):
        raise InputError([Problem("<folder>", None, None, quoted(folder), _WANTED)])
    templates = files("pointmodel").joinpath("templates")
    texts = {Path(folder) / name: templates.joinpath(name).read_bytes() for name in NEW_FILES}
    written: list[Path] = []
    is_new = False
    try:
        there = [path for path in texts if os.path.lexists(path)]
        if len(there) == len(texts) or any(not _holds(path, texts[path]) for path in there):
            raise InputError([_is_there(path) for path in there])
        is_new = not Path(folder).exists()
        Path(folder).mkdir(parents=True, exist_ok=True)
        for path in there:
            clear_leftovers(path)
        for path in texts.keys() - there:
            create_bytes(path, texts[path])
            written.append(path)
    except (OSError, ValueError) as error:
        for path in written:
            path.unlink(missing_ok=True)
        if is_new:
            with passing_over(OSError, ValueError):
                Path(folder).rmdir()
        if isinstance(error, InputError):
            raise
        if isinstance(error, FileExistsError) and error.filename2 is not None:
            raise InputError([_is_there(Path(error.filename2))]) from None
        found = f"a folder that cannot be used ({getattr(error, 'strerror', None) or error})"
        raise InputError([Problem(str(folder), None, None, found, _WANTED)]) from None
    return tuple(texts)


def mount_template() -> str:
    """The text of a mount file in which nothing is told yet."""
    return files("pointmodel").joinpath("templates", "mount.toml").read_text("utf-8")


def _holds(path: Path, data: bytes) -> bool:
    return path.is_file() and not path.is_symlink() and path.read_bytes() == data


def _is_there(path: Path) -> Problem:
    wanted = "another folder, or that file moved away: nothing is overwritten"
    return Problem(str(path), None, None, "a file that is there already", wanted)
