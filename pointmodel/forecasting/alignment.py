"""What an alignment on two stars would do: the controller's rotation from two centred stars.

Read `mount/starfix.py` and `outlook.py` first. Aligned on two stars, a controller learns one
rotation from the sky to its readings: the first star exactly, the second fixes the turn about it.
Some also learn an altitude zero. Everything else (collimation, non-perpendicularity, flexure, the
altitude index of a controller that learns none) stays, spread over the sky in a way that depends
on the two stars.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.forecasting.outlook import (
    MissModel,
    Outlook,
    has_open_sky,
    reading_slopes,
    square_miss,
)
from pointmodel.mount.kinematics import azimuth_altitude, directions
from pointmodel.mount.starfix import StarFixKind, altitude_zero_slopes, cross, star_fixes

FIRST_AZ_DEG = (20.0, 140.0, 260.0)
APART_AZ_DEG = (75.0, 110.0, 150.0)
ALTITUDES_DEG = ((25.0, 55.0), (40.0, 40.0), (55.0, 25.0))
PAIRS_DEG = np.array([
    ((az, low), ((az + apart) % 360.0, high))
    for az in FIRST_AZ_DEG
    for apart in APART_AZ_DEG
    for low, high in ALTITUDES_DEG
])  # fmt: skip
# the commonest bad choices: two stars near each other, and one near the zenith
BAD_PAIRS_DEG = np.array([((120.0, 40.0), (135.0, 42.0)), ((120.0, 40.0), (200.0, 78.0))])
SOME_TARGETS = 8  # one in eight: choosing among pairs needs no more

Place = tuple[float, float]


@dataclass(frozen=True)
class CentredPairs:
    """Pairs of stars (m, 2, 3), their readings (m, 2) in radians, how those change (m, 2, 2, c)."""

    stars: FloatArray
    az: FloatArray
    alt: FloatArray
    change: FloatArray

    def take(self, rows: list[int]) -> CentredPairs:
        """Return some of the pairs."""
        return CentredPairs(self.stars[rows], self.az[rows], self.alt[rows], self.change[rows])


@dataclass(frozen=True)
class AlignmentPair:
    """Two alignment stars, (azimuth, altitude) in degrees, and the misses that they leave."""

    first: Place
    second: Place
    misses: MissModel


@dataclass(frozen=True)
class Realignment:
    """What aligning afresh would do: the best pair of stars, a middling one and a bad choice.

    `with_zero` is what the best pair leaves if the controller also works out an altitude zero.
    """

    best: AlignmentPair
    median: AlignmentPair
    bad: AlignmentPair
    with_zero: MissModel


def realignment(outlook: Outlook, kind: StarFixKind = "rotation") -> Realignment:
    """Return the best of 27 pairs of stars on the open sky, the median pair, and a bad choice.

    `kind` says what the controller works out from its two stars.
    """
    fair = _open_pairs(outlook.targets)
    pairs = np.concatenate([fair, BAD_PAIRS_DEG])
    centred = centred_pairs(outlook.model, pairs)
    learns_zero = np.full(len(pairs), kind == "altitude_zero")
    az_deg, alt_deg = outlook.targets
    some = az_deg[::SOME_TARGETS], alt_deg[::SOME_TARGETS]
    sizes = square_miss(*misses_aligned_on(outlook.model, centred, some, learns_zero))
    size = sizes.expected(outlook.covariance)
    order = np.argsort(size[: len(fair)])
    worst = len(fair) + int(size[len(fair) :].argmax())
    rows = [int(order[0]), int(order[order.size // 2]), worst]
    # one call for all that is left to ask: small arrays cost by the call
    central, slope = misses_aligned_on(
        outlook.model,
        centred.take([*rows, rows[0]]),
        outlook.targets,
        np.append(learns_zero[rows], True),
    )
    *each, with_zero = (MissModel(*one) for one in zip(central, slope, strict=True))
    best, median, bad = (
        AlignmentPair(_place(pairs[row, 0]), _place(pairs[row, 1]), misses)
        for row, misses in zip(rows, each, strict=True)
    )
    return Realignment(best, median, bad, with_zero)


def _place(place: FloatArray) -> Place:
    return float(place[0]), float(place[1])


def _open_pairs(targets: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return pairs (m, 2, 2) of azimuth and altitude whose stars both have open sky about them."""
    is_open = has_open_sky(targets, PAIRS_DEG[..., 0], PAIRS_DEG[..., 1]).all(axis=-1)
    return PAIRS_DEG[is_open] if is_open.any() else PAIRS_DEG


