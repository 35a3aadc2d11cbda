"""What is assumed of the six terms and of the noise before a night is seen, as normals to compute.

The widths are weak (`mount/priors.py` has them, and why): they keep predictions sane where the
stars cannot say, and give way where they can. A mount's class is unknown, so four groups of terms
share a scale that is found from the data.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.estimate.gaussian import NoisePrior
from pointmodel.mount.priors import (
    CARELESS_AT_LEVEL,
    CARELESS_LOG_SD,
    CARELESS_SIGMA_ARCMIN,
    CENTRED_TO,
    FREE_AZIMUTH_BEYOND_ARCMIN,
    FREE_AZIMUTH_SD_ARCMIN,
    KEEPS_LEVEL,
    LEVELS,
    LOG_SCATTER_SD,
    LOG_SIGMA_SD,
    PLUG_IN_FREEDOM,
    PROBABILITY_OF_LEVEL,
    SCATTER_ARCMIN,
    SIGMA_ARCMIN,
)
from pointmodel.mount.terms import STANDARD


@dataclass(frozen=True)
class TermsPrior:
    """b alternative normal priors of the six terms: means (b, 6), ln of their weights (b,).

    `spread` holds sds (b, 6), or roots R (b, 6, 6) of covariances R Rᵀ. `careless` (b,) is how
    probable it is with each that who set the mount up centred without care, None: not asked.
    """

    mean: FloatArray
    spread: FloatArray
    log_weight: FloatArray
    careless: FloatArray | None = None

    def with_further(self, sd: FloatArray) -> FloatArray:
        """Return `spread` with further terms of these sds (k,) added, independent of the six."""
        count = self.spread.shape[0]
        if self.spread.ndim == 2:
            return np.hstack([self.spread, np.tile(sd, (count, 1))])
        root = np.zeros((count, sd.size + 6, sd.size + 6))
        root[:, :6, :6] = self.spread
        places = np.arange(6, 6 + sd.size)
        root[:, places, places] = sd
        return root

    def take(self, kept: BoolArray) -> TermsPrior:
        """Return some of the priors, `kept` (b,) of bools."""
        careless = None if self.careless is None else self.careless[kept]
        return TermsPrior(self.mean[kept], self.spread[kept], self.log_weight[kept], careless)


BASE_SD = np.array([term.sd for term in STANDARD])
# groups: altitude index; collimation; non-perpendicularity; both tilts
GROUP_OF_TERM = (None, 0, 1, 2, 3, 3)


def _scale_mixture() -> tuple[FloatArray, FloatArray]:
    """Return the 81 scales of the six terms (81, 6) and their weights at each level (81, 3)."""
    scales, weights = [], []
    for choice in product(range(3), repeat=4):
        weights.append(
            [
                level_weight * np.prod([_given_level(level, own) for own in choice])
                for level, level_weight in enumerate(PROBABILITY_OF_LEVEL)
            ]
        )
        scales.append([1.0 if g is None else LEVELS[choice[g]] for g in GROUP_OF_TERM])
    return np.array(scales), np.array(weights)


def _given_level(level: int, own: int) -> float:
    neighbours = [other for other in (level - 1, level + 1) if 0 <= other <= 2]
    if own == level:
        return KEEPS_LEVEL
    return (1.0 - KEEPS_LEVEL) / len(neighbours) if own in neighbours else 0.0


SCALES, _AT_LEVEL = _scale_mixture()
LOG_SCALE_WEIGHT = np.log(_AT_LEVEL.sum(axis=1))
CARELESS_AT_SCALE = _AT_LEVEL @ np.array(CARELESS_AT_LEVEL) / _AT_LEVEL.sum(axis=1)


def noise_of_portable_mounts(field_arcmin: float | None = None) -> NoisePrior:
    """Return what is assumed of the noise an axis, centring included.

    The eyepiece's field of view, where it is known, says how well a star can be centred in it.
    """
    by_eye = 0.0 if field_arcmin is None else CENTRED_TO * field_arcmin
    usual, careless = max(SIGMA_ARCMIN, by_eye), max(CARELESS_SIGMA_ARCMIN, by_eye)
    return NoisePrior(
        float(np.log(usual)),
        LOG_SIGMA_SD,
        careless=(float(np.log(careless)), CARELESS_LOG_SD),
    )


def scatter_of_portable_mounts() -> NoisePrior:
    """Return what is assumed of the mount's own scatter an axis, centring apart."""
    return NoisePrior(float(np.log(SCATTER_ARCMIN)), LOG_SCATTER_SD)


def azimuth_sd(estimate_arcmin: float) -> float:
    """Return the prior sd of the azimuth index: free once the mount was plainly set down anyhow."""
    if abs(estimate_arcmin) > FREE_AZIMUTH_BEYOND_ARCMIN:
        return FREE_AZIMUTH_SD_ARCMIN
    base = BASE_SD[0]
    return float(base * np.sqrt(_widening((estimate_arcmin / base) ** 2, 1)))


def plug_in_sd(estimate: FloatArray) -> FloatArray:
    """Return one set of prior sds (6,) that gives way to a large estimate, for use while searching.

    The two tilts are taken together.
    """
    ratio = (estimate / BASE_SD) ** 2
    widening = _widening(ratio, 1)
    widening[4:6] = _widening(ratio[4] + ratio[5], 2)
    sd = BASE_SD * np.sqrt(widening)
    sd[0] = azimuth_sd(float(estimate[0]))
    return np.asarray(sd)


def _widening(square: FloatArray | float, values: int) -> FloatArray:
    """Return by how much prior variances grow where (estimate / sd)² sums to this over values.

    Student's t is a normal whose variance has an inverse-gamma prior; given the values that
    variance is expected to be (ν + square) / (ν + values) times the usual (Gelman et al., Bayesian
    Data Analysis, 3rd ed., section 17.2).
    """
    return np.maximum(1.0, (PLUG_IN_FREEDOM + square) / (PLUG_IN_FREEDOM + values))


def plug_in(at: FloatArray) -> TermsPrior:
    """Return the one prior of the six that is used while searching, linearised at `at` (6,)."""
    return _about_nothing(at, plug_in_sd(at)[None], np.zeros(1))


def mixture(at: FloatArray, estimate: FloatArray) -> TermsPrior:
    """Return the prior of the six under each of the 81 scales, for an estimate (6,) found there."""
    sd = SCALES * BASE_SD
    sd[:, 0] = azimuth_sd(float(estimate[0]))
    return replace(_about_nothing(at, sd, LOG_SCALE_WEIGHT), careless=CARELESS_AT_SCALE)


def _about_nothing(at: FloatArray, sd: FloatArray, log_weight: FloatArray) -> TermsPrior:
    """Return a prior about zero; a free azimuth index stands about where it was found."""
    mean = np.zeros_like(sd)
    if sd[0, 0] >= FREE_AZIMUTH_SD_ARCMIN:
        mean[:, 0] = at[0]
    return TermsPrior(mean, sd, log_weight)
