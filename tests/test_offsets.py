"""Steps on the sky, right and up: there and back, near the zenith, and where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord
from hypothesis import given, settings
from hypothesis import strategies as st

from pointmodel.base.offsets import before_step_deg, step_on_sky_deg

MILLIARCSEC_DEG = 0.001 / 3600.0


def places(n: int, seed: int, high_deg: float = 85.0) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return rng.uniform(0, 360, n), rng.uniform(5, high_deg, n)


def test_a_step_is_where_astropy_s_offset_frame_has_the_place() -> None:
    """astropy's SkyCoord.spherical_offsets_to: longitude and latitude in a frame at the first."""
    (az, alt), (to_az, to_alt) = places(200, 1), places(200, 2)
    theirs = SkyCoord(az, alt, unit="deg").spherical_offsets_to(SkyCoord(to_az, to_alt, unit="deg"))
    right, up = step_on_sky_deg(az, alt, to_az, to_alt)
    np.testing.assert_allclose(right, theirs[0].to_value(u.deg), atol=MILLIARCSEC_DEG)
    np.testing.assert_allclose(up, theirs[1].to_value(u.deg), atol=MILLIARCSEC_DEG)


def test_a_step_right_or_up_goes_as_far_and_that_way_as_astropy_has_it() -> None:
    """astropy's SkyCoord.directional_offset_by: along a great circle, bearing 0 up, 90 right."""
    az, alt = places(100, 3)
    here = SkyCoord(az, alt, unit="deg")
    for bearing_deg, wanted in ((0.0, (0.0, 0.8)), (90.0, (0.8, 0.0)), (270.0, (-0.8, 0.0))):
        there = here.directional_offset_by(bearing_deg * u.deg, 0.8 * u.deg)
        step = step_on_sky_deg(az, alt, there.ra.to_value(u.deg), there.dec.to_value(u.deg))
        np.testing.assert_allclose(step[0], wanted[0], atol=MILLIARCSEC_DEG)
        np.testing.assert_allclose(step[1], wanted[1], atol=MILLIARCSEC_DEG)


@settings(derandomize=True, deadline=None)
@given(
    st.floats(0, 360, exclude_max=True),
    st.floats(-20, 88),
    st.floats(-15, 15),
    st.floats(-15, 15),
)
def test_before_the_step_the_tube_looked_where_the_step_begins(
    az: float, alt: float, right: float, up: float
) -> None:
    from_az, from_alt = before_step_deg(az, alt, right, up)
    possible = abs(np.sin(np.radians(alt))) <= np.hypot(
        np.sin(np.radians(up)), np.cos(np.radians(up)) * np.cos(np.radians(right))
    )
    assert bool(np.isfinite(from_az)) == bool(np.isfinite(from_alt)) == bool(possible)
    if possible:
        again = step_on_sky_deg(from_az, from_alt, az, alt)
        np.testing.assert_allclose(again, (right, up), atol=1e-6)


def test_taking_the_step_off_in_the_frame_of_the_star_is_not_enough() -> None:
    az, alt = before_step_deg(100.0, 60.0, 0.8, 0.0)
    right, up = step_on_sky_deg(100.0, 60.0, az, alt)
    assert 60.0 * np.hypot(right + 0.8, up) == pytest.approx(1.16, abs=0.02)  # x² tan a, x = 48′


def test_an_altitude_beyond_the_zenith_is_the_place_on_the_other_side() -> None:
    beyond = before_step_deg(120.0, 90.5, 0.2, 0.3)
    np.testing.assert_allclose(beyond, before_step_deg(300.0, 89.5, 0.2, 0.3), atol=1e-9)


def test_near_the_zenith_only_a_short_way_can_be_gone_to_the_right() -> None:
    assert np.isnan(before_step_deg(10.0, 89.5, 1.0, 0.0)).all()
    assert np.isfinite(before_step_deg(10.0, 89.5, 0.4, 0.0)).all()
    assert np.isfinite(before_step_deg(10.0, 90.0, 0.0, 0.5)).all()
