"""Generated inputs through every door: does anything escape, take long, or take much memory?

python tests/bench/fuzz.py [--inputs 1000000] [--seed 1] [--workers 2] [--doors log,sheet,…]
python tests/bench/fuzz.py --again log:1:123456     (one input once more, with its traceback)

Each worker is a process of its own with a limit on its memory, and one that hangs is ended. An
escape is any exception but the one of the user's errors, an exit code but 0 and 2, a death, or a
word of a result that no reader should see (nan, inf). Time is that of the processor, so that other
work on the machine does not count. A refusal names its file, and its line where a cell is wrong.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))
from bench import fuzz_inputs as made
from click.testing import CliRunner

import pointmodel as pm
from pointmodel.aiming.targets import asked_targets
from pointmodel.base import times
from pointmodel.base.errors import InputError
from pointmodel.cli import command_line
from pointmodel.estimate.profile import PROFILE_SCHEMA, read_profile
from pointmodel.mount.terms import STANDARD_NAMES, terms_of_the_mount
from pointmodel.reading.dates import time_of_day

LONGEST_S, MOST_MB = 2.0, 500.0
HANGS_AFTER_S = 120  # of the clock, so that a busy machine is not mistaken for a fault
ADDRESS_SPACE_BYTES = 4 << 30
A_CHUNK = 2000  # inputs of one process
FITTED_SHARE = 0.02  # of the logs that are read; a fit costs a hundred of them
# out of a thousand inputs: the cheap doors more, so that an hour goes a long way
WEIGHTS = {"time": 330, "target": 220, "log": 200, "mount": 90, "sheet": 60, "horizon": 40,
           "profile": 40, "simulate": 10, "saved": 8, "pipe": 2}  # fmt: skip
FOLDER = Path(tempfile.gettempdir())


def log_door(rng: random.Random) -> None:
    """A log; of some that are read, everything that a fit says."""
    log = pm.read_log(io.BytesIO(made.log_bytes(rng)))
    if rng.random() < FITTED_SHARE:
        fit = pm.fit(log)
        told(str(fit) + json.dumps(fit.to_dict(), allow_nan=False))


def sheet_door(rng: random.Random) -> None:
    """An .xlsx or .ods file."""
    pm.read_log(io.BytesIO(made.sheet_bytes(rng)))


def mount_door(rng: random.Random) -> None:
    """A mount file, written and read."""
    path = FOLDER / f"mount-{os.getpid()}.toml"
    text = made.mount_text(rng).encode("utf-8", "replace")
    path.write_bytes(made.bytes_changed(rng, text, share=0.1))
    mount = pm.read_mount(path)
    told(json.dumps(mount.to_dict(), default=str))
    assert mount.zone is None or mount.zone.utcoffset(None) is not NotImplemented


def horizon_door(rng: random.Random) -> None:
    """A horizon profile as tables, and how high the sky is open by it."""
    points: list[Any] = [[rng.uniform(-360, 360), rng.uniform(-10, 90)] for _ in range(5)]
    wrong = {"horizon": {"profile": points}}
    mount = pm.read_mount(made.tree_changed(rng, wrong) if rng.random() < 0.8 else wrong)
    open_deg = mount.open_alt_deg([0.0, 359.999, rng.uniform(-720, 720)])
    assert ((open_deg >= -10.0) & (open_deg <= 90.0)).all()


def profile_door(rng: random.Random) -> None:
    """A profile, as tables or as a file."""
    count = len(STANDARD_NAMES)
    square = [[4.0 * (row == column) for column in range(count)] for row in range(count)]
    sound = {"schema": PROFILE_SCHEMA, "terms": list(STANDARD_NAMES), "mean": [1.0] * count,
             "covariance": square, "log_sigma": {"mean": 0.0, "sd": 0.5}, "nights": 3}  # fmt: skip
    tables = made.tree_changed(rng, sound)
    if rng.random() < 0.5:
        read_profile(tables)
        return
    path = FOLDER / f"profile-{os.getpid()}.json"
    text = json.dumps(tables).encode("utf-8", "replace")
    path.write_bytes(made.bytes_changed(rng, text, share=0.3))
    read_profile(path)


def saved_door(rng: random.Random) -> None:
    """A saved fit."""
    path = FOLDER / f"fit-{os.getpid()}.json"
    if not path.exists():
        pm.fit(made.ROOT / "data" / "leaning.csv").save(path)
    wrong = made.tree_changed(rng, json.loads(path.read_text(encoding="utf-8")), most=2)
    other = FOLDER / f"fit-wrong-{os.getpid()}.json"
    text = json.dumps(wrong).encode("utf-8", "replace")
    other.write_bytes(made.bytes_changed(rng, text, share=0.2))
    fit = pm.load_fit(other)
    told(str(fit) + json.dumps(fit.to_dict(), allow_nan=False))


def target_door(rng: random.Random) -> None:
    """A target as it is asked for."""
    asked = rng.choice((made.any_text, made.any_text, made.any_number))(rng)
    other = made.any_number(rng)
    for target in asked_targets([asked] if rng.random() < 0.7 else [(asked, other)]):
        told(target.name)


def time_door(rng: random.Random) -> None:
    """A moment, a time of day, a date, an offset, or the name of a zone."""
    text = made.any_text(rng)
    parse: Callable[[str], object] = rng.choice(
        (times.parse_moment, times.parse_clock_s, times.parse_utc_offset_s, time_of_day,
         times.parse_zone_name, lambda text: times.parse_date(text, "year-month-day"))
    )  # fmt: skip
    try:
        parse(text)
    except times.TimeTextError:
        raise InputError([]) from None


def pipe_door(rng: random.Random) -> None:
    """A program's recording."""
    command(["record", f"night-{os.getpid()}-{rng.random()}.csv", "--pipe"], made.log_bytes(rng))


