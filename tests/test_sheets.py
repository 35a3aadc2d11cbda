"""Spreadsheets: what is read, and what damaged and hostile ones are answered."""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from rawsheets import (
    HEADER_ROW,
    ODS_HEADER_ROW,
    ODS_PAIR_ROW,
    PAIR_ROW,
    ods,
    ods_content,
    ods_row,
    text_row,
    xlsx,
    xlsx_parts,
    zipped,
)

import pointmodel as pm
from pointmodel.base.errors import InputError, Problem
from pointmodel.reading import sheetcells, sheetparts
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.reading.rows import MOST_COLUMNS
from pointmodel.reading.sheetcells import column_letters, column_number
from pointmodel.reading.table import LARGEST_LOG_BYTES

LAST = 1_048_576  # rows of a sheet: the programs that write .xlsx and .ods have as many
SHEET = "xl/worksheets/sheet1.xml"


def log_of(data: bytes) -> NightLog:
    return read_log(io.BytesIO(data))


def problem_of(data: bytes) -> Problem:
    with pytest.raises(InputError) as caught:
        log_of(data)
    (problem,) = caught.value.problems
    return problem


def with_sheet(content: str) -> bytes:
    return zipped({**xlsx_parts(""), SHEET: content})


def test_sheets_made_by_hand_are_read() -> None:
    for data in (xlsx(HEADER_ROW + PAIR_ROW), ods(ODS_HEADER_ROW + ODS_PAIR_ROW)):
        log = log_of(data)
        assert log.line.tolist() == [2]
        assert (log.commanded_az_deg[0], log.centred_alt_deg[0]) == (10.0, 21.0)


def test_a_sheet_s_declared_size_is_not_believed() -> None:
    sheet = xlsx_parts(HEADER_ROW + PAIR_ROW)[SHEET]
    sized = sheet.replace("<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>')
    assert len(log_of(with_sheet(sized))) == 1


def test_one_cell_at_the_far_corner_is_named() -> None:
    corner = f'<row r="{LAST}"><c r="XFD{LAST}"><v>1</v></c></row>'
    problem = problem_of(xlsx(HEADER_ROW + PAIR_ROW + corner))
    assert (problem.line, problem.found) == (LAST, "a filled cell in column XFD")
    assert "within the first 1000 columns; empty that cell" in problem.wanted
    empty_rows = f'<table:table-row table:number-rows-repeated="{LAST - 3}"/>'
    empty_cells = '<table:table-cell table:number-columns-repeated="16383"/>'
    cell = '<table:table-cell office:value-type="float" office:value="1"/>'
    corner = f"{empty_rows}<table:table-row>{empty_cells}{cell}</table:table-row>"
    problem = problem_of(ods(ODS_HEADER_ROW + ODS_PAIR_ROW + corner))
    assert (problem.line, problem.found) == (LAST, "a filled cell in column XFD")


def test_a_stray_cell_a_million_rows_down_is_a_line_like_others() -> None:
    problem = problem_of(
        xlsx(HEADER_ROW + PAIR_ROW + '<row r="1000000"><c r="A1000000"><v>1</v></c></row>')
    )
    assert (problem.line, problem.column, problem.found) == (1000000, "commanded_alt", "nothing")


@pytest.mark.parametrize(
    "reference",
    ["ZZZZZZZ9999999999", "", "A0", "1A", "A-1", "XFE1", "Ä1", "A1B", "A 1", "A1048577", "٣٣"],
)
def test_a_broken_cell_reference_is_refused_at_its_row(reference: str) -> None:
    row = f'<row r="3"><c r="{reference}"><v>1</v></c></row>'
    problem = problem_of(xlsx(HEADER_ROW + PAIR_ROW + row))
    assert problem.line == 3
    assert problem.found == f"a cell named {reference}, which no sheet has"


def test_a_broken_row_number_is_refused_below_the_row_before() -> None:
    for number in ("0", "-1", "1048577", "9" * 400, "x"):
        problem = problem_of(xlsx(HEADER_ROW + PAIR_ROW + f'<row r="{number}"/>'))
        assert problem.line == 2
        assert problem.found == f"a row numbered {number[:20]}, which no sheet has"


def test_a_truncated_open_document_is_damaged() -> None:
    content = ods_content(ODS_HEADER_ROW + ODS_PAIR_ROW)
    for length in range(0, len(content) - 1, 37):
        problem = problem_of(zipped({"content.xml": content[:length]}))
        assert problem.found.startswith("a spreadsheet whose part content.xml is damaged")


def test_a_file_cut_short_is_damaged_wherever_it_is_cut() -> None:
    for whole in (xlsx(HEADER_ROW + PAIR_ROW), ods(ODS_HEADER_ROW + ODS_PAIR_ROW)):
        for length in range(4, len(whole), 41):
            assert "damaged or cut short" in problem_of(whole[:length]).found


def test_no_byte_put_wrong_does_more_than_damage() -> None:
    for whole in (xlsx(HEADER_ROW + PAIR_ROW), ods(ODS_HEADER_ROW + ODS_PAIR_ROW)):
        for place in range(4, len(whole), 7):
            damaged = bytearray(whole)
            damaged[place] ^= 0x5A
            with contextlib.suppress(InputError):
                log_of(bytes(damaged))


@pytest.mark.parametrize(
    "made",
    [
        lambda: xlsx(HEADER_ROW + PAIR_ROW + " " * 33_000_000),
        lambda: xlsx(HEADER_ROW + PAIR_ROW, strings=f"<si><t>{'a' * 33_000_000}</t></si>"),
        lambda: ods(ODS_HEADER_ROW + ods_row("x" * 33_000_000)),
        lambda: xlsx(HEADER_ROW + PAIR_ROW + "<row/>" * 900_000),
        lambda: with_sheet("<a" + "".join(f' a{number}=""' for number in range(600_000)) + "/>"),
    ],
    ids=["blanks", "shared text", "text", "tags", "attributes"],
)
def test_a_small_file_that_unpacks_to_far_more_is_refused(made: Callable[[], bytes]) -> None:
    problem = problem_of(made())
    assert problem.found == "a spreadsheet that unpacks to far more than a log"
    assert problem.wanted == "the log alone in its file, or saved as CSV"


def test_what_unpacks_to_another_size_than_it_says_is_refused_unread() -> None:
    whole = xlsx(HEADER_ROW + PAIR_ROW + " " * 40_000_000)
    said = len(xlsx_parts(HEADER_ROW + PAIR_ROW + " " * 40_000_000)[SHEET]).to_bytes(4, "little")
    lied = whole.replace(said, (2000).to_bytes(4, "little"))
    assert lied != whole
    assert "damaged or cut short" in problem_of(lied).found


def test_entities_are_not_unfolded() -> None:
    """The billion laughs of OWASP's "XML External Entity Prevention Cheat Sheet"."""
    entities = '<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {after} "{f"&{before};" * 10}">'
        for before, after in zip("abcdefgh", "bcdefghi", strict=True)
    )
    sheet = xlsx_parts(HEADER_ROW + text_row(2, "&i;"))[SHEET]
    problem = problem_of(with_sheet(f"<!DOCTYPE a [{entities}]>{sheet}"))
    assert problem.found == "a spreadsheet with a document type in it, which none has"
    outside = '<!DOCTYPE a SYSTEM "file:///etc/passwd">'
    assert "document type" in problem_of(with_sheet(outside + sheet)).found


