"""A log that is being recorded: gone on with as it is, never half a line, one writer."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pointmodel.base.errors import InputError
from pointmodel.reading.newfiles import new_files
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.lock import take_lock
from pointmodel.recording.logfile import LogFile, NotSavedError, open_log

PAIR = {
    "target": "Vega",
    "commanded_az": "123 45",
    "commanded_alt": "41.5",
    "centred_az": "124 01",
    "centred_alt": "41.6",
}
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def log_with(data: bytes | str, name: str = "night.csv") -> Path:
    path = Path(name)
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def appended(data: bytes | str, cells: dict[str, str], name: str = "night.csv") -> bytes:
    """What a log holds once one line is kept in it."""
    path = log_with(data, name)
    file = open_log(path)
    file.append(cells)
    file.close()
    assert not [other for other in os.listdir() if other.startswith((".", f"{name}."))]
    return path.read_bytes()


def test_a_new_log_has_the_header_of_a_new_night_and_is_an_ordinary_log() -> None:
    file = open_log("night.csv")
    file.append(PAIR)
    file.close()
    assert file.is_new
    _, template = new_files("new")
    header, line = Path("night.csv").read_text().splitlines()
    assert header == template.read_text().splitlines()[-1]
    assert line == "Vega,,123 45,41.5,124 01,41.6,,,,"
    assert read_log("night.csv").target == ("Vega",)


def test_the_empty_log_of_a_new_night_is_gone_on_with_behind_its_remarks() -> None:
    _, template = new_files("new")
    before = template.read_bytes()
    assert appended(before, PAIR) == before + b"Vega,,123 45,41.5,124 01,41.6,,,,\n"


@pytest.mark.parametrize("start", [b"", b"# remarks alone\n"])
def test_a_log_without_a_header_is_given_one(start: bytes) -> None:
    assert appended(start, PAIR).startswith(start + b"target,time,commanded_az")
    assert read_log("night.csv").target == ("Vega",)


@pytest.mark.parametrize(
    ("header", "line"),
    [
        (
            "centred_alt;centred_az;Commanded Az;commanded_alt;target",
            "41.6;124 01;123 45;41.5;Vega",
        ),
        (HEADER.replace(",", "\t"), "Vega\t123 45\t41.5\t124 01\t41.6"),
        (f"sep=;\n{HEADER.replace(',', ';')}", "Vega;123 45;41.5;124 01;41.6"),
        (f"# seeing 3\n\n{HEADER},filter", "Vega,123 45,41.5,124 01,41.6,"),
        (f"\ufeff{HEADER}", "Vega,123 45,41.5,124 01,41.6"),
        (
            f'{HEADER}\n"a, ""b""",1,2,3,4 # x',
            "Vega,123 45,41.5,124 01,41.6",
        ),
    ],
)
def test_a_log_is_gone_on_with_in_its_own_order_and_separator(header: str, line: str) -> None:
    before = f"{header}\n".encode()
    assert appended(before, PAIR) == before + f"{line}\n".encode()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_stay_those_of_the_log(end: str) -> None:
    before = f"# mine{end}{HEADER}{end}a,1,2,1,2{end}".encode()
    after = before + f"Vega,123 45,41.5,124 01,41.6{end}".encode()
    assert appended(before, PAIR) == after
    assert appended(before.removesuffix(end.encode()), PAIR) == after
    file = open_log("night.csv")
    file.strike(3)
    file.close()
    assert read_log("night.csv").target == ("Vega",)


def test_a_western_european_log_stays_one() -> None:
    before = f"{HEADER}\nÉtoile,1,2,1,2\n".encode("cp1252")
    after = appended(before, {**PAIR, "target": "Blåvand"})
    assert after == before + "Blåvand,123 45,41.5,124 01,41.6\n".encode("cp1252")


def test_names_and_notes_may_hold_anything() -> None:
    odd = {"target": '#1, "the" lamp\n', "note": " = wind; \x1b[31m gusts "}
    appended(f"{HEADER},note\n", {**PAIR, **odd})
    log = read_log("night.csv")
    assert log.target == ('#1, "the" lamp',)
    assert log.note == ("= wind; \ufffd[31m gusts",)


