"""Where on the sky a lean shows: the next star to centre, and the stars that confirm a level base.

Read `outlook.py` first. Places are azimuth and altitude in degrees, on the open sky.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.outlook import Outlook

Place = tuple[float, float]
EASY_ALT_DEG = 30.0
FARTHEST_OFF_DEG = 60.0


def next_star(outlook: Outlook, tilts: tuple[int, int], sigma_arcmin: float) -> Place:
    """Return the place where one more star would tell most about the lean.

    `tilts` are the columns of the two tilts; `sigma_arcmin` is the noise of a pair an axis. The
    covariance after one more star is that of a linear update (Gelb, Applied Optimal Estimation,
    1974, section 4.2).
    """
    slope, covariance = outlook.corrected.slope, outlook.covariance
    crossed = slope @ covariance
    spread = crossed @ np.swapaxes(slope, 1, 2) + max(sigma_arcmin, 0.1) ** 2 * np.eye(2)
    toward_tilts = crossed[..., list(tilts)]
    gained = toward_tilts * np.linalg.solve(spread, toward_tilts)
    best = int(gained.sum(axis=(1, 2)).argmax())
    return _place(outlook.targets, best)


def confirming_stars(
    targets: tuple[FloatArray, FloatArray], toward_az_deg: float
) -> tuple[Place, ...]:
    """Return up to three places: zero on the first; a lean that is left shows at the others.

    The first lies the way the axis leaned, the second opposite, where what is left that way shows
    doubled, the third square to both. Sides without open sky are left out.
    """
    found = [_nearest(targets, toward_az_deg + turn) for turn in (0.0, 180.0, 90.0, 270.0)]
    first, opposite, right, left = found
    return tuple(place for place in (first, opposite, right or left) if place is not None)


def _nearest(targets: tuple[FloatArray, FloatArray], az_deg: float) -> Place | None:
    """Return the open place at a height easy to reach that is nearest to an azimuth."""
    aside = np.abs(wrap_deg(targets[0] - az_deg))
    best = int((aside + np.abs(targets[1] - EASY_ALT_DEG)).argmin())
    return None if aside[best] > FARTHEST_OFF_DEG else _place(targets, best)


def _place(targets: tuple[FloatArray, FloatArray], index: int) -> Place:
    return float(targets[0][index]), float(targets[1][index])
