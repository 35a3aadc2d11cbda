"""Two stars to align on, by name."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
import pytest
from bench.nights import night

import pointmodel as pm
from pointmodel.base.angles import separation_arcmin
from pointmodel.forecasting.forecast import Ground, forecasts
from pointmodel.forecasting.outlook import Outlook
from pointmodel.forecasting.realignstars import best_named_pair, places_of_stars
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.targets import find_target, target_places

NIGHT_S = datetime.fromisoformat("2031-05-17T21:04:30+10:00").timestamp()
NOON_S = datetime.fromisoformat("2031-05-17T12:00:00+10:00").timestamp()
SITE: dict[str, Any] = {"site": {"latitude": -41.3, "longitude": 146.2}}
HERE = Observer(-41.3, 146.2)


def outlook(**terms: float) -> Outlook:
    made = night(np.random.default_rng(1), "perfect", 20, terms=terms, sigma_arcmin=0.5)
    return pm.fit(made.log).outlook


def place(name: str, time_s: float = NIGHT_S) -> tuple[float, float]:
    ra, dec = target_places([find_target(name)], time_s, HERE)
    az, alt = azimuth_altitude(ra[0], dec[0], time_s, HERE)
    return float(az), float(alt)


def test_the_pair_is_bright_up_well_apart_and_open() -> None:
    profile = {"horizon": {"profile": [[0, 90], [180, 90], [181, 5], [359, 5]]}}
    for tables in (SITE, {**SITE, **profile}):
        pair = best_named_pair(outlook(), pm.read_mount(tables), NIGHT_S)
        assert pair is not None
        one, other = (place(name) for name in pair)
        assert 45.0 * 60 <= separation_arcmin(*one, *other) <= 130.0 * 60
        assert all(20.0 < alt < 70.0 for _, alt in (one, other))
        assert all((find_target(name).magnitude or 0.0) <= 2.0 for name in pair)
    assert all(az > 180.0 for az, _ in (one, other))  # the eastern half is closed


def test_by_day_nothing_near_the_sun_is_named() -> None:
    pair = best_named_pair(outlook(), pm.read_mount(SITE), NOON_S)
    assert pair is not None
    sun = place("Sun", NOON_S)
    assert all(separation_arcmin(*place(name, NOON_S), *sun) > 20.0 * 60 for name in pair)


def test_the_pair_is_the_one_that_suits_the_mount_and_the_controller() -> None:
    high = outlook(altitude_index=60.0, collimation=30.0)
    mount = pm.read_mount(SITE)
    assert best_named_pair(high, mount, NIGHT_S, "rotation") != best_named_pair(
        high, mount, NIGHT_S, "altitude_zero"
    )


@pytest.mark.parametrize("tables", [{}, {**SITE, "horizon": {"profile": [[0, 90], [180, 90]]}}])
def test_without_a_site_or_without_stars_none_are_named(tables: dict[str, Any]) -> None:
    assert best_named_pair(outlook(), pm.read_mount(tables), NIGHT_S) is None


def test_a_moment_that_is_not_known_names_none() -> None:
    seen = replace(outlook(), field_of_view_arcmin=None)
    assert best_named_pair(seen, pm.read_mount(SITE), float("nan")) is None


def test_go_tos_through_an_alignment_are_forecast_by_its_own_stars() -> None:
    high = outlook(altitude_index=40.0)

    def now(aligned_on: tuple[tuple[float, float], ...] | None) -> float:
        return forecasts(Ground(high, "rotation", aligned_on))[0].rms_arcmin

    again = next(f for f in forecasts(Ground(high, "rotation")) if f.remedy == "realign")
    assert now(again.stars) == pytest.approx(again.rms_arcmin, rel=0.02)
    assert now(again.bad_stars) == pytest.approx(again.bad_pair_rms_arcmin, rel=0.02)
    assert now(again.bad_stars) > 1.1 * now(again.stars)
    for unknown in ((), ((40.0, 40.0), (40.5, 40.0))):  # one star twice fixes no rotation
        assert now(unknown) == pytest.approx(again.median_pair_rms_arcmin, rel=0.02)
    assert now(None) == pytest.approx(forecasts(Ground(high))[0].rms_arcmin)


def test_places_of_stars_are_given_only_where_all_are_known_and_up() -> None:
    mount = pm.read_mount(SITE)
    (one, other) = places_of_stars(("Canopus", "Spica"), mount, NIGHT_S)
    assert one == pytest.approx(place("Canopus"), abs=0.1)
    assert other == pytest.approx(place("Spica"), abs=0.1)
    assert places_of_stars(("Canopus", "Polaris"), mount, NIGHT_S) == ()
    assert places_of_stars(("Canopus", "no star"), mount, NIGHT_S) == ()
    assert places_of_stars(("Canopus", "Spica"), pm.read_mount({}), NIGHT_S) == ()
