"""The sidereal time and latitude that the controller believes in, from where it sends the mount.

One star leaves two answers, two stars one. Each pair's own two answers, in closed form, are the
starts; the best are refined by robust Gauss-Newton steps, so that a wrong name among the stars does
not spoil the others. How a place is computed (of date or of J2000, lifted by the air or not) is
unknown too: every way is tried and keeps its evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.normal import log_round_normal_2d
from pointmodel.entries.observed import (
    J2000,
    LIFTED,
    MINUTES_A_DEGREE,
    OF_DATE,
    PLAIN,
    Observed,
)
from pointmodel.entries.odds import (
    APPARENT_SHARE,
    BAD_SHARE,
    J2000_LIFTED_SHARE,
    J2000_SHARE,
    LIFTED_SHARE,
)

ARCMIN = np.pi / 10800.0
TURN_MIN = 1440.0
MINUTE = 2.0 * np.pi / TURN_MIN
ARCMIN_A_MINUTE = 15.0  # of hour angle, a minute of sidereal time
# Choices: how far a controller's own formulas may be off, one sd an axis (nutation and aberration,
# 17″ and 20″, are often left out), and of planets and Moon (short series, no parallax).
ROUGHNESS_ARCMIN, PLANET_ARCMIN, MOON_ARCMIN = 0.45, 3.0, 60.0
SHARED_MIN, SHARED_ARCMIN = (
    0.015,
    0.25,
)  # of that roughness, what all stars have in common: a choice
EVEN_DENSITY = 1.0 / (4.0 * np.pi / ARCMIN**2)  # of a bad place: once over the sphere, arcmin⁻²
KEPT_WITHIN = 12.0  # a choice, of log evidence: e⁻¹² is more than any odds here can turn round
_MOST_STARTS, _START_PAIRS = 8, 12  # choices: two answers a pair, and most pairs share one
_APART_ARCMIN = 60.0  # nearer starts come to the same place
_SAME_MIN, _SAME_ARCMIN = 0.2, 3.0  # nearer solutions are one: a choice, some six times the noise
# Steps of the search: how large a miss still counts, falling to the noise (graduated non-convexity:
# Blake & Zisserman, Visual Reconstruction, 1987).
_SCALES_ARCMIN = (120.0, 40.0, 12.0, 4.0, 1.0, 1.0, 1.0, 1.0)


class Mode(NamedTuple):
    """One way to compute a commanded place, and how often it is met."""

    places: int
    lifted: int
    share: float


MODES = (
    Mode(places=OF_DATE, lifted=PLAIN, share=APPARENT_SHARE),
    Mode(places=OF_DATE, lifted=LIFTED, share=LIFTED_SHARE),
    Mode(places=J2000, lifted=PLAIN, share=J2000_SHARE),
    Mode(places=J2000, lifted=LIFTED, share=J2000_LIFTED_SHARE),
)


@dataclass(frozen=True, eq=False)
class EntrySolution:
    """One sidereal offset (minutes) and believed latitude (arcminutes) that fit.

    `covariance` (2, 2) is of those two; `log_evidence` is the log of likelihood times the volume
    under its peak, the mode's share included. `miss_arcmin` and `weight` (n,): how far each pair's
    commanded place is from the predicted one, and the probability that it belongs.
    """

    mode: Mode
    sidereal_offset_min: float
    latitude_arcmin: float
    covariance: FloatArray
    log_evidence: float
    miss_arcmin: FloatArray
    weight: FloatArray

    @property
    def good(self) -> BoolArray:
        """Which pairs belong, (n,)."""
        return self.weight > 0.5


def solve(observed: Observed) -> tuple[EntrySolution, ...]:
    """Every solution that is worth keeping, best evidence first; none for no pairs."""
    if not len(observed):
        return ()
    found = [solution for mode in MODES for solution in _solve_mode(observed, mode)]
    if not found:
        return ()
    best = max(solution.log_evidence for solution in found)
    kept = [s for s in found if s.log_evidence > best - KEPT_WITHIN]
    return tuple(sorted(kept, key=lambda solution: -solution.log_evidence))


def predicted(
    observed: Observed, mode: Mode, offset_min: FloatArray, latitude_arcmin: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Directions (k, n, 3) and their changes a minute of time and an arcminute of latitude.

    Axes north, east, up; `offset_min` and `latitude_arcmin` are (k,). Hour angle and declination to
    the horizon: Meeus, Astronomical Algorithms, eq. 13.5 and 13.6, as rectangular coordinates; the
    changes are their derivatives.
    """
    hour = np.radians(observed.sidereal_deg - observed.ra_deg[mode.places]) + (
        offset_min[:, None] * MINUTE
    )
    dec = np.radians(observed.dec_deg[mode.places])
    latitude = latitude_arcmin[:, None] * ARCMIN
    south, west = np.cos(dec) * np.cos(hour), np.cos(dec) * np.sin(hour)
    polar, sine, cosine = np.sin(dec), np.sin(latitude), np.cos(latitude)
    north, up = polar * cosine - south * sine, polar * sine + south * cosine
    here = np.stack([north, -west, up], axis=-1)
    by_minute = np.stack([west * sine, -south, -west * cosine], axis=-1) * MINUTE
    by_latitude = np.stack([-up, np.zeros_like(up), north], axis=-1) * ARCMIN
    return here, by_minute, by_latitude


