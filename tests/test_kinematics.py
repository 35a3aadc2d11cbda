"""The geometry by cases that need no other library; `test_against_rotations.py` has the chain."""

from __future__ import annotations

import numpy as np
import pytest

from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    linearise,
    sky_from_axes,
)

DEGREE = np.pi / 180
NO_TERMS = geometry_from_arcmin(0, 0, 0, 0)


def _reading_deg(az_deg: float, alt_deg: float, **terms: float) -> tuple[float, float]:
    every = (
        dict.fromkeys(("collimation", "non_perpendicularity", "tilt_north", "tilt_east"), 0.0)
        | terms
    )
    star = directions(np.array(az_deg * DEGREE), np.array(alt_deg * DEGREE))
    az, alt, reachable = axes_from_sky(star, geometry_from_arcmin(**every))
    assert reachable
    return float(az / DEGREE), float(alt / DEGREE)


@pytest.mark.parametrize(
    ("az_deg", "alt_deg", "vector"),
    [
        (0, 0, (1, 0, 0)),
        (90, 0, (0, 1, 0)),
        (180, 0, (-1, 0, 0)),
        (0, 90, (0, 0, 1)),
        (270, 45, (0, -np.sqrt(0.5), np.sqrt(0.5))),
    ],
)
def test_directions_are_north_east_up_and_lead_back(
    az_deg: float, alt_deg: float, vector: tuple[float, ...]
) -> None:
    found = directions(np.array(az_deg * DEGREE), np.array(alt_deg * DEGREE))
    np.testing.assert_allclose(found, vector, atol=1e-15)
    az, alt = azimuth_altitude(found)
    assert alt == pytest.approx(alt_deg * DEGREE)
    if alt_deg < 90:
        assert az == pytest.approx(az_deg * DEGREE)


def test_azimuths_come_back_between_nought_and_a_turn() -> None:
    az, _ = azimuth_altitude(directions(np.array([-0.1, 6.3, -1e-20]), np.zeros(3)))
    assert ((az >= 0) & (az <= 2 * np.pi)).all()
    assert az[0] == pytest.approx(2 * np.pi - 0.1)


def test_a_mount_without_errors_reads_what_the_star_is() -> None:
    assert _reading_deg(123.0, 45.0) == pytest.approx((123.0, 45.0))


def test_a_tube_that_points_left_must_be_turned_right() -> None:
    az, alt = _reading_deg(100.0, 60.0, collimation=60.0)
    assert az == pytest.approx(100 + np.degrees(np.arcsin(np.sin(DEGREE) / np.cos(60 * DEGREE))))
    # the tube dips below its own altitude circle, so the axis must stand a little higher
    assert 60.0 < alt < 60.1


def test_an_altitude_axis_high_on_the_right_throws_high_stars_to_the_left() -> None:
    low, _ = _reading_deg(100.0, 0.0, non_perpendicularity=60.0)
    high, _ = _reading_deg(100.0, 45.0, non_perpendicularity=60.0)
    assert low == pytest.approx(100.0)
    assert high == pytest.approx(101.0, abs=0.001)


@pytest.mark.parametrize(
    ("az_deg", "lifted_deg"), [(0.0, 1.0), (180.0, -1.0), (90.0, 0.0), (270.0, 0.0)]
)
def test_a_mount_that_leans_north_reads_high_in_the_north(az_deg: float, lifted_deg: float) -> None:
    # its axis leans toward the star, so the star stands farther from its own horizon
    _, alt = _reading_deg(az_deg, 0.0, tilt_north=60.0)
    assert alt == pytest.approx(lifted_deg, abs=1e-9)


@pytest.mark.parametrize(("az_deg", "lifted_deg"), [(90.0, 1.0), (270.0, -1.0)])
def test_a_mount_that_leans_east_reads_high_in_the_east(az_deg: float, lifted_deg: float) -> None:
    _, alt = _reading_deg(az_deg, 0.0, tilt_east=60.0)
    assert alt == pytest.approx(lifted_deg, abs=1e-9)


def test_the_mounts_own_zenith_stands_where_the_axis_leans() -> None:
    geometry = geometry_from_arcmin(0, 0, 300.0, 400.0)
    sky = sky_from_axes(np.array(0.3), np.array(np.pi / 2), geometry)
    az, alt = azimuth_altitude(sky)
    assert az / DEGREE == pytest.approx(np.degrees(np.arctan2(400, 300)))
    assert 90 - alt / DEGREE == pytest.approx(500 / 60)