def test_a_column_that_is_missing_is_added_at_the_end_and_older_lines_stay() -> None:
    before = f"\ufeff# remark\r\n{HEADER}\r\na,10,20,10,20\r\n"
    after = appended(before, {"event": "bump", "note": "foot"})
    assert after.decode() == before.replace(HEADER, f"{HEADER},event,note") + ",,,,,bump,foot\r\n"
    log = read_log("night.csv")
    assert ([event.kind for event in log.events], log.target) == (["bump"], ("a",))


def test_a_plan_without_centred_columns_can_be_filled_in() -> None:
    appended("target,commanded_az,commanded_alt\na,10,20\n", PAIR)
    assert read_log("night.csv").has_both.tolist() == [False, True]


def test_a_line_struck_stays_as_a_remark_and_the_file_keeps_its_mode() -> None:
    path = log_with(f"{HEADER}\na,1,2,1,2\nb,3,4,3,4\n# end\n")
    path.chmod(0o640)
    file = open_log(path)
    file.strike(3)
    file.close()
    assert path.read_text() == f"{HEADER}\na,1,2,1,2\n# undone: b,3,4,3,4\n# end\n"
    assert path.stat().st_mode & 0o777 == 0o640
    assert os.listdir() == ["night.csv"]


def test_a_link_stays_a_link() -> None:
    path = log_with(f"{HEADER}\na,1,2,1,2\n", "real.csv")
    Path("night.csv").symlink_to(path)
    file = open_log("night.csv")
    file.strike(2)
    file.close()
    assert Path("night.csv").is_symlink()
    assert b"# undone: a" in path.read_bytes()


def test_a_last_line_that_an_editor_left_open_is_kept_and_ended() -> None:
    before = f"{HEADER}\na,1,2,1,2"
    assert appended(before, PAIR).decode() == before + "\nVega,123 45,41.5,124 01,41.6\n"


KILLED = b"process 1 on here, since then\n"


def left_by_a_kill(writing: bytes = b"") -> None:
    """A lock file as a killed recorder leaves it, with the line that was on its way."""
    first = take_lock(Path("night.csv").absolute())
    if writing:
        first.announce(writing)
    note = first.path.read_bytes()
    first.release()
    log_with(note, "night.csv.lock")


def opened_after_a_kill(data: bytes, writing: bytes = b"") -> tuple[bytes, str]:
    """What a log holds, and what is told, once it was opened again."""
    left_by_a_kill(writing)
    path = log_with(data)
    file = open_log(path)
    file.close()
    assert os.listdir() == ["night.csv"]
    return path.read_bytes(), file.mended


@pytest.mark.parametrize("torn", [b"b", b"b,3,4,3,4", b"b,3,4,3,45.25"])
def test_a_line_cut_off_by_a_kill_becomes_a_remark(torn: bytes) -> None:
    whole = f"{HEADER}\na,1,2,1,2\n".encode()
    data, told = opened_after_a_kill(whole + torn, b"b,3,4,3,45.25\n")
    assert data == whole + b"# cut off, not kept: " + torn + b"\n"
    assert "cut off" in told
    assert read_log("night.csv").target == ("a",)


@pytest.mark.parametrize("torn", [b"b,3", b"b,3,\0\0\0", b"b,3,4,,", b"b,3,4,3,4\0\0"])
def test_an_end_that_is_no_line_becomes_a_remark_whoever_wrote_it(torn: bytes) -> None:
    whole = f"{HEADER},note\na,1,2,1,2\n".encode()
    data, told = opened_after_a_kill(whole + torn)
    assert data == whole + b"# cut off, not kept: " + torn.strip(b"\0") + b"\n"
    assert "cut off" in told


@pytest.mark.parametrize("writing", [b"", b"c,5,6,5,6\n"])
@pytest.mark.parametrize("last", [b"b,3,4,3,4", b"b,3,4,3,4,,", b"b,3,4,,,,", b"# wind"])
def test_a_complete_last_line_without_its_end_is_kept_after_a_kill(
    writing: bytes, last: bytes
) -> None:
    data = f"{HEADER},event,note\na,1,2,1,2\n".encode() + last
    assert opened_after_a_kill(data, writing) == (data, "")
    assert appended(data, PAIR) == data + b"\nVega,123 45,41.5,124 01,41.6,,\n"


