"""The mount file and the log that a night starts from."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from pointmodel.base.errors import InputError
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.reading.mountkeys import TABLES
from pointmodel.reading.newfiles import new_files
from pointmodel.reading.nightlog import read_log


def test_the_new_files_are_read_as_they_are_and_say_nothing_yet(tmp_path: Path) -> None:
    mount_path, log_path = new_files(tmp_path / "first" / "night")
    assert (mount_path.name, log_path.name) == ("mount.toml", "night.csv")
    mount = read_mount(mount_path)
    assert mount.to_dict() == MountFile().to_dict()
    log = read_log(log_path)
    assert len(log) == 0
    assert [notice.code for notice in log.warnings] == ["mount_file"]


def test_every_key_stands_in_the_new_mount_file_with_a_value_that_is_read(tmp_path: Path) -> None:
    path, _ = new_files(tmp_path)
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r"(?m)^#(?=\w)", "", text), encoding="utf-8")
    tables = read_mount(path).to_dict()
    left_out = {("site", "utc_offset")}
    assert {(table, key) for table in tables for key in tables[table]} | left_out == {
        (table, key) for table, keys in TABLES.items() for key in keys
    }


def test_a_line_typed_below_the_header_is_a_pair(tmp_path: Path) -> None:
    _, path = new_files(str(tmp_path))
    with path.open("a", encoding="utf-8") as file:
        file.write("Achernar,2031-05-17T21:04:30+10:00,123 45,45,124 1,45 3,cw,up,,\n")
    log = read_log(path)
    assert log.commanded_az_deg.tolist() == [123.75]
    assert log.line[0] == len(path.read_text(encoding="utf-8").splitlines())


@pytest.mark.parametrize("name", ["mount.toml", "night.csv"])
def test_nothing_is_overwritten_and_nothing_half_done_is_left(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(InputError, match="nothing is overwritten") as caught:
        new_files(tmp_path)
    assert [problem.file for problem in caught.value.problems] == [str(tmp_path / name)]
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_a_second_file_that_appears_meanwhile_takes_the_first_one_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "night.csv").write_text("mine")
    monkeypatch.setattr("os.path.lexists", lambda path: False)
    with pytest.raises(InputError, match=r"night\.csv: read a file that is there already"):
        new_files(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["night.csv"]


@pytest.mark.parametrize("folder", ["a\0b", "file/inside", 3])
def test_what_is_no_folder_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, folder: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("file").write_text("mine")
    with pytest.raises(InputError, match="wanted a folder that can be written to"):
        new_files(folder)


def test_the_new_log_warns_of_the_sun_and_asks_for_both_figures_at_one_moment(
    tmp_path: Path,
) -> None:
    text = new_files(tmp_path)[1].read_text(encoding="utf-8")
    assert "Sun" in text
    assert "finder" in text
    assert "moment of centring" in text
