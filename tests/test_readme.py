"""README's examples do what README says; its tables are those of the registries."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import pointmodel as pm
from pointmodel.cli import COMMANDS
from pointmodel.mount.events import logged_events
from pointmodel.mount.terms import STANDARD_NAMES, TERMS
from pointmodel.reading.columns import COMMANDED, NUDGE
from pointmodel.recording.words import HELP

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def test_the_first_two_fenced_blocks_are_the_two_commands() -> None:
    first, second = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)[:2]
    assert (first[0], second[0]) == ("bash", "bash")
    assert "pointmodel fit data/leaning.csv" in first[1]
    assert "pytest" in second[1]


def test_the_python_example_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    for block in _blocks("python"):
        exec(compile(block, "README.md", "exec"), {})
    printed = capsys.readouterr().out
    assert "level the base, then zero on a star (12 min)" in printed
    assert "collimation" in printed


def test_the_example_of_a_log_can_be_read(tmp_path: Path) -> None:
    (block,) = _blocks("csv")
    path = tmp_path / "night.csv"
    path.write_text(block, encoding="utf-8")
    log = pm.read_log(path)
    assert log.target == ("Achernar", "Canopus")
    assert log.centred_az_deg[0] == pytest.approx(206.0 + 1.2 / 60.0)


def test_every_term_of_every_night_is_in_the_table_of_terms() -> None:
    for name in STANDARD_NAMES:
        assert f"`{name}`" in README, name


def test_every_command_is_in_the_table_of_commands() -> None:
    for name in COMMANDS:
        assert re.search(rf"^\| `pointmodel {name}\b", README, re.MULTILINE), name


def test_every_column_and_event_of_a_log_is_told_beside_the_demonstration_nights() -> None:
    told = (ROOT / "data" / "README.md").read_text(encoding="utf-8")
    for event in logged_events():
        assert f"`{event}`" in told, event
    for column in ("target", "time", "az_motion", "alt_motion", "note", *COMMANDED, *NUDGE):
        assert f"`{column}`" in told, column


def test_the_new_log_and_the_help_at_the_telescope_name_every_event() -> None:
    template = (ROOT / "pointmodel" / "templates" / "night.csv").read_text(encoding="utf-8")
    for event in logged_events():
        assert event in template
        assert event in " ".join(HELP)


def test_the_sizes_that_matter_are_those_of_the_registry() -> None:
    told = " ".join(README.partition("Large enough means:")[2].partition("\n\n")[0].split())
    for name, words in (
        ("azimuth_index", "azimuth zero 6′"),
        ("altitude_index", "altitude zero and lean 5′"),
        ("collimation", "collimation and non-perpendicularity 4′"),
        ("tube_flexure", "flexure, eccentricity and slack 3′"),
        ("azimuth_drift", "drift 3′ an hour"),
        ("azimuth_slip", "a slip 4′"),
    ):
        size = re.search(r"(\d)′", words)
        assert size is not None
        assert words in told
        assert TERMS[name].matters == float(size[1])


def test_the_developers_page_names_every_room_and_only_files_that_are_there() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = {path.parent.name for path in (ROOT / "pointmodel").glob("*/__init__.py")}
    table = set(re.findall(r"^\| `(\w+)/` \|", page, re.MULTILINE))
    assert table == rooms
    for room, files in re.findall(r"^\| `(\w+)/` \|.*\| (`.*) \|$", page, re.MULTILINE):
        for file in re.findall(r"`(\w+)`", files):
            assert (ROOT / "pointmodel" / room / f"{file}.py").is_file(), (room, file)
    for path in re.findall(r"`([\w/]+/\w+\.py)`", page):
        assert (ROOT / path).is_file() or (ROOT / "pointmodel" / path).is_file(), path
