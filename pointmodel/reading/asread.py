"""A log's figures read as something other than their heading says: from south, in hours, exchanged.

Pure: a log in, a new log out; what is likely is weighed elsewhere. Read `TURNS` first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.reading.mountkeys import ColumnFinding, Side
from pointmodel.reading.nightlog import NightLog

Column = Literal["commanded", "centred"]
COLUMN_FINDINGS: tuple[ColumnFinding, ...] = get_args(ColumnFinding)
COLUMNS: tuple[Column, ...] = get_args(Column)
Place = tuple[FloatArray, FloatArray]

DEGREES_AN_HOUR = 15.0
HIGHEST_ALT_DEG = 91.0  # a leaning mount shows a little more than 90° near the zenith
LOWEST_ALT_DEG = -2.0  # stars that somebody centred stood above the ground
LEAST_COSINE = 1e-3  # azimuths at the very zenith say nothing; their density must stay finite


@dataclass(frozen=True)
class Turn:
    """How figures of one side (degrees, shapes (n,)) become azimuth and altitude.

    `log_slope` is ln of what one written unit of a line's two figures is worth in degrees.
    """

    places: Callable[[FloatArray, FloatArray], Place]
    log_slope: float = 0.0


TURNS: Mapping[ColumnFinding, Turn] = {
    "azimuth_counted_backwards": Turn(lambda az, alt: (360.0 - az, alt)),
    "azimuth_from_south": Turn(lambda az, alt: (az + 180.0, alt)),
    "zenith_distance": Turn(lambda az, alt: (az, 90.0 - alt)),
    "hours_not_degrees": Turn(
        lambda az, alt: (DEGREES_AN_HOUR * az, alt), float(np.log(DEGREES_AN_HOUR))
    ),
    "radians_not_degrees": Turn(
        lambda az, alt: (np.degrees(az), np.degrees(alt)), 2.0 * float(np.log(180.0 / np.pi))
    ),
    "axes_exchanged": Turn(lambda az, alt: (alt, az)),
}


HEADINGS: Mapping[Side, str] = {
    "commanded": "“commanded”",
    "centred": "“centred”",
    "both": "“commanded” and “centred”",
}
READ_SO: Mapping[ColumnFinding, str] = {
    "columns_exchanged": (
        "Commanded and centred stand under each other's heading. The figures under centred are "
        "where the stars stood. They are read the other way round."
    ),
    "azimuth_counted_backwards": (
        "The azimuths under {what} count from north through west. They are read as 360° minus the "
        "figure."
    ),
    "azimuth_from_south": (
        "The azimuths under {what} count from south. They are read with 180° added."
    ),
    "zenith_distance": (
        "The altitudes under {what} count from the zenith down. They are read as 90° minus the "
        "figure."
    ),
    "hours_not_degrees": "The azimuths under {what} are hours. They are read as 15° for each hour.",
    "radians_not_degrees": (
        "The figures under {what} are radians. They are read as 57.296° for each radian."
    ),
    "axes_exchanged": (
        "Azimuth and altitude under {what} stand under each other's heading. They are read the "
        "other way round."
    ),
}


@dataclass(frozen=True, eq=False)
class ReadLog:
    """A log read otherwise, and ln of the change of density of its figures as written."""

    log: NightLog
    log_jacobian: float


def read_as(log: NightLog, side: Side, finding: ColumnFinding) -> ReadLog | None:
    """Return the log with one side or both read as the finding says, None where that cannot be.

    Figures written in right ascension and declination are only ever exchanged.
    """
    if finding == "columns_exchanged":
        return _exchanged(log)
    columns: tuple[Column, ...] = COLUMNS if side == "both" else (side,)
    log_jacobian = 0.0
    for column in columns:
        turned = _turned(log, column, TURNS[finding])
        if turned is None:
            return None
        log, log_jacobian = turned.log, log_jacobian + turned.log_jacobian
    return ReadLog(log, log_jacobian)


def read_so_words(finding: ColumnFinding, side: Side) -> str:
    """Return the sentence that says how figures are read."""
    return READ_SO[finding].format(what=HEADINGS[side])


def write_down_words(finding: ColumnFinding, side: Side) -> str:
    """Return what the owner writes down, and where, so that a way of reading is settled."""
    return f'write figures = {{{side} = "{finding}"}} under [log] in mount.toml'


def told_figures(log: NightLog) -> tuple[NightLog, tuple[tuple[ColumnFinding, Side], ...]]:
    """Return the log read as its mount file says of its figures, and what was read so.

    What the file says and the figures cannot be (altitudes above 90°, say) is left as written.
    """
    told: list[tuple[ColumnFinding, Side]] = []
    for side, finding in log.mount.log.figures or ():
        read = read_as(log, side, finding)
        if read is not None:
            log = read.log
            told.append((finding, side))
    return log, tuple(told)


def places_of(log: NightLog, column: Column) -> Place:
    """Return azimuth and altitude (n,) of one side of a log, degrees."""
    if column == "commanded":
        return log.commanded_az_deg, log.commanded_alt_deg
    return log.centred_az_deg, log.centred_alt_deg


def _turned(log: NightLog, column: Column, turn: Turn) -> ReadLog | None:
    if log.commanded_equatorial if column == "commanded" else log.centred_equatorial:
        return None
    az_deg, alt_deg = places_of(log, column)
    new_az_deg, new_alt_deg = turn.places(az_deg, alt_deg)
    if not _can_be(new_az_deg, new_alt_deg):
        return None
    parts: dict[str, Any] = {
        f"{column}_az_deg": np.mod(new_az_deg, 360.0),
        f"{column}_alt_deg": new_alt_deg,
    }
    if column == "commanded" and log.noted is not None:
        noted_az_deg, noted_alt_deg = turn.places(*log.noted.T[:2])
        parts["noted"] = np.stack([np.mod(noted_az_deg, 360.0), noted_alt_deg, log.noted[:, 2]], -1)
    gain = np.log(_cosine(new_alt_deg) / _cosine(alt_deg)) + turn.log_slope
    return ReadLog(replace(log, **parts), float(np.nansum(gain)))


def _can_be(az_deg: FloatArray, alt_deg: FloatArray) -> bool:
    """Whether every place is one at which a star could have been centred; nan does not count."""
    known = np.isfinite(az_deg) & np.isfinite(alt_deg)
    az_deg, alt_deg = az_deg[known], alt_deg[known]
    high = bool((alt_deg <= HIGHEST_ALT_DEG).all() and (alt_deg >= LOWEST_ALT_DEG).all())
    return bool(known.any()) and high and bool((np.abs(az_deg) <= 540.0).all())


def _cosine(alt_deg: FloatArray) -> FloatArray:
    return np.asarray(np.maximum(np.abs(np.cos(np.radians(alt_deg))), LEAST_COSINE))


def _exchanged(log: NightLog) -> ReadLog | None:
    """Return the log with commanded and centred exchanged; camera logs have no such sides.

    What now is commanded belongs to the moment of the centring: nothing is carried to another.
    """
    if log.camera or not log.has_both.all():
        return None
    exchanged = replace(
        log,
        commanded_az_deg=log.centred_az_deg,
        commanded_alt_deg=log.centred_alt_deg,
        centred_az_deg=log.commanded_az_deg,
        centred_alt_deg=log.commanded_alt_deg,
        commanded_equatorial=log.centred_equatorial,
        centred_equatorial=log.commanded_equatorial,
        commanded_time_s=np.full(len(log), np.nan),
        noted=None,
    )
    return ReadLog(exchanged, 0.0)
