"""Free text that a spreadsheet would run as a formula is written so that it does not.

Source: OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return are run, also
where a separator inside a cell begins one.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from pointmodel.cli import command_line
from pointmodel.reading.freetext import plain_cell, safe_cell
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.logfile import open_log

RUN = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
FORMULAS = (
    "=1+1", "=cmd|' /C calc'!A0", "+1 step", "-2+3", "@SUM(A1:A9)", '=HYPERLINK("x","y")', "＝1",
    "a;=1+1", "wind, -2", "a;'=1", "a;; =1", "'=1", "''@x", "'quoted'", "Barnard's star",
    "plain", "a=b", "'",
)  # fmt: skip


def cells_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


@given(st.text(alphabet="=+-@',;\t\r\n＝＠ a1", max_size=8), st.sampled_from(["target", "note"]))
def test_no_free_text_is_run_and_all_of_it_comes_back(text: str, name: str) -> None:
    written = safe_cell(name, text)
    for part in (written, *re.split("[,;\t]", written)[1:]):
        assert not part.lstrip(" ").startswith((*RUN, "\r", "\n")) or part is written
    assert not written.startswith((*RUN, "\t", "\r", "\n"))
    assert plain_cell(name, written) == text


@pytest.mark.parametrize("text", FORMULAS)
def test_what_is_recorded_is_no_formula_and_is_read_as_it_was(text: str, tmp_path: Path) -> None:
    log = open_log(tmp_path / "night.csv")
    log.append({"target": text, "note": text, "commanded_az": "-10 30", "commanded_alt": "+41",
                "centred_az": "-10.5", "centred_alt": "41.5"})  # fmt: skip
    log.close()
    (row,) = cells_of(tmp_path / "night.csv")
    assert not row["target"].startswith(RUN)
    assert not row["note"].startswith(RUN)
    assert (row["commanded_az"], row["commanded_alt"]) == ("-10 30", "+41")
    assert row["centred_az"] == "-10.5"
    read = read_log(tmp_path / "night.csv")
    assert (read.target, read.note) == ((text,), (text,))


def test_lines_of_programs_are_made_safe_once_however_often_they_are_sent_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    sent = "target,commanded_az,commanded_alt,centred_az,centred_alt,note\n=1+1,10,20,11,21,@x\n"
    for name in ("first.csv", "second.csv"):
        done = CliRunner().invoke(command_line, ["record", name, "--pipe"], input=sent)
        assert json.loads(done.stdout.splitlines()[0])["kept"] == 2
        (row,) = cells_of(tmp_path / name)
        assert (row["target"], row["note"]) == ("'=1+1", "'@x")
        assert read_log(name).target == ("=1+1",)
        sent = (tmp_path / name).read_text(encoding="utf-8")
