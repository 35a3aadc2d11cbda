"""`fit.lmfit` as a user of lmfit expects it: arcminutes, weights, reports, intervals, pictures."""

from __future__ import annotations

import pickle

import lmfit
import matplotlib
import numpy as np
import pytest
from bench.nights import night
from lmfit.model import ModelResult
from matplotlib import pyplot

import pointmodel as pm

matplotlib.use("Agg")


@pytest.fixture(scope="module")
def fit() -> pm.Fit:
    return pm.fit(night(np.random.default_rng(5), "usual", 20, wrong_stars=1).log)


def test_it_is_a_model_result_whose_data_are_the_logged_misses(fit: pm.Fit) -> None:
    result = fit.lmfit
    assert isinstance(result, ModelResult)
    used = ~fit.pairs["set_aside"]
    before = fit.pairs.loc[used, ["before_x_arcmin", "before_y_arcmin"]].to_numpy()
    np.testing.assert_allclose(result.data, before.T.ravel(), atol=1e-9)
    left = fit.pairs.loc[used, ["residual_x_arcmin", "residual_y_arcmin"]].to_numpy()
    np.testing.assert_allclose(result.data - result.best_fit, left.T.ravel(), atol=0.02)
    np.testing.assert_allclose(result.residual, (result.data - result.best_fit) * result.weights)


def test_its_weights_are_one_over_the_noise_and_its_r_squared_is_that_of_the_pairs(
    fit: pm.Fit,
) -> None:
    result = fit.lmfit
    np.testing.assert_allclose(1.0 / result.weights, fit.noise.sigma_arcmin, rtol=0.1)
    about = result.data - result.data.mean()
    left = result.data - result.best_fit
    assert result.rsquared == pytest.approx(1.0 - (left @ left) / (about @ about))
    assert 0.99 < result.rsquared < 1.0
    assert 0.3 < result.redchi < 2.0
    assert "R-squared" in result.fit_report()


def test_its_values_are_those_of_the_fit(fit: pm.Fit) -> None:
    for name, row in fit.terms.iterrows():
        own = fit.lmfit.params[name]
        assert abs(own.value - row["value"]) < 0.02 * row["standard_error"]
        assert own.stderr == pytest.approx(row["standard_error"], rel=0.2)


def test_it_says_what_is_missed_elsewhere(fit: pm.Fit) -> None:
    az, alt = np.array([40.0, 200.0]), np.array([30.0, 60.0])
    misses = fit.lmfit.eval(az_deg=az, alt_deg=alt).reshape(2, 2)
    command_az, command_alt = fit.aim(az, alt)
    across = (command_az - az + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(misses[1], 60.0 * (command_alt - alt), atol=1.5)
    np.testing.assert_allclose(misses[0], 60.0 * across * np.cos(np.radians(alt)), atol=1.5)
    assert (fit.lmfit.eval_uncertainty(az_deg=az, alt_deg=alt) > 0.0).all()


def test_intervals_in_one_and_two_dimensions(fit: pm.Fit) -> None:
    result = fit.lmfit
    (_, low), (_, best), (_, high) = result.conf_interval(p_names=["tilt_north"], sigmas=[0.95])[
        "tilt_north"
    ]
    row = fit.terms.loc["tilt_north"]
    assert best == pytest.approx(row["value"], abs=0.02 * row["standard_error"])
    assert high - low == pytest.approx(row["high"] - row["low"], rel=0.15)
    grid = lmfit.conf_interval2d(result, result, "tilt_north", "tilt_east", 3, 3)[2]
    assert grid[1, 1] < 0.1
    assert grid.min() >= 0.0
    assert "tilt_north" in result.ci_report()


def test_an_interval_is_found_of_a_value_near_nothing() -> None:
    fit = pm.fit(night(np.random.default_rng(0), "usual", 8).log, priors=False)
    row = fit.terms.loc["collimation"]
    assert abs(row["value"]) < 0.1 * row["standard_error"]
    intervals = fit.lmfit.conf_interval(p_names=["collimation"], sigmas=[0.95])
    (_, low), _, (_, high) = intervals["collimation"]
    assert high - low == pytest.approx(row["high"] - row["low"], rel=0.1)


def test_what_is_minimised_is_ready_for_samplers(fit: pm.Fit) -> None:
    rows = fit.lmfit.misfit(fit.lmfit.params)
    assert float(rows @ rows) == pytest.approx(fit.lmfit.chisqr)
    assert rows.size == fit.lmfit.residual.size + len(fit.terms)
    # a walk by Metropolis' rule over ln p = −½ χ² comes to the standard errors
    random, params = np.random.default_rng(1), fit.lmfit.params.copy()
    root = np.linalg.cholesky(fit.lmfit.covar)
    here = centre = np.array([params[name].value for name in fit.lmfit.var_names])
    now, walk = -0.5 * float(rows @ rows), []
    for _ in range(2000):
        there = here + 1.0 * root @ random.standard_normal(here.size)
        for name, value in zip(fit.lmfit.var_names, there, strict=True):
            params[name].value = value
        rows = fit.lmfit.misfit(params)
        if np.log(random.random()) < -0.5 * float(rows @ rows) - now:
            here, now = there, -0.5 * float(rows @ rows)
        walk.append(here)
    errors = np.sqrt(np.diag(fit.lmfit.covar))
    np.testing.assert_allclose(np.std(walk, axis=0), errors, rtol=0.25)
    np.testing.assert_allclose(np.mean(walk, axis=0), centre, atol=0.4 * errors.max())


def test_it_draws_itself_on_axes_that_are_given(fit: pm.Fit) -> None:
    figure, (left, right) = pyplot.subplots(1, 2)
    assert fit.lmfit.plot_fit(left) is left
    assert fit.lmfit.plot_residuals(right, against="az_deg") is right
    assert left.get_ylabel() == "miss, arcmin"
    assert len(fit.lmfit.plot().axes) == 2
    pyplot.close("all")
    del figure


def test_it_pickles_and_can_be_fitted_again(fit: pm.Fit) -> None:
    again = pickle.loads(pickle.dumps(fit.lmfit))
    assert again.fit_report() == fit.lmfit.fit_report()
    again.params["collimation"].set(value=0.0, vary=False)
    again.fit(params=again.params)
    assert again.nvarys == len(fit.terms) - 1
    assert again.chisqr >= fit.lmfit.chisqr
