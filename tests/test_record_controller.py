"""What is asked of the controller at the start of a recording, and where the answer is kept."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_record_dialogue import PAIR, SITE, Script, play

from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.reading.remarks import remark_that_says
from pointmodel.recording.controller import presses_meant, stars_meant, stars_value
from pointmodel.recording.mountlines import kept_in_mount_file, with_answers


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def questions(script: Script) -> list[str]:
    return [said for said in script.said if "I do not know" in said]


def test_without_a_mount_file_the_answer_is_a_remark_that_the_reader_knows() -> None:
    script, _ = play("acher, canopus", "no", *PAIR, mount={"site": SITE})
    assert len(questions(script)) == 2
    remarks = [line for line in Path("night.csv").read_text().splitlines() if line[0] == "#"]
    assert remarks == ['# [alignment] stars = ["Achernar", "Canopus"], presses = "none"']
    alignment = read_log("night.csv").mount.alignment
    assert (alignment.stars, alignment.presses) == (("Achernar", "Canopus"), "none")
    again, _ = play("quit", mount={"site": SITE})
    assert not questions(again)
    assert again.has("the controller was aligned on Achernar and Canopus. If that is not so")


def test_with_a_mount_file_lines_are_added_to_it_and_nothing_else_is_touched() -> None:
    before = "# mine\r\n[site]\r\nlatitude = -41.3   # here\r\n[alignment]\r\n#stars = []\r\n"
    Path("mount.toml").write_bytes(before.encode())
    play("no", "each time", *PAIR, mount=read_mount("mount.toml"))  # type: ignore[arg-type]
    after = Path("mount.toml").read_bytes().decode()
    assert set(before.splitlines()) <= set(after.splitlines())
    assert after.count("\r\n") == after.count("\n") == before.count("\n") + 2
    told = read_mount("mount.toml").alignment
    assert (told.stars, told.presses) == ((), "each_star")
    assert "# [" not in Path("night.csv").read_text()


def test_who_does_not_know_is_asked_again_next_time_and_nothing_is_kept() -> None:
    script, _ = play("", "", *PAIR, mount={"site": SITE})
    assert len(questions(script)) == 2
    assert read_log("night.csv").mount.alignment.state == "unknown"
    assert len(questions(play("", "", "quit", mount={"site": SITE})[0])) == 2


def test_what_the_mount_file_says_is_not_asked() -> None:
    told: dict[str, Any] = {"alignment": {"stars": ["Achernar"], "presses": "none"}}
    script, _ = play("quit", mount=told)
    assert not questions(script)
    assert script.has("the controller was zeroed on Achernar")


def test_a_mere_yes_is_asked_for_the_names() -> None:
    script, _ = play("yes", "Spica", "sometimes", "quit", mount={})
    assert script.has("Type the names of the stars")
    assert script.has("Then type zero_on_star here each time")
    alignment = read_log("night.csv").mount.alignment
    assert (alignment.stars, alignment.presses) == (("Spica",), "logged")


def test_an_end_at_the_question_ends_the_recording_and_keeps_nothing() -> None:
    _, result = play(mount={})
    assert (result.pairs, read_log("night.csv").mount.alignment.state) == (0, "unknown")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("no", ()),
        ("None", ()),
        ("Achernar", ("Achernar",)),
        ("Achernar, Canopus", ("Achernar", "Canopus")),
        ("Achernar and then Canopus", ("Achernar", "Canopus")),
        ("alpha Eri; Canopus; Spica", ("alpha Eri", "Canopus", "Spica")),
        ("yes", None),
        (",", None),
    ],
)
def test_stars_are_understood_as_people_type_them(typed: str, meant: Any) -> None:
    assert stars_meant(typed) == meant


def test_presses_are_understood_as_people_type_them() -> None:
    assert [presses_meant(t) for t in ("No", "each time", "sometimes", "perhaps")] == [
        "none", "each_star", "logged", None,
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "alignment = {solves = 'rotation'}\n",  # a table in one line cannot be added to
        "alignment.solves = 'rotation'\n",
        "[alignment]\nstars = ['Spica']\n",  # said already
        "[site]\nlatitude = -41.3 S\n",  # no TOML at all
        "note = '''\n[alignment]\n'''\n",  # a header that is none
    ],
)
def test_a_mount_file_that_cannot_be_added_to_safely_is_left_alone(text: str) -> None:
    path = Path("mount.toml")
    path.write_text(text)
    assert not kept_in_mount_file(str(path), "alignment", {"stars": "[]"})
    assert path.read_text() == text
    assert os.listdir() == ["mount.toml"]


@given(st.lists(st.text(max_size=12), max_size=4))
def test_any_names_survive_the_way_into_a_mount_file_and_into_a_remark(names: list[str]) -> None:
    import tomllib

    written = with_answers("", "alignment", {"stars": stars_value(tuple(names))})
    assert tomllib.loads(written) == {"alignment": {"stars": names}}


def test_the_log_counts_for_more_than_the_mount_file_and_the_last_remark_for_most() -> None:
    lines = [
        "target,commanded_az,commanded_alt,centred_az,centred_alt",
        remark_that_says("alignment", {"stars": '["Spica"]'}),
        "A,10,20,10,20",
        "# [alignment] stars = []   ",
        '# [mount] readout = "sky"',
        "# [weather] pressure = 900",
        "# [alignment] was fine tonight",
    ]
    log = read_log_of(lines, {"alignment": {"stars": ["Achernar", "Canopus"], "presses": "none"}})
    assert (log.mount.alignment.state, log.mount.alignment.presses) == ("none", "none")
    assert (log.mount.readout, log.mount.weather) == ("sky", None)
    assert not [notice for notice in log.warnings if notice.code == "remark_not_understood"]


@pytest.mark.parametrize("value", ["Spica", "[1]", "true", '"Spica"', "["])
def test_a_remark_that_cannot_be_read_is_told_and_changes_nothing(value: str) -> None:
    lines = ["commanded_az,commanded_alt,centred_az,centred_alt", "10,20,10,20"]
    log = read_log_of([*lines, f"# [alignment] stars = {value}"], {})
    told = [notice.text for notice in log.warnings if notice.code == "remark_not_understood"]
    assert len(told) == 1
    assert "line 3" in told[0]
    assert log.mount.alignment.state == "unknown"


def read_log_of(lines: list[str], mount: dict[str, Any]) -> Any:
    Path("other.csv").write_text("\n".join(lines) + "\n")
    return read_log("other.csv", mount)


def test_an_answer_that_is_none_is_said_to_be_none_and_the_question_comes_again() -> None:
    script, _ = play("no", "205 12 41 33", "no", *PAIR, mount={"site": SITE})
    assert script.has("Not understood. Type no, each time or sometimes; or press Enter.")
    assert read_log("night.csv").mount.alignment.presses == "none"


@pytest.mark.parametrize("typed", ["I don't know", "i do not know.", "dunno", "unknown"])
def test_who_says_so_in_words_does_not_know_either(typed: str) -> None:
    script, _ = play(typed, typed, *PAIR, mount={"site": SITE})
    assert len(questions(script)) == 2
    assert not [line for line in Path("night.csv").read_text().splitlines() if line[0] == "#"]


def test_what_is_no_star_is_asked_about_before_it_is_noted() -> None:
    script, _ = play("canopas", "", "canopus", "no", *PAIR, mount={"site": SITE})
    assert script.has("canopas: did you mean Canopus?")
    assert script.has("canopas is not a star I know: keep it all the same? [y/N] ")
    assert read_log("night.csv").mount.alignment.stars == ("Canopus",)
    play("lamp, canopus", "y", "no", "quit", mount={"site": SITE}, log="other.csv")
    assert read_log("other.csv").mount.alignment.stars == ("lamp", "Canopus")
