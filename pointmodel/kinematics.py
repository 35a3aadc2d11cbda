"""From axis readings to the sky and back, exactly; and how the sky moves with each term.

Read `terms.py` first for the names and signs. The frame is north, east, up. The line of sight is
built as a chain: collimation off the altitude axis, turn in altitude about an altitude axis tipped by
the non-perpendicularity, turn in azimuth, lean of the base. The way back is in closed form. Formulas:
rotations of a theodolite-like mount as in any surveying text, derived here from the chain itself.

Angles are radians inside this module except where a name says otherwise; terms are arcminutes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.terms import N_STANDARD

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

ARCMIN_PER_RADIAN = 60.0 * 180.0 / np.pi


@dataclass(frozen=True)
class Geometry:
    """The four terms of the geometry in radians; scalars or arrays that broadcast with the pairs."""

    collimation: FloatArray
    non_perpendicularity: FloatArray
    tilt_north: FloatArray
    tilt_east: FloatArray


def geometry_from_arcmin(
    collimation: FloatArray | float,
    non_perpendicularity: FloatArray | float,
    tilt_north: FloatArray | float,
    tilt_east: FloatArray | float,
) -> Geometry:
    """Return the geometry of four terms given in arcminutes."""
    parts = (collimation, non_perpendicularity, tilt_north, tilt_east)
    return Geometry(*(np.asarray(part, dtype=float) / ARCMIN_PER_RADIAN for part in parts))


def lean_matrix(tilt_north: FloatArray, tilt_east: FloatArray) -> FloatArray:
    """Return the rotation (..., 3, 3) that carries the zenith by the lean; axis horizontal.

    Rodrigues' formula with the axis at right angles to the direction of the lean:
    R = I + (sin T / T) K + ((1 - cos T) / T²) K², K built from (tilt_north, tilt_east).
    """
    return _lean_parts(tilt_north, tilt_east)[0]


def _lean_parts(
    tilt_north: FloatArray, tilt_east: FloatArray, derivatives: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray]:
    n, e = np.broadcast_arrays(np.asarray(tilt_north, float), np.asarray(tilt_east, float))
    square = n * n + e * e
    sine = np.sinc(np.sqrt(square) / np.pi)
    versine = 0.5 * np.sinc(np.sqrt(square) / (2.0 * np.pi)) ** 2
    rotation = _lean_from(n, e, sine, versine)
    if not derivatives:
        return rotation, rotation, rotation
    # d(sin T/T)/dT² and d((1-cos T)/T²)/dT², by series where the quotient loses figures
    safe = np.maximum(square, 1e-6)
    small = square < 1e-4
    slope_sine = np.where(
        small, -1 / 6 + square / 60 - square**2 / 1680, (np.cos(np.sqrt(safe)) - sine) / (2 * safe)
    )
    slope_versine = np.where(
        small, -1 / 24 + square / 360 - square**2 / 13440, (sine - 2 * versine) / (2 * safe)
    )
    zero, one = np.zeros_like(n), np.ones_like(n)
    slopes = []
    for unit_n, unit_e, own in ((one, zero, n), (zero, one, e)):
        linear = _skew(unit_n, unit_e) * sine[..., None, None]
        product = _square_slope(n, e, unit_n, unit_e) * versine[..., None, None]
        change = (2 * own)[..., None, None] * (
            _skew(n, e) * slope_sine[..., None, None]
            + _skew_square(n, e) * slope_versine[..., None, None]
        )
        slopes.append(linear + product + change)
    return rotation, slopes[0], slopes[1]


def _lean_from(n: FloatArray, e: FloatArray, sine: FloatArray, versine: FloatArray) -> FloatArray:
    return (
        np.eye(3) + _skew(n, e) * sine[..., None, None] + _skew_square(n, e) * versine[..., None, None]
    )


def _skew(n: FloatArray, e: FloatArray) -> FloatArray:
    out = np.zeros((*n.shape, 3, 3))
    out[..., 0, 2] = n
    out[..., 1, 2] = e
    out[..., 2, 0] = -n
    out[..., 2, 1] = -e
    return out


def _skew_square(n: FloatArray, e: FloatArray) -> FloatArray:
    out = np.zeros((*n.shape, 3, 3))
    out[..., 0, 0] = -n * n
    out[..., 0, 1] = out[..., 1, 0] = -n * e
    out[..., 1, 1] = -e * e
    out[..., 2, 2] = -(n * n + e * e)
    return out


def _square_slope(n: FloatArray, e: FloatArray, unit_n: FloatArray, unit_e: FloatArray) -> FloatArray:
    out = np.zeros((*n.shape, 3, 3))
    out[..., 0, 0] = -2 * n * unit_n
    out[..., 0, 1] = out[..., 1, 0] = -(n * unit_e + e * unit_n)
    out[..., 1, 1] = -2 * e * unit_e
    out[..., 2, 2] = -2 * (n * unit_n + e * unit_e)
    return out


def directions(az: FloatArray, alt: FloatArray) -> FloatArray:
    """Return unit vectors (..., 3), north, east, up, of azimuths and altitudes in radians."""
    cosine = np.cos(alt)
    return np.stack(
        np.broadcast_arrays(cosine * np.cos(az), cosine * np.sin(az), np.sin(alt)), axis=-1
    )


def azimuth_altitude(vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return azimuth in [0, 2π) and altitude, radians, of vectors (..., 3)."""
    az = np.mod(np.arctan2(vectors[..., 1], vectors[..., 0]), 2 * np.pi)
    alt = np.arctan2(vectors[..., 2], np.hypot(vectors[..., 0], vectors[..., 1]))
    return az, alt