@pytest.mark.parametrize(
    ("row", "found"),
    [
        (ods_row("1", repeated=1_000_000), "a sheet of more than 150000 cells"),
        (ods_row("1", repeated=2_000_000), "more than 1048576 rows"),
        (ods_row('<text:s text:c="999999999"/>'), "a text of more letters than a cell holds"),
        (ods_row('<text:s text:c="2000000000"/>'), "something that comes 2000000000 times"),
        (ods_row('<text:s text:c="-1"/>'), "something that comes -1 times"),
        (
            '<table:table-row><table:table-cell table:number-columns-repeated="99999"/>'
            "</table:table-row>",
            "a row of more than 16384 cells",
        ),
    ],
)
def test_what_an_open_document_repeats_is_bounded(row: str, found: str) -> None:
    problem = problem_of(ods(ODS_HEADER_ROW + ODS_PAIR_ROW + row))
    assert problem.found == found
    assert problem.line is not None
    assert problem.line >= 3


def test_rows_that_come_several_times_are_several_lines() -> None:
    log = log_of(ods(ODS_HEADER_ROW + ods_row("10", "20", "11", "21", repeated=3)))
    assert log.line.tolist() == [2, 3, 4]


def test_wide_and_long_sheets_are_refused_by_the_area_they_span() -> None:
    far = "".join(f'<row r="{row}"><c r="ALL{row}"><v>1</v></c></row>' for row in range(2, 400))
    problem = problem_of(xlsx(HEADER_ROW + far))
    assert problem.found == f"a sheet of more than {sheetcells.MOST_CELLS} cells"


