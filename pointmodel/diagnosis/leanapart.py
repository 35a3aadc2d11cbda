"""The lean of the base apart from what wrong entries make it seem.

Read `lean.py` first. Once it is known which sidereal time and latitude the controller believes in,
the turn from the true sky to the believed one is known too, and can be taken off the fitted lean.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import log_normal_vector
from pointmodel.diagnosis.lean import TILTS, moments_of
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.priors import LEAN_SLAB, SPIKE_SD_ARCMIN

if TYPE_CHECKING:
    from pointmodel.estimate.posterior import Posterior

DEGREES_PER_SIDEREAL_MINUTE = 0.25


@dataclass(frozen=True)
class EntryOffsets:
    """What the controller believes minus what is true: sidereal minutes, degrees of latitude.

    With their sds; `latitude_deg` is the true one.
    """

    latitude_deg: float
    sidereal_min: float
    sidereal_sd_min: float
    latitude_offset_deg: float
    latitude_sd_deg: float


@dataclass(frozen=True)
class LeanApart:
    """The base's own lean (north, east), arcminutes, its covariance, what the entries seem to add.

    `probability` is that of a lean of its own that is larger than what matters.
    """

    mean_arcmin: FloatArray
    covariance: FloatArray
    seeming_arcmin: float
    probability: float


def believed_turn(
    latitude_deg: float, sidereal_min: FloatArray, latitude_offset_deg: FloatArray
) -> FloatArray:
    """Return the rotations (d, 3, 3) from true directions (north, east, up) to believed ones.

    For a sidereal time too large by `sidereal_min` (d,) and a latitude too far north by
    `latitude_offset_deg` (d,). Hour angle and declination to azimuth and altitude and back: Smart,
    Textbook on Spherical Astronomy, 6th ed., ch. 2.
    """
    turn = np.radians(DEGREES_PER_SIDEREAL_MINUTE * np.asarray(sidereal_min, dtype=float))
    zero, one = np.zeros_like(turn), np.ones_like(turn)
    about_pole = np.stack([
        np.stack([np.cos(turn), -np.sin(turn), zero], axis=-1),
        np.stack([np.sin(turn), np.cos(turn), zero], axis=-1),
        np.stack([zero, zero, one], axis=-1),
    ], axis=-2)  # fmt: skip
    believed = _from_equator(latitude_deg + np.asarray(latitude_offset_deg, dtype=float))
    return np.asarray(believed @ about_pole @ _from_equator(np.array(latitude_deg)).T)


def _from_equator(latitude_deg: FloatArray) -> FloatArray:
    """Return the rotations (..., 3, 3) from (meridian, west, pole) to (north, east, up)."""
    sine, cosine = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))
    zero, one = np.zeros_like(sine), np.ones_like(sine)
    rows = ([-sine, zero, cosine], [zero, -one, zero], [cosine, zero, sine])
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def lean_apart(posterior: Posterior, offsets: EntryOffsets, matters_arcmin: float) -> LeanApart:
    """Return the lean of the base once the turn of the believed sky is taken off it.

    The chance of a lean of its own weighs one of some 30′ against next to none, even odds.
    """
    _, _, draws = moments_of(posterior, TILTS)
    rng = np.random.default_rng(len(draws))
    normal = rng.standard_normal((2, len(draws)))
    turns = believed_turn(
        offsets.latitude_deg,
        offsets.sidereal_min + offsets.sidereal_sd_min * normal[0],
        offsets.latitude_offset_deg + offsets.latitude_sd_deg * normal[1],
    )
    own = _tilts(np.einsum("dji,dj->di", turns, _axes(draws)))
    mean, covariance = own.mean(axis=0), np.cov(own.T)
    seeming = _tilts(turns @ np.array([0.0, 0.0, 1.0])).mean(axis=0)
    there = _log_density(mean, covariance, LEAN_SLAB.sd_arcmin)
    there -= _log_density(mean, covariance, SPIKE_SD_ARCMIN)
    chance = 1.0 / (1.0 + np.exp(-np.clip(there, -60.0, 60.0)))
    large = float(np.mean(np.hypot(*own.T) > matters_arcmin))
    return LeanApart(mean, covariance, float(np.hypot(*seeming)), float(chance * large))


def log_odds_of_feigned(posterior: Posterior, apart: LeanApart) -> float:
    """Return ln of how much better the lean goes with a wrong controller than with a right one.

    With a wrong controller the base's own lean is what is left, else the fitted one; own leans are
    next to none or some 30′, as often. A wrong mount file feigns no lean: the places are right.
    """
    mean, covariance, _ = moments_of(posterior, TILTS)
    return _log_own(apart.mean_arcmin, apart.covariance) - _log_own(mean, covariance)


def _log_own(mean: FloatArray, covariance: FloatArray) -> float:
    """Return ln of the density of a lean of the base's own seen as `mean`, but for a half."""
    return float(
        np.logaddexp(
            _log_density(mean, covariance, SPIKE_SD_ARCMIN),
            _log_density(mean, covariance, LEAN_SLAB.sd_arcmin),
        )
    )


def _axes(tilts_arcmin: FloatArray) -> FloatArray:
    """Return where azimuth axes point (d, 3) for leans (d, 2) in arcminutes."""
    lean = np.hypot(tilts_arcmin[:, 0], tilts_arcmin[:, 1]) / ARCMIN_PER_RADIAN
    toward = np.arctan2(tilts_arcmin[:, 1], tilts_arcmin[:, 0])
    flat = np.sin(lean)
    return np.stack([flat * np.cos(toward), flat * np.sin(toward), np.cos(lean)], axis=-1)


def _tilts(axes: FloatArray) -> FloatArray:
    """Return the leans (d, 2), arcminutes, of axes (d, 3): the inverse of `_axes`."""
    flat = np.hypot(axes[:, 0], axes[:, 1])
    lean = np.arctan2(flat, axes[:, 2]) * ARCMIN_PER_RADIAN
    return np.asarray(axes[:, :2] * (lean / np.maximum(flat, 1e-300))[:, None])


def _log_density(mean: FloatArray, covariance: FloatArray, sd: float) -> float:
    """Return ln of the normal density of a lean seen as `mean` when leans have this sd an axis."""
    return log_normal_vector(mean, covariance + sd**2 * np.eye(2))
