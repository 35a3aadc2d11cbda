"""What an alignment on two stars would do: the controller's rotation from two centred stars.

Read `forecast.py` first. Aligned on two stars, a controller learns one rotation from the sky to its
readings: the first star exactly, the second fixes the turn about it. Everything that is no rotation
(altitude index, collimation, non-perpendicularity, flexure) stays, spread over the sky in a way
that depends on the two stars. Derived from the two-vector alignment of attitude practice (TRIAD:
Black 1964; Shuster & Oh 1981).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.forecasting.outlook import (
    MissModel,
    Outlook,
    expected_squares,
    has_open_sky,
    reading_slopes,
)
from pointmodel.mount.kinematics import azimuth_altitude, directions

FIRST_AZ_DEG = (20.0, 140.0, 260.0)
APART_AZ_DEG = (75.0, 110.0, 150.0)
ALTITUDES_DEG = ((25.0, 55.0), (40.0, 40.0), (55.0, 25.0))
# the commonest bad choices: two stars near each other, and one near the zenith
BAD_PAIRS_DEG = np.array([((120.0, 40.0), (135.0, 42.0)), ((120.0, 40.0), (200.0, 78.0))])
SOME_TARGETS = 8

Place = tuple[float, float]


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the vector product along the last axis; numpy's own is slow on small arrays."""
    out = np.empty(np.broadcast_shapes(one.shape, other.shape))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        out[..., i] = one[..., j] * other[..., k] - one[..., k] * other[..., j]
    return out


