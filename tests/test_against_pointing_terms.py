"""Exact derivatives against published shapes of an alt-az mount's terms and against differences.

Shapes (from memory, in our signs): M. L. Meeks, J. A. Ball, A. B. Hull, "The pointing calibration
of the Haystack antenna", IEEE Transactions on Antennas and Propagation 16 (1968) 746; B. L. Ulich,
"Millimeter wave radio telescopes: gain and pointing characteristics", International Journal of
Infrared and Millimeter Waves 2 (1981) 293. Both list constant offsets, sec and tan of the altitude
in azimuth, and the two tilts of the azimuth axis; Ulich gives the effects on the sky, the azimuth
parts times the cosine of the altitude.
"""

from __future__ import annotations

import numpy as np
import pytest

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    Geometry,
    axes_from_sky,
    azimuth_altitude,
    directions,
    geometry_from_arcmin,
    linearise,
    sky_from_axes,
)
from pointmodel.mount.terms import STANDARD_NAMES

DIFFERENCE_ARCMIN = 0.5
EXACT = 2e-8  # what differences of half an arcminute leave of a derivative
FIRST_ORDER = 1e-9

Shape = tuple[FloatArray, FloatArray]


def _published(name: str, az: FloatArray, alt: FloatArray) -> Shape:
    """What one unit adds to azimuth and altitude readings."""
    zero, one = np.zeros_like(az), np.ones_like(az)
    return {
        "azimuth_index": (one, zero),
        "altitude_index": (zero, one),
        "collimation": (1 / np.cos(alt), zero),
        "non_perpendicularity": (np.tan(alt), zero),
        "tilt_north": (np.tan(alt) * np.sin(az), np.cos(az)),
        "tilt_east": (-np.tan(alt) * np.cos(az), np.sin(az)),
    }[name]


def _sky(number: int) -> Shape:
    random = np.random.default_rng(12)
    az = random.uniform(0, 2 * np.pi, number)
    return az, np.radians(random.uniform(2, 86, number))


@pytest.mark.parametrize("name", STANDARD_NAMES)
def test_the_design_of_a_perfect_mount_has_the_published_shapes(name: str) -> None:
    az, alt = _sky(500)
    design = linearise(az, alt, az, alt, geometry_from_arcmin(0, 0, 0, 0)).design
    in_az, in_alt = _published(name, az, alt)
    column = design[..., STANDARD_NAMES.index(name)]
    np.testing.assert_allclose(column[:, 0], in_az * np.cos(alt), atol=FIRST_ORDER)
    np.testing.assert_allclose(column[:, 1], in_alt, atol=FIRST_ORDER)


@pytest.mark.parametrize("name", STANDARD_NAMES[2:])
def test_small_terms_move_the_readings_by_the_published_shapes(name: str) -> None:
    az, alt = _sky(500)
    terms = dict.fromkeys(STANDARD_NAMES[2:], 0.0)
    small_arcmin = 0.01
    terms[name] = small_arcmin
    found_az, found_alt, _ = axes_from_sky(directions(az, alt), geometry_from_arcmin(**terms))
    in_az, in_alt = _published(name, az, alt)
    # the second order is the square over the radian, times tan² of the altitude at most
    second_order = (small_arcmin / ARCMIN_PER_RADIAN) ** 2 / np.cos(alt) ** 2
    moved_az = np.angle(np.exp(1j * (found_az - az)))
    assert (
        np.abs(moved_az - small_arcmin / ARCMIN_PER_RADIAN * in_az) < second_order + 4e-15
    ).all()
    moved_alt = found_alt - alt
    assert (
        np.abs(moved_alt - small_arcmin / ARCMIN_PER_RADIAN * in_alt) < second_order + 4e-15
    ).all()


def _direction_at(terms_arcmin: FloatArray, az: FloatArray, alt: FloatArray) -> FloatArray:
    """Where readings look, terms (6, ...) in arcminutes: the chain alone, no derivative in it."""
    index = terms_arcmin[:2] / ARCMIN_PER_RADIAN
    return sky_from_axes(az - index[0], alt - index[1], geometry_from_arcmin(*terms_arcmin[2:]))


MOUNTS = {
    "no lean": (0.0, 300.0),
    "a lean of a millionth of an arcminute": (1e-6, 300.0),
    "a lean of a tenth of an arcminute": (0.1, 300.0),
    "a lean of thirty arcminutes": (30.0, 300.0),
    "a lean just under the change from series to quotient": (108.0, 300.0),
    "a lean just over it": (109.5, 300.0),
    "a lean of nine degrees": (540.0, 600.0),
}


@pytest.mark.parametrize(("lean_arcmin", "largest_arcmin"), MOUNTS.values(), ids=MOUNTS)
@pytest.mark.parametrize("name", STANDARD_NAMES)
def test_the_design_is_what_differences_of_the_chain_give(
    name: str, lean_arcmin: float, largest_arcmin: float
) -> None:
    random = np.random.default_rng(13)
    az, alt = _sky(300)
    toward = random.uniform(0, 2 * np.pi, 300)
    terms = random.uniform(-largest_arcmin, largest_arcmin, (6, 300))
    terms[4], terms[5] = lean_arcmin * np.cos(toward), lean_arcmin * np.sin(toward)
    sight = _direction_at(terms, az, alt)
    star_az, star_alt = azimuth_altitude(sight)
    index = terms[:2] / ARCMIN_PER_RADIAN
    design = linearise(
        star_az, star_alt, az - index[0], alt - index[1], geometry_from_arcmin(*terms[2:])
    ).design
    row = STANDARD_NAMES.index(name)
    further, less = terms.copy(), terms.copy()
    further[row] += DIFFERENCE_ARCMIN
    less[row] -= DIFFERENCE_ARCMIN
    # the miss falls where the correction rises
    change = _direction_at(less, az, alt) - _direction_at(further, az, alt)
    change *= ARCMIN_PER_RADIAN / (2 * DIFFERENCE_ARCMIN)
    right = np.stack([-np.sin(star_az), np.cos(star_az), np.zeros(300)], axis=-1)
    up = np.stack(
        [
            -np.sin(star_alt) * np.cos(star_az),
            -np.sin(star_alt) * np.sin(star_az),
            np.cos(star_alt),
        ],
        axis=-1,
    )
    np.testing.assert_allclose(design[:, 0, row], (change * right).sum(-1), atol=EXACT)
    np.testing.assert_allclose(design[:, 1, row], (change * up).sum(-1), atol=EXACT)


def test_the_miss_of_an_exact_reading_is_nothing() -> None:
    random = np.random.default_rng(14)
    az, alt = _sky(300)
    geometry = Geometry(*np.radians(random.uniform(-5, 5, (4, 300))))
    star_az, star_alt = azimuth_altitude(sky_from_axes(az, alt, geometry))
    miss = linearise(star_az, star_alt, az, alt, geometry).miss
    assert np.abs(miss).max() < 1e-11
