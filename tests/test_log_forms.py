"""Every form that a log comes in: text, sheets, standard input, frames."""

from __future__ import annotations

import io
from datetime import time as clock
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from logtexts import (
    AT_21_04_30,
    FIGURES,
    HEADER,
    HOBART,
    NIGHT,
    assert_is_the_night,
    codes,
    log_of,
    problems_of,
)
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from pointmodel.base.errors import InputError
from pointmodel.reading.cells import cell_text
from pointmodel.reading.nightlog import read_log

# Forms of the file ----------------------------------------------------------------------------


def test_a_log_is_read_with_the_lines_of_an_editor(tmp_path: Path) -> None:
    path = tmp_path / "may 17.csv"
    path.write_text(NIGHT, encoding="utf-8")
    log = read_log(str(path))
    assert_is_the_night(log)
    assert log.line.tolist() == [3, 4, 7]
    assert [event.line for event in log.events] == [4, 6, 8]
    assert (log.source, log.name, len(log)) == (str(path), "may 17", 3)
    assert log.warnings == ()


def test_other_separators_line_ends_and_encodings_read_alike() -> None:
    semicolons = NIGHT.replace('"low, in haze"', "low; in haze").replace(",", ";")
    semicolons = semicolons.replace("low; in haze", '"low, in haze"')
    for text in (
        NIGHT.replace("\n", "\r\n"),
        NIGHT.replace("\n", "\r"),
        "\ufeff" + NIGHT,
        semicolons,
        "sep=;\n" + semicolons,
        semicolons.replace(";", "\t"),
        semicolons.replace("123.75", "123,75").replace("60.61", "60,61"),
        NIGHT.replace(HEADER, HEADER.upper().replace(",", " , ").replace("_", " ")),
        NIGHT.replace("centred_", "centered_"),
    ):
        assert_is_the_night(log_of(text))
    assert_is_the_night(log_of(NIGHT.encode("utf-16")))


def test_text_that_is_not_utf8_is_read_with_a_notice() -> None:
    log = log_of(f"{FIGURES},note\n1,2,3°30’,4,café\n".encode("cp1252"))
    assert log.note == ("café",)
    assert log.centred_az_deg[0] == 3.5
    assert codes(log) == ["encoding"]
    assert "from line 2 on" in log.warnings[0].text


def sheet_rows() -> list[list[Any]]:
    """NIGHT's rows as typed into a spreadsheet; minutes typed as 60:30 become a length of time."""
    return [
        ["# clear, no wind"],
        [*HEADER.split(","), "note"],
        ["Achernar", "2031-05-17T21:04:30+10:00", 123.75, 45.2, 124.01, 45.31, "cw", "UP", "",
         "first"],
        ["Canopus", "2031-05-17 21:09:00 +10:00", "-10 30", timedelta(hours=60.5), "350°15'", 60.61,
         "CCW", "down", "Bump", "low, in haze"],
        [],
        ["", "", "", "", "", "", "", "", "clutch"],
        ["Sirius", None, 80.9, 30, None, None, None, None, None, "not centred"],
        ["", "", "", "", "", "", "", "", "power cycle"],
    ]  # fmt: skip


def test_a_spreadsheet_is_read_by_its_content(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in sheet_rows():
        book.active.append(row)
    book.create_sheet("other").append(["spare"])
    path = tmp_path / "night.xlsx"
    book.save(path)
    log = read_log(path)
    assert_is_the_night(log)
    assert log.line.tolist() == [3, 4, 7]
    assert codes(log) == ["other_sheets"]
    assert_is_the_night(log_of(path.read_bytes()))


def test_an_open_document_sheet_is_read(tmp_path: Path) -> None:
    document = OpenDocumentSpreadsheet()
    table = Table(name="night")
    for line in NIGHT.replace('"low, in haze"', "low; in haze").split("\n"):
        row = TableRow()
        for text in line.split(","):
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text.replace("low; in", "low, in")))
            row.addElement(cell)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    document.save(str(tmp_path / "night.ods"))
    assert_is_the_night(read_log(tmp_path / "night.ods"))


