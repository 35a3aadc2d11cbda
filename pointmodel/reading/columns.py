"""What the columns of a log are called, and what their cells mean.

Read first: `find_columns` (header to columns), then `Reader` (cells to numbers, problems gathered).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, tzinfo

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import AngleError, parse_angles_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import FRAME, InputError, Notice, Problem
from pointmodel.base.times import TimeTextError
from pointmodel.base.wording import join, nearest, one_of, quoted
from pointmodel.mount.events import logged_events
from pointmodel.reading.cells import SheetTime
from pointmodel.reading.dates import Days
from pointmodel.reading.freetext import plain_cell
from pointmodel.reading.rows import EXAMPLE_HEADER, Table
from pointmodel.reading.sheettimes import doubtful_rows, which_was_typed

PLACES = ("commanded", "centred", "seen")
COMMANDED = ("commanded_az", "commanded_alt")
CENTRED = ("centred_az", "centred_alt")
SEEN = ("seen_az", "seen_alt")
NUDGE = ("nudge_right", "nudge_up")
EQUATORIAL = tuple(f"{place}_{axis}" for place in PLACES for axis in ("ra", "dec"))
# where an entry came from a phone: its id, by which it is kept once however often it is sent
ENTRY_ID = "entry_id"
# and where in the eyepiece the star was tapped, arcminutes to the right and up as the eye sees it
TAPPED = "tapped"
OPTIONAL = (
    *("target", "time", "date", "commanded_time", "az_motion", "alt_motion", "event", "note"),
    ENTRY_ID,
    TAPPED,
)
KNOWN = (*COMMANDED, *CENTRED, *SEEN, *NUDGE, *OPTIONAL, *EQUATORIAL, "equinox")
_LIKELY = (*COMMANDED, *CENTRED, *SEEN, *NUDGE, *OPTIONAL)
ALIASES = {
    "centered_az": "centred_az",
    "centered_alt": "centred_alt",
    "centered_ra": "centred_ra",
    "centered_dec": "centred_dec",
    "notes": "note",
}
AZ_MOTIONS = {"cw": 1.0, "ccw": -1.0}
ALT_MOTIONS = {"up": 1.0, "down": -1.0}
EQUINOXES = {"date": 1.0, "j2000": 2.0}
AZ_RANGE_DEG = (-180.0, 360.0)
ALT_RANGE_DEG = (-90.0, 90.0)
READ_ALT_RANGE_DEG = (-91.0, 91.0)  # a mount that leans reads past 90° at its zenith
_NEAR_MISS = 0.8


def columns_of(place: str, equatorial: bool) -> tuple[str, str]:
    """The two columns of a place: azimuth and altitude, or right ascension and declination.

    A nudge has its two whatever the place it starts from.
    """
    if place == "nudge":
        return NUDGE
    first, second = ("ra", "dec") if equatorial else ("az", "alt")
    return f"{place}_{first}", f"{place}_{second}"


def find_columns(table: Table) -> tuple[dict[str, int], list[Notice]]:
    """Position of each known column; a Notice names columns that mean nothing here.

    Raises InputError where a name is nearly right, comes twice, or a needed one is missing.
    """
    names = [plain_name(cell) for cell in table.header]
    positions: dict[str, int] = {}
    problems: list[Problem] = []
    unknown: list[str] = []
    likely = _LIKELY if any(name in COMMANDED for name in names) else KNOWN
    for position, (name, written) in enumerate(zip(names, table.header, strict=True)):
        if name in KNOWN and name in positions:
            wanted = "each column once"
            problems.append(_header_problem(table, written, f"{quoted(written)} twice", wanted))
        elif name in KNOWN:
            positions[name] = position
        elif (meant := nearest(name, likely, _NEAR_MISS)) and meant not in names:
            problems.append(_header_problem(table, written, quoted(written), meant))
        elif name:
            unknown.append(written)
    problems.extend(_wrong_set(table, positions) if not problems else ())
    if problems:
        raise InputError([*problems, *table.problems])
    return positions, _unknown_notice(table, unknown)


def plain_name(cell: str) -> str:
    """A column's name as it is known, whatever its case, blanks and spelling."""
    name = re.sub(r"[\s\-]+", "_", cell.strip().lower())
    return ALIASES.get(name, name)


def _header_problem(table: Table, column: str | None, found: str, wanted: str) -> Problem:
    return Problem(table.file, table.header_line, column, found, wanted)


