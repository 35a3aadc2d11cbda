"""The reported mixture: its limits, moments and draws against brute force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from observed import observed, posterior, seeded_night, settled, truth, winner
from scipy.optimize import brentq
from scipy.stats import norm

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate import termsprior
from pointmodel.estimate.evaluation import settings_for
from pointmodel.estimate.posterior import (
    DRAWS,
    full_evidence,
    mix_of,
    mixture_limits,
    posterior_of,
    table_of,
)
from pointmodel.estimate.search import log_pair_prior
from pointmodel.mount.terms import N_STANDARD

OF_THE_SPREAD = 2e-3  # by which a limit may be off, in standard deviations of the mixture
PROBABILITY = 2e-4  # or the share beyond it, where the density is next to nothing


def _mixture(cells: int, seed: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    random = np.random.default_rng(seed)
    weight = random.dirichlet(np.full(cells, 0.3))
    return weight, random.normal(0, 20, (cells, 4)), np.exp(random.normal(1, 1, (cells, 4)))


def _is_quantile(
    point: float, share: float, weight: FloatArray, mean: FloatArray, sd: FloatArray
) -> bool:
    """Whether `share` of a mixture (m,) lies below a point, or the point is as near as asked."""

    def below(at: float) -> float:
        return float(weight @ norm.cdf((at - mean) / sd))

    exact = brentq(lambda at: below(at) - share, -1e4, 1e4, xtol=1e-9)
    centre = weight @ mean
    spread = np.sqrt(weight @ (sd**2 + (mean - centre) ** 2))
    return abs(exact - point) < OF_THE_SPREAD * spread or abs(below(point) - share) < PROBABILITY


@pytest.mark.parametrize("cells", [1, 2, 5, 40, 400])
def test_the_asked_share_of_a_mixture_lies_beyond_each_limit(cells: int) -> None:
    for seed in range(20):
        weight, mean, sd = _mixture(cells, seed)
        for tail in (0.025, 0.1):
            low, high = mixture_limits(weight, mean, sd, tail)
            for column in range(4):
                cell = weight, mean[:, column], sd[:, column]
                assert _is_quantile(low[column], tail, *cell)
                assert _is_quantile(high[column], 1 - tail, *cell)


def test_limits_of_one_term_do_not_depend_on_the_terms_beside_it() -> None:
    for seed in range(40):
        weight, mean, sd = _mixture(20, seed)
        together = np.array(mixture_limits(weight, mean, sd))
        for column in range(4):
            alone = np.array(mixture_limits(weight, mean[:, [column]], sd[:, [column]]))
            np.testing.assert_allclose(together[:, [column]], alone, atol=0.2)


def test_limits_are_those_of_a_million_draws() -> None:
    weight, mean, sd = _mixture(6, 71)
    random = np.random.default_rng(72)
    cell = random.choice(6, 1_000_000, p=weight)
    for column in range(4):
        drawn = random.normal(mean[cell, column], sd[cell, column])
        low, high = mixture_limits(weight, mean[:, [column]], sd[:, [column]])
        assert np.mean(drawn < low) == pytest.approx(0.025, abs=1e-3)
        assert np.mean(drawn > high) == pytest.approx(0.025, abs=1e-3)


def test_limits_of_one_normal_are_its_quantiles() -> None:
    low, high = mixture_limits(np.ones(1), np.array([[3.0]]), np.array([[2.0]]))
    np.testing.assert_allclose([low[0], high[0]], norm(3, 2).ppf([0.025, 0.975]), atol=2e-3)


def test_a_term_that_most_models_leave_out_has_a_limit_at_nothing() -> None:
    # nine tenths of the weight at exactly zero, the rest a normal about ten
    weight, mean, sd = np.array([0.9, 0.1]), np.array([[0.0], [10.0]]), np.array([[0.0], [1.0]])
    low, high = mixture_limits(weight, mean, sd)
    assert low[0] == pytest.approx(0.0, abs=1e-3)
    assert high[0] == pytest.approx(10 + norm.ppf(0.75), abs=5e-3)


def test_limits_move_and_stretch_with_the_mixture() -> None:
    weight, mean, sd = _mixture(8, 73)
    low, high = mixture_limits(weight, mean, sd)
    moved = mixture_limits(weight, 1e4 - 7 * mean, 7 * sd)
    spread = high - low
    np.testing.assert_allclose((1e4 - moved[0]) / 7, high, atol=1e-3 * spread.max())
    np.testing.assert_allclose((1e4 - moved[1]) / 7, low, atol=1e-3 * spread.max())


NIGHTS = {
    "usual, 12 pairs": ("usual", 12, {}),
    "varied, 6 pairs": ("varied", 6, {}),
    "three pairs": ("usual", 3, {}),
    "flexure": ("usual", 20, {"tube_flexure": 9.0}),
    "a slip": ("usual", 20, {"azimuth_slip": 30.0, "altitude_slip": -10.0}),
}


@pytest.mark.parametrize(("population", "pairs", "terms"), NIGHTS.values(), ids=NIGHTS)
def test_draws_have_the_mean_and_covariance_that_are_reported(
    population: str, pairs: int, terms: dict[str, float]
) -> None:
    found = posterior(observed(seeded_night(2100, population, pairs, terms=terms)))
    assert found.draws.shape == (DRAWS, found.mean.size)
    chosen = found.chosen
    sd = np.sqrt(np.diag(found.covariance))[chosen]
    mean = found.draws[:, chosen].mean(axis=0)
    assert (np.abs(mean - found.mean[chosen]) < 0.04 * sd).all()
    drawn = np.cov(found.draws[:, chosen], rowvar=False)
    # six hundred draws know a correlation to .04 and a standard deviation to 3 %; tails are longer,
    # of three pairs by the few draws of a mount set up without care
    scaled = (drawn - found.covariance[np.ix_(chosen, chosen)]) / np.outer(sd, sd)
    assert np.abs(scaled).max() < (0.4 if pairs == 3 else 0.3)
    assert np.abs(scaled).mean() < 0.12


@pytest.mark.parametrize(("population", "pairs", "terms"), NIGHTS.values(), ids=NIGHTS)
def test_the_asked_share_of_draws_lies_within_the_limits(
    population: str, pairs: int, terms: dict[str, float]
) -> None:
    found = posterior(observed(seeded_night(2101, population, pairs, terms=terms)))
    draws = found.draws[:, found.chosen]
    low, high = found.low[found.chosen], found.high[found.chosen]
    within = ((draws > low) & (draws < high)).mean(axis=0)
    assert (np.abs(within - 0.95) < 0.035).all(), within
    assert (low < found.mean[found.chosen]).all()
    assert (high > found.mean[found.chosen]).all()


@pytest.mark.parametrize(("population", "pairs", "terms"), NIGHTS.values(), ids=NIGHTS)
def test_the_covariance_is_symmetric_and_positive(
    population: str, pairs: int, terms: dict[str, float]
) -> None:
    covariance = posterior(observed(seeded_night(2102, population, pairs, terms=terms))).covariance
    scale = np.abs(covariance).max()
    np.testing.assert_allclose(covariance, covariance.T, atol=1e-9 * scale)
    assert np.linalg.eigvalsh(covariance).min() > -1e-9 * scale


def test_draws_are_the_same_each_time() -> None:
    obs = observed(seeded_night(2103, "varied", 9))
    one, other = posterior(obs), posterior(obs)
    np.testing.assert_array_equal(one.draws, other.draws)
    np.testing.assert_array_equal(one.draws_sigma, other.draws_sigma)


def test_noise_of_the_draws_follows_the_reported_noise() -> None:
    found = posterior(observed(seeded_night(2104, "usual", 20)))
    middle, low, high = found.sigma
    assert low < middle < high
    assert np.median(found.draws_sigma) == pytest.approx(middle, rel=0.1)
    assert np.mean((found.draws_sigma >= low) & (found.draws_sigma <= high)) > 0.9


def test_noise_is_found_within_its_limits() -> None:
    held = 0
    for seed in range(30):
        made = seeded_night(2200 + seed, "usual", 12)
        _, low, high = posterior(observed(made)).sigma
        held += low <= made.sigma_arcmin <= high
    assert held >= 25


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    # 100 nights of six terms: a coarse guard; the bench has the thousands
    held = []
    for seed in range(100):
        made = seeded_night(2300 + seed, ("usual", "varied")[seed % 2], 5 + seed % 10)
        found = posterior(observed(made))
        off = truth(made)
        off[0] += 21600 * np.round((found.mean[0] - off[0]) / 21600)
        held.append((found.low[:6] < off) & (off < found.high[:6]))
    assert 0.92 < np.mean(held) < 0.985


def test_the_mean_is_that_of_one_plain_fit_where_nothing_competes() -> None:
    obs = observed(seeded_night(2400, "usual", 200))
    plain, found = settled(obs), posterior(obs)
    sd = np.sqrt(np.diag(found.covariance))[:N_STANDARD]
    assert (np.abs(found.mean[:N_STANDARD] - plain.mean[:N_STANDARD]) < 0.5 * sd).all()


def test_the_evidence_of_one_scale_is_that_of_the_search() -> None:
    obs = observed(seeded_night(2401, "usual", 12, wrong_stars=1))
    best = winner(obs)
    result = best.result
    table = table_of(result, ())
    mean = result.rows.prior_mean[None, :6]
    one = termsprior.TermsPrior(mean, result.spread[None, :6], np.zeros(1))
    mix = mix_of(table, result.hypothesis.chosen, one, result.noise)
    assert mix.log_evidence == pytest.approx(result.log_evidence, abs=0.02)
    # the mixture of scales weighs no less than a share of its best scale, and no more than all
    scales = termsprior.mixture(result.hypothesis.at[:6], result.mean[:6])
    flat = replace(scales, log_weight=np.zeros_like(scales.log_weight))
    best_scale = mix_of(table, (), flat, result.noise).by_prior.max()
    mixture = full_evidence(best, settings_for(None, obs)) - log_pair_prior(result, best.scores)
    assert best_scale + termsprior.LOG_SCALE_WEIGHT.min() < mixture < best_scale


def test_one_pair_leaves_the_terms_to_their_priors_and_no_wider() -> None:
    obs = observed(seeded_night(2402, "perfect", 1))
    found = posterior_of(winner(obs), settings_for(None, obs))
    scales = np.exp(termsprior.LOG_SCALE_WEIGHT) @ termsprior.SCALES**2
    prior_sd = termsprior.BASE_SD * np.sqrt(scales)
    sd = np.sqrt(np.diag(found.covariance))[:N_STANDARD]
    assert (sd < 1.05 * prior_sd).all()
    # a pair that shows no error at all speaks for a good mount, yet not for a perfect one
    assert (sd[2:4] > termsprior.BASE_SD[2:4]).all()
