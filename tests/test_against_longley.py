"""The linear core against NIST's certified regression on the Longley data.

The regressors are centred and scaled to unit length first, as is usual with this set: the core
works with XᵀX, which squares the condition of the columns (43275 when only scaled, some 110 when
centred too). A prior a hundred million times wider than the estimates is no prior.
"""

from __future__ import annotations

import numpy as np
from authorities import longley

from pointmodel.estimate.gaussian import Moments, Spectrum, spectrum

CERTIFIED = 1e-8  # relative; figures of the certified values that are asked for
HARDLY_A_PRIOR = 1e12

TABLE = np.array(longley.ROWS)
Y, X = TABLE[:, 0], TABLE[:, 1:]
CENTRE = X.mean(axis=0)
LENGTH = np.linalg.norm(X - CENTRE, axis=0)


def _scaled_design() -> np.ndarray:
    return np.column_stack([np.ones(len(Y)), (X - CENTRE) / LENGTH])


def _fitted() -> tuple[Spectrum, np.ndarray]:
    design = _scaled_design()
    moments = Moments(design.T @ design, design.T @ Y, float(Y @ Y), Y.size)
    spec = spectrum(moments, np.full((1, 7), HARDLY_A_PRIOR))
    return spec, spec.basis[0] @ (spec.score[0] / spec.eigenvalues[0])


def _back_to_the_data() -> np.ndarray:
    """What turns coefficients of the centred, scaled columns into those of the columns as given."""
    back = np.diag(np.concatenate([[1.0], 1.0 / LENGTH]))
    back[0, 1:] = -CENTRE / LENGTH
    return back


def test_coefficients_are_nists_certified_ones() -> None:
    _, scaled = _fitted()
    np.testing.assert_allclose(_back_to_the_data() @ scaled, longley.COEFFICIENTS, rtol=CERTIFIED)


def test_the_misfit_is_nists_certified_one() -> None:
    _, scaled = _fitted()
    misfit = Y - _scaled_design() @ scaled
    sd = np.sqrt(misfit @ misfit / (Y.size - 7))
    np.testing.assert_allclose(sd, longley.RESIDUAL_STANDARD_DEVIATION, rtol=CERTIFIED)


def test_standard_deviations_are_nists_certified_ones() -> None:
    spec, _ = _fitted()
    variance = longley.RESIDUAL_STANDARD_DEVIATION**2
    basis = _back_to_the_data() @ spec.basis[0]
    shrunk = variance / (spec.eigenvalues[0] + variance)
    covariance = (basis * shrunk) @ basis.T
    np.testing.assert_allclose(
        np.sqrt(np.diag(covariance)), longley.STANDARD_DEVIATIONS, rtol=CERTIFIED
    )
