"""What is assumed of the terms from night to night: every width and every odds stated here.

A term is the mount's own (one value, nights differ by a hair), the set-up's (nights scatter about a
common value), or changed (the mount's own, with one step between two nights). The widths are weak,
as those of a single night are (`estimate/priors.py`); the share of each place in the odds of a
change is what corrects for looking at many places.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray

BlockKind = Literal["mount", "setup", "changed"]
KINDS: tuple[BlockKind, ...] = ("mount", "setup", "changed")
MOUNT, SETUP, CHANGED = range(3)
STEP_SIZES = ((1.0, 0.7), (3.0, 0.3))


@dataclass(frozen=True)
class Block:
    """Terms that have one kind together (indices into the six), with what is assumed of them.

    Arcminutes: sd of the common value, sd of a step, and (sd, weight) of how nights differ where
    the term is steady and where it is the set-up's. `odds` go with `KINDS`.
    """

    terms: tuple[int, ...]
    common_sd: float
    step_sd: float
    steady: tuple[tuple[float, float], ...]
    scatter: tuple[tuple[float, float], ...]
    odds: tuple[float, float, float]

    @property
    def typical_scatter(self) -> float:
        """The median of how nights differ where the term is the set-up's."""
        sds, weights = (np.array(part) for part in zip(*self.scatter, strict=True))
        return float(sds[np.searchsorted(np.cumsum(weights), 0.5)])


_TUBE = ((0.3, 0.8), (1.0, 0.2))
_BASE = ((0.3, 1.0),)
AZIMUTH_INDEX = Block(
    (0,), 1e4, 60.0, _BASE,
    ((8.0, 0.25), (30.0, 0.3), (120.0, 0.3), (1000.0, 0.08), (6000.0, 0.07)),
    (0.10, 0.85, 0.05),
)  # fmt: skip
ALTITUDE_INDEX = Block(
    (1,), 60.0, 30.0, _BASE,
    ((5.0, 0.25), (15.0, 0.35), (40.0, 0.3), (100.0, 0.1)), (0.25, 0.60, 0.15),
)  # fmt: skip
COLLIMATION = Block(
    (2,), 25.0, 12.0, _TUBE,
    ((3.0, 0.3), (8.0, 0.35), (20.0, 0.25), (50.0, 0.1)), (0.60, 0.10, 0.30),
)  # fmt: skip
NON_PERPENDICULARITY = Block(
    (3,), 16.0, 8.0, _TUBE,
    ((3.0, 0.35), (8.0, 0.35), (20.0, 0.2), (40.0, 0.1)), (0.70, 0.10, 0.20),
)  # fmt: skip
TILT = Block(
    (4, 5), 40.0, 25.0, _BASE,
    ((4.0, 0.2), (12.0, 0.35), (30.0, 0.35), (80.0, 0.1)), (0.10, 0.85, 0.05),
)  # fmt: skip

BLOCKS = (AZIMUTH_INDEX, ALTITUDE_INDEX, COLLIMATION, NON_PERPENDICULARITY, TILT)
AZIMUTH = 0
RIDGE = (AZIMUTH, 2, 3)  # places in BLOCKS of what few stars can hardly tell apart
BLOCK_OF_TERM = np.array([0, 1, 2, 3, 4, 4])
COMMON_SD = np.array([BLOCKS[b].common_sd for b in BLOCK_OF_TERM])


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
    mount, setup, changed = block.odds
    rows = [(MOUNT, sd, 0.0, 0, mount * weight) for sd, weight in block.steady]
    rows += [(SETUP, sd, 0.0, 0, setup * weight) for sd, weight in block.scatter]
    rows += [
        (CHANGED, sd, size * block.step_sd, place, changed * weight * share / (nights - 1))
        for sd, weight in block.steady
        for size, share in STEP_SIZES
        for place in range(1, nights)
    ]
    kind, between, step, place, odds = (np.array(column) for column in zip(*rows, strict=True))
    return Options(kind, between, step, place, np.log(odds))
