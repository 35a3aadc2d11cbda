"""Logged misses with a large turn of the whole azimuth circle taken out, fit to be drawn.

Most portable mounts are set down anyhow, so every star may miss by 100° for a reason that zeroing
on one star removes. Arrows and tables show what is behind that turn, and say so. Read `results.py`
for how misses are measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.results import PairResults

TURN_WORTH_REMOVING_DEG = 2.0


@dataclass(frozen=True)
class LoggedMisses:
    """Misses across and in height, arcminutes (n,), and the turn taken out; None where none was."""

    x_arcmin: FloatArray
    y_arcmin: FloatArray
    turn_deg: float | None


def logged_misses(pairs: PairResults) -> LoggedMisses:
    """Misses as logged, without the median azimuth difference of the used pairs if it is large."""
    used = ~pairs.set_aside
    as_logged = LoggedMisses(pairs.before_x_arcmin, pairs.before_y_arcmin, None)
    if not used.any():
        return as_logged
    turn_each, climb = _differences_deg(pairs)
    radians = np.radians(turn_each[used])
    middle = np.degrees(np.arctan2(np.sin(radians).mean(), np.cos(radians).mean()))
    turn = float(wrap_deg(middle + np.median(wrap_deg(turn_each[used] - middle))))
    if abs(turn) < TURN_WORTH_REMOVING_DEG:
        return as_logged
    across = wrap_deg(turn_each - turn) * np.cos(np.radians(pairs.star_alt_deg))
    return LoggedMisses(60.0 * across, 60.0 * climb, turn)


def _differences_deg(pairs: PairResults) -> tuple[FloatArray, FloatArray]:
    """Azimuth and altitude differences of misses that are given as arc and bearing on the sphere.

    The spherical triangle zenith, star, reading: cosine rule and four-part formula (Smart, Textbook
    on Spherical Astronomy, 6th ed., ch. 1).
    """
    arc = np.radians(np.hypot(pairs.before_x_arcmin, pairs.before_y_arcmin) / 60.0)
    bearing = np.arctan2(pairs.before_x_arcmin, pairs.before_y_arcmin)
    alt = np.radians(pairs.star_alt_deg)
    sine = np.sin(alt) * np.cos(arc) + np.cos(alt) * np.sin(arc) * np.cos(bearing)
    away = np.cos(alt) * np.cos(arc) - np.sin(alt) * np.sin(arc) * np.cos(bearing)
    turned = np.degrees(np.arctan2(np.sin(arc) * np.sin(bearing), away))
    return turned, np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))) - pairs.star_alt_deg
