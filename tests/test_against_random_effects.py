"""How nights differ, against random-effects meta-analysis: a published one and statsmodels.

The published one: Colditz et al. 1994 (see `authorities/vaccine_trials.py`).
"""

from __future__ import annotations

import numpy as np
import pytest
from authorities.vaccine_trials import (
    BETWEEN_VARIANCE,
    BETWEEN_VARIANCE_LIMITS,
    MISFIT,
    POOLED,
    log_risk_ratios,
)
from statsmodels.stats.meta_analysis import combine_effects

from pointmodel.comparing import pooling
from pointmodel.comparing.blocks import COMMON_SD
from pointmodel.comparing.evidence import Assumptions, Nights, conclusions, log_evidence

LAST_DIGIT = 0.0006


def nights_that_know_one_term(value: np.ndarray, variance: np.ndarray, term: int) -> Nights:
    """Nights whose pairs say one term, of such an error, and nothing else."""
    mean, root = np.zeros((value.size, 6)), np.zeros((value.size, 6, 6))
    mean[:, term], root[:, term, term] = value, 1.0 / np.sqrt(variance)
    return Nights(mean, root, 0.0)


def assumed(between_sd: np.ndarray, term: int) -> Assumptions:
    nothing = np.zeros((between_sd.size, 6))
    sd = nothing.copy()
    sd[:, term] = between_sd
    return Assumptions(sd, nothing, nothing.astype(int))


def test_the_counts_are_those_of_the_trials() -> None:
    value, variance = log_risk_ratios()
    mean = (value / variance).sum() / (1 / variance).sum()
    assert ((value - mean) ** 2 / variance).sum() == pytest.approx(MISFIT, abs=0.006)


def test_the_first_moment_estimate_is_the_printed_variance_between_trials() -> None:
    value, variance = log_risk_ratios()
    found = pooling.moment_variance(value, variance, 1.0 / variance)
    assert found == pytest.approx(BETWEEN_VARIANCE, abs=LAST_DIGIT)


def test_the_common_value_at_that_variance_is_the_printed_pooled_effect() -> None:
    value, variance = log_risk_ratios()
    nights = nights_that_know_one_term(value, variance, 4)
    sd = np.sqrt([pooling.moment_variance(value, variance, 1.0 / variance)])
    follows = conclusions(nights, assumed(sd, 4))
    assert follows.common_mean[0, 4] == pytest.approx(POOLED, abs=LAST_DIGIT)


def test_the_pooled_mean_and_its_error_are_those_of_statsmodels() -> None:
    value, variance = log_risk_ratios()
    theirs = combine_effects(value, variance, method_re="iterated", atol=1e-12, maxiter=500)
    ours = pooling.random_effects(value, variance)
    assert ours.between_variance == pytest.approx(theirs.tau2, rel=1e-5)
    assert ours.mean == pytest.approx(theirs.mean_effect_re, rel=1e-6)
    assert ours.standard_error == pytest.approx(theirs.sd_eff_w_re, rel=1e-5)


def test_the_one_step_estimate_is_that_of_statsmodels() -> None:
    value, variance = log_risk_ratios()
    theirs = combine_effects(value, variance, method_re="chi2")
    ours = pooling.moment_variance(value, variance, 1.0 / variance)
    assert ours == pytest.approx(theirs.tau2, rel=1e-9)


def test_the_posterior_of_the_spread_agrees_with_the_published_interval() -> None:
    """A term's own estimate on the same trials, in arcminutes ten times as large."""
    value, variance = log_risk_ratios()
    nights = nights_that_know_one_term(10.0 * value, 100.0 * variance, 4)
    grid = np.exp(np.linspace(np.log(0.5), np.log(60.0), 400))
    log_weight = log_evidence(nights, assumed(grid, 4)) + np.log(grid)
    share = np.cumsum(np.exp(log_weight - log_weight.max()))
    low, middle, high = np.interp([0.025, 0.5, 0.975], share / share[-1], grid / 10.0)
    assert np.sqrt(BETWEEN_VARIANCE) == pytest.approx(middle, rel=0.12)
    assert low == pytest.approx(np.sqrt(BETWEEN_VARIANCE_LIMITS[0]), rel=0.15)
    assert high == pytest.approx(np.sqrt(BETWEEN_VARIANCE_LIMITS[1]), rel=0.15)


def test_the_evidence_of_a_spread_is_the_normal_density_of_the_nights() -> None:
    value, variance = log_risk_ratios()
    nights = nights_that_know_one_term(value, variance, 4)
    sds = np.array([0.2, 0.6, 1.5])
    found = log_evidence(nights, assumed(sds, 4))
    wanted = []
    for sd in sds:
        covariance = np.diag(variance + sd**2) + COMMON_SD[4] ** 2
        size = np.linalg.slogdet(covariance)[1]
        wanted.append(-0.5 * (size + value @ np.linalg.solve(covariance, value)))
    assert np.diff(found) == pytest.approx(np.diff(wanted), abs=1e-6)


def test_nights_that_agree_within_their_errors_differ_by_nothing() -> None:
    found = pooling.random_effects(np.array([1.0, 1.1]), np.array([1.0, 1.0]))
    assert found.between_variance == 0.0
    assert found.mean == pytest.approx(1.05)


def test_a_trend_is_found_with_its_error() -> None:
    rng = np.random.default_rng(3)
    slopes = np.array([
        pooling.trend(0.1 * np.arange(8) + rng.normal(0, 0.2, 8), np.full(8, 0.04))
        for _ in range(300)
    ])  # fmt: skip
    assert slopes[:, 0].mean() == pytest.approx(0.1, abs=0.005)
    assert slopes[:, 0].std() == pytest.approx(slopes[:, 1].mean(), rel=0.2)
