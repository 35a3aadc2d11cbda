"""Another program saves the log while it is recorded: nothing is written where it is not read."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.logfile import open_log
from pointmodel.recording.pipe import PipedLines, answer_lines
from pointmodel.recording.session import RecordResult, Session

HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"
VEGA, DENEB, RIGEL = "Vega,10,20,10.1,20.1", "Deneb,100,40,100.1,40.0", "Rigel,200,60,200.2,60.1"
NIGHT_S = 1937000000.0

Step = bytes | str | Callable[[], None]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


class Stream:
    """What a program sends, piece by piece, and what other programs do meanwhile."""

    def __init__(self, steps: list[Step]) -> None:
        self._steps = steps

    def read1(self, _: int) -> bytes:
        while self._steps:
            step = self._steps.pop(0)
            if callable(step):
                step()
            else:
                return step.encode() + b"\n" if isinstance(step, str) else step
        return b""

    readline = read1


def recorded(*steps: Step, header: str = HEADER) -> tuple[list[dict[str, Any]], RecordResult]:
    """The answers to lines sent, text being lines with a line feed, and what it comes to."""
    lines = PipedLines(Stream([header, *steps]))  # type: ignore[arg-type]
    file = open_log("night.csv", lambda: HEADER)
    said: list[str] = []
    try:
        session = Session(file, "night.csv", read_mount(None), NIGHT_S)
        answer_lines(session, lines, said.append, lambda: NIGHT_S)
        result = session.result(NIGHT_S)
    finally:
        file.close()
    assert os.listdir() == ["night.csv"]
    return [json.loads(one) for one in said], result


def log() -> Path:
    return Path("night.csv")


def saved(change: Callable[[str], str], encoding: str = "utf-8") -> Callable[[], None]:
    """Another program's save of the log as it is, changed."""
    return lambda: log().write_bytes(change(log().read_text()).encode(encoding)) and None


def columns_turned(text: str) -> str:
    return "".join(",".join(reversed(line.split(","))) + "\n" for line in text.splitlines())


def as_a_sheet() -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    for line in log().read_text().splitlines():
        book.active.append(line.split(","))
    book.save("night.csv.xlsx")
    Path("night.csv.xlsx").rename(log())


@pytest.mark.parametrize(
    ("save", "why"),
    [
        (saved(lambda text: text.replace(",", ";")), "its columns are parted by semicolons now"),
        (saved(lambda text: text.replace(",", "\t")), "its columns are parted by tabs now"),
        (saved(lambda text: "sep=;\n" + text.replace(",", ";")), "parted by semicolons now"),
        (saved(columns_turned), "its columns stand in another order now"),
        (saved(lambda text: text.replace("centred", "seen")), "in another order now, or are other"),
    ],
)
def test_a_log_saved_in_another_way_takes_no_line_before_that_was_said(
    save: Callable[[], None], why: str
) -> None:
    between: list[bytes] = []
    answers, _ = recorded(VEGA, save, lambda: between.append(log().read_bytes()), DENEB)
    assert (set(answers[1]), log().read_bytes()) == ({"refused"}, between[0])
    assert "another program has saved this log since" in answers[1]["refused"]
    assert why in answers[1]["refused"]
    assert answers[1]["refused"].endswith("Send the line again")


@pytest.mark.parametrize(
    "save",
    [saved(lambda text: text.replace(",", ";")), saved(columns_turned)],
    ids=["; ", "turned"],
)
def test_sent_again_the_line_is_written_as_the_log_is_now(save: Callable[[], None]) -> None:
    answers, result = recorded(VEGA, save, DENEB, DENEB, RIGEL)
    assert [("kept" in one) for one in answers] == [True, False, True, True]
    found = read_log(log())
    assert found.target == ("Vega", "Deneb", "Rigel")
    assert found.commanded_az_deg.tolist() == [10, 100, 200]
    assert found.centred_alt_deg.tolist() == [20.1, 40.0, 60.1]
    assert (result.entered, result.pairs) == (3, 3)


@pytest.mark.parametrize(
    ("save", "why"),
    [
        (saved(lambda text: text, "utf-16"), "it is now UTF-16 text"),
        (as_a_sheet, "it is now a spreadsheet, to which no line can be added"),
        (lambda: log().write_bytes(b""), "it is now an empty log"),
        (lambda: log().write_bytes(b"\0\1\2"), "it is now a file that is not text"),
        (saved(lambda text: text.replace("commanded_alt", "")), "it is now the columns"),
        (saved(lambda text: text.replace("centred_az", "centerd_az")), 'it is now "centerd_az"'),
        (
            lambda: log().write_text(f'{HEADER}\n"Vega,1,2,3,4\n'),
            "quotation mark in line 2 of this",
        ),
    ],
)
def test_into_what_cannot_be_read_nothing_is_written_until_it_is_mended(
    save: Callable[[], Any], why: str
) -> None:
    before: list[bytes] = []

    def look() -> None:
        before.append(log().read_bytes())

    def mend() -> None:
        assert log().read_bytes() == before[1]
        log().write_bytes(before[0])

    answers, _ = recorded(VEGA, look, save, look, DENEB, DENEB, mend, DENEB)
    assert ["kept" in one for one in answers] == [True, False, False, True]
    assert why in answers[1]["refused"] == answers[2]["refused"]
    assert read_log(log()).target == ("Vega", "Deneb")