def triads(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return triads (..., 3, 3) of two directions (..., 3): the first, one square to both, a third.

    Where both directions are one, the second axis is arbitrary.
    """
    across = _cross(first, second)
    across = across / np.maximum(np.linalg.norm(across, axis=-1, keepdims=True), 1e-12)
    return np.stack([first, across, _cross(first, across)], axis=-2)


def two_star_rotation(stars: FloatArray, readings: FloatArray) -> FloatArray:
    """Return the rotations (m, 3, 3) from stars to readings, both directions (m, 2, 3).

    The first star is taken exactly to its reading, the second into the plane of both readings.
    """
    to_readings = np.swapaxes(triads(readings[:, 0], readings[:, 1]), 1, 2)
    return np.asarray(to_readings @ triads(stars[:, 0], stars[:, 1]))


@dataclass(frozen=True)
class AlignmentPair:
    """Two alignment stars, (azimuth, altitude) in degrees, and the misses that they leave."""

    first: Place
    second: Place
    misses: MissModel


@dataclass(frozen=True)
class Realignment:
    """What aligning afresh would do: the best pair of stars, a middling one and a bad choice."""

    best: AlignmentPair
    median: AlignmentPair
    bad: AlignmentPair


def realignment(outlook: Outlook) -> Realignment:
    """Return the best of 27 pairs of stars on the open sky, the median pair, and a bad choice."""
    fair = _open_pairs(outlook.targets)
    sizes = _mean_squares(outlook, np.concatenate([fair, BAD_PAIRS_DEG]))
    order = np.argsort(sizes[: len(fair)])
    worst = int(sizes[len(fair) :].argmax())
    chosen = np.stack([fair[order[0]], fair[order[order.size // 2]], BAD_PAIRS_DEG[worst]])
    central, slope = aligned_misses(outlook, chosen, *outlook.targets)
    best, median, bad = (
        AlignmentPair(_place(pair[0]), _place(pair[1]), MissModel(misses, slopes))
        for pair, misses, slopes in zip(chosen, central, slope, strict=True)
    )
    return Realignment(best, median, bad)


def _place(place: FloatArray) -> Place:
    return float(place[0]), float(place[1])


def _open_pairs(targets: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return pairs (m, 2, 2) of azimuth and altitude whose stars both have open sky about them."""
    pairs = np.array([
        ((az, low), ((az + apart) % 360.0, high))
        for az in FIRST_AZ_DEG
        for apart in APART_AZ_DEG
        for low, high in ALTITUDES_DEG
    ])  # fmt: skip
    is_open = has_open_sky(targets, pairs[..., 0], pairs[..., 1]).all(axis=-1)
    return pairs[is_open] if is_open.any() else pairs


def _mean_squares(outlook: Outlook, pairs: FloatArray) -> FloatArray:
    """Return the expected mean square miss (m,) of each pair, on some of the targets."""
    az_deg, alt_deg = (part[::SOME_TARGETS] for part in outlook.targets)
    central, slope = aligned_misses(outlook, pairs, az_deg, alt_deg)
    return expected_squares(central, slope, outlook.covariance)


def aligned_misses(
    outlook: Outlook, pairs: FloatArray, az_deg: FloatArray, alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return misses (m, k, 2) at targets (k,) and their slopes (m, k, 2, c), aligned on each pair.

    The central misses are exact: readings of both stars by the fitted mount, the controller's
    rotation from those, and where the mount points at the reading which that gives for a target.
    The slopes take small changes of the readings as small rotations.
    """
    model, count = outlook.model, len(pairs)
    star_az, star_alt = pairs[..., 0].ravel(), pairs[..., 1].ravel()
    reading_az, reading_alt, _ = readings_for(model, star_az, star_alt)
    stars = directions(np.radians(star_az), np.radians(star_alt)).reshape(count, 2, 3)
    read = directions(np.radians(reading_az), np.radians(reading_alt)).reshape(count, 2, 3)
    rotation = two_star_rotation(stars, read)
    targets = directions(np.radians(az_deg), np.radians(alt_deg))
    sent = targets @ np.swapaxes(rotation, 1, 2)
    sent_az, sent_alt = azimuth_altitude(sent)
    there = linearised_at(
        model,
        np.tile(az_deg, count),
        np.tile(alt_deg, count),
        np.degrees(sent_az).ravel(),
        np.degrees(sent_alt).ravel(),
    )
    design = there.design.reshape(count, az_deg.size, 2, -1)
    turn = _turn_by_readings(model, star_az, star_alt, reading_az, reading_alt)
    moved = _tangent(sent, sent_az, sent_alt) @ turn[:, None]
    moved[..., 0, :] /= np.cos(sent_alt)[..., None]
    return there.miss.reshape(count, az_deg.size, 2), design[..., :2] @ moved - design


def _tangent_basis(az: FloatArray, alt: FloatArray) -> FloatArray:
    """Return unit vectors (..., 2, 3) across altitude and in altitude at directions in radians."""
    sin_a, cos_a, sin_h, cos_h = np.sin(az), np.cos(az), np.sin(alt), np.cos(alt)
    across = np.stack([-sin_a, cos_a, np.zeros_like(sin_a)], axis=-1)
    rise = np.stack([-sin_h * cos_a, -sin_h * sin_a, cos_h], axis=-1)
    return np.stack([across, rise], axis=-2)


def _tangent(vectors: FloatArray, az: FloatArray, alt: FloatArray) -> FloatArray:
    """Return what a small rotation (3,) does to directions (..., 3) on their tangent: (..., 2, 3).

    ω × d along the basis vector b is ω · (d × b).
    """
    return _cross(vectors[..., None, :], _tangent_basis(az, alt))


def _turn_by_readings(
    model: MountModel,
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
) -> FloatArray:
    """Return the small rotation (m, 3, c) of the controller's frame as both readings change.

    Stars and their readings (2 m,), pair by pair. The first star's reading is followed exactly; the
    second's only across the arc between them.
    """
    design = linearised_at(model, star_az_deg, star_alt_deg, reading_az_deg, reading_alt_deg).design
    change = reading_slopes(design)
    az, alt = np.radians(reading_az_deg), np.radians(reading_alt_deg)
    change[:, 0] *= np.cos(alt)[:, None]
    shift = (np.swapaxes(_tangent_basis(az, alt), -1, -2) @ change).reshape(
        -1, 2, 3, change.shape[-1]
    )
    read = directions(az, alt).reshape(-1, 2, 3)
    first, second = read[:, 0], read[:, 1]
    first_shift, second_shift = (np.swapaxes(shift[:, i], 1, 2) for i in (0, 1))
    follow = _cross(first[:, None], first_shift)
    across = _cross(first, second)
    sine = np.maximum(np.linalg.norm(across, axis=-1, keepdims=True), 1e-12)
    left = second_shift - _cross(follow, second[:, None])
    about_first = left @ (across / sine**2)[:, :, None]
    return np.swapaxes(follow + first[:, None] * about_first, 1, 2)
