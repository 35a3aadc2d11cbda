"""Reading and separations of angles against astropy.coordinates, an independent reader."""

from __future__ import annotations

import numpy as np
import pytest
from astropy import units
from astropy.coordinates import Angle, angular_separation

from pointmodel.base.angles import parse_angle_deg, separation_arcmin

ROUNDING_DEG = 1e-12
ROUNDING_ARCMIN = 1e-9

SPELLINGS = [
    "{sign}{d}:{m}:{s}",
    "{sign}{d}:{m:02d}:{s:02d}",
    "{sign}{d} {m} {s}",
    "{sign}{d}d{m}m{s}s",
    "{sign}{d}°{m}'{s}\"",
    "{sign}{d}°{m}′{s}″",
    "{sign}{d}:{m}",
    "{sign}{d} {m}",
    "{sign}{d}d{m}m",
    "{sign}{d}°{m}′",
    "{sign}{d}.{m:02d}",
    "{sign}{d}°",
]


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_spellings_that_astropy_knows_are_read_alike(spelling: str) -> None:
    random = np.random.default_rng(11)
    for _ in range(20):
        d, m, s = random.integers(0, 360), random.integers(0, 60), random.integers(0, 60)
        text = spelling.format(sign=random.choice(["", "-", "+"]), d=d, m=m, s=s)
        assert parse_angle_deg(text) == pytest.approx(
            Angle(text, unit=units.deg).deg, abs=ROUNDING_DEG
        )


@pytest.mark.parametrize("text", ["-0:30:00", "-0 0 36", "-0°30′", "-00:00:01"])
def test_the_sign_at_zero_degrees_is_kept_as_astropy_keeps_it(text: str) -> None:
    assert parse_angle_deg(text) == pytest.approx(Angle(text, unit=units.deg).deg, abs=ROUNDING_DEG)


@pytest.mark.parametrize(("text", "sides"), [("41d18mS", "NS"), ("146d12m30sE", "EW")])
def test_letters_for_the_sides_are_read_as_astropy_reads_them(text: str, sides: str) -> None:
    assert parse_angle_deg(text, sides=sides) == pytest.approx(Angle(text).deg, abs=ROUNDING_DEG)


def test_separations_agree_with_astropy_all_over_the_sphere() -> None:
    random = np.random.default_rng(12)
    az1, az2 = random.uniform(-360, 360, (2, 500))
    alt1, alt2 = np.degrees(np.arcsin(random.uniform(-1, 1, (2, 500))))
    theirs = np.degrees(angular_separation(*np.radians([az1, alt1, az2, alt2]))) * 60
    np.testing.assert_allclose(
        separation_arcmin(az1, alt1, az2, alt2), theirs, rtol=0, atol=ROUNDING_ARCMIN
    )
