"""What a night cannot say: terms left to their priors, and combinations that it cannot separate.

Read `search.py` first. Both questions are asked of the scaled Gram matrix of the final model: where
the data say less than the prior, the prior speaks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate import gaussian, termsprior
from pointmodel.estimate.evaluation import Evaluation
from pointmodel.estimate.results import Status
from pointmodel.mount.terms import N_STANDARD

WIDENED = 3.0  # times the priors: what then grows was the prior's word
DETERMINED_BELOW, WEAK_BELOW = 1.15, 1.8  # growth of the sd; 3 would be the prior alone; a choice
SHARE_NAMED = 0.3  # of the largest effect on the sky: smaller ones are no use to name
KNOWN_SHARE = 0.5  # of the usual sd: other nights then told something


@dataclass(frozen=True)
class Unseen:
    """One combination of columns that the night cannot separate.

    `columns` index the model's columns, `direction` (p,) runs over them in the terms' own units;
    `star` is the index of the target that would tell most about it.
    """

    columns: tuple[int, ...]
    direction: FloatArray
    star: int


def statuses(result: Evaluation) -> tuple[Status, ...]:
    """Return determined, weak or not_determined for each column of the model.

    By how much the standard deviation grows when every prior is made three times wider. What other
    nights have told well is weak at least. What is held at a value is fixed.
    """
    ties = result.hypothesis.ties
    now = _standard_deviations(result, result.spread)
    wider = _standard_deviations(result, WIDENED * result.spread)
    found: list[Status] = [
        "determined" if r < DETERMINED_BELOW else "weak" if r < WEAK_BELOW else "not_determined"
        for r in wider / np.maximum(now, 1e-300)
    ]
    if ties is not None:
        return tuple("fixed" if h else s for h, s in zip(ties.held, found, strict=True))
    if result.spread.ndim == 2:  # told by other nights, not by this one: known all the same
        for place, sd in enumerate(now[:N_STANDARD]):
            if found[place] == "not_determined" and sd < KNOWN_SHARE * termsprior.BASE_SD[place]:
                found[place] = "weak"
    return tuple(found)


def _standard_deviations(result: Evaluation, spread: FloatArray) -> FloatArray:
    spec = gaussian.spectrum(result.spectrum.moments, spread[None])
    variance = result.variance
    share = variance / (spec.eigenvalues[0] + variance)
    return np.asarray(np.sqrt((spec.basis[0] ** 2) @ share))


def unseen(result: Evaluation, target_design: FloatArray) -> tuple[Unseen, ...]:
    """Return the combinations on which the data say less than the prior, least known first.

    `target_design` (k, 2, p) is the design at targets on the open sky, one of which would settle
    it.
    """
    spec = result.spectrum
    known = spec.eigenvalues[0] / result.variance
    order = [i for i in np.argsort(known) if known[i] < 1.0]
    size_on_sky = np.sqrt((target_design**2).sum(axis=1).mean(axis=0))
    found = []
    for i in order:
        direction = spec.basis[0][:, i]
        effect = np.abs(direction) * size_on_sky
        named = np.flatnonzero(effect > SHARE_NAMED * effect.max())
        star = int(((target_design @ direction) ** 2).sum(axis=1).argmax())
        found.append(Unseen(tuple(int(j) for j in named), direction, star))
    return tuple(found)
