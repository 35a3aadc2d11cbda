"""How well an assumption about the terms explains all nights together, and what follows from it.

Read `summary.py` and `blocks.py` first. Night i has terms θᵢ = μ + h δ + εᵢ: a common value, a step
for nights from its place on, and what is the night's alone, ε ~ N(0, D) with D diagonal. With the
night's pairs saying N(mᵢ, Λᵢ⁻¹), ε is integrated out night by night and leaves Aᵢ = R (I + R D R)⁻¹
R with R = √Λᵢ, which is (Λᵢ⁻¹ + D)⁻¹ also where Λᵢ is singular. What is left is a linear model of
μ and δ whose moments are sums over nights: time goes with the number of nights, and every place of
a step costs the same once the sums from each night on are kept (Gelman et al., Bayesian Data
Analysis, 3rd ed., sections 5.4 and 15.1 for the model; Harville 1977, J. Am. Stat. Assoc. 72, 320,
for integrating out a common part).

Shapes: c assumptions, n nights, six terms; twelve common parameters, μ before δ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.angles import HALF_TURN_ARCMIN
from pointmodel.base.arrays import FloatArray
from pointmodel.comparing.blocks import BLOCK_OF_TERM, COMMON_SD, Options
from pointmodel.comparing.pooling import information_gains
from pointmodel.comparing.summary import NightSummary
from pointmodel.mount.terms import N_STANDARD

AT_ONCE = 4096  # assumptions: keeps memory to some megabytes
_TERM = np.tile(np.arange(N_STANDARD), 2)


@dataclass(frozen=True, eq=False)
class Nights:
    """What the pairs of n nights say: likeliest terms (n, 6) and roots R (n, 6, 6).

    Azimuth indices stand about `azimuth_arcmin`, on turns that bring them closest together.
    """

    mean: FloatArray
    root: FloatArray
    azimuth_arcmin: float

    def __len__(self) -> int:
        """How many nights there are."""
        return int(self.mean.shape[0])


@dataclass(frozen=True, eq=False)
class Assumptions:
    """c assumptions: how nights differ (c, 6), sds of steps and their places (c, 6)."""

    between_sd: FloatArray
    step_sd: FloatArray
    place: np.ndarray

    def take(self, which: slice) -> Assumptions:
        """Return some of them."""
        return Assumptions(self.between_sd[which], self.step_sd[which], self.place[which])


def nights_of(summaries: Sequence[NightSummary]) -> Nights:
    """Return the nights as the comparison takes them."""
    mean = np.array([summary.mean for summary in summaries])
    information = np.array([summary.information for summary in summaries])
    information *= information_gains(summaries)[:, None, None]
    eigenvalues, vectors = np.linalg.eigh(information)
    root = np.sqrt(np.maximum(eigenvalues, 0.0))[:, None, :] * vectors @ np.swapaxes(vectors, 1, 2)
    mean[:, 0], middle = _turned_together(mean[:, 0])
    return Nights(mean, root, middle)


def _turned_together(azimuth_arcmin: FloatArray) -> tuple[FloatArray, float]:
    """Return azimuth indices (n,) about their middle, cut open at the widest gap between them."""
    turn = 2.0 * HALF_TURN_ARCMIN
    on_circle = np.mod(azimuth_arcmin, turn)
    ordered = np.sort(on_circle)
    gaps = np.diff(np.append(ordered, ordered[0] + turn))
    first = ordered[(int(gaps.argmax()) + 1) % ordered.size]
    opened = np.mod(on_circle - first, turn)
    middle = 0.5 * float(opened.max())
    return opened - middle, first + middle


def assumptions_of(options: tuple[Options, ...], picks: np.ndarray) -> Assumptions:
    """Return the assumptions that pick (c, b) one option of each of b blocks."""
    chosen = [(options[b], picks[:, b]) for b in BLOCK_OF_TERM]
    return Assumptions(
        np.stack([option.between_sd[pick] for option, pick in chosen], axis=1),
        np.stack([option.step_sd[pick] for option, pick in chosen], axis=1),
        np.stack([option.place[pick] for option, pick in chosen], axis=1),
    )


@dataclass(frozen=True, eq=False)
class _Sums:
    """Aᵢ (u, n, 6, 6) for u spreads of nights about what they share, and the sums from there.

    `inner` (u, n, 6, 6) and `cross` (u, n, 6) are the sums of Aᵢ and Aᵢ mᵢ from each night on;
    `log_nights` (u,) is what does not depend on the common parameters.
    """

    each: FloatArray
    inner: FloatArray
    cross: FloatArray
    log_nights: FloatArray


def _sums(nights: Nights, between_sd: FloatArray) -> _Sums:
    """Return the sums for each set of sds (u, 6) by which nights may differ.

    ln N(m; φ, Λ⁻¹ + D) is −½ (ln |I + R D R| + (m − φ)ᵀ A (m − φ)) up to what all share, with
    A = (Λ⁻¹ + D)⁻¹ and R = √Λ.
    """
    root = nights.root
    variance = between_sd**2
    whole = np.eye(N_STANDARD) + (root * variance[:, None, None, :]) @ root
    each = root @ np.linalg.solve(whole, np.broadcast_to(root, whole.shape))
    pulled = (each @ nights.mean[..., None])[..., 0]
    own = np.linalg.slogdet(whole)[1] + (pulled * nights.mean).sum(axis=-1)
    return _Sums(each, _from_each_on(each), _from_each_on(pulled), -0.5 * own.sum(axis=1))


def _from_each_on(parts: FloatArray) -> FloatArray:
    return np.asarray(np.flip(np.cumsum(np.flip(parts, axis=1), axis=1), axis=1))


def _common_moments(
    sums: _Sums, which: np.ndarray, assumed: Assumptions, used: np.ndarray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return prior sds (c, p), inner moments (c, p, p), cross moments (c, p) of `used` parameters.

    Of the twelve common ones, places (p,).
    """
    count, term = which.size, _TERM[used]
    place = np.hstack([np.zeros((count, N_STANDARD), dtype=int), assumed.place])[:, used]
    later = np.maximum(place[:, :, None], place[:, None, :])
    inner = sums.inner[which[:, None, None], later, term[:, None], term]
    cross = sums.cross[which[:, None], place, term]
    sd = np.hstack([np.broadcast_to(COMMON_SD, (count, N_STANDARD)), assumed.step_sd])[:, used]
    return sd, inner, cross


