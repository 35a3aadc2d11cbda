"""The command line: exit codes, messages that say what to mend, no file of the user's harmed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.cli import COMMANDS, command_line
from pointmodel.commands import common

DATA = Path(__file__).parent.parent / "data"
LEANING = str(DATA / "leaning.csv")
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt\n"
GOOD = "a,10,20,10.1,20.1\nb,100,40,100.1,40.0\nc,200,60,200.2,60.1\nd,300,30,300.1,30.2\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("POINTMODEL_DEBUG", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path


def run(*args: str, stdin: str | bytes | None = None) -> Result:
    return CliRunner().invoke(command_line, args, input=stdin, prog_name="pointmodel")


def night(text: str, name: str = "night.csv") -> str:
    Path(name).write_text(text, encoding="utf-8")
    return name


def assert_refused(result: Result, *messages: str) -> None:
    """Exit code 2, nothing on standard output, every message on a line of standard error."""
    assert (result.exit_code, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert not [line for line in lines if "Traceback" in line]
    for message in messages:
        assert [line for line in lines if message in line], result.stderr


def test_fit_prints_what_the_fit_prints_and_names_the_page(folder: Path) -> None:
    result = run("fit", LEANING)
    assert (result.exit_code, result.stderr) == (0, "")
    page = Path("reports") / "leaning.html"
    assert result.stdout == f"{pm.fit(LEANING)}\nThe page of this night: {page}\n"
    told = " ".join(result.stdout.split())
    assert f"he mount file beside the log is used: {DATA / 'mount.toml'}" in told
    assert (folder / page).read_bytes().startswith(b"<!")


def test_fit_writes_nothing_where_no_page_is_wanted(folder: Path) -> None:
    result = run("fit", LEANING, "--no-report")
    assert (result.exit_code, result.stdout) == (0, str(pm.fit(LEANING)))
    assert os.listdir(folder) == []


def test_the_json_of_a_fit_is_its_document_alone_with_the_paths_written() -> None:
    result = run("fit", LEANING, "--json", "--report", "deep/page.html", "--save", "kept.json")
    document = json.loads(result.stdout)
    assert (result.exit_code, result.stderr) == (0, "")
    assert (document.pop("report"), document.pop("saved")) == ("deep/page.html", "kept.json")
    assert document == pm.fit(LEANING).to_dict() == pm.load_fit("kept.json").to_dict()
    assert Path("deep/page.html").is_file()


@pytest.mark.parametrize(
    ("args", "schema"),
    [
        (("fit", LEANING), "fit"),
        (("fit", LEANING, "--no-report"), "fit"),
        (("aim", LEANING, "123.5,45", "-20,30", "90,3"), "aim"),
        (("simulate", "--pairs", "5"), "simulate"),
        (("new", "fresh"), "new"),
    ],
)
def test_every_command_prints_one_json_document_as_its_schema_says(
    args: tuple[str, ...], schema: str
) -> None:
    result = run(*args, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    keeps_its_schema(json.loads(result.stdout), schema)


def test_every_command_is_found_and_has_help_with_an_example_and_a_json_option() -> None:
    for name in COMMANDS:
        result = run(name, "-h")
        assert result.exit_code == 0
        assert "--json" in result.stdout
        assert name in run("--help").stdout
    for name in ("fit", "aim", "new"):
        assert f"pointmodel {name} " in run(name, "--help").stdout.partition("Example:")[2]
    assert "Never point at or near it" in run("aim", "--help").stdout


def test_the_version_is_told() -> None:
    result = run("--version")
    assert (result.exit_code, result.stdout) == (0, "pointmodel 0.1.0\n")


@pytest.mark.parametrize(
    ("args", "message"),
    [
        ((), "Usage: pointmodel [OPTIONS] COMMAND"),
        (("fti", LEANING), "No such command 'fti'"),
        (("fit",), "Missing argument 'LOG'"),
        (("fit", LEANING, "--jsn"), "No such option"),
        (("fit", LEANING, "--no-report", "--report", "x"), "contradict each other"),
        (("aim", LEANING), "Missing argument 'TARGET...'"),
        (("aim", LEANING, "1,20", "--no-such"), "No such option"),
        (("simulate", "--pairs", "many"), "not a valid integer"),
        (("simulate", "--pairs", "-3"), "pairs"),
        (("simulate", "--term", "collimation"), "NAME=VALUE"),
    ],
)
def test_bad_usage_is_told_and_exits_with_two(args: tuple[str, ...], message: str) -> None:
    assert_refused(run(*args), message)


def test_three_mistakes_in_a_log_are_told_with_line_and_column() -> None:
    rows = "a,10,20,1O.1,20.1\nb,100,40,100.1,40.0\nc,200,160,200.2,60.1\nd,300,30,,30.2\n"
    result = run("fit", night(HEADER + rows))
    assert_refused(
        result,
        'night.csv, line 2, column centred_az: read "1O.1"; wanted digits only: 10.1?',
        'night.csv, line 4, column commanded_alt: read "160"; wanted degrees from -91 to 91',
        "night.csv, line 5, column centred_az: read nothing; wanted a figure",
    )
    assert len(result.stderr.splitlines()) == 3


def test_of_many_mistakes_twenty_are_told_and_the_others_counted() -> None:
    result = run("fit", night(HEADER + "a,x,20,10.1,20.1\n" * 50))
    lines = result.stderr.splitlines()
    assert len(lines) == 21
    assert "line 21," in lines[19]
    assert lines[20].startswith("and 30 more")


@pytest.mark.parametrize("args", [("fit", "{}"), ("aim", "{}", "1,20")])
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "read an empty log; wanted a header line"),
        (HEADER, "read 0 lines with a commanded place"),
        (HEADER + "a,10,20,,\n", "wanted at least one usable pair"),
        ("star,az,alt\na,10,20\n", "wanted a header line above the figures"),
        ("target,commanded_az\na,10\n", "wanted commanded_alt too"),
        ("commanded_az,commanded_alt,centerd_az,centred_alt\n", "wanted centred_az"),
        (HEADER + 'a,10,20,"10.1,20.1\n', "wanted each quotation mark"),
        (HEADER + "a,10,20,10.1,20.1,7\n", "read a row of 6 fields where the header has 5"),
        ("\0\1\2\3", "read a file that is not text"),
    ],
)
def test_logs_that_cannot_be_used_are_told(args: tuple[str, ...], text: str, message: str) -> None:
    name = night(text)
    assert_refused(run(*(arg.replace("{}", name) for arg in args)), f"{name}", message)


def test_a_log_or_mount_file_that_is_not_there_or_a_folder_is_told(folder: Path) -> None:
    (folder / "deep").mkdir()
    log = night(HEADER + GOOD)
    assert_refused(run("fit", "no such.csv"), "no such.csv: read no file of that name; wanted")
    assert_refused(run("fit", "deep"), "deep: read a folder; wanted the path of a log")
    assert_refused(run("fit", log, "--mount", "none.toml"), "none.toml: read no file of that name")
    assert_refused(run("fit", log, "--mount", "deep"), "deep: read a folder")
    assert_refused(run("fit", "a\x1b[31m.csv"), "no file of that name")


def test_mistakes_in_the_mount_file_beside_the_log_are_told_with_line_and_key() -> None:
    log = night(HEADER + GOOD.replace("10,20", "1O,20", 1))
    night("[optics]\nfield_of_veiw = 48\n[site]\nlatitude = 120\n", "mount.toml")
    assert_refused(
        run("aim", log, "10,20"),
        "mount.toml, line 2, column optics.field_of_veiw: read",
        "mount.toml, line 4, column site.latitude: read 120; wanted degrees from -90 to 90",
        "night.csv, line 2, column commanded_az",
    )


def test_nothing_of_a_name_or_cell_reaches_the_terminal_as_a_command() -> None:
    result = run("fit", night(HEADER + "a,\x1b[31mred,20,10.1,20.1\n"))
    assert_refused(result)
    assert "\x1b" not in result.stderr


def test_targets_and_moments_that_cannot_be_read_are_told_at_once() -> None:
    assert_refused(
        run("aim", LEANING, "Achernr", "05:34:31 +95:00:52", "12,95"),
        '<targets>: read "Achernr"; wanted a known target: did you mean Achernar?',
        "a declination from -90 to +90",
        "altitude from -90 to 90 degrees",
    )
    assert_refused(run("aim", LEANING, "10,20", "--at", "tonight"), '<at>: read "tonight"; wanted')


def test_aim_takes_azimuths_that_begin_with_a_minus() -> None:
    plain = run("aim", LEANING, "350,45")
    assert plain.exit_code == 0
    for args in (("-10,45",), ("--", "-10,45"), ("-10°00',45", "--json")):
        result = run("aim", LEANING, *args)
        assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout)["targets"][0]["asked_az_deg"] == 350.0
    assert "-10,45" in run("aim", LEANING, "-10,45").stdout


def test_aim_warns_of_the_sun_in_text_and_json() -> None:
    assert "Never point at or near the Sun" in run("aim", LEANING, "10,45").stdout
    warnings = json.loads(run("aim", LEANING, "10,45", "--json").stdout)["warnings"]
    assert "sun" in [warning["code"] for warning in warnings]


@pytest.mark.parametrize("separator", [",", "\t", ";"])
def test_a_log_comes_from_standard_input_and_its_page_is_called_night(separator: str) -> None:
    result = run("fit", "-", "--json", stdin=(HEADER + GOOD).replace(",", separator))
    document = json.loads(result.stdout)
    assert (document["inputs"], document["pairs"]["used"]) == (["-"], 4)
    assert document["report"] == "reports/night.html"
    assert Path("reports/night.html").is_file()


def test_tabs_and_decimal_commas_are_read_from_a_file() -> None:
    text = (HEADER + GOOD).replace(",", "\t").replace(".", ",")
    there = json.loads(run("fit", night(text), "--json", "--no-report").stdout)
    plain = json.loads(run("fit", night(HEADER + GOOD), "--json", "--no-report").stdout)
    assert there == plain


@pytest.mark.parametrize("option", ["--report", "--save"])
@pytest.mark.parametrize("as_json", [True, False])
def test_a_file_of_the_users_is_never_replaced(option: str, as_json: bool) -> None:
    log = night(HEADER + GOOD)
    before = Path(log).read_bytes()
    json_option = ["--json"] if as_json else []
    result = run("fit", log, option, log, *json_option)
    assert result.exit_code == 2
    assert "night.csv: read a file that" in result.stderr
    assert "wanted another name" in result.stderr
    assert Path(log).read_bytes() == before
    assert result.stdout == ("" if as_json else str(pm.fit(log)))


def test_a_page_that_cannot_be_written_stops_neither_the_text_nor_the_saved_fit() -> None:
    night("mine", "reports")
    result = run("fit", LEANING, "--save", "kept.json")
    assert result.exit_code == 2
    assert "leaning.html: read" in result.stderr
    assert result.stdout == str(pm.fit(LEANING))
    assert pm.load_fit("kept.json").pairs_read == 20


def test_page_and_saved_fit_of_an_earlier_run_are_replaced() -> None:
    for _ in range(2):
        result = run("fit", LEANING, "--save", "kept.json")
        assert result.exit_code == 0
    assert "The page of this night: reports/leaning.html" in result.stdout
    assert "The fit, saved: kept.json" in result.stdout


def test_new_files_are_written_told_and_never_replaced() -> None:
    result = run("new", "first")
    assert result.exit_code == 0
    assert "Wrote first/mount.toml" in result.stdout
    assert "pointmodel fit first/night.csv" in result.stdout
    before = Path("first/night.csv").read_bytes()
    assert_refused(run("new", "first"), "first/night.csv: read a file that is there already")
    assert Path("first/night.csv").read_bytes() == before
    assert_refused(run("fit", "first/night.csv"), "wanted at least one usable pair")


def test_simulate_writes_a_night_that_fit_reads_and_never_replaces_one() -> None:
    assert run("simulate", "--pairs", "6").exit_code == 0
    assert run("fit", "simulated.csv", "--no-report").exit_code == 0
    assert_refused(run("simulate", "--pairs", "6"), "simulated.csv: read a file that exists")


def _fail_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr("pointmodel.fitting.fit.fit", fail)


@pytest.mark.parametrize(
    ("error", "code", "message"),
    [
        (ValueError("odd"), 1, "internal error: ValueError: odd; please report with the log\n"),
        (
            ValueError("\x1b[1m"),
            1,
            "internal error: ValueError: \ufffd[1m; please report with the log\n",
        ),
        (KeyError(), 1, "internal error: KeyError; please report with the log\n"),
        (MemoryError(), 1, "internal error: MemoryError; please report with the log\n"),
        (OSError(28, "No space left", "x"), 1, "the system refuses: No space left: x\n"),
        (KeyboardInterrupt(), 130, "\n"),
        (click.Abort(), 130, ""),
    ],
)
def test_what_is_not_the_users_fault_is_told_without_a_traceback(
    monkeypatch: pytest.MonkeyPatch, error: BaseException, code: int, message: str
) -> None:
    _fail_with(monkeypatch, error)
    result = run("fit", LEANING)
    assert (result.exit_code, result.stdout, result.stderr) == (code, "", message)


def test_a_traceback_is_shown_to_those_who_ask_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    _fail_with(monkeypatch, ValueError("odd"))
    monkeypatch.setenv("POINTMODEL_DEBUG", "1")
    assert isinstance(run("fit", LEANING).exception, ValueError)


def test_a_number_that_is_not_finite_is_an_error_and_never_printed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pm.Fit, "residual_rms_arcmin", float("nan"))
    result = run("fit", LEANING, "--json", "--no-report")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "document.residuals.rms_arcmin is not a finite number" in result.stderr


def test_warnings_of_libraries_are_not_shown(
    monkeypatch: pytest.MonkeyPatch, recwarn: pytest.WarningsRecorder
) -> None:
    real = pm.fit

    def noisy(*args: Any) -> pm.Fit:
        import warnings

        warnings.warn("some library's", RuntimeWarning, stacklevel=1)
        return real(*args)

    monkeypatch.setattr("pointmodel.fitting.fit.fit", noisy)
    result = run("fit", LEANING, "--no-report")
    assert (result.exit_code, result.stderr, len(recwarn)) == (0, "", 0)


@pytest.mark.parametrize(("columns", "width"), [("60", 60), ("300", 100)])
def test_text_is_as_wide_as_the_terminal_up_to_a_hundred_columns(
    monkeypatch: pytest.MonkeyPatch, columns: str, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert common.width_columns() == width
    written = run("fit", LEANING, "--no-report").stdout
    assert width - 15 < max(map(len, written.splitlines())) <= width


def test_text_is_a_hundred_columns_wide_where_there_is_no_terminal(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_terminal(_: int) -> None:
        raise OSError(25, "Inappropriate ioctl for device")

    monkeypatch.delenv("COLUMNS")
    monkeypatch.setattr("os.get_terminal_size", no_terminal)
    assert common.width_columns() == 100


@pytest.mark.parametrize(
    ("is_terminal", "environment", "colored"),
    [
        (True, {}, True),
        (True, {"NO_COLOR": ""}, False),
        (True, {"NO_COLOR": "1"}, False),
        (True, {"TERM": "dumb"}, False),
        (False, {}, False),
    ],
)
def test_colours_are_for_terminals_that_want_them(
    monkeypatch: pytest.MonkeyPatch, is_terminal: bool, environment: dict[str, str], colored: bool
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: is_terminal, raising=False)
    assert common.use_color() is colored


def in_a_shell(*args: str, stdin: bytes = b"", **environment: str) -> Any:
    command = [sys.executable, "-m", "pointmodel", *args]
    return subprocess.run(
        command, input=stdin, capture_output=True, env={**os.environ, **environment}, check=False
    )


def test_any_terminal_encoding_will_do_and_json_is_utf8_in_all() -> None:
    narrow = in_a_shell("fit", LEANING, "--no-report", PYTHONIOENCODING="latin-1")
    assert (narrow.returncode, narrow.stderr) == (0, b"")
    words = narrow.stdout.decode("latin-1")
    assert "RMS" in words
    assert "′" not in words
    assert "?" in words
    document = in_a_shell("aim", LEANING, "90,3", "--json", PYTHONIOENCODING="latin-1").stdout
    assert "35°00′" in json.loads(document.decode("utf-8"))["targets"][0]["reason"]


def test_a_reader_that_goes_away_is_no_reason_for_a_message() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        result = subprocess.run(
            [sys.executable, "-m", "pointmodel", "fit", LEANING, "--no-report"],
            stdout=writing,
            stderr=subprocess.PIPE,
            check=False,
        )
    finally:
        os.close(writing)
    assert (result.returncode, result.stderr) == (1, b"")


def test_a_file_name_that_is_no_utf8_is_read_and_told() -> None:
    Path(os.fsdecode(b"n\xe9.csv")).write_text(HEADER + GOOD)
    result = in_a_shell("fit", os.fsdecode(b"n\xe9.csv"), "--json")
    assert (result.returncode, result.stderr) == (0, b"")
    assert json.loads(result.stdout)["report"] == "reports/n?.html"


def test_a_profile_is_kept_by_compare_and_taken_up_by_fit() -> None:
    season = str(Path(LEANING).parent / "season")
    kept = run("compare", season, "--no-report", "--profile-out", "mount-profile.json")
    assert kept.exit_code == 0
    night = f"{season}/2032-02-24.csv"
    found = run("fit", night, "--no-report", "--prior", "mount-profile.json")
    assert found.exit_code == 0
    assert "starts from a profile of 5 nights" in " ".join(found.stdout.split())
    assert_refused(run("fit", night, "--no-report", "--prior", night), "a file that is not JSON")


def test_what_the_user_did_wrong_comes_with_its_traceback_for_those_who_debug(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    missing = str(tmp_path / "none.csv")
    assert "Traceback" not in run("fit", missing).stderr
    monkeypatch.setenv("POINTMODEL_DEBUG", "1")
    result = run("fit", missing)
    assert result.exit_code == 2
    assert "Traceback" in result.stderr
