"""Commands killed while they write: is every file the old one or the new one, whole?

python tests/bench/file_kills.py [--kills 200] [--seed 1]

`new`, `fit --save` and `plan --sheet` are started as copies of a program that has its modules, and
stop themselves by SIGKILL before a random step that brings bytes or names onto the disk, or in the
middle of a write. Then each file must be
missing, as it was, or as an undisturbed run makes it; and the same command, let run, must end as if
nothing had happened, with nothing left beside its files. (`new` refuses where a file of its own
stands already; then that is all it does.)
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import numpy as np

import pointmodel as pm
from pointmodel.cli import command_line

STEPS = ("write", "fsync", "replace", "link", "unlink", "open", "fchmod")
AT = "T20:00+10:00"
SITE = '[site]\nlatitude = -41.3\nlongitude = 146.2\ntime_zone = "Australia/Hobart"\n'

Files = dict[str, bytes]


@dataclass
class Tally:
    """What was killed, how often files were left as they were or new, and what was amiss."""

    kills: int = 0
    old: int = 0
    new: int = 0
    broken: int = 0
    left_over: int = 0


@dataclass(frozen=True)
class Command:
    """A command in a folder: what stands there before, how it is called, what it may replace."""

    name: str
    prepare: Callable[[Path], None]
    arguments: tuple[str, ...]
    replaces: bool = True


def _log(folder: Path, pairs: int) -> None:
    text = pm.simulate(seed=1, pairs=12).log.pairs.head(pairs).to_csv(index=False)
    (folder / "night.csv").write_text(text, encoding="utf-8")


def _nothing(folder: Path) -> None:
    del folder


def _saved_before(folder: Path) -> None:
    _log(folder, 8)
    pm.fit(folder / "night.csv").save(folder / "kept.json")
    _log(folder, 12)


def _planned_before(folder: Path) -> None:
    (folder / "mount.toml").write_text(SITE, encoding="utf-8")
    mount = str(folder / "mount.toml")
    _run(("plan", "--mount", mount, "--at", f"2031-05-16{AT}", "--sheet", "sheet.html"))


COMMANDS = (
    Command("new", _nothing, ("new", "first"), replaces=False),
    Command(
        "fit --save", _saved_before, ("fit", "night.csv", "--no-report", "--save", "kept.json")
    ),
    Command(
        "plan --sheet",
        _planned_before,
        (
            "plan",
            "--mount",
            "mount.toml",
            "--at",
            f"2031-05-17{AT}",
            "--sheet",
            "sheet.html",
        ),
    ),
)


def kill_many(kills: int, seed: int, folder: Path) -> dict[str, Tally]:
    """Kill each command so often, in folders of this one."""
    rng, tallies = np.random.default_rng(seed), {}
    for command in COMMANDS:
        tally = tallies[command.name] = Tally()
        place = folder / command.name.replace(" ", "")
        before, after, steps = _undisturbed(command, place)
        for step in np.resize(rng.permutation(steps), kills).tolist():
            _made_anew(command, place)
            _killed(place, command.arguments, step)
            tally.kills += 1
            found = files_in(place)
            _count(tally, found, before, after)
            if command.replaces or not _named(found):
                _run_in(place, command.arguments)
                tally.left_over += files_in(place) != after
    return tallies


def _count(tally: Tally, found: Files, before: Files, after: Files) -> None:
    """Of every file, those beside it with a passing name left out, whether it is old or new."""
    named = _named(found)
    is_new = False
    for name, data in named.items():
        if data == before.get(name):
            continue
        is_new = True
        if data != after.get(name):
            tally.broken += 1
            return
    if not set(before) <= set(named):
        tally.broken += 1
    elif is_new:
        tally.new += 1
    else:
        tally.old += 1


def _named(found: Files) -> Files:
    """The files without those under a passing name."""
    return {name: data for name, data in found.items() if ".pointmodel-" not in name}


def _undisturbed(command: Command, place: Path) -> tuple[Files, Files, int]:
    """The files before and after a run that nobody kills, and how many steps it takes."""
    _made_anew(command, place)
    before = files_in(place)
    _run_in(place, command.arguments)
    after = files_in(place)
    assert after != before, f"{command.name} writes nothing"
    _made_anew(command, place)
    return before, after, _killed(place, command.arguments, None)


def _made_anew(command: Command, place: Path) -> None:
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    here = Path.cwd()
    os.chdir(place)
    try:
        command.prepare(Path())
    finally:
        os.chdir(here)


def files_in(place: Path) -> Files:
    """Every file under a folder."""
    paths = sorted(path for path in place.rglob("*") if path.is_file())
    return {str(path.relative_to(place)): path.read_bytes() for path in paths}


def _run_in(place: Path, arguments: tuple[str, ...]) -> None:
    here = Path.cwd()
    os.chdir(place)
    try:
        _run(arguments)
    finally:
        os.chdir(here)


def _run(arguments: tuple[str, ...]) -> None:
    """Run a command in this process, without a word; raise where it refuses."""
    out, sys.stdout = sys.stdout, open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    try:
        command_line.main(list(arguments))
    except SystemExit as ended:
        if ended.code:
            raise RuntimeError(f"{arguments} ended with {ended.code}") from None
    finally:
        sys.stdout.close()
        sys.stdout = out


def _killed(place: Path, arguments: tuple[str, ...], step: int | None) -> int:
    """Run a command in a copy of this process, killed at this step; how many it took otherwise."""
    taken, child = count(), os.fork()
    if child == 0:
        try:
            os.chdir(place)
            for stream in (0, 1, 2):
                os.dup2(os.open(os.devnull, os.O_RDWR), stream)
            for name in STEPS:
                setattr(os, name, _deadly(name, getattr(os, name), taken, step))
            command_line.main(list(arguments))
        finally:
            os._exit(next(taken))  # an exit code holds far more than they are
    return os.WEXITSTATUS(os.waitpid(child, 0)[1])


def _deadly(
    name: str, real: Callable[..., object], taken: Iterator[int], step: int | None
) -> Callable[..., object]:
    def at_last(*given: object, **named: object) -> object:
        if next(taken) == step:
            if name == "write":
                file, data = given
                real(file, bytes(data)[: len(bytes(data)) // 2])  # type: ignore[arg-type]
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*given, **named)

    return at_last


def main() -> None:
    """Print the tallies."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--kills", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    told = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for name, tally in kill_many(told.kills, told.seed, Path(folder)).items():
            print(name, json.dumps(vars(tally)))


if __name__ == "__main__":
    main()
