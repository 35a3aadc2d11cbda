"""All assumptions weighed: which terms are the mount's, which the set-up's, which changed and when.

Read `evidence.py` first. Azimuth index, collimation and non-perpendicularity stand in for one
another, so their options are tried together, steps in all places; the other blocks are taken up in
turn with the rest at their best, a few rounds at most. Intervals are then mixed over the best
combinations of all blocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.blocks import (
    AZIMUTH,
    BLOCKS,
    CHANGED,
    KINDS,
    MOUNT,
    RIDGE,
    SETUP,
    BlockKind,
    Options,
    options_of,
)
from pointmodel.comparing.evidence import Nights, assumptions_of, log_evidence
from pointmodel.estimate.gaussian import normalised

MOST_SWEEPS = 3  # the blocks weighed alone hardly touch the others; the loop ends sooner
MOST_MIXED = 60  # combinations that intervals are mixed over; a choice
MOST_OF_A_BLOCK = 8  # options of a block weighed alone
PAIRED_STEPS = 24  # places of two steps at once: all up to so many, then the likeliest
ALONE = (1, 4)  # places in BLOCKS that are weighed one at a time
FIRST_GUESS = (SETUP, SETUP, MOUNT, MOUNT, SETUP)


@dataclass(frozen=True, eq=False)
class SeasonPosterior:
    """Options of each block with their probabilities.

    `ridge` (c, 3) are options of the blocks in `RIDGE` tried together, with `ridge_probability`
    (c,); where the azimuth index has no step its option stands for all of the same kind, which
    share out as `azimuth_share` (o,) has it. `alone` holds the probabilities (o,) of the other
    blocks' options. `picks` (k, 5) are the best combinations of all blocks, of `weight` (k,), the
    best one first.
    """

    options: tuple[Options, ...]
    ridge: np.ndarray
    ridge_probability: FloatArray
    azimuth_share: FloatArray
    alone: dict[int, FloatArray]
    picks: np.ndarray
    weight: FloatArray

    def probability(self, block: int) -> FloatArray:
        """Return the probability of each option (o,) of a block."""
        if block in self.alone:
            return self.alone[block]
        own, options = self.ridge[:, RIDGE.index(block)], self.options[block]
        mass = np.bincount(own, weights=self.ridge_probability, minlength=options.kind.size)
        if block != AZIMUTH:
            return np.asarray(mass, dtype=float)
        by_kind = np.bincount(options.kind, weights=mass, minlength=len(KINDS))
        return np.where(options.kind == CHANGED, mass, by_kind[options.kind] * self.azimuth_share)

    def kind_probabilities(self, block: int) -> dict[BlockKind, float]:
        """Return the probability of each kind of a block."""
        mass = np.bincount(
            self.options[block].kind, weights=self.probability(block), minlength=len(KINDS)
        )
        return dict(zip(KINDS, np.minimum(mass, 1.0).tolist(), strict=True))

    def changed_at(self, block: int) -> FloatArray:
        """Return the probability (n,) that a block changed before each night, the first never."""
        mass = np.bincount(self.options[block].place, weights=self.probability(block))
        mass[0] = 0.0
        return np.asarray(mass, dtype=float)

    def ridge_changed_at(self) -> FloatArray:
        """Return the probability (n,) that any block of the ridge changed before each night."""
        places = np.sort(
            [self.options[b].place[self.ridge[:, k]] for k, b in enumerate(RIDGE)], axis=0
        )
        places[1:][places[1:] == places[:-1]] = 0  # two steps at one place are one change
        nights = 1 + int(self.options[AZIMUTH].place.max())
        weights = np.tile(self.ridge_probability, len(RIDGE))
        mass = np.bincount(places.ravel(), weights=weights, minlength=nights)
        mass[0] = 0.0
        return np.asarray(mass, dtype=float)


def weigh(nights: Nights) -> SeasonPosterior:
    """Return the options of every block weighed against all nights, two or more."""
    options = tuple(options_of(block, len(nights)) for block in BLOCKS)
    best = np.array([_likeliest(o, kind) for o, kind in zip(options, FIRST_GUESS, strict=True)])
    ridge, log_weight = np.empty((0, len(RIDGE)), dtype=int), np.empty(0)
    for _ in range(MOST_SWEEPS):
        before = best.copy()
        heights = {block: _log_posterior_of_block(nights, options, best, block) for block in ALONE}
        for block in ALONE:
            best[block] = heights[block].argmax()
        if log_weight.size and np.array_equal(best, before):
            break
        azimuth = _log_posterior_of_block(nights, options, best, AZIMUTH)
        ridge, log_weight = _ridge_weighed(nights, options, best, azimuth)
        best[list(RIDGE)] = ridge[log_weight.argmax()]
    probability, _ = normalised(log_weight)
    share = _share_within_kinds(options[AZIMUTH], azimuth)
    alone = {block: normalised(heights[block])[0] for block in ALONE}
    picks = _best_together(options[AZIMUTH], ridge, probability, share, alone)
    weight, _ = normalised(log_posterior(nights, options, picks))
    order = np.argsort(-weight)
    return SeasonPosterior(
        options=options,
        ridge=ridge,
        ridge_probability=probability,
        azimuth_share=share,
        alone=alone,
        picks=picks[order],
        weight=weight[order],
    )


def log_posterior(nights: Nights, options: tuple[Options, ...], picks: np.ndarray) -> FloatArray:
    """Return ln of evidence times prior (c,) of combinations that pick (c, 5) the options."""
    log_prior = sum(options[b].log_prior[picks[:, b]] for b in range(len(BLOCKS)))
    return np.asarray(log_evidence(nights, assumptions_of(options, picks)) + log_prior)


def _likeliest(options: Options, kind: int) -> int:
    return int(np.argmax(np.where(options.kind == kind, options.log_prior, -np.inf)))


def _log_posterior_of_block(
    nights: Nights, options: tuple[Options, ...], best: np.ndarray, block: int
) -> FloatArray:
    """Return ln evidence times prior (o,) of a block's options, the other blocks at their best."""
    picks = np.tile(best, (options[block].kind.size, 1))
    picks[:, block] = np.arange(picks.shape[0])
    return log_posterior(nights, options, picks)


