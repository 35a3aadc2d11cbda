"""A theodolite is an alt-az mount: readings in two faces, and slopes, against surveying practice.

Figures and where they come from: `authorities/surveying.py`.
"""

from __future__ import annotations

import numpy as np
import pytest
from authorities import surveying

from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    linearise,
    sky_from_axes,
)

CLOSE_ARCSEC = 1e-3  # a second order of fifteen seconds is a thousandth of that


def _deg(parts: tuple[int, int, int]) -> float:
    return parts[0] + parts[1] / 60 + parts[2] / 3600


# the altitude axis counts on from the horizon; beyond 90° the tube lies over: face right
FACE_LEFT = (
    _deg(surveying.FACE_LEFT_HORIZONTAL),
    90 - _deg(surveying.FACE_LEFT_VERTICAL),
)
FACE_RIGHT = (
    _deg(surveying.FACE_RIGHT_HORIZONTAL),
    90 + 360 - _deg(surveying.FACE_RIGHT_VERTICAL),
)
AZ, ALT = np.radians(np.array([FACE_LEFT, FACE_RIGHT]).T)
MARK_AZ = np.radians(_deg(surveying.DIRECTION_OF_THE_MARK))
MARK_ALT = np.radians(90 - _deg(surveying.ZENITH_DISTANCE_OF_THE_MARK))


def _where_the_faces_look(collimation_arcsec: float, index_arcsec: float) -> np.ndarray:
    """Azimuths and altitudes (2, 2) of both faces' lines of sight, degrees."""
    geometry = geometry_from_arcmin(collimation_arcsec / 60, 0, 0, 0)
    sky = sky_from_axes(AZ, ALT - np.radians(index_arcsec / 3600), geometry)
    return np.degrees(np.array(azimuth_altitude(sky)))


def _collimation_arcsec() -> float:
    # its effect on the circle grows with the secant of the altitude
    return surveying.COLLIMATION_ON_CIRCLE_ARCSEC * np.cos(MARK_ALT)


def test_without_terms_the_faces_look_apart_by_twice_the_errors() -> None:
    az, alt = _where_the_faces_look(0.0, 0.0)
    twice_the_index = -2 * surveying.INDEX_ERROR_ON_VERTICAL_ARCSEC
    assert (az[0] - az[1]) * 3600 == pytest.approx(
        2 * surveying.COLLIMATION_ON_CIRCLE_ARCSEC, abs=CLOSE_ARCSEC
    )
    assert (alt[0] - alt[1]) * 3600 == pytest.approx(twice_the_index, abs=CLOSE_ARCSEC)


def test_index_and_collimation_of_the_book_bring_both_faces_onto_the_mark() -> None:
    # the vertical circle counts down from the zenith: its error is the altitude's with sign turned
    az, alt = _where_the_faces_look(
        _collimation_arcsec(), -surveying.INDEX_ERROR_ON_VERTICAL_ARCSEC
    )
    np.testing.assert_allclose(az, np.degrees(MARK_AZ), atol=CLOSE_ARCSEC / 3600)
    np.testing.assert_allclose(alt, np.degrees(MARK_ALT), atol=CLOSE_ARCSEC / 3600)


def test_one_step_of_the_linear_problem_finds_the_books_errors() -> None:
    flat = linearise(
        np.full(2, MARK_AZ), np.full(2, MARK_ALT), AZ, ALT, geometry_from_arcmin(0, 0, 0, 0)
    )
    # altitude index and collimation, from four numbers
    found, *_ = np.linalg.lstsq(flat.design[..., 1:3].reshape(4, 2), flat.miss.ravel())
    assert found[0] * 60 == pytest.approx(
        -surveying.INDEX_ERROR_ON_VERTICAL_ARCSEC, abs=CLOSE_ARCSEC
    )
    assert found[1] * 60 == pytest.approx(_collimation_arcsec(), abs=CLOSE_ARCSEC)


def test_the_reading_of_face_left_follows_from_the_mark() -> None:
    geometry = geometry_from_arcmin(_collimation_arcsec() / 60, 0, 0, 0)
    az, alt, _ = axes_from_sky(directions(MARK_AZ, MARK_ALT), geometry)
    index = np.radians(-surveying.INDEX_ERROR_ON_VERTICAL_ARCSEC / 3600)
    assert np.degrees(az) == pytest.approx(FACE_LEFT[0], abs=CLOSE_ARCSEC / 3600)
    assert np.degrees(alt + index) == pytest.approx(FACE_LEFT[1], abs=CLOSE_ARCSEC / 3600)


def test_one_millimetre_in_one_metre_is_three_and_a_half_arcminutes() -> None:
    slope_arcmin = np.arctan(0.001) * ARCMIN_PER_RADIAN
    assert slope_arcmin == pytest.approx(surveying.ONE_MILLIMETRE_IN_ONE_METRE_ARCMIN, abs=5e-5)
    leaning = sky_from_axes(
        np.array(0.0), np.array(np.pi / 2), geometry_from_arcmin(0, 0, slope_arcmin, 0)
    )
    # a plumb line a metre long hangs a millimetre off (north over up)
    assert 1000 * leaning[0] / leaning[2] == pytest.approx(1.0, abs=1e-6)