def test_collimation_and_non_perpendicularity_that_cancel_leave_the_zenith_within_reach() -> None:
    star = directions(np.zeros(1), np.array([np.pi / 2 - 1e-4]))
    assert axes_from_sky(star, geometry_from_arcmin(30, -30, 0, 0))[2].all()
    assert not axes_from_sky(star, geometry_from_arcmin(30, 30, 0, 0))[2].any()


def test_the_unreachable_circle_has_the_radius_of_the_sum() -> None:
    geometry = geometry_from_arcmin(40, 20, 0, 0)
    az = np.linspace(0, 6, 7)
    just_in = directions(az, np.full(7, np.pi / 2 - 59.99 / ARCMIN_PER_RADIAN))
    just_out = directions(az, np.full(7, np.pi / 2 - 60.01 / ARCMIN_PER_RADIAN))
    assert not axes_from_sky(just_in, geometry)[2].any()
    assert axes_from_sky(just_out, geometry)[2].all()


def test_misses_are_the_separation_on_the_sphere_even_when_large() -> None:
    random = np.random.default_rng(42)
    az, alt = random.uniform(0, 2 * np.pi, (2, 200)), random.uniform(-1.5, 1.5, (2, 200))
    miss = linearise(az[0], alt[0], az[1], alt[1], NO_TERMS).miss
    one, other = directions(az[0], alt[0]), directions(az[1], alt[1])
    apart = np.arctan2(np.linalg.norm(np.cross(one, other), axis=-1), (one * other).sum(-1))
    np.testing.assert_allclose(np.hypot(*miss.T), apart * ARCMIN_PER_RADIAN, rtol=1e-12)


def test_misses_point_from_the_star_to_where_the_tube_looked() -> None:
    star = np.array([1.0]), np.array([0.5])
    arcmin = 1 / ARCMIN_PER_RADIAN
    right = linearise(*star, star[0] + 2 * arcmin / np.cos(0.5), star[1], NO_TERMS).miss
    up = linearise(*star, star[0], star[1] + 3 * arcmin, NO_TERMS).miss
    np.testing.assert_allclose(right, [[2, 0]], atol=1e-3)
    np.testing.assert_allclose(up, [[0, 3]], atol=1e-9)


def test_a_step_of_the_linear_problem_takes_the_miss_away() -> None:
    random = np.random.default_rng(43)
    az, alt = random.uniform(0, 2 * np.pi, 20), random.uniform(0.2, 1.2, 20)
    step = random.uniform(-1, 1, 6)
    before = linearise(az, alt, az, alt, NO_TERMS)
    index = step[:2] / ARCMIN_PER_RADIAN
    after = linearise(az, alt, az - index[0], alt - index[1], geometry_from_arcmin(*step[2:]))
    np.testing.assert_allclose(after.miss, before.miss - before.design @ step, atol=5e-3)


def test_many_mounts_are_posed_in_one_call_as_one_by_one() -> None:
    random = np.random.default_rng(44)
    terms = random.uniform(-300, 300, (5, 4))
    az, alt = random.uniform(0, 6, 8), random.uniform(0, 1.4, 8)
    together = linearise(az, alt, az, alt, geometry_from_arcmin(*terms.T[:, :, None]))
    assert together.miss.shape == (5, 8, 2)
    assert together.design.shape == (5, 8, 2, 6)
    for mount in range(5):
        alone = linearise(az, alt, az, alt, geometry_from_arcmin(*terms[mount]))
        np.testing.assert_allclose(together.miss[mount], alone.miss, atol=1e-10)
        np.testing.assert_allclose(together.design[mount], alone.design, atol=1e-12)


def test_nothing_is_nan_anywhere_on_the_sphere() -> None:
    az, alt = np.meshgrid(np.linspace(-7, 7, 15), np.linspace(-np.pi / 2, np.pi / 2, 13))
    for terms in ((0, 0, 0, 0), (600, 600, 0, 0), (0, 0, 1e-300, 0), (-30, 20, 540, -540)):
        geometry = geometry_from_arcmin(*map(float, terms))
        found = axes_from_sky(directions(az, alt), geometry)
        flat = linearise(az, alt, found[0], found[1], geometry)
        for values in (found[0], found[1], flat.miss, flat.design):
            assert np.isfinite(values).all()
