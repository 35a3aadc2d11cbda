"""Time scales: from POSIX seconds to the Julian dates that ERFA takes, and to sidereal time.

UT1 is taken as UTC: they differ by less than 0.9 s, up to 13.5″ in hour angle. Leap seconds are
ERFA's own; after its table ends the last value is kept, before 1960 the first: each second of
error there moves the Moon by half an arcsecond and the stars not at all.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import erfa
import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import FloatArray

DAY_S = 86400.0
_POSIX_ZERO_JD = 2440587.5
_TT_MINUS_TAI_S = 32.184


class JulianDates(NamedTuple):
    """Julian dates in two parts, shapes as the times given: `day` plus a fraction of each scale."""

    day: FloatArray
    ut1: FloatArray
    tt: FloatArray


def julian_dates(time_s: ArrayLike) -> JulianDates:
    """Julian dates of finite POSIX seconds (UTC), in UT1 (taken as UTC) and in terrestrial time."""
    time = np.asarray(time_s, dtype=float)
    days = np.floor(time / DAY_S)
    since_midnight_s = time - days * DAY_S
    starts_s, tai_minus_utc_s = _leap_seconds()
    entry = np.maximum(np.searchsorted(starts_s, time, side="right") - 1, 0)
    tt_s = since_midnight_s + tai_minus_utc_s[entry] + _TT_MINUS_TAI_S
    return JulianDates(
        np.asarray(days + _POSIX_ZERO_JD),
        np.asarray(since_midnight_s / DAY_S),
        np.asarray(tt_s / DAY_S),
    )


def utc_of_tai_s(tai_s: ArrayLike) -> FloatArray:
    """POSIX seconds (UTC) of moments in TAI that are counted as if they were in UTC, any shape."""
    tai = np.asarray(tai_s, dtype=float)
    starts_s, tai_minus_utc_s = _leap_seconds()
    entry = np.maximum(np.searchsorted(starts_s + tai_minus_utc_s, tai, side="right") - 1, 0)
    return np.asarray(tai - tai_minus_utc_s[entry])


@cache
def _leap_seconds() -> tuple[FloatArray, FloatArray]:
    """Starts of ERFA's entries in POSIX seconds, and TAI − UTC from there on, (n,) each.

    Looked up here and not by ERFA's own time routines, which warn of every year beyond their table.
    """
    table = erfa.leap_seconds.get()
    months = (table["year"] - 1970) * 12 + table["month"] - 1
    starts = months.astype("datetime64[M]").astype("datetime64[s]").astype(np.int64)
    return starts.astype(float), np.asarray(table["tai_utc"], dtype=float)


def sidereal_time_deg(time_s: ArrayLike) -> FloatArray:
    """Greenwich apparent sidereal time, degrees in [0, 360), at POSIX seconds of any shape.

    IAU 2006/2000A (ERFA gst06a).
    """
    day, ut1, tt = julian_dates(time_s)
    return wrap_360_deg(np.degrees(erfa.gst06a(day, ut1, day, tt)))
