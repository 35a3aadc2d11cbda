"""From files, frames and dicts of columns to a night's log.

Read first: `night.py` (what a log holds), then `read_log`. How files become cells and cells become
numbers is the matter of the modules that are imported here.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pointmodel.base.arrays import BoolArray
from pointmodel.base.errors import FRAME, InputError, Notice, Problem
from pointmodel.base.wording import line_list
from pointmodel.mount.events import logged_events
from pointmodel.reading.almanac import of_an_almanac
from pointmodel.reading.incomplete import (
    Incomplete,
    checked_incomplete,
    left_out_notice,
    refusals,
    without_incomplete,
)
from pointmodel.reading.logcells import LogCells, read_cells
from pointmodel.reading.mountfile import MountFile, MountSource, read_mount
from pointmodel.reading.night import Event, NightLog
from pointmodel.reading.nudges import looked_before_nudges
from pointmodel.reading.owncolumns import (
    OwnNames,
    index_of,
    labels_at,
    own_names,
    refuse_columns_as_mount,
    with_labels,
)
from pointmodel.reading.places import age_notices, places_in_azimuth
from pointmodel.reading.remarks import said_in_remarks
from pointmodel.reading.rows import WITHDRAWN, Table
from pointmodel.reading.sitezone import site_notices
from pointmodel.reading.suspicions import (
    below_horizon,
    minutes_as_decimals,
    same_pair_twice,
    time_notices,
)
from pointmodel.reading.table import LogSource, is_frame, read_table, source_name
from pointmodel.reading.whichlog import file_identity

__all__ = ["Event", "NightLog", "read_log", "read_pairs"]


def read_log(
    source: LogSource,
    mount: MountSource = None,
    *,
    images: str | Path | None = None,
    columns: Mapping[str, str] | None = None,
    incomplete: Incomplete = "refuse",
) -> NightLog:
    """Read and check a night's log.

    `source` is a path (.csv, .tsv, .xlsx, .ods), "-" for standard input, an open file, a pandas
    frame or a dict of columns; none is modified. `columns` maps column names of your own to those
    of a log; others are then passed over. `incomplete` "skip" leaves rows out that lack a figure,
    and says so; "refuse" refuses half places by row. `mount` is whatever `read_mount` takes;
    left out, a `mount.toml` beside the log is used, and a Notice says so; what the log's own
    remarks say of the controller counts for more (`reading/remarks.py`). `images` is a folder of
    solved FITS images, taken after each go-to and before any centring: where they show that the
    telescope looked becomes the seen place of the line nearest in time. Angles without an error are
    in range, pairs either whole or, where nothing was centred, nan. Raises InputError with every
    problem of log and mount file.

    >>> import pointmodel as pm
    >>> log = pm.read_log({
    ...     "star": ["Achernar", "Canopus"],
    ...     "commanded_az": [205.2, 237.6], "commanded_alt": ["41 33.0", "46 12.0"],
    ...     "centred_az": [206.0, 238.5], "centred_alt": ["41 20.5", "46 01.0"],
    ... }, columns={"star": "target"})
    >>> log.target, log.commanded_alt_deg.tolist()
    (('Achernar', 'Canopus'), [41.55, 46.2])
    """
    return _read(source, mount, How(images, own_names(columns), checked_incomplete(incomplete)))


def read_pairs(
    source: LogSource,
    mount: MountSource = None,
    *,
    columns: Mapping[str, str] | None = None,
    incomplete: Incomplete = "refuse",
) -> NightLog:
    """Read a log as `read_log` does, but refuse a frame's rows that lack a value, by row.

    A file may well have lines on which nothing was centred.
    """
    how = How(None, own_names(columns), checked_incomplete(incomplete), whole=is_frame(source))
    return _read(source, mount, how)


@dataclass(frozen=True)
class How:
    """How a log is to be read; `whole`: every row must be a whole pair, or hold an event."""

    images: str | Path | None
    names: OwnNames
    incomplete: Incomplete
    whole: bool = False


def _read(source: LogSource, mount: MountSource, how: How) -> NightLog:
    mount_file, notices, problems = _mount_for(source, mount)
    left_out: list[int] = []
    try:
        table = how.names.table(read_table(source))
        if how.incomplete == "skip":
            table, left_out = without_incomplete(table)
        mount_file, told = said_in_remarks(mount_file, table.remarks)
        cells = read_cells(table, mount_file, not problems, how.images)
    except InputError as error:
        found = [_called(problem, source, how.names) for problem in error.problems]
        raise InputError([*problems, *found]) from None
    found = [*cells.problems, *(_lacking(cells, table) if how.whole else ())]
    if problems := [*problems, *(_called(one, source, how.names) for one in found)]:
        raise InputError(problems)
    index = index_of(source)
    notices = [*notices, *told, *left_out_notice(left_out, labels_at(index, left_out))]
    log = _night_log(cells, source, mount_file, notices)
    return log if index is None else replace(log, labels=index[log.line - 1])


def _lacking(cells: LogCells, table: Table) -> list[Problem]:
    """The rows that lack a value, but for those that are complained of already."""
    told = {problem.line for problem in cells.problems}
    kept, lines = without_incomplete(table)
    if not any(cell.strip() for row in kept.rows for cell in row):
        return []  # what is lacking is not a value here and there
    return refusals([line for line in lines if line not in told], table.file)


def _called(problem: Problem, source: LogSource, names: OwnNames) -> Problem:
    """A problem with the user's own names for column and row."""
    told = names.told(problem)
    index = index_of(source)
    return told if index is None or problem.file != FRAME else with_labels(told, index)


