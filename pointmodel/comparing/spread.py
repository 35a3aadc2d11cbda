"""How much terms differ from night to night, from few nights.

The errors of terms hang together within a night, so their spread is asked of all nights' pairs at
once, as a posterior: it stays sane at two or three nights, where a moment estimate (`pooling.py`)
is often zero and says nothing of how little it knows.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.blocks import BLOCKS, Block
from pointmodel.comparing.evidence import Assumptions, Nights, assumptions_of, log_evidence
from pointmodel.comparing.posterior import SeasonPosterior
from pointmodel.comparing.results import Interval
from pointmodel.estimate.gaussian import normalised

NODES = 28  # of ln of the spread, a third apart: its posterior is never narrower


def between_night_sd(nights: Nights, weighed: SeasonPosterior, block: int) -> Interval:
    """Return how much a block's terms differ from night to night, beside a step: median, limits.

    The posterior on a grid, the other blocks at their best, under a half-Cauchy prior whose scale
    is what is usual of a set-up (Gelman 2006, Bayesian Analysis 1, 515, section 4.3).
    """
    best = assumptions_of(weighed.options, weighed.picks[:1])
    grid = _grid(BLOCKS[block])
    between = np.tile(best.between_sd, (NODES, 1))
    between[:, list(BLOCKS[block].terms)] = grid[:, None]
    step, place = (np.tile(part, (NODES, 1)) for part in (best.step_sd, best.place))
    log_weight = log_evidence(nights, Assumptions(between, step, place))
    scale = BLOCKS[block].typical_scatter
    weight, _ = normalised(log_weight - np.log1p((grid / scale) ** 2) + np.log(grid))
    middle = np.cumsum(weight) - 0.5 * weight
    low, value, high = np.exp(np.interp([0.025, 0.5, 0.975], middle, np.log(grid)))
    return Interval(float(value), float(low), float(high))


def _grid(block: Block) -> FloatArray:
    widest = max(sd for sd, _ in block.assumed.scatter)
    return np.exp(np.linspace(np.log(0.1), np.log(2.0 * widest), NODES))