def test_remarks_are_not_written_into_what_is_no_text_of_lines_either() -> None:
    answers, _ = recorded(VEGA, saved(lambda text: text, "utf-16"), "# wind")
    assert "UTF-16" in answers[1]["refused"]
    assert read_log(log()).target == ("Vega",)


@pytest.mark.parametrize(
    "save",
    [
        saved(lambda text: text.replace("\n", "\r\n")),
        saved(lambda text: text.replace("\n", "\r")),
        saved(lambda text: "# looked at\n" + text),
        saved(lambda text: "\ufeff" + text),
        saved(lambda text: text.replace("alt\n", "alt,seeing,note\n")),
        saved(lambda text: text.rstrip("\n")),
        saved(lambda text: text.replace("Vega", "Véga"), "cp1252"),
    ],
    ids=["CRLF", "CR", "remark", "mark", "columns at the end", "no last end", "Western"],
)
def test_what_changes_nothing_for_a_line_is_followed_without_a_word(
    save: Callable[[], None],
) -> None:
    answers, _ = recorded(VEGA, save, DENEB, "# wind", RIGEL)
    assert all("kept" in one for one in answers)
    assert [one["text"] for one in answers if "nother program" in one["text"]] == []
    found = read_log(log())
    assert found.target[1:] == ("Deneb", "Rigel")
    assert found.centred_az_deg.tolist() == [10.1, 100.1, 200.2]
    assert [one["kept"] for one in answers][1:] == [answers[1]["kept"] + step for step in range(3)]


def test_a_pair_lost_by_a_save_of_an_older_copy_is_written_again_and_told() -> None:
    older: list[bytes] = []
    answers, result = recorded(
        VEGA,
        lambda: older.append(log().read_bytes()),
        DENEB,
        lambda: log().write_bytes(older[0] + b"Sirius,150,30,150.1,30.1\n") and None,
        RIGEL,
    )
    assert read_log(log()).target == ("Vega", "Sirius", "Deneb", "Rigel")
    assert (
        "saved this log without what was kept here (Deneb): it is written again"
        in (answers[2]["text"])
    )
    assert (answers[2]["kept"], answers[2]["pairs"]) == (5, 4)
    assert "put_back" in [one.code for one in result.warnings]


def test_what_was_lost_by_the_last_save_is_written_again_at_the_end() -> None:
    older: list[bytes] = []
    _, result = recorded(
        VEGA,
        lambda: older.append(log().read_bytes()),
        DENEB,
        ",,,,",
        RIGEL,
        lambda: log().write_bytes(older[0]) and None,
    )
    assert read_log(log()).target == ("Vega", "Deneb", "Rigel")
    assert result.pairs == 3
    assert "(Deneb and Rigel): it is written again" in str(result)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("Deneb", "Capella"),
        lambda text: text.replace("100.1", "100.3"),
        lambda text: text.replace("100,40", "100.00,40°"),
        lambda text: text.replace("Vega,", "# Vega,"),
    ],
)
def test_what_somebody_put_right_in_the_log_stays_so(change: Callable[[str], str]) -> None:
    log().write_text(f"{HEADER}\n{VEGA}\n")
    answers, _ = recorded(DENEB, saved(change), RIGEL)
    assert all("kept" in one for one in answers)
    assert len(log().read_text().splitlines()) == 4


def test_lines_ended_by_a_carriage_return_are_lines_and_answered_at_once() -> None:
    seen: list[int] = []
    answers, _ = recorded(
        VEGA.encode() + b"\r",
        lambda: seen.append(len(log().read_bytes().splitlines())),
        b"\n" + DENEB.encode() + b"\r\n",
        RIGEL.encode() + b"\r" + b"# wind\rcalm,1,2,1,2\r\r\n\n",
        b"Spica,1,3,1,3",
    )
    assert seen == [2]
    assert [one["kept"] for one in answers] == [2, 3, 4, 5, 6, 7]
    assert read_log(log()).target == ("Vega", "Deneb", "Rigel", "calm", "Spica")
    assert b"\r" not in log().read_bytes()


def test_a_header_ended_by_a_carriage_return_is_a_header() -> None:
    lines = PipedLines(Stream([f"# mine\r{HEADER}\r{VEGA}\r".encode()]))  # type: ignore[arg-type]
    assert lines.header_for_new_log().startswith("target,time,commanded_az")
    assert list(lines) == [VEGA]