def test_figures_that_a_spreadsheet_took_for_times_of_day_are_degrees_and_minutes() -> None:
    book = openpyxl.Workbook()
    book.active.append(FIGURES.split(","))
    book.active.append([clock(12, 30, 36), 1.6, 3, 4])
    book.active["B2"].number_format = "h:mm"
    stream = io.BytesIO()
    book.save(stream)
    log = log_of(stream.getvalue())
    assert log.commanded_az_deg[0] == pytest.approx(12.51)
    assert log.commanded_alt_deg[0] == pytest.approx(38.4)


def sheet_of(*rows: list[Any]) -> bytes:
    book = openpyxl.Workbook()
    for row in [FIGURES.split(","), *rows]:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_degrees_that_a_spreadsheet_took_for_minutes_are_asked_about() -> None:
    minutes = timedelta(minutes=41, seconds=33)  # what 41:33.0 is to a spreadsheet
    found = problems_of(sheet_of([123.5, minutes, timedelta(hours=123, minutes=45), 41.2]))
    assert [(at[0], at[1], at[2]) for at in found] == [(2, "commanded_alt", '"0:41:33"')]
    assert found[0][3].startswith("41 33 (with a blank) if 41:33 was typed, which a spreadsheet")
    assert found[0][3].endswith("0°41'33\" if not")
    azimuth = timedelta(minutes=123, seconds=45.5)
    found = problems_of(sheet_of([azimuth, 41.5, 124.0, clock(0, 41, 20, 500_000)]))
    assert [at[1] for at in found] == ["commanded_az", "centred_alt"]
    assert "123 45.5 (with a blank) if 123:45.5 was typed" in found[0][3]


def test_a_small_azimuth_typed_with_seconds_like_the_others_is_right() -> None:
    small, large = timedelta(hours=2, minutes=3, seconds=45), timedelta(hours=200, seconds=30)
    log = log_of(sheet_of([small, 41.5, 3.5, 42], [large, 41.5, 3.5, 42]))
    assert log.commanded_az_deg[0] == pytest.approx(2 + 3 / 60 + 45 / 3600)
    assert (
        problems_of(sheet_of([small, 41.5, 3.5, 42], [200.5, 41.5, 3.5, 42]))[0][2] == '"2:03:45"'
    )


def test_a_remark_that_looks_like_a_line_is_told() -> None:
    log = log_of(f"target,{FIGURES}\n#3,1,2,3,4\n# undone: x,1,2,3,4\n# a,b,c,d,e\nx,5,6,7,8\n")
    assert codes(log) == ["remark_like_a_line"]
    assert log.warnings[0].text.startswith("line 2: begins with # and is passed over as a remark")
    assert log_of(f'target,{FIGURES}\n"#3",1,2,3,4\n').target == ("#3",)
    book = sheet_of(["#1", 2, 3, 4], [5, 6, 7, 8])
    assert codes(log_of(book)) == ["remark_like_a_line"]


@pytest.mark.parametrize("name", ["commanded_alt", "centred_alt"])
def test_a_sky_below_the_horizon_is_refused(name: str) -> None:
    rows = ["10,-20,11,21", "50,-30,51,31"] if name[1] == "o" else ["10,20,11,-21", "50,30,51,-31"]
    (found,) = problems_of("\n".join([FIGURES, *rows, ""]))
    assert found[1:3] == (name, "2 altitudes, all below 0")
    assert "is the sign wrong, or is this another column?" in found[3]
    assert len(log_of("\n".join([FIGURES, rows[0], "50,30,51,31", ""]))) == 2


def test_a_mount_that_leans_may_read_past_the_zenith() -> None:
    log = log_of(f"{FIGURES}\n10,89.5,15,90.04\n10,-90.5,15,-91\n")
    assert log.centred_alt_deg.tolist() == [90.04, -91.0]
    assert problems_of(f"{FIGURES}\n1,91.1,3,4\n")[0][3].startswith("degrees from -91 to 91")


def test_lengths_of_time_in_an_open_document_are_degrees_and_minutes() -> None:
    assert [cell_text(text) for text in ("PT60H30M00S", "-PT0H30M36.5S", "PT boat")] == [
        "60:30:00",
        "-0:30:36.5",
        "PT boat",
    ]


def test_an_empty_sheet_is_an_empty_log() -> None:
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    assert problems_of(stream.getvalue())[0][2] == "an empty log"


