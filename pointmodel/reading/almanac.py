"""Commanded places that nobody noted: computed from the site, the names and the times of a log.

They are where the stars truly stood, as the eye sees them: apparent places of date, lifted by the
air where the other figure of the line is one of the sky or the axes in azimuth and altitude (as a
place in right ascension beside one in azimuth is; see `places.py`). They say nothing of the
controller's own clock and site.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

from pointmodel.base.errors import InputError, Notice
from pointmodel.reading.columns import LineTimes, Reader
from pointmodel.reading.places import SITE_WANTED, ZONE_WANTED, Place

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile
    from pointmodel.sky.targets import Target

NAME_WANTED = (
    "the star's name: without commanded figures its place is worked out from name and time"
)
TIME_WANTED = "the time of the centring: the star's place is worked out from name and time"
ALMANAC = Notice(
    "almanac",
    "the log holds no commanded places. Where the stars truly stood was worked out from its times "
    "and the site in the mount file. Such a log says nothing of the controller's clock and site",
)


def almanac_place(
    reader: Reader, second: Place, time: LineTimes, mount: MountFile, site_is_told: bool
) -> Place:
    """Places of date of the stars of all rows that have a name and a time, or figures.

    What is missing for one is complained of (of the site where `site_is_told`); then it is nan.
    """
    rows = second.given | (reader.filled("target") & reader.filled("time"))
    place = Place("commanded", np.full(rows.size, np.nan), np.full(rows.size, np.nan), rows, rows,
                  equinox_of_date=True)  # fmt: skip
    targets = _targets(reader, rows)
    _complain_of_times(reader, rows, time)
    if mount.place_deg is None:
        if site_is_told and rows.any():
            wanted = f"{SITE_WANTED}, or commanded_az and commanded_alt in the log"
            reader.complain_of_header("target", "no commanded places", wanted)
        return place
    from pointmodel.sky.targets import target_places

    known = [row for row in targets if np.isfinite(time.posix_s[row])]
    if known:
        place.first_deg[known], place.second_deg[known] = target_places(
            [targets[row] for row in known], time.posix_s[known], mount.observer
        )
    return place


def _targets(reader: Reader, rows: np.ndarray) -> dict[int, Target]:
    """The target of each row that has a known one; the others are complained of."""
    from pointmodel.sky.targets import find_target

    names = reader.texts("target")
    found = {}
    for row in np.flatnonzero(rows).tolist():
        name = names[row]
        if name is None:
            reader.complain(row, "target", "nothing", NAME_WANTED)
            continue
        try:
            found[row] = find_target(name, reader.table.file, reader.table.lines[row])
        except InputError as error:
            reader.problems.extend(error.problems)
    return found


def _complain_of_times(reader: Reader, rows: np.ndarray, time: LineTimes) -> None:
    timed = reader.filled("time")
    without_zone = np.isin(reader.table.lines, time.lines_without_zone)
    for row in np.flatnonzero(rows & ~timed).tolist():
        reader.complain(row, "time", "nothing", TIME_WANTED)
    for row in np.flatnonzero(rows & timed & without_zone).tolist():
        reader.complain(row, "time", f'"{reader.cells("time")[row].strip()}"', ZONE_WANTED)


def of_an_almanac(mount: MountFile) -> MountFile:
    """The mount file of a log whose commanded places were computed: it says so."""
    log = msgspec.structs.replace(mount.log, commanded_from="almanac")
    return msgspec.structs.replace(mount, log=log)
