"""Telescope and controller of a simulated evening: what is shown, where a go-to lands, what helps.

Read `evenings.py` first. The mount is the simulator's chain of rotations; the controller computes
its places by ERFA's routines (`controllers.py`). On purpose nothing here is shared with the
program's own kinematics, with what it holds of a log's figures, or with its check of the entries.

    machine.miss_arcmin()                       # RMS of go-tos over the open sky as it stands
    machine.levelled(north, east).zeroed().miss_arcmin()      # after feet were turned for this lean
    machine.realigned(((120, 40), (230, 45))).miss_arcmin()   # after an alignment on two places
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import erfa
import numpy as np
from bench.controllers import Site, Wrong

from pointmodel.base.arrays import FloatArray
from pointmodel.simulation.mount import (
    SimulatedCircumstances,
    direction,
    place_deg,
    pointed_deg,
    readings_deg,
    separation_arcmin,
)

Place = tuple[float, float]
TARGETS = 120
ZEROING_PLACES: tuple[Place, ...] = tuple(
    (az, alt) for az in (30.0, 120.0, 210.0, 300.0) for alt in (35.0, 50.0)
)
# two stars a quarter of the sky apart at middling heights: what manuals ask for (common practice)
ALIGNING_PLACES: tuple[Place, Place] = ((120.0, 40.0), (220.0, 50.0))
LARGEST_ALTITUDE_ZERO_DEG = 15.0
RIGHT = Wrong()
STILL = SimulatedCircumstances(
    az_motion=np.zeros(1), alt_motion=np.zeros(1), hours=np.zeros(1), slipped=np.zeros(1)
)


def vectors(places_deg: FloatArray) -> FloatArray:
    """Unit vectors (..., 3) of places (..., 2): azimuth and altitude in degrees."""
    places = np.asarray(places_deg, dtype=float)
    return np.stack(direction(places[..., 0], places[..., 1]), axis=-1)


def places(sights: FloatArray) -> FloatArray:
    """Places (..., 2), degrees, of directions (..., 3)."""
    return np.stack(place_deg((sights[..., 0], sights[..., 1], sights[..., 2])), axis=-1)


def two_star_rotation(stars: FloatArray, readings: FloatArray) -> FloatArray:
    """The rotation (3, 3) that takes the first star to its reading, the second into its plane."""

    def triad(pair: FloatArray) -> FloatArray:
        across = np.cross(pair[0], pair[1])
        across /= np.linalg.norm(across)
        return np.stack([pair[0], across, np.cross(pair[0], across)], axis=1)

    return np.asarray(triad(readings) @ triad(stars).T)


def altitude_zero_deg(stars_deg: FloatArray, readings_at_deg: FloatArray) -> float:
    """What altitude readings are too high by, from the angle between two stars (Newton)."""
    wanted = vectors(stars_deg)[0] @ vectors(stars_deg)[1]

    def short(zero_deg: float) -> float:
        sights = vectors(readings_at_deg - np.array([0.0, zero_deg]))
        return float(sights[0] @ sights[1] - wanted)

    zero = 0.0
    for _ in range(20):
        slope = (short(zero + 1e-3) - short(zero - 1e-3)) / 2e-3
        if abs(slope) < 1e-7:
            return 0.0
        zero -= short(zero) / slope
    return zero if abs(zero) < LARGEST_ALTITUDE_ZERO_DEG else 0.0


@dataclass(frozen=True, eq=False)
class Controller:
    """What a hand controller holds: entries, offsets of both readouts, the alignment's rotation.

    `rotation` takes places on its sky to what its axes read, altitude zero aside; `shows` says
    whether the display is of the axes or turned back to the sky.
    """

    site: Site
    wrong: Wrong = RIGHT
    shows: str = "axes"
    solves: str = "rotation"
    offset_deg: FloatArray = field(default_factory=lambda: np.zeros(2))
    altitude_zero_deg: float = 0.0
    rotation: FloatArray = field(default_factory=lambda: np.eye(3))

    def believed(self, places_deg: FloatArray) -> FloatArray:
        """Where it takes things to stand (..., 2) that truly stand at these places."""
        places_deg = np.asarray(places_deg, dtype=float)
        if self.wrong == RIGHT:
            return places_deg
        true, held = (
            np.radians(self.site.latitude_deg + off) for off in (0.0, self.wrong.latitude_deg)
        )
        hour, dec = erfa.ae2hd(*np.radians(np.moveaxis(places_deg, -1, 0)), true)
        hour = hour + np.radians(self.wrong.sidereal_offset_min / 4.0)
        return np.degrees(np.stack(erfa.hd2ae(hour, dec, held), axis=-1))

    def drives_to(self, commanded_deg: FloatArray) -> FloatArray:
        """The mount's own readings (..., 2) to which a go-to drives for these places."""
        axes = places(vectors(commanded_deg) @ self.rotation.T)
        return axes + np.array([0.0, self.altitude_zero_deg]) - self.offset_deg

    def shown(self, readings_at_deg: FloatArray) -> FloatArray:
        """The display (..., 2) where the mount's own readings are these."""
        axes = np.asarray(readings_at_deg) + self.offset_deg
        if self.shows == "axes":
            return np.stack([axes[..., 0] % 360.0, axes[..., 1]], axis=-1)
        return places(vectors(axes - np.array([0.0, self.altitude_zero_deg])) @ self.rotation)

    def pressed(self, commanded_deg: FloatArray, reading_deg: FloatArray) -> Controller:
        """After "this is the star": it would drive to this reading for this place."""
        missed = self.drives_to(commanded_deg) - reading_deg
        missed[0] = (missed[0] + 180.0) % 360.0 - 180.0
        return replace(self, offset_deg=self.offset_deg + missed)

    def aligned(self, commanded_deg: FloatArray, readings_at_deg: FloatArray) -> Controller:
        """After an alignment on two stars, (2, 2) each; offsets stay as they are."""
        axes = np.asarray(readings_at_deg) + self.offset_deg
        zero = altitude_zero_deg(commanded_deg, axes) if self.solves == "altitude_zero" else 0.0
        rotation = two_star_rotation(vectors(commanded_deg), vectors(axes - np.array([0.0, zero])))
        return replace(self, rotation=rotation, altitude_zero_deg=zero)


