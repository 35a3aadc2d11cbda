"""Which two stars to align on, and what go-tos miss by afterwards.

Read `alignment.py` first: every pair well apart is tried on the mount as it is known, in both
orders. On top comes how well the two stars are centred.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.alignment import aligned_misses
from pointmodel.forecasting.outlook import Outlook, square_miss
from pointmodel.planning.candidates import Candidates
from pointmodel.planning.knowledge import Knowledge

MOST_STARS = 16
LEAST_APART_DEG, MOST_APART_DEG = 45.0, 150.0  # nearer ones are easily confused, too
SHOWN = 3
TRIED_IN_FULL = 8
SOME_TARGETS = 8


@dataclass(frozen=True)
class AlignmentChoice:
    """Two alignment stars, in the order to centre them, and the RMS miss of go-tos afterwards."""

    first: str
    second: str
    rms_arcmin: float


def best_pairs(
    known: Knowledge, found: Candidates, names: tuple[str, ...]
) -> tuple[AlignmentChoice, ...]:
    """Return the best pairs of easy stars, the best first; none where fewer than two are up."""
    star = _easy_stars(found)
    first, second = (part.ravel() for part in np.meshgrid(star, star, indexing="ij"))
    at = direction_vectors(found.az_deg, found.alt_deg)
    apart_deg = np.degrees(np.arccos(np.clip((at[first] * at[second]).sum(axis=1), -1.0, 1.0)))
    fair = (apart_deg >= LEAST_APART_DEG) & (apart_deg <= MOST_APART_DEG)
    first, second, apart_deg = first[fair], second[fair], apart_deg[fair]
    if first.size == 0:
        return ()
    outlook = known.outlook
    pairs = np.stack([first, second], axis=1)
    places = np.stack([found.az_deg, found.alt_deg], axis=-1)[pairs]
    by_hand = _by_centring(outlook, at[first], np.radians(apart_deg), known.sigma_arcmin)
    best = _one_order_each(pairs, _squares(outlook, places, SOME_TARGETS) + by_hand)[:TRIED_IN_FULL]
    full = _squares(outlook, places[best], 1) + by_hand[best] + 2.0 * known.scatter_arcmin**2
    return tuple(
        AlignmentChoice(names[first[best[k]]], names[second[best[k]]], float(np.sqrt(full[k])))
        for k in np.argsort(full)[:SHOWN]
    )


def _by_centring(
    outlook: Outlook, first: FloatArray, apart: FloatArray, sigma_arcmin: float
) -> FloatArray:
    """Return the mean square miss (m,) that noise in the two readings adds, arcmin².

    The first star's error is carried everywhere; those across the arc turn the sky about it: by
    small rotations.
    """
    targets = direction_vectors(*outlook.targets)
    sine_square = 1.0 - (first @ targets.T) ** 2
    turned = (1.0 + np.cos(apart) ** 2) / np.sin(apart) ** 2 * sine_square.mean(axis=1)
    return np.asarray(sigma_arcmin**2 * (2.0 + turned))


def _easy_stars(found: Candidates) -> NDArray[np.intp]:
    """Return the brightest stars without a handicap; with, where there are hardly any without."""
    easy = np.flatnonzero(found.easy)
    if easy.size < 4:
        easy = np.argsort(found.handicap, kind="stable")[:MOST_STARS]
    return easy[np.argsort(found.magnitude[easy], kind="stable")][:MOST_STARS]


def _squares(outlook: Outlook, pairs: FloatArray, step: int) -> FloatArray:
    az_deg, alt_deg = (part[::step] for part in outlook.targets)
    misses = aligned_misses(outlook, pairs, az_deg, alt_deg)
    return square_miss(*misses).expected(outlook.covariance)


def _one_order_each(pairs: NDArray[np.intp], squares: FloatArray) -> NDArray[np.intp]:
    """Return indices, best first, with each two stars in their better order only."""
    order = np.argsort(squares)
    _, once = np.unique(np.sort(pairs[order], axis=1), axis=0, return_index=True)
    return np.asarray(order[np.sort(once)])