def _wrong_set(table: Table, names: Mapping[str, int]) -> list[Problem]:
    """Problems of the columns taken together."""
    listed = join([quoted(cell) for cell in table.header[:20]])
    pairs = {place: (columns_of(place, False), columns_of(place, True)) for place in PLACES}
    pairs["nudge"] = (NUDGE, NUDGE)
    told = [place for place, ways in pairs.items() if any(n in names for way in ways for n in way)]
    seconds = [place for place in told if place != "commanded"]
    if len(seconds) > 1:
        wanted = (
            "one of: centred_az and centred_alt (eyepiece), nudge_right and nudge_up (eyepiece), "
            "seen_az and seen_alt (camera)"
        )
        return [_header_problem(table, None, f"{join(seconds)} columns", wanted)]
    missing = [] if "commanded" in told or is_almanac(names) else list(COMMANDED)
    for ways in pairs.values():
        for way in ways:
            absent = [name for name in way if name not in names]
            missing.extend(absent if len(absent) < len(way) else ())
    missing = list(dict.fromkeys(missing))
    if not missing:
        return []
    found = f"the columns {listed}" if listed else "no columns"
    wanted = f"{join(missing)} too. These are read: {join(KNOWN)}"
    if not names:
        wanted = f"a header line above the figures (not a remark), such as {EXAMPLE_HEADER}"
    if table.file == FRAME:
        columns = missing if names else EXAMPLE_HEADER.split(",")
        own = table.header[0] if table.header and table.header[0] else "my az"
        wanted = (
            f"columns {join(columns)}; if yours have other names, say which is which, such as "
            f"columns={{{own!r}: {missing[0]!r}, ...}}"
        )
    return [_header_problem(table, None, found, wanted)]


def is_almanac(names: Mapping[str, int]) -> bool:
    """Whether a log of these columns holds no commanded places, but all that an almanac needs.

    A camera's log cannot do without them: nothing else says what the mount read.
    """
    commanded = (*columns_of("commanded", False), *columns_of("commanded", True))
    seconds = (*columns_of("centred", False), *columns_of("centred", True), *NUDGE)
    return (
        not any(name in names for name in commanded)
        and {"target", "time"} <= names.keys()
        and any(name in names for name in seconds)
    )


def _unknown_notice(table: Table, unknown: Sequence[str]) -> list[Notice]:
    if not unknown:
        return []
    named = join([quoted(name) for name in unknown[:20]])
    text = f"{table.file}: columns that mean nothing here were passed over: {named}"
    return [Notice("unknown_columns", text)]


@dataclass
class LineTimes:
    """A column of moments: POSIX seconds (n,), nan where empty; lines whose zone is in question.

    `offset_s` is the distance from UTC of the first one that has a zone. `lines_next_day` are those
    taken as of the day after the one that is written, where that is worth saying.
    """

    posix_s: FloatArray
    offset_s: float | None = None
    lines_without_zone: list[int] = field(default_factory=list)
    lines_in_doubt: list[int] = field(default_factory=list)
    lines_next_day: list[int] = field(default_factory=list)


