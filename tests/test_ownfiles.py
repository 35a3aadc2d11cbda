"""Files of this program's making: whole or not at all, never through or over what is another's."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from pointmodel.base import ownfiles
from pointmodel.base.errors import InputError
from pointmodel.base.ownfiles import create_bytes, replace_bytes, write_whole
from pointmodel.reading.newfiles import new_files
from pointmodel.simulation.simulate import simulate


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_file_is_written_with_its_folders_and_nothing_stays_beside_it() -> None:
    assert write_whole(Path("a/b/page.html"), b"text") == Path("a/b/page.html")
    assert Path("a/b/page.html").read_bytes() == b"text"
    assert os.listdir("a/b") == ["page.html"]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_what_is_replaced_keeps_its_mode(mode: int) -> None:
    path = Path("kept.json")
    path.write_bytes(b"old")
    path.chmod(mode)
    write_whole(path, b"new")
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b"new", mode)


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o002])
def test_a_new_file_has_the_mode_that_the_user_gives_new_files(mask: int) -> None:
    before = os.umask(mask)
    try:
        write_whole(Path("page.html"), b"new")
        create_bytes(Path("log.csv"), b"new")
    finally:
        os.umask(before)
    for name in ("page.html", "log.csv"):
        assert stat.S_IMODE(Path(name).stat().st_mode) == 0o666 & ~mask


def test_a_private_file_is_never_open_to_others_while_it_is_rewritten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    Path("kept.json").write_bytes(b"old")
    Path("kept.json").chmod(0o600)
    seen, write = [], os.write

    def watching(fd: int, data: bytes) -> int:
        seen.append(stat.S_IMODE(os.fstat(fd).st_mode))
        return write(fd, data)

    monkeypatch.setattr(os, "write", watching)
    replace_bytes(Path("kept.json"), b"new")
    assert seen == [0o600]


def test_a_link_is_written_through_and_stays_a_link() -> None:
    Path("far").mkdir()
    Path("far/real.json").write_bytes(b"old")
    Path("kept.json").symlink_to("far/real.json")
    write_whole(Path("kept.json"), b"new")
    assert Path("kept.json").is_symlink()
    assert Path("far/real.json").read_bytes() == b"new"


@pytest.mark.parametrize("target", ["nothing there", "kept.json"])
def test_a_link_that_leads_nowhere_is_refused(target: str) -> None:
    Path("kept.json").symlink_to(target)
    with pytest.raises(InputError, match=r"kept\.json: read a link to a file that is not there"):
        write_whole(Path("kept.json"), b"new")
    assert os.listdir() == ["kept.json"]


def test_a_file_that_its_owner_protected_is_not_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    Path("kept.json").write_bytes(b"old")
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)  # root may do all
    with pytest.raises(InputError, match="a file that may not be written to"):
        write_whole(Path("kept.json"), b"new")
    assert Path("kept.json").read_bytes() == b"old"


def test_a_new_file_is_never_put_in_the_place_of_one() -> None:
    Path("night.csv").symlink_to("nowhere")
    with pytest.raises(FileExistsError):
        create_bytes(Path("night.csv"), b"new")
    assert os.listdir() == ["night.csv"]


def test_without_second_names_a_new_file_is_made_all_the_same_and_replaces_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", no_links)
    create_bytes(Path("night.csv"), b"new")
    assert Path("night.csv").read_bytes() == b"new"
    with pytest.raises(FileExistsError):
        create_bytes(Path("night.csv"), b"other")
    assert (os.listdir(), Path("night.csv").read_bytes()) == (["night.csv"], b"new")


@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
def test_a_disk_that_fails_leaves_the_old_file_and_no_other(
    call: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("kept.json").write_bytes(b"old")

    def failing(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, call, failing)
    with pytest.raises(InputError, match=r"kept\.json: read No space left on device"):
        write_whole(Path("kept.json"), b"new")
    assert (os.listdir(), Path("kept.json").read_bytes()) == (["kept.json"], b"old")


def test_names_of_passing_files_are_never_alike_and_never_followed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    names = set()
    for _ in range(20):
        fd, beside = ownfiles.new_beside(Path("night.csv"), 0o600)
        names.add(beside)
        os.close(fd)
    assert len(names) == 20
    Path("mine").write_bytes(b"mine")
    monkeypatch.setattr(ownfiles.secrets, "token_hex", lambda _: "0" * 16)
    Path(".night.csv.pointmodel-" + "0" * 16).symlink_to("mine")
    with pytest.raises(FileExistsError):
        replace_bytes(Path("night.csv"), b"new")
    assert Path("mine").read_bytes() == b"mine"


def test_what_a_killed_writer_left_is_taken_away_and_nothing_else() -> None:
    left = ".night.csv.pointmodel-0123456789abcdef"
    others = [
        ".night.csv.pointmodel-0123456789abcde",  # not a name of ours
        ".night.csv.pointmodel-0123456789abcdeg",
        "night.csv.pointmodel-0123456789abcdef",
        ".other.csv.pointmodel-0123456789abcdef",  # beside another file
        ".night.csv.rewritten",
        "night.csv~",
    ]
    for name in (left, *others):
        Path(name).write_bytes(b"x")
    Path(".night.csv.pointmodel-" + "a" * 16).mkdir()
    Path(".night.csv.pointmodel-" + "b" * 16).symlink_to("night.csv~")
    replace_bytes(Path("night.csv"), b"new")
    kept = {*others, "night.csv", *(f".night.csv.pointmodel-{c * 16}" for c in "ab")}
    assert set(os.listdir()) == kept


def test_what_another_is_still_writing_is_left_to_it() -> None:
    code = (
        "from pathlib import Path; from pointmodel.base.ownfiles import new_beside\n"
        "fd, beside = new_beside(Path('night.csv'), 0o600); print(beside.name, flush=True); input()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        beside = writer.stdout.readline().strip()
        replace_bytes(Path("night.csv"), b"new")
        assert set(os.listdir()) == {"night.csv", beside}
        writer.kill()
    replace_bytes(Path("night.csv"), b"newer")
    assert os.listdir() == ["night.csv"]


def test_the_longest_names_leave_room_for_what_is_added() -> None:
    name = "é" * 120 + ".html"
    write_whole(Path(name), b"new")
    assert os.listdir() == [name]


def test_a_full_disk_leaves_nothing_of_a_new_folder_or_of_a_simulated_night(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    write = os.write

    def full(fd: int, data: bytes) -> int:
        if data.startswith(b"{") or b"\ntarget,time" in data:  # the second file that each makes
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(fd, data)

    night = simulate(pairs=3)
    monkeypatch.setattr(os, "write", full)
    with pytest.raises(InputError, match="No space left on device"):
        night.write("simulated.csv")
    with pytest.raises(InputError, match="No space left on device"):
        new_files("first")
    assert os.listdir() == []