def misses_arcmin(observed: Observed, mode: Mode, directions: FloatArray) -> FloatArray:
    """How far predicted directions (..., n, 3) are from the commanded ones, (..., n)."""
    chord = np.linalg.norm(observed.commanded[mode.lifted] - directions, axis=-1)
    return np.asarray(2.0 * np.arcsin(np.minimum(chord / 2.0, 1.0)) / ARCMIN)


def noise_arcmin(observed: Observed) -> FloatArray:
    """Noise an axis of each pair's place, (n,)."""
    usual = float(np.hypot(ROUGHNESS_ARCMIN, observed.step_arcmin / np.sqrt(12.0)))
    rough = [
        MOON_ARCMIN if target.kind == "moon" else PLANET_ARCMIN if moving else 0.0
        for target, moving in zip(observed.targets, observed.moving.tolist(), strict=True)
    ]
    return np.hypot(usual, rough)


def expected_miss_arcmin(observed: Observed) -> float:
    """RMS distance, arcminutes, at which right places may stand: noise and moments noted coarsely.

    Two axes of noise, and along the star's way, 15 cos δ a minute, what its moment is off by.
    """
    speed = ARCMIN_A_MINUTE * np.cos(np.radians(observed.dec_deg[OF_DATE]))
    moment_min = np.hypot(observed.moment_sd_min, observed.habit_sd_min)
    square = 2.0 * noise_arcmin(observed) ** 2 + (moment_min * speed) ** 2
    return float(np.sqrt(np.mean(square)))


def _solve_mode(observed: Observed, mode: Mode) -> list[EntrySolution]:
    noise = noise_arcmin(observed)
    offset, latitude = _starts(observed, mode)
    used = np.ones(len(observed)) if observed.moving.all() else (~observed.moving).astype(float)
    for scale in _SCALES_ARCMIN:
        size = np.maximum(scale, noise)
        here, by_minute, by_latitude = predicted(observed, mode, offset, latitude)
        slopes, chord, off, _ = _in_units_of_noise(observed, mode, here, by_minute, by_latitude)
        weight = used / (noise * (1.0 + (off / size) ** 2)) ** 2
        normal = np.einsum("kn,knca,kncb->kab", weight, slopes, slopes)
        right = np.einsum("kn,knca,knc->ka", weight, slopes, chord)
        step = np.linalg.solve(normal + _weakest(normal), right[..., None])[..., 0]
        step = np.clip(step, (-60.0, -900.0), (60.0, 900.0))
        offset, latitude = offset + step[:, 0], np.clip(latitude + step[:, 1], -5400.0, 5400.0)
    return _apart(_weighed(observed, mode, used > 0, offset, latitude))


