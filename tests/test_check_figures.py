"""What `check` reaches on simulated controllers; `bench/check_figures.py` measures it on more."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from bench.check_figures import Checked, one_check, one_coarse, one_wrong_name
from bench.figures import rms

NIGHTS = 16
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


@cache
def four_stars(entry: str) -> list[Checked]:
    return [one_check(entry, 4, seed) for seed in range(NIGHTS)]


@pytest.mark.parametrize("entry", SHARP)
def test_four_stars_name_a_sharp_entry(entry: str) -> None:
    found = four_stars(entry)
    assert sum(one.first for one in found) >= NIGHTS - 2
    assert np.mean([one.not_ruled_out for one in found]) <= 2.0
    assert np.quantile(np.abs([one.offset_error_s for one in found]), 0.9) < 4.0
    assert np.quantile(np.abs([one.latitude_error_arcmin for one in found]), 0.9) < 1.0
    if entry == "agrees":
        assert not any(one.called_wrong for one in found)


def test_sharp_entries_are_named_as_often_as_is_promised_and_ranges_hold() -> None:
    """Of thousands .985 to 1.000; of 160, 155 are missed once in some hundred runs at .99."""
    found = [one for entry in SHARP for one in four_stars(entry)]
    assert sum(one.first for one in found) >= 155
    # these controllers compute better than is assumed of any: ranges are 2.6 times too wide
    assert np.mean([one.held for one in found]) >= 0.97
    assert rms([one.off_in_errors for one in found]) == pytest.approx(0.38, abs=0.05)


@pytest.mark.parametrize(("entry", "least"), [("latitude", 14), ("date", 14), ("clock", 13)])
def test_four_stars_name_an_entry_that_is_off_by_anything(entry: str, least: int) -> None:
    found = four_stars(entry)
    assert sum(one.first for one in found) >= least
    assert np.mean([one.not_ruled_out for one in found]) <= 2.0


@pytest.mark.parametrize("stars", [1, 2])
@pytest.mark.parametrize("entry", ["agrees", "summer_time", "latitude_sign", "clock"])
def test_one_or_two_stars_name_it_among_equals(entry: str, stars: int) -> None:
    found = [one_check(entry, stars, seed) for seed in range(12)]
    assert sum(one.first for one in found) >= 11
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
    nights = 12
    found = [one_coarse("agrees", stars, 60.0, how, seed) for seed in range(nights)]
    assert [verdict for _, verdict, _ in found].count("disagrees") == 0
    assert [verdict for _, verdict, _ in found].count("agrees") >= nights - 1


@pytest.mark.parametrize("entry", ["summer_time", "time_zone", "longitude_sign", "latitude"])
def test_a_wrong_entry_is_still_named_where_times_were_noted_to_the_minute(entry: str) -> None:
    found = [one_coarse(entry, 4, 60.0, "cut", seed) for seed in range(12)]
    assert sum(first and verdict == "disagrees" for first, verdict, _ in found) >= 11
