"""A night's log: where the mount was sent, and what it read once the target was centred.

Read first: `NightLog` (what a log holds), then `read_log`. How files become cells and cells become
numbers is the matter of the `reading` package.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import FRAME, InputError, Notice, Problem
from pointmodel.base.offsets import step_on_sky_deg
from pointmodel.base.times import fixed_zone, time_resolution_s
from pointmodel.base.wording import line_list
from pointmodel.mount.events import logged_events
from pointmodel.reading.almanac import of_an_almanac
from pointmodel.reading.columns import (
    ALT_MOTIONS,
    AZ_MOTIONS,
    CENTRED,
    COMMANDED,
    NUDGE,
    SEEN,
)
from pointmodel.reading.incomplete import (
    Incomplete,
    checked_incomplete,
    left_out_notice,
    refusals,
    without_incomplete,
)
from pointmodel.reading.logcells import LogCells, read_cells
from pointmodel.reading.mountfile import MountFile, MountSource, read_mount
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

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Event:
    """Something that happened to the mount: its kind, its line, and the first pair after it.

    `before_pair` is an index into the pairs, their number where no pair follows. `note` is what
    stands beside it: the note of its line, and the target of a line that holds an event alone.
    `after_struck`: between the pair above and it stands a pair that was taken back.
    """

    kind: str
    line: int
    before_pair: int
    note: str | None = None
    after_struck: bool = False


@dataclass(frozen=True, eq=False)
class NightLog:
    """A log, checked: arrays of shape (n,) with one entry a pair, read-only, azimuths in [0, 360).

    `line` counts from 1 (file: as an editor does; frame: row position). `centred_*` are nan where
    nothing was centred; in a camera log (`camera`) they hold `seen_*`, and the mount read
    `commanded_*`. So they do in a log of nudges (`nudged`), with this difference: where the tube
    looked is not measured there but follows from the commanded place and the nudge. Times are
    POSIX seconds, nan where not logged; `time_offset_s` is how far from UTC they were written.
    Motions are +1 (clockwise, up), -1 (counter-clockwise, down), 0 where not logged.

    Commanded places belong to `time_s`: where the log tells that they were noted at another moment
    and the latitude is known they were carried to it. `noted` (n, 3) then keeps azimuth, altitude
    and moment as they stood in the log, and `commanded_time_s` is `time_s`. What was written in
    right ascension and declination is flagged `*_equatorial` (`reading/places.py` says what is
    assumed of it). `figures_summed` (n,), where readings are sums over the lines before, says by
    what the rounding of a single line's figures is multiplied (variance). `labels` (n,) is the
    index of the frame that the log came from, None where it came from elsewhere.
    """

    source: str
    name: str
    line: NDArray[np.int64]
    target: tuple[str | None, ...]
    commanded_az_deg: FloatArray
    commanded_alt_deg: FloatArray
    centred_az_deg: FloatArray
    centred_alt_deg: FloatArray
    camera: bool
    time_s: FloatArray
    commanded_time_s: FloatArray
    az_motion: FloatArray
    alt_motion: FloatArray
    events: tuple[Event, ...]
    note: tuple[str | None, ...]
    mount: MountFile
    warnings: tuple[Notice, ...]
    time_offset_s: float | None = None
    commanded_equatorial: bool = False
    centred_equatorial: bool = False
    noted: FloatArray | None = None
    nudged: bool = False
    figures_summed: FloatArray | None = None
    labels: Any = None

    def __post_init__(self) -> None:
        """Hold copies of the arrays that nobody can write to."""
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                value = value.copy()
                value.setflags(write=False)
                object.__setattr__(self, field.name, value)

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Pickles forget that arrays are read-only."""
        self.__dict__.update(state)
        self.__post_init__()

    def __len__(self) -> int:
        """Number of pairs, complete or not."""
        return len(self.line)

    @property
    def star_az_deg(self) -> FloatArray:
        """Azimuth of the star: as commanded, or as a camera saw it."""
        return self.centred_az_deg if self.camera else self.commanded_az_deg

    @property
    def star_alt_deg(self) -> FloatArray:
        """Altitude of the star: as commanded, or as a camera saw it."""
        return self.centred_alt_deg if self.camera else self.commanded_alt_deg

    @property
    def reading_az_deg(self) -> FloatArray:
        """Azimuth that the mount read while it pointed at the star."""
        return self.commanded_az_deg if self.camera else self.centred_az_deg

    @property
    def reading_alt_deg(self) -> FloatArray:
        """Altitude that the mount read while it pointed at the star."""
        return self.commanded_alt_deg if self.camera else self.centred_alt_deg

    @property
    def noted_places(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Commanded azimuth, altitude (degrees) and the moment they belong to (POSIX s), (n,) each.

        As noted, before any was carried forward: this is what the controller said at that moment.
        """
        if self.noted is not None:
            az_deg, alt_deg, noted_s = self.noted.T
            return az_deg, alt_deg, noted_s
        told = np.isfinite(self.commanded_time_s)
        noted_s = np.where(told, self.commanded_time_s, self.time_s)
        return self.commanded_az_deg, self.commanded_alt_deg, noted_s

    @property
    def time_resolution_s(self) -> float | None:
        """How finely the moments of the commanded places were written, seconds; None without any.

        A person's `21:04` is a minute long: its true second is anywhere in it, or about it.
        """
        return time_resolution_s(self.noted_places[2])

    @property
    def shows_entries(self) -> bool:
        """Whether the commanded places are what the controller made of its clock and site.

        Right ascensions are not, nor is what an almanac says.
        """
        return not (self.commanded_equatorial or self.mount.log.commanded_from == "almanac")

    @property
    def clock_cleared_by(self) -> Literal["alignment", "almanac", "camera", "verified"] | None:
        """What clears date, time and place of looking like a lean; None: nothing that is known yet.

        What a camera saw is the true sky, and what an almanac says are true places: beside what the
        axes read they leave no room for the controller's clock. A nudge starts where the controller
        put the star, and right ascensions were made by its clock: there they clear nothing.
        """
        cleared = self.mount.clock_cleared_by
        if cleared == "alignment":
            return cleared
        if self.camera and not self.nudged:
            return "camera" if self.shows_entries else cleared
        if self.mount.log.commanded_from != "almanac":
            return cleared
        axes = self.mount.readout != "sky" and not (self.camera or self.centred_equatorial)
        return "almanac" if axes else cleared

    @property
    def has_both(self) -> BoolArray:
        """Which pairs are complete, (n,)."""
        return np.isfinite(self.centred_az_deg) & np.isfinite(self.centred_alt_deg)

    @property
    def pairs(self) -> pd.DataFrame:
        """The pairs as a new frame, index `line`, columns as in a log; `read_log` reads it.

        Places are azimuths and altitudes however they were written. Times carry the zone that they
        were logged in, the mount file's where it names one.
        """
        from pointmodel.reading.frames import frame_of_columns

        az_words = {value: word for word, value in AZ_MOTIONS.items()}
        alt_words = {value: word for word, value in ALT_MOTIONS.items()}
        columns: dict[str, Any] = {
            "target": list(self.target),
            COMMANDED[0]: self.commanded_az_deg,
            COMMANDED[1]: self.commanded_alt_deg,
            **self._second_columns(),
            "az_motion": [az_words.get(motion) for motion in self.az_motion.tolist()],
            "alt_motion": [alt_words.get(motion) for motion in self.alt_motion.tolist()],
            "event": self._events_by_pair(),
            "note": list(self.note),
        }
        moments = {"time": self.time_s, "commanded_time": self.commanded_time_s}
        zone = self.mount.zone or fixed_zone(self.time_offset_s or 0.0)
        return frame_of_columns(self.line, columns, moments, zone)

    @property
    def frame(self) -> pd.DataFrame:
        """The same as `pairs`."""
        return self.pairs

    def _second_columns(self) -> dict[str, FloatArray]:
        """The columns beside the commanded ones; nudges in arcminutes."""
        if not self.nudged:
            names = SEEN if self.camera else CENTRED
            return {names[0]: self.centred_az_deg, names[1]: self.centred_alt_deg}
        looked = self.centred_az_deg, self.centred_alt_deg
        nudge = step_on_sky_deg(*looked, self.commanded_az_deg, self.commanded_alt_deg)
        return {name: step_deg * 60.0 for name, step_deg in zip(NUDGE, nudge, strict=True)}

    def _events_by_pair(self) -> list[str | None]:
        """What happened before each pair, several events parted by +."""
        kinds: list[list[str]] = [[] for _ in range(len(self) + 1)]
        for event in self.events:
            kinds[event.before_pair].append(event.kind)
        return ["+".join(happened) or None for happened in kinds[: len(self)]]

    def with_readings(self, az_deg: FloatArray, alt_deg: FloatArray) -> NightLog:
        """The log with other figures, (n,) each, for what the mount read; stars stay as they are.

        Where those are the commanded ones, what the controller said is kept in `noted`.
        """
        if not self.camera:
            return replace(self, centred_az_deg=az_deg, centred_alt_deg=alt_deg)
        noted = np.stack(self.noted_places, axis=1)
        return replace(self, commanded_az_deg=az_deg, commanded_alt_deg=alt_deg, noted=noted)

    def select(self, mask: ArrayLike) -> NightLog:
        """A log with some of the pairs, `mask` (n,) of bools; every event stays, in its place."""
        chosen = np.asarray(mask, dtype=bool)
        if chosen.shape != (len(self),):
            raise ValueError(f"a mask of shape ({len(self)},) is wanted, not {chosen.shape}")
        kept_before = np.concatenate(([0], np.cumsum(chosen)))
        events = tuple(
            replace(event, before_pair=int(kept_before[event.before_pair])) for event in self.events
        )
        parts: dict[str, Any] = {"events": events}
        for name in ("target", "note"):
            parts[name] = tuple(np.array(getattr(self, name), dtype=object)[chosen].tolist())
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                parts[field.name] = value[chosen]
        if self.labels is not None:
            parts["labels"] = self.labels[chosen]
        return replace(self, **parts)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.reading.card import log_card
        from pointmodel.showing.cards import brief

        return brief(log_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.reading.card import log_card
        from pointmodel.showing.cards import html

        return html(log_card(self))


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
        cells = read_cells(table, mount_file, not problems, how.images)
    except InputError as error:
        found = [_called(problem, source, how.names) for problem in error.problems]
        raise InputError([*problems, *found]) from None
    found = [*cells.problems, *(_lacking(cells, table) if how.whole else ())]
    if problems := [*problems, *(_called(one, source, how.names) for one in found)]:
        raise InputError(problems)
    mount_file, told = said_in_remarks(mount_file, cells.reader.table.remarks)
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
