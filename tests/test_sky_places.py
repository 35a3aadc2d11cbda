"""Places of date, azimuth and altitude, Sun, Moon and planets: what holds by any authority."""

from __future__ import annotations

import numpy as np
import pytest

from pointmodel.base.angles import separation_arcmin, wrap_deg
from pointmodel.base.times import parse_moment
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.mountfile import read_mount
from pointmodel.sky.bodies import PLANETS, body_place, moon_lit_fraction, moon_place, sun_place
from pointmodel.sky.clock import julian_dates, sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import (
    apparent_places,
    azimuth_altitude,
    catalogue_places,
    horizontal_places,
    hour_angle_deg,
    hour_angles_and_declinations,
    places_of_date,
)

MAY_2031_S = parse_moment("2031-05-17T21:04:30+10:00").posix_s
SITES = [
    Observer(-41.3, 146.2, 640.0),
    Observer(52.0, -3.5),
    Observer(0.0, 180.0),
    Observer(90.0, 0.0),
    Observer(-90.0, 12.0),
]
MILLIARCSEC_ARCMIN = 1.0 / 60e3


def _all_over_the_sphere(number: int = 200) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(3)
    return random.uniform(0, 360, number), np.degrees(np.arcsin(random.uniform(-1, 1, number)))


def _apart(first: tuple[np.ndarray, ...], second: tuple[np.ndarray, ...]) -> float:
    return float(np.max(separation_arcmin(first[0], first[1], second[0], second[1])))


def test_leap_seconds_are_those_of_the_bulletins_and_the_last_one_is_kept() -> None:
    moments = {
        "1985-06-30T23:59:59Z": 22,
        "1985-07-01T00:00:00Z": 23,
        "2016-12-31T23:59:59Z": 36,
        "2017-01-01T00:00:00Z": 37,
        "2031-05-17T00:00:00Z": 37,
        "2199-01-01T00:00:00Z": 37,
    }
    time_s = np.array([parse_moment(text).posix_s for text in moments])
    dates = julian_dates(time_s)
    ahead_s = (dates.tt - dates.ut1) * 86400
    np.testing.assert_allclose(ahead_s, np.array(list(moments.values())) + 32.184, atol=1e-6)


def test_julian_dates_count_from_noon() -> None:
    dates = julian_dates(parse_moment("2000-01-01T12:00:00Z").posix_s)
    assert dates.day + dates.ut1 == 2451545.0


def test_years_beyond_the_leap_second_table_pass_without_a_warning() -> None:
    # pytest turns a warning into an error
    for text in ("1900-01-01T00:00:00Z", "1965-05-05T00:00:00Z", "2200-12-31T00:00:00Z"):
        time_s = parse_moment(text).posix_s
        place = apparent_places(10.0, 20.0, time_s)
        assert np.isfinite(azimuth_altitude(*place, time_s, SITES[0], pressure_hpa=1010.0)).all()
        for body in ("Sun", "Moon", *PLANETS):
            assert np.isfinite(body_place(body, time_s, SITES[0])).all()


def test_a_sidereal_day_is_four_minutes_short_of_a_solar_one() -> None:
    day_s = 86164.0905
    turned = wrap_deg(sidereal_time_deg(MAY_2031_S + day_s) - sidereal_time_deg(MAY_2031_S))
    assert abs(turned) * 3600 < 0.2  # apparent: the nutation of a day


@pytest.mark.parametrize("observer", SITES)
@pytest.mark.parametrize("pressure_hpa", [0.0, 1010.0])
def test_azimuth_and_altitude_lead_back_to_the_place_of_date(
    observer: Observer, pressure_hpa: float
) -> None:
    ra, dec = _all_over_the_sphere()
    time_s = MAY_2031_S + np.arange(200) * 431.0
    az, alt = azimuth_altitude(ra, dec, time_s, observer, pressure_hpa=pressure_hpa)
    back = places_of_date(az, alt, time_s, observer, pressure_hpa=pressure_hpa)
    high = alt > (5.0 if pressure_hpa else -91.0)
    off = separation_arcmin(*back, ra, dec)[high]
    assert off.max() < (200 if pressure_hpa else 1) * MILLIARCSEC_ARCMIN


def test_catalogue_places_lead_back_from_the_date() -> None:
    ra, dec = _all_over_the_sphere()
    time_s = MAY_2031_S + np.arange(200) * 1e5
    back = catalogue_places(*apparent_places(ra, dec, time_s), time_s)
    assert _apart(back, (ra, dec)) < 10 * MILLIARCSEC_ARCMIN


def test_horizontal_places_lead_back_to_hour_angle_and_declination() -> None:
    hour, dec = _all_over_the_sphere()
    for latitude in (-90.0, -41.3, 0.0, 60.0, 90.0):
        back = hour_angles_and_declinations(*horizontal_places(hour, dec, latitude), latitude)
        assert _apart(back, (hour, dec)) < MILLIARCSEC_ARCMIN


def test_diurnal_aberration_is_all_that_parts_the_sky_from_plain_trigonometry() -> None:
    ra, dec = _all_over_the_sphere()
    seen = azimuth_altitude(ra, dec, MAY_2031_S, SITES[0])
    hour = hour_angle_deg(ra, MAY_2031_S, SITES[0].longitude_deg)
    off = separation_arcmin(*seen, *horizontal_places(hour, dec, SITES[0].latitude_deg))
    assert off.max() * 60 == pytest.approx(0.32 * np.cos(np.radians(41.3)), abs=0.01)


