"""What `check` reaches on simulated controllers; `bench/check_figures.py` measures it on more."""

from __future__ import annotations

import numpy as np
import pytest
from bench.check_figures import one_check, one_coarse, one_wrong_name

NIGHTS = 40
SHARP = (
    "agrees",
    "summer_time",
    "time_zone",
    "am_pm",
    "utc_as_local",
    "longitude_sign",
    "latitude_sign",
    "day_month_swapped",
    "longitude_minutes_as_decimals",
    "latitude_minutes_as_decimals",
)


@pytest.mark.parametrize("entry", SHARP)
def test_four_stars_name_a_sharp_entry(entry: str) -> None:
    """Of thousands .985 to 1.000; 38 of 40 fails by chance once in some hundred runs at .985."""
    found = [one_check(entry, 4, seed) for seed in range(NIGHTS)]
    assert sum(one.first for one in found) >= 38
    assert np.mean([one.not_ruled_out for one in found]) <= 2.0
    assert np.quantile(np.abs([one.offset_error_s for one in found]), 0.9) < 4.0
    assert np.quantile(np.abs([one.latitude_error_arcmin for one in found]), 0.9) < 1.0
    assert np.mean([one.held for one in found]) >= 0.85
    assert np.median([one.seconds for one in found]) < 0.3
    if entry == "agrees":
        assert not any(one.called_wrong for one in found)


@pytest.mark.parametrize(("entry", "least"), [("latitude", 37), ("date", 37), ("clock", 35)])
def test_four_stars_name_an_entry_that_is_off_by_anything(entry: str, least: int) -> None:
    found = [one_check(entry, 4, seed) for seed in range(NIGHTS)]
    assert sum(one.first for one in found) >= least
    assert np.mean([one.not_ruled_out for one in found]) <= 2.0


@pytest.mark.parametrize("stars", [1, 2])
@pytest.mark.parametrize("entry", ["agrees", "summer_time", "latitude_sign", "clock"])
def test_one_or_two_stars_name_it_among_equals(entry: str, stars: int) -> None:
    found = [one_check(entry, stars, seed) for seed in range(25)]
    assert sum(one.first for one in found) >= 23
    if entry == "agrees":
        assert not any(one.called_wrong for one in found)


def test_one_wrong_name_of_four_is_found_and_the_true_star_named() -> None:
    found = np.array([one_wrong_name(seed) for seed in range(NIGHTS)])
    assert found.sum(axis=0).tolist() == [NIGHTS, NIGHTS, NIGHTS]


@pytest.mark.parametrize("how", ["cut", "rounded"])
@pytest.mark.parametrize("stars", [4, 8])
def test_a_right_controller_is_not_blamed_where_times_were_noted_to_the_minute(
    stars: int, how: str
) -> None:
    """None of hundreds; before times counted as coarse as they were written, every one."""
    found = [one_coarse("agrees", stars, 60.0, how, seed) for seed in range(NIGHTS)]
    assert [verdict for _, verdict, _ in found].count("disagrees") == 0
    assert [verdict for _, verdict, _ in found].count("agrees") >= NIGHTS - 1


@pytest.mark.parametrize("entry", ["summer_time", "time_zone", "longitude_sign", "latitude"])
def test_a_wrong_entry_is_still_named_where_times_were_noted_to_the_minute(entry: str) -> None:
    found = [one_coarse(entry, 4, 60.0, "cut", seed) for seed in range(20)]
    assert sum(first and verdict == "disagrees" for first, verdict, _ in found) >= 19
