"""The linear core against NIST's certified polynomial regressions, Wampler 1 to 5.

NIST Statistical Reference Datasets, linear regression (Wampler 1970, J. Am. Stat. Assoc. 65, 549).
The data of 1 and 2 follow from their polynomials exactly; the noise of 3, 100 and 10,000 times as
large in 4 and 5, and the certified standard deviations are from memory: a slip among them would not
give unit coefficients and the certified misfit. The core works with XᵀX, which squares the
condition of the columns: powers are taken of x centred and scaled to −1 to 1, and turned back.
"""

from __future__ import annotations

from math import comb

import numpy as np
import pytest

from pointmodel.estimate.gaussian import Moments, spectrum

X = np.arange(21.0)
DEGREE = 5
POLYNOMIAL = sum(X**k for k in range(DEGREE + 1))
Y_3 = np.array([
    760, -2042, 2111, -1684, 3888, 1858, 11379, 17560, 39287, 64382, 113159, 175108, 273291, 400186,
    581243, 811568, 1121004, 1506550, 2002767, 2611612, 3369180,
], dtype=float)  # fmt: skip
NOISE = Y_3 - POLYNOMIAL
# certified for Wampler 3; of 4 and 5 they are 100 and 10,000 times as large
STANDARD_DEVIATIONS = np.array([
    2152.32624678170, 2363.55173469681, 779.343524331583, 101.475507550350, 5.64566512170752,
    0.112324854679312,
])  # fmt: skip
RESIDUAL_STANDARD_DEVIATION = 2360.14502379268
HARDLY_A_PRIOR = 1e16
ONES = np.ones(DEGREE + 1)


def _back() -> np.ndarray:
    """What turns coefficients of ((x − 10) / 10)ᵏ into those of xᵏ."""
    back = np.zeros((DEGREE + 1, DEGREE + 1))
    for k in range(DEGREE + 1):
        for power in range(k + 1):
            back[power, k] = comb(k, power) * (-10.0) ** (k - power) / 10.0**k
    return back


def _fitted(y: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Coefficients of xᵏ, their covariance for unit variance, the misfit's standard deviation."""
    design = np.vander((X - 10.0) / 10.0, DEGREE + 1, increasing=True)
    moments = Moments(design.T @ design, design.T @ y, float(y @ y), y.size)
    spec = spectrum(moments, np.full((1, DEGREE + 1), HARDLY_A_PRIOR))
    scaled = spec.basis[0] @ (spec.score[0] / spec.eigenvalues[0])
    basis = _back() @ spec.basis[0]
    misfit = y - design @ scaled
    sd = float(np.sqrt(misfit @ misfit / (y.size - DEGREE - 1)))
    return _back() @ scaled, (basis / spec.eigenvalues[0]) @ basis.T, sd


def test_wampler_1_and_2_are_polynomials_and_come_out_exactly() -> None:
    coefficients, _, sd = _fitted(POLYNOMIAL)
    np.testing.assert_allclose(coefficients, ONES, rtol=1e-6)
    assert sd < 1e-6
    tenths = 0.1 ** np.arange(DEGREE + 1)
    coefficients, _, _ = _fitted(sum(c * X**k for k, c in enumerate(tenths)))
    np.testing.assert_allclose(coefficients, tenths, rtol=1e-6)


@pytest.mark.parametrize(("name", "times"), [("3", 1.0), ("4", 100.0), ("5", 10000.0)])
def test_wampler_3_to_5_come_out_as_certified(name: str, times: float) -> None:
    coefficients, covariance, sd = _fitted(POLYNOMIAL + times * NOISE)
    np.testing.assert_allclose(coefficients, ONES, atol=1e-9 * times * STANDARD_DEVIATIONS.max())
    np.testing.assert_allclose(sd, times * RESIDUAL_STANDARD_DEVIATION, rtol=1e-9)
    np.testing.assert_allclose(
        sd * np.sqrt(np.diag(covariance)), times * STANDARD_DEVIATIONS, rtol=1e-8
    )
