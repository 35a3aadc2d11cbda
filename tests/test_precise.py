"""Logs finer than portable mounts are: figures that are exact, terms of a few sigma."""

from __future__ import annotations

import numpy as np
import pytest
from bench import figures
from bench.nights import night

import pointmodel as pm
from pointmodel.estimate import termsprior
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.precise import may_be_exact, with_exact_figures


def test_places_to_a_tenth_of_a_degree_with_offsets_of_arcseconds_are_taken_as_exact():
    fit = pm.fit(figures.published_log(40, 1))
    assert fit.solution.observations.rounding.exact_step_arcmin == pytest.approx(6.0)
    assert fit.noise.sigma_arcmin < 0.1
    assert [notice.code for notice in fit.warnings] == ["exact_figures"]
    assert "go in steps of 6.0′. They are taken as exact" in fit.warnings[0].text


@pytest.mark.parametrize("step_arcsec", [60.0, 360.0])
def test_figures_that_a_display_rounded_are_not_taken_as_exact(step_arcsec):
    for seed in range(12):
        rng = np.random.default_rng([seed, 5])
        made = night(rng, "usual", 12, sigma_arcmin=0.4, readout_step_arcsec=step_arcsec)
        fit = pm.fit(made.log)
        assert fit.solution.observations.rounding.exact_step_arcmin == 0.0
        assert not may_be_exact(fit.solution.candidate)


def test_the_coarser_figures_are_those_taken_as_exact():
    obs = observations_of(pm.fit(figures.published_log(40, 2)).log)
    left = with_exact_figures(obs).rounding
    assert left.star.max() == 0.0
    np.testing.assert_array_equal(left.reading, obs.rounding.reading)
    assert left.step_arcmin == obs.rounding.reading_step_arcmin < 0.01


def test_a_wrong_star_in_a_published_log_is_still_set_aside():
    log = figures.published_log(40, 3)
    log.loc[7, "centred_alt"] += 2.0 / 60.0  # thirty times the noise
    fit = pm.fit(log)
    assert [pair.line for pair in fit.set_aside] == [fit.log.line[7]]


def test_a_wide_eyepiece_lets_the_noise_be_larger():
    usual, wide = termsprior.noise_of_portable_mounts(), termsprior.noise_of_portable_mounts(200.0)
    assert np.exp(usual.log_mean) == pytest.approx(1.3)
    assert np.exp(wide.log_mean) == pytest.approx(5.0)
    assert termsprior.noise_of_portable_mounts(30.0) == usual


def test_careless_centring_is_expected_of_a_mount_set_up_carelessly_alone():
    share = termsprior.CARELESS_AT_SCALE
    near = (termsprior.SCALES[:, 1:] <= 0.8).all(axis=1)
    far = (termsprior.SCALES[:, 1:] >= 5.0).all(axis=1)
    assert share[near].max() < 0.02
    assert share[far].min() > 0.35
