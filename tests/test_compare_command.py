"""`pointmodel compare`: what it prints, writes and refuses; an interruption; a bar on terminals."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pexpect
import pytest
from bench.compare_figures import Plan, season
from click.testing import CliRunner, Result
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.cli import command_line
from pointmodel.estimate.profile import read_profile

LONGEST_WAIT_S = 180.0  # only ever waited for by what fails


@pytest.fixture(scope="module")
def nights(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("nights")
    for k, one in enumerate(season(Plan(nights=3, pairs=8), 4).nights):
        (folder / f"evening-{k}.csv").write_text(one.to_csv_text(), encoding="utf-8")
    return folder


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("POINTMODEL_DEBUG", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(command_line, ["compare", *map(str, args)], prog_name="pointmodel")


def test_it_prints_what_the_result_prints_and_names_its_files(nights: Path) -> None:
    result = run(nights, "--profile-out", "mine/profile.json")
    assert (result.exit_code, result.stderr) == (0, "")
    page, kept = Path("reports/compare.html"), Path("mine/profile.json")
    said = f"\nThe page of these nights: {page}\nThe profile, kept: {kept}\n"
    assert result.stdout == f"{pm.compare(nights)}{said}"
    assert page.read_bytes().startswith(b"<!doctype html>")
    profile = read_profile(kept)
    assert profile is not None
    assert profile.to_dict() == pm.compare(nights).profile.to_dict()


def test_json_is_the_document_and_nothing_else(nights: Path, folder: Path) -> None:
    result = run(nights, "--json", "--no-report")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    keeps_its_schema(document, "compare")
    assert document == pm.compare(nights).to_dict()
    assert list(folder.iterdir()) == []


def test_json_names_the_files_that_were_written(nights: Path) -> None:
    result = run(nights, "--json", "--report", "p.html", "--profile-out", "p.json")
    document = json.loads(result.stdout)
    assert (document["report"], document["profile_file"]) == ("p.html", "p.json")
    keeps_its_schema(document, "compare")


def test_files_that_are_not_ours_are_left_alone(nights: Path, folder: Path) -> None:
    (folder / "p.html").write_text("my page", encoding="utf-8")
    (folder / "p.json").write_text('{"mine": 1}', encoding="utf-8")
    result = run(nights, "--report", "p.html", "--profile-out", "p.json")
    assert result.exit_code == 2
    assert "p.html: read a file that this program did not write; wanted another" in result.stderr
    assert "p.json: read a file that is no profile; wanted another name" in result.stderr
    assert (folder / "p.html").read_text(encoding="utf-8") == "my page"
    assert (folder / "p.json").read_text(encoding="utf-8") == '{"mine": 1}'


def test_a_profile_is_replaced_by_a_newer_one(nights: Path, folder: Path) -> None:
    assert run(nights, "--no-report", "--profile-out", "p.json").exit_code == 0
    several = [str(nights / f"evening-{k}.csv") for k in range(2)]
    assert run(*several, "--no-report", "--profile-out", "p.json").exit_code == 0
    assert json.loads((folder / "p.json").read_text(encoding="utf-8"))["nights"] == 2
    assert [path.name for path in folder.iterdir()] == ["p.json"]


def test_a_folder_is_no_place_for_a_profile(nights: Path, folder: Path) -> None:
    result = run(nights, "--no-report", "--profile-out", folder)
    assert result.exit_code == 2
    assert "read something that is not a file" in result.stderr


@pytest.mark.parametrize(
    ("args", "told"),
    [
        (("nothing/*.csv",), "nothing/*.csv: read no log; wanted a folder or pattern"),
        (("none.csv",), "none.csv: read no file of that name"),
        ((".",), "read no log; wanted a folder or pattern with logs in it"),
    ],
)
def test_what_is_no_season_is_refused(args: tuple[str, ...], told: str) -> None:
    result = run(*args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert told in result.stderr


def test_contradicting_options_are_bad_usage(nights: Path) -> None:
    result = run(nights, "--report", "p.html", "--no-report")
    assert result.exit_code == 2
    assert "contradict each other" in result.stderr


def test_the_mount_file_goes_with_every_night(nights: Path, folder: Path) -> None:
    (folder / "m.toml").write_text('[mount]\nname = "Two-arm box"\n', encoding="utf-8")
    result = run(nights, "--mount", "m.toml", "--json", "--no-report")
    assert json.loads(result.stdout)["inputs"].count("m.toml") == 1


def test_an_interruption_ends_it_cleanly_with_nothing_written(folder: Path) -> None:
    one = season(Plan(nights=2, pairs=24), 1).nights[0].to_csv_text()
    (folder / "logs").mkdir()
    for k in range(1500):
        (folder / "logs" / f"n{k}.csv").write_text(one, encoding="utf-8")
    terminal = on_terminal("logs", "--profile-out", "p.json")
    terminal.expect("[1-9]%", timeout=LONGEST_WAIT_S)
    terminal.sendintr()
    told = "stopped after [0-9]+ of 1500 nights; nothing was written"
    terminal.expect(told, timeout=LONGEST_WAIT_S)
    terminal.expect(pexpect.EOF, timeout=LONGEST_WAIT_S)
    terminal.close()
    assert terminal.exitstatus == 130
    assert "Traceback" not in terminal.before
    assert [path.name for path in folder.iterdir()] == ["logs"]


def on_terminal(*args: str) -> pexpect.spawn:
    command = ["-m", "pointmodel", "compare", *args]
    return pexpect.spawn(sys.executable, command, encoding="utf-8", dimensions=(40, 90))


def test_a_terminal_sees_a_bar_and_the_comparison(nights: Path) -> None:
    terminal = on_terminal(str(nights), "--no-report")
    terminal.expect("Fitting nights", timeout=LONGEST_WAIT_S)
    terminal.expect("100%", timeout=LONGEST_WAIT_S)
    terminal.expect(pexpect.EOF, timeout=LONGEST_WAIT_S)
    terminal.close()
    assert terminal.exitstatus == 0
