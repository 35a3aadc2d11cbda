"""A log's cells as numbers and words, with everything that is wrong in them.

Read `columns.py` and `places.py` first; `../nightlog.py` makes the log of what is read here.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import join
from pointmodel.reading.almanac import ALMANAC, almanac_place
from pointmodel.reading.columns import (
    ALT_MOTIONS,
    AZ_MOTIONS,
    COMMANDED,
    NUDGE,
    LineTimes,
    Reader,
    columns_of,
    find_columns,
    is_almanac,
)
from pointmodel.reading.dates import evening_of
from pointmodel.reading.images import seen_in_images
from pointmodel.reading.nudges import NUDGES, read_nudges, way_is_told_by_hand
from pointmodel.reading.places import (
    Place,
    check_equatorial,
    check_zones,
    complain_of_halves,
    equinoxes_of_date,
    read_place,
)
from pointmodel.reading.rows import Table

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile


@dataclass(frozen=True, eq=False)
class LogCells:
    """The cells, one entry a row. `second` is the centred place, the seen one, or the nudge.

    `almanac`: the commanded places were computed, not noted.
    """

    reader: Reader
    notices: list[Notice]
    camera: bool
    nudged: bool
    almanac: bool
    commanded: Place
    second: Place
    of_date: BoolArray
    is_pair: BoolArray
    time: LineTimes
    commanded_time: LineTimes
    az_motion: FloatArray
    alt_motion: FloatArray
    events: list[tuple[int, str]]

    @property
    def problems(self) -> list[Problem]:
        """Every problem, in the order of the lines."""
        found = [*self.reader.table.problems, *self.reader.problems]
        return sorted(found, key=lambda at: at.line or 0)

    def as_written_deg(self) -> FloatArray:
        """The four figures of each row, (4, n), as they stand in the log."""
        places = (self.commanded, self.second)
        return np.stack([part for place in places for part in (place.first_deg, place.second_deg)])

    def typed_as_decimals_deg(self) -> tuple[FloatArray, FloatArray]:
        """Azimuths and altitudes (2, n) of both places, of columns that hold plain decimals only.

        Everything else is nan.
        """
        figures = self.as_written_deg().reshape(2, 2, -1)
        for part, place in zip(figures, (self.commanded, self.second), strict=True):
            part[:, place.equatorial | (place.name == "nudge")] = np.nan
            for row, name in enumerate(columns_of(place.name, False)):
                if name in self.reader.columns_with_minutes:
                    part[row] = np.nan
        return figures[0], figures[1]


def read_cells(
    table: Table,
    mount: MountFile,
    site_is_told: bool,
    images: str | Path | None = None,
) -> LogCells:
    """Read the cells of a log, the seen places from a folder of images where one is told.

    Raises InputError where it is no table of a log at all, or no image belongs to it.
    """
    positions, column_notices = find_columns(table)
    reader = Reader(table, positions)
    nudged = any(name in positions for name in NUDGE)
    camera = any(name in positions for way in (False, True) for name in columns_of("seen", way))
    almanac = is_almanac(positions)
    noted = None if almanac else read_place(reader, "commanded")
    second = (
        read_nudges(reader, mount)
        if nudged
        else read_place(reader, "seen" if camera else "centred")
    )
    if not nudged:
        complain_of_halves(reader, second.name)
    if noted is not None:
        _complain_of_lone_figures(reader, noted, second)
    evening = None if mount.log.date is None else evening_of(mount.log.date)
    time = reader.moments("time", mount.zone, evening)
    commanded = noted or almanac_place(reader, second, time, mount, site_is_told)
    from_images: list[Notice] = []
    if images is not None:
        _refuse_beside_images(reader, second, almanac)
        second, told = seen_in_images(reader, time, images)
        from_images, camera = [told], True
    cells = LogCells(
        reader=reader,
        notices=[
            *table.notices,
            *column_notices,
            *([ALMANAC] if almanac else ()),
            *([NUDGES] if nudged and way_is_told_by_hand(reader) else ()),
            *from_images,
        ],
        camera=camera or nudged,
        nudged=nudged,
        almanac=almanac,
        commanded=commanded,
        second=second,
        is_pair=commanded.given,
        time=time,
        commanded_time=reader.moments("commanded_time", mount.zone, evening),
        az_motion=reader.choices("az_motion", AZ_MOTIONS),
        alt_motion=reader.choices("alt_motion", ALT_MOTIONS),
        events=reader.events(),
        of_date=equinoxes_of_date(reader, mount),
    )
    check_zones(reader, cells.time, cells.commanded_time)
    if site_is_told:
        check_equatorial(reader, (second,) if almanac else (commanded, second), cells.time, mount)
    return cells


def _refuse_beside_images(reader: Reader, second: Place, almanac: bool) -> None:
    """Raise InputError where a log says otherwise where the telescope looked, or not what it read.

    What it read once the star was centred comes later, and goes unused.
    """
    if second.name in ("seen", "nudge") and second.given.any():
        found = f"{join(columns_of(second.name, False))} in the log, and images"
        wanted = "one of the two: those columns empty or away, or no --images"
    elif almanac:
        found, wanted = "images, and no commanded places", "commanded_az and commanded_alt too"
    else:
        return
    table = reader.table
    raise InputError([Problem(table.file, table.header_line, None, found, wanted)])


def _complain_of_lone_figures(reader: Reader, commanded: Place, second: Place) -> None:
    """Complain of half commanded places, and of second places without a commanded one."""
    complain_of_halves(reader, commanded.name)
    touched = [reader.filled(n) for way in (False, True) for n in columns_of("commanded", way)]
    for row in np.flatnonzero(second.given & ~np.any(touched, axis=0)).tolist():
        columns = columns_of(second.name, bool(second.equatorial[row]))
        wanted = f"figures, since {columns[0]} and {columns[1]} need a commanded place"
        reader.complain(row, COMMANDED[0], "nothing", wanted)