def simulate_door(rng: random.Random) -> None:
    """Options of `simulate`, as typed."""
    options = ["--seed", "--pairs", "--sigma", "--mount-share", "--readout-step", "--wrong-stars",
               "--pen-slips", "--clutch-slip", "--slip-after", "--low-alt", "--high-alt", "--start",
               "--minutes-between", "--sidereal-error", "--latitude-error"]  # fmt: skip
    values = ["0", "1", "-1", "3", "0.5", "40", "90", "1e9", "-1e9", "1e300", "20000"]
    args = ["simulate", "--out", f"simulated-{os.getpid()}-{rng.random()}.csv"]
    for option in rng.sample(options, rng.randint(1, 4)):
        args += [option, rng.choice(values) if rng.random() < 0.7 else made.any_text(rng)]
    if rng.random() < 0.4:
        terms = [*terms_of_the_mount(), "lean"]
        value = rng.choice(values) if rng.random() < 0.8 else made.any_text(rng)
        args += ["--term", f"{rng.choice(terms)}={value}"]
    command(args)


DOORS: dict[str, Callable[[random.Random], None]] = {
    "log": log_door, "sheet": sheet_door, "mount": mount_door, "horizon": horizon_door,
    "profile": profile_door, "saved": saved_door, "target": target_door, "time": time_door,
    "pipe": pipe_door, "simulate": simulate_door,
}  # fmt: skip


class EscapeError(Exception):
    """Something that no user should have met."""


def command(args: list[str], stdin: bytes = b"") -> None:
    """Run a command line in a folder of its own; raises InputError where it refuses."""
    with tempfile.TemporaryDirectory(dir=FOLDER) as folder:
        before = os.getcwd()
        os.chdir(folder)
        try:
            result = CliRunner().invoke(command_line, args, input=stdin)
        finally:
            os.chdir(before)
    if result.exit_code not in (0, 2) or "Traceback" in result.output:
        raise EscapeError(f"exit {result.exit_code}: {result.output[-300:]}")
    told(result.stdout)
    if result.exit_code:
        raise InputError([])


def told(text: str) -> None:
    """Check that a result holds no figure that is none."""
    for word in ("NaN", "Infinity", " nan", " inf ", "=nan", "=inf"):
        if word in text:
            raise EscapeError(f"{word.strip()} in what is told: {text[:200]}")


def without_place(error: InputError) -> bool:
    """Whether a refusal lacks its file, or its line where a column of a file's line is wrong."""
    return any(
        not problem.file or (problem.line is None and problem.column and problem.file == "<text>")
        for problem in error.problems
    )


def run_one(door: str, seed: int, number: int) -> tuple[str, str]:
    """What came of one input: accepted, refused, unplaced or escape, and the reason."""
    try:
        DOORS[door](random.Random(f"{door}:{seed}:{number}"))
    except InputError as error:
        return ("unplaced", str(error)[:200]) if without_place(error) else ("refused", "")
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        return "escape", f"{type(error).__name__}: {error} at {last.filename}:{last.lineno}"[:400]
    return "accepted", ""