def test_a_dash_means_standard_input(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "mount.toml").write_text('[mount]\nname = "not asked for"\n')
    monkeypatch.chdir(tmp_path)
    for stream in (io.StringIO(NIGHT), io.TextIOWrapper(io.BytesIO(NIGHT.encode()))):
        monkeypatch.setattr("sys.stdin", stream)
        log = read_log("-")
        assert_is_the_night(log)
        assert (log.source, log.name, log.mount.name) == ("-", "night", None)
    assert_is_the_night(read_log(io.StringIO(NIGHT)))


def test_remarks_and_empty_lines_are_passed_over_but_not_errors_of_a_spreadsheet() -> None:
    assert log_of(f"#\n\n  # x\n{FIGURES}\n#1,2,3,4\n , ,,\n1,2,3,4\n").line.tolist() == [7]
    assert problems_of(f"{FIGURES}\n#N/A,2,3,4\n")[0][2] == '"#N/A"'


def test_a_log_with_a_header_alone_holds_no_pairs() -> None:
    log = log_of(HEADER)
    assert (len(log), log.events, log.warnings) == (0, (), ())
    assert log.commanded_az_deg.dtype == np.float64
    assert len(log.pairs) == 0


def test_a_note_may_run_over_lines_in_quotes() -> None:
    log = log_of(f'{FIGURES},note\n1,2,3,4,"one\ntwo"\n5,6,7,8,\n')
    assert log.note == ("one\ntwo", None)
    assert log.line.tolist() == [2, 4]


# Frames ---------------------------------------------------------------------------------------


STAMPS = ["2031-05-17T21:04:30", "NaT", "2031-05-17T21:05:30.123456789"]


def test_a_frame_is_read_and_left_as_it_was() -> None:
    frame = pd.DataFrame(
        {
            "target": ["a", None, "c"],
            "Commanded_AZ": [1.5, 2.0, -3.0],
            "commanded_alt": ["10 30", "11", "12,5"],
            "centered_az": pd.array([1, None, 2], dtype="Int64"),
            "centered_alt": np.array([1, np.nan, 2], dtype=np.float32),
            "time": np.array(STAMPS, dtype="datetime64[ns]"),
        },
        index=[7, 7, 9],
    )
    before = frame.copy(deep=True)
    log = read_log(frame, HOBART)
    pd.testing.assert_frame_equal(frame, before)
    assert log.line.tolist() == [1, 2, 3]
    assert (log.source, log.name, log.target) == ("<frame>", "night", ("a", None, "c"))
    np.testing.assert_allclose(log.commanded_az_deg, [1.5, 2, 357])
    np.testing.assert_allclose(log.commanded_alt_deg, [10.5, 11, 12.5])
    np.testing.assert_allclose(log.centred_az_deg, [1, np.nan, 2])
    assert log.time_s[0] == AT_21_04_30
    assert log.time_s[2] == pytest.approx(AT_21_04_30 + 60.123456, abs=2e-6)


def test_a_frame_with_wrong_cells_is_refused_by_row() -> None:
    frame = pd.DataFrame(
        {"commanded_az": [1, np.inf], "commanded_alt": [None, object()], "time": [1.5, pd.NaT]}
    )
    with pytest.raises(InputError, match="<frame>, line 1, column commanded_alt") as caught:
        read_log(frame)
    assert [(at.line, at.column) for at in caught.value.problems] == [
        (1, "commanded_alt"),
        (1, "time"),
        (2, "commanded_az"),
        (2, "commanded_alt"),
    ]
    for wrong in (pd.DataFrame(), pd.DataFrame({3: [1]}), pd.DataFrame({("a", "b"): [1]})):
        with pytest.raises(InputError, match="commanded_az"):
            read_log(wrong)


def test_the_pairs_of_a_log_are_a_frame_that_reads_back_to_the_same_log() -> None:
    log = log_of(NIGHT)
    frame = log.pairs
    assert frame.index.tolist() == [3, 4, 7]
    assert str(frame["time"].dt.tz) == "UTC+10:00"
    assert frame["time"].iloc[0].isoformat() == "2031-05-17T21:04:30+10:00"
    again = read_log(frame)
    np.testing.assert_array_equal(again.time_s, log.time_s)
    np.testing.assert_array_equal(again.centred_alt_deg, log.centred_alt_deg)
    assert [event.kind for event in again.events] == ["bump", "clutch"]
    assert (again.target, again.note) == (log.target, log.note)
    assert str(log_of(NIGHT, HOBART).pairs["time"].dt.tz) == "Australia/Hobart"
