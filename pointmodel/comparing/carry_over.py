"""How well one night's mount terms serve another night.

Of the terms only collimation and non-perpendicularity go with the tube; zeros and tilts are each
night's own, as one would set them at the telescope, and are refitted to its pairs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.results import CarryOver
from pointmodel.comparing.summary import NightSummary, Quadratic
from pointmodel.mount.terms import STANDARD_NAMES

ALL_PAIRS_UP_TO = 12  # nights; of more each is held against its neighbours only
FEWEST_PAIRS = 3  # two pairs fit the four refitted terms whatever the tube's are
CARRIED = [STANDARD_NAMES.index(name) for name in ("collimation", "non_perpendicularity")]
REFITTED = [place for place in range(len(STANDARD_NAMES)) if place not in CARRIED]


def carry_over(summaries: Sequence[NightSummary], ids: Sequence[str]) -> tuple[CarryOver, ...]:
    """Return how each night's mount terms serve the others; of many nights, its neighbours only.

    Nights of fewer than three pairs are not tested.
    """
    reach = len(summaries) if len(summaries) <= ALL_PAIRS_UP_TO else 1
    found = []
    for place, test in enumerate(summaries):
        if test.misses.pairs < FEWEST_PAIRS:
            continue
        for other in range(max(place - reach, 0), min(place + reach + 1, len(summaries))):
            if other != place:
                rms = _rms_left(test.misses, summaries[other].fitted)
                found.append(CarryOver(ids[other], ids[place], rms))
    return tuple(found)


def _rms_left(misses: Quadratic, terms: FloatArray) -> float:
    """Return the radial RMS with the carried terms as told and the others at their best."""
    fixed = (terms - misses.at)[CARRIED]
    gram, cross = misses.gram, misses.cross
    pull = cross[REFITTED] - gram[np.ix_(REFITTED, CARRIED)] @ fixed
    inner = np.linalg.pinv(gram[np.ix_(REFITTED, REFITTED)], hermitian=True)
    held = fixed @ gram[np.ix_(CARRIED, CARRIED)] @ fixed - 2.0 * fixed @ cross[CARRIED]
    left = misses.square + float(held - pull @ inner @ pull)
    return float(np.sqrt(max(left, 0.0) / misses.pairs))
