"""Sidereal time, places and parallax against worked examples of Meeus, Astronomical Algorithms.

Figures and where they come from: `authorities/sky.py`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from authorities import sky

from pointmodel.base.angles import separation_arcmin, wrap_deg
from pointmodel.base.times import parse_moment
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.sky.bodies import body_place, moon_lit_fraction, moon_place, sun_place
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude, horizontal_places, hour_angle_deg

SECOND_OF_TIME_DEG = 15.0 / 3600.0
ARCSEC = 1.0 / 3600.0
AU_KM = 149597870.7


def _time_s(example: dict[str, Any]) -> float:
    return parse_moment(example["at"]).posix_s


def _off_arcsec(place: tuple[Any, ...], example: dict[str, Any]) -> float:
    return float(separation_arcmin(place[0], place[1], example["ra"], example["dec"])) * 60


def test_apparent_sidereal_time_of_example_12a() -> None:
    found = sidereal_time_deg(_time_s(sky.MEEUS_12A))
    assert found == pytest.approx(sky.MEEUS_12A["apparent"], abs=0.01 * SECOND_OF_TIME_DEG)


def test_venus_over_washington_stands_where_example_13b_has_it() -> None:
    example = sky.MEEUS_13B
    hour = hour_angle_deg(example["ra"], _time_s(example), example["longitude"])
    assert hour == pytest.approx(example["hour_angle"], abs=0.2 * ARCSEC)
    az, alt = horizontal_places(hour, example["dec"], example["latitude"])
    assert az - 180 == pytest.approx(example["azimuth_from_south"], abs=1e-4)
    assert alt == pytest.approx(example["altitude"], abs=1e-4)


def test_the_whole_way_to_the_sky_differs_by_diurnal_aberration_alone() -> None:
    example = sky.MEEUS_13B
    site = Observer(example["latitude"], example["longitude"])
    az, alt = azimuth_altitude(example["ra"], example["dec"], _time_s(example), site)
    wanted = {"ra": example["azimuth_from_south"] + 180, "dec": example["altitude"]}
    assert _off_arcsec((az, alt), wanted) < 0.7


def test_venus_itself_is_found_within_its_series() -> None:
    assert _off_arcsec(body_place("Venus", _time_s(sky.MEEUS_33A)), sky.MEEUS_33A) < 15
    example = sky.MEEUS_13B
    assert _off_arcsec(body_place("Venus", _time_s(example)), example) < 15


def test_lifts_of_example_16a() -> None:
    example = sky.MEEUS_16A
    lift = refraction_lift_arcmin(np.array(example["true"]))
    assert lift == pytest.approx(example["lift_back_arcmin"], abs=0.01)


def test_arcturus_and_spica_stand_apart_as_in_example_17a() -> None:
    example = sky.MEEUS_17A
    apart = separation_arcmin(*example["arcturus"], *example["spica"]) / 60
    assert apart == pytest.approx(example["separation"], abs=1e-4)


def test_the_sun_of_examples_25a_and_25b() -> None:
    time_s = _time_s(sky.MEEUS_25B)
    place = sun_place(time_s)
    assert _off_arcsec(place, sky.MEEUS_25B) < 0.2
    assert place.distance_au == pytest.approx(sky.MEEUS_25B["distance_au"], abs=1e-6)
    assert _off_arcsec(place, sky.MEEUS_25A) < 36


def test_the_moon_of_example_47a() -> None:
    place = moon_place(_time_s(sky.MEEUS_47A))
    assert _off_arcsec(place, sky.MEEUS_47A) < 0.1
    assert place.distance_au * AU_KM == pytest.approx(sky.MEEUS_47A["distance_km"], abs=2)


def test_the_lit_part_of_the_moon_of_example_48a() -> None:
    assert moon_lit_fraction(_time_s(sky.MEEUS_47A)) == pytest.approx(sky.MEEUS_48A_LIT, abs=2e-4)


def test_parallax_moves_mars_as_in_example_40a() -> None:
    example = sky.MEEUS_40A
    site = Observer(example["latitude"], example["longitude"], example["elevation_m"])
    seen = body_place("Mars", _time_s(example), site)
    middle = body_place("Mars", _time_s(example))
    moved = wrap_deg(seen.ra_deg - middle.ra_deg), seen.dec_deg - middle.dec_deg
    wanted = (
        example["topocentric_ra"] - example["ra"],
        example["topocentric_dec"] - example["dec"],
    )
    np.testing.assert_allclose(moved, wanted, rtol=0, atol=0.15 * ARCSEC)
