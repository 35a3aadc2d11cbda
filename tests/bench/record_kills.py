"""Recordings killed at random moments: is anything accepted lost, is any log left unreadable?

python tests/bench/record_kills.py [--kills 200] [--seed 1] [--forked]

By turns a program's recording (`--pipe`) and a person's (answers typed as fast as they are asked
for) are stopped by SIGKILL; the next one goes on with the same log. Accepted is what was answered:
by a JSON line with `kept`, or by a line that begins with `Line N.` With --forked the recordings are
copies of a program that has started already, which takes a twentieth of the time: programs' only.
"""

from __future__ import annotations

import argparse
import json
import os
import selectors
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import numpy as np

import pointmodel as pm
from pointmodel.cli import command_line
from pointmodel.recording.remark import judge

LONGEST_START_S = 60.0
LATEST_KILL_S = 0.8
EARLY_EVERY, LATEST_EARLY_KILL_S = 5, 1.2  # every fifth is killed while it starts
LATEST_FORKED_KILL_S = 1.5
A_LOG = 25  # kills before a new log is begun
PIPED_HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"


@dataclass
class Tally:
    """What was killed, what had been accepted by then, and what was amiss."""

    kills: int = 0
    accepted: int = 0
    cut_off: int = 0
    lost: int = 0
    unreadable: int = 0


def kill_many(kills: int, seed: int, folder: Path) -> Tally:
    """Record and kill so often, in logs of this folder; compare each log with what was answered."""
    rng, tally = np.random.default_rng(seed), Tally()
    accepted: list[str] = []
    names = (f"star {number}" for number in range(10**9))
    log = folder / "none.csv"
    for kill in range(kills):
        if kill % A_LOG == 0:
            log, accepted = folder / f"night-{kill}.csv", []
        early_s = float(rng.uniform(0.0, LATEST_EARLY_KILL_S))
        start_s = early_s if kill % EARLY_EVERY == 0 else LONGEST_START_S
        after_s = float(rng.uniform(0.0, LATEST_KILL_S))
        recorded = _killed(log, names, start_s, after_s, piped=kill % 2 == 0)
        accepted.extend(recorded)
        tally.kills += 1
        tally.accepted += len(recorded)
        _compare(log, accepted, tally)
    return tally


def _killed(
    log: Path, names: Iterator[str], start_s: float, after_s: float, piped: bool
) -> list[str]:
    """Record until so long after the start, and after the first answer; the stars accepted."""
    # what is known of the controller is not asked
    told = log.with_name("mount.toml")
    told.write_text('[alignment]\nstars = []\npresses = "none"\n')
    command = [sys.executable, "-u", "-m", "pointmodel", "record", str(log)]
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        command + (["--pipe"] if piped else ["--plain"]),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
        bufsize=0,
    ) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        accepted = list(_recorded(program, names, start_s, after_s, piped))
        program.kill()
        rest = program.stdout.read().decode()
    asked = accepted.pop()  # the last one was not answered before the kill; perhaps just then
    if ('"kept"' if piped else "\nLine ") in rest:
        accepted.append(asked)
    return accepted


def kill_forked(kills: int, seed: int, folder: Path) -> Tally:
    """The same with programs' recordings that need no start."""
    rng, tally = np.random.default_rng(seed), Tally()
    accepted: list[str] = []
    names = (f"star {number}" for number in range(10**9))
    log = folder / "none.csv"
    for module in ("recording.pipe", "recording.session", "commands.record", "sky.sunguard"):
        import_module(f"pointmodel.{module}")
    judge(pm.simulate(seed=seed).log, None, time.time())
    for kill in range(kills):
        if kill % A_LOG == 0:
            log, accepted = folder / f"night-{kill}.csv", []
        recorded = _forked(log, names, float(rng.uniform(0.0, LATEST_FORKED_KILL_S)))
        accepted.extend(recorded)
        tally.kills += 1
        tally.accepted += len(recorded)
        _compare(log, accepted, tally)
    return tally


