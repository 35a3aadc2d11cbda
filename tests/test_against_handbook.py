"""Student's t, the normal and chi-square distributions against handbook tables and scipy.

Integrating the noise out must give what degrees of freedom give: with a flat prior on ln sigma and
none on the coefficients, these are Student's t with as many degrees of freedom as rows left over.
"""

from __future__ import annotations

import numpy as np
import pytest
from authorities import handbook
from scipy.stats import chi2, norm
from scipy.stats import t as student

from pointmodel.base.normal import log_normal_2d, normal_distribution
from pointmodel.estimate.evaluation import SEARCH_NODES
from pointmodel.estimate.gaussian import (
    Moments,
    NoisePrior,
    log_likelihood,
    noise_grid,
    normalised,
    spectrum,
)
from pointmodel.estimate.posterior import mixture_limits

TABLE_FIGURES = 6e-4  # the table has three decimals
OF_THE_INTERVAL = 2e-3  # share of a half-width that nodes and Newton's steps may cost
PROBABILITY = 1e-7
ANY_NOISE = NoisePrior(0.0, 1e4)
COLUMNS = 4


def _half_widths(freedom: int, nodes: int, seed: int) -> np.ndarray:
    """Half-widths (2 limits, columns) of the intervals of a regression, in standard errors."""
    random = np.random.default_rng(seed)
    rows = COLUMNS + freedom
    design = random.standard_normal((rows, COLUMNS))
    data = design @ np.array([3.0, -1.0, 0.0, 10.0]) + 0.7 * random.standard_normal(rows)
    moments = Moments(design.T @ design, design.T @ data, float(data @ data), rows)
    spec = spectrum(moments, np.full((1, COLUMNS), 1e6))
    noise = noise_grid(ANY_NOISE, lambda v: log_likelihood(spec, v)[0], nodes)
    weight, _ = normalised(log_likelihood(spec, noise.variance)[0] + noise.log_prior)
    total = spec.eigenvalues[0] + noise.variance[:, None]
    mean = (spec.score[0] / total) @ spec.basis[0].T
    sd = np.sqrt((noise.variance[:, None] / total) @ (spec.basis[0] ** 2).T)
    low, high = mixture_limits(weight, mean, sd)
    best, misfit, *_ = np.linalg.lstsq(design, data)
    error = np.sqrt(misfit / freedom * np.diag(np.linalg.inv(design.T @ design)))
    return np.array([best - low, high - best]) / error


@pytest.mark.parametrize("freedom", handbook.STUDENT_975)
def test_limits_with_the_noise_integrated_out_are_students(freedom: int) -> None:
    quantile = handbook.STUDENT_975[freedom]
    assert student(freedom).ppf(0.975) == pytest.approx(quantile, abs=TABLE_FIGURES)
    widths = _half_widths(freedom, SEARCH_NODES, freedom)
    np.testing.assert_allclose(widths, quantile, rtol=OF_THE_INTERVAL, atol=TABLE_FIGURES)


def test_more_nodes_do_not_change_the_limits() -> None:
    np.testing.assert_allclose(
        _half_widths(5, SEARCH_NODES, 5), _half_widths(5, 200, 5), rtol=OF_THE_INTERVAL
    )


@pytest.mark.parametrize("argument", handbook.NORMAL)
def test_the_normal_distribution_is_the_handbooks(argument: float) -> None:
    below = handbook.NORMAL[argument]
    found = normal_distribution(np.array([argument, -argument]))
    np.testing.assert_allclose(found, [below, 1.0 - below], atol=PROBABILITY)


def test_the_normal_distribution_is_scipys_everywhere() -> None:
    z = np.linspace(-40.0, 40.0, 160_001)
    np.testing.assert_allclose(normal_distribution(z), norm.cdf(z), atol=PROBABILITY)


@pytest.mark.parametrize("above", handbook.CHI_SQUARE_2)
def test_the_density_of_a_miss_holds_chi_square_with_two_degrees_of_freedom(above: float) -> None:
    quantile = handbook.CHI_SQUARE_2[above]
    assert chi2(2).isf(above) == pytest.approx(quantile, abs=1e-5)
    # sum the density over a fine raster outside the ellipse of this squared distance
    side = np.linspace(-12.0, 12.0, 1201)
    x, y = np.meshgrid(side, side)
    covariance = (np.array(2.0), np.array(-0.7), np.array(1.5))
    density = np.exp(log_normal_2d(np.stack([x, y], axis=-1), covariance))
    square = (1.5 * x * x + 2 * 0.7 * x * y + 2.0 * y * y) / (2.0 * 1.5 - 0.7**2)
    cell = (side[1] - side[0]) ** 2
    assert density.sum() * cell == pytest.approx(1.0, abs=1e-6)
    assert density[square > quantile].sum() * cell == pytest.approx(above, abs=1e-3)
