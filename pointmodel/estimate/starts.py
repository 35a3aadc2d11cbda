"""Where the search begins: all pairs, and good sets guessed from small random subsets.

A quarter of a log may be bad, and bad pairs hide each other from a fit of all. Some subset of four
is clean; the model fitted to it tells good from bad.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import log_round_normal_2d
from pointmodel.estimate import termsprior
from pointmodel.estimate.badpairs import LOG_BAD, LOG_GOOD, LOG_WRONG_STAR, log_wrong_star
from pointmodel.estimate.evaluation import (
    MANY_PAIRS,
    Evaluation,
    Hypothesis,
    Settings,
    settle,
    starting_point,
)
from pointmodel.estimate.observations import Observations
from pointmodel.estimate.search import (
    Candidate,
    first_addition,
    flip_gains,
    of_no_mount,
    refine,
)
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN, geometry_from_arcmin, linearise, misses
from pointmodel.mount.priors import FREE_AZIMUTH_SD_ARCMIN
from pointmodel.mount.terms import N_STANDARD

# with a quarter of the pairs bad a subset of four is clean with .75⁴ = .32: none of sixty is once
# in 10¹⁰ (random sample consensus: Fischler & Bolles 1981, Commun. ACM 24, 381)
SUBSETS = 60
SUBSET_STEPS = 3  # of Gauss and Newton: enough to tell good from bad
SUBSET_VARIANCE = 4.0  # arcmin²
TRIAL_SIGMA_ARCMIN = (0.3, 1.5, 4.0, 12.0)
CAPPED_STEP_ARCMIN = 0.3 * ARCMIN_PER_RADIAN
# below these a fit of all pairs leaves no room for bad ones: clean nights, the most, need no more
SUSPICIOUS_GAIN = -4.0  # ln of what turning the worst pair gains
SUSPICIOUS_SIGMA_ARCMIN = 5.0
FEWEST_TO_UNTANGLE = 4  # pairs: three always agree well enough
FEW_PAIRS, LARGE_TERMS = 6, 20.0  # up to so many pairs, priors so many times wider are tried
SECOND_START_WITHIN_NATS = 15.0  # of the best: what is worse is never caught up with
ALL_PAIRS_WITHIN_NATS = 20.0  # a further term seldom brings more than the search adds afterwards


def best_candidates(obs: Observations, settings: Settings) -> list[Candidate]:
    """Return the ends of the searches from all starts, best first, each with other good pairs.

    A clean night needs one start, and so do many pairs of which a few are bad. Where all pairs
    together fit badly, subsets come first, and the start with all pairs (how a slip of the clutch
    beats "half the log is bad") only if some further term brings it near them. Where no subset
    explains half the pairs, and all together are degrees off, no set of good pairs is looked for.
    """
    start = Hypothesis(obs, obs.always, np.ones(obs.count, dtype=bool), starting_point(obs))
    first = settle(start, settings)
    if obs.count <= FEW_PAIRS:
        first = _not_taken_for_noise(start, first, settings)
    if obs.count < FEWEST_TO_UNTANGLE or first.variance <= SUSPICIOUS_SIGMA_ARCMIN**2:
        everything = refine(start, settings, flips=False, first=first)
        if not _suspicious(everything):
            return [everything]
        found = [_continued(everything, settings)]
        if obs.count <= MANY_PAIRS:
            found += _from_subsets(obs, start.at, settings, found[0])
    else:
        found = _from_subsets(obs, start.at, settings)
        best = max((candidate.log_total for candidate in found), default=-np.inf)
        if first_addition(first, settings) > best - ALL_PAIRS_WITHIN_NATS:
            everything = refine(start, settings, flips=False, first=first)
            if not found and of_no_mount(everything.scores.miss):
                return [everything]
            found.append(_continued(everything, settings))
    return _distinct(sorted(found, key=lambda candidate: -candidate.log_total))


def _not_taken_for_noise(start: Hypothesis, first: Evaluation, settings: Settings) -> Evaluation:
    """Return the better of a settled start and one that began from large terms.

    Of a few pairs a lean of degrees can be taken for noise: from zero the first steps stop there.
    """
    obs = start.obs
    everything = np.arange(obs.count)[None]
    terms = _fit_subsets(obs, everything, start.at[:N_STANDARD], LARGE_TERMS)[0]
    at = np.concatenate([terms, np.zeros(len(obs.columns))])
    other = settle(replace(start, at=at), settings, TRIAL_SIGMA_ARCMIN[1] ** 2)
    return other if other.log_evidence > first.log_evidence else first


def _from_subsets(
    obs: Observations, at: FloatArray, settings: Settings, known: Candidate | None = None
) -> list[Candidate]:
    """Return the ends of searches from small subsets; none that would begin where one ended."""
    variance = TRIAL_SIGMA_ARCMIN[1] ** 2
    starts = [Hypothesis(obs, obs.always, good, at) for good, at in subset_starts(obs, at)]
    return [
        refine(start, settings, flips=True, variance=variance)
        for start in starts
        if known is None or not _same(start, known.result.hypothesis)
    ]


def _continued(candidate: Candidate, settings: Settings) -> Candidate:
    """Return the end of the search from here on, where pairs may be turned: here if none gains."""
    result = candidate.result
    if flip_gains(result.hypothesis.good, candidate.scores).max() <= 0.0:
        return candidate
    return refine(result.hypothesis, settings, flips=True, variance=result.variance)


def _suspicious(candidate: Candidate) -> bool:
    """Whether a fit of all pairs leaves room for bad ones; three pairs cannot be untangled."""
    good = candidate.result.hypothesis.good
    if good.size < FEWEST_TO_UNTANGLE:
        return False
    gains = flip_gains(good, candidate.scores)
    hypothesis = candidate.result.hypothesis
    took_up = len(hypothesis.chosen) > len(hypothesis.obs.always)
    return bool(took_up or gains.max() > SUSPICIOUS_GAIN)


def _distinct(candidates: list[Candidate]) -> list[Candidate]:
    kept: list[Candidate] = []
    for candidate in candidates:
        mine = candidate.result.hypothesis
        if not any(_same(mine, other.result.hypothesis) for other in kept):
            kept.append(candidate)
    return kept


def _same(one: Hypothesis, other: Hypothesis) -> bool:
    return (
        np.array_equal(one.good, other.good)
        and one.obs.slip_at == other.obs.slip_at
        and {a.terms for a in one.chosen} == {a.terms for a in other.chosen}
    )


def subset_starts(obs: Observations, at: FloatArray) -> list[tuple[np.ndarray, FloatArray]]:
    """Return up to two good sets (n,) from small subsets, with where to start (6 + k,)."""
    subsets = _subsets(obs.count)
    terms = _fit_subsets(obs, subsets, at[:N_STANDARD])
    some = np.arange(0, obs.count, max(1, obs.count // MANY_PAIRS))
    score, good = _score(_misses(obs, terms, some))
    starts: list[tuple[np.ndarray, FloatArray]] = []
    for index in np.argsort(-score):
        if len(starts) == 2 or score[index] < score.max() - SECOND_START_WITHIN_NATS:
            break
        mask = good[index]
        if mask.size < obs.count:
            mask = _score(_misses(obs, terms[[index]], np.arange(obs.count)))[1][0]
        if 2 * mask.sum() < obs.count or any(np.array_equal(mask, other) for other, _ in starts):
            continue
        starts.append((mask, np.concatenate([terms[index], np.zeros(len(obs.columns))])))
    return starts


@cache
def _subsets(count: int) -> np.ndarray:
    if count == FEWEST_TO_UNTANGLE:
        return np.array(list(combinations(range(count), 3)))
    size, number = (3, SUBSETS // 2) if count <= 7 else (4, SUBSETS)
    rng = np.random.default_rng(count)
    if count > MANY_PAIRS:
        return rng.integers(0, count, (number, size))
    return np.argsort(rng.random((number, count)), axis=1)[:, :size]


def _fit_subsets(
    obs: Observations, subsets: np.ndarray, at: FloatArray, wide: float = 2.0
) -> FloatArray:
    """Return terms (s, 6) fitted to each subset (s, k) by a few damped steps from `at`.

    The priors are `wide` times the usual ones.
    """
    terms = np.tile(at, (subsets.shape[0], 1))
    sd = wide * termsprior.BASE_SD
    sd[0] = FREE_AZIMUTH_SD_ARCMIN
    precision = SUBSET_VARIANCE / sd**2
    for _ in range(SUBSET_STEPS):
        flat = linearise(
            obs.star_az[subsets],
            obs.star_alt[subsets],
            obs.reading_az[subsets] - terms[:, :1] / ARCMIN_PER_RADIAN,
            obs.reading_alt[subsets] - terms[:, 1:2] / ARCMIN_PER_RADIAN,
            geometry_from_arcmin(*(terms[:, j : j + 1] for j in range(2, N_STANDARD))),
        )
        design = flat.design.reshape(subsets.shape[0], -1, N_STANDARD)
        miss = flat.miss.reshape(subsets.shape[0], -1, 1)
        transposed = np.swapaxes(design, 1, 2)
        normal = transposed @ design + np.diag(precision)
        centre = terms.copy()
        centre[:, 1:] = 0.0
        pull = (precision * (centre - terms))[..., None]
        step = np.linalg.solve(normal, transposed @ miss + pull)[..., 0]
        terms = terms + np.clip(step, -CAPPED_STEP_ARCMIN, CAPPED_STEP_ARCMIN)
    return terms


def _misses(obs: Observations, terms: FloatArray, which: np.ndarray) -> FloatArray:
    """Return misses (s, m, 2) of the pairs `which` under each set of terms."""
    return misses(
        obs.star_az[which],
        obs.star_alt[which],
        obs.reading_az[which] - terms[:, :1] / ARCMIN_PER_RADIAN,
        obs.reading_alt[which] - terms[:, 1:2] / ARCMIN_PER_RADIAN,
        geometry_from_arcmin(*(terms[:, j : j + 1] for j in range(2, N_STANDARD))),
    )


def _score(miss: FloatArray) -> tuple[FloatArray, np.ndarray]:
    """Return each subset's likelihood (s,) at its best trial noise, and who is good (s, n)."""
    square = (miss**2).sum(axis=-1)[..., None]
    variance = np.array(TRIAL_SIGMA_ARCMIN) ** 2
    log_good = log_round_normal_2d(square, variance) + LOG_GOOD
    # a slip that explains the pair may double the density of a wrong star: half is close enough
    log_bad = (log_wrong_star(miss) + LOG_BAD - LOG_WRONG_STAR)[..., None]
    total = np.logaddexp(log_good, log_bad).sum(axis=1)
    best = total.argmax(axis=1)
    pick = np.arange(miss.shape[0])
    return total[pick, best], (log_good > log_bad)[pick, :, best]
