"""Least squares and the influence of single pairs against statsmodels, and against brute refits.

With the prior made irrelevant and the noise fixed, the estimator is ordinary least squares.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from authorities import longley
from observed import observed, seeded_night, settled
from scipy.stats import multivariate_normal
from statsmodels.stats.outliers_influence import OLSInfluence

from pointmodel.estimate.evaluation import (
    Evaluation,
    Rows,
    leave_one_out,
    moments_of,
)
from pointmodel.estimate.gaussian import NoiseGrid, spectrum
from pointmodel.mount.terms import N_STANDARD

SIX = np.arange(N_STANDARD)
HARDLY_A_PRIOR = 1e6
CLOSE = 1e-6  # relative; the guard against pairs that alone fix a term takes 1e-9 of each


def _without_prior(rows: Rows, like: Evaluation, variance: float, good: np.ndarray) -> Evaluation:
    """An evaluation of these rows with one noise variance and no prior to speak of."""
    sd = np.full(N_STANDARD, HARDLY_A_PRIOR)
    spec = spectrum(moments_of(rows, good, SIX), sd[None])
    noise = NoiseGrid(np.sqrt([variance]), np.array([variance]), np.zeros(1))
    mean = spec.basis[0] @ (spec.score[0] / (spec.eigenvalues[0] + variance))
    hypothesis = replace(like.hypothesis, good=good, chosen=())
    return Evaluation(hypothesis, like.problem, rows, sd, spec, noise, np.ones(1), mean, 0.0)


def _night_rows(pairs: int, seed: int) -> tuple[Rows, Evaluation]:
    result = settled(observed(seeded_night(seed, "usual", pairs)))
    return result.rows, result


def _flat(rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    return rows.design[..., SIX].reshape(-1, N_STANDARD), rows.data.ravel()


def test_terms_and_their_errors_are_those_of_ordinary_least_squares() -> None:
    rows, like = _night_rows(12, 31)
    design, data = _flat(rows)
    theirs = sm.OLS(data, design).fit()
    everyone = np.ones(12, dtype=bool)
    ours = _without_prior(rows, like, float(theirs.scale), everyone)
    share = ours.variance / (ours.spectrum.eigenvalues[0] + ours.variance)
    np.testing.assert_allclose(ours.mean, theirs.params, rtol=CLOSE)
    np.testing.assert_allclose(np.sqrt(ours.spectrum.basis[0] ** 2 @ share), theirs.bse, rtol=CLOSE)


def _one_equation_a_pair() -> tuple[Rows, Evaluation, OLSInfluence, float]:
    """Longley's six columns as the first equation of each pair; the second says nothing."""
    table = np.array(longley.ROWS)
    about = table - table.mean(axis=0)
    columns = about[:, 1:] / np.linalg.norm(about[:, 1:], axis=0)
    data = about[:, 0] / 1000.0
    like = settled(observed(seeded_night(32, "usual", 16)))
    rows = Rows(
        np.stack([columns, np.zeros_like(columns)], axis=1),
        np.stack([data, np.zeros_like(data)], axis=1),
        np.ones((16, 2)),
        np.zeros(N_STANDARD),
    )
    theirs = sm.OLS(data, columns).fit()
    return rows, like, OLSInfluence(theirs), float(theirs.scale)


def test_leverage_is_the_diagonal_of_the_hat_matrix() -> None:
    rows, like, influence, scale = _one_equation_a_pair()
    leverage = leave_one_out(_without_prior(rows, like, scale, np.ones(16, dtype=bool)))[3]
    # ours is the mean over a pair's two equations, of which only one says something here
    np.testing.assert_allclose(2.0 * leverage, influence.hat_matrix_diag, rtol=CLOSE)


def test_misses_from_the_others_are_the_deleted_residuals() -> None:
    rows, like, influence, scale = _one_equation_a_pair()
    miss = leave_one_out(_without_prior(rows, like, scale, np.ones(16, dtype=bool)))[1]
    np.testing.assert_allclose(miss[:, 0], influence.resid_press, rtol=CLOSE)
    np.testing.assert_allclose(miss[:, 1], 0.0, atol=1e-12)


def test_squared_distances_are_those_of_internally_studentised_residuals() -> None:
    rows, like, influence, scale = _one_equation_a_pair()
    square = leave_one_out(_without_prior(rows, like, scale, np.ones(16, dtype=bool)))[2]
    np.testing.assert_allclose(square, influence.resid_studentized_internal**2, rtol=CLOSE)


def test_with_the_others_noise_they_are_those_of_externally_studentised_residuals() -> None:
    rows, like, influence, _ = _one_equation_a_pair()
    everyone = np.ones(16, dtype=bool)
    for pair in range(16):
        variance = float(influence.sigma2_not_obsi[pair])
        square = leave_one_out(_without_prior(rows, like, variance, everyone))[2]
        assert square[pair] == pytest.approx(
            influence.resid_studentized_external[pair] ** 2, rel=CLOSE
        )


def _refitted_without(rows: Rows, pair: int) -> tuple[np.ndarray, np.ndarray]:
    """Miss of a pair from a fit of the others (2,), and its covariance at unit noise (2, 2)."""
    others = np.arange(len(rows.data)) != pair
    design, data = rows.design[others][..., SIX].reshape(-1, N_STANDARD), rows.data[others].ravel()
    found, *_ = np.linalg.lstsq(design, data)
    own = rows.design[pair][:, SIX]
    return rows.data[pair] - own @ found, np.eye(2) + own @ np.linalg.inv(design.T @ design) @ own.T


@pytest.mark.parametrize("pairs", [5, 8, 20])
def test_one_decomposition_says_what_refits_without_each_pair_say(pairs: int) -> None:
    rows, like = _night_rows(pairs, 33)
    variance = 1.7
    everyone = np.ones(pairs, dtype=bool)
    result = _without_prior(rows, like, variance, everyone)
    log_density, miss, square, _ = leave_one_out(result)
    for pair in range(pairs):
        brute_miss, brute_unit = _refitted_without(rows, pair)
        expected = multivariate_normal([0.0, 0.0], variance * brute_unit)
        scale = np.sqrt(np.diag(brute_unit)).max()
        np.testing.assert_allclose(miss[pair], brute_miss, rtol=1e-4, atol=1e-5 * scale)
        brute_square = brute_miss @ np.linalg.solve(variance * brute_unit, brute_miss)
        assert square[pair] == pytest.approx(brute_square, rel=1e-4, abs=1e-5)
        assert log_density[pair] == pytest.approx(expected.logpdf(brute_miss), rel=1e-4)


def test_a_pair_that_is_out_is_scored_like_one_whose_own_pull_was_taken_away() -> None:
    rows, like = _night_rows(12, 34)
    everyone = np.ones(12, dtype=bool)
    inside = leave_one_out(_without_prior(rows, like, 1.3, everyone))
    for pair in range(12):
        without = everyone.copy()
        without[pair] = False
        outside = leave_one_out(_without_prior(rows, like, 1.3, without))
        for figure_in, figure_out in zip(inside[:3], outside[:3], strict=True):
            np.testing.assert_allclose(figure_in[pair], figure_out[pair], rtol=1e-5, atol=1e-6)
        assert outside[3][pair] == 0.0
