"""By which of screws, legs or plates a base is levelled, and which way the tube points at a foot.

Read `feet.py` first. Screws are the finer means and come first as far as they reach; legs that
slide come before them where the screws' travel is too short; a stand that has neither far enough
gets plates under its low feet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.forecasting.machine import MountModel, readings_for
from pointmodel.levelling.feet import FootOrder
from pointmodel.reading.mountfile import Feet

Means = Literal["screws", "legs", "plates"]
Way = Literal["lower_only", "raise_only", "least_travel"]

WAYS: tuple[Way, ...] = ("lower_only", "raise_only", "least_travel")  # the steadiest first
# of a screw either way of its middle, where the mount file does not say: small stands have some
# 15 to 25 mm of thread in all (from memory of the trade)
USUAL_TRAVEL_MM = 8.0
LOW_ALT_DEG = 10.0  # where a tube plainly points at something on the ground


@dataclass(frozen=True)
class Stand:
    """How to do it at this stand, and where to find its sides without a compass.

    `by` is None where the mount file does not state the feet; `ways` are those that `by` reaches,
    the steadiest first. `screw_travel_mm` is how far a screw goes either way, None where there are
    no screws; `travel_assumed`: it is not the mount file's. The readings are of the azimuth axis,
    degrees: with the tube low down it then points at the side to raise, and at each foot.
    """

    by: Means | None
    ways: tuple[Way, ...]
    screw_travel_mm: float | None
    travel_assumed: bool
    side_reading_deg: float
    foot_readings_deg: tuple[float, ...]

    @property
    def by_screws(self) -> bool:
        """Whether hands work as finely as on screws: on these, or on what nobody described."""
        return self.by in (None, "screws")


def stand_for(
    feet: Feet | None, orders: tuple[FootOrder, ...], model: MountModel, toward_az_deg: float
) -> Stand:
    """Return how to level a base whose axis leans toward an azimuth, degrees."""
    by, ways = _means(feet, orders)
    at_feet = () if feet is None else feet.azimuths_deg
    side, *found = readings_at(model, (toward_az_deg, *at_feet))
    return Stand(
        by=by,
        ways=ways,
        screw_travel_mm=None if feet is None else screw_travel_mm(feet),
        travel_assumed=feet is not None and feet.screw_travel_mm is None,
        side_reading_deg=side,
        foot_readings_deg=tuple(found),
    )


def screw_travel_mm(feet: Feet) -> float | None:
    """Return how far a screw goes either way; None where only legs are stated, and no screw."""
    if feet.legs and feet.screw_pitch_mm is None and feet.screw_travel_mm is None:
        return None
    return USUAL_TRAVEL_MM if feet.screw_travel_mm is None else feet.screw_travel_mm


def readings_at(model: MountModel, az_deg: tuple[float, ...]) -> tuple[float, ...]:
    """Return the azimuth readings at which the tube, low down, points at true azimuths, degrees."""
    there = np.asarray(az_deg, dtype=float)
    return tuple(readings_for(model, there, np.full_like(there, LOW_ALT_DEG))[0].tolist())


def _means(
    feet: Feet | None, orders: tuple[FootOrder, ...]
) -> tuple[Means | None, tuple[Way, ...]]:
    if feet is None or not orders:
        return None, ()
    travel = screw_travel_mm(feet)
    if travel is not None:
        reached = tuple(way for way in WAYS if _farthest_mm(orders, way) <= travel)
        if reached:
            return "screws", reached
    return ("legs", WAYS) if feet.legs else ("plates", ("raise_only",))


def _farthest_mm(orders: tuple[FootOrder, ...], way: Way) -> float:
    return max(abs(rise_mm(order, way)) for order in orders)


def rise_mm(order: FootOrder, way: Way) -> float:
    """Return how far a foot rises by one of the three ways, millimetres."""
    return float(getattr(order, f"{way}_mm"))


def turns(order: FootOrder, way: Way) -> float | None:
    """Return the turns of a foot's screw by one of the three ways; None: the pitch is unknown."""
    found: float | None = getattr(order, f"{way}_turns")
    return found
