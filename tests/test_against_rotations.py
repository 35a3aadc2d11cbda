"""The chain of rotations against `scipy.spatial.transform.Rotation`, which knows no telescopes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.kinematics import (
    Geometry,
    axes_from_sky,
    directions,
    geometry_from_arcmin,
    sky_from_axes,
    turned_readings,
)

ARCSEC_PER_RADIAN = 3600.0 * 180.0 / np.pi
CLOSE_ARCSEC = 1e-9  # some twenty roundings of an angle in double precision
LARGEST_TERM_DEG = 10.0
FROM_THE_CIRCLE_DEG = 0.1
MANY = 20_000

# scipy's vectors are right-handed: east, north, up. Ours are north, east, up.
EAST_NORTH_UP = [1, 0, 2]


def _random_mounts(seed: int) -> tuple[Geometry, FloatArray, FloatArray]:
    """Geometry of many mounts with terms up to 10° (lean included), and places all over the sky."""
    random = np.random.default_rng(seed)
    largest = np.radians(LARGEST_TERM_DEG)
    collimation, tip = random.uniform(-largest, largest, (2, MANY))
    amount, toward = random.uniform(0, largest, MANY), random.uniform(0, 2 * np.pi, MANY)
    geometry = Geometry(collimation, tip, amount * np.cos(toward), amount * np.sin(toward))
    return geometry, random.uniform(0, 2 * np.pi, MANY), np.radians(random.uniform(-20, 90, MANY))


def _chain_by_scipy(az: FloatArray, alt: FloatArray, geometry: Geometry) -> FloatArray:
    """Where the tube looks, turned step by step from pointing north, level, all terms zero."""
    square = Rotation.from_rotvec(np.outer(geometry.collimation, [0, 0, 1]))  # left: toward west
    altitude = Rotation.from_rotvec(np.outer(alt, [1, 0, 0]))
    tip = Rotation.from_rotvec(np.outer(-geometry.non_perpendicularity, [0, 1, 0]))
    azimuth = Rotation.from_rotvec(np.outer(-az, [0, 0, 1]))  # clockwise seen from above
    lean = Rotation.from_rotvec(_lean_vectors(geometry))
    sight = (lean * azimuth * tip * altitude * square).apply([0.0, 1.0, 0.0])
    return np.asarray(sight[:, EAST_NORTH_UP])


def _apart_arcsec(one: FloatArray, other: FloatArray) -> FloatArray:
    across = np.linalg.norm(np.cross(one, other), axis=-1)
    return np.asarray(np.arctan2(across, (one * other).sum(axis=-1)) * ARCSEC_PER_RADIAN)


def _carried_by_the_lean(az: FloatArray, alt: FloatArray, geometry: Geometry) -> FloatArray:
    """Directions fixed to the base, (n, 3), once that leans."""
    lean = Rotation.from_rotvec(_lean_vectors(geometry))
    return np.asarray(lean.apply(directions(az, alt)[:, EAST_NORTH_UP])[:, EAST_NORTH_UP])


def _lean_vectors(geometry: Geometry) -> FloatArray:
    """Axis times angle of the leans, east, north, up: it carries up toward the lean."""
    north, east = geometry.tilt_north, geometry.tilt_east
    return np.stack([-north, east, np.zeros_like(north)], axis=-1)


def _beyond_the_circle_deg(sky: FloatArray, geometry: Geometry) -> FloatArray:
    """How far each direction stands outside the circle about the mount's zenith."""
    zenith = _carried_by_the_lean(np.zeros(MANY), np.full(MANY, np.pi / 2), geometry)
    radius = np.abs(geometry.collimation + geometry.non_perpendicularity)
    return _apart_arcsec(sky, zenith) / 3600.0 - np.degrees(radius)


