"""What a controller works out from its alignment stars: a rotation, perhaps an altitude zero.

Read `kinematics.py` first. Directions are unit vectors (north, east, up), angles radians. For two
stars it is the two-vector alignment of attitude practice (TRIAD: Black, AIAA J. 2, 1964, 1350;
Shuster & Oh, J. Guidance 4, 1981, 70), for three or more least squares (Wahba's problem by singular
values: Markley, J. Astronaut. Sci. 36, 1988, 245).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.mount.kinematics import directions

StarFixKind = Literal["rotation", "altitude_zero"]
# below this the altitude of a pair says nothing of the altitude zero: both stars in one azimuth
LEAST_SENSITIVITY = 1e-6


@dataclass(frozen=True)
class StarFix:
    """What m controllers learnt: rotations (m, 3, 3) from sky to axes, altitude zeros (m,).

    A reading is rotation · star, its altitude then raised by the zero.
    """

    rotation: FloatArray
    altitude_zero: FloatArray


def star_fix(
    stars: FloatArray, reading_az: FloatArray, reading_alt: FloatArray, kind: StarFixKind
) -> StarFix:
    """Return what is learnt from stars (m, k, 3) that were centred at readings (m, k).

    `kind` says whether the controller also works out an altitude zero, from the stars' separation.
    """
    return star_fixes(
        stars, reading_az, reading_alt, np.full(len(reading_az), kind == "altitude_zero")
    )


def star_fixes(
    stars: FloatArray, reading_az: FloatArray, reading_alt: FloatArray, learns_zero: BoolArray
) -> StarFix:
    """Return the same of controllers of which some also work out an altitude zero (m,)."""
    zero = np.zeros(len(reading_az))
    if learns_zero.any():
        zero = np.where(learns_zero, altitude_zeros(stars, reading_az, reading_alt), 0.0)
    read = directions(reading_az, reading_alt - zero[:, None])
    rotation = two_star_rotation if stars.shape[1] == 2 else least_squares_rotation
    return StarFix(rotation(stars, read), zero)


def cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the vector product along the last axis; numpy's own is slow on small arrays."""
    following, last = [1, 2, 0], [2, 0, 1]
    return one[..., following] * other[..., last] - one[..., last] * other[..., following]


def triads(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return triads (..., 3, 3) of two directions (..., 3): the first, one square to both, a third.

    Where both directions are one, the second axis is arbitrary.
    """
    across = cross(first, second)
    across = across / np.maximum(np.linalg.norm(across, axis=-1, keepdims=True), 1e-12)
    return np.stack([first, across, cross(first, across)], axis=-2)


def two_star_rotation(stars: FloatArray, readings: FloatArray) -> FloatArray:
    """Return the rotations (m, 3, 3) from stars to readings, both directions (m, 2, 3).

    The first star is taken exactly to its reading, the second into the plane of both readings.
    """
    to_readings = np.swapaxes(triads(readings[:, 0], readings[:, 1]), 1, 2)
    return np.asarray(to_readings @ triads(stars[:, 0], stars[:, 1]))


def least_squares_rotation(stars: FloatArray, readings: FloatArray) -> FloatArray:
    """Return the rotations (m, 3, 3) that bring stars nearest to readings, both (m, k, 3)."""
    left, _, right = np.linalg.svd(np.swapaxes(readings, 1, 2) @ stars)
    left[..., 2] *= np.sign(np.linalg.det(left @ right))[:, None]
    return np.asarray(left @ right)


def altitude_zeros(
    stars: FloatArray, reading_az: FloatArray, reading_alt: FloatArray
) -> FloatArray:
    """Return by how much altitudes (m, k) read high, (m,), from the separations of the stars.

    For two stars exact: with S = a₁ + a₂ and D = a₁ − a₂ of the readings, the zero e that gives the
    stars' separation s fulfils 2 cos s = cos D (1 + cos ΔA) − cos(S − 2e) (1 − cos ΔA). More stars:
    the pairs' mean, weighted by the squares of how much an altitude zero changes their separation.
    """
    first, second = np.triu_indices(stars.shape[1], 1)
    cosine = (stars[:, first] * stars[:, second]).sum(axis=-1)
    turn = reading_az[:, second] - reading_az[:, first]
    total = reading_alt[:, first] + reading_alt[:, second]
    apart = reading_alt[:, second] - reading_alt[:, first]
    spread = np.maximum(1.0 - np.cos(turn), LEAST_SENSITIVITY)
    wanted = (np.cos(apart) * (1.0 + np.cos(turn)) - 2.0 * cosine) / spread
    zero = 0.5 * (total - np.arccos(np.clip(wanted, -1.0, 1.0)))
    weight = (np.sin(total) * spread) ** 2 + LEAST_SENSITIVITY**2
    return np.asarray((weight * zero).sum(axis=1) / weight.sum(axis=1))


def altitude_zero_slopes(
    reading_az: FloatArray, reading_alt: FloatArray, zero: FloatArray, change: FloatArray
) -> FloatArray:
    """Return how the zeros (m,) of two stars move, (m, c), as readings (m, 2) change.

    `change` (m, 2, 2, c): of each star's azimuth and altitude, as they count, not on the sky. The
    derivative of the relation in `altitude_zeros`.
    """
    turn = reading_az[:, 1] - reading_az[:, 0]
    total, apart = reading_alt.sum(axis=1), reading_alt[:, 1] - reading_alt[:, 0]
    d_turn, d_apart = change[:, 1, 0] - change[:, 0, 0], change[:, 1, 1] - change[:, 0, 1]
    d_total = change[:, 0, 1] + change[:, 1, 1]
    spread = np.maximum(1.0 - np.cos(turn), LEAST_SENSITIVITY)
    inner = total - 2.0 * zero
    by_turn = np.sin(turn) * (np.cos(apart) + np.cos(inner)) / spread
    by_apart = np.sin(apart) * (1.0 + np.cos(turn)) / spread
    d_wanted = -by_turn[:, None] * d_turn - by_apart[:, None] * d_apart
    sine = np.where(np.abs(np.sin(inner)) < LEAST_SENSITIVITY, np.inf, np.sin(inner))
    return np.asarray(0.5 * (d_total + d_wanted / sine[:, None]))