def log_evidence(nights: Nights, assumed: Assumptions) -> FloatArray:
    """Return ln of the evidence (c,) of each assumption, up to what all share.

    The common parameters have sds S; with the sums G of Aᵢ and u of Aᵢ mᵢ they leave
    −½ ln |I + S G S| + ½ uᵀS (I + S G S)⁻¹ S u, here by Cholesky's root of I + S G S.
    """
    spreads, which = np.unique(assumed.between_sd, axis=0, return_inverse=True)
    sums, which = _sums(nights, spreads), which.reshape(-1)
    found = sums.log_nights[which]
    stepped = N_STANDARD + np.flatnonzero(assumed.step_sd.any(axis=0))
    used = np.concatenate([np.arange(N_STANDARD), stepped])
    for start in range(0, which.size, AT_ONCE):
        part = slice(start, start + AT_ONCE)
        sd, inner, cross = _common_moments(sums, which[part], assumed.take(part), used)
        whole = np.eye(used.size) + sd[:, :, None] * inner * sd[:, None, :]
        pull = sd * cross
        lower = np.linalg.cholesky(whole)
        solved = np.linalg.solve(lower, pull[..., None])[..., 0]
        log_size = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
        found[part] += 0.5 * (solved**2).sum(axis=1) - log_size
    return np.asarray(found)


@dataclass(frozen=True, eq=False)
class Conclusions:
    """What follows from each of c assumptions, arcminutes.

    Terms of each night: mean and sd (c, n, 6). The common parameters: mean (c, 12) and covariance
    (c, 12, 12). One more night: mean (c, 6) and covariance (c, 6, 6).
    """

    night_mean: FloatArray
    night_sd: FloatArray
    common_mean: FloatArray
    common_covariance: FloatArray
    next_mean: FloatArray
    next_covariance: FloatArray


def conclusions(nights: Nights, assumed: Assumptions) -> Conclusions:
    """Return what follows from each assumption for every night and for one more."""
    spreads, which = np.unique(assumed.between_sd, axis=0, return_inverse=True)
    sums, which = _sums(nights, spreads), which.reshape(-1)
    sd, inner, cross = _common_moments(sums, which, assumed, np.arange(2 * N_STANDARD))
    whole = np.eye(2 * N_STANDARD) + sd[:, :, None] * inner * sd[:, None, :]
    covariance = sd[:, :, None] * np.linalg.inv(whole) * sd[:, None, :]
    mean = (covariance @ cross[..., None])[..., 0]
    stepped = np.arange(len(nights))[None, :, None] >= assumed.place[:, None, :]
    reach = _reach(stepped)
    centre = (reach @ mean[:, None, :, None])[..., 0]
    variance = assumed.between_sd**2
    each = sums.each[which]
    # θ = m + W (φ − m) with W = I − D A: what the common parameters put where the pairs are silent
    kept = np.eye(N_STANDARD) - variance[:, None, :, None] * each
    night_mean = nights.mean + (kept @ (centre - nights.mean)[..., None])[..., 0]
    own = (kept * variance[:, None, None, :]).diagonal(axis1=2, axis2=3)
    through = kept @ reach
    shared = ((through @ covariance[:, None]) * through).sum(axis=-1)
    last = _reach(np.ones((which.size, 1, N_STANDARD), dtype=bool))[:, 0]
    next_covariance = last @ covariance @ np.swapaxes(last, 1, 2)
    next_covariance[:, np.arange(N_STANDARD), np.arange(N_STANDARD)] += variance
    return Conclusions(
        night_mean=night_mean,
        night_sd=np.sqrt(np.maximum(own + shared, 0.0)),
        common_mean=mean,
        common_covariance=covariance,
        next_mean=(last @ mean[..., None])[..., 0],
        next_covariance=next_covariance,
    )


def _reach(stepped: np.ndarray) -> FloatArray:
    """Return the matrices (c, n, 6, 12) from common parameters to what nights share."""
    steps = np.eye(N_STANDARD) * stepped[..., None, :]
    return np.concatenate([np.broadcast_to(np.eye(N_STANDARD), steps.shape), steps], axis=-1)
