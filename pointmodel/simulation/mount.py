"""The mount of a simulated night: a chain of rotations, solved for the readings of a star.

Read `terms.py` first for names and signs. On purpose nothing here is shared with `kinematics.py`:
the simulator is the independent check of the estimator's geometry. The frame is north, east, up;
the line of sight starts along north and is carried by one plane rotation after another.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.base.registry import Registry
from pointmodel.mount.term import refraction_lift_arcmin

Direction = tuple[FloatArray, FloatArray, FloatArray]
ARCMIN = np.pi / 10800.0


class UnreachableError(ValueError):
    """Some stars stand so near the zenith that the tube cannot reach them; `which` (n,) bool."""

    def __init__(self, which: NDArray[np.bool_]) -> None:
        """Tell which stars are out of reach."""
        self.which = which
        super().__init__("the tube cannot reach some of the stars, so near the mount's own zenith")


@dataclass(frozen=True)
class SimulatedCircumstances:
    """What the further terms depend on, one entry a pair, shapes (n,) or (1,).

    Motions are +1 (clockwise, up), -1 or 0; `hours` counts from the night's first pair; `slipped`
    is 1 after a slip of the clutch, else 0.
    """

    az_motion: FloatArray
    alt_motion: FloatArray
    hours: FloatArray
    slipped: FloatArray
    azimuth_origin_deg: float = 0.0
    pressure_hpa: float = 1010.0
    temperature_c: float = 10.0


def _turn(
    first: FloatArray, second: FloatArray, angle: FloatArray | float
) -> tuple[FloatArray, FloatArray]:
    """Rotate in the plane of two frame axes, carrying the first toward the second (radians)."""
    cosine, sine = np.cos(angle), np.sin(angle)
    return cosine * first - sine * second, sine * first + cosine * second


def direction(az_deg: FloatArray, alt_deg: FloatArray) -> Direction:
    """North, east and up parts of unit vectors at azimuths and altitudes in degrees."""
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    level = np.cos(alt)
    return level * np.cos(az), level * np.sin(az), np.sin(alt)


def place_deg(sight: Direction) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees, of a direction."""
    north, east, up = sight
    az = np.degrees(np.arctan2(east, north)) % 360.0
    return az, np.degrees(np.arctan2(up, np.hypot(north, east)))


def beside(az_deg: FloatArray, alt_deg: FloatArray, x: FloatArray, y: FloatArray) -> Direction:
    """Directions displaced by tangent-plane steps x (across altitude) and y (up), radians."""
    north, east, up = direction(az_deg, alt_deg)
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    north = north - x * np.sin(az) - y * np.sin(alt) * np.cos(az)
    east = east + x * np.cos(az) - y * np.sin(alt) * np.sin(az)
    up = up + y * np.cos(alt)
    length = np.sqrt(north**2 + east**2 + up**2)
    return north / length, east / length, up / length


def separation_arcmin(one: Direction, other: Direction) -> FloatArray:
    """Angle between directions, arcminutes, from the chord (exact also for small angles)."""
    chord = np.sqrt(sum((a - b) ** 2 for a, b in zip(one, other, strict=True)))
    return np.asarray(2.0 * np.arcsin(np.minimum(0.5 * chord, 1.0)) / ARCMIN)


def _lean(terms: Mapping[str, float]) -> tuple[float, float]:
    north, east = terms["tilt_north"], terms["tilt_east"]
    return float(np.hypot(north, east)) * ARCMIN, float(np.arctan2(east, north))


def _over_the_base(alt: FloatArray, terms: Mapping[str, float]) -> Direction:
    """Line of sight over the base at azimuth zero: collimation, altitude, tipped altitude axis."""
    north, east = _turn(np.ones_like(alt), np.zeros_like(alt), -terms["collimation"] * ARCMIN)
    north, up = _turn(north, np.zeros_like(alt), alt)
    east, up = _turn(east, up, terms["non_perpendicularity"] * ARCMIN)
    return north, east, up


def line_of_sight(az: FloatArray, alt: FloatArray, terms: Mapping[str, float]) -> Direction:
    """Where the tube looks on the sky when its axes stand at these angles (radians)."""
    amount, toward = _lean(terms)
    north, east, up = _over_the_base(alt, terms)
    north, east = _turn(north, east, az - toward)
    up, north = _turn(up, north, amount)
    north, east = _turn(north, east, toward)
    return north, east, up