@dataclass
class Reader:
    """Reads columns of a table as numbers and words, and gathers what is wrong on the way.

    A column that the log does not have reads as empty cells.
    """

    table: Table
    positions: Mapping[str, int]
    problems: list[Problem] = field(default_factory=list)
    columns_with_minutes: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Turn rows into columns, once."""
        self._columns = list(zip(*self.table.rows, strict=True))

    def cells(self, name: str) -> Sequence[str]:
        """Cells of a column as they stand."""
        position = self.positions.get(name)
        if position is None or not self._columns:
            return [""] * len(self.table.rows)
        return self._columns[position]

    def texts(self, name: str) -> list[str | None]:
        """Words of a column, blanks around them cut off, None where empty."""
        return [plain_cell(name, cell.strip()) or None for cell in self.cells(name)]

    def filled(self, name: str) -> NDArray[np.bool_]:
        """Which cells hold anything at all, (n,)."""
        return np.array(
            [bool(cell) and not cell.isspace() for cell in self.cells(name)], dtype=bool
        )

    def complain(self, row: int, name: str | None, found: str, wanted: str) -> None:
        """Note a problem with one cell or row."""
        line = self.table.lines[row]
        self.problems.append(Problem(self.table.file, line, name, found, wanted))

    def complain_of_header(self, name: str, found: str, wanted: str) -> None:
        """Note a problem with a whole column."""
        self.problems.append(_header_problem(self.table, name, found, wanted))

    def angles_deg(self, name: str, limits_deg: tuple[float, float]) -> FloatArray:
        """Angles of a column, degrees (n,), nan where empty or wrong."""
        cells = self.cells(name)
        values, errors, all_decimal = parse_angles_deg(cells, self.table.decimal_comma)
        if not all_decimal:
            self.columns_with_minutes.add(name)
        for row, error in errors.items():
            self.complain(row, name, quoted(cells[row].strip()), str(error))
        low, high = limits_deg
        for row in np.flatnonzero((values < low) | (values > high)).tolist():
            wanted = f"degrees from {low:g} to {high:g}"
            if limits_deg == READ_ALT_RANGE_DEG and self._looks_swapped(name, row):
                wanted += "; are azimuth and altitude swapped on this line?"
            self.complain(row, name, quoted(cells[row].strip()), wanted)
        self._complain_of_sheet_times(name, values)
        return values

    def parsed_deg(self, name: str, parse: Callable[[str, bool], float]) -> FloatArray:
        """Angles of a column by a reader of its own, degrees (n,), nan where empty or wrong."""
        values = np.full(len(self.table.rows), np.nan)
        for row, text in enumerate(self.texts(name)):
            if text is None:
                continue
            try:
                values[row] = parse(text, self.table.decimal_comma)
            except AngleError as error:
                self.complain(row, name, quoted(text), str(error))
        self._complain_of_sheet_times(name, values)
        return values

    def _complain_of_sheet_times(self, name: str, values_deg: FloatArray) -> None:
        """Complain of angles that a spreadsheet may have made sixty times too small."""
        cells = self.cells(name)
        if name.startswith("nudge") or not any(isinstance(cell, SheetTime) for cell in cells):
            return
        for row in doubtful_rows(cells, values_deg, name):
            self.complain(row, name, quoted(cells[row]), which_was_typed(cells[row]))

    def _looks_swapped(self, alt_name: str, row: int) -> bool:
        """Whether this row's azimuth could be an altitude."""
        az_cell = self.cells(alt_name.replace("_alt", "_az"))[row]
        azimuth, _, _ = parse_angles_deg([az_cell], self.table.decimal_comma)
        return bool(abs(azimuth[0]) <= ALT_RANGE_DEG[1])

    def choices(self, name: str, meanings: Mapping[str, float]) -> FloatArray:
        """Numbers that words of a column stand for, in any case; 0 where empty."""
        values = np.zeros(len(self.table.rows))
        for row, word in enumerate(self.texts(name)):
            if word is None:
                continue
            meaning = meanings.get(word.lower())
            if meaning is None:
                self.complain(row, name, quoted(word), one_of(list(meanings)))
            else:
                values[row] = meaning
        return values

    def events(self) -> list[tuple[int, str]]:
        """Row and kind of each event; a cell may hold several, parted by +."""
        found = []
        for row, word in enumerate(self.texts("event")):
            for part in word.split("+") if word else ():
                kind = re.sub(r"[\s\-]+", "_", part.strip().lower())
                if kind in logged_events():
                    found.append((row, kind))
                else:
                    wanted = one_of(logged_events(), nearest(kind, logged_events()))
                    self.complain(row, "event", quoted(part.strip()), wanted)
        return found

    def moments(self, name: str, zone: tzinfo | None, evening: date | None = None) -> LineTimes:
        """Moments of a column; those without a zone are of `zone`, else taken as UTC.

        Times of day are of the row's `date`, else of the night that begins on `evening`.
        """
        moments = LineTimes(np.full(len(self.table.rows), np.nan))
        days = Days(self.texts("date"), zone, evening)
        for row, text in enumerate(self.texts(name)):
            if text is None:
                continue
            try:
                moment, moved = days.moment(row, text)
            except TimeTextError as error:
                self.complain(row, name, quoted(text), str(error))
                continue
            if moved:
                moments.lines_next_day.append(self.table.lines[row])
            moments.posix_s[row] = moment.posix_s
            if moments.offset_s is None:
                moments.offset_s = moment.offset_s
            if moment.offset_s is None:
                moments.lines_without_zone.append(self.table.lines[row])
            if moment.in_doubt:
                moments.lines_in_doubt.append(self.table.lines[row])
        return moments
