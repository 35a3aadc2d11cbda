"""The rules of the estimator by their figures, on either side of each.

`tests/bench/faults.py` puts faults into these rules and says which test notices.
"""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from bench.nights import even_targets, night
from observed import observed, seeded_night, settled, winner
from scipy.stats import chi2, rayleigh

import pointmodel as pm
from pointmodel.comparing.pooling import information_gains
from pointmodel.diagnosis.lean import REAL_LEAN, REAL_ROTATION
from pointmodel.estimate import posterior as mixing
from pointmodel.estimate.badpairs import LOG_BAD, LOG_GOOD, log_wrong_star
from pointmodel.estimate.evaluation import Settings, settings_for, settle
from pointmodel.estimate.gaussian import normalised
from pointmodel.estimate.identify import statuses, unseen
from pointmodel.estimate.posterior import mix_of, posterior_of, table_of
from pointmodel.estimate.search import (
    Candidate,
    PairScores,
    drop,
    flip_gains,
    moves_from,
    score_pairs,
    take_up,
)
from pointmodel.estimate.termsprior import noise_of_portable_mounts
from pointmodel.forecasting.forecast import _summary
from pointmodel.forecasting.outlook import MissModel, Outlook
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount import priors
from pointmodel.mount.terms import N_STANDARD
from pointmodel.simulation.faults import WRONG_STAR_DEG

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")


def test_verdicts_go_by_the_figures_that_readme_promises() -> None:
    told = " ".join(README.split())
    found = re.search(
        r"called \*likely\* when .*? is above (\d+) %, \*possible\* above (\d+) %.*?"
        r"\*Healthy\* stands alone, and only where every rival is below (\d+) %",
        told,
    )
    assert found
    limits = priors.LIKELY_ABOVE, priors.POSSIBLE_ABOVE, priors.HEALTHY_BELOW
    assert tuple(float(figure) / 100.0 for figure in found.groups()) == limits


def test_a_lean_is_real_where_chance_makes_one_in_a_hundred() -> None:
    assert pytest.approx(chi2(2).ppf(0.99), abs=0.01) == REAL_LEAN
    assert pytest.approx(chi2(3).ppf(0.99), abs=0.01) == REAL_ROTATION


def test_stars_are_expected_to_be_centred_to_an_arcminute_or_so() -> None:
    # common practice, no source: an arcminute; half as much and twice as much are within one sd
    usual = noise_of_portable_mounts()
    middle = float(np.exp(usual.log_mean))
    assert 1.0 <= middle <= 1.7
    assert middle * np.exp(-usual.log_sd) < 0.7
    assert middle * np.exp(usual.log_sd) > 2.5


def test_one_star_leaves_the_noise_where_it_was_expected() -> None:
    fits = [pm.fit(seeded_night(seed, "usual", 1).log) for seed in range(5)]
    middle = float(np.median([fit.noise.sigma_arcmin for fit in fits]))
    assert 1.0 <= middle <= 2.0


def test_one_line_in_twenty_five_is_bad_and_what_that_costs() -> None:
    # common practice, no source: one to ten lines in a hundred of a beginner's log
    assert 0.01 <= float(np.exp(LOG_BAD)) <= 0.1
    assert np.exp(LOG_BAD) + np.exp(LOG_GOOD) == pytest.approx(1.0)


def test_a_wrong_star_is_expected_as_far_off_as_people_find_one() -> None:
    near, far = (60.0 * distance for distance in WRONG_STAR_DEG)
    at = log_wrong_star(np.array([[near, 0.0], [0.0, far], [720.0, 0.0]]))
    assert at[0] == at[1]
    assert at[2] < at[0] - 5.0


def _moved(by_sigma: float, seed: int) -> tuple[bool, float]:
    """Whether a line that is off by so many sigma is set aside, and how probable it is bad."""
    made = seeded_night(seed, "usual", 40, sigma_arcmin=1.0, readout_step_arcsec=1.0)
    frame = made.log.pairs.copy()
    fit = pm.fit(made.log)
    residual = fit.pair_results.residual_y_arcmin[20]
    alt = frame["centred_alt"].to_numpy().copy()
    alt[20] += (by_sigma * fit.noise.sigma_arcmin - residual) / 60.0
    frame["centred_alt"] = alt
    results = pm.fit(frame).pair_results
    return bool(results.set_aside[20]), float(results.probability_bad[20])


def test_a_line_is_set_aside_from_some_five_sigma_on_and_suspected_before() -> None:
    found = {by: [_moved(by, seed) for seed in range(2050, 2056)] for by in (3.9, 4.3, 6.4)}
    assert not any(aside for aside, _ in found[3.9])
    assert all(aside for aside, _ in found[6.4])
    # ln of the odds at four sigma: −8 + ½·4² and so
    suspected = [probability for by in (3.9, 4.3) for _, probability in found[by]]
    assert 1e-4 < min(suspected) < max(suspected) < 0.9


