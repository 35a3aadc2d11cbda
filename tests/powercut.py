"""A disk that remembers what was brought onto it, so that the plug can be pulled at any moment.

While it watches, every write, truncation, renaming and sync of this process in one folder is noted.
After each of them the folder is pictured as it would be found if the program were killed there
(everything written counts) and if the power went (only what was synced counts: file contents by
fsync of the file, names by fsync of the folder; POSIX.1, fsync(), and Linux, fsync(2), Notes), and
in between, where a part of what was not synced had reached the disk.
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

Picture = dict[str, bytes]
MOST_CUT_OFF = 3  # bytes: a line without its last digits looks like a line


@dataclass(eq=False)
class _File:
    """What a file holds for programs, and what of it is on the disk."""

    written: bytes = b""
    synced: bytes = b""


@dataclass
class Disk:
    """One folder's files and names; `pictures` are (what was said by then, folder as found)."""

    folder: Path
    chance: random.Random
    said: list[Any] = field(default_factory=list)
    pictures: list[tuple[int, str, Picture]] = field(default_factory=list)
    _names: dict[str, _File] = field(default_factory=dict)
    _synced_names: dict[str, _File] = field(default_factory=dict)
    _open: dict[int, _File | None] = field(default_factory=dict)

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Note what happens in the folder; what stands there already is on the disk."""
        for path in self.folder.iterdir():
            data = path.read_bytes()
            self._names[path.name] = _File(data, data)
        self._synced_names = dict(self._names)
        with pytest.MonkeyPatch.context() as patch:
            for name in ("open", "close", "write", "ftruncate", "fsync"):
                patch.setattr(os, name, self._noting(getattr(os, name), getattr(self, f"_{name}d")))
            for name in ("replace", "link", "unlink"):
                patch.setattr(os, name, self._noting(getattr(os, name), getattr(self, f"_{name}d")))
            yield

    def _noting(self, real: Callable[..., Any], note: Callable[..., None]) -> Callable[..., Any]:
        def noted(*args: Any, **more: Any) -> Any:
            before = self._state()
            result = real(*args, **more)
            note(result, *args)
            if self._state() != before:
                self._picture()
            return result

        return noted

    def _state(self) -> Any:
        names = [(name, id(file)) for name, file in self._names.items()]
        synced = [(name, id(file)) for name, file in self._synced_names.items()]
        return names, synced, [(f.written, f.synced) for f in self._names.values()]

    def _here(self, path: Any) -> str | None:
        told = Path(os.path.abspath(path)) if isinstance(path, (str, Path)) else None
        return told.name if told is not None and told.parent == self.folder else None

    def _opend(self, fd: int, path: Any, flags: int = 0, *_: Any) -> None:
        if os.path.abspath(path) == str(self.folder):
            self._open[fd] = None
        elif (name := self._here(path)) is not None:
            file = self._names.setdefault(name, _File())
            self._open[fd] = file
            self._look(fd)

    def _closed(self, _: None, fd: int) -> None:
        self._open.pop(fd, None)

    def _look(self, fd: int) -> None:
        if (file := self._open.get(fd)) is not None:
            file.written = Path(f"/proc/self/fd/{fd}").read_bytes()

    def _writed(self, _: int, fd: int, data: bytes) -> None:
        self._look(fd)

    def _ftruncated(self, _: None, fd: int, size: int) -> None:
        self._look(fd)

    def _fsyncd(self, _: None, fd: int) -> None:
        if fd in self._open:
            file = self._open[fd]
            if file is None:
                self._synced_names = dict(self._names)
            else:
                file.synced = file.written

    def _replaced(self, _: None, old: Any, new: Any) -> None:
        self._names[Path(new).name] = self._names.pop(Path(old).name)

    def _linkd(self, _: None, old: Any, new: Any) -> None:
        self._names[Path(new).name] = self._names[Path(old).name]

    def _unlinkd(self, _: None, path: Any) -> None:
        if (name := self._here(path)) is not None:
            self._names.pop(name, None)

    def _picture(self) -> None:
        """Remember what would be found now: after a kill, after a power cut, and in between."""
        now, synced = self._names, self._synced_names
        found = {
            "killed": {name: file.written for name, file in now.items()},
            "nothing more": {name: file.synced for name, file in synced.items()},
            "names only": {name: file.synced for name, file in now.items()},
            "a part": {name: self._part(file) for name, file in synced.items()},
        }
        for how, picture in found.items():
            self.pictures.append((len(self.said), how, picture))
        all_synced = found["nothing more"]
        for name, file in synced.items():
            if file.written.startswith(file.synced) and file.written != file.synced:
                for less in range(1, min(MOST_CUT_OFF, len(file.written) - len(file.synced)) + 1):
                    cut = {**all_synced, name: file.written[:-less]}
                    self.pictures.append((len(self.said), f"all but {less}", cut))

    def _part(self, file: _File) -> bytes:
        """What was synced and a part of what follows, with zeros for what is on its way still."""
        if not file.written.startswith(file.synced):
            return self.chance.choice([file.written, file.synced])
        length = self.chance.randint(len(file.synced), len(file.written))
        zeros = self.chance.choice([0, len(file.written) - length])
        return file.written[:length] + bytes(zeros)


def lay_out(picture: Picture, folder: Path) -> None:
    """Put the files of a picture into an empty folder."""
    folder.mkdir()
    for name, data in picture.items():
        (folder / name).write_bytes(data)