def test_the_tube_looks_where_scipys_rotations_put_it() -> None:
    geometry, az, alt = _random_mounts(1)
    ours = sky_from_axes(az, alt, geometry)
    assert _apart_arcsec(ours, _chain_by_scipy(az, alt, geometry)).max() < CLOSE_ARCSEC


def test_altitude_axes_turned_past_the_zenith_look_where_scipys_rotations_put_them() -> None:
    geometry, az, alt = _random_mounts(2)
    over = np.pi - alt
    ours = sky_from_axes(az, over, geometry)
    assert _apart_arcsec(ours, _chain_by_scipy(az, over, geometry)).max() < CLOSE_ARCSEC


def _leant(tilt_north: float, tilt_east: float) -> np.ndarray:
    """Where a lean (radians) carries north, east and up, as columns."""
    az, alt = np.array([0.0, 0.5, 0.0]) * np.pi, np.array([0.0, 0.0, 0.5]) * np.pi
    tilt_arcmin = np.degrees([tilt_north, tilt_east]) * 60.0
    turned = turned_readings(az, alt, tilt_arcmin)
    return directions(turned.az, turned.alt).T


def test_the_lean_is_scipys_rotation_of_the_zenith() -> None:
    geometry, _, _ = _random_mounts(3)
    theirs = Rotation.from_rotvec(_lean_vectors(geometry)).as_matrix()
    reordered = theirs[:, EAST_NORTH_UP][:, :, EAST_NORTH_UP]
    for mount in range(200):
        np.testing.assert_allclose(
            _leant(geometry.tilt_north[mount], geometry.tilt_east[mount]),
            reordered[mount],
            atol=CLOSE_ARCSEC / ARCSEC_PER_RADIAN,
        )


def test_axis_angles_found_for_a_star_lead_scipys_chain_back_to_it() -> None:
    geometry, az, alt = _random_mounts(4)
    star = directions(az, alt)
    far = _beyond_the_circle_deg(star, geometry) > FROM_THE_CIRCLE_DEG
    found_az, found_alt, reachable = axes_from_sky(star, geometry)
    back = _chain_by_scipy(found_az, found_alt, geometry)
    assert far.sum() > 0.9 * MANY
    assert reachable[far].all()
    assert _apart_arcsec(back, star)[far].max() < CLOSE_ARCSEC
    assert (np.abs(found_alt[far]) <= np.pi / 2).all()


def test_stars_inside_the_circle_are_flagged_and_nothing_is_nan() -> None:
    geometry, az, _ = _random_mounts(5)
    # stars placed within the circle about the mount's own zenith
    radius = np.abs(geometry.collimation + geometry.non_perpendicularity)
    inside = np.random.default_rng(6).uniform(0.0, 0.999, MANY)
    star = _carried_by_the_lean(az, np.pi / 2 - radius * inside, geometry)
    found_az, found_alt, reachable = axes_from_sky(star, geometry)
    assert not reachable.any()
    assert np.isfinite(found_az).all()
    assert np.isfinite(found_alt).all()
    # what is returned comes as near as the tube can: to the rim
    nearest = _apart_arcsec(sky_from_axes(found_az, found_alt, geometry), star)
    rim_arcsec = radius * (1.0 - inside) * ARCSEC_PER_RADIAN
    np.testing.assert_allclose(nearest, rim_arcsec, rtol=1e-6, atol=1e-3)


@pytest.mark.parametrize("tilt_north", [0.0, 300.0])
def test_the_mounts_own_zenith_has_axis_angles_where_the_tube_can_reach_it(
    tilt_north: float,
) -> None:
    geometry = geometry_from_arcmin(0.0, 0.0, tilt_north, 0.0)
    zenith = _leant(geometry.tilt_north, geometry.tilt_east)[:, 2]
    az, alt, reachable = axes_from_sky(zenith, geometry)
    assert np.isfinite([az, alt]).all()
    assert _apart_arcsec(sky_from_axes(az, alt, geometry), zenith) < CLOSE_ARCSEC
    assert reachable
