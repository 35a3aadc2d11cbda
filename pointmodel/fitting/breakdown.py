"""What pictures and tables show beyond the results: shares of the terms, landings, influence.

Read `shares.py`, `landings.py` and `unsettled.py` first: small pure functions, put together here
for one fit. Nothing is drawn and nothing worded.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.fitting.landings import Landing, landing_after, landing_as_logged
from pointmodel.fitting.shares import (
    SLACK,
    STEPS_AND_DRIFTS,
    Bought,
    Family,
    bought,
    family_of,
    segment_shares,
)
from pointmodel.fitting.turn import logged_misses
from pointmodel.fitting.unsettled import (
    Influence,
    Ridge,
    correlation_of,
    influence_of,
    ridge_of,
)
from pointmodel.mount.remedies import ACTIONS
from pointmodel.mount.starfix import StarFixKind

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit

FAMILIES: tuple[Family, ...] = ("lean", "tube", "zeros")


@dataclass(frozen=True, eq=False)
class Breakdown:
    """A fit taken apart, one entry a pair of the log (n,) where not said otherwise; arcminutes.

    `part` (n,) counts the log's parts between events. `shares` (n, 2) holds what each family of
    terms adds to the misses, `steps` (n, 2) what slips and drifts do, `slack` (n, 2) what slack
    gears do. `correlation` (p, p) goes
    with `names` (p,), the terms of the last part; `degrees_of_freedom` are figures used less terms.
    """

    part: NDArray[np.int64]
    shares: dict[Family, FloatArray]
    steps: FloatArray
    slack: FloatArray
    bought: tuple[Bought, ...]
    ridge: Ridge | None
    influence: Influence | None
    names: tuple[str, ...]
    correlation: FloatArray
    degrees_of_freedom: int

    @property
    def has_steps(self) -> bool:
        """Whether the fit found a slip or a drift."""
        return bool(np.any(self.steps))


def breakdown_of(fit: Fit) -> Breakdown:
    """Return a fit taken apart."""
    turn = logged_misses(fit.pair_results).turn_deg or 0.0
    solutions = [solution for _, solution in fit.segments]
    parts = [segment_shares(solution, 60.0 * turn) for solution in solutions]
    counts = [len(log) for log, _ in fit.segments]
    shares = {
        family: np.concatenate([
            part.share([name for name in part.names if family_of(name) == family]) for part in parts
        ])
        for family in FAMILIES
    }  # fmt: skip
    posterior = fit.solution.posterior
    chosen = posterior.chosen
    numbers = 2 * sum(int(part.good.sum()) for part in parts)
    return Breakdown(
        part=np.repeat(np.arange(len(counts)), counts),
        shares=shares,
        steps=np.concatenate([part.share(STEPS_AND_DRIFTS) for part in parts]),
        slack=np.concatenate([part.share(SLACK) for part in parts]),
        bought=bought(parts, fit.noise.sigma_arcmin**2),
        ridge=ridge_of(fit.solution, fit.outlook.targets, -fit.outlook.corrected.slope),
        influence=influence_of(fit.solution, fit.last_segment.line),
        names=tuple(posterior.columns[column].name for column in chosen),
        correlation=correlation_of(posterior.covariance[np.ix_(chosen, chosen)]),
        degrees_of_freedom=numbers - sum(len(part.names) for part in parts),
    )


def _moves_stars(action: str) -> bool:
    """Whether go-to is another once this is done: a question or a look changes nothing."""
    return bool(ACTIONS[action].cures) or ACTIONS[action].ends != "nothing"


def landings_of(
    fit: Fit, quick: Sequence[str] | None, thorough: Sequence[str]
) -> tuple[Landing, ...]:
    """Return where the log's stars land as logged, after the quick and after the thorough steps.

    Both are actions in their order; None or nothing leaves that one out.
    """
    pairs = fit.pair_results
    learns = fit.log.mount.alignment.solves in ("altitude_zero", "full")
    kind: StarFixKind = "altitude_zero" if learns else "rotation"
    found = [landing_as_logged(pairs)]
    after_all = "all steps" if quick else "after the steps"
    for title, actions in (("the quick way", quick), (after_all, thorough)):
        if actions and any(_moves_stars(action) for action in actions):
            found.append(landing_after(fit.outlook, pairs, actions, title, kind=kind))
    return tuple(found)
