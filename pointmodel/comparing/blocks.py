"""What is assumed of the terms from night to night, as options that can be weighed.

A term is the mount's own (one value, nights differ by a hair), the set-up's (nights scatter about a
common value), or changed (the mount's own, with one step between two nights). Widths and
odds stand in `mount/priors.py`; the share of each place in the odds of a change is what corrects
for looking at many places.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.priors import (
    ALTITUDE_INDEX_BY_NIGHT,
    AZIMUTH_INDEX_BY_NIGHT,
    COLLIMATION_BY_NIGHT,
    NON_PERPENDICULARITY_BY_NIGHT,
    STEP_TIMES,
    TILT_BY_NIGHT,
    ByNight,
)

BlockKind = Literal["mount", "setup", "changed"]
KINDS: tuple[BlockKind, ...] = ("mount", "setup", "changed")
MOUNT, SETUP, CHANGED = range(3)


@dataclass(frozen=True)
class Block:
    """Terms that have one kind together (indices into the six), with what is assumed of them."""

    terms: tuple[int, ...]
    assumed: ByNight

    @property
    def odds(self) -> tuple[float, float, float]:
        """Prior odds of each of `KINDS`."""
        return self.assumed.mount_odds, self.assumed.setup_odds, self.assumed.changed_odds

    @property
    def typical_scatter(self) -> float:
        """The median of how nights differ where the term is the set-up's."""
        sds, weights = (np.array(part) for part in zip(*self.assumed.scatter, strict=True))
        return float(sds[np.searchsorted(np.cumsum(weights), 0.5)])


AZIMUTH_INDEX = Block(terms=(0,), assumed=AZIMUTH_INDEX_BY_NIGHT)
ALTITUDE_INDEX = Block(terms=(1,), assumed=ALTITUDE_INDEX_BY_NIGHT)
COLLIMATION = Block(terms=(2,), assumed=COLLIMATION_BY_NIGHT)
NON_PERPENDICULARITY = Block(terms=(3,), assumed=NON_PERPENDICULARITY_BY_NIGHT)
TILT = Block(terms=(4, 5), assumed=TILT_BY_NIGHT)

BLOCKS = (AZIMUTH_INDEX, ALTITUDE_INDEX, COLLIMATION, NON_PERPENDICULARITY, TILT)
AZIMUTH = 0
RIDGE = (AZIMUTH, 2, 3)  # places in BLOCKS of what few stars can hardly tell apart
BLOCK_OF_TERM = np.array([0, 1, 2, 3, 4, 4])
COMMON_SD = np.array([BLOCKS[b].assumed.common_sd for b in BLOCK_OF_TERM])


@dataclass(frozen=True, eq=False)
class Options:
    """All that a block may be over so many nights, arrays (o,).

    `kind` indexes `KINDS`; `between_sd` is how nights differ; `step_sd` is 0 without a change,
    `place` the first night after it (0 without one).
    """

    kind: np.ndarray
    between_sd: FloatArray
    step_sd: FloatArray
    place: np.ndarray
    log_prior: FloatArray


def options_of(block: Block, nights: int) -> Options:
    """Return what a block may be over two nights or more."""
    assumed = block.assumed
    each_step = assumed.changed_odds / (nights - 1)
    rows = [(MOUNT, sd, 0.0, 0, assumed.mount_odds * weight) for sd, weight in assumed.steady]
    rows += [(SETUP, sd, 0.0, 0, assumed.setup_odds * weight) for sd, weight in assumed.scatter]
    rows += [
        (CHANGED, sd, times * assumed.step_sd, place, each_step * weight * share)
        for sd, weight in assumed.steady
        for times, share in STEP_TIMES
        for place in range(1, nights)
    ]
    kind, between, step, place, odds = (np.array(column) for column in zip(*rows, strict=True))
    return Options(kind, between, step, place, np.log(odds))
