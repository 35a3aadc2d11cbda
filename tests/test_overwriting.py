"""What was written of one log never takes the place of what was written of another."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

import pointmodel as pm
from pointmodel.cli import command_line

DATA = Path(__file__).parent.parent / "data"
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt\n"
GOOD = "a,10,20,10.1,20.1\nb,100,40,100.1,40.0\nc,200,60,200.2,60.1\nd,300,30,300.1,30.2\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in "ab":
        Path(name).mkdir()
        Path(name, "night.csv").write_text(HEADER + GOOD)
    return tmp_path


def run(*args: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(command_line, args, input=stdin, prog_name="pointmodel")


def page_of(*args: str, stdin: str | None = None) -> Path:
    """Where the page of a command went."""
    result = run(*args, stdin=stdin)
    assert result.exit_code == 0, result.stderr
    told = next(line for line in result.stdout.splitlines() if line.startswith("The page of th"))
    return Path(told.partition(": ")[2])


def test_pages_of_two_logs_of_one_name_stand_side_by_side() -> None:
    first, second = page_of("fit", "a/night.csv"), page_of("fit", "b/night.csv")
    assert (str(first), str(second)) == ("reports/night.html", "reports/night-2.html")
    before = first.read_bytes()
    Path("b/night.csv").write_text(HEADER + GOOD + "e,350,70,350.1,70.1\n")
    assert page_of("fit", "b/night.csv") == second
    assert first.read_bytes() == before
    assert page_of("fit", "./a/../a/night.csv") == first
    assert sorted(os.listdir("reports")) == ["night-2.html", "night.html"]


def test_a_page_goes_to_the_name_told_only_where_no_page_of_another_log_is() -> None:
    assert run("fit", "a/night.csv", "--report", "page.html").exit_code == 0
    before = Path("page.html").read_bytes()
    result = run("fit", "b/night.csv", "--report", "page.html")
    assert result.exit_code == 2
    assert "page.html: read a page about something else, such as another log" in result.stderr
    assert Path("page.html").read_bytes() == before
    assert run("fit", "a/night.csv", "--report", "page.html").exit_code == 0


def test_a_saved_fit_is_replaced_only_by_one_of_its_own_log() -> None:
    assert run("fit", "a/night.csv", "--no-report", "--save", "kept.json").exit_code == 0
    before = Path("kept.json").read_bytes()
    result = run("fit", "b/night.csv", "--no-report", "--save", "kept.json")
    assert result.exit_code == 2
    assert "kept.json: read the saved fit of another log" in result.stderr
    assert Path("kept.json").read_bytes() == before
    Path("a/night.csv").write_text(HEADER + GOOD.replace("10.1", "10.2"))  # put right
    assert run("fit", "a/night.csv", "--no-report", "--save", "kept.json").exit_code == 0
    assert Path("kept.json").read_bytes() != before


def test_a_fit_that_was_loaded_elsewhere_is_still_of_its_log(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pm.fit("a/night.csv").save("kept.json")
    pm.fit("a/night.csv").report("page.html")
    monkeypatch.chdir("b")
    loaded = pm.load_fit("../kept.json")
    loaded.save("../kept.json")
    loaded.report("../page.html")
    with pytest.raises(pm.InputError, match="the saved fit of another log"):
        pm.fit("night.csv").save("../kept.json")


def test_a_stream_is_the_same_log_while_it_begins_with_the_same_pair() -> None:
    first = page_of("fit", "-", stdin=HEADER + GOOD)
    assert page_of("fit", "-", stdin=HEADER + GOOD + "e,350,70,350.1,70.1\n") == first
    other = page_of("fit", "-", stdin=HEADER + "z,11,20,11.1,20.1\n" + GOOD)
    assert (str(first), str(other)) == ("reports/night.html", "reports/night-2.html")


def test_a_frame_is_told_from_another_frame_by_its_first_pair() -> None:
    one = pd.read_csv("a/night.csv")
    other = one.iloc[::-1]
    pm.fit(one).save("kept.json")
    pm.fit(one).save("kept.json")
    with pytest.raises(pm.InputError, match="the saved fit of another log"):
        pm.fit(other).save("kept.json")


def test_pages_say_nothing_of_folders(folder: Path) -> None:
    page = page_of("fit", str(folder / "a" / "night.csv")).read_text()
    assert str(folder) not in page.replace(str(folder / "a" / "night.csv"), "")
    assert '<meta name="pointmodel-about" content="report ' in page


def test_pages_of_one_kind_do_not_take_the_place_of_another() -> None:
    plan = ["plan", "--mount", str(DATA / "mount.toml"), "--at", "2031-05-17T20:00+10:00"]
    assert run(*plan, "--stars", "3", "--sheet", "page.html").exit_code == 0
    assert run("fit", "a/night.csv", "--report", "page.html").exit_code == 2
    assert run("fit", "a/night.csv", "--report", "night.html").exit_code == 0
    assert run(*plan, "--stars", "3", "--sheet", "night.html").exit_code == 2
    again = run(*plan, "--stars", "3", "--sheet", "page.html")
    assert again.exit_code == 0
    assert "page.html (in place of the sheet that was there)" in again.stdout


def test_pages_of_two_seasons_stand_side_by_side_and_a_season_may_grow() -> None:
    for season in "ab":
        for night in ("2032-01-12", "2032-02-24"):
            text = (DATA / "season" / f"{night}.csv").read_bytes()
            Path(season, f"{night}.csv").write_bytes(text)
        Path(season, "night.csv").unlink()
    first, second = page_of("compare", "a"), page_of("compare", "b")
    assert (str(first), str(second)) == ("reports/compare.html", "reports/compare-2.html")
    Path("a/3.csv").write_bytes((DATA / "season" / "2032-02-03.csv").read_bytes())
    assert page_of("compare", "a") == first


@pytest.mark.parametrize("option", ["--report", "--save"])
def test_a_link_is_written_through_and_the_file_keeps_its_mode(option: str) -> None:
    Path("far").mkdir()
    assert run("fit", "a/night.csv", "--no-report", option, "far/real").exit_code in (0, 2)
    if option == "--report":
        assert run("fit", "a/night.csv", option, "far/real").exit_code == 0
    Path("far/real").chmod(0o640)
    before = Path("far/real").stat().st_ino
    Path("link").symlink_to("far/real")
    more = [] if option == "--report" else ["--no-report"]
    assert run("fit", "a/night.csv", option, "link", *more).exit_code == 0
    assert Path("link").is_symlink()
    assert Path("far/real").stat().st_ino != before
    assert stat.S_IMODE(Path("far/real").stat().st_mode) == 0o640
    assert os.listdir("far") == ["real"]
