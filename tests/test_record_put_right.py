"""Lines that are put right all at once, what they were kept above them: whole, or not at all."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from powercut import Disk, lay_out

from pointmodel.reading.mountfile import Eyepiece
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.logfile import NotSavedError, open_log
from pointmodel.recording.session import RefusedError, Session, mount_for

LOG = Path("night.csv")
SITE = {"latitude": -41.3, "longitude": 146.2, "utc_offset": "+10:00"}
NIGHT_S = 1936782270.0  # an evening in May 2031 there
HEADER = "target,time,nudge_right,nudge_up,my seeing,note,entry_id,tapped"
FIRST, SECOND, THIRD = ("a0" * 8, "a1" * 8, "a2" * 8)
LINES = [
    HEADER,
    "# [eyepiece] turn = 0, mirrored = false",
    f'Spica,2031-05-17T20:00:00+10:00,5.0,3.0,"2, rising","wind, from the sea",{FIRST},5.0 3.0',
    "Acrux,2031-05-17T20:03:00+10:00,0,0,2,,,",
    "# dew",
    f"Canopus,2031-05-17T20:06:00+10:00,-7.0,1.0,3,'=x,{SECOND},-7.0 1.0",
]
STANDS = {"turn": "0", "mirrored": "true"}
RIGHT = {FIRST: {"nudge_right": "-5.0"}, SECOND: {"nudge_right": "7.0"}}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@contextlib.contextmanager
def session(lines: list[str] = LINES, newline: str = "\n") -> Iterator[Session]:
    LOG.write_bytes((newline.join(lines) + newline).encode())
    file = open_log(LOG)
    try:
        yield Session(file, str(LOG), mount_for(str(LOG), {"site": SITE}), NIGHT_S)
    finally:
        file.close()


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_lines_are_put_right_below_what_they_were_and_the_rest_stands(newline: str) -> None:
    with session(newline=newline) as one:
        assert one.put_right(RIGHT, "eyepiece", STANDS) == 2
        assert one.mount.eyepiece == Eyepiece(0.0, True)
        assert one.log.pairs["nudge_right"].tolist() == pytest.approx([-5.0, 0.0, 7.0])
    assert LOG.read_bytes().decode().split(newline) == [
        *LINES[:2],
        "# [eyepiece] turn = 0, mirrored = true",
        f"# undone: {LINES[2]}",
        LINES[2].replace(",5.0,3.0,", ",-5.0,3.0,"),
        *LINES[3:5],
        f"# undone: {LINES[5]}",
        LINES[5].replace(",-7.0,1.0,3", ",7.0,1.0,3"),
        "",
    ]


def test_a_line_that_was_put_right_is_found_and_taken_back_by_its_id() -> None:
    with session() as one:
        one.put_right(RIGHT, "eyepiece", STANDS)
        line = one.line_of(FIRST)
        assert line == 5
        assert not one.is_struck(line)
        assert one.undo(line)
        assert one.is_struck(line)
        assert one.line_of(FIRST) == 5


def test_a_line_is_taken_back_only_where_it_still_is_what_was_meant() -> None:
    with session() as one:
        last = one.last_line()
        assert last is not None
        one.put_right(RIGHT, "eyepiece", STANDS)
        before = LOG.read_bytes()
        with pytest.raises(RefusedError, match="line 6 "):
            one.undo(last.line, last)
        assert LOG.read_bytes() == before
        again = one.last_line()
        assert again is not None
        assert one.undo(again.line, again) == again


def test_what_was_put_right_is_not_brought_back_beside_it() -> None:
    with session() as one:
        one.put_right(RIGHT, "eyepiece", STANDS)
        before = LOG.read_bytes()
        with pytest.raises(RefusedError, match="line 4 was put right: it stands in the log below"):
            one.redo(4)
    assert LOG.read_bytes() == before


def test_entries_that_are_not_in_the_log_change_nothing() -> None:
    with session() as one:
        assert one.put_right({THIRD: {"nudge_right": "1"}}, "eyepiece", STANDS) == 0
    assert LOG.read_text().splitlines() == LINES


def test_what_another_program_takes_out_is_written_again_as_it_was_put_right() -> None:
    with session(LINES[:2]) as one:
        pair = {
            "target": "Spica",
            "time": "2031-05-17T20:00:00+10:00",
            "nudge_right": "5.0",
            "nudge_up": "3.0",
            "entry_id": FIRST,
        }
        one.keep(pair, NIGHT_S)
        one.put_right(RIGHT, "eyepiece", STANDS)
        LOG.write_text("\n".join(LINES[:2]) + "\n")
        one.keep_remark("dew")
    assert read_log(LOG, {"site": SITE}).pairs["nudge_right"].tolist() == pytest.approx([-5.0])


def test_where_the_disk_is_full_the_log_is_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with session() as one, monkeypatch.context() as patch:
        patch.setattr("pointmodel.recording.logfile.replace_bytes", full)
        with pytest.raises(NotSavedError, match="No space left"):
            one.put_right(RIGHT, "eyepiece", STANDS)
    assert LOG.read_text().splitlines() == LINES


def test_whenever_the_plug_is_pulled_all_lines_are_put_right_or_none(tmp_path: Path) -> None:
    disk = Disk(tmp_path, random.Random(7))
    with session() as one, disk.watched():
        one.put_right(RIGHT, "eyepiece", STANDS)
        disk.said.append("put right")
        one.keep_remark("dew")
    assert len(disk.pictures) > 5
    found = set()
    for number, (said, _, picture) in enumerate(disk.pictures):
        there = tmp_path / f"found {number}"
        lay_out(picture, there)
        nudges = read_log(there / "night.csv", {"site": SITE}).pairs["nudge_right"]
        found.add((said, *(round(nudge, 1) for nudge in nudges)))
    old, new = (5.0, 0.0, -7.0), (-5.0, 0.0, 7.0)
    assert found == {(0, *old), (0, *new), (1, *new)}
