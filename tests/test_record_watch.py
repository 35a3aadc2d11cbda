"""A log that another program writes is fitted again whenever a whole line has come."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bench.record_figures import knocked_log
from click.testing import CliRunner

from pointmodel.cli import command_line
from pointmodel.reading.mountfile import MountFile
from pointmodel.recording.watch import LOOKS_UNTIL_LEFT, Watch

DATA = Path(__file__).parent.parent / "data"
NIGHT = (DATA / "leaning.csv").read_text().splitlines(keepends=True)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


class Watched:
    """A watched log, and what was said at each look."""

    def __init__(self) -> None:
        self.path = Path("night.csv")
        self._said: list[str] = []
        self._watch = Watch(str(self.path), MountFile(), lambda text, _: self._said.append(text))

    def look(self) -> list[str]:
        """What a look has to say; nothing is changed or said by a second one."""
        self._said.clear()
        self._watch.look()
        said = list(self._said)
        self._watch.look()
        assert self._said == said
        return said

    def add(self, text: str) -> list[str]:
        with self.path.open("a", encoding="utf-8", newline="") as file:
            file.write(text)
        return self.look()


def test_each_new_pair_gets_its_line() -> None:
    watched = Watched()
    assert watched.add("".join(NIGHT[:5]))[0].startswith("Line 5, Muhlifain. It fits: ")
    assert watched.add(NIGHT[5])[0].startswith("Line 6, Unukalhai. It fits: ")
    assert watched.add(NIGHT[9])[0].startswith("Line 7, Suhail. DOES NOT FIT: ")


def test_a_second_misfit_in_a_row_asks_whether_something_moved() -> None:
    watched = Watched()
    frame = knocked_log(9, after=7).pairs.drop(columns=["az_motion", "alt_motion"])
    written = frame.to_csv(index=False).splitlines(keepends=True)
    watched.add("".join(written[:8]))
    assert "Check the centring" in watched.add(written[8])[0]
    assert "the second in a row. Did something move? Type bump" in watched.add(written[9])[0]


def test_a_line_half_written_is_waited_for() -> None:
    watched = Watched()
    watched.add("".join(NIGHT[:5]))
    assert watched.add(NIGHT[5][:30]) == []
    assert watched.add(NIGHT[5][30:])[0].startswith("Line 6, Unukalhai.")


def test_a_last_line_that_an_editor_left_open_is_a_pair_once_nobody_goes_on_with_it() -> None:
    watched = Watched()
    watched.add("".join(NIGHT[:5]))
    assert watched.add(NIGHT[5].rstrip("\n")) == []
    said = [watched.look() for _ in range(LOOKS_UNTIL_LEFT)]
    told = [one for each in said for one in each]
    assert told[0].startswith("Line 6, Unukalhai. It fits: ")
    assert len([one for one in told if one.startswith("Line")]) == 1
    assert watched.add("\n") == []
    assert watched.add(NIGHT[6])[0].startswith("Line 7, ")


def test_a_file_that_is_not_there_yet_is_waited_for() -> None:
    watched = Watched()
    assert watched.look() == ["night.csv: No such file or directory; waiting for it."]
    assert watched.add(NIGHT[0]) == ["night.csv: 0 pairs."]
    assert watched.add(NIGHT[1])[0].startswith("Line 2, Gienah. 1 pair. ")


def test_a_log_that_cannot_be_read_is_told_of_once_and_looked_at_again() -> None:
    watched = Watched()
    watched.add("".join(NIGHT[:5]))
    assert 'line 6, column commanded_az: read "x"' in watched.add("a,,x,1,2,3,,\n")[0]
    watched.path.write_text("".join(NIGHT[:6]))
    assert watched.look()[0].startswith("Line 6, Unukalhai. It fits")


def test_a_log_replaced_by_a_shorter_one_is_counted_anew() -> None:
    watched = Watched()
    watched.add("".join(NIGHT[:8]))
    beside = Path("beside.csv")
    beside.write_text("".join(NIGHT[:4]))
    beside.replace(watched.path)
    assert watched.look() == ["night.csv: 3 pairs."]
    assert watched.add("".join(NIGHT[4:5]))[0].startswith("Line 5, Muhlifain. It fits")


def test_remarks_and_events_alone_bring_no_line() -> None:
    watched = Watched()
    watched.add("".join(NIGHT[:5]))
    assert watched.add("# wind\n") == []


def test_watching_ends_well_with_ctrl_c() -> None:
    Path("night.csv").write_text("".join(NIGHT[:5]))
    command = [sys.executable, "-u", "-m", "pointmodel", "fit", "--watch", "night.csv"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as program:
        assert program.stdout is not None
        assert program.stderr is not None
        first = program.stdout.readline()
        assert first.startswith("Line 5, Muhlifain. It fits: ")
        with Path("night.csv").open("a") as file:
            file.write(NIGHT[9])
        told = time.monotonic()
        while "DOES NOT FIT" not in (line := program.stdout.readline()):
            assert line
        assert time.monotonic() - told < 5.0
        program.send_signal(signal.SIGINT)
        assert program.wait(20) == 0
        assert program.stderr.read() == ""


@pytest.mark.parametrize("more", ["--json", "--report=a.html", "--save=a.json"])
def test_watching_writes_nothing(more: str) -> None:
    result = CliRunner().invoke(command_line, ["fit", "night.csv", "--watch", more])
    assert result.exit_code == 2
    assert "--watch writes nothing" in result.stderr


@pytest.mark.parametrize(("log", "why"), [("-", "standard input"), ("a.xlsx", "a spreadsheet")])
def test_what_does_not_grow_by_lines_is_not_watched(log: str, why: str) -> None:
    result = CliRunner().invoke(command_line, ["fit", log, "--watch"])
    assert result.exit_code == 2
    assert why in result.stderr
