"""From axis readings to the sky and back, exactly; and how the sky moves with each term.

Read `terms.py` first for the names and signs. The frame is north, east, up. The line of sight is
built as a chain: collimation off the altitude axis, turn in altitude about an altitude axis tipped
by the non-perpendicularity, turn in azimuth, lean of the base. The way back is in closed form.
Formulas: rotations of a theodolite-like mount as in any surveying text, derived here from the chain
itself.

Angles are radians inside this module except where a name says otherwise; terms are arcminutes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.mount.terms import N_STANDARD

Angle: TypeAlias = FloatArray | np.float64
Components: TypeAlias = tuple[FloatArray, FloatArray, FloatArray]

ARCMIN_PER_RADIAN = 60.0 * 180.0 / np.pi
SMALL_SINE = 0.01  # half a degree: below, an arc is its sine to a sixty-thousandth


@dataclass(frozen=True)
class Geometry:
    """The four terms of the geometry in radians; they broadcast with the pairs."""

    collimation: Angle
    non_perpendicularity: Angle
    tilt_north: Angle
    tilt_east: Angle


def geometry_from_arcmin(
    collimation: FloatArray | float,
    non_perpendicularity: FloatArray | float,
    tilt_north: FloatArray | float,
    tilt_east: FloatArray | float,
) -> Geometry:
    """Return the geometry of four terms given in arcminutes."""
    return Geometry(
        np.float64(collimation) / ARCMIN_PER_RADIAN,
        np.float64(non_perpendicularity) / ARCMIN_PER_RADIAN,
        np.float64(tilt_north) / ARCMIN_PER_RADIAN,
        np.float64(tilt_east) / ARCMIN_PER_RADIAN,
    )


# Rodrigues' rotation by T, axis horizontal, of the lean (n, e):
# R = I + (sin T / T) K + ((1 - cos T) / T²) K², K v = (n u, e u, -(n vₙ + e vₑ)): K = n Kₙ + e Kₑ
_NORTHWARD = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
_EASTWARD = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
_PARTS = np.stack([
    np.eye(3),
    _NORTHWARD,
    _EASTWARD,
    _NORTHWARD @ _NORTHWARD,
    _NORTHWARD @ _EASTWARD + _EASTWARD @ _NORTHWARD,
    _EASTWARD @ _EASTWARD,
]).reshape(6, 9)  # fmt: skip


def _lean_matrices(n: Angle, e: Angle) -> FloatArray:
    """Return the rotation by a lean and its slopes by north and east, (3, 3, 3, ...)."""
    square = n * n + e * e
    # a hair above zero, so that the quotients need no case of their own
    angle = np.sqrt(square + 1e-30)
    half = np.sin(0.5 * angle) / (0.5 * angle)
    sine, versine = np.sin(angle) / angle, 0.5 * half * half
    by_sine, by_versine = (2.0 * slope for slope in _factor_slopes(square, sine, versine))
    nn, ne, ee, none = n * n, n * e, e * e, 0.0 * square
    by_north = n * (2.0 * versine + nn * by_versine), e * (versine + nn * by_versine)
    by_east = n * (versine + ee * by_versine), e * (2.0 * versine + ee * by_versine)
    shares = np.array([
        [none + 1.0, sine * n, sine * e, versine * nn, versine * ne, versine * ee],
        [none, sine + nn * by_sine, ne * by_sine, *by_north, n * ee * by_versine],
        [none, ne * by_sine, sine + ee * by_sine, e * nn * by_versine, *by_east],
    ])  # fmt: skip
    if shares.ndim == 2:
        return np.reshape(shares @ _PARTS, (3, 3, 3))
    return np.asarray(np.einsum("kp...,pij->kij...", shares, _PARTS.reshape(6, 3, 3)))


def _carried(matrix: FloatArray, vectors: FloatArray) -> FloatArray:
    """Return vectors (3, ...), component by component, carried by a matrix (3, 3, ...)."""
    if matrix.ndim == 2:
        return np.reshape(matrix @ vectors.reshape(3, -1), vectors.shape)
    return np.asarray(np.einsum("ij...,j...->i...", matrix, vectors))


def _factor_slopes(square: Angle, sine: Angle, versine: Angle) -> tuple[FloatArray, FloatArray]:
    """Return d(sin T / T)/dT² and d((1 - cos T)/T²)/dT², by series where quotients lose figures."""
    safe = np.maximum(square, 1e-4)
    small = square < 1e-3
    quotient = (np.cos(np.sqrt(safe)) - sine) / (2.0 * safe)
    sine_slope = np.where(small, -1 / 6 + square * (1 / 60 - square / 1680), quotient)
    quotient = (sine - 2.0 * versine) / (2.0 * safe)
    return sine_slope, np.where(small, -1 / 24 + square * (1 / 360 - square / 13440), quotient)


@dataclass(frozen=True)
class TurnedReadings:
    """Readings (n,) in radians after a turn; `slopes` (n, 2, 2): az, alt by both tilts."""

    az: FloatArray
    alt: FloatArray
    slopes: FloatArray


def turned_readings(az: FloatArray, alt: FloatArray, tilt_arcmin: FloatArray) -> TurnedReadings:
    """Return readings (n,) carried by the rotation of a tilt (north, east), with exact slopes."""
    turned = _lean_matrices(*(np.float64(tilt) / ARCMIN_PER_RADIAN for tilt in tilt_arcmin))
    vector = np.moveaxis(directions(az, alt), -1, 0)
    new_az, new_alt = azimuth_altitude(np.moveaxis(_carried(turned[0], vector), 0, -1))
    sin_a, cos_a, cos_h = np.sin(new_az), np.cos(new_az), np.maximum(np.cos(new_alt), 1e-9)
    slopes = np.empty((*new_az.shape, 2, 2))
    for index in (0, 1):
        north, east, up = _carried(turned[1 + index], vector)
        slopes[..., 0, index] = (cos_a * east - sin_a * north) / cos_h
        slopes[..., 1, index] = up / cos_h
    # the azimuth keeps its turn, so that small differences stay small
    return TurnedReadings(az + np.angle(np.exp(1j * (new_az - az))), new_alt, slopes)


def directions(az: FloatArray, alt: FloatArray) -> FloatArray:
    """Return unit vectors (..., 3), north, east, up, of azimuths and altitudes in radians."""
    cosine = np.cos(alt)
    north = cosine * np.cos(az)
    vectors = np.empty((*north.shape, 3))
    vectors[..., 0], vectors[..., 1], vectors[..., 2] = north, cosine * np.sin(az), np.sin(alt)
    return vectors


def azimuth_altitude(vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return azimuth in [0, 2π) and altitude, radians, of vectors (..., 3)."""
    az = np.mod(np.arctan2(vectors[..., 1], vectors[..., 0]), 2 * np.pi)
    alt = np.arctan2(vectors[..., 2], np.hypot(vectors[..., 0], vectors[..., 1]))
    return az, alt


