"""The linear core against the same sums written out in full."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal, norm

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate import termsprior
from pointmodel.estimate.gaussian import (
    COARSE_SIGMA_ARCMIN,
    Moments,
    NoisePrior,
    grid,
    log_likelihood,
    noise_grid,
    normalised,
    spectrum,
)
from pointmodel.mount.priors import FREE_AZIMUTH_SD_ARCMIN
from pointmodel.mount.terms import N_STANDARD

USUAL_NOISE = termsprior.noise_of_portable_mounts()


def _problem(rows: int, columns: int, seed: int = 51) -> tuple[FloatArray, FloatArray, FloatArray]:
    random = np.random.default_rng(seed)
    design = random.standard_normal((rows, columns))
    sd = random.uniform(0.5, 20.0, columns)
    data = design @ (sd * random.standard_normal(columns)) + random.standard_normal(rows)
    return design, data, sd


def _moments(design: FloatArray, data: FloatArray, log_jacobian: float = 0.0) -> Moments:
    return Moments(design.T @ design, design.T @ data, float(data @ data), data.size, log_jacobian)


@pytest.mark.parametrize(("rows", "columns"), [(20, 6), (6, 6), (4, 6), (2, 6), (1, 1)])
@pytest.mark.parametrize("variance", [0.01, 1.0, 50.0])
def test_the_likelihood_is_the_normal_one_of_the_data(
    rows: int, columns: int, variance: float
) -> None:
    design, data, sd = _problem(rows, columns)
    spec = spectrum(_moments(design, data, log_jacobian=-0.7), sd[None])
    covariance = (design * sd**2) @ design.T + variance * np.eye(rows)
    expected = multivariate_normal(np.zeros(rows), covariance).logpdf(data) - 0.7
    assert log_likelihood(spec, np.array([variance]))[0, 0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("rows", [30, 6, 3])
def test_mean_and_covariance_are_those_of_the_normal_equations(rows: int) -> None:
    design, data, sd = _problem(rows, 6)
    spec = spectrum(_moments(design, data), sd[None])
    variance = 2.3
    precision = design.T @ design / variance + np.diag(sd**-2.0)
    covariance = np.linalg.inv(precision)
    total = spec.eigenvalues[0] + variance
    basis = spec.basis[0]
    np.testing.assert_allclose(
        basis @ (spec.score[0] / total), covariance @ design.T @ data / variance, rtol=1e-7
    )
    np.testing.assert_allclose((basis * (variance / total)) @ basis.T, covariance, rtol=1e-7)


def test_what_no_row_says_keeps_its_prior() -> None:
    design, data, sd = _problem(2, 6)
    design[:, 3:] = 0.0
    spec = spectrum(_moments(design, data), sd[None])
    share = 0.5 / (spec.eigenvalues[0] + 0.5)
    posterior_sd = np.sqrt(spec.basis[0] ** 2 @ share)
    np.testing.assert_allclose(posterior_sd[3:], sd[3:])
    assert (posterior_sd[:3] <= sd[:3]).all()


def test_alternative_priors_are_treated_as_if_each_stood_alone() -> None:
    design, data, sd = _problem(9, 6)
    several = sd * np.array([0.5, 1.0, 4.0])[:, None]
    variance = np.array([0.3, 1.0, 9.0])
    together = log_likelihood(spectrum(_moments(design, data), several), variance)
    assert together.shape == (3, 3)
    for row, own in zip(together, several, strict=True):
        alone = log_likelihood(spectrum(_moments(design, data), own[None]), variance)
        np.testing.assert_allclose(row, alone[0], rtol=1e-10)


def test_a_perfect_fit_has_no_misfit_below_nothing() -> None:
    design, _, sd = _problem(40, 6)
    data = design @ (1e5 * np.ones(6))
    spec = spectrum(_moments(design, data), (1e6 * sd)[None])
    heights = log_likelihood(spec, np.array([1e-5, 1e-3]) ** 2)[0]
    assert np.isfinite(heights).all()
    # no data left over can raise the density above that of a fit without any misfit
    assert heights[0] <= -0.5 * 40 * np.log(2 * np.pi * 1e-10)


def test_the_grid_weighs_by_the_prior_density_of_ln_sigma() -> None:
    fine = np.exp(np.linspace(-6.0, 7.0, 4001))
    nodes = grid(USUAL_NOISE, fine)
    assert np.exp(nodes.log_prior).sum() == pytest.approx(1.0, abs=1e-6)
    expected = norm(USUAL_NOISE.log_mean, USUAL_NOISE.log_sd)
    below = np.exp(nodes.log_prior)[fine < 1.0].sum()
    assert below == pytest.approx(expected.cdf(0.0), abs=1e-3)


def test_the_known_part_of_the_noise_is_added_to_each_node() -> None:
    nodes = grid(NoisePrior(0.0, 1.0, floor=4.0), np.array([1.0, 2.0]))
    assert nodes.variance.tolist() == [5.0, 8.0]


@pytest.mark.parametrize("sigma_arcmin", [0.01, 0.1, 1.0, 20.0, 150.0])
@pytest.mark.parametrize("rows", [4, 30, 20_000])
def test_the_noise_grid_stands_where_the_noise_is_however_sharply_known(
    rows: int, sigma_arcmin: float
) -> None:
    design, _, sd = _problem(rows, 3)
    random = np.random.default_rng(52)
    data = design @ np.array([3.0, -2.0, 1.0]) + sigma_arcmin * random.standard_normal(rows)
    spec = spectrum(_moments(design, data), sd[None])
    vague = NoisePrior(np.log(1.3), 3.0)

    def height(variance: FloatArray) -> FloatArray:
        return log_likelihood(spec, variance)[0]

    nodes = noise_grid(vague, height, 24)
    weight, log_evidence = normalised(height(nodes.variance) + nodes.log_prior)
    assert nodes.sigma.size == 24
    assert np.count_nonzero(weight > 0.01) >= 4
    # sums over these few nodes are those over very many
    fine = grid(vague, np.exp(np.linspace(np.log(0.003), np.log(400.0), 60_001)))
    fine_weight, fine_evidence = normalised(height(fine.variance) + fine.log_prior)
    assert log_evidence == pytest.approx(fine_evidence, abs=0.02)
    mean, fine_mean = weight @ np.log(nodes.sigma), fine_weight @ np.log(fine.sigma)
    spread = np.sqrt(fine_weight @ (np.log(fine.sigma) - fine_mean) ** 2)
    assert mean == pytest.approx(fine_mean, abs=0.03 * spread)


def test_one_pair_leaves_the_noise_to_its_prior() -> None:
    design, data, sd = _problem(2, 6)
    spec = spectrum(_moments(design, data), (100 * sd)[None])
    nodes = noise_grid(USUAL_NOISE, lambda v: log_likelihood(spec, v)[0], 24)
    weight, _ = normalised(log_likelihood(spec, nodes.variance)[0] + nodes.log_prior)
    mean = weight @ np.log(nodes.sigma)
    sd_of_ln = np.sqrt(weight @ (np.log(nodes.sigma) - mean) ** 2)
    assert mean == pytest.approx(USUAL_NOISE.log_mean, abs=0.05)
    assert sd_of_ln == pytest.approx(USUAL_NOISE.log_sd, abs=0.05)


def test_the_coarse_grid_reaches_from_tenths_of_arcseconds_to_degrees() -> None:
    assert COARSE_SIGMA_ARCMIN[0] * 60 <= 0.2
    assert COARSE_SIGMA_ARCMIN[-1] > 300.0
    assert np.diff(np.log(COARSE_SIGMA_ARCMIN)).max() < 0.25


def test_weights_sum_to_one_and_their_sum_is_kept_as_a_logarithm() -> None:
    logs = np.array([[-1e5, -1e5 + 1.0], [-1e5 - 3.0, -1e5 - 900.0]])
    weights, total = normalised(logs)
    assert weights.sum() == pytest.approx(1.0)
    assert total == pytest.approx(logsumexp(logs), rel=1e-12)
    np.testing.assert_allclose(np.log(weights[0, 1] / weights[0, 0]), 1.0)


def test_the_81_scales_of_the_priors_share_one_probability() -> None:
    assert termsprior.SCALES.shape == (81, N_STANDARD)
    assert np.exp(termsprior.LOG_SCALE_WEIGHT).sum() == pytest.approx(1.0)
    assert len(np.unique(termsprior.SCALES[:, 1:5], axis=0)) == 81
    assert (termsprior.SCALES[:, 4] == termsprior.SCALES[:, 5]).all()
    assert (termsprior.SCALES[:, 0] == 1.0).all()


def test_groups_of_like_scale_are_likelier_than_unlike_ones() -> None:
    alike = (termsprior.SCALES[:, 1:5] == termsprior.SCALES[:, 1:2]).all(axis=1)
    assert alike.sum() == 3
    assert termsprior.LOG_SCALE_WEIGHT[alike].min() > termsprior.LOG_SCALE_WEIGHT[~alike].max()


def test_priors_give_way_to_large_estimates_and_never_narrow() -> None:
    small = termsprior.plug_in_sd(np.zeros(N_STANDARD))
    np.testing.assert_allclose(small, termsprior.BASE_SD)
    large = termsprior.plug_in_sd(np.array([300.0, 300.0, 100.0, 80.0, 400.0, 0.0]))
    assert (large > 1.9 * termsprior.BASE_SD).all()
    # the tilts are one vector with two degrees of freedom: (4 + 16²)/6
    assert large[4] == large[5] == pytest.approx(termsprior.BASE_SD[4] * np.sqrt(260 / 6))


def test_an_azimuth_far_off_has_no_prior_to_speak_of_and_the_change_is_said_once() -> None:
    assert termsprior.azimuth_sd(0.0) == termsprior.BASE_SD[0]
    assert termsprior.azimuth_sd(-590.0) == termsprior.azimuth_sd(590.0) > 150.0
    assert termsprior.azimuth_sd(5000.0) == termsprior.azimuth_sd(-601.0) == FREE_AZIMUTH_SD_ARCMIN