def test_a_header_cut_off_by_a_kill_is_written_anew() -> None:
    left_by_a_kill(b"target,time,commanded_az\n")
    assert appended(b"# mine\ntarget,ti", PAIR).startswith(
        b"# mine\n# cut off, not kept: target,ti\ntarget,time,commanded_az"
    )


def test_zeros_left_by_a_power_cut_are_taken_away() -> None:
    whole = f"{HEADER}\na,1,2,1,2\n".encode()
    log_with(KILLED, "night.csv.lock")
    path = log_with(whole + bytes(300))
    open_log(path).close()
    assert path.read_bytes() == whole


@pytest.mark.parametrize(
    ("name", "data", "why"),
    [
        ("night.xlsx", b"", "a spreadsheet, to which no line can be added"),
        ("night.csv", b"PK\x03\x04 and so on", "a spreadsheet, to which no line can be added"),
        ("night.csv", HEADER.encode("utf-16"), "UTF-16 text"),
        ("night.csv", b"\x00\x01\x02", "a file that is not text"),
        ("night.csv", b"target,az,alt\n", "the columns"),
    ],
)
def test_what_no_line_can_be_added_to_is_refused_and_left_alone(
    name: str, data: bytes, why: str
) -> None:
    path = log_with(data, name)
    with pytest.raises(InputError, match=why):
        open_log(path)
    assert path.read_bytes() == data
    assert os.listdir() == [name]


@pytest.mark.parametrize(
    ("path", "why"),
    [
        ("-", "standard input"),
        (".", "a folder"),
        ("no/such/night.csv", "a folder that cannot be written to"),
        ("a\0b", "wanted"),
    ],
)
def test_a_path_that_is_no_log_is_refused(path: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        open_log(path)


def test_the_second_recorder_of_a_log_is_refused_and_told_who_has_it() -> None:
    first = open_log("night.csv")
    with pytest.raises(InputError, match=f"being recorded already .process {os.getpid()} on "):
        open_log("night.csv")
    first.append(PAIR)
    first.close()
    open_log("night.csv").close()
    assert read_log("night.csv").target == ("Vega",)


def test_the_lock_of_a_killed_recorder_holds_nobody_up() -> None:
    code = (
        "import sys, time; from pointmodel.recording.logfile import open_log\n"
        "file = open_log('night.csv'); print('open', flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == b"open\n"
        with pytest.raises(InputError, match=f"process {program.pid} on "):
            open_log("night.csv")
        program.send_signal(signal.SIGKILL)
    assert Path("night.csv.lock").exists()
    open_log("night.csv").close()
    assert os.listdir() == ["night.csv"]


@contextmanager
def full_disk(room: int) -> Iterator[None]:
    """A disk that takes so many bytes more, and then is full."""
    left, write = [room], os.write

    def some(fd: int, data: bytes) -> int:
        if not left[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        written = write(fd, data[: left[0]])
        left[0] -= written
        return written

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "write", some)
        yield


def assert_kept_only_with_room(file: LogFile, cells: dict[str, str], room: int) -> None:
    """A full disk leaves the log as it was; with room again the same entry is kept."""
    before = file.path.read_bytes()
    with full_disk(room), pytest.raises(NotSavedError, match="No space left on device"):
        file.append(cells)
    assert file.path.read_bytes() == before
    file.append(cells)
    assert read_log(file.path).target == ("Vega",)


@pytest.mark.parametrize("room", [0, 1, 17])
def test_on_a_full_disk_nothing_is_half_written_and_the_pair_can_be_kept_later(room: int) -> None:
    file = open_log("night.csv")
    assert_kept_only_with_room(file, PAIR, room)
    file.close()


def test_a_full_disk_leaves_header_and_lines_as_they_were_when_a_column_is_added() -> None:
    file = open_log(log_with(f"{HEADER}\n"))
    assert_kept_only_with_room(file, {**PAIR, "note": "late"}, 20)
    file.close()


def test_on_a_full_disk_nothing_is_undone() -> None:
    text = f"{HEADER}\na,1,2,1,2\n"
    file = open_log(log_with(text))
    with full_disk(30), pytest.raises(NotSavedError, match="No space left on device"):
        file.strike(2)
    assert file.path.read_text() == text
    file.close()
    assert os.listdir() == ["night.csv"]


@pytest.mark.parametrize("room", [0, 100])  # for the lock as well, and for part of the header
def test_a_full_disk_is_told_before_a_log_is_begun(room: int) -> None:
    with (
        full_disk(room),
        pytest.raises(InputError, match=r"cannot be written to \(No space left on device"),
    ):
        open_log("night.csv")
    assert os.listdir() == []


def test_a_limit_that_the_system_sets_cuts_no_line_in_two() -> None:
    file = open_log("night.csv")
    file.append(PAIR)
    before = file.path.read_bytes()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 9, limits[1]))
        with pytest.raises(NotSavedError, match="File too large"):
            file.append(PAIR)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, handler)
    assert file.path.read_bytes() == before
    file.close()


