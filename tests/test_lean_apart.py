"""The lean of the base, apart from the lean that a wrong clock or place makes it seem to have."""

from __future__ import annotations

import numpy as np
import pytest

import pointmodel as pm
from pointmodel.diagnosis.leanapart import EntryOffsets, believed_turn, lean_apart
from pointmodel.sky.places import horizontal_places, hour_angles_and_declinations

SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}


def direction(az_deg: np.ndarray, alt_deg: np.ndarray) -> np.ndarray:
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    return np.stack([np.cos(alt) * np.cos(az), np.cos(alt) * np.sin(az), np.sin(alt)], axis=-1)


@pytest.mark.parametrize("latitude_deg", [-41.3, 0.0, 12.0, 66.0])
def test_the_believed_sky_is_the_one_that_erfa_computes_from_the_wrong_entries(
    latitude_deg: float,
) -> None:
    """ERFA's ae2hd and hd2ae, the IAU's SOFA routines."""
    az = np.array([10.0, 123.0, 250.0, 333.0])
    alt = np.array([20.0, 45.0, 70.0, 33.0])
    hour, dec = hour_angles_and_declinations(az, alt, latitude_deg)
    told = horizontal_places(hour + 0.25 * 13.0, dec, latitude_deg + 1.5)
    turn = believed_turn(latitude_deg, np.array([13.0]), np.array([1.5]))[0]
    np.testing.assert_allclose(direction(az, alt) @ turn.T, direction(*told), atol=1e-12)


def test_first_order_signs_are_those_of_the_handbook_formulas() -> None:
    """tilt_east = −δ cos φ and tilt_north = −ε for small errors (derived to first order)."""
    axis = believed_turn(-41.3, np.array([0.1]), np.array([0.0]))[0] @ [0.0, 0.0, 1.0]
    assert np.degrees(axis[1]) == pytest.approx(-0.025 * np.cos(np.radians(41.3)), rel=1e-3)
    axis = believed_turn(-41.3, np.array([0.0]), np.array([0.1]))[0] @ [0.0, 0.0, 1.0]
    assert np.degrees(axis[0]) == pytest.approx(-0.1, rel=1e-3)


def fitted(seed: int, north: float, east: float, sidereal_min: float, latitude: float) -> pm.Fit:
    made = pm.simulate(
        seed=seed,
        pairs=14,
        mount={"site": SITE},
        terms={"tilt_north": north, "tilt_east": east},
        sidereal_error_min=sidereal_min,
        latitude_error_deg=latitude,
    )
    return pm.fit(made.log)


def test_an_hour_of_summer_time_is_taken_off_and_the_upright_base_is_seen() -> None:
    fit = fitted(1, 0.0, 0.0, -60.0, 0.0)
    apart = lean_apart(fit.solution.posterior, EntryOffsets(-41.3, -60.0, 0.05, 0.0, 0.01), 5.0)
    assert np.hypot(*apart.mean_arcmin) < 3.0
    assert apart.seeming_arcmin > 600.0
    assert apart.probability < 0.05


def test_a_lean_of_its_own_is_found_beside_wrong_entries() -> None:
    fit = fitted(2, 25.0, -14.0, 12.0, 0.7)
    apart = lean_apart(fit.solution.posterior, EntryOffsets(-41.3, 12.0, 0.05, 0.7, 0.01), 5.0)
    sd = np.sqrt(np.diag(apart.covariance))
    assert (np.abs(apart.mean_arcmin - [25.0, -14.0]) < 3.5 * sd).all()
    assert (sd < 2.5).all()
    assert apart.probability > 0.99


def test_a_belief_known_only_roughly_leaves_the_lean_open() -> None:
    fit = fitted(3, 0.0, 0.0, 12.0, 0.0)
    rough = lean_apart(fit.solution.posterior, EntryOffsets(-41.3, 10.0, 4.0, 0.0, 0.5), 5.0)
    assert 0.05 < rough.probability < 0.95
