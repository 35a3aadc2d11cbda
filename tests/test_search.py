"""The search: what it finds on perfect, faulty and hopeless nights; its algebra against refits."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from observed import (
    chosen_terms,
    circumstances,
    observed,
    posterior,
    seeded_night,
    settled,
    truth,
    winner,
)

from pointmodel.estimate import gaussian, termsprior
from pointmodel.estimate.evaluation import (
    Evaluation,
    Hypothesis,
    leave_one_out,
    moments_of,
    settings_for,
    settle,
    starting_point,
)
from pointmodel.estimate.gaussian import log_likelihood, spectrum
from pointmodel.estimate.observations import Observations, observations
from pointmodel.estimate.posterior import mix_of, posterior_of, table_of
from pointmodel.estimate.search import addition_scores, slip_at_columns, slip_scores
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES
from pointmodel.simulation.night import SimulatedNight

# The smallest noise that the grid knows is a fifth of an arcsecond; with that the priors pull a
# perfect night by what follows from it.
TO_ROUNDING_ARCMIN = 2e-4
ARCSEC = 1 / 60


def _perfect(seed: int, pairs: int, **terms: float) -> SimulatedNight:
    return seeded_night(
        seed,
        "usual",
        pairs,
        terms=terms,
        sigma_arcmin=0.0,
        readout_step_arcsec=0.0,
        high_alt_deg=75.0,
    )


@pytest.mark.parametrize("azimuth_index", [-10799.0, -6000.0, -599.0, 0.0, 601.0, 5400.0, 10800.0])
def test_a_perfect_night_gives_its_terms_back_at_any_azimuth_zero(azimuth_index: float) -> None:
    made = _perfect(1300, 12, azimuth_index=azimuth_index)
    found = posterior(observed(made)).mean[:N_STANDARD]
    off = found - truth(made)
    off[0] = (off[0] + 10800) % 21600 - 10800
    np.testing.assert_allclose(off, 0.0, atol=TO_ROUNDING_ARCMIN)


@pytest.mark.parametrize("toward_deg", [0.0, 77.0, 180.0, 250.0])
def test_a_perfect_night_gives_a_lean_of_nine_degrees_back(toward_deg: float) -> None:
    toward = np.radians(toward_deg)
    made = _perfect(
        1301,
        12,
        tilt_north=540 * np.cos(toward),
        tilt_east=540 * np.sin(toward),
        collimation=60.0,
        non_perpendicularity=-45.0,
        azimuth_index=4000.0,
    )
    result = posterior(observed(made))
    np.testing.assert_allclose(result.mean[:N_STANDARD], truth(made), atol=TO_ROUNDING_ARCMIN)
    assert result.chosen.size == N_STANDARD


@pytest.mark.parametrize("pairs", [2, 3])
def test_two_or_three_perfect_pairs_do_not_take_a_lean_of_eight_degrees_for_noise(
    pairs: int,
) -> None:
    made = _perfect(1302, pairs, tilt_north=500.0)
    assert posterior(observed(made)).sigma[0] < 20.0


FAULTS: dict[str, tuple[dict[str, float], set[str]]] = {
    "a tube that hangs": ({"tube_flexure": 12.0}, {"tube_flexure"}),
    "a tube that hangs up": ({"tube_flexure": -25.0}, {"tube_flexure"}),
    "refraction left out": ({"refraction": 1.0}, {"refraction"}),
    "refraction applied twice": ({"refraction": -1.0}, {"refraction"}),
    "a wrong azimuth gear": ({"azimuth_scale": 0.1}, {"azimuth_scale"}),
    "a wrong altitude gear": ({"altitude_scale": 1.0}, {"altitude_scale"}),
    "a circle off centre": (
        {"azimuth_eccentricity_sin": 15.0, "azimuth_eccentricity_cos": -10.0},
        {"azimuth_eccentricity_sin", "azimuth_eccentricity_cos"},
    ),
    "slack in azimuth": ({"azimuth_backlash": 12.0}, {"azimuth_backlash"}),
    "slack in altitude": ({"altitude_backlash": -12.0}, {"altitude_backlash"}),
    "creep in azimuth": ({"azimuth_drift": 30.0}, {"azimuth_drift"}),
    "creep in altitude": ({"altitude_drift": -30.0}, {"altitude_drift"}),
    "a slip of a clutch": (
        {"azimuth_slip": 30.0, "altitude_slip": 20.0},
        {"azimuth_slip", "altitude_slip"},
    ),
}


@pytest.mark.parametrize(("terms", "expected"), FAULTS.values(), ids=FAULTS)
def test_a_large_fault_is_taken_up_alone_and_valued_right(
    terms: dict[str, float], expected: set[str]
) -> None:
    for seed in range(4):
        # down to 8°, where refraction applied twice is told from flexure
        made = seeded_night(1400 + seed, "usual", 30, terms=terms, low_alt_deg=8.0)
        obs = observed(made)
        best = winner(obs)
        assert chosen_terms(best) == expected
        assert best.result.hypothesis.good.all()
        found = posterior_of(best, settings_for(None, obs))
        values = {found.columns[c].name: (found.mean[c], c) for c in found.chosen}
        for name, value in terms.items():
            estimate, column = values[name]
            width = found.high[column] - found.low[column]
            assert abs(estimate - value) < width, name  # twice the interval's half
            assert width < 1.2 * abs(value), name


def test_a_slip_is_dated_to_the_pair_after_it() -> None:
    for seed in range(5):
        made = seeded_night(
            1450 + seed,
            "usual",
            20,
            terms={"azimuth_slip": -40.0, "altitude_slip": 25.0},
            slip_after_pair=7,
        )
        assert winner(observed(made)).result.hypothesis.obs.slip_at == 7


def test_a_wrong_gear_leaves_stars_opposite_its_origin_in_the_fit() -> None:
    # a star within half a degree of the cut, where the counts change sign
    made = seeded_night(20, "usual", 30, terms={"azimuth_scale": 0.2})
    assert np.abs(made.centred_az_deg - 180.0).min() < 0.5
    assert winner(observed(made)).result.hypothesis.good.all()


def test_further_terms_are_hardly_ever_taken_up_without_need() -> None:
    taken: Counter[str] = Counter()
    for seed in range(40):
        taken.update(chosen_terms(winner(observed(seeded_night(1500 + seed, "perfect", 12)))))
        taken.update(chosen_terms(winner(observed(seeded_night(1500 + seed, "usual", 8)))))
    assert sum(taken.values()) <= 2, taken


def test_arcseconds_of_flexure_are_taken_up_where_the_noise_is_arcseconds() -> None:
    made = seeded_night(
        1600,
        "perfect",
        100,
        terms={"tube_flexure": 20 * ARCSEC},
        sigma_arcmin=3 * ARCSEC,
        readout_step_arcsec=0.1,
    )
    assert "tube_flexure" in chosen_terms(winner(observed(made)))


@pytest.mark.parametrize("pairs", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("population", ["usual", "varied", "worse", "perfect"])
def test_few_pairs_give_finite_figures(pairs: int, population: str) -> None:
    for seed in range(3):
        obs = observed(seeded_night(1700 + seed, population, pairs))
        best = winner(obs)
        found = posterior_of(best, settings_for(None, obs))
        for values in (found.mean, found.covariance, found.low, found.high, found.draws):
            assert np.isfinite(values).all()
        assert np.isfinite([*found.sigma, best.log_total]).all()
        assert (found.low[:N_STANDARD] < found.high[:N_STANDARD]).all()
        scores = best.scores
        for values in (scores.log_good, scores.log_bad, scores.miss, scores.leverage):
            assert np.isfinite(values).all()


def _pairs_as_given(*figures: list[float]) -> Observations:
    pairs = [np.array(column, dtype=float) for column in figures]
    at = circumstances(*pairs, hours=np.arange(pairs[0].size) / 10)
    return observations(*pairs, at, has_times=True)


HOPELESS = {
    "one star at the zenith": ([10], [90], [200], [90]),
    "one star five times": ([10] * 5, [40] * 5, [11] * 5, [41] * 5),
    "readings that are the commands": ([10, 100, 250], [40, 50, 60], [10, 100, 250], [40, 50, 60]),
    "azimuths opposite": ([10, 190], [40, 40], [190, 10], [40, 40]),
    "zenith, nadir and horizon": ([10, 100, 200], [0, -90, 90], [190, 280, 20], [0, -90, 90]),
    "no relation at all": (
        [0, 90, 180, 270, 33, 71],
        [0, 0, 45, 0, 12, 80],
        [180, 0, 7, 90, 300, 2],
        [80, -80, 0, 0, 5, 66],
    ),
}


@pytest.mark.parametrize("figures", HOPELESS.values(), ids=HOPELESS)
def test_hopeless_logs_give_finite_figures(figures: tuple[list[float], ...]) -> None:
    obs = _pairs_as_given(*figures)
    found = posterior(obs)
    for values in (found.mean, found.covariance, found.low, found.high, found.draws):
        assert np.isfinite(values).all()
    assert np.isfinite(found.sigma).all()


def test_the_order_of_the_pairs_does_not_matter_to_the_fit_of_all() -> None:
    made = seeded_night(1800, "varied", 15)
    plain = settled(observed(made))
    order = np.random.default_rng(3).permutation(15)
    shuffled = settled(observed(made, order))
    np.testing.assert_allclose(shuffled.mean, plain.mean, rtol=1e-7, atol=1e-7)
    assert shuffled.log_evidence == pytest.approx(plain.log_evidence, abs=1e-6)
    for one, other in zip(leave_one_out(shuffled), leave_one_out(plain), strict=True):
        np.testing.assert_allclose(one, other[order], rtol=1e-4, atol=1e-5)


def test_the_same_pairs_are_set_aside_in_any_order() -> None:
    made = seeded_night(1801, "usual", 16, wrong_stars=2, pen_slips=1)
    plain = winner(observed(made)).result
    for seed in range(3):
        order = np.random.default_rng(seed).permutation(16)
        shuffled = winner(observed(made, order)).result
        np.testing.assert_array_equal(shuffled.hypothesis.good, plain.hypothesis.good[order])
        np.testing.assert_allclose(shuffled.mean[:6], plain.mean[:6], atol=0.02)


def _turned(made: SimulatedNight, by_deg: float) -> Observations:
    """The night with its readout's azimuth zero turned, rounding aside."""
    reading = (made.centred_az_deg + by_deg) % 360
    figures = (made.commanded_az_deg, made.commanded_alt_deg, reading, made.centred_alt_deg)
    at = circumstances(*figures, hours=made.circumstances.hours)
    return observations(*figures, at, has_times=True)


