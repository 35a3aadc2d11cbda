"""The plug pulled, and the program killed, after every single step to the disk: nothing is lost."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest
from powercut import Disk, lay_out

from pointmodel.base.ownfiles import write_whole
from pointmodel.fitting.fit import fit
from pointmodel.planning.plan import plan
from pointmodel.reading.newfiles import NEW_FILES, new_files
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.logfile import LogFile, open_log

DATA = Path(__file__).parent.parent / "data"
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Disk:
    folder = tmp_path / "watched"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return Disk(folder, random.Random(14))


def enter(disk: Disk, file: LogFile, star: str, **more: str) -> None:
    """Keep a pair; what it is called counts as said once the log has it."""
    az = f"{len(star) * 10}.25"
    pair = {"commanded_az": az, "commanded_alt": "41 30.55", "centred_az": az, "centred_alt": "41"}
    file.append({"target": star, **pair, **more})
    disk.said.append(("+", star))


def insert(disk: Disk, file: LogFile, star: str, at_line: int) -> None:
    """Put a pair among the earlier lines, with a column that the log lacks."""
    pair = {"commanded_az": "70", "commanded_alt": "50", "centred_az": "70.1", "centred_alt": "50"}
    file.insert({"target": star, **pair, "entry_id": "a000000000000001"}, at_line)
    disk.said.append(("+", star))


def strike_last(disk: Disk, file: LogFile) -> None:
    lines = Path("night.csv").read_bytes().splitlines()
    file.strike(len(lines))
    disk.said.append(("-", lines[-1].decode().split(",")[0]))


def an_evening(disk: Disk) -> None:
    """Pairs, an event and a note that need a column, a line struck, a recording gone on with."""
    for part in "ab":
        file = open_log("night.csv")
        for number in range(2):
            enter(disk, file, f"star {part}{'*' * number}")
        insert(disk, file, f"earlier {part}", 3)
        if part == "b":
            enter(disk, file, "star with a note", note="wind, from the sea", event="")
        strike_last(disk, file)
        enter(disk, file, f"star {part} again")
        file.close()


def assert_nothing_is_lost(disk: Disk, log: str = "night.csv") -> None:
    """In whatever state the folder is found, the log opens and holds all that was said before."""
    assert len(disk.pictures) > 100
    for number, (said, how, picture) in enumerate(disk.pictures):
        here = disk.folder.parent / str(number)
        lay_out(picture, here)
        open_log(here / log).close()
        stars = Counter(read_log(here / log).target)
        wanted = Counter(star for sign, star in disk.said[:said] if sign == "+")
        wanted.subtract(star for sign, star in disk.said[:said] if sign == "-")
        # the step under way may be done or not: an entry more, or the one being struck gone
        under_way = disk.said[said : said + 1]
        more = Counter(star for sign, star in under_way if sign == "+")
        less = Counter(star for sign, star in under_way if sign == "-")
        assert stars <= wanted + more, (how, picture)
        assert wanted - less <= stars, (how, picture)
        assert [path.name for path in here.iterdir()] == [log], how


def test_a_new_log_loses_nothing(disk: Disk) -> None:
    with disk.watched():
        an_evening(disk)
    assert_nothing_is_lost(disk)


@pytest.mark.parametrize(
    "start",
    [
        f"\ufeffsep=;\r\n{HEADER.replace(',', ';')}\r\n".encode(),
        f"# made by hand\n{HEADER}\nstar of old,1,2,3,4".encode(),
        f"{HEADER}\r".encode(),
    ],
)
def test_a_log_gone_on_with_loses_nothing(disk: Disk, start: bytes) -> None:
    Path("night.csv").write_bytes(start)
    old = read_log("night.csv").target
    disk.said += [("+", star) for star in old]
    with disk.watched():
        an_evening_of_one(disk)
    assert_nothing_is_lost(disk)


def an_evening_of_one(disk: Disk) -> None:
    file = open_log("night.csv")
    enter(disk, file, "first")
    file.append_text("# wind")
    enter(disk, file, "second", note="late")
    enter(disk, file, "third")
    file.close()


def test_a_file_replaced_is_the_old_one_or_the_new_one_and_the_new_one_once_that_is_said(
    disk: Disk,
) -> None:
    Path("kept.json").write_bytes(b"the old one")
    with disk.watched():
        write_whole(Path("kept.json"), b"the new one")
        disk.said.append("written")
        write_whole(Path("another.json"), b"more")
    for said, how, picture in disk.pictures:
        allowed = [b"the new one"] if said else [b"the old one", b"the new one"]
        assert picture["kept.json"] in allowed, how
        assert picture.get("another.json", b"more") == b"more", how


def test_new_files_are_whole_or_not_there_and_a_killed_start_is_gone_on_with(disk: Disk) -> None:
    with disk.watched():
        new_files(".")
        disk.said.append("made")
    for number, (said, how, picture) in enumerate(disk.pictures):
        here = disk.folder.parent / f"new-{number}"
        lay_out(picture, here)
        for name in NEW_FILES:
            assert picture.get(name) in (None, (disk.folder / name).read_bytes()), how
        if said or all(name in picture for name in NEW_FILES):
            continue
        new_files(here)
        assert sorted(p.name for p in here.iterdir()) == sorted(NEW_FILES)


def test_a_saved_fit_a_page_and_a_sheet_are_whole_or_not_there(disk: Disk) -> None:
    found = fit(DATA / "leaning.csv")
    sheet = plan(DATA / "mount.toml", at="2031-05-17T20:00+10:00", stars=3)
    with disk.watched():
        found.save("kept.json")
        found.report("page.html")
        sheet.sheet("sheet.html")
    for _, how, picture in disk.pictures:
        for name in ("kept.json", "page.html", "sheet.html"):
            assert picture.get(name) in (None, (disk.folder / name).read_bytes()), (how, name)
