"""The command as a process: closed streams, Ctrl-C at any moment, a signal to end, full outputs."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bench.file_kills import kill_many

DATA = Path(__file__).parent.parent / "data"
ROOT = Path(__file__).parent.parent
LEANING = str(DATA / "leaning.csv")
ENVIRONMENT = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}
COMMAND = f"{sys.executable} -m pointmodel"
LONGEST_WAIT_S = 60.0


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def in_a_shell(line: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        line, shell=True, capture_output=True, text=True, env=ENVIRONMENT, check=False
    )


@pytest.mark.parametrize(
    ("line", "code", "message"),
    [
        (f"fit {LEANING} --no-report >&-", 2, "standard output: read a closed stream; wanted"),
        (f"fit {LEANING} --no-report 1</dev/null", 2, "standard output: read a closed stream"),
        (f"fit {LEANING} --no-report <&-", 0, ""),
        (f"fit {LEANING} --no-report 2>&-", 0, ""),
        ("fit - <&-", 2, "-: read a standard input that is closed; wanted the path of a log"),
        ("fit - 0>/dev/null", 2, "-: read a stream that cannot be read"),
        ("record night.csv <&-", 2, "-: read a standard input that is closed; wanted a terminal"),
        ("record night.csv --pipe <&-", 2, "-: read a standard input that is closed; wanted"),
        ("record night.csv --pipe </dev/null >&-", 2, "standard output: read a closed stream"),
        (f"fit {LEANING} --no-report >/dev/full", 1, "the system refuses: No space left on device"),
        ("fit nothing.csv 2>&-", 2, ""),
    ],
)
def test_streams_that_are_closed_are_told_of_where_they_are_needed(
    line: str, code: int, message: str
) -> None:
    result = in_a_shell(f"{COMMAND} {line}")
    assert result.returncode == code
    assert message in result.stderr
    assert len(result.stderr.splitlines()) == bool(message)
    assert os.listdir() == []


def test_nothing_is_printed_into_a_file_that_is_opened_where_output_is_closed() -> None:
    Path("night.csv").write_bytes(Path(LEANING).read_bytes())
    in_a_shell(f"{COMMAND} record night.csv --pipe <&- >&- 2>&-")
    assert Path("night.csv").read_bytes() == Path(LEANING).read_bytes()


HOOKED = """
import atexit, os, signal, sys

class Press:
    def find_spec(self, name, *more):
        if name == os.environ["WHEN"]:
            os.environ["WHEN"] = ""
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Press())
if os.environ["WHEN"] == "the end":
    atexit.register(os.kill, os.getpid(), signal.SIGINT)
from pointmodel.cli import main
main()
"""


@pytest.mark.parametrize(
    "when",
    [
        "pointmodel.fitting.fit",
        "numpy.linalg",
        "click",
        "pointmodel.cli",
        "pointmodel.commands.fit",
        "pointmodel.fitting.text",
        "jinja2",
        "the end",
    ],
)
def test_ctrl_c_ends_the_command_without_a_traceback_also_while_it_is_imported(when: str) -> None:
    Path("pointmodel").write_text(HOOKED)  # named as the command is
    result = subprocess.run(
        [sys.executable, "pointmodel", "fit", LEANING],
        capture_output=True,
        text=True,
        env={**ENVIRONMENT, "WHEN": when},
        check=False,
    )
    assert result.returncode == 130
    assert result.stderr.strip() == ""


def test_commands_that_are_killed_leave_every_file_as_it_was_or_new_and_whole(
    tmp_path: Path,
) -> None:
    """A few of their steps; all of them: tests/bench/file_kills.py."""
    for tally in kill_many(4, 1, tmp_path).values():
        assert tally.kills == 4
        assert (tally.broken, tally.left_over) == (0, 0)


def test_another_program_that_imports_the_package_keeps_its_own_ctrl_c() -> None:
    Path("theirs.py").write_text(
        "import pointmodel, signal\n"
        "assert signal.getsignal(signal.SIGINT) is signal.default_int_handler\n"
    )
    assert in_a_shell(f"{sys.executable} theirs.py").stderr == ""
    assert in_a_shell(f"{sys.executable} -m theirs").stderr == ""
    assert in_a_shell(f"{sys.executable} -c 'import theirs'").stderr == ""


def test_who_ignores_ctrl_c_for_the_command_has_it_ignored() -> None:
    result = in_a_shell(
        f"trap '' INT; {sys.executable} -c 'import os, signal, sys; sys.argv = [\"pointmodel\"];"
        " import pointmodel; os.kill(os.getpid(), signal.SIGINT); print(1)'"
    )
    assert (result.returncode, result.stdout) == (0, "1\n")


def processes_under(pid: int) -> set[int]:
    """The processes that a process started, and those that they did."""
    try:
        told = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    except OSError:
        return set()
    found = {int(word) for word in told.split()}
    return found.union(*(processes_under(child) for child in found))


def running(pids: set[int]) -> set[int]:
    """Those of the processes that have not ended."""
    return {pid for pid in pids if os.path.exists(f"/proc/{pid}") and _state(pid) not in "ZX"}


def _state(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return "X"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL, signal.SIGINT])
def test_a_compare_that_is_ended_leaves_no_worker_behind(how: signal.Signals) -> None:
    Path("season").mkdir()
    for number in range(60):
        shutil.copy(LEANING, f"season/{number}.csv")
    script = (
        "import pointmodel.comparing.season as season\n"
        "season.cores = lambda: 3\n"
        "from pointmodel.cli import main\nmain()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, "compare", "season", "--no-report"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=ENVIRONMENT,
    ) as command:
        end_s = time.monotonic() + LONGEST_WAIT_S
        workers: set[int] = set()
        while len(workers) < 4 and time.monotonic() < end_s:  # three, and who watches over them
            workers |= processes_under(command.pid)
            time.sleep(0.02)
        assert len(workers) >= 4
        command.send_signal(how)
        command.wait(LONGEST_WAIT_S)
        assert command.stderr is not None
        told = command.stderr.read().decode()
    while running(workers) and time.monotonic() < end_s:
        time.sleep(0.02)
    assert running(workers) == set()
    assert "Traceback" not in told or how == signal.SIGKILL  # a worker that was just starting
    assert command.returncode == (130 if how == signal.SIGINT else -how)