def sky_from_axes(az_axis: FloatArray, alt_axis: FloatArray, geometry: Geometry) -> FloatArray:
    """Return where the tube points, unit vectors (..., 3), for axis angles (index removed)."""
    forward, right, up = _in_the_fork(alt_axis, geometry)
    north, east = _turned(az_axis, forward, right)
    vectors = np.stack(np.broadcast_arrays(north, east, up))
    turned = _lean_matrices(geometry.tilt_north, geometry.tilt_east)
    return np.moveaxis(_carried(turned[0], vectors), 0, -1)


def _in_the_fork(alt_axis: FloatArray, geometry: Geometry) -> Components:
    """Return the line of sight forward, to the right and up, before azimuth turns the fork."""
    sin_c, cos_c = np.sin(geometry.collimation), np.cos(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    lifted = cos_c * np.sin(alt_axis)
    return cos_c * np.cos(alt_axis), -sin_c * cos_p - lifted * sin_p, lifted * cos_p - sin_c * sin_p


def _turned(
    az_axis: FloatArray, forward: FloatArray, right: FloatArray
) -> tuple[FloatArray, FloatArray]:
    sin_a, cos_a = np.sin(az_axis), np.cos(az_axis)
    return forward * cos_a - right * sin_a, forward * sin_a + right * cos_a


def axes_from_sky(
    vectors: FloatArray, geometry: Geometry
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return the axis angles that put the tube on directions (..., 3), and whether any exist.

    Where none exist (a circle about the mount's own zenith of radius |collimation +
    non-perpendicularity|) the flag is False and the angles are those that come nearest.
    Closed form: in the base frame, sin δ = (sin C + sin P sin a')/(cos P cos a').
    """
    back = _lean_matrices(-geometry.tilt_north, -geometry.tilt_east)
    north, east, sin_alt = _carried(back[0], np.moveaxis(vectors, -1, 0))
    cos_alt = np.hypot(north, east)
    sin_c = np.sin(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    # a direction within rounding of the mount's zenith has no azimuth of its own
    sin_delta = (sin_c + sin_p * sin_alt) / np.maximum(cos_p * cos_alt, 1e-300)
    reachable = np.abs(sin_delta) <= 1.0
    sin_delta = np.clip(sin_delta, -1.0, 1.0)
    delta = np.arcsin(sin_delta)
    az = np.arctan2(east, north) + delta
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

    The forward direction (readings to sky) is used because it always exists. The offset is scaled
    so that its length is the separation on the sphere; the derivatives are those of the direction.
    """
    seen, toward = _on_tangent(star_az, star_alt, _chain_with_slopes(az_axis, alt_axis, geometry))
    stretch, far = _stretch(seen[:, 0], toward[0])
    miss = np.moveaxis(seen[:, 0] * (stretch * ARCMIN_PER_RADIAN), 0, -1)
    design = np.moveaxis(seen[:, 1:], (0, 1), (-2, -1))
    # beyond a few degrees the offset is longer than its sine: the slopes go with it
    design = design * stretch[..., None, None] if far else np.ascontiguousarray(design)
    return Linearised(miss, design)


def misses(
    star_az: FloatArray,
    star_alt: FloatArray,
    az_axis: FloatArray,
    alt_axis: FloatArray,
    geometry: Geometry,
) -> FloatArray:
    """Return the misses (..., n, 2) that `linearise` does, without their derivatives."""
    pointed = np.moveaxis(sky_from_axes(az_axis, alt_axis, geometry), -1, 0)
    seen, toward = _on_tangent(star_az, star_alt, pointed)
    stretch, _ = _stretch(seen, toward)
    return np.moveaxis(seen * (stretch * ARCMIN_PER_RADIAN), 0, -1)


def _on_tangent(
    star_az: FloatArray, star_alt: FloatArray, vectors: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return vectors (3, ...) across altitude and in altitude (2, ...), and toward the star."""
    north, east, up = vectors
    sin_a, cos_a = np.sin(star_az), np.cos(star_az)
    sin_h, cos_h = np.sin(star_alt), np.cos(star_alt)
    outward = cos_a * north + sin_a * east
    seen = np.empty((2, *outward.shape))
    seen[0] = cos_a * east - sin_a * north
    seen[1] = cos_h * up - sin_h * outward
    return seen, cos_h * outward + sin_h * up


def _stretch(offset: FloatArray, toward: FloatArray) -> tuple[FloatArray, bool]:
    """Return how many times longer than offsets (2, ...) arcs are, and whether any plainly is."""
    off = np.hypot(offset[0], offset[1])
    arc = np.arctan2(off, toward)
    stretch = np.where(off > 1e-9, arc / np.maximum(off, 1e-9), 1.0)
    return stretch, bool(off.max(initial=0.0) > SMALL_SINE)


def slopes_of_arcs(miss: FloatArray, design: FloatArray) -> FloatArray:
    """Return exact slopes of misses (n, 2), arcminutes, in place of those of their directions.

    `linearise` gives a miss m = o φ / sin φ, of the offset o on the tangent plane and the arc φ,
    the slopes D of o; with n = o / |o| those of m are (φ / sin φ) D + n (n · D)(tan φ − φ) / sin φ.
    They differ by a third of φ², which a search does without and a least-squares optimum shows.
    """
    arc = np.maximum(np.hypot(miss[:, 0], miss[:, 1]) / ARCMIN_PER_RADIAN, 1e-9)
    sine = np.sin(arc)
    stretch = arc / sine
    direction = miss / (arc * ARCMIN_PER_RADIAN)[:, None]
    plain = design / stretch[:, None, None] if sine.max(initial=0.0) > SMALL_SINE else design
    along = (direction[:, :, None] * plain).sum(axis=1) * ((np.tan(arc) - arc) / sine)[:, None]
    return np.asarray(stretch[:, None, None] * plain + direction[:, :, None] * along[:, None, :])


def _chain_with_slopes(az_axis: FloatArray, alt_axis: FloatArray, geometry: Geometry) -> FloatArray:
    """Return north, east and up (3, 7, ...): the direction, and what each term takes from it."""
    sin_c, cos_c = np.sin(geometry.collimation), np.cos(geometry.collimation)
    sin_p, cos_p = np.sin(geometry.non_perpendicularity), np.cos(geometry.non_perpendicularity)
    sin_h, cos_h = np.sin(alt_axis), np.cos(alt_axis)
    sin_a, cos_a = np.sin(az_axis), np.cos(az_axis)
    lifted, sunk = cos_c * sin_h, sin_c * sin_h
    forward = cos_c * cos_h
    right = -sin_c * cos_p - lifted * sin_p
    up = lifted * cos_p - sin_c * sin_p
    shape = np.broadcast_shapes(forward.shape, np.shape(az_axis), np.shape(geometry.tilt_north))
    # columns: the direction itself, then minus its change with index, altitude, collimation, tip
    fork = np.zeros((3, 5, *shape))
    fork[0, 0], fork[1, 0], fork[2, 0] = forward, right, up
    fork[0, 1], fork[1, 1] = -right, forward
    fork[0, 2], fork[1, 2], fork[2, 2] = -lifted, -forward * sin_p, forward * cos_p
    fork[0, 3] = sin_c * cos_h
    fork[1, 3] = cos_c * cos_p - sunk * sin_p
    fork[2, 3] = cos_c * sin_p + sunk * cos_p
    fork[1, 4], fork[2, 4] = up, -right
    base = np.empty_like(fork)
    base[0] = fork[0] * cos_a - fork[1] * sin_a
    base[1] = fork[0] * sin_a + fork[1] * cos_a
    base[2] = fork[2]
    turned, by_north, by_east = _lean_matrices(geometry.tilt_north, geometry.tilt_east)
    parts = np.empty((3, 1 + N_STANDARD, *shape))
    parts[:, :5] = _carried(turned, base)
    parts[:, 5], parts[:, 6] = _carried(-by_north, base[:, 0]), _carried(-by_east, base[:, 0])
    return parts
