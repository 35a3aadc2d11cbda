"""Where a recording keeps what it was told of site and eyepiece, and how it reads that again."""

from __future__ import annotations

import contextlib
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pointmodel.base.errors import InputError
from pointmodel.reading.mountfile import Eyepiece, MountFile, MountSource, read_mount
from pointmodel.reading.newfiles import mount_template
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.logfile import open_log
from pointmodel.recording.mountlines import kept_in_mount_file, with_answers
from pointmodel.recording.session import Session, mount_for

LOG, MOUNT = Path("night.csv"), Path("mount.toml")
SITE = {"latitude": "-41.3", "longitude": "146.2"}
NIGHT_S = 1936782270.0  # an evening in May 2031 there
NUDGES = "target,time,nudge_right,nudge_up\n"
TAP = {
    "target": "Spica",
    "time": "2031-05-17T20:00:00+10:00",
    "nudge_right": "5.0",
    "nudge_up": "3.0",
}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@contextlib.contextmanager
def session(mount: MountSource = None) -> Iterator[Session]:
    file = open_log(LOG)
    try:
        yield Session(file, str(LOG), mount_for(str(LOG), mount), NIGHT_S)
    finally:
        file.close()


def remarks() -> list[str]:
    return [line for line in LOG.read_text().splitlines() if line.startswith("#")]


def test_a_site_is_kept_in_a_mount_file_that_is_made_with_everything_else_explained() -> None:
    LOG.write_text(NUDGES)
    with session() as one:
        assert one.keep_answers("site", SITE) == "mount.toml"
        assert one.mount.place_deg == (-41.3, 146.2)
        assert one.keep(TAP, NIGHT_S).pairs == 1
    assert remarks() == []
    without = [line for line in MOUNT.read_text().splitlines() if line not in told(SITE)]
    assert without == mount_template().splitlines()


def told(answers: dict[str, str]) -> list[str]:
    return [f"{key} = {value}" for key, value in answers.items()]


def test_where_no_mount_file_can_be_made_the_site_is_a_remark_that_this_session_and_the_next_heed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    LOG.write_text(NUDGES)
    with session({}) as one:  # tables of the caller's own, no file
        assert one.keep_answers("site", SITE) == "night.csv"
        assert one.keep(TAP, NIGHT_S).pairs == 1  # read alone, the line needs the site too
    assert remarks() == ["# [site] latitude = -41.3, longitude = 146.2"]
    assert not MOUNT.exists()
    assert read_log(LOG).mount.place_deg == (-41.3, 146.2)
    with session() as again:
        assert again.mount.place_deg == (-41.3, 146.2)
        assert again.sun(NIGHT_S) is not None


def test_a_mount_file_that_appeared_meanwhile_is_not_touched() -> None:
    LOG.write_text(NUDGES)
    with session() as one:
        MOUNT.write_text("# mine\n")
        assert one.keep_answers("site", SITE) == "night.csv"
    assert MOUNT.read_text() == "# mine\n"


def test_the_site_of_the_mount_file_stands_where_a_remark_does_not_speak_of_it() -> None:
    LOG.write_text(f"{NUDGES}# [site] latitude = 10\n")
    mount = {"site": {"latitude": 50, "longitude": 8, "elevation": 300, "utc_offset": "+01:00"}}
    site = read_log(LOG, mount).mount.site
    assert site is not None
    assert (site.latitude_deg, site.longitude_deg, site.elevation_m) == (10.0, 8.0, 300.0)


def test_a_site_that_the_log_tells_otherwise_is_put_right_there_too() -> None:
    LOG.write_text(f"{NUDGES}# [site] latitude = 41.3, longitude = 146.2\n")
    MOUNT.write_text("[optics]\nfield_of_view = 48\n")
    with session() as one:
        assert one.keep_answers("site", SITE) == "mount.toml"
        assert one.mount.place_deg == (-41.3, 146.2)
    assert read_log(LOG, MOUNT).mount.place_deg == (-41.3, 146.2)


def test_an_eyepiece_is_kept_in_the_mount_file_and_noted_in_the_log_each_time_it_is_set() -> None:
    LOG.write_text(NUDGES)
    MOUNT.write_text(
        "# mine\n[eyepiece]   # 25 mm\nturn = 0   # as it hangs\n[site]\nlatitude = -41.3\n"
    )
    with session() as one:
        for turn in ("90", "270"):
            assert one.keep_answers("eyepiece", {"turn": turn, "mirrored": "true"}) == "mount.toml"
        assert one.mount.eyepiece == Eyepiece(270.0, True)
    assert remarks() == [
        "# [eyepiece] turn = 90, mirrored = true",
        "# [eyepiece] turn = 270, mirrored = true",
    ]
    assert MOUNT.read_text() == (
        "# mine\n[eyepiece]   # 25 mm\nmirrored = true\nturn = 270   # as it hangs\n"
        "[site]\nlatitude = -41.3\n"
    )


def test_the_eyepiece_that_the_log_tells_last_is_the_one_in_hand_whatever_the_mount_file_says() -> (
    None
):
    LOG.write_text(
        f"{NUDGES}# [eyepiece] turn = 90, mirrored = true\n# [eyepiece] mirrored = false\n"
    )
    with session({"eyepiece": {"turn": 10, "mirrored": True}}) as one:
        assert one.mount.eyepiece == Eyepiece(90.0, False)