@pytest.mark.parametrize("by_deg", [1.0, 90.0, 213.25, 359.0])
def test_another_azimuth_zero_moves_the_azimuth_index_alone(by_deg: float) -> None:
    made = seeded_night(1802, "usual", 12, terms={"azimuth_index": 3000.0}, readout_step_arcsec=0.0)
    plain, turned = settled(_turned(made, 0.0)), settled(_turned(made, by_deg))
    np.testing.assert_allclose(turned.mean[1:6], plain.mean[1:6], atol=1e-6)
    moved = (turned.mean[0] - plain.mean[0] - 60 * by_deg) % 21600
    assert min(moved, 21600 - moved) < 1e-6
    assert turned.variance == pytest.approx(plain.variance, rel=1e-6)


def test_the_start_is_the_azimuth_zero_also_across_north_and_despite_bad_pairs() -> None:
    for index in (0.0, 10790.0, -10790.0, 5000.0):
        made = seeded_night(1803, "usual", 12, terms={"azimuth_index": index}, wrong_stars=3)
        start = starting_point(observed(made))
        apart = (start[0] - index + 10800) % 21600 - 10800
        assert abs(apart) < 120
        assert not start[1:].any()


def test_a_search_said_twice_says_the_same() -> None:
    made = seeded_night(1804, "varied", 12, wrong_stars=2)
    one, other = winner(observed(made)), winner(observed(made))
    assert one.log_total == other.log_total
    np.testing.assert_array_equal(one.result.mean, other.result.mean)