def test_the_celestial_pole_stands_at_the_latitude() -> None:
    az, alt = azimuth_altitude(0.0, 90.0, MAY_2031_S, Observer(52.0, -3.5))
    assert alt == pytest.approx(52.0, abs=1e-4)
    assert wrap_deg(az) == pytest.approx(0.0, abs=1e-3)
    az, alt = azimuth_altitude(0.0, -90.0, MAY_2031_S, Observer(-41.3, 146.2))
    assert alt == pytest.approx(41.3, abs=1e-4)
    assert az == pytest.approx(180.0, abs=1e-3)


def test_what_culminates_north_of_a_southern_site_stands_at_azimuth_nought() -> None:
    site = SITES[0]
    on_the_meridian = sidereal_time_deg(MAY_2031_S) + site.longitude_deg
    az, alt = azimuth_altitude(on_the_meridian, 10.0, MAY_2031_S, site)
    assert wrap_deg(az) == pytest.approx(0.0, abs=1e-3)
    assert alt == pytest.approx(90 - 41.3 - 10, abs=1e-3)
    later_az, _ = azimuth_altitude(on_the_meridian, 10.0, MAY_2031_S + 3600, site)
    assert 300 < later_az < 350  # westward


def test_the_air_lifts_as_the_pointing_terms_have_it_to_five_per_cent() -> None:
    ra, dec = _all_over_the_sphere()
    bare_az, bare = azimuth_altitude(ra, dec, MAY_2031_S, SITES[0])
    az, lifted = azimuth_altitude(ra, dec, MAY_2031_S, SITES[0], pressure_hpa=950.0)
    up = bare > 15
    np.testing.assert_allclose(wrap_deg(az - bare_az), 0.0, atol=1e-9)
    lift = refraction_lift_arcmin(bare[up], 950.0, 10.0)
    np.testing.assert_allclose((lifted - bare)[up] * 60, lift, rtol=0.06)


def test_stars_by_times_broadcast() -> None:
    ra, dec = _all_over_the_sphere(7)
    time_s = MAY_2031_S + np.arange(3)[:, None] * 3600.0
    places = apparent_places(ra, dec, time_s)
    seen = azimuth_altitude(*places, time_s, SITES[0])
    assert seen[0].shape == seen[1].shape == (3, 7)
    alone = azimuth_altitude(*apparent_places(ra[4], dec[4], time_s[2, 0]), time_s[2, 0], SITES[0])
    assert (seen[0][2, 4], seen[1][2, 4]) == alone


def test_proper_motion_and_precession_go_the_right_way() -> None:
    # Barnard's star runs 10.4″ a year to the north; precession carries the equinox by 50.3″ a year
    still = apparent_places(269.45, 4.69, MAY_2031_S)
    moving = apparent_places(269.45, 4.69, MAY_2031_S, pm_dec_mas_yr=10362.0)
    assert (moving[1] - still[1]) * 3600 == pytest.approx(10.362 * 31.37, abs=0.1)
    ra, _ = apparent_places(0.0, 0.0, MAY_2031_S)
    assert wrap_deg(ra) * 3600 == pytest.approx(
        46.12 * 31.37, abs=40
    )  # 46.12″ in ra; the rest ±40″


def test_arguments_are_left_alone() -> None:
    ra, dec = _all_over_the_sphere(5)
    time_s = np.full(5, MAY_2031_S)
    kept = [array.copy() for array in (ra, dec, time_s)]
    for array in (ra, dec, time_s):
        array.setflags(write=False)
    azimuth_altitude(*apparent_places(ra, dec, time_s), time_s, SITES[0])
    body_place("Moon", time_s, SITES[0])
    for array, before in zip((ra, dec, time_s), kept, strict=True):
        np.testing.assert_array_equal(array, before)


def test_the_sun_crosses_the_equator_at_the_equinox() -> None:
    # 2031-03-20 19:41 UTC, by Meeus's method of chapter 27
    sun = sun_place(parse_moment("2031-03-20T19:41:00Z").posix_s)
    assert abs(float(wrap_deg(sun.ra_deg))) * 60 < 0.1
    assert abs(float(sun.dec_deg)) * 60 < 0.05


def test_the_moon_is_new_and_full_when_sun_and_moon_say_so() -> None:
    time_s = MAY_2031_S + np.arange(0, 30 * 24) * 3600.0
    lit = moon_lit_fraction(time_s)
    sun, moon = sun_place(time_s), moon_place(time_s)
    apart = separation_arcmin(sun.ra_deg, sun.dec_deg, moon.ra_deg, moon.dec_deg) / 60
    assert lit.min() < 0.01
    assert lit.max() > 0.99
    assert apart[lit.argmin()] < 10
    assert apart[lit.argmax()] > 170


def test_parallax_lowers_the_moon_and_never_raises_it() -> None:
    time_s = MAY_2031_S + np.arange(48) * 1800.0
    seen = azimuth_altitude(*moon_place(time_s, SITES[0])[:2], time_s, SITES[0])
    middle = azimuth_altitude(*moon_place(time_s)[:2], time_s, SITES[0])
    lowered = (middle[1] - seen[1]) * 60
    wanted = 57 * np.cos(np.radians(seen[1]))
    np.testing.assert_allclose(lowered, wanted, atol=5)


def test_the_observer_is_read_from_the_mount_file() -> None:
    assert read_mount({"site": {"latitude": -41.3, "longitude": 146.2}}).observer == Observer(
        -41.3, 146.2, 0.0
    )
    assert read_mount({"site": {"latitude": -41.3}}).observer is None
    assert read_mount(None).observer is None