def test_files_too_large_and_with_too_many_parts_are_refused_unopened() -> None:
    big = b"PK\x03\x04".ljust(sheetparts.MOST_FILE_BYTES + 1, b"\0")
    assert problem_of(big).found == "16 MB of spreadsheet"
    many = {**xlsx_parts(HEADER_ROW), **{f"part{number}": "" for number in range(2000)}}
    assert problem_of(zipped(many)).found == "a spreadsheet of more than 2000 parts"
    book = xlsx_parts("")["xl/workbook.xml"]
    sheets = book.replace("<sheet ", '<sheet name="a" r:id="r1"/>' * 500 + "<sheet ")
    crowded = zipped({**xlsx_parts(HEADER_ROW), "xl/workbook.xml": sheets})
    assert problem_of(crowded).found == "a spreadsheet of more than 500 sheets"


def test_old_and_locked_files_and_other_archives_say_what_they_are() -> None:
    assert (
        "older kind (.xls), or one with a password"
        in problem_of(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(4000)).found
    )
    assert problem_of(zipped({"letter.txt": "hello"})).found == (
        "a ZIP archive that is no spreadsheet"
    )
    locked = "<manifest><file-entry><encryption-data/></file-entry></manifest>"
    parts = {"content.xml": "x", "META-INF/manifest.xml": locked}
    assert problem_of(zipped(parts)).found == "a spreadsheet with a password"
    lzma = zipped(xlsx_parts(HEADER_ROW), method=14)
    assert problem_of(lzma).found == "a spreadsheet packed in an unusual way"
    assert "an .xlsx or .ods file without password" in problem_of(lzma).wanted


def test_remarks_on_cells_and_phonetic_guides_are_no_text_of_the_cell() -> None:
    remark = "<office:annotation><text:p>a remark</text:p></office:annotation>"
    held = f"{remark}<text:p>10</text:p>"
    row = f'<table:table-row><table:table-cell office:value-type="string">{held}'
    row += "</table:table-cell>" + ods_row("20", "11", "21").partition(">")[2]
    assert log_of(ods(ODS_HEADER_ROW + row)).commanded_az_deg[0] == 10.0
    guide = "<is><r><t>1</t></r><r><t>0</t></r><rPh><t>99</t></rPh></is>"
    row = PAIR_ROW.replace("<c><v>10</v></c>", f'<c t="inlineStr">{guide}</c>')
    assert log_of(xlsx(HEADER_ROW + row)).commanded_az_deg[0] == 10.0


def test_a_text_that_is_not_there_is_refused() -> None:
    row = '<row r="2"><c t="s"><v>7</v></c></row>'
    problem = problem_of(xlsx(HEADER_ROW + row))
    assert (problem.line, problem.found) == (2, "a cell with text number 7, which is not there")


def test_columns_have_the_letters_that_a_sheet_shows() -> None:
    for number, letters in ((1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (16384, "XFD")):
        assert column_letters(number) == letters
        assert column_number(letters) == number


def test_a_header_far_wider_than_a_log_is_refused_by_its_width() -> None:
    header = ",".join(f"column{number}" for number in range(MOST_COLUMNS + 1))
    with pytest.raises(InputError, match="a header of 1001 columns; wanted at most 1000 columns"):
        read_log(io.StringIO(header + "\n1\n"))
    header = ",".join(f"column{number}" for number in range(MOST_COLUMNS))
    with pytest.raises(InputError, match="5001 lines under a header of 1000 columns"):
        read_log(io.StringIO(header + "\n1" * 5000 + "\n"))


def test_logs_far_longer_than_any_are_refused_by_their_length() -> None:
    with pytest.raises(InputError, match="200001 lines; wanted a log of at most 200000 lines"):
        read_log(io.StringIO("commanded_az,commanded_alt\n" + "1\n" * 200_001))
    with pytest.raises(InputError, match="more than 20 MB; wanted a file of a few thousand"):
        read_log(io.BytesIO(bytes(LARGEST_LOG_BYTES + 1)))


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no file without an end here")
def test_of_a_file_without_an_end_no_more_is_read_than_a_log_has() -> None:
    with pytest.raises(InputError, match="/dev/zero: read more than 20 MB"):
        read_log("/dev/zero")
    with pytest.raises(InputError, match="/dev/zero: read more than 100 MB"):
        pm.load_fit("/dev/zero")


def test_one_hostile_sheet_in_a_folder_leaves_the_comparison_alone(tmp_path: Path) -> None:
    for night, seed in (("a", 1), ("b", 2)):
        text = pm.simulate(pairs=8, seed=seed).to_csv_text()
        (tmp_path / f"{night}.csv").write_text(text)
    corner = f'<row r="{LAST}"><c r="XFD{LAST}"><v>1</v></c></row>'
    (tmp_path / "corner.xlsx").write_bytes(xlsx(HEADER_ROW + PAIR_ROW + corner))
    result = pm.compare([tmp_path])
    assert len(result.nights) == 2
    assert any("corner.xlsx" in notice.text for notice in result.warnings)
