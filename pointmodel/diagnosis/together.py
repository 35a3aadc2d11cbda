"""Azimuth zero, collimation and non-perpendicularity as the one thing that few stars know of them.

Read `forecasting/machine.py` first. Each alone may be anything while their sum is known: what the
azimuth readout is off by at one altitude.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import NORMAL_95
from pointmodel.estimate.results import TermEstimate
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.forecasting.outlook import reading_slopes
from pointmodel.mount.terms import STANDARD_NAMES

TOGETHER = ("azimuth_index", "collimation", "non_perpendicularity")
AT_ALT_DEG = 45.0


def azimuth_together(
    model: MountModel, covariance: FloatArray, table: Mapping[str, TermEstimate]
) -> tuple[float, float, float] | None:
    """Return how high azimuth reads 45° up, with its 95 % limits, arcminutes; the base upright.

    None where the azimuth zero is known by itself. `covariance` (c, c) is that of all columns.
    """
    if table["azimuth_index"].status == "determined":
        return None
    at = [STANDARD_NAMES.index(name) for name in TOGETHER]
    values = np.zeros_like(model.values)
    values[at] = model.values[at]
    upright = model.with_values(values)
    az_deg, alt_deg = np.array([0.0]), np.array([AT_ALT_DEG])
    reading_az, reading_alt, _ = readings_for(upright, az_deg, alt_deg)
    there = linearised_at(upright, az_deg, alt_deg, reading_az, reading_alt)
    slope = reading_slopes(there.design)[0, 0, at]
    value = float(60.0 * ((reading_az[0] + 180.0) % 360.0 - 180.0))
    spread = NORMAL_95 * float(np.sqrt(slope @ covariance[np.ix_(at, at)] @ slope))
    return value, value - spread, value + spread