def work(doors: list[str], seed: int, first: int, count: int) -> None:
    """Run inputs of one chunk; say what each comes to on standard output."""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE_BYTES, ADDRESS_SPACE_BYTES))
    warnings.simplefilter("error")
    share = [WEIGHTS[door] for door in doors]
    total: Counter[str] = Counter()
    peak_mb = 0.0
    for number in range(first, first + count):
        door = random.Random(f"{seed}:{number}").choices(doors, share)[0]
        say(at=f"{door}:{seed}:{number}")
        signal.alarm(HANGS_AFTER_S)
        start_s = time.process_time()
        came, why = run_one(door, seed, number)
        took_s = time.process_time() - start_s
        signal.alarm(0)
        mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        total[f"{door} {came}"] += 1
        if came in ("escape", "unplaced"):
            say(amiss=came, at=f"{door}:{seed}:{number}", why=why)
        if took_s > LONGEST_S:
            say(amiss="slow", at=f"{door}:{seed}:{number}", why=f"{took_s:.1f} s")
        if mb > MOST_MB and mb > peak_mb:
            say(amiss="large", at=f"{door}:{seed}:{number}", why=f"{mb:.0f} MB")
        peak_mb = max(peak_mb, mb)
    say(total=dict(total), mb=peak_mb)


def say(**what: Any) -> None:
    """One line of JSON for the process above."""
    print(json.dumps(what), flush=True)


def run_all(inputs: int, seed: int, workers: int, doors: list[str]) -> Counter[str]:
    """Share the inputs among processes; print what was amiss and the sums."""
    chunks = [(first, min(A_CHUNK, inputs - first)) for first in range(0, inputs, A_CHUNK)]
    running: dict[subprocess.Popen[str], tuple[int, int]] = {}
    sums: Counter[str] = Counter()
    while chunks or running:
        while chunks and len(running) < workers:
            first, count = chunks.pop(0)
            running[_started(doors, seed, first, count)] = (first, count)
        for process in [one for one in running if one.poll() is not None]:
            first, count = running.pop(process)
            rest = _reap(process, sums, first, count)
            chunks[:0] = [rest] if rest else []
        time.sleep(0.05)
    return sums


def _started(doors: list[str], seed: int, first: int, count: int) -> subprocess.Popen[str]:
    # into a file: a pipe that nobody reads would fill, and hold the process up
    args = [sys.executable, __file__, "--work", f"{first}:{count}", "--seed", str(seed)]
    output = tempfile.TemporaryFile("w+", dir=FOLDER)  # noqa: SIM115
    process = subprocess.Popen(
        [*args, "--doors", ",".join(doors)], stdout=output, stderr=subprocess.DEVNULL, text=True
    )
    process.stdout = output  # type: ignore[assignment]
    return process


def _reap(
    process: subprocess.Popen[str], sums: Counter[str], first: int, count: int
) -> tuple[int, int] | None:
    """Add up what a process said; where it died, tell on which input, and what is still to do."""
    assert process.stdout is not None
    process.stdout.seek(0)
    at = f"?:?:{first}"
    for line in process.stdout.read().splitlines():
        said = json.loads(line)
        at = said.get("at", at)
        sums.update(said.get("total", {}))
        if "amiss" in said:
            sums[said["amiss"]] += 1
            print(f"{said['amiss']}: {said['at']}: {said['why']}", flush=True)
    process.stdout.close()
    if process.returncode == 0:
        return None
    sums["died"] += 1
    print(f"died ({process.returncode}): {at}", flush=True)
    after = int(at.rsplit(":", 1)[1]) + 1
    return (after, first + count - after) if after < first + count else None


def main() -> int:
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--inputs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--doors", default=",".join(DOORS))
    parser.add_argument("--again", metavar="DOOR:SEED:NUMBER")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    given = parser.parse_args()
    doors = given.doors.split(",")
    if given.again:
        door, seed, number = given.again.split(":")
        DOORS[door](random.Random(f"{door}:{int(seed)}:{int(number)}"))
        return 0
    if given.work:
        first, count = map(int, given.work.split(":"))
        work(doors, given.seed, first, count)
        return 0
    start_s = time.monotonic()
    sums = run_all(given.inputs, given.seed, given.workers, doors)
    for name, count in sorted(sums.items()):
        print(f"{name:20s} {count}")
    amiss = {name: sums[name] for name in ("escape", "slow", "large", "unplaced", "died")}
    print(f"{given.inputs} inputs, seed {given.seed}, {time.monotonic() - start_s:.0f} s: {amiss}")
    return int(any(amiss.values()))


if __name__ == "__main__":
    sys.exit(main())