def axis_angles(sight: Direction, terms: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
    """Azimuth and altitude of the axes (radians) that put the line of sight on a direction.

    Back along the chain of `line_of_sight`: the lean is undone; the height above the base then
    fixes the altitude axis alone; the azimuth axis makes up what is missing in azimuth. Raises
    `UnreachableError` where no altitude gives that height.
    """
    amount, toward = _lean(terms)
    north, east, up = sight
    north, east = _turn(north, east, -toward)
    up, north = _turn(up, north, -amount)
    north, east = _turn(north, east, toward)
    square, tip = terms["collimation"] * ARCMIN, terms["non_perpendicularity"] * ARCMIN
    height = (up + np.sin(square) * np.sin(tip)) / (np.cos(square) * np.cos(tip))
    if (np.abs(height) > 1.0).any():
        raise UnreachableError(np.abs(height) > 1.0)
    alt = np.arcsin(height)
    ahead, right, _ = _over_the_base(alt, terms)
    return np.arctan2(east, north) - np.arctan2(right, ahead), alt


def lifted_alt_deg(
    alt_deg: FloatArray, terms: Mapping[str, float], at: SimulatedCircumstances
) -> FloatArray:
    """Altitudes at which stars are met, from the controller's: air and a hanging tube allowed for.

    A controller that leaves the share f of the refraction out stands (1 - f) lifts above the true
    altitude, at which the lift is to be taken.
    """
    factor, flexure = terms["refraction"], terms["tube_flexure"]
    change = flexure * np.cos(np.radians(alt_deg)) if flexure else np.zeros_like(alt_deg)
    if factor:
        true_deg = alt_deg
        for _ in range(6):
            lift = refraction_lift_arcmin(true_deg, at.pressure_hpa, at.temperature_c)
            true_deg = alt_deg - (1.0 - factor) * lift / 60.0
        change = change + factor * refraction_lift_arcmin(
            true_deg, at.pressure_hpa, at.temperature_c
        )
    return np.asarray(alt_deg + change / 60.0)


@dataclass(frozen=True)
class ReadoutEffect:
    """What one unit of a term adds to a readout that stood right but for its zero, arcminutes.

    `arcmin` takes the azimuth and altitude read (degrees, (n,)) and the circumstances.
    """

    name: str
    axis: Literal["azimuth", "altitude"]
    arcmin: Callable[[FloatArray, FloatArray, SimulatedCircumstances], FloatArray]


# gears, circles and clutches; what tube and air do stands in `lifted_alt_deg`
READOUT_EFFECTS: Registry[ReadoutEffect] = Registry((
    ReadoutEffect(
        "azimuth_scale", "azimuth", lambda az, _, at: wrap_deg(az - at.azimuth_origin_deg)
    ),
    ReadoutEffect("azimuth_eccentricity_sin", "azimuth", lambda az, *_: np.sin(np.radians(az))),
    ReadoutEffect("azimuth_eccentricity_cos", "azimuth", lambda az, *_: np.cos(np.radians(az))),
    ReadoutEffect("azimuth_backlash", "azimuth", lambda _az, _alt, at: at.az_motion / 2.0),
    ReadoutEffect("azimuth_drift", "azimuth", lambda _az, _alt, at: at.hours),
    ReadoutEffect("azimuth_slip", "azimuth", lambda _az, _alt, at: at.slipped),
    ReadoutEffect("altitude_scale", "altitude", lambda _, alt, _at: alt),
    ReadoutEffect("altitude_backlash", "altitude", lambda _az, _alt, at: at.alt_motion / 2.0),
    ReadoutEffect("altitude_drift", "altitude", lambda _az, _alt, at: at.hours),
    ReadoutEffect("altitude_slip", "altitude", lambda _az, _alt, at: at.slipped),
))  # fmt: skip


def _reading_errors_arcmin(
    az_deg: FloatArray, alt_deg: FloatArray, terms: Mapping[str, float], at: SimulatedCircumstances
) -> tuple[FloatArray, FloatArray]:
    """What gears, circles and clutches add to readouts that stood right but for their zeros."""
    added = {"azimuth": np.zeros_like(az_deg), "altitude": np.zeros_like(alt_deg)}
    for effect in READOUT_EFFECTS.values():
        if terms[effect.name]:
            of_one = effect.arcmin(az_deg, alt_deg, at)
            added[effect.axis] = added[effect.axis] + terms[effect.name] * of_one
    return added["azimuth"], added["altitude"]


def readings_deg(
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    terms: Mapping[str, float],
    at: SimulatedCircumstances,
    off_x_arcmin: FloatArray | float = 0.0,
    off_y_arcmin: FloatArray | float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """What the readout says (degrees, azimuth in [0, 360)) with stars centred but for an offset.

    Stars are given where the controller, rightly set, would command them, shape (n,); offsets are
    on the sky, across altitude and in altitude. `terms` holds every name of `terms_of_the_mount()`.
    Raises `UnreachableError`.
    """
    met_alt_deg = lifted_alt_deg(star_alt_deg, terms, at)
    x, y = np.asarray(off_x_arcmin) * ARCMIN, np.asarray(off_y_arcmin) * ARCMIN
    az, alt = axis_angles(beside(star_az_deg, met_alt_deg, x, y), terms)
    az_deg = np.degrees(az) + terms["azimuth_index"] / 60.0
    alt_deg = np.degrees(alt) + terms["altitude_index"] / 60.0
    add_az, add_alt = _reading_errors_arcmin(az_deg, alt_deg, terms, at)
    return (az_deg + add_az / 60.0) % 360.0, alt_deg + add_alt / 60.0


def pointed_deg(
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
    terms: Mapping[str, float],
    at: SimulatedCircumstances,
) -> tuple[FloatArray, FloatArray]:
    """Where, in the frame of a rightly set controller's commands, the tube looks at these readings.

    The other way round from `readings_deg`, forward along the chain; the small effects before and
    after it are undone by repeated substitution.
    """
    az_deg, alt_deg = reading_az_deg, reading_alt_deg
    for _ in range(12):
        add_az, add_alt = _reading_errors_arcmin(az_deg, alt_deg, terms, at)
        az_deg, alt_deg = reading_az_deg - add_az / 60.0, reading_alt_deg - add_alt / 60.0
    az = np.radians(az_deg - terms["azimuth_index"] / 60.0)
    alt = np.radians(alt_deg - terms["altitude_index"] / 60.0)
    sky_az_deg, met_alt_deg = place_deg(line_of_sight(az, alt, terms))
    sky_alt_deg = met_alt_deg
    for _ in range(12):
        sky_alt_deg = sky_alt_deg + met_alt_deg - lifted_alt_deg(sky_alt_deg, terms, at)
    return sky_az_deg, sky_alt_deg