def test_the_search_leaves_the_observations_as_they_were() -> None:
    obs = observed(seeded_night(1805, "usual", 14, wrong_stars=2, terms={"azimuth_slip": 40.0}))
    arrays = [value for value in vars(obs).values() if isinstance(value, np.ndarray)]
    arrays += [obs.rounding.star, obs.rounding.reading]
    assert len(arrays) >= 8
    for array in arrays:
        array.flags.writeable = False  # writing into them would raise
    settings = settings_for(None, obs)
    posterior_of(best_candidates(obs, settings)[0], settings)


def test_a_stated_centring_error_is_noise_that_the_mount_is_not_blamed_for() -> None:
    made = seeded_night(1806, "usual", 40)
    obs = observed(made)
    plain, stated = settings_for(None, obs), settings_for(0.7, obs)
    rounding = obs.rounding.variance.mean()
    assert plain.noise.floor == pytest.approx(rounding)
    assert stated.noise.floor == pytest.approx(0.49 + rounding)
    assert stated.noise.log_mean < plain.noise.log_mean
    start = Hypothesis(obs, (), np.ones(40, dtype=bool), starting_point(obs))
    found = settle(start, stated)
    assert np.exp(found.weight @ np.log(found.noise.sigma)) < 0.95
    assert found.noise.variance.min() > 0.49


def _evidence(result: Evaluation, good: np.ndarray) -> np.ndarray:
    """ln likelihood of the good pairs at the nodes of a fit, times the nodes' prior density."""
    moments = moments_of(result.rows, good, result.hypothesis.columns)
    nodes = log_likelihood(spectrum(moments, result.spread[None]), result.noise.variance)[0]
    return np.asarray(nodes + result.noise.log_prior)