def aligned_misses(
    outlook: Outlook,
    pairs: FloatArray,
    az_deg: FloatArray,
    alt_deg: FloatArray,
    kind: StarFixKind = "rotation",
) -> tuple[FloatArray, FloatArray]:
    """Return misses (m, k, 2) at targets (k,) and their slopes (m, k, 2, c), aligned on each pair.

    The central misses are exact: readings of both stars by the fitted mount, what the controller
    learns from those, and where the mount points at the reading which that gives for a target. The
    slopes take small changes of the readings as small rotations.
    """
    centred = centred_pairs(outlook.model, pairs)
    learns_zero = np.full(len(pairs), kind == "altitude_zero")
    return misses_aligned_on(outlook.model, centred, (az_deg, alt_deg), learns_zero)


def misses_aligned_on(
    model: MountModel,
    centred: CentredPairs,
    targets_deg: tuple[FloatArray, FloatArray],
    learns_zero: BoolArray,
) -> tuple[FloatArray, FloatArray]:
    """Return what `aligned_misses` does, of pairs centred before.

    `learns_zero` (m,) says whether the controller also works out an altitude zero from each.
    """
    az_deg, alt_deg = targets_deg
    count = len(centred.stars)
    fix = star_fixes(centred.stars, centred.az, centred.alt, learns_zero)
    targets = directions(np.radians(az_deg), np.radians(alt_deg))
    sent = targets @ np.swapaxes(fix.rotation, 1, 2)
    sent_az, sent_alt = azimuth_altitude(sent)
    there = linearised_at(
        model,
        np.tile(az_deg, count),
        np.tile(alt_deg, count),
        np.degrees(sent_az).ravel(),
        np.degrees(sent_alt + fix.altitude_zero[:, None]).ravel(),
    )
    design = there.design.reshape(count, az_deg.size, 2, -1)
    change, raised = centred.change, np.zeros((count, centred.change.shape[-1]))
    if learns_zero.any():
        raised = altitude_zero_slopes(centred.az, centred.alt, fix.altitude_zero, change)
        raised = raised * learns_zero[:, None]
        change = change - np.stack([np.zeros_like(raised), raised], axis=1)[:, None]
    turn = _turn_by_readings(centred.az, centred.alt - fix.altitude_zero[:, None], change)
    tangent = _tangent(sent, sent_az, sent_alt).reshape(count, -1, 3)
    moved = (tangent @ turn).reshape(design.shape)
    moved[..., 0, :] /= np.cos(sent_alt)[..., None]
    moved[..., 1, :] += raised[:, None]
    return there.miss.reshape(count, az_deg.size, 2), design[..., :2] @ moved - design


def centred_pairs(model: MountModel, pairs: FloatArray) -> CentredPairs:
    """Return both stars of each pair (m, 2, 2), degrees, as the fitted mount reads them."""
    star_az, star_alt = pairs[..., 0].ravel(), pairs[..., 1].ravel()
    reading_az, reading_alt, _ = readings_for(model, star_az, star_alt)
    design = linearised_at(model, star_az, star_alt, reading_az, reading_alt).design
    change = reading_slopes(design)
    return CentredPairs(
        directions(np.radians(star_az), np.radians(star_alt)).reshape(-1, 2, 3),
        np.radians(reading_az).reshape(-1, 2),
        np.radians(reading_alt).reshape(-1, 2),
        change.reshape(-1, 2, *change.shape[1:]),
    )


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
    return cross(vectors[..., None, :], _tangent_basis(az, alt))


def _turn_by_readings(az: FloatArray, alt: FloatArray, change: FloatArray) -> FloatArray:
    """Return the small rotation (m, 3, c) of the controller's frame as both readings change.

    Readings (m, 2) of both stars, radians, and their changes (m, 2, 2, c). The first star's reading
    is followed exactly; the second's only across the arc between them.
    """
    on_sky = change.copy()
    on_sky[:, :, 0] *= np.cos(alt)[..., None]
    shift = np.swapaxes(_tangent_basis(az, alt), -1, -2) @ on_sky
    read = directions(az, alt)
    first, second = read[:, 0], read[:, 1]
    first_shift, second_shift = (np.swapaxes(shift[:, i], 1, 2) for i in (0, 1))
    follow = cross(first[:, None], first_shift)
    across = cross(first, second)
    sine = np.maximum(np.linalg.norm(across, axis=-1, keepdims=True), 1e-12)
    left = second_shift - cross(follow, second[:, None])
    about_first = left @ (across / sine**2)[:, :, None]
    return np.swapaxes(follow + first[:, None] * about_first, 1, 2)
