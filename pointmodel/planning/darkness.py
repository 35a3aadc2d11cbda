"""When it is dark enough to see the stars that are asked for, and where the Moon is.

Read `sky/bodies.py` first. The Sun's altitude is good to a minute or two here, which is all that
"dark enough" can mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.sky.bodies import moon_lit_fraction, sun_place
from pointmodel.sky.clock import DAY_S, sidereal_time_deg
from pointmodel.sky.observer import Observer

DARK_SUN_ALT_DEG = -9.0  # second-magnitude stars show by then; common practice, no source
SIDEREAL_TURN_DEG_A_DAY = 360.98564736629  # Meeus, Astronomical Algorithms, 2nd ed., eq. 12.4
STEP_S = 300.0
NODE_DAYS = 5.0
LONGEST_WAIT_DAYS = 370


@dataclass(frozen=True)
class MoonNow:
    """The Moon as seen from the site, degrees, and the share of its disc that is lit, 0 to 1."""

    az_deg: float
    alt_deg: float
    lit: float


def sun_altitudes_deg(observer: Observer, start_s: float, offset_s: FloatArray) -> FloatArray:
    """Return the Sun's altitude (n,), degrees, at `offset_s` (n,) after POSIX seconds `start_s`.

    The Sun's place is interpolated between nodes five days apart: good to a minute of arc or so.
    """
    days = offset_s / DAY_S
    nodes = np.arange(0.0, float(days.max(initial=0.0)) + 2 * NODE_DAYS, NODE_DAYS)
    place = sun_place(start_s + nodes * DAY_S)
    ra_deg = np.degrees(np.unwrap(np.radians(place.ra_deg)))
    ra, dec = np.interp(days, nodes, ra_deg), np.interp(days, nodes, place.dec_deg)
    turned = float(sidereal_time_deg(start_s)) + days * SIDEREAL_TURN_DEG_A_DAY
    hour = np.radians(turned + observer.longitude_deg - ra)
    latitude, dec = np.radians(observer.latitude_deg), np.radians(dec)
    up = np.sin(latitude) * np.sin(dec) + np.cos(latitude) * np.cos(dec) * np.cos(hour)
    return np.asarray(np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))


def next_dark_s(observer: Observer, time_s: float) -> float | None:
    """Return when it is next dark enough, POSIX seconds: now, if it is; None: not in a year.

    To five minutes within a day; a polar summer's end to its first dark night.
    """
    within_a_day = np.arange(0.0, DAY_S + STEP_S, STEP_S)
    dark = sun_altitudes_deg(observer, time_s, within_a_day) < DARK_SUN_ALT_DEG
    if dark.any():
        return time_s + float(within_a_day[dark.argmax()])
    coarse = np.arange(0.0, LONGEST_WAIT_DAYS * DAY_S, DAY_S / 24.0)
    dark = sun_altitudes_deg(observer, time_s, coarse) < DARK_SUN_ALT_DEG
    return time_s + float(coarse[dark.argmax()]) if dark.any() else None


def moon_now(place: tuple[float, float], time_s: float) -> MoonNow:
    """Return the Moon at a place, degrees, at POSIX seconds."""
    return MoonNow(
        float(wrap_360_deg(place[0])), place[1], float(np.clip(moon_lit_fraction(time_s), 0, 1))
    )
