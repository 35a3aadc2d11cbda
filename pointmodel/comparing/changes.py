"""What changed, and between which nights: steps that are more likely than not.

Read `posterior.py` first. From few stars a step of collimation, one of non-perpendicularity and,
on a pier, one of the azimuth index look alike; whether anything of these changed is asked first,
which of them afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.blocks import BLOCKS, RIDGE
from pointmodel.comparing.evidence import Nights, assumptions_of, conclusions
from pointmodel.comparing.posterior import ALONE, SeasonPosterior
from pointmodel.comparing.results import Change, TermChance
from pointmodel.estimate.gaussian import normalised
from pointmodel.estimate.posterior import mixture_limits
from pointmodel.mount.priors import EVENS
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES

MOST_OF_A_STEP = 40  # combinations that a change is read from: the rest weighs next to nothing
WORTH_NAMING = 0.005  # probability below which another term is not named beside the likelier one
LIKELY_EVENT = {
    "azimuth_index": "Was azimuth zeroed again, or the mount set down again?",
    "altitude_index": "Was altitude zeroed again?",
    "collimation": "Was the tube taken out of its saddle, or were the mirrors adjusted?",
    "non_perpendicularity": "Was the altitude axis or the fork arm disturbed?",
    "tilt_north": "Was the base levelled again or knocked, or did it sink?",
    "tilt_east": "Was the base levelled again or knocked, or did it sink?",
}


def changes_of(nights: Nights, weighed: SeasonPosterior, ids: Sequence[str]) -> tuple[Change, ...]:
    """Return the changes that are more likely than not, in the order of the nights."""
    found: list[tuple[int, Change]] = []
    for span in spans(weighed.ridge_changed_at()):
        start, end, _ = span
        shares = {b: float(weighed.changed_at(b)[start:end].sum()) for b in RIDGE}
        total = sum(shares.values())
        block, *others = sorted(RIDGE, key=lambda b: -shares[b])
        step = replace(
            _change(nights, weighed, ids, block, span),
            probability_this_term=shares[block] / total,
            alternatives=tuple(
                TermChance(STANDARD_NAMES[BLOCKS[b].terms[0]], shares[b] / total)
                for b in others
                if shares[b] > WORTH_NAMING * total
            ),
        )
        found.append((start, step))
    for block in ALONE:
        found += [
            (span[0], _change(nights, weighed, ids, block, span))
            for span in spans(weighed.changed_at(block))
        ]
    return tuple(change for _, change in sorted(found, key=lambda pair: pair[0]))


def spans(probability: FloatArray) -> list[tuple[int, int, float]]:
    """Return the shortest spans of places [start, end) that hold a change more likely than not.

    `probability` (n,) is that of a change before each night. Where no single place is likely enough
    the span says that the date is not known better. Each with the probability that it holds one.
    """
    left, found = probability.copy(), []
    while left.sum() > EVENS:
        mass = np.concatenate([[0.0], np.cumsum(left)])
        for width in range(1, left.size + 1):
            inside = mass[width:] - mass[:-width]
            if inside.max() > EVENS:
                start = int(inside.argmax())
                break
        found.append((start, start + width, min(float(inside[start]), 1.0)))
        left[start : start + width] = 0.0
    return found


def _change(
    nights: Nights,
    weighed: SeasonPosterior,
    ids: Sequence[str],
    block: int,
    span: tuple[int, int, float],
) -> Change:
    """Return the step of a block within a span; of both tilts, the one that moved more."""
    picks, weight = _picks_with_step(weighed, block, span[0], span[1])
    follows = conclusions(nights, assumptions_of(weighed.options, picks))
    places = [N_STANDARD + term for term in BLOCKS[block].terms]
    mean = follows.common_mean[:, places]
    sd = np.sqrt(follows.common_covariance[:, places, places])
    low, high = mixture_limits(weight, mean, sd)
    value = weight @ mean
    larger = int(np.abs(value).argmax())
    term = STANDARD_NAMES[BLOCKS[block].terms[larger]]
    return Change(
        after=ids[span[0] - 1],
        before=ids[span[1] - 1],
        term=term,
        difference=float(value[larger]),
        low=float(low[larger]),
        high=float(high[larger]),
        probability_unchanged=1.0 - span[2],
        probability_this_term=1.0,
        alternatives=(),
        likely_event=LIKELY_EVENT[term],
    )


def _picks_with_step(
    weighed: SeasonPosterior, block: int, start: int, end: int
) -> tuple[np.ndarray, FloatArray]:
    """Return the likeliest combinations (k, 5) in which a block changes within a span of places."""
    if block in RIDGE:
        tried, probability, columns = weighed.ridge, weighed.ridge_probability, list(RIDGE)
        own = tried[:, RIDGE.index(block)]
    else:
        own = np.arange(weighed.options[block].kind.size)
        tried, probability, columns = own[:, None], weighed.alone[block], [block]
    place = weighed.options[block].place[own]
    inside = np.flatnonzero((place >= start) & (place < end))
    kept = inside[np.argsort(-probability[inside])[:MOST_OF_A_STEP]]
    picks = np.tile(weighed.picks[0], (kept.size, 1))
    picks[:, columns] = tried[kept]
    weight, _ = normalised(np.log(np.maximum(probability[kept], 1e-300)))
    return picks, weight
