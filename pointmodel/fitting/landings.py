"""Where the log's own stars land in the eyepiece: as logged, and once remedies are done.

Read `forecasting/outlook.py` first. A star that the go-to misses stands off the middle of the field
by as much as the tube had to be moved: x to the right, y up, arcminutes on the sky.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.results import PairResults
from pointmodel.forecasting.alignment import aligned_misses, realignment
from pointmodel.forecasting.forecast import without_terms, zeroed
from pointmodel.forecasting.machine import linearised_at
from pointmodel.forecasting.outlook import Outlook, at_targets
from pointmodel.mount.remedies import ACTIONS, Ending
from pointmodel.mount.starfix import StarFixKind


@dataclass(frozen=True, eq=False)
class Landing:
    """Where the stars land after what `title` says: offsets (n,) right and up, arcminutes."""

    title: str
    x_arcmin: FloatArray
    y_arcmin: FloatArray

    @property
    def miss_arcmin(self) -> FloatArray:
        """How far from the middle each star stands (n,)."""
        return np.hypot(self.x_arcmin, self.y_arcmin)


def landing_as_logged(pairs: PairResults) -> Landing:
    """Return where each star stood when the go-to had ended."""
    return Landing("as logged", pairs.before_x_arcmin, pairs.before_y_arcmin)


def landing_after(
    outlook: Outlook,
    pairs: PairResults,
    actions: Sequence[str],
    title: str,
    *,
    kind: StarFixKind = "rotation",
) -> Landing:
    """Return where the same stars would land once `actions` were done in their order.

    What the fit leaves over of each star stays; zeroing and aligning are those that forecasts use,
    on middling and on good stars. `kind` is what the controller works out from two stars.
    """
    there = at_targets(outlook, pairs.star_az_deg, pairs.star_alt_deg)
    cured = [name for action in actions for name in ACTIONS[action].cures]
    ends = [ACTIONS[action].ends for action in actions if ACTIONS[action].ends != "nothing"]
    ending = ends[-1] if ends else "nothing"
    central = _central(outlook, there, tuple(cured), ending, kind)
    return Landing(
        title,
        pairs.residual_x_arcmin - central[:, 0],
        pairs.residual_y_arcmin - central[:, 1],
    )


def _central(
    outlook: Outlook, there: Outlook, cured: tuple[str, ...], end: Ending, kind: StarFixKind
) -> FloatArray:
    """How far the mount points from each star (n, 2), after cures and what they end with."""
    if end == "zero":
        ((zero, _),) = zeroed([without_terms(there, cured)])
        return zero.central
    if end == "corrections":
        return np.zeros((there.targets[0].size, 2))
    mended = without_terms(outlook, cured)
    if end == "realign":
        best = realignment(mended, kind).best
        pair = np.array([(best.first, best.second)])
        return np.asarray(aligned_misses(mended, pair, *there.targets, kind)[0][0])
    az_deg, alt_deg = there.targets
    return linearised_at(mended.model, az_deg, alt_deg, az_deg, alt_deg).miss