def _mount_for(
    source: LogSource, mount: MountSource
) -> tuple[MountFile, list[Notice], list[Problem]]:
    """The mount file that goes with a log; one with problems gives way to the defaults."""
    refuse_columns_as_mount(mount)
    notices = []
    if mount is None and isinstance(source, (str, os.PathLike)) and str(source) != "-":
        beside = os.path.join(os.path.dirname(source), "mount.toml")
        if "\0" not in beside and os.path.isfile(beside):
            mount = beside
            notices.append(Notice("mount_file", f"the mount file beside the log is used: {beside}"))
    try:
        return read_mount(mount), notices, []
    except InputError as error:
        return MountFile(), notices, list(error.problems)


def _night_log(
    cells: LogCells, source: LogSource, mount: MountFile, notices: list[Notice]
) -> NightLog:
    """The log of cells in which nothing is wrong."""
    table, is_pair, time = cells.reader.table, cells.is_pair, cells.time
    lines = np.array(table.lines, dtype=np.int64)
    pairs_before = np.concatenate(([0], np.cumsum(is_pair)))
    texts = {name: np.array(cells.reader.texts(name), dtype=object) for name in ("target", "note")}
    idle = ~is_pair
    idle[[row for row, _ in cells.events]] = False
    places = places_in_azimuth(
        cells.commanded,
        cells.second,
        of_date=cells.of_date,
        time=time,
        commanded_time=cells.commanded_time,
        mount=mount,
    )
    second_deg = places.second_deg
    if cells.nudged:
        second_deg = looked_before_nudges(table, places.commanded_deg, cells.second)
    commanded_deg, second_deg = places.commanded_deg[:, is_pair], second_deg[:, is_pair]
    mount = of_an_almanac(mount) if cells.almanac else mount
    return NightLog(
        source=table.file,
        name=_log_name(source),
        line=lines[is_pair],
        target=tuple(texts["target"][is_pair].tolist()),
        commanded_az_deg=commanded_deg[0],
        commanded_alt_deg=commanded_deg[1],
        centred_az_deg=second_deg[0],
        centred_alt_deg=second_deg[1],
        camera=cells.camera,
        time_s=time.posix_s[is_pair],
        commanded_time_s=places.commanded_time_s[is_pair],
        az_motion=cells.az_motion[is_pair],
        alt_motion=cells.alt_motion[is_pair],
        events=tuple(
            Event(
                kind,
                table.lines[row],
                int(pairs_before[row]),
                _beside(row, texts, bool(is_pair[row])),
                _after_struck(cells, row, is_pair),
            )
            for row, kind in cells.events
        ),
        note=tuple(texts["note"][is_pair].tolist()),
        mount=mount,
        warnings=(
            *notices,
            *site_notices(mount),
            *cells.notices,
            *_lines_without_figures(lines[idle].tolist()),
            *time_notices(time, cells.commanded_time, lines),
            *age_notices(places, is_pair, lines),
            *below_horizon(places.commanded_deg[1], cells.commanded.equatorial & is_pair, lines),
            *same_pair_twice(cells.as_written_deg()[:, is_pair].T, lines[is_pair]),
            *minutes_as_decimals(*cells.typed_as_decimals_deg()),
        ),
        time_offset_s=time.offset_s,
        commanded_equatorial=bool(cells.commanded.equatorial.any()),
        centred_equatorial=bool(cells.second.equatorial.any()),
        noted=None if places.noted is None else places.noted[is_pair],
        nudged=cells.nudged,
        file_identity=file_identity(source),
    )


def _after_struck(cells: LogCells, row: int, is_pair: BoolArray) -> bool:
    """Whether a pair that was taken back stands between the pair above a row and the row."""
    table = cells.reader.table
    above = np.flatnonzero(is_pair[:row])
    first = table.lines[int(above[-1])] if above.size else 0
    return any(
        first < number < table.lines[row]
        and text.startswith(WITHDRAWN)
        and not any(kind in text for kind in logged_events())
        for number, text in table.remarks
    )


def _beside(row: int, texts: dict[str, Any], is_pair: bool) -> str | None:
    """What stands beside an event; the target of a pair is that of the star centred after it."""
    told = (None if is_pair else texts["target"][row], texts["note"][row])
    return " ".join(text for text in told if text) or None


def _lines_without_figures(lines: list[int]) -> list[Notice]:
    if not lines:
        return []
    text = f"{line_list(lines)}: no figures and no event; passed over"
    return [Notice("no_figures", text)]


def _log_name(source: LogSource) -> str:
    """File stem of a log, "night" for what is no file."""
    name = source_name(source)
    return "night" if name in {"-", FRAME, "<text>"} else Path(name).stem or "night"
