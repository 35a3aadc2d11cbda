"""The lift of a star by the air against published formulas and ERFA's.

Figures and where they come from: `authorities/refraction.py`.
"""

from __future__ import annotations

import erfa
import numpy as np
import pytest
from authorities import refraction

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.term import refraction_lift_arcmin

BENNETT_ARCMIN = 0.1  # his .07′, and 4″ between the two formulas as Meeus has it
AT_THE_HORIZON_ARCMIN = 0.7  # 34′ is a round figure
SHARE_OF_ERFA = 0.055  # the formula lifts some 5 % more than ERFA's two-term one, at all altitudes


def _true_altitude(apparent_deg: float) -> float:
    """Where a star stands whose lifted place is this, found by halving."""
    low, high = apparent_deg - 2.0, apparent_deg
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle + float(refraction_lift_arcmin(np.array(middle))) / 60 > apparent_deg:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


@pytest.mark.parametrize("true_alt_deg", refraction.FROM_TRUE)
def test_the_lift_from_the_true_altitude_is_saemundssons(true_alt_deg: float) -> None:
    expected, rounding = refraction.FROM_TRUE[true_alt_deg]
    assert refraction_lift_arcmin(np.array(true_alt_deg)) == pytest.approx(expected, abs=rounding)


@pytest.mark.parametrize("apparent_deg", [h for h in refraction.FROM_APPARENT if h > 0])
def test_apparent_is_true_plus_lift_as_bennett_has_it(apparent_deg: float) -> None:
    lift = (apparent_deg - _true_altitude(apparent_deg)) * 60
    assert lift == pytest.approx(refraction.FROM_APPARENT[apparent_deg], abs=BENNETT_ARCMIN)


def test_a_star_seen_on_the_horizon_is_lifted_by_thirty_four_arcminutes() -> None:
    lift = -_true_altitude(0.0) * 60
    assert lift == pytest.approx(refraction.HORIZON_BY_COMMON_PRACTICE, abs=AT_THE_HORIZON_ARCMIN)


@pytest.mark.parametrize(
    ("pressure_hpa", "temperature_c"), [(1010.0, 10.0), (700.0, -10.0), (850.0, 25.0)]
)
def test_above_fifteen_degrees_the_lift_is_erfas(pressure_hpa: float, temperature_c: float) -> None:
    tan, tan_cubed = erfa.refco(pressure_hpa, temperature_c, 0.3, 0.55)
    apparent_deg = np.linspace(15.0, 85.0, 71)
    tangent: FloatArray = np.tan(np.radians(90.0 - apparent_deg))
    theirs = np.degrees(tan * tangent + tan_cubed * tangent**3) * 60
    ours = refraction_lift_arcmin(apparent_deg - theirs / 60, pressure_hpa, temperature_c)
    np.testing.assert_allclose(ours, theirs, rtol=SHARE_OF_ERFA)


def test_below_the_horizon_the_lift_stays_finite_and_never_falls_with_depth() -> None:
    lift = refraction_lift_arcmin(np.linspace(-90.0, 90.0, 1801))
    assert np.isfinite(lift).all()
    assert (np.diff(lift) <= 1e-12).all()
    assert lift.max() < 45.0