def _scores(log_good: float, log_bad: float, pairs: int) -> PairScores:
    nothing: Any = np.zeros(pairs)
    return PairScores(
        log_good=np.full(pairs, log_good),
        log_bad=np.full(pairs, log_bad),
        miss=np.zeros((pairs, 2)),
        square=nothing,
        leverage=nothing,
        suspects=np.arange(pairs),
        bad=None,
    )


@pytest.mark.parametrize(("good", "may"), [(8, True), (5, True), (4, False), (3, False)])
def test_half_the_lines_always_stay(good: int, may: bool) -> None:
    mask = np.arange(8) < good
    gains = flip_gains(mask, _scores(-50.0, -10.0, 8))
    assert bool((gains[mask] > 0.0).all()) == may
    assert np.isfinite(gains[mask]).all() == may


def _brute_status(ratio: float) -> str:
    return "determined" if ratio < 1.15 else "weak" if ratio < 1.8 else "not_determined"


def test_what_is_called_determined_hardly_widens_with_its_prior() -> None:
    ratios = []
    for seed in range(30):
        result = settled(observed(seeded_night(2100 + seed, "usual", 3 + seed % 5)))
        design = result.rows.design[..., :N_STANDARD].reshape(-1, N_STANDARD)
        sds = []
        for times in (1.0, 3.0):
            precision = np.diag(1.0 / (times * result.spread) ** 2)
            inverse = np.linalg.inv(design.T @ design / result.variance + precision)
            sds.append(np.sqrt(np.diag(inverse)))
        ratio = sds[1] / sds[0]
        ratios.extend(ratio.tolist())
        assert statuses(result) == tuple(_brute_status(one) for one in ratio)
    # the nights stand on both sides of both limits, and near them
    for low, high in ((1.05, 1.15), (1.15, 1.5), (1.5, 1.8), (1.8, 2.6)):
        assert any(low < one < high for one in ratios), (low, high)


def test_what_stars_cannot_tell_apart_is_named_and_what_they_can_is_not() -> None:
    low, high = (
        seeded_night(2150, "usual", 10, low_alt_deg=40.0, high_alt_deg=44.0),
        seeded_night(2151, "usual", 30),
    )
    named, other = (pm.fit(one.log).inseparable for one in (low, high))
    together = {term for one in named for term in one.terms}
    assert {"azimuth_index", "collimation"} <= together
    assert other == ()
    found = unseen(settled(observed(low)), np.ones((4, 2, N_STANDARD)))
    assert found


@pytest.mark.parametrize("step_arcsec", [60.0, 360.0])
def test_the_readout_step_is_told_in_arcseconds(step_arcsec: float) -> None:
    made = seeded_night(2160, "usual", 12, readout_step_arcsec=step_arcsec)
    assert pm.fit(made.log).noise.readout_step_arcsec == pytest.approx(step_arcsec)


def _weak_flexure(seed: int) -> tuple[Candidate, Settings]:
    """A night with weak flexure, which was taken up."""
    obs = observed(seeded_night(seed, "usual", 14, terms={"tube_flexure": 5.0}))
    flexure = next(a for a in obs.additions if a.terms == ("tube_flexure",))
    settings = settings_for(None, obs)
    result = settle(take_up(settled(obs).hypothesis, flexure), settings)
    return Candidate(result, score_pairs(result), moves_from(result), 0.0), settings


def _averaged(candidate: Candidate, settings: Settings, leave_out: str = "") -> np.ndarray:
    """Mean and sd of the altitude index over all models, enumerated one by one."""
    result = candidate.result
    table, chosen = table_of(result, ()), result.hypothesis.chosen
    (prior,) = settings.priors_of(result.hypothesis.at[:6], result.mean[:6])
    models = {"itself": chosen}
    moves = candidate.moves
    for gain, addition in zip(moves.gain, moves.additions, strict=True):
        if gain > np.log(0.005):
            models[f"with {addition.terms} {addition.sd}"] = (*chosen, addition)
    (gone,) = result.hypothesis.optional
    without = settle(drop(result.hypothesis, gone), settings, result.variance)
    models["without"] = ()
    for addition in mixing._instead(without, gone, candidate):
        models[f"instead {addition.terms} {addition.sd}"] = (addition,)
    assert len(models) > 3
    mean, square, weight = [], [], []
    for name, model in models.items():
        if name == leave_out:
            continue
        noise = without.noise if name == "without" else result.noise
        mix = mix_of(table, model, prior, noise)
        cells, log_evidence = normalised(mix.log_weight)
        inverse = 1.0 / (mix.eigenvalues[:, None] + noise.variance[:, None])
        basis = mix.basis[:, 1]
        centre = (mix.score[:, None] * inverse * basis[:, None]).sum(-1) + mix.offset[:, [1]]
        spread = (noise.variance[:, None] * inverse * basis[:, None] ** 2).sum(-1)
        mean.append((cells * centre).sum())
        square.append((cells * (centre**2 + spread)).sum())
        weight.append(log_evidence)
    share, _ = normalised(np.array(weight))
    middle = share @ np.array(mean)
    return np.array([middle, np.sqrt(share @ np.array(square) - middle**2)])


