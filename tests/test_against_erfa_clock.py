"""What a wrong clock or latitude looks like, made with ERFA's hd2ae and found by the fit.

First order (derived on the project's own pages): a sidereal time too large by δ at latitude φ gives
azimuth_index −δ sin φ and tilt_east −δ cos φ; a latitude entered as φ + ε gives tilt_north −ε,
exactly.
"""

from __future__ import annotations

import erfa
import numpy as np
import pandas as pd
import pytest

import pointmodel as pm

# the second order of two minutes of time: 30′ of turn, squared, over the radian
SECOND_ORDER_ARCMIN = 0.35


def _fit(latitude_deg: float, fast_min: float, latitude_error_arcmin: float) -> dict[str, float]:
    rng = np.random.default_rng(9)
    hour, dec = rng.uniform(-4.0, 4.0, 400) * np.pi / 12.0, rng.uniform(-1.2, 1.2, 400)
    true_az, true_alt = erfa.hd2ae(hour, dec, np.radians(latitude_deg))
    believed = np.radians(latitude_deg + latitude_error_arcmin / 60.0)
    az, alt = erfa.hd2ae(hour + np.radians(fast_min / 4.0), dec, believed)
    keep = np.flatnonzero((true_alt > 0.3) & (true_alt < 1.35))[:40]
    columns = {"commanded_az": az, "commanded_alt": alt}
    columns |= {"centred_az": true_az, "centred_alt": true_alt}
    frame = pd.DataFrame({name: np.degrees(value[keep]) for name, value in columns.items()})
    frame[["commanded_az", "centred_az"]] %= 360.0
    return {term.name: term.value for term in pm.fit(frame).term_estimates}


@pytest.mark.parametrize("latitude_deg", [51.0, -41.0, 10.0])
@pytest.mark.parametrize("fast_min", [2.0, -2.0])
def test_a_clock_looks_like_a_turn_and_a_lean_toward_east(
    latitude_deg: float, fast_min: float
) -> None:
    terms = _fit(latitude_deg, fast_min, 0.0)
    delta, latitude = 15.0 * fast_min, np.radians(latitude_deg)
    assert terms["tilt_east"] == pytest.approx(-delta * np.cos(latitude), abs=SECOND_ORDER_ARCMIN)
    assert terms["azimuth_index"] == pytest.approx(
        -delta * np.sin(latitude), abs=SECOND_ORDER_ARCMIN
    )


@pytest.mark.parametrize("latitude_deg", [51.0, -41.0])
@pytest.mark.parametrize("error_arcmin", [30.0, -30.0])
def test_a_latitude_looks_like_a_lean_along_the_meridian_exactly(
    latitude_deg: float, error_arcmin: float
) -> None:
    terms = _fit(latitude_deg, 0.0, error_arcmin)
    assert terms["tilt_north"] == pytest.approx(-error_arcmin, abs=0.02)
    assert terms["tilt_east"] == pytest.approx(0.0, abs=0.02)