def _in_units_of_noise(
    observed: Observed,
    mode: Mode,
    here: FloatArray,
    by_minute: FloatArray,
    by_latitude: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Slopes (k, n, 3, 2), distances as vectors (k, n, 3) and as sizes (k, n), and a ratio (k, n).

    Arcminutes; a moment noted to a step makes a place uncertain along the star's way, by the step's
    sd times its motion m: covariance s² I + (sd m)(sd m)ᵀ. Whatever lies along m is shrunk by the
    ratio s / √(s² + sd² m²), which turns that covariance into s² I; the ratio is its Jacobian.
    """
    slopes = np.stack([by_minute, by_latitude], axis=-1) / ARCMIN
    chord = (observed.commanded[mode.lifted] - here) / ARCMIN
    miss = misses_arcmin(observed, mode, here)
    if not observed.resolution_min:
        return slopes, chord, miss, np.ones_like(miss)
    noise = noise_arcmin(observed)
    motion = slopes[..., 0]
    speed = np.linalg.norm(motion, axis=-1)
    ratio = noise / np.hypot(noise, observed.moment_sd_min * speed)
    way = motion / np.maximum(speed, 1e-12)[..., None]
    along = np.einsum("knc,knc->kn", way, chord)
    size = np.sqrt(np.maximum(miss**2 - (1.0 - ratio**2) * along**2, 0.0))
    chord = chord - ((1.0 - ratio) * along)[..., None] * way
    along_slopes = np.einsum("knc,knca->kna", way, slopes)
    slopes = slopes - (1.0 - ratio)[..., None, None] * way[..., None] * along_slopes[..., None, :]
    return slopes, chord, size, ratio


def _weakest(normal: FloatArray) -> FloatArray:
    """What keeps a solution finite where stars say nothing: a turn of the sky, a half sphere."""
    return np.broadcast_to(np.diag([TURN_MIN**-2.0, 5400.0**-2.0]), normal.shape)


def _weighed(
    observed: Observed,
    mode: Mode,
    used: BoolArray,
    offset: FloatArray,
    latitude: FloatArray,
) -> list[EntrySolution]:
    """The solutions with what they are worth, best first.

    Evidence by Laplace: likelihood times the volume √det 2πC under its peak (MacKay, Information
    Theory, Inference and Learning Algorithms, 2003, ch. 27). A pair is a bad one with BAD_SHARE.
    """
    noise = noise_arcmin(observed)
    here, by_minute, by_latitude = predicted(observed, mode, offset, latitude)
    miss = misses_arcmin(observed, mode, here)
    slopes, _, off, ratio = _in_units_of_noise(observed, mode, here, by_minute, by_latitude)
    density = ratio * np.exp(log_round_normal_2d(off**2, noise**2))
    inside, outside = (1.0 - BAD_SHARE) * density, BAD_SHARE * EVEN_DENSITY
    log_likelihood = np.where(used, np.log(inside + outside), 0.0).sum(axis=-1)
    belongs = inside / (inside + outside)
    weight = belongs * used / noise**2
    information = np.einsum("kn,knca,kncb->kab", weight, slopes, slopes)
    covariance = np.linalg.inv(information + _weakest(information))
    volume = 0.5 * np.log(np.linalg.det(2.0 * np.pi * covariance))
    evidence = log_likelihood + volume + np.log(mode.share)
    shared = np.diag([SHARED_MIN**2 + observed.habit_sd_min**2, SHARED_ARCMIN**2])
    excess = _excess(off, belongs * used, noise)
    return [
        EntrySolution(
            mode=mode,
            sidereal_offset_min=wrap_min(float(offset[k])),
            latitude_arcmin=float(latitude[k]),
            covariance=covariance[k] * excess[k] + shared,
            log_evidence=float(evidence[k]),
            miss_arcmin=miss[k],
            weight=belongs[k],
        )
        for k in np.argsort(-evidence)
    ]


def _excess(off: FloatArray, weight: FloatArray, noise: FloatArray) -> FloatArray:
    """By how much the scatter exceeds the noise expected, (k,), at least 1."""
    freedom = 2.0 * weight.sum(axis=-1) - 2.0
    chi_square = (weight * (off / noise) ** 2).sum(axis=-1)
    return np.where(freedom > 0.5, np.maximum(chi_square / np.maximum(freedom, 0.5), 1.0), 1.0)


def _apart(solutions: list[EntrySolution]) -> list[EntrySolution]:
    """The solutions without those that came to the same place from another start."""
    kept: list[EntrySolution] = []
    for one in solutions:
        same = (
            abs(wrap_min(one.sidereal_offset_min - other.sidereal_offset_min)) < _SAME_MIN
            and abs(one.latitude_arcmin - other.latitude_arcmin) < _SAME_ARCMIN
            for other in kept
        )
        if not any(same):
            kept.append(one)
    return kept


def _starts(observed: Observed, mode: Mode) -> tuple[FloatArray, FloatArray]:
    """Offsets and latitudes to start from: the best of each pair's own two answers, apart."""
    rows = np.arange(len(observed))
    steady = rows[~observed.moving] if not observed.moving.all() else rows
    few = steady[np.linspace(0, steady.size - 1, min(steady.size, _START_PAIRS)).astype(int)]
    offset, latitude = _own_answers(observed, mode, few)
    directions, *_ = predicted(observed, mode, offset, latitude)
    miss = misses_arcmin(observed, mode, directions)[:, few]
    cost = np.sort(miss, axis=-1)[:, : few.size // 2 + 1].sum(axis=-1)
    chosen: list[int] = []
    for k in np.argsort(cost).tolist():
        if len(chosen) == _MOST_STARTS:
            break
        off = np.hypot(
            ARCMIN_A_MINUTE * wrapped_min(offset[chosen] - offset[k]),
            latitude[chosen] - latitude[k],
        )
        if not (off < _APART_ARCMIN).any():
            chosen.append(k)
    return offset[chosen], latitude[chosen]


def _own_answers(observed: Observed, mode: Mode, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Each pair's two answers, (2 n,) minutes and arcminutes, from its commanded place alone.

    sin δ = sin a sin φ + cos a cos A cos φ (Meeus, ch. 13) is r sin(φ + p) with r, p of the place:
    two latitudes φ. Each then gives the hour angle, tan H = −east / (up cos φ − north sin φ).
    """
    north, east, up = np.moveaxis(observed.commanded[mode.lifted][rows], -1, 0)
    dec = np.radians(observed.dec_deg[mode.places][rows])
    length, phase = np.hypot(up, north), np.arctan2(north, up)
    rise = np.arcsin(np.clip(np.sin(dec) / np.maximum(length, 1e-12), -1.0, 1.0))
    latitude = np.concatenate([rise - phase, np.pi - rise - phase])
    latitude = np.mod(latitude + np.pi, 2.0 * np.pi) - np.pi
    north, east, up = (np.tile(part, 2) for part in (north, east, up))
    hour = np.arctan2(-east, up * np.cos(latitude) - north * np.sin(latitude))
    true_hour = np.radians(observed.sidereal_deg - observed.ra_deg[mode.places])[rows]
    offset = (hour - np.tile(true_hour, 2)) / MINUTE
    real = np.abs(latitude) <= np.pi / 2.0 + 1e-3
    real = real if real.any() else np.ones_like(real)
    return offset[real], np.clip(latitude[real] / ARCMIN, -5400.0, 5400.0)


def wrapped_min(offset_min: FloatArray) -> FloatArray:
    """Sidereal offsets brought into (−720, 720] minutes, any shape."""
    return MINUTES_A_DEGREE * wrap_deg(offset_min / MINUTES_A_DEGREE)


def wrap_min(offset_min: float) -> float:
    """A sidereal offset brought into (−720, 720] minutes."""
    return float(wrapped_min(np.asarray(offset_min)))
