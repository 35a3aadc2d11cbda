"""What is said about a log that cannot be read; and nothing but that ever happens."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logtexts import (
    FIGURES,
    HEADER,
    NIGHT,
    codes,
    log_of,
    problems_of,
)

from pointmodel.base import angles
from pointmodel.base.errors import InputError
from pointmodel.reading.nightlog import read_log


def test_all_bad_cells_come_in_one_error_with_line_and_column() -> None:
    found = problems_of(
        f"{HEADER}\n"
        "a,2031-05-17T21:04:30+10:00,10,20,11,21,cw,up,\n"
        "b,21:04,45.6.7,4O.2,10,123,cww,over,bmp\n"
        "c,,12,,3,4\n"
        ",,,,1,2\n"
        "d,2031-13-01T00:00Z,400,95,nan,inf\n"
    )
    assert [(line, column, read) for line, column, read, _ in found] == [
        (3, "commanded_az", '"45.6.7"'),
        (3, "commanded_alt", '"4O.2"'),
        (3, "centred_alt", '"123"'),
        (3, "time", '"21:04"'),
        (3, "az_motion", '"cww"'),
        (3, "alt_motion", '"over"'),
        (3, "event", '"bmp"'),
        (4, "commanded_alt", "nothing"),
        (5, "commanded_az", "nothing"),
        (6, "commanded_az", '"400"'),
        (6, "commanded_alt", '"95"'),
        (6, "centred_az", '"nan"'),
        (6, "centred_alt", '"inf"'),
        (6, "time", '"2031-13-01T00:00Z"'),
    ]
    wanted = dict(zip([(line, column) for line, column, _, _ in found], found, strict=True))
    assert "one decimal point" in wanted[3, "commanded_az"][3]
    assert "40.2?" in wanted[3, "commanded_alt"][3]
    assert "2031-05-17T21:04:30+10:00" in wanted[3, "time"][3]
    assert wanted[3, "az_motion"][3] == "cw or ccw"
    assert wanted[3, "alt_motion"][3] == "up or down"
    assert wanted[3, "event"][3].startswith("bump (did you mean that?)")
    assert wanted[4, "commanded_alt"][3] == "a figure, since commanded_az has one"
    assert wanted[6, "commanded_az"][3] == "degrees from -180 to 360"


def test_an_altitude_out_of_range_beside_a_low_azimuth_is_asked_whether_it_was_swapped() -> None:
    (swapped, plain) = problems_of(f"{FIGURES}\n45,123,3,4\n145,123,3,4\n")
    assert swapped[3] == "degrees from -91 to 91; are azimuth and altitude swapped on this line?"
    assert plain[3] == "degrees from -91 to 91"


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("comanded_az,commanded_alt", "wanted commanded_az$"),
        (f"{FIGURES},altmotion", "wanted alt_motion$"),
        (
            "commanded_alt,centred_az",
            "commanded_az and centred_alt too. These are read: commanded_az,",
        ),
        (f"{FIGURES},seen_az,seen_alt", "one of: centred_az and centred_alt"),
        ("comanded_ra,commanded_dec", "wanted commanded_ra$"),
        ("commanded_ra,centred_az,centred_alt", "wanted commanded_dec too. These are read:"),
        (f"{FIGURES},seen_ra,seen_dec", "one of: centred_az and centred_alt"),
        (f"{FIGURES},Commanded_Az", 'read "Commanded_Az" twice'),
        (f"{FIGURES},centered_az", 'read "centered_az" twice'),
        ("10,20,30,40", "a header line above the figures"),
        ("commanded_az commanded_alt", "a header line above the figures"),
    ],
)
def test_a_header_that_does_not_serve_is_answered_by_one_that_does(
    header: str, message: str
) -> None:
    with pytest.raises(InputError, match=message):
        log_of(f"{header}\n1,2,3,4,5,6\n".replace("\n1,2,3,4,5,6", "\n" + "1," * header.count(",")))


def test_a_column_that_only_resembles_one_that_is_there_is_no_error() -> None:
    assert codes(log_of(f"{FIGURES},commanded_az_raw\n1,2,3,4,5\n")) == ["unknown_columns"]


def test_decimal_commas_in_a_comma_file_are_recognised() -> None:
    (row,) = problems_of(f"{FIGURES}\n12,5,30,2,12,6\n")
    assert row[0] == 2
    assert row[2] == "a row of 6 fields where the header has 4"
    assert "decimal commas, part the columns by ;" in row[3]
    (cell,) = problems_of(f'{FIGURES}\n"12,5",30,2,12\n')
    assert cell[1] == "commanded_az"
    assert "a decimal point: 12.5" in cell[3]
    (note,) = problems_of(f"{FIGURES},note\n1,2,3,4,low, in haze\n")
    assert "in quotation marks" in note[3]


def test_a_quotation_mark_that_is_never_closed_is_named_by_its_line() -> None:
    for end in ("", '\n5,6,7,8,"x"\n'):
        ((line, _, read, wanted),) = problems_of(f'{FIGURES},note\n1,2,3,4,"clouds\n5,6,7,8,{end}')
        assert (line, read) == (2, '"1,2,3,4,"clouds"')
        assert "quotation mark" in wanted


def test_a_cell_beyond_all_measure_is_an_error_and_quoted_short() -> None:
    ((line, _, read, _),) = problems_of(f"{FIGURES},note\n1,2,3,4,{'x' * 200_000}\n")
    assert line == 2
    assert len(read) < 100
    assert len(problems_of(f"{FIGURES}\n{'1' * 9000},2,3,4\n")[0][2]) < 100


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "an empty log"),
        (b"# only a remark\n\n", "an empty log"),
        (b"sep=;\n", "an empty log"),
        (b"\x00\x01\x02\x03", "a file that is not text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "a file that is not text"),
        (b"commanded_az,commanded_alt\n\x001,2\n", "a file that is not text"),
        (b"\x81\x8d\x8f", "a file that is not text"),
        (b"\xff\xfe\x00", "a file that is not text"),
    ],
)
def test_a_file_that_holds_no_log_is_refused(content: bytes, found: str) -> None:
    assert problems_of(content)[0][2] == found


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("no/such.csv", "no file of that name"),
        (".", "a folder"),
        ("a\0b", "a name that cannot be opened"),
        ("x" * 5000, "a name that cannot be opened"),
        (3, "wanted the path of a log"),
        (None, "wanted the path of a log"),
        ([1, 2], "wanted the path of a log"),
    ],
)
def test_what_is_no_source_is_refused(source: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_log(source)


def test_a_closed_or_unreadable_stream_is_refused(tmp_path: Path) -> None:
    closed = io.StringIO("")
    closed.close()
    with pytest.raises(InputError, match="a stream that cannot be read"):
        read_log(closed)
    with (
        (tmp_path / "night.csv").open("w") as writing,
        pytest.raises(InputError, match="a stream that cannot be read"),
    ):
        read_log(writing)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_that_may_not_be_opened_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "night.csv"
    path.write_text(NIGHT)
    path.chmod(0)
    with pytest.raises(InputError, match="may not be opened"):
        read_log(path)


FRAGMENTS = [b"\n", b",", b";", b'"', b"#", b"\xff", b"\0", b"1", b"4O", b"-0:30", b"nan", b"bump",
             HEADER.encode(), FIGURES.encode(), b"\n1,2,3,4\n", b"2031-05-17T21:00", b"PK\x03\x04",
             b"\t", b"sep=,", b"commanded_ra", b"seen_az", b"\xef\xbb\xbf", b"\r"]  # fmt: skip


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.one_of(st.binary(max_size=80), st.lists(st.sampled_from(FRAGMENTS)).map(b"".join)))
def test_any_bytes_are_a_log_or_an_input_error(content: bytes) -> None:
    with contextlib.suppress(InputError):
        log = log_of(content)
        assert np.isfinite(log.commanded_az_deg).all()
        assert (np.isfinite(log.centred_az_deg) == np.isfinite(log.centred_alt_deg)).all()


def test_reading_a_file_needs_no_pandas() -> None:
    code = (
        "import io, sys; from pointmodel.reading.nightlog import read_log; "
        f"read_log(io.StringIO({NIGHT!r})); sys.exit('pandas' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_columns_of_plain_decimals_are_read_at_once_and_not_cell_by_cell(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What reading costs is measured by tests/bench/speed.py; here: that the fast way is taken."""
    one_by_one: list[str] = []

    def counted(text: str, decimal_comma: bool = False, sides: str = "") -> float:
        one_by_one.append(text)
        return parse(text, decimal_comma, sides)

    parse = angles.parse_angle_deg
    monkeypatch.setattr(angles, "parse_angle_deg", counted)
    rows = "".join(
        f"s,2031-05-17T21:00:00Z,{k / 30:.4f},45,{k / 30:.4f},46,cw,up,\n" for k in range(999)
    )
    assert len(log_of(f"{HEADER}\n{rows}")) == 999
    assert one_by_one == []
    assert len(log_of(f"{HEADER}\n{rows}".replace(",46,", ",46 30,"))) == 999
    assert set(one_by_one) == {"46 30"}
