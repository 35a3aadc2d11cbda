"""Terms fitted by lmfit against scipy's least squares on a chain of rotations written out here.

`scipy.optimize.least_squares` and `scipy.spatial.transform.Rotation` know nothing of telescopes;
the chain is that of any theodolite. Weights are those of our fit, standard errors those of the
weights (not scaled by chi-square).
"""

from __future__ import annotations

import numpy as np
import pytest
from bench.nights import night
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

import pointmodel as pm
from pointmodel.base.arrays import FloatArray

SIX = (
    "azimuth_index",
    "altitude_index",
    "collimation",
    "non_perpendicularity",
    "tilt_north",
    "tilt_east",
)
SAME_ARCMIN = 1e-6
SAME_ERROR = 1e-4  # relative
NIGHTS = 50
STEP_ARCMIN = 0.01  # of slopes by central differences: finer ones drown in rounding


def _looked_at(az_deg: FloatArray, alt_deg: FloatArray, terms: FloatArray) -> FloatArray:
    """Where the tube looks (n, 3), east, north, up, for readings (n,) and terms in arcminutes."""
    index, zero, square, tip, north, east = np.radians(terms / 60.0)
    az, alt = np.radians(az_deg) - index, np.radians(alt_deg) - zero
    nothing = np.zeros_like(az)
    sight = np.array([-np.sin(square), np.cos(square), 0.0])
    raised = Rotation.from_rotvec(np.column_stack([alt, nothing, nothing])).apply(sight)
    tipped = Rotation.from_rotvec([0.0, -tip, 0.0]).apply(raised)
    turned = Rotation.from_rotvec(np.column_stack([nothing, nothing, -az])).apply(tipped)
    # the lean carries the zenith toward (north, east), about the horizontal axis square to that
    return Rotation.from_rotvec([-north, east, 0.0]).apply(turned)


def _misses(terms: FloatArray, log: pm.NightLog) -> FloatArray:
    """How far beside and above each star the tube looked (2n,), arcminutes along the arc."""
    az, alt = np.radians(log.commanded_az_deg), np.radians(log.commanded_alt_deg)
    star = np.column_stack([np.sin(az) * np.cos(alt), np.cos(az) * np.cos(alt), np.sin(alt)])
    aside = np.column_stack([np.cos(az), -np.sin(az), np.zeros_like(az)])
    above = np.cross(aside, star) * -1.0
    above = np.where(above[:, 2:] < 0.0, -above, above)
    looked = _looked_at(log.centred_az_deg, log.centred_alt_deg, terms)
    off = np.array([(looked * aside).sum(axis=1), (looked * above).sum(axis=1)])
    sine = np.hypot(*off)
    arc = np.arctan2(sine, (looked * star).sum(axis=1))
    return (off * arc / sine).ravel() * 60.0 * 180.0 / np.pi


@pytest.mark.parametrize("seed", range(NIGHTS))
def test_values_and_standard_errors_are_scipys(seed: int) -> None:
    pairs = 8 + seed % 17
    log = night(np.random.default_rng(seed), "usual", pairs).log
    fit = pm.fit(log, params=pm.parameters(), priors=False)
    used = ~fit.pairs["set_aside"].to_numpy()
    weights, kept = fit.lmfit.weights, log.select(used)

    def rows(terms: FloatArray) -> FloatArray:
        return _misses(terms, kept) * weights

    def slopes(terms: FloatArray) -> FloatArray:
        steps = STEP_ARCMIN * np.eye(len(terms))
        ends = [8.0 * (rows(terms + h) - rows(terms - h)) for h in steps]
        far = [rows(terms + 2.0 * h) - rows(terms - 2.0 * h) for h in steps]
        return ((np.array(ends) - np.array(far)) / (12.0 * STEP_ARCMIN)).T

    start, sharp = fit.terms["value"].to_numpy() + 0.5, {"xtol": 1e-15, "ftol": 1e-15}
    found = least_squares(rows, start, slopes, method="lm", gtol=1e-15, **sharp)
    # it ends where sums of squares gain nothing more; its own slopes lead the rest of the way
    end = found.x
    for _ in range(2):
        end = end - np.linalg.lstsq(slopes(end), rows(end), rcond=None)[0]
    np.testing.assert_allclose(found.x, end, rtol=0, atol=1e-4)
    np.testing.assert_allclose(fit.terms["value"], end, rtol=0, atol=SAME_ARCMIN)
    errors = np.sqrt(np.diag(np.linalg.inv(found.jac.T @ found.jac)))
    np.testing.assert_allclose(fit.terms["standard_error"], errors, rtol=SAME_ERROR)
    assert tuple(fit.terms.index) == SIX
