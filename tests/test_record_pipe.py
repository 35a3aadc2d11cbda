"""Recording for programs: log lines in, one line of JSON back for each, and the command itself."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from bench.record_figures import knocked_log
from click.testing import CliRunner, Result
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.cli import command_line

DATA = Path(__file__).parent.parent / "data"
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path


def record(stdin: str | bytes, *args: str) -> Result:
    return CliRunner().invoke(command_line, ["record", "night.csv", *args], input=stdin)


def answers(stdin: str | bytes, *args: str) -> list[dict[str, Any]]:
    result = record(stdin, "--pipe", *args)
    assert result.exit_code == 0, result.stderr
    return [json.loads(line) for line in result.stdout.splitlines()]


def test_a_line_without_an_end_is_refused_before_memory_is_full() -> None:
    endless = record("x" * 3_000_000, "--pipe")
    assert endless.exit_code == 2
    assert "1 MB without the end of a line" in endless.stderr
    after_the_header = record(f"{HEADER}\n{'1' * 3_000_000}", "--pipe")
    assert after_the_header.exit_code == 2
    told = f"sep=;\n# a remark\n{HEADER.replace(',', ';')}\nx;1;20;1.1;20\n"
    assert len(answers(told, "--pipe")) == 1


def test_every_line_of_a_night_is_kept_and_judged() -> None:
    night = (DATA / "leaning.csv").read_text()
    got = answers(night)
    assert [one["kept"] for one in got] == list(range(2, 22))
    assert [one["pairs"] for one in got] == list(range(1, 21))
    assert [one["fits"] for one in got[:3]] == [None, None, None]
    wrong = [one["kept"] for one in got if one["fits"] is False]
    assert wrong == [aside.line for aside in pm.fit(DATA / "leaning.csv").set_aside]
    assert got[0]["miss_arcmin"] is None
    assert got[0]["miss_arcmin_reason"]
    assert all(set(one) >= {"kept", "pairs", "fits", "miss_arcmin", "text"} for one in got)
    kept, given = pm.read_log("night.csv"), pm.read_log(DATA / "leaning.csv")
    assert kept.target == given.target
    assert kept.centred_az_deg.tolist() == given.centred_az_deg.tolist()
    assert kept.time_s.tolist() == given.time_s.tolist()


def test_a_second_misfit_in_a_row_asks_a_program_too_whether_something_moved() -> None:
    frame = knocked_log(9, after=7).pairs.drop(columns=["az_motion", "alt_motion"])
    got = answers(frame.to_csv(index=False))
    assert [one["fits"] for one in got[-2:]] == [False, False]
    assert "Check the centring" in got[-2]["text"]
    assert "the second in a row. Did something move? Type bump" in got[-1]["text"]


def test_it_goes_on_after_the_last_line_with_columns_by_name() -> None:
    Path("night.csv").write_text(f"{HEADER}\nVega,10,20,10.1,20.1\n")
    got = answers(
        "centred_alt;centred_az;commanded_alt;commanded_az;note;x\n30,1;40,2;30;40,1;a, b;7\n"
    )
    assert (got[0]["kept"], got[0]["pairs"]) == (3, 2)
    assert Path("night.csv").read_text() == (
        f'{HEADER},note\nVega,10,20,10.1,20.1\n,40.1,30,40.2,30.1,"a, b"\n'
    )


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("a,1,2,3", "commanded_az and commanded_alt|centred_alt: read nothing; wanted a figure"),
        ("a,1,x,3,4", 'commanded_alt: read "x"; wanted degrees such as'),
        ("a,1,95,3,4", 'commanded_alt: read "95"; wanted degrees from -91 to 91'),
        ("a,,,3,4", "commanded_az: read nothing"),
        ("a,1,2,3,4,5", "a row of 6 fields where the header has 5"),
        ('a,"1,2,3,4', "each quotation mark that opens a cell closed"),
        ("a,,,,", "no figures and no event"),
        ('""', "an empty line"),
    ],
)
def test_a_line_that_is_none_is_refused_with_the_reason_and_the_log_left_alone(
    line: str, why: str
) -> None:
    got = answers(f"{HEADER}\n{line}\nb,1,2,1,2\n")
    assert set(got[0]) == {"refused"}
    assert any(part in got[0]["refused"] for part in why.split("|")), got[0]
    assert (got[1]["kept"], got[1]["pairs"]) == (2, 1)
    assert pm.read_log("night.csv").target == ("b",)


def test_events_places_without_centring_and_remarks_are_kept_too() -> None:
    got = answers(f"# from a program\n{HEADER},event\na,1,2,,\n,,,,,bump\n# wind\n\nb,1,2,1,2,\n")
    assert [one["kept"] for one in got] == [2, 3, 4, 5]
    assert [one["pairs"] for one in got] == [0, 0, 0, 1]
    assert "Not centred" in got[0]["text"]
    assert "lean are taken as new" in got[1]["text"]
    assert "# wind\n" in Path("night.csv").read_text()
    assert len(pm.read_log("night.csv").events) == 1


def test_the_header_alone_makes_an_ordinary_log() -> None:
    assert answers(f"{HEADER}\n") == []
    assert len(pm.read_log("night.csv")) == 0


def test_a_camera_and_right_ascension_get_columns_of_their_own() -> None:
    answers("commanded_az,commanded_alt,seen_az,seen_alt\n10,20,10.1,20.1\n")
    assert pm.read_log("night.csv").camera
    Path("night.csv").unlink()
    Path("mount.toml").write_text("[site]\nlatitude = -41.3\nlongitude = 146.2\n")
    got = answers(
        "time,commanded_ra,commanded_dec,centred_ra,centred_dec\n"
        "2031-05-17T20:10:00+10:00,12:00:00,-60 00,12:00:30,-60 02\n"
    )
    assert got[0]["pairs"] == 1
    header = Path("night.csv").read_text().splitlines()[0]
    assert header.startswith("target,time,az_motion")
    assert "centred_ra" in header
    assert "_az," not in header


def test_a_line_near_the_sun_is_refused_at_its_own_time() -> None:
    Path("mount.toml").write_text("[site]\nlatitude = -41.3\nlongitude = 146.2\n")
    noon, night = "2031-05-17T12:00:00+10:00", "2031-05-17T21:00:00+10:00"
    got = answers(f"time,{HEADER}\n{noon},a,1,28,1,28\n{night},b,1,28,1,28\n")
    assert "from the Sun" in got[0]["refused"]
    assert got[1]["pairs"] == 1


@pytest.mark.parametrize(
    ("stdin", "why"),
    [
        ("", "-: read no header; wanted a header line such as"),
        ("# nothing else\n", "-: read no header"),
        ("target,az,alt\n1,2,3\n", "read the columns"),
        ("comanded_az,commanded_alt\n1,2\n", 'read "comanded_az"; wanted commanded_az'),
    ],
)
def test_a_header_that_is_none_is_bad_input_and_begins_no_log(stdin: str, why: str) -> None:
    result = record(stdin, "--pipe")
    assert (result.exit_code, result.stdout) == (2, "")
    assert why in result.stderr
    assert os.listdir() == []


def test_bytes_that_are_no_text_are_refused_and_the_next_line_is_kept() -> None:
    got = answers(HEADER.encode() + b"\n\xff\xfe,\x00,2,1,2\nb,1,2,1,2\n")
    assert "refused" in got[0]
    assert got[1]["pairs"] == 1


def test_each_line_is_answered_before_the_next_is_sent_and_a_second_program_is_refused() -> None:
    command = [sys.executable, "-m", "pointmodel", "record", "night.csv", "--pipe"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        program.stdin.write(f"{HEADER}\na,1,2,1,2\n")
        program.stdin.flush()
        assert json.loads(program.stdout.readline())["kept"] == 2
        assert Path("night.csv").read_text().endswith("a,,1,2,1,2,,,,\n")
        second = record(f"{HEADER}\n", "--pipe")
        assert second.exit_code == 2
        assert f"being recorded already (process {program.pid} on " in second.stderr
        program.stdin.close()
        assert program.wait(20) == 0
    assert os.listdir() == ["night.csv"]


TYPED = (  # first the two answers about the controller
    "no\nno\n"
    "canopus\n200 30 60 15\n200 36 60 6\nachernar\n100 30 40 15\n100 36 40 6\nbump\nundo\nquit\n"
)


def test_the_command_prints_the_conversation_and_closes_with_the_sum() -> None:
    result = record(TYPED)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "\x1b" not in result.stdout
    assert "night.csv: 2 pairs (2 entered now, 1 undone), 0 events; all of it is on the disk." in (
        result.stdout
    )
    assert result.stdout.endswith("Next: pointmodel fit night.csv\n")


def test_the_document_stands_alone_on_standard_output_and_keeps_its_schema() -> None:
    result = record(TYPED, "--json")
    assert result.exit_code == 0
    assert "The controller says (azimuth altitude)? " in result.stderr
    document = json.loads(result.stdout)
    keeps_its_schema(document, "record")
    keeps_its_schema(document["fit"], "fit")
    told = {key: document[key] for key in ("log", "pairs", "entered", "events", "undone")}
    assert told == {"log": "night.csv", "pairs": 2, "entered": 2, "events": 0, "undone": 1}
    assert document["inputs"] == ["night.csv"]
    assert document["started"] <= document["ended"]
    assert document["fit"] == pm.fit("night.csv").to_dict()
    assert document["advice"] == document["fit"]["advice"]


def test_the_document_of_a_log_without_pairs_says_why_there_is_no_fit() -> None:
    document = json.loads(record("quit\n", "--json").stdout)
    keeps_its_schema(document, "record")
    assert (document["fit"], document["advice"], document["pairs"]) == (None, None, 0)
    del document["fit_reason"]
    with pytest.raises(jsonschema.ValidationError, match="fit_reason"):
        keeps_its_schema(document, "record")


def test_pipe_and_json_are_one_too_many() -> None:
    result = record("", "--pipe", "--json")
    assert result.exit_code == 2
    assert "leave out --json" in result.stderr


def test_a_mount_file_with_a_mistake_stops_it_before_a_log_is_begun() -> None:
    Path("mount.toml").write_text("[site]\nlatitude = 95\n")
    result = record(TYPED)
    assert (result.exit_code, os.listdir()) == (2, ["mount.toml"])
    assert "site.latitude" in result.stderr


def test_a_program_may_log_nudges() -> None:
    header = "target;commanded_az;commanded_alt;nudge_right;nudge_up"
    rows = [f"s{k};{40 * k}.0;{20 + 8 * k}.0;{3 * k},5;-{k}.0" for k in range(6)]
    got = answers("\n".join([header, *rows, ""]))
    assert [one["pairs"] for one in got] == [1, 2, 3, 4, 5, 6]
    log = pm.read_log("night.csv")
    assert log.nudged
    assert log.pairs["nudge_right"].tolist() == pytest.approx([0.5, 3.5, 6.5, 9.5, 12.5, 15.5])


def test_a_person_is_not_asked_for_right_ascensions() -> None:
    Path("night.csv").write_text("target,time,commanded_ra,commanded_dec,centred_ra,centred_dec\n")
    result = record("")
    assert result.exit_code == 2
    assert "those are asked for here. Another file name starts such a log" in result.stderr
