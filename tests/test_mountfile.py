"""The mount file: what is read from it, and what is said about what cannot be read."""

from __future__ import annotations

import contextlib
import copy
import pickle
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pointmodel.base.errors import InputError
from pointmodel.base.times import parse_clock_s, parse_date, parse_moment
from pointmodel.reading.mountfile import Alignment, LogKeys, MountFile, read_mount
from pointmodel.reading.mountkeys import TABLES

EVERYTHING = """\
[mount]
name = "the grey one"
readout = "sky"
azimuth_origin = 90
equinox = "J2000"
[alignment]
stars = ["Achernar", "Canopus"]
solves = "altitude_zero"
presses = "logged"
noted = "before_press"
[log]
commanded_from = "almanac"
date = "2031-05-17"
figures = {centred = "zenith_distance"}
[site]
latitude = -41.3
longitude = "146 12 E"
elevation = 640
time_zone = "Australia/Hobart"
[entered]
latitude = "41 18 S"
longitude = "146 12 E"
date = "05/17"
date_order = "month-day"
time = "21:00:00"
entered_at = "2031-05-17T21:00:40+10:00"
utc_offset = "+10:00"
summer_time = false
verified = true
[optics]
field_of_view = 48
centring_error = 1.0
[feet]
radius = 430
azimuths = [0, 120, 240]
screw_pitch = 1.5
legs = true
screw_travel = 8
[eyepiece]
turn = 90
mirrored = true
side = "left"
[horizon]
profile = [[0, 12], [90, 35], [180, 8], [270, 20]]
[weather]
pressure = 938
temperature = 4
[time]
source = "phone"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "mount.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problem_of(source: Any) -> str:
    """The one problem of a mount file, as text."""
    with pytest.raises(InputError, match="wanted") as caught:
        read_mount(source)
    assert len(caught.value.problems) == 1
    return str(caught.value)


def test_every_key_is_read_into_its_field(tmp_path: Path) -> None:
    mount = read_mount(written(tmp_path, EVERYTHING))
    assert (mount.name, mount.readout, mount.equinox) == ("the grey one", "sky", "J2000")
    assert mount.azimuth_origin_deg == 90.0
    assert mount.alignment == Alignment(
        ("Achernar", "Canopus"), "altitude_zero", "logged", "before_press"
    )
    assert mount.alignment.state == "two_or_more"
    assert mount.log == LogKeys("almanac", "2031-05-17", (("centred", "zenith_distance"),))
    assert (mount.eyepiece.turn_deg, mount.eyepiece.side) == (90.0, "left")
    assert (mount.feet.legs, mount.feet.screw_travel_mm) == (True, 8.0)
    assert mount.is_aligned
    assert mount.site is not None
    assert mount.place_deg == pytest.approx((-41.3, 146.2))
    assert (mount.site.elevation_m, mount.site.time_zone) == (640.0, "Australia/Hobart")
    assert mount.entered is not None
    assert (mount.entered.latitude, mount.entered.date) == ("41 18 S", "05/17")
    assert (mount.entered.summer_time, mount.entered.verified) == (False, True)
    assert (mount.optics.field_of_view_arcmin, mount.optics.centring_error_arcmin) == (48.0, 1.0)
    assert mount.feet is not None
    assert (mount.feet.radius_mm, mount.feet.screw_pitch_mm) == (430.0, 1.5)
    assert mount.feet.azimuths_deg == (0.0, 120.0, 240.0)
    assert mount.horizon[1] == (90.0, 35.0)
    assert (mount.pressure_hpa, mount.temperature_c) == (938.0, 4.0)
    assert mount.time_source == "phone"
    assert mount.source == str(tmp_path / "mount.toml")


def test_every_key_of_the_registry_is_in_the_example() -> None:
    for table, keys in TABLES.items():
        part = EVERYTHING.split(f"[{table}]\n")[1].split("\n[")[0]
        assert {line.split(" =")[0] for line in part.splitlines() if line} == set(keys) - (
            {"utc_offset"} if table == "site" else set()
        )


def test_a_mount_file_survives_the_way_through_a_dict_and_through_a_pickle(tmp_path: Path) -> None:
    mount = read_mount(written(tmp_path, EVERYTHING))
    again = read_mount(mount.to_dict())
    assert again.to_dict() == mount.to_dict()
    assert again.site == mount.site
    assert pickle.loads(pickle.dumps(mount)) == mount
    offset = read_mount({"site": {"utc_offset": "-03:30"}})
    assert offset.to_dict()["site"] == {"utc_offset": "-03:30"}


@pytest.mark.parametrize(
    ("tables", "state"),
    [
        ({}, "unknown"),
        ({"alignment": {}}, "unknown"),
        ({"alignment": {"stars": []}}, "none"),
        ({"alignment": {"stars": ["Achernar"]}}, "one_star"),
        ({"alignment": {"stars": ["Achernar", "Canopus"]}}, "two_or_more"),
    ],
)
def test_alignment_stars_left_out_are_not_known_and_an_empty_list_is_none(
    tables: dict[str, Any], state: str
) -> None:
    mount = read_mount(tables)
    assert mount.alignment.state == state
    assert read_mount(mount.to_dict()).alignment.state == state


def test_an_empty_file_an_empty_dict_and_none_mean_the_defaults(tmp_path: Path) -> None:
    for source in (None, {}, written(tmp_path, ""), {"site": {}, "feet": {}, "entered": {}}):
        mount = read_mount(source)
        assert (mount.readout, mount.azimuth_origin_deg, mount.equinox) == (None, 0.0, "date")
        assert (mount.site, mount.entered, mount.feet, mount.zone) == (None, None, None, None)
        assert (mount.pressure_hpa, mount.temperature_c) == (1010.0, 10.0)
        assert not mount.is_aligned
    assert read_mount(MountFile(name="x")).name == "x"


def test_a_dict_may_hold_numpy_numbers_and_is_not_changed() -> None:
    tables = {
        "site": {"latitude": np.float64(-41.3), "elevation": np.int64(640)},
        "feet": {"radius": 430, "azimuths": np.array([0, 120, 240])},
        "horizon": {"profile": ((np.float64(0), 12), (90, np.int32(35)))},
    }
    before = copy.deepcopy(tables)
    mount = read_mount(tables)
    assert mount.feet is not None
    assert mount.feet.azimuths_deg == (0.0, 120.0, 240.0)
    assert mount.horizon == ((0.0, 12.0), (90.0, 35.0))
    assert repr(tables) == repr(before)


def test_all_problems_come_in_one_error_with_their_lines(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        '[mount]\nreaduot = "axes"\n\n[sight]\nx = 1\n[site]\n# latitude = 3\n'
        'latitude = "41 78 S"\n"longitude" = 400\n',
    )
    with pytest.raises(InputError, match="readuot") as caught:
        read_mount(path)
    problems = caught.value.problems
    assert [problem.line for problem in problems] == [2, 4, 8, 9]
    assert [problem.column for problem in problems] == [
        "mount.readuot",
        None,
        "site.latitude",
        "site.longitude",
    ]
    assert problems[0].wanted.startswith("readout; the keys of [mount] are name,")
    assert problems[1].wanted.startswith("[site]; the tables are")
    assert problems[2].wanted == "minutes below 60"
    assert {problem.file for problem in problems} == {str(path)}


@pytest.mark.parametrize(
    ("table", "key", "value", "message"),
    [
        ("mount", "name", 3, "a name in quotes"),
        ("mount", "readout", "sly", '"axes" or "sky"'),
        ("mount", "azimuth_origin", float("nan"), "a number from -360 to 360"),
        ("mount", "equinox", 2000, '"date" or "J2000"'),
        ("alignment", "stars", "Vega", "a list of names"),
        ("alignment", "stars", ["Vega", ""], "a list of names"),
        ("site", "latitude", 91, "degrees from -90 to 90"),
        ("site", "latitude", True, "degrees from -90 to 90"),
        ("site", "latitude", "41 18 E", "N or S"),
        ("site", "longitude", -181, "degrees from -180 to 360"),
        ("site", "elevation", float("inf"), "a number from -500 to 9000"),
        pytest.param(
            "site", "elevation", 10**5000, "a number from -500 to 9000", id="a number beyond print"
        ),
        ("site", "time_zone", "Australia/Hobbart", "did you mean Australia/Hobart"),
        ("site", "time_zone", "../etc/passwd", "a zone name"),
        ("site", "time_zone", "America", "a zone name"),
        ("site", "time_zone", 10, "a zone name"),
        ("site", "utc_offset", "ten", "an offset from UTC"),
        ("site", "utc_offset", "+15:00", "within 14 hours"),
        ("site", "utc_offset", float("nan"), "an offset from UTC"),
        ("site", "utc_offset", True, "an offset from UTC"),
        ("entered", "latitude", "91 S", "a latitude from -90 to 90"),
        ("entered", "longitude", "146 61 E", "minutes below 60"),
        ("entered", "date", "yesterday", "a date as typed"),
        ("entered", "date_order", "month", '"month-day", "day-month" or "year-month-day"'),
        ("entered", "time", "25:00", "a clock time"),
        ("entered", "time", "13:00 pm", "a clock time"),
        ("entered", "entered_at", "2031-05-17T21:00:40", "a moment with its zone"),
        ("entered", "utc_offset", "east", "an offset from UTC"),
        ("entered", "summer_time", "no", "true or false"),
        ("entered", "verified", 1, "true or false"),
        ("optics", "field_of_view", -48, "a number above 0"),
        ("optics", "centring_error", -1, "a number from 0 to 600"),
        ("horizon", "profile", [[0, 95]], "lowest open altitude"),
        ("horizon", "profile", [0, 12], "lowest open altitude"),
        ("horizon", "profile", [[float("nan"), 12]], "lowest open altitude"),
        ("weather", "pressure", 29.9, "a number from 300 to 1100"),
        ("weather", "temperature", 293, "a number from -60 to 60"),
        ("time", "source", "sundial", '"phone", "gps", "watch" or "controller"'),
    ],
)
def test_a_value_that_cannot_be_is_answered_by_what_can(
    table: str, key: str, value: object, message: str
) -> None:
    text = problem_of({table: {key: value}})
    assert text.startswith(f"<dict>, column {table}.{key}: read ")
    assert message in text


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"feet": {"radius": 430}}, "read [feet] without azimuths"),
        ({"feet": {"radius": 0, "azimuths": [0, 120, 240]}}, "a number above 0"),
        ({"feet": {"radius": 430, "azimuths": [0, 120]}}, "three or more azimuths"),
        ({"site": {"time_zone": "UTC", "utc_offset": "Z"}}, "one of the two"),
        ({"entered": {"date": "17/05", "date_order": "month-day"}}, "in the order month-day"),
        ({"site": 3}, "a table [site] with the keys latitude"),
        ({"latitude": 3}, "latitude under [site]"),
        ({"mount": {"elevation": 3}}, "elevation under [site]"),
        ({3: {}}, "the tables are mount"),
    ],
)
def test_tables_that_do_not_fit_together_are_named(tables: dict[Any, Any], message: str) -> None:
    assert message in problem_of(tables)


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ("[site]\nlatitude = 41 18 S\n", 2, 'text in quotes: latitude = "41 18 S"'),
        ("[site]\nlatitude = 41,3\n", 2, "a decimal point: latitude = 41.3"),
        ("[site]\nelevation = 640 m\n", 2, "the number alone: elevation = 640"),
        ("[mount]\n\nname = My scope\n", 3, 'text in quotes: name = "My scope"'),
        ("[mount\n", 1, "TOML (expected ']'"),
        ("\nhello\n", 2, "a line of the form key = value"),
        ('[mount]\nname = "a"\nname = "b"\n', 3, "cannot overwrite a value"),
        ('[mount]\nname = "a', 2, "unterminated string"),
    ],
)
def test_what_is_no_toml_is_named_with_its_line(
    tmp_path: Path, text: str, line: int, message: str
) -> None:
    report = problem_of(written(tmp_path, text))
    assert f"mount.toml, line {line}: read " in report
    assert message in report


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("no/such/mount.toml", "no file of that name"),
        (".", "a folder"),
        ("a\0b", "a name that cannot be opened"),
        (3, "the path of a mount.toml, a dict or a MountFile"),
    ],
)
def test_what_is_no_mount_file_is_refused(source: Any, message: str) -> None:
    assert message in problem_of(source)


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "mount.toml"
    path.write_bytes(b"\x00\x01\x02")
    assert "a file that is not text" in problem_of(path)


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "mount.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EVERYTHING.replace("\n", "\r\n").encode())
    assert read_mount(str(path)).name == "the grey one"


def test_dates_and_times_without_quotes_are_kept_as_text(tmp_path: Path) -> None:
    text = (
        "[entered]\ndate = 2031-05-17\ntime = 21:00:00\nentered_at = 2031-05-17T21:00:40+10:00\n"
        "latitude = -41.3\n"
    )
    entered = read_mount(written(tmp_path, text)).entered
    assert entered is not None
    assert (entered.date, entered.time, entered.latitude) == ("2031-05-17", "21:00:00", "-41.3")
    assert entered.entered_at == "2031-05-17T21:00:40+10:00"


def test_longitudes_counted_to_360_become_west_ones() -> None:
    assert read_mount({"site": {"latitude": 0, "longitude": 213.75}}).place_deg == (0.0, -146.25)


def test_the_horizon_runs_straight_between_its_points_and_around_north() -> None:
    mount = read_mount({"horizon": {"profile": [[270, 20], [90, 35], [0, 12], [-180, 8]]}})
    asked = np.array([[0, 45, 90], [315, -45, 359]])
    np.testing.assert_allclose(
        mount.open_alt_deg(asked), [[12, 23.5, 35], [16, 16, 12 + 8 / 90]], rtol=1e-12
    )
    np.testing.assert_array_equal(MountFile().open_alt_deg(asked), np.zeros((2, 3)))
    assert read_mount({"horizon": {"profile": [[50, 9]]}}).open_alt_deg(200.0) == 9.0


def test_a_step_in_the_horizon_keeps_its_sides() -> None:
    wall = read_mount({"horizon": {"profile": [[90, 40], [90, 10], [0, 40], [360, 10]]}})
    np.testing.assert_allclose(wall.open_alt_deg([89.99, 90.01, 359.99, 0.01]), [40, 10, 10, 40])


def test_pressure_follows_the_elevation_where_it_is_not_told() -> None:
    def at(elevation_m: float) -> float:
        return read_mount({"site": {"elevation": elevation_m}}).pressure_hpa

    assert at(0) == pytest.approx(1013.25)
    assert at(1000) == pytest.approx(898.75, abs=0.02)  # table of the standard atmosphere, 1976
    assert at(3000) == pytest.approx(701.09, abs=0.05)


def test_the_zone_comes_from_its_name_or_from_the_offset() -> None:
    for site in ({"time_zone": "Australia/Hobart"}, {"utc_offset": "+10:00"}, {"utc_offset": 10}):
        zone = read_mount({"site": site}).zone
        assert parse_moment("2031-05-17 21:00", zone).posix_s == 1936782000.0
    assert read_mount({"site": {"latitude": 3}}).zone is None


def test_typed_clock_times_and_dates_are_understood() -> None:
    assert parse_clock_s("21:00:40") == parse_clock_s("9:00:40 pm") == 75640.0
    assert (parse_clock_s("12:00 am"), parse_clock_s("12:00 PM")) == (0.0, 43200.0)
    assert parse_date("05/17", "month-day") == (None, 5, 17)
    assert parse_date("17.05.31", "day-month") == (2031, 5, 17)
    assert parse_date("2031-05-17", "year-month-day") == (2031, 5, 17)
    assert parse_date("02/29", "month-day") == (None, 2, 29)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.one_of(
        st.text(st.characters(codec="utf-8")),
        st.lists(st.sampled_from([*EVERYTHING.split("\n"), "x=["])).map("\n".join),
    )
)
def test_any_text_is_a_mount_file_or_an_input_error(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder, contextlib.suppress(InputError):
        mount = read_mount(written(Path(folder), text))
        assert read_mount(mount.to_dict()).to_dict() == mount.to_dict()