@dataclass(frozen=True, eq=False)
class Machine:
    """A mount as it stands at one moment, with its controller; terms in arcminutes by name."""

    terms: Mapping[str, float]
    controller: Controller
    scatter_arcmin: float = 0.6
    at: SimulatedCircumstances = STILL

    @property
    def lean_arcmin(self) -> tuple[float, float]:
        """The base's true lean, north and east."""
        return self.terms["tilt_north"], self.terms["tilt_east"]

    def reads(self, places_deg: FloatArray) -> FloatArray:
        """The mount's own readings (..., 2) with what stands there centred."""
        wanted = np.asarray(places_deg, dtype=float)
        az, alt = wanted.reshape(-1, 2).T
        read = np.stack(readings_deg(az, alt, self.terms, self.at), axis=-1)
        return read.reshape(wanted.shape)

    def looks_at(self, readings_at_deg: FloatArray) -> FloatArray:
        """Where on the sky the tube looks (..., 2) at these readings."""
        read = np.asarray(readings_at_deg, dtype=float)
        az, alt = read.reshape(-1, 2).T
        looked = np.stack(pointed_deg(az, alt, self.terms, self.at), axis=-1)
        return looked.reshape(read.shape)

    def miss_arcmin(self, commanded_deg: FloatArray | None = None) -> float:
        """RMS miss of go-tos over the open sky, scatter in both of its directions included.

        `commanded_deg` (k, 2): what is sent in place of the targets that `targets_deg` lists, such
        as corrected positions.
        """
        wanted = targets_deg()
        sent = self.controller.believed(wanted) if commanded_deg is None else commanded_deg
        landed = self.looks_at(self.controller.drives_to(sent))
        miss = separation_arcmin(direction(*wanted.T), direction(*landed.T))
        return float(np.sqrt(np.mean(miss**2) + 2.0 * self.scatter_arcmin**2))

    def levelled(self, north_arcmin: float, east_arcmin: float) -> Machine:
        """After feet were turned to take this lean away, whatever the true one was."""
        north, east = self.lean_arcmin
        tilts = {"tilt_north": north - north_arcmin, "tilt_east": east - east_arcmin}
        return replace(self, terms={**self.terms, **tilts})

    def zeroed(self, place: Place | None = None) -> Machine:
        """After "this is the star" on a star there; left out, at the median of eight places."""
        if place is not None:
            return self._zeroed_at(place)
        tried = [self._zeroed_at(one) for one in ZEROING_PLACES]
        return sorted(tried, key=lambda machine: machine.miss_arcmin())[len(tried) // 2]

    def _zeroed_at(self, place: Place) -> Machine:
        star = np.array(place)
        held = self.controller.believed(star)
        return replace(self, controller=self.controller.pressed(held, self.reads(star)))

    def realigned(self, on: tuple[Place, Place] = ALIGNING_PLACES) -> Machine:
        """After an alignment on stars at two true places, centred well."""
        stars = np.array(on)
        held = self.controller.believed(stars)
        return replace(self, controller=self.controller.aligned(held, self.reads(stars)))

    def with_solving(self, solves: str) -> Machine:
        """With a controller of another kind (`[alignment] solves`)."""
        return replace(self, controller=replace(self.controller, solves=solves))

    def with_entries(self, wrong: Wrong) -> Machine:
        """After the controller's clock and site were set so."""
        return replace(self, controller=replace(self.controller, wrong=wrong))


def targets_deg() -> FloatArray:
    """Targets even over the sky from 15° to 80°, (k, 2), always the same.

    A spiral: equal steps of height, turned by the golden angle (common practice, no source).
    """
    k = np.arange(TARGETS) + 0.5
    low, high = np.sin(np.radians((15.0, 80.0)))
    alt_deg = np.degrees(np.arcsin(low + (high - low) * k / TARGETS))
    return np.stack([k * 180.0 * (3.0 - np.sqrt(5.0)) % 360.0, alt_deg], axis=-1)


def lean_of_feet(
    azimuths_deg: FloatArray, rises_mm: FloatArray, radius_mm: float
) -> tuple[float, float]:
    """The lean, north and east in arcminutes, that these rises of the feet take away.

    A plane by least squares through what was turned: a foot at azimuth θ raised by r·tan T tips the
    top away from θ by T.
    """
    foot = np.radians(azimuths_deg)
    plane = np.stack([np.ones_like(foot), radius_mm * np.cos(foot), radius_mm * np.sin(foot)], 1)
    slope = np.linalg.lstsq(plane, np.asarray(rises_mm, dtype=float), rcond=None)[0][1:]
    size = float(np.hypot(*slope))
    if size == 0.0:
        return 0.0, 0.0
    lean = slope / size * np.degrees(np.arctan(size)) * 60.0
    return float(lean[0]), float(lean[1])