def sky_from_axes(az_axis: FloatArray, alt_axis: FloatArray, geometry: Geometry) -> FloatArray:
    """Return where the tube points, unit vectors (..., 3), for axis angles in radians (index removed)."""
    before_lean = _before_lean(az_axis, alt_axis, geometry)
    rotation = lean_matrix(geometry.tilt_north, geometry.tilt_east)
    return np.asarray(np.einsum("...ij,...j->...i", rotation, before_lean))


def _before_lean(az_axis: FloatArray, alt_axis: FloatArray, geometry: Geometry) -> FloatArray:
    sin_c, cos_c = np.sin(geometry.collimation), np.cos(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    sin_h, cos_h = np.sin(alt_axis), np.cos(alt_axis)
    forward = cos_c * cos_h
    right = -sin_c * cos_p - cos_c * sin_h * sin_p
    up = -sin_c * sin_p + cos_c * sin_h * cos_p
    sin_a, cos_a = np.sin(az_axis), np.cos(az_axis)
    parts = (forward * cos_a - right * sin_a, forward * sin_a + right * cos_a, up)
    return np.stack(np.broadcast_arrays(*parts), axis=-1)


def axes_from_sky(
    vectors: FloatArray, geometry: Geometry
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the axis angles that put the tube on directions (..., 3), and whether any exist.

    Where none exist (a circle about the mount's own zenith of radius |collimation +
    non-perpendicularity|) the flag is False and the angles are those that come nearest.
    Closed form: in the base frame, sin δ = (sin C + sin P sin a')/(cos P cos a').
    """
    rotation = lean_matrix(geometry.tilt_north, geometry.tilt_east)
    base = np.einsum("...ji,...j->...i", rotation, vectors)
    sin_alt = base[..., 2]
    cos_alt = np.hypot(base[..., 0], base[..., 1])
    sin_c = np.sin(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    # a direction within rounding of the mount's zenith has no azimuth of its own
    sin_delta = (sin_c + sin_p * sin_alt) / np.maximum(cos_p * cos_alt, 1e-300)
    reachable = np.abs(sin_delta) <= 1.0
    sin_delta = np.clip(sin_delta, -1.0, 1.0)
    delta = np.arcsin(sin_delta)
    az = np.arctan2(base[..., 1], base[..., 0]) + delta
    alt = np.arctan2(
        cos_p * sin_alt + sin_p * cos_alt * sin_delta, cos_alt * np.sqrt(1.0 - sin_delta**2)
    )
    return np.mod(az, 2 * np.pi), alt, reachable


@dataclass(frozen=True)
class Linearised:
    """Misses and their derivatives at one point of the model, arcminutes on the sky.

    `miss` (..., n, 2): across altitude and in altitude, from the star to where the model says that
    the tube pointed. `design` (..., n, 2, 6): what one arcminute of each standard term adds to the
    correction; the miss changes by minus that.
    """

    miss: FloatArray
    design: FloatArray


def linearise(
    star_az: FloatArray,
    star_alt: FloatArray,
    az_axis: FloatArray,
    alt_axis: FloatArray,
    geometry: Geometry,
) -> Linearised:
    """Return misses on each star's tangent plane and exact derivatives; all arrays broadcast.

    The forward direction (readings to sky) is used because it always exists. The offset is scaled so
    that its length is the separation on the sphere; the derivatives are those of the direction.
    """
    vector, slopes = _chain_with_slopes(az_axis, alt_axis, geometry)
    sin_a, cos_a = np.sin(star_az), np.cos(star_az)
    sin_h, cos_h = np.sin(star_alt), np.cos(star_alt)
    zero = np.zeros_like(sin_a)
    basis = np.stack(
        [
            np.stack([-sin_a, cos_a, zero], axis=-1),
            np.stack([-sin_h * cos_a, -sin_h * sin_a, cos_h], axis=-1),
            np.stack([cos_h * cos_a, cos_h * sin_a, sin_h], axis=-1),
        ],
        axis=-2,
    )
    offset = (basis @ vector[..., None])[..., 0]
    across = np.hypot(offset[..., 0], offset[..., 1])
    arc = np.arctan2(across, offset[..., 2])
    stretch = np.where(across > 1e-9, arc / np.maximum(across, 1e-9), 1.0)
    miss = offset[..., :2] * (stretch * ARCMIN_PER_RADIAN)[..., None]
    design = basis[..., :2, :] @ slopes * stretch[..., None, None]
    return Linearised(miss, design)


def _chain_with_slopes(
    az_axis: FloatArray, alt_axis: FloatArray, geometry: Geometry
) -> tuple[FloatArray, FloatArray]:
    """Return the direction (..., 3) and what each standard term takes from it (..., 3, 6)."""
    sin_c, cos_c = np.sin(geometry.collimation), np.cos(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    sin_h, cos_h = np.sin(alt_axis), np.cos(alt_axis)
    sin_a, cos_a = np.sin(az_axis), np.cos(az_axis)
    forward = cos_c * cos_h
    right = -sin_c * cos_p - cos_c * sin_h * sin_p
    up = -sin_c * sin_p + cos_c * sin_h * cos_p
    shape = np.broadcast_shapes(forward.shape, sin_a.shape, np.shape(geometry.tilt_north))
    # columns: the direction itself, then minus its change with index, altitude, collimation, tip
    frame = np.zeros((*shape, 3, 5))
    frame[..., 0, 0], frame[..., 1, 0], frame[..., 2, 0] = forward, right, up
    frame[..., 0, 1], frame[..., 1, 1] = -right, forward
    frame[..., 0, 2] = -cos_c * sin_h
    frame[..., 1, 2] = -forward * sin_p
    frame[..., 2, 2] = forward * cos_p
    frame[..., 0, 3] = sin_c * cos_h
    frame[..., 1, 3] = cos_c * cos_p - sin_c * sin_h * sin_p
    frame[..., 2, 3] = cos_c * sin_p + sin_c * sin_h * cos_p
    frame[..., 1, 4] = up
    frame[..., 2, 4] = -right
    turned = np.empty_like(frame)
    cos_a, sin_a = cos_a[..., None], sin_a[..., None]
    turned[..., 0, :] = frame[..., 0, :] * cos_a - frame[..., 1, :] * sin_a
    turned[..., 1, :] = frame[..., 0, :] * sin_a + frame[..., 1, :] * cos_a
    turned[..., 2, :] = frame[..., 2, :]
    rotation, slope_n, slope_e = _lean_parts(geometry.tilt_north, geometry.tilt_east, True)
    leaned = rotation @ turned
    slopes = np.empty((*shape, 3, N_STANDARD))
    slopes[..., :4] = leaned[..., 1:]
    slopes[..., 4] = -(slope_n @ turned[..., :1])[..., 0]
    slopes[..., 5] = -(slope_e @ turned[..., :1])[..., 0]
    return leaned[..., 0], slopes
