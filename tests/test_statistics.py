"""The statistics that users are promised, on a few hundred simulated nights.

The same functions as `tests/bench/figures.py`, which measures them on thousands. Tolerances are
stated: about three standard errors of the number of nights used here around the promised range.
"""

from __future__ import annotations

from functools import cache, partial
from typing import Any

import numpy as np
import pytest
from bench import figures

NIGHTS = 80
COVERED = 110  # of them a mean share stands to .011


@cache
def nights_of(population: str, pairs: int) -> list[Any]:
    """Nights of one population, fitted once for all who ask."""
    return figures.over_nights(partial(figures.one_night, population, pairs, {}), COVERED)


@cache
def remedied() -> list[dict[str, float]]:
    """Forecast over actual of each remedy, on one set of nights."""
    return figures.over_nights(figures.one_remedied, 40)


@pytest.mark.parametrize("population", ["usual", "varied", "worse"])
@pytest.mark.parametrize("pairs", [5, 12])
def test_95_percent_intervals_of_the_six_terms_hold_the_truth(population: str, pairs: int):
    held = np.mean([outcome.held for outcome in nights_of(population, pairs)])
    assert 0.95 - 0.045 <= held <= 0.95 + 0.04


@pytest.mark.parametrize(("pairs", "most"), [(4, 1.06), (12, 1.06)])
def test_the_miss_comes_near_that_of_an_oracle(pairs: int, most: float):
    found = nights_of("usual", pairs)
    ours = np.mean([outcome.miss_arcmin for outcome in found])
    assert ours <= most * np.mean([outcome.oracle_arcmin for outcome in found])


@pytest.mark.parametrize("pairs", [6, 20])
def test_the_forecast_with_corrections_holds_the_actual_miss(pairs: int):
    found = figures.over_nights(partial(figures.one_forecast, "usual", pairs), NIGHTS)
    assert np.mean([held for held, _ in found]) >= 0.90
    assert np.median([ratio for _, ratio in found]) == pytest.approx(1.0, abs=0.12)


def test_a_quarter_of_bad_pairs_is_found_and_named_and_no_good_one_is_lost():
    found = figures.over_nights(partial(figures.one_sorting, 16, 4, "usual"), 24)
    total = {key: sum(getattr(one, key) for one in found) for key in figures.Sorted.__annotations__}
    # of thousands .99, .99 and .001: of 96 bad and 288 good ones, two or three standard errors
    assert total["found"] >= total["bad"] - 3
    assert total["named"] >= total["found"] - 4
    assert total["lost"] <= 2


def test_one_bad_pair_of_six_is_found():
    found = figures.over_nights(partial(figures.one_sorting, 6, 1, "usual"), 40)
    assert sum(one.found for one in found) >= 37


def test_a_lean_of_nine_degrees_costs_nothing():
    misses = figures.over_nights(partial(figures.one_lean, 12), 40)
    assert np.median(misses) <= 0.9


@pytest.mark.parametrize("patch", figures.PATCHES)
def test_ten_stars_in_one_patch_of_sky_give_intervals_that_hold(patch: str):
    found = figures.over_nights(partial(figures.one_patch, patch), 50)
    assert 0.91 <= np.mean([held for held, _ in found]) <= 0.995


def test_a_log_of_arcseconds_shows_its_flexure_and_leaves_its_noise():
    found = figures.over_nights(figures.one_observatory, 20)
    assert all(taken for taken, _, _, _ in found)
    assert np.median([residual for _, _, residual, _ in found]) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("fault", ["tube_flexure", "azimuth_backlash", "azimuth_drift", "slip"])
def test_a_fault_is_taken_up_as_its_own_term(fault: str):
    found = figures.over_nights(partial(figures.one_fault, fault), 20)
    assert sum(any(fault in name for name in names) for names, _ in found) >= 18


def test_a_night_without_further_faults_takes_up_no_further_term():
    found = figures.over_nights(partial(figures.one_fault, "nothing"), 60)
    assert sum(bool(names) for names, _ in found) <= 3


@pytest.mark.parametrize("remedy", ["none", "zero_on_star", "level", "realign"])
def test_a_remedy_does_what_was_forecast(remedy: str):
    assert np.median([one[remedy] for one in remedied()]) == pytest.approx(1.0, abs=0.1)


def test_a_published_log_leaves_its_noise_and_shows_its_flexure():
    found = figures.over_nights(partial(figures.one_published, 130), 20)
    assert np.median([residual for residual, _, _ in found]) <= 1.05
    assert np.median([sigma for _, sigma, _ in found]) == pytest.approx(1.0, abs=0.1)
    assert sum("tube_flexure" in names for _, _, names in found) >= 18


@pytest.mark.parametrize(
    ("told", "least"),
    # promised .87 with nothing stated, .92 else: less two standard errors of so many nights
    [("nothing stated", 0.85), ("centring error 5′ stated", 0.90), ("field of 150′ stated", 0.90)],
)
def test_three_stars_of_a_mount_set_up_without_care_give_intervals_that_hold(told, least):
    optics = figures.COARSE_OPTICS[told]
    found = figures.over_nights(partial(figures.one_coarse, optics), NIGHTS)
    assert np.mean([held for held, _ in found]) >= least