def test_a_disk_that_fails_when_asked_to_sync_has_not_kept_the_line() -> None:
    file = open_log("night.csv")
    before = file.path.read_bytes()

    def failing(fd: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", failing)
        with pytest.raises(NotSavedError, match="Input/output error"):
            file.append(PAIR)
    assert file.path.read_bytes() == before
    file.close()


def test_a_file_that_may_not_be_written_is_told_at_the_start() -> None:
    path, opened = log_with(f"{HEADER}\n"), os.open

    def guarded(name: str | Path, flags: int, *more: int) -> int:
        if Path(name).name == path.name and flags & os.O_RDWR:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return opened(name, flags, *more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "open", guarded)
        with pytest.raises(InputError, match=r"night\.csv: read a log that cannot be written to"):
            open_log(path)
    assert os.listdir() == ["night.csv"]


def test_a_log_taken_away_in_the_night_is_told_of_and_not_begun_anew() -> None:
    file = open_log("night.csv")
    Path("night.csv").rename("elsewhere.csv")
    with pytest.raises(NotSavedError, match="No such file"):
        file.append(PAIR)
    assert not Path("night.csv").exists()
    Path("elsewhere.csv").rename("night.csv")
    file.append(PAIR)
    file.close()
    assert read_log("night.csv").target == ("Vega",)


@pytest.mark.parametrize("mine", [b"", b"my own notes\n", b"process of making bread\n"])
def test_a_file_of_the_users_under_the_name_of_the_lock_is_neither_written_to_nor_removed(
    mine: bytes,
) -> None:
    log_with(mine, "night.csv.lock")
    with pytest.raises(InputError, match=r"night\.csv\.lock: read something that this program did"):
        open_log("night.csv")
    assert (os.listdir(), Path("night.csv.lock").read_bytes()) == (["night.csv.lock"], mine)


@pytest.mark.parametrize("target", ["my notes", "not there", "night.csv.lock"])
def test_a_link_under_the_name_of_the_lock_is_not_followed(target: str) -> None:
    log_with(KILLED, "my notes")
    Path("night.csv.lock").symlink_to(target)
    with pytest.raises(InputError, match=r"night\.csv\.lock: read something that this program did"):
        open_log("night.csv")
    assert Path("my notes").read_bytes() == KILLED
    assert Path("night.csv.lock").is_symlink()
    assert len(os.listdir()) == 2


def test_a_folder_or_a_pipe_under_the_name_of_the_lock_holds_nobody_up() -> None:
    os.mkfifo("night.csv.lock")
    with pytest.raises(InputError, match="something that this program did not make"):
        open_log("night.csv")
    Path("night.csv.lock").unlink()
    Path("night.csv.lock").mkdir()
    with pytest.raises(InputError, match="something that this program did not make"):
        open_log("night.csv")


def test_only_the_lock_that_was_made_is_taken_away_at_the_end() -> None:
    file = open_log("night.csv")
    Path("night.csv.lock").unlink()
    log_with(b"mine", "night.csv.lock")
    file.append(PAIR)
    file.close()
    assert Path("night.csv.lock").read_bytes() == b"mine"


def test_without_second_names_there_is_still_one_writer(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", no_links)
    first = open_log("night.csv")
    with pytest.raises(InputError, match=f"being recorded already .process {os.getpid()} on "):
        open_log("night.csv")
    first.append(PAIR)
    first.close()
    assert os.listdir() == ["night.csv"]
    assert read_log("night.csv").target == ("Vega",)