@pytest.mark.parametrize("seed", [2202, 2204])
def test_values_are_averaged_over_the_model_its_deletions_additions_and_swaps(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mixing, "PROBABILITY_NOISE_ALIKE", 1e-9)
    candidate, settings = _weak_flexure(seed)
    found = posterior_of(candidate, settings)
    ours = np.array([found.mean[1], np.sqrt(found.covariance[1, 1])])
    np.testing.assert_allclose(ours, _averaged(candidate, settings), atol=0.05, rtol=0.03)


def test_the_first_neighbour_is_averaged_too() -> None:
    obs = observed(seeded_night(2203, "usual", 12, terms={"tube_flexure": 3.0}))
    result = settled(obs)
    candidate = Candidate(result, score_pairs(result), moves_from(result), 0.0)
    moves = candidate.moves
    best = moves.additions[int(moves.gain.argmax())]
    assert moves.gain.max() > np.log(0.05)
    found = posterior_of(candidate, settings_for(None, obs))
    assert set(best.terms) <= {column.name for column in found.columns[N_STANDARD:]}


def _forecast_of_scatter(scatter: np.ndarray) -> RemedyForecast:
    """The forecast of a mount without a fault and without uncertainty, draws of scatter (d,)."""
    outlook = Outlook(
        model=pm.fit(night(np.random.default_rng(5), "usual", 12).log).model,
        deviation=np.zeros((scatter.size, N_STANDARD)),
        scatter_arcmin=scatter,
        scatter_known=True,
        targets=even_targets(160),
        field_of_view_arcmin=4.0,
    )
    none = MissModel(np.zeros((160, 2)), np.zeros((160, 2, N_STANDARD)))
    return _summary(outlook, "corrections", none)


def test_misses_of_scatter_alone_are_those_of_rayleigh() -> None:
    said = _forecast_of_scatter(np.full(600, 1.5))
    expected = rayleigh(scale=1.5)
    assert said.median_arcmin == pytest.approx(expected.median(), rel=0.1)
    assert said.p95_arcmin == pytest.approx(expected.ppf(0.95), rel=0.1)
    assert said.chance_in_field == pytest.approx(expected.cdf(2.0), abs=0.04)
    assert said.rms_arcmin == pytest.approx(1.5 * np.sqrt(2.0), rel=1e-6)


def test_a_forecast_ends_where_a_fortieth_lies_beyond() -> None:
    scatter = np.exp(0.5 * np.random.default_rng(7).standard_normal(600))
    said = _forecast_of_scatter(scatter)
    sizes = np.sqrt(2.0) * scatter
    low, high = np.quantile(sizes, [0.025, 0.975])
    assert said.rms_low_arcmin == pytest.approx(low, rel=0.03)
    assert said.rms_high_arcmin == pytest.approx(high, rel=0.03)


def _nights(mean: list[float], sd: list[float]) -> Any:
    return [
        SimpleNamespace(log_noise_mean=m, log_noise_sd=s) for m, s in zip(mean, sd, strict=True)
    ]


def test_a_night_whose_pairs_happen_to_agree_is_drawn_toward_the_others() -> None:
    gains = information_gains(_nights([0.0, 0.0, 0.0, 0.0, -0.6], [0.25] * 5))
    # its information falls by exp(2·(−.6 − what it is drawn to)): nearly half of the way
    assert 0.45 < gains[4] < 0.7
    assert (gains[:4] > 1.0 - 0.15).all()


def test_how_surely_noise_is_known_counts_in_what_a_night_tells() -> None:
    # nights alike in their noise: the mean of a variance known to s is exp(2 s²) of its middle
    known, vague = (information_gains(_nights([0.0] * 4, [sd] * 4))[0] for sd in (0.01, 0.4))
    assert known == pytest.approx(1.0, abs=0.01)
    between = np.hypot(0.15, 0.4 / 2.0)
    left = 1.0 / (1.0 / 0.4**2 + 1.0 / between**2)
    assert vague == pytest.approx(np.exp(2.0 * (0.4**2 - left)), rel=1e-6)


def test_the_winner_of_a_log_with_half_its_lines_wrong_keeps_half() -> None:
    made = seeded_night(2301, "usual", 10, wrong_stars=7)
    assert winner(observed(made)).result.hypothesis.good.sum() >= 5