def _ridge_weighed(
    nights: Nights, options: tuple[Options, ...], best: np.ndarray, azimuth: FloatArray
) -> tuple[np.ndarray, FloatArray]:
    """Return combinations (c, 3) of the ridge's blocks, with ln evidence times prior (c,).

    `azimuth` (o,) says which option of the azimuth index stands for its kind. Two steps of the tube
    at once are tried for all places where these are few, else for the likeliest ones.
    """
    turned, first, second = (options[b] for b in RIDGE)
    stand_in, log_total = _stand_ins(turned, azimuth)
    steps = [np.flatnonzero(option.kind == CHANGED) for option in (turned, first, second)]
    calm = [stand_in, *(np.flatnonzero(option.kind != CHANGED) for option in (first, second))]
    singles = np.concatenate([
        _combined(calm[0], calm[1], calm[2]),
        _combined(calm[0], steps[1], calm[2]),
        _combined(calm[0], calm[1], steps[2]),
        _combined(steps[0], calm[1], calm[2]),
    ])  # fmt: skip
    log_weight = _ridge_log_posterior(nights, options, best, singles)
    likely = [_likely_steps(singles[:, k], log_weight, steps[k]) for k in (1, 2)]
    doubles = _combined(calm[0], likely[0], likely[1])
    log_weight = np.concatenate([log_weight, _ridge_log_posterior(nights, options, best, doubles)])
    ridge = np.concatenate([singles, doubles])
    return ridge, log_weight + log_total[turned.kind[ridge[:, 0]]]


def _stand_ins(options: Options, log_weight: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Return the likeliest option without a step of each kind, and ln (3,) of all over that one."""
    stand_in, log_total = [], np.zeros(len(KINDS))
    for kind in (MOUNT, SETUP):
        own = np.where(options.kind == kind, log_weight, -np.inf)
        stand_in.append(int(own.argmax()))
        log_total[kind] = np.logaddexp.reduce(own) - own.max()
    return np.array(stand_in), log_total


def _share_within_kinds(options: Options, log_weight: FloatArray) -> FloatArray:
    """Return the probability (o,) of each option among those of its kind."""
    share = np.zeros(log_weight.size)
    for kind in range(len(KINDS)):
        own = options.kind == kind
        share[own] = normalised(log_weight[own])[0]
    return share


def _combined(*parts: np.ndarray) -> np.ndarray:
    return np.stack([part.ravel() for part in np.meshgrid(*parts, indexing="ij")], axis=1)


def _likely_steps(tried: np.ndarray, log_weight: FloatArray, steps: np.ndarray) -> np.ndarray:
    """Return those of the steps that alone explain the nights best, all where they are few."""
    reached = np.full(max(int(tried.max()), int(steps.max())) + 1, -np.inf)
    np.maximum.at(reached, tried, log_weight)
    return steps[np.argsort(-reached[steps])[:PAIRED_STEPS]]


def _ridge_log_posterior(
    nights: Nights, options: tuple[Options, ...], best: np.ndarray, ridge: np.ndarray
) -> FloatArray:
    picks = np.tile(best, (ridge.shape[0], 1))
    picks[:, list(RIDGE)] = ridge
    return log_posterior(nights, options, picks)


def _best_together(
    azimuth: Options,
    ridge: np.ndarray,
    probability: FloatArray,
    share: FloatArray,
    alone: dict[int, FloatArray],
) -> np.ndarray:
    """Return the likeliest combinations (k, 5), were the blocks alone independent of the rest."""
    spread = list(_each_azimuth(azimuth, ridge, probability, share))
    rows = np.array([row for row, _ in spread])
    chance = np.array([chance for _, chance in spread])
    parts = [np.argsort(-chance)[:MOST_MIXED]]
    parts += [np.argsort(-alone[block])[:MOST_OF_A_BLOCK] for block in ALONE]
    grid = _combined(*parts)
    together = chance[grid[:, 0]]
    for k, block in enumerate(ALONE, start=1):
        together = together * alone[block][grid[:, k]]
    kept = grid[np.argsort(-together)[:MOST_MIXED]]
    picks = np.empty((kept.shape[0], len(BLOCKS)), dtype=int)
    picks[:, list(RIDGE)] = rows[kept[:, 0]]
    for k, block in enumerate(ALONE, start=1):
        picks[:, block] = kept[:, k]
    return picks


def _each_azimuth(
    azimuth: Options, ridge: np.ndarray, probability: FloatArray, share: FloatArray
) -> Iterator[tuple[np.ndarray, float]]:
    """Yield the likeliest rows of the ridge, a stand-in as each option that it stands for."""
    for row in np.argsort(-probability)[:MOST_MIXED]:
        kind = azimuth.kind[ridge[row, 0]]
        if kind == CHANGED:
            yield ridge[row], float(probability[row])
            continue
        for option in np.flatnonzero(azimuth.kind == kind):
            yield np.array([option, *ridge[row, 1:]]), float(probability[row] * share[option])
