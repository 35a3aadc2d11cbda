"""The evidence over nights against the same by dense matrices; nights summed up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench.nights import night
from bench.segment_figures import joined

import pointmodel as pm
from pointmodel.comparing.blocks import BLOCKS, COMMON_SD, KINDS, RIDGE, options_of
from pointmodel.comparing.changes import spans
from pointmodel.comparing.evidence import (
    Assumptions,
    Nights,
    assumptions_of,
    conclusions,
    log_evidence,
    nights_of,
)
from pointmodel.comparing.pooling import information_gains
from pointmodel.comparing.posterior import weigh
from pointmodel.comparing.summary import summary_of
from pointmodel.estimate.profile import Profile
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES


def made_nights(count: int = 4, blind: bool = False) -> Nights:
    """Nights with errors that hang together; one of them may see four directions only."""
    rng = np.random.default_rng(5)
    mean = rng.normal(0.0, 15.0, (count, N_STANDARD))
    root = np.empty((count, N_STANDARD, N_STANDARD))
    for k in range(count):
        factor = rng.normal(0.0, 1.0, (N_STANDARD, N_STANDARD))
        values, vectors = np.linalg.eigh(factor @ factor.T / 4.0 + 0.05 * np.eye(N_STANDARD))
        if blind and k == 1:
            values[:2] = 0.0
        root[k] = (vectors * np.sqrt(values)) @ vectors.T
    return Nights(mean, root, 0.0)


def some_assumptions() -> Assumptions:
    between = np.array([
        [30.0, 15.0, 0.3, 0.3, 12.0, 12.0],
        [1000.0, 5.0, 1.0, 0.3, 30.0, 30.0],
        [8.0, 0.3, 20.0, 8.0, 0.3, 0.3],
    ])  # fmt: skip
    step, place = np.zeros((3, N_STANDARD)), np.zeros((3, N_STANDARD), dtype=int)
    step[1, 2], place[1, 2] = 12.0, 2
    step[1, 3], place[1, 3] = 24.0, 3
    step[2, 4:], place[2, 4:] = 25.0, 1
    return Assumptions(between, step, place)


def dense_prior(assumed: Assumptions, which: int, nights: int) -> np.ndarray:
    """K (6n, 6n), terms of one night after another."""
    K = np.zeros((nights, N_STANDARD, nights, N_STANDARD))
    for term in range(N_STANDARD):
        after = (np.arange(nights) >= assumed.place[which, term]).astype(float)
        K[:, term, :, term] = (
            COMMON_SD[term] ** 2
            + assumed.step_sd[which, term] ** 2 * np.outer(after, after)
            + assumed.between_sd[which, term] ** 2 * np.eye(nights)
        )
    return K.reshape(nights * N_STANDARD, -1)


def block_information(nights: Nights) -> np.ndarray:
    size = len(nights) * N_STANDARD
    whole = np.zeros((len(nights), N_STANDARD, len(nights), N_STANDARD))
    for k, root in enumerate(nights.root):
        whole[k, :, k, :] = root @ root
    return whole.reshape(size, size)


@pytest.mark.parametrize("blind", [False, True])
def test_the_evidence_is_that_of_dense_matrices(blind: bool) -> None:
    nights, assumed = made_nights(blind=blind), some_assumptions()
    information, value = block_information(nights), nights.mean.ravel()
    wanted = []
    for which in range(3):
        K = dense_prior(assumed, which, len(nights))
        F = np.linalg.cholesky(K)
        inner = np.eye(value.size) + F.T @ information @ F
        pull = F.T @ information @ value
        size = np.linalg.slogdet(inner)[1]
        wanted.append(-0.5 * size + 0.5 * pull @ np.linalg.solve(inner, pull))
    assert np.diff(log_evidence(nights, assumed)) == pytest.approx(np.diff(wanted), abs=1e-6)


@pytest.mark.parametrize("blind", [False, True])
def test_the_terms_of_each_night_are_those_of_dense_matrices(blind: bool) -> None:
    nights, assumed = made_nights(blind=blind), some_assumptions()
    information, value = block_information(nights), nights.mean.ravel()
    found = conclusions(nights, assumed)
    for which in range(3):
        K = dense_prior(assumed, which, len(nights))
        covariance = np.linalg.solve(np.eye(value.size) + K @ information, K)
        mean = covariance @ information @ value
        assert found.night_mean[which].ravel() == pytest.approx(mean, abs=1e-6)
        assert found.night_sd[which].ravel() == pytest.approx(
            np.sqrt(np.diag(covariance)), rel=1e-6
        )


def test_one_more_night_is_what_dense_matrices_expect_of_it() -> None:
    nights, assumed = made_nights(), some_assumptions()
    found = conclusions(nights, assumed)
    seen = slice(0, 4 * N_STANDARD)
    for which in range(3):
        K = dense_prior(assumed, which, 5)
        covariance = K[seen, seen] + np.linalg.inv(block_information(nights))
        through = np.linalg.solve(covariance, K[seen, 4 * N_STANDARD :]).T
        wanted = K[4 * N_STANDARD :, 4 * N_STANDARD :] - through @ K[seen, 4 * N_STANDARD :]
        assert found.next_mean[which] == pytest.approx(through @ nights.mean.ravel(), abs=1e-6)
        assert found.next_covariance[which] == pytest.approx(wanted, abs=1e-6)


def test_prior_shares_of_every_block_sum_to_one() -> None:
    for block in BLOCKS:
        options = options_of(block, 7)
        assert np.exp(options.log_prior).sum() == pytest.approx(1.0)
        by_kind = np.bincount(options.kind, weights=np.exp(options.log_prior))
        assert by_kind == pytest.approx(block.odds)


def test_the_probabilities_of_the_kinds_sum_to_one() -> None:
    weighed = weigh(made_nights())
    for block in range(len(BLOCKS)):
        kinds = weighed.kind_probabilities(block)
        assert tuple(kinds) == KINDS
        assert sum(kinds.values()) == pytest.approx(1.0)
        assert weighed.changed_at(block).sum() == pytest.approx(kinds["changed"])
    either = weighed.ridge_changed_at().sum()
    each = [weighed.kind_probabilities(block)["changed"] for block in RIDGE]
    assert max(each) - 1e-9 <= either <= sum(each) + 1e-9


def test_every_combination_mixed_over_is_tried_once_the_best_first() -> None:
    weighed = weigh(made_nights())
    assert len({tuple(pick) for pick in weighed.picks.tolist()}) == len(weighed.picks)
    assert weighed.weight.sum() == pytest.approx(1.0)
    assert (np.diff(weighed.weight) <= 0.0).all()
    again = log_evidence(made_nights(), assumptions_of(weighed.options, weighed.picks))
    assert np.isfinite(again).all()


def test_a_change_without_a_date_is_told_by_the_span_that_holds_it() -> None:
    assert spans(np.array([0.0, 0.02, 0.9, 0.03])) == [(2, 3, pytest.approx(0.9))]
    assert spans(np.array([0.0, 0.05, 0.45, 0.45])) == [(2, 4, pytest.approx(0.9))]
    assert spans(np.array([0.0, 0.1, 0.2, 0.1])) == []
    assert [span[:2] for span in spans(np.array([0.0, 0.9, 0.0, 0.8]))] == [(1, 2), (3, 4)]


def test_a_night_summed_up_holds_the_truth_without_the_prior_of_the_fit() -> None:
    """Normalised misses of what the pairs alone say have a mean square of one a term."""
    squares = []
    for seed in range(60):
        made = night(np.random.default_rng(seed), "worse", 12)
        summary = summary_of(pm.fit(made.log))
        truth = np.array([made.terms[name] for name in STANDARD_NAMES])
        miss = summary.mean - truth
        miss[0] -= 21600.0 * round(miss[0] / 21600.0)
        squares.append(miss @ summary.information @ miss)
    assert np.mean(squares) == pytest.approx(6.0, abs=1.3)


def test_two_nights_summed_up_together_say_what_one_log_of_both_does() -> None:
    rng = np.random.default_rng(8)
    terms = {name: 5.0 + place for place, name in enumerate(STANDARD_NAMES)}
    first, second = (night(rng, "usual", 14, terms=terms) for _ in range(2))
    both = joined(first.log, second.log, "bump")
    whole = summary_of(pm.fit(replace(both, events=())))
    parts = [summary_of(pm.fit(made.log)) for made in (first, second)]
    information = sum(part.information for part in parts)
    assert np.diag(np.linalg.inv(information)) == pytest.approx(
        np.diag(np.linalg.inv(whole.information)), rel=0.6
    )


def test_pairs_before_a_knock_speak_of_the_tube_but_not_of_the_base() -> None:
    rng = np.random.default_rng(2)
    first = night(rng, "usual", 16)
    tube = {name: first.terms[name] for name in ("collimation", "non_perpendicularity")}
    second = night(rng, "usual", 4, terms=tube)
    whole = summary_of(pm.fit(joined(first.log, second.log, "bump")))
    last = summary_of(pm.fit(second.log))
    prior = np.diag(1.0 / np.array([1e4, 60.0, 25.0, 16.0, 40.0, 40.0]) ** 2)
    sd, alone = (
        np.sqrt(np.diag(np.linalg.inv(summary.information + prior))) for summary in (whole, last)
    )
    assert sd[3] < 0.8 * alone[3]
    assert sd[4] > 0.3 * alone[4]


def test_azimuths_on_both_sides_of_the_half_turn_stand_together() -> None:
    summary = summary_of(pm.fit(night(np.random.default_rng(1), "perfect", 8).log))
    several = [
        replace(summary, mean=summary.mean + np.array([azimuth, 0, 0, 0, 0, 0]))
        for azimuth in (10790.0, -10795.0, 10780.0)
    ]
    nights = nights_of(several)
    assert np.ptp(nights.mean[:, 0]) == pytest.approx(25.0, abs=1.0)


def test_a_night_whose_pairs_agree_by_chance_counts_for_less_beside_others() -> None:
    made = [night(np.random.default_rng(k), "usual", 12) for k in range(3)]
    summaries = [summary_of(pm.fit(one.log)) for one in made]
    lucky, *others = (
        replace(summary, log_noise_mean=mean, log_noise_sd=0.18)
        for summary, mean in zip(summaries, (-0.5, 0.0, 0.1), strict=True)
    )
    gains = information_gains([lucky, *others])
    assert gains[0] < 0.9
    assert gains[1:].min() > 1.0


def test_a_night_of_much_worse_noise_keeps_its_own() -> None:
    summary = summary_of(pm.fit(night(np.random.default_rng(1), "usual", 12).log))
    noises = (0.0, 0.1, -0.1, 3.0)
    several = [replace(summary, log_noise_mean=mean, log_noise_sd=0.1) for mean in noises]
    assert information_gains(several) == pytest.approx(np.ones(4), abs=0.1)


def test_what_the_pairs_say_does_not_depend_on_what_the_fit_started_from() -> None:
    log = night(np.random.default_rng(4), "usual", 8).log
    plain = pm.fit(log)
    told = plain.solution.posterior.mean[:N_STANDARD] + np.array([9.0, 0.0, -12.0, 6.0, 0.0, 0.0])
    sure = Profile(STANDARD_NAMES, told, np.eye(N_STANDARD), 0.0, 0.3, 3)
    one, other = summary_of(plain), summary_of(pm.fit(log, prior=sure))
    fits_apart, pairs_apart = one.fitted - other.fitted, one.mean - other.mean
    assert np.abs(fits_apart).max() > 4.0
    assert np.abs(pairs_apart).max() < 0.25 * np.abs(fits_apart).max()
