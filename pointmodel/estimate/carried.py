"""What is carried over from other nights of a mount, or from earlier segments of this one.

Read `termsprior.py` first. What is carried over is never trusted blindly: it comes as a handful of
alternatives, from "as it was" to "forget it", and the night's own pairs choose among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.termsprior import TermsPrior, azimuth_sd
from pointmodel.mount.priors import (
    FREE_AZIMUTH_SD_ARCMIN,
    NIGHT_TO_NIGHT,
    SAME_NOISE_AGAIN,
    Loosening,
)
from pointmodel.mount.terms import STANDARD_NAMES

FULL_TURN_ARCMIN = 21600.0


@dataclass(frozen=True)
class Carried:
    """Normals with means (b, 6) and covariances (b, 6, 6), each with its way of holding.

    What odds the ways leave goes to the usual prior. `log_sigma` is mean, sd and share of what was
    carried over of ln of the noise.
    """

    alternatives: tuple[Loosening, ...]
    mean: FloatArray
    covariance: FloatArray
    log_sigma: tuple[float, float, float]

    @property
    def share_of_usual(self) -> float:
        """Prior weight of knowing nothing."""
        return 1.0 - sum(way.odds for way in self.alternatives)

    def prior(self, azimuth_arcmin: float) -> TermsPrior:
        """Return the alternatives for an azimuth index found near this one.

        The azimuth index is brought to the turn on which it was found; a new one has the usual
        prior, so that knowing the rest is not paid for with a wider guess at the azimuth.
        """
        mean, covariance = self.mean.copy(), self.covariance.copy()
        turns = np.rint((azimuth_arcmin - mean[:, 0]) / FULL_TURN_ARCMIN)
        mean[:, 0] += turns * FULL_TURN_ARCMIN
        new = [k for k, way in enumerate(self.alternatives) if way.azimuth_is_new]
        sd = azimuth_sd(azimuth_arcmin)
        mean[new, 0] = azimuth_arcmin if sd >= FREE_AZIMUTH_SD_ARCMIN else 0.0
        covariance[new, 0, :] = covariance[new, :, 0] = 0.0
        covariance[new, 0, 0] = sd**2
        log_odds = np.log(np.array([way.odds for way in self.alternatives]))
        return TermsPrior(mean, np.asarray(np.linalg.cholesky(covariance)), log_odds)


def carried_over(
    mean: FloatArray,
    covariance: FloatArray,
    log_sigma: tuple[float, float],
    alternatives: tuple[Loosening, ...] = NIGHT_TO_NIGHT,
) -> Carried:
    """Return what is carried over: mean (6,) and covariance (6, 6), loosened in each way."""
    added = np.array(
        [[way.sd_arcmin.get(name, 0.0) for name in STANDARD_NAMES] for way in alternatives]
    )
    loosened = covariance + added[:, :, None] ** 2 * np.eye(mean.size)
    return Carried(
        alternatives,
        np.tile(mean, (len(alternatives), 1)),
        loosened,
        (*log_sigma, SAME_NOISE_AGAIN),
    )
