"""The Sun guard: it knows where the Sun is, and keeps telescopes twenty degrees away from it."""

from __future__ import annotations

import numpy as np
import pytest
from authorities import sky

from pointmodel.base.times import parse_moment
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.sky.sunguard import (
    KEEP_OUT_DEG,
    TWILIGHT_SUN_ALT_DEG,
    Sun,
    slew_passes_sun,
    sun_at,
    sun_notices,
    sun_separation_deg,
    too_near_sun,
)

REPORTS_UNCERTAINTY_DEG = 3e-4
HIGH_SUN = Sun(180.0, 60.0)


def reports_site() -> MountFile:
    example = sky.NREL
    return read_mount({
        "site": {
            "latitude": example["latitude"],
            "longitude": example["longitude"],
            "elevation": example["elevation_m"],
        }
    })  # fmt: skip


def test_the_sun_stands_where_the_solar_position_report_has_it() -> None:
    example = sky.NREL
    sun = sun_at(reports_site().observer, parse_moment(str(example["at"])).posix_s)
    assert sun is not None
    air = (float(example["pressure_hpa"]), float(example["temperature_c"]))
    lift = float(refraction_lift_arcmin(np.array(sun.alt_deg), *air)) / 60
    assert sun.az_deg == pytest.approx(example["azimuth"], abs=REPORTS_UNCERTAINTY_DEG)
    zenith_angle = 90 - sun.alt_deg - lift
    assert zenith_angle == pytest.approx(example["zenith_angle"], abs=REPORTS_UNCERTAINTY_DEG)


@pytest.mark.parametrize("time_s", [None, float("nan")])
def test_without_a_time_the_sun_is_nowhere(time_s: float | None) -> None:
    assert sun_at(reports_site().observer, time_s) is None


def test_without_a_whole_site_the_sun_is_nowhere() -> None:
    assert sun_at(MountFile().observer, 0.0) is None
    assert sun_at(read_mount({"site": {"latitude": 50.0}}).observer, 0.0) is None


@pytest.mark.parametrize(("alt_deg", "matters"), [(-17.9, True), (-18.1, False), (5.0, True)])
def test_the_sun_matters_until_the_end_of_twilight(alt_deg: float, matters: bool) -> None:
    assert TWILIGHT_SUN_ALT_DEG == -18.0
    assert Sun(0.0, alt_deg).matters is matters


def test_everything_within_twenty_degrees_on_the_sky_is_too_near() -> None:
    az_deg, alt_deg = (
        np.array([180.0, 180.0, 180.0, 219.0, 222.0]),
        np.array([60.0, 79.9, 80.1, 60.0, 60.0]),
    )
    near = too_near_sun(HIGH_SUN, az_deg, alt_deg)
    np.testing.assert_array_equal(near, [True, True, False, True, False])
    np.testing.assert_array_equal(near, sun_separation_deg(HIGH_SUN, az_deg, alt_deg) < 20.0)
    assert KEEP_OUT_DEG == 20.0


def test_a_sun_deep_below_the_horizon_or_unknown_keeps_nothing_away() -> None:
    for sun in (None, Sun(180.0, -40.0)):
        assert not too_near_sun(sun, np.array([[180.0], [0.0]]), 1.0).any()
        assert too_near_sun(sun, np.array([[180.0], [0.0]]), 1.0).shape == (2, 1)
        assert not slew_passes_sun(sun, 170.0, 1.0, 190.0, 1.0)
    assert sun_notices(Sun(180.0, -40.0)) == ()


def test_a_twilight_sun_keeps_away_what_stands_above_it() -> None:
    assert bool(too_near_sun(Sun(270.0, -10.0), 270.0, 9.0))
    assert not bool(too_near_sun(Sun(270.0, -10.0), 270.0, 11.0))


@pytest.mark.parametrize(
    ("start", "end", "passes"),
    [
        ((140.0, 30.0), (220.0, 75.0), True),  # straight across
        ((180.0, 20.0), (180.0, 85.0), True),  # up through it
        ((90.0, 20.0), (120.0, 35.0), False),
        ((350.0, 20.0), (10.0, 70.0), False),  # the short way round, through north
        ((10.0, 70.0), (350.0, 20.0), False),
        ((90.0, 60.0), (270.0, 60.0), True),
        ((180.0, 55.0), (0.0, 10.0), True),  # it begins beside the Sun
        ((100.0, 10.0), (220.0, 10.0), False),
    ],
)
def test_slews_past_the_sun_are_known(
    start: tuple[float, float], end: tuple[float, float], passes: bool
) -> None:
    assert slew_passes_sun(HIGH_SUN, *start, *end) is passes


def test_axes_of_one_speed_take_another_way_than_the_straight_one() -> None:
    low_sun = Sun(180.0, 20.0)  # straight, the mount is still 50° high when it passes over it
    assert slew_passes_sun(low_sun, 80.0, 80.0, 250.0, 30.0)
    assert not slew_passes_sun(low_sun, 80.0, 80.0, 250.0, 60.0)


def test_a_great_circle_may_pass_where_the_straight_line_does_not() -> None:
    zenith_sun = Sun(0.0, 88.0)
    assert slew_passes_sun(zenith_sun, 0.0, 45.0, 180.0, 45.0)
    assert not slew_passes_sun(zenith_sun, 0.0, 45.0, 60.0, 45.0)


def test_a_slew_that_does_not_move_is_judged_by_where_it_stands() -> None:
    assert slew_passes_sun(HIGH_SUN, 180.0, 45.0, 180.0, 45.0)
    assert not slew_passes_sun(HIGH_SUN, 180.0, 30.0, 180.0, 30.0)


def test_opposite_ends_have_a_way_too() -> None:
    assert not slew_passes_sun(HIGH_SUN, 0.0, 0.0, 180.0, 0.0)


def test_no_slew_slips_past_between_the_steps() -> None:
    rng = np.random.default_rng(3)
    grazing = 0
    for from_az, to_az, from_alt, to_alt in rng.uniform((0, 0, 0, 0), (360, 360, 89, 89), (500, 4)):
        turn = (to_az - from_az + 180) % 360 - 180
        share = np.linspace(0, 1, 2001)
        path = (from_az + share * turn, from_alt + share * (to_alt - from_alt))
        nearest = sun_separation_deg(HIGH_SUN, *path).min()
        if nearest < KEEP_OUT_DEG - 0.02:
            grazing += nearest > KEEP_OUT_DEG - 3
            assert slew_passes_sun(HIGH_SUN, from_az, from_alt, to_az, to_alt)
    assert grazing > 20


def test_the_warning_says_where_the_sun_is_and_what_is_refused() -> None:
    (up,) = sun_notices(Sun(359.7, 12.4))
    assert up.code == "sun"
    assert up.text.startswith("the Sun is up, at azimuth 0°, 12° above the horizon. ")
    assert "within 20° of it are refused" in up.text
    (twilight,) = sun_notices(Sun(271.2, -8.6))
    assert "twilight: the Sun is 9° below the horizon at azimuth 271°" in twilight.text


def test_an_unknown_sun_is_always_warned_of() -> None:
    (unknown,) = sun_notices(None)
    assert unknown.code == "sun"
    assert (
        "nothing guards against it. Give a time, and latitude and longitude under" in unknown.text
    )
    assert "latitude and longitude under [site]" in unknown.text