def test_the_mount_file_s_eyepiece_is_stated_in_a_log_once() -> None:
    LOG.write_text(NUDGES)
    with session({"eyepiece": {"turn": 10, "mirrored": True}}) as one:
        one.state_eyepiece()
        one.state_eyepiece()
    assert remarks() == ["# [eyepiece] turn = 10.0, mirrored = true"]
    LOG.write_text(NUDGES)
    with session({}) as one:
        one.state_eyepiece()  # nothing is known of it
    assert remarks() == []


@pytest.mark.parametrize(
    ("table", "answers"),
    [
        ("site", {"latitude": "95", "longitude": "8"}),
        ("eyepiece", {"turn": "nan", "mirrored": "true"}),
        ("eyepiece", {"turn": "90", "mirrored": '"yes"'}),
    ],
)
def test_what_is_no_site_and_no_eyepiece_is_refused_and_nothing_is_written(
    table: str, answers: dict[str, str]
) -> None:
    LOG.write_text(NUDGES)
    with session() as one, pytest.raises(InputError, match=r"degrees|number|true or false"):
        one.keep_answers(table, answers)
    assert LOG.read_text() == NUDGES
    assert not MOUNT.exists()


def test_a_mount_file_that_can_no_longer_be_read_is_left_alone_and_the_log_has_the_answer() -> None:
    LOG.write_text(NUDGES)
    MOUNT.write_text("[site]\nlatitude = -41.3\n")
    with session() as one:
        MOUNT.write_text("[sight]\n")
        assert one.keep_answers("eyepiece", {"turn": "0", "mirrored": "false"}) == "night.csv"
        assert one.mount.eyepiece == Eyepiece(0.0, False)
    assert MOUNT.read_text() == "[sight]\n"


pieces = st.sampled_from(
    [
        "turn = 12   # as it hangs",
        "turn=12",
        '"turn" = 12 # "a" = 3',
        "#turn = 7",
        "  mirrored = true",
        "mirrored = false# no blank",
        "# a remark = 3 # of mine",
        "",
    ]
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(pieces, max_size=6), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_whatever_stands_under_an_eyepiece_only_its_two_values_change_or_nothing_does(
    lines: list[str], newline: str, ended: bool
) -> None:
    before = newline.join(
        ["# mine", "[eyepiece]  # 25 mm", *lines, "[optics]", "field_of_view = 48"]
    )
    before += newline if ended else ""
    MOUNT.write_bytes(before.encode())
    kept = kept_in_mount_file(str(MOUNT), "eyepiece", {"turn": "90", "mirrored": "true"})
    after = MOUNT.read_bytes().decode()
    if not kept:
        assert after == before
        with pytest.raises(tomllib.TOMLDecodeError):
            tomllib.loads(before)
        return
    assert tomllib.loads(after)["eyepiece"] == {"turn": 90, "mirrored": True}
    assert tomllib.loads(after)["optics"] == {"field_of_view": 48}
    assert said_in_comments(after) == said_in_comments(before)
    assert ("\r\n" in after) == (newline == "\r\n" and "\r\n" in before)


def said_in_comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line]


def test_answers_under_a_table_of_the_template_stand_beside_its_explanation() -> None:
    text = with_answers(mount_template(), "eyepiece", {"turn": "35", "mirrored": "true"})
    assert "[eyepiece]\nturn = 35\nmirrored = true\n# How the sky stands in it" in text


def test_a_mount_file_writes_and_reads_its_eyepiece() -> None:
    mount = MountFile(eyepiece=Eyepiece(35.0, True))
    assert mount.to_dict()["eyepiece"] == {"turn": 35.0, "mirrored": True}


KNOCKED = """\
target,time,nudge_right,nudge_up,tapped
Fomalhaut,2026-11-26T04:25:59+00:00,4.9,-16.8,-4.9 -16.8
Procyon,2026-11-26T04:26:01+00:00,-5.0,35.3,5.0 -12.7
Canopus,2026-11-26T04:26:02+00:00,19.8,18.4,-19.8 18.4
Rigel,2026-11-26T04:26:05+00:00,-18.5,27.7,18.5 -20.3
Achernar,2026-11-26T04:26:06+00:00,10.7,6.0,-10.7 6.0
Achernar,2026-11-26T04:26:09+00:00,6.0,-10.9,-6.0 -10.9
Sirius,2026-11-26T04:26:11+00:00,0.7,40.4,-0.7 -7.6
"""


def test_a_pair_in_doubt_is_looked_at_before_all_the_figures_are_doubted() -> None:
    """A wrong star and a knock: the last pair does not fit, and then no mount fits them all."""
    LOG.write_text(KNOCKED)
    mount = read_mount({
        "site": {"latitude": -35.0, "longitude": -66.25},
        "optics": {"field_of_view": 48},
        "alignment": {"stars": []},
    })  # fmt: skip
    knocked = {"target": "Betelgeuse", "nudge_right": "-5.7", "nudge_up": "62.2"}
    with session(mount) as one:
        one.new_notices()
        kept = one.keep(knocked | {"time": "2026-11-26T04:26:21+00:00"}, NIGHT_S)
        assert kept.remark.is_doubtful
        assert one.fit is not None
        assert one.fit.readings.stops
        assert "fits_no_mount" not in [notice.code for notice in one.new_notices()]