def prior_of(result: Evaluation) -> termsprior.TermsPrior:
    """The prior of the six that an evaluation used."""
    mean = result.rows.prior_mean[None, :N_STANDARD]
    return termsprior.TermsPrior(mean, result.spread[None, :N_STANDARD], np.zeros(1))


def test_the_density_of_a_pair_given_the_others_is_the_ratio_of_two_evidences() -> None:
    for population, pairs in (("usual", 6), ("varied", 12)):
        result = settled(observed(seeded_night(1900, population, pairs)))
        log_density = leave_one_out(result)[0]
        everyone = np.ones(pairs, dtype=bool)
        _, with_all = gaussian.normalised(_evidence(result, everyone))
        for pair in range(pairs):
            others = everyone.copy()
            others[pair] = False
            _, without = gaussian.normalised(_evidence(result, others))
            assert log_density[pair] == pytest.approx(with_all - without, abs=1e-4)


def test_the_odds_of_a_further_term_are_the_ratio_of_two_evidences() -> None:
    made = seeded_night(1901, "usual", 14, terms={"tube_flexure": 4.0})
    result = settled(observed(made))
    everyone = np.ones(14, dtype=bool)
    _, plain = gaussian.normalised(_evidence(result, everyone))
    additions, scores = addition_scores(result)
    assert len(additions) > 12
    for addition, score in zip(additions, scores, strict=True):
        table = table_of(result, ())
        with_it = mix_of(table, (addition,), prior_of(result), result.noise)
        assert score == pytest.approx(with_it.log_evidence - plain, abs=1e-6), addition.terms


def test_the_odds_of_a_slip_after_each_pair_are_the_ratio_of_two_evidences() -> None:
    made = seeded_night(1902, "usual", 14, terms={"azimuth_slip": 4.0, "altitude_slip": 3.0})
    result = settled(observed(made))
    places, scores = slip_scores(result)
    assert places.tolist() == list(range(3, 12))  # three pairs on each side
    first = len(result.hypothesis.obs.columns)
    # the search looks at the five heaviest nodes of the noise only
    keep = np.argsort(result.weight)[-5:]
    noise = replace(
        result.noise,
        sigma=result.noise.sigma[keep],
        variance=result.noise.variance[keep],
        log_prior=result.noise.log_prior[keep],
    )
    _, plain = gaussian.normalised(_evidence(result, np.ones(14, dtype=bool))[keep])
    for place, score in zip(places.tolist(), scores, strict=True):
        slip = slip_at_columns((first, first + 1), places.size)
        table = table_of(result, (place,))
        with_it = mix_of(table, (slip,), prior_of(result), noise)
        assert score == pytest.approx(with_it.log_evidence - plain, abs=1e-6)


def test_settled_means_that_one_more_step_moves_nothing() -> None:
    obs = observed(seeded_night(1903, "worse", 12))
    result = settled(obs)
    again = settle(replace(result.hypothesis, at=result.mean), settings_for(None, obs))
    share = result.variance / (result.spectrum.eigenvalues[0] + result.variance)
    sd = np.sqrt(result.spectrum.basis[0] ** 2 @ share)
    assert (np.abs(again.mean - result.mean)[:6] < 0.1 * sd).all()


def test_every_standard_term_is_recovered_within_its_errors_on_an_ordinary_night() -> None:
    off = []
    for seed in range(30):
        made = seeded_night(2000 + seed, "usual", 20)
        found = posterior(observed(made))
        sd = np.sqrt(np.diag(found.covariance))[:N_STANDARD]
        off.append((found.mean[:N_STANDARD] - truth(made)) / sd)
    spread = np.sqrt(np.mean(np.square(off), axis=0))
    assert dict(zip(STANDARD_NAMES, spread.round(2), strict=True))
    # thirty draws of a unit normal: 0.75 to 1.25 in all but one case of twenty, per term
    assert ((spread > 0.6) & (spread < 1.45)).all(), spread


def test_priors_of_the_standard_terms_do_not_matter_where_many_pairs_decide() -> None:
    obs = observed(seeded_night(2040, "usual", 200))
    result = settled(obs)
    wide = spectrum(result.spectrum.moments, 100 * termsprior.BASE_SD[None])
    free = wide.basis[0] @ (wide.score[0] / (wide.eigenvalues[0] + result.variance))
    sd = np.sqrt(wide.basis[0] ** 2 @ (result.variance / (wide.eigenvalues[0] + result.variance)))
    assert (np.abs(free + result.rows.prior_mean[:6] - result.mean[:6]) < 0.5 * sd).all()