def _forked(log: Path, names: Iterator[str], after_s: float) -> list[str]:
    """Record in a copy of this process, killed after so long; the stars accepted."""
    (heard, sends), (answers, says) = os.pipe(), os.pipe()
    child = os.fork()
    if child == 0:
        os.close(sends)
        os.dup2(heard, 0)
        os.dup2(says, 1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        os.closerange(3, 64)
        sys.stdin, sys.stdout = open(0, closefd=False), open(1, "w", closefd=False)  # noqa: SIM115
        try:
            command_line.main(["record", str(log), "--pipe"])
        finally:
            os._exit(0)
    os.close(heard)
    os.close(says)
    end_s, sent, seen = time.monotonic() + after_s, [], b""
    with os.fdopen(sends, "wb", buffering=0) as to, os.fdopen(answers, "rb", buffering=0) as back:
        to.write(f"{PIPED_HEADER}\n".encode())
        with selectors.DefaultSelector() as selector:
            selector.register(back, selectors.EVENT_READ)
            while True:
                if seen.count(b"\n") == len(sent):
                    az, alt = len(sent) * 37 % 360, 20 + len(sent) * 11 % 50
                    sent.append(next(names))
                    to.write(f"{sent[-1]},{az},{alt},{az}.1,{alt}.1\n".encode())
                if not selector.select(max(0.0, end_s - time.monotonic())):
                    break
                seen += back.read(1 << 16)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        seen += back.read()
    return sent[: seen.count(b'"kept"')]


def _recorded(
    program: subprocess.Popen[bytes],
    names: Iterator[str],
    start_s: float,
    after_s: float,
    piped: bool,
) -> Iterator[str]:
    """Enter pairs until the time is up; every star that was begun."""
    end_s = time.monotonic() + start_s
    if piped:
        _send(program, PIPED_HEADER)
    elif _wait_for(program, "Star", end_s):
        end_s = time.monotonic() + after_s
    for number, name in enumerate(names):
        az, alt = number * 37 % 360, 20 + number * 11 % 50
        yield name
        if piped:
            _send(program, f"{name},{az},{alt},{az}.1,{alt}.1")
            answered = _wait_for(program, '"kept"', end_s)
        else:
            answered = True
            for answer, question in (
                (name, "keep as a free name"),
                ("y", "The controller says"),
                (f"{az} {alt}", "The mount reads"),
                (f"{az}.1 {alt}.1", "Line"),
            ):
                _send(program, answer)
                answered = answered and _wait_for(program, question, end_s)
        if not answered:
            return
        if piped and number == 0:
            end_s = time.monotonic() + after_s


def _send(program: subprocess.Popen[bytes], line: str) -> None:
    assert program.stdin is not None
    program.stdin.write(line.encode() + b"\n")


def _wait_for(program: subprocess.Popen[bytes], word: str, end_s: float) -> bool:
    """Read until a word has come; False where the time was up before."""
    assert program.stdout is not None
    seen = b""
    with selectors.DefaultSelector() as selector:
        selector.register(program.stdout, selectors.EVENT_READ)
        while word.encode() not in seen:
            if not selector.select(max(0.0, end_s - time.monotonic())):
                return False
            part = os.read(program.stdout.fileno(), 1 << 16)
            if not part:
                raise RuntimeError(f"the recording ended by itself after {seen.decode()!r}")
            seen += part
    return True


def _compare(log: Path, accepted: list[str], tally: Tally) -> None:
    """Whether a log can be read, and holds all that was accepted."""
    if not log.exists():
        tally.lost += len(accepted)
        return
    text = log.read_text(encoding="utf-8")
    tally.cut_off += not text.endswith("\n")
    try:
        stars = pm.read_log(log).target
    except pm.InputError:
        tally.unreadable += 1
        return
    tally.lost += len(set(accepted) - set(stars))


def main() -> None:
    """Print the tally."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--kills", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--forked", action="store_true")
    told = asked.parse_args()
    kill = kill_forked if told.forked else kill_many
    with tempfile.TemporaryDirectory() as folder:
        print(json.dumps(vars(kill(told.kills, told.seed, Path(folder)))))


if __name__ == "__main__":
    main()
