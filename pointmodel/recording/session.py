"""One recording: an entry is checked, kept on the disk, and only then judged and answered.

Read `logfile.py` first. Whatever the fit makes of the log, the entry is safe by then.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from threading import RLock
from typing import Any

import msgspec
import numpy as np

from pointmodel.advising.result import Advice
from pointmodel.base.errors import InputError, Notice
from pointmodel.base.figures import clean
from pointmodel.base.times import TimeTextError, parse_moment
from pointmodel.base.trace import trace
from pointmodel.base.wording import join
from pointmodel.estimate.profile import Profile
from pointmodel.fitting.fit import fit
from pointmodel.fitting.result import Fit
from pointmodel.mount.events import EVENTS
from pointmodel.reading.columns import ENTRY_ID, find_columns
from pointmodel.reading.mountfile import MountFile, MountSource, read_mount
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.reading.remarks import lines_that_say, remark_that_says
from pointmodel.reading.rows import WITHDRAWN, Table
from pointmodel.reading.table import read_table
from pointmodel.readings.logged import PRESS, logged_presses
from pointmodel.recording.entriesdoubt import EntriesDoubt, entries_doubt
from pointmodel.recording.layout import NamedText, cells_by_name
from pointmodel.recording.logfile import LogFile, NotSavedError, is_cut_off
from pointmodel.recording.mountlines import kept_in_mount_file, made_mount_file, values_of
from pointmodel.recording.names import BelievedSky
from pointmodel.recording.nextstep import NO_STEP, NextStep, first_star, next_step
from pointmodel.recording.others import said_of, taken_out
from pointmodel.recording.remark import Remark, complete_pairs, judge
from pointmodel.recording.turns import a_change, in_turn
from pointmodel.sky.sunguard import KEEP_OUT_DEG, Sun, sun_at, sun_separation_deg, too_near_sun

WORTH_A_WORD = (  # remarks on log and fit that call for something to be done at the telescope
    "minutes_as_decimals",
    "duplicate_pair",
    "time_backwards",
    "clock_change",
)
STAYS = ("site", "eyepiece", "optics")  # from night to night, of what is asked
NEW_NUMBERS = "Lines after that have new numbers."
NO_PAIR = "no complete pair: commanded and centred"
NO_NAME = "a pair without a name"


class RefusedError(Exception):
    """An entry that is not kept; the message says why."""


@dataclass(frozen=True)
class Kept:
    """The answer to an entry that is safe on the disk: its line, the pairs so far, the remark."""

    line: int
    pairs: int
    remark: Remark

    @property
    def told(self) -> str:
        """The line that is safe now, and what it says."""
        return f"Line {self.line}. {self.remark.told}"


@dataclass(frozen=True)
class Undone:
    """A line that was struck: its number, and its filled cells by column name."""

    line: int
    cells: Mapping[str, str]

    @property
    def name(self) -> str:
        """What it holds, in a word or two."""
        return self.cells.get("event") or self.cells.get("target") or NO_NAME


@dataclass(frozen=True, eq=False)
class RecordResult:
    """What a recording leaves: the log, counts of what it holds and of what was entered and struck.

    `pairs` are the complete pairs of the log, `entered` those entered now. `fit` is None where
    there is nothing to fit; then `fit_reason` says why.
    """

    log: str
    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    started: str
    ended: str
    pairs: int
    entered: int
    events: int
    undone: int
    fit: Fit | None
    fit_reason: str

    def to_dict(self) -> dict[str, Any]:
        """Return the record document: plain types only, equal to the command's JSON."""
        from pointmodel.recording.document import record_document

        return record_document(self)

    def __str__(self) -> str:
        """Return the command's closing words."""
        from pointmodel.recording.text import record_text

        return record_text(self)


def mount_for(log: str, mount: MountSource) -> MountFile:
    """The mount file told, or the one beside the log. Raises InputError."""
    beside = os.path.join(os.path.dirname(log), "mount.toml")
    return read_mount(beside if mount is None and os.path.isfile(beside) else mount)


def stamp(time_s: float, mount: MountFile) -> str:
    """A moment as a log has it, in the mount file's zone, else in this computer's."""
    return datetime.fromtimestamp(time_s, UTC).astimezone(mount.zone).isoformat(timespec="seconds")


def log_of_bytes(data: bytes, file: str, mount: MountFile) -> NightLog:
    """A log from what its file held at one moment. Raises InputError."""
    return read_log(NamedText(data, file), mount)


@dataclass
class Session:
    """A log that is being recorded: `log` is what it says, `fit` what follows, if anything.

    Every fit starts from `prior`, the mount's profile, where there is one. `belief` is where the
    controller has the sky, where that is another than it is. Several threads may use it: whoever
    calls a method waits for its `turn`. `version` counts the changes; `last` is
    the last answer, None where lines were taken back or put right since; `struck` is the line that
    was taken back last, None where anything came after it.
    """

    file: LogFile
    name: str
    mount: MountFile
    started_s: float
    prior: Profile | None = None
    log: NightLog = field(init=False)
    fit: Fit | None = field(init=False, default=None)
    entered: int = 0
    undone: int = 0
    belief: BelievedSky | None = None
    turn: AbstractContextManager[Any] = field(default_factory=RLock, repr=False)
    version: int = 0
    last: Kept | None = None
    struck: Undone | None = None
    _told: set[str] = field(default_factory=set)
    _odd: tuple[int, tuple[Notice, ...]] | None = None  # by version
    _in_doubt: bool = False  # the last pair: it is looked at before all the others are doubted
    _kept: list[Mapping[str, str]] = field(default_factory=list)
    _left: bytes = b""  # the log as it was when this program last looked
    _put_back: list[Notice] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Read what the log holds already. Raises InputError where it cannot be used."""
        self._left = self._bytes()
        self.log = log_of_bytes(self._left, self.name, self.mount)
        self._heed_remarks()
        self._fit_again()

    def _heed_remarks(self) -> None:
        """Where the mount stands and its eyepiece, as the log says: so for a line alone, too."""
        told = {name: getattr(self.log.mount, name) for name in STAYS}
        self.mount = msgspec.structs.replace(self.mount, **told)

    def sun(self, time_s: float) -> Sun | None:
        """Where the Sun stands, if site and time tell."""
        return sun_at(self.mount.observer, time_s)

    def sun_objection(self, az_deg: float, alt_deg: float, time_s: float) -> str | None:
        """Why a place may not be pointed at, None where it may."""
        sun = self.sun(time_s)
        if sun is None or not bool(too_near_sun(sun, az_deg, alt_deg)):
            return None
        distance = float(sun_separation_deg(sun, az_deg, alt_deg))
        return (
            f"only {distance:.0f}° from the Sun (azimuth {sun.az_deg:.0f}°, altitude "
            f"{sun.alt_deg:.0f}°): nothing within {KEEP_OUT_DEG:.0f}° of it is taken"
        )

    @in_turn
    def new_notices(self) -> tuple[Notice, ...]:
        """What is newly odd about the log as a whole, each kind of oddity once."""
        new = tuple(notice for notice in self.notices() if notice.code not in self._told)
        self._told.update(notice.code for notice in new)
        return new

    @in_turn
    def notices(self) -> tuple[Notice, ...]:
        """What is odd about the log as a whole and calls for something to be done."""
        if self._odd is None or self._odd[0] != self.version:
            found = self.log.warnings if self.fit is None else self.fit.warnings
            odd = [] if self.fit is None else self.fit.readings.findings
            figures = tuple(
                Notice(one.finding, one.text)
                for one in odd
                if not (self._in_doubt and one.finding == "fits_no_mount")
            )
            worth = (*figures, *(notice for notice in found if notice.code in WORTH_A_WORD))
            if doubt := self._entries_doubt():
                worth = (doubt.notice, *worth)
            self._odd = self.version, worth
        return self._odd[1]

    def _entries_doubt(self) -> EntriesDoubt | None:
        """What the stars say against the controller's entries; `belief` is where it has the sky."""
        try:
            doubt = entries_doubt(self.log)
        except Exception:  # as in `_remark`
            trace()
            doubt = None
        self.belief = None if doubt is None else doubt.belief
        return doubt

    @property
    @in_turn
    def advice(self) -> Advice | None:
        """What to do with the mount as the log stands; None where there is nothing to fit."""
        try:
            return None if self.fit is None else self.fit.advice
        except Exception:  # as in `_remark`
            trace()
            return None

    @in_turn
    def next_step(self, now_s: float) -> NextStep:
        """Which star next as the log stands, or that one may stop."""
        try:
            if self.fit is not None:
                return next_step(self.fit, self.mount, now_s)
            return NO_STEP if len(self.log) else first_star(self.mount, now_s)
        except Exception:  # as in `_remark`
            trace()
            return NO_STEP

    @a_change
    def keep(self, cells: Mapping[str, str], now_s: float, in_time: bool = False) -> Kept:
        """Bring an entry of cells by column name onto the disk, then judge it.

        `in_time`: an entry older than an event of the log stands before that event, an event before
        the first entry later than it, and is not judged: what it tells is of the time before.

        Raises RefusedError for what is no line of a log or stands too near the Sun, NotSavedError
        where the disk does not take it; in both cases the log is as it was.
        """
        row = self._checked(cells)
        if len(row):
            moment = float(row.time_s[0])
            at = now_s if np.isnan(moment) else moment
            place = float(row.commanded_az_deg[0]), float(row.commanded_alt_deg[0])
            if objection := self.sun_objection(*place, at):
                named = f"{row.target[0]} stands " if row.target[0] else ""
                raise RefusedError(f"{named}{objection}")
        told = self._write_again()
        later = self._parted_by(cells) if in_time else None
        if later is None:
            self.file.append(cells)
        else:
            self.file.insert(cells, later.line)
        self._kept.append(cells)
        self.entered += int(row.has_both.any())
        kept = self._answer(row, now_s) if later is None else self._among_the_earlier(later)
        self.last = replace(kept, remark=kept.remark.after(told)) if told else kept
        self.struck = None
        return self.last

    def _parted_by(self, entry: Mapping[str, str]) -> Undone | None:
        """The first line of the log that is later, where an event is one of the two; if any."""
        found = self._table()
        positions = find_columns(found)[0]
        for line, row in zip(found.lines, found.rows, strict=True):
            cells = cells_by_name(found, row, positions)
            later = _is_before(entry.get("time", ""), cells.get("time", ""), self.mount)
            if later and ("event" in cells or "event" in entry):
                return Undone(line, cells)
        return None

    def _among_the_earlier(self, later: Undone) -> Kept:
        """The answer to an entry that was put before a later line."""
        self._read_anew()
        told = f"It is older than {later.name}, so it stands before it. {NEW_NUMBERS}"
        return Kept(later.line, complete_pairs(self.log), Remark(told))

    @a_change
    def keep_remark(self, text: str) -> Kept:
        """Bring a line that begins with # onto the disk. Raises NotSavedError."""
        told = self._write_again()
        self.file.append_text(f"# {clean(text).lstrip('# ').rstrip()}")
        self._left = self._bytes()
        remark = Remark("A remark: kept.").after(told)
        return Kept(len(self._left.splitlines()), complete_pairs(self.log), remark)

    @a_change
    def keep_answers(self, table: str, answers: Mapping[str, str]) -> str:
        """Keep what was said of the mount; return where. Raises NotSavedError and InputError.

        `answers` are keys of a table of the mount file with their values as TOML has them. They go
        into the mount file where that can be done safely (for what stays from night to night one is
        made beside the log), else into the log as a remark. What the log says already is noted
        there again, and so is how an eyepiece stands: the lines after it are those tapped with it.
        """
        read_mount({table: values_of(answers)})
        self._write_again()
        noted = table == "eyepiece" or self._says_of(table)
        if noted:  # what a log says counts for more than the mount file
            self.file.append_text(remark_that_says(table, answers))
        where = self._in_mount_file(table, answers)
        if where is None and not noted:
            self.file.append_text(remark_that_says(table, answers))
        self._read_anew()
        return where or self.name

    def _says_of(self, table: str) -> bool:
        """Whether a remark tells something of a table; of a log that cannot be read, no."""
        try:
            remarks = self._table().remarks
        except RefusedError:
            trace()
            return False
        return bool(lines_that_say(table, remarks))

    def _in_mount_file(self, table: str, answers: Mapping[str, str]) -> str | None:
        """The mount file that holds the answers now; None where that could not be done safely."""
        source = self.mount.source
        beside = os.path.join(os.path.dirname(self.name), "mount.toml")
        try:
            if source is None:
                made = table in STAYS and made_mount_file(beside, table, answers)
                source = beside if made else None
            else:
                read_mount(source)
                source = source if kept_in_mount_file(source, table, answers) else None
            if source is not None:
                self.mount = read_mount(source)
        except InputError:  # somebody has put into it what cannot be read
            trace()
            return None
        return source

    @a_change
    def state_eyepiece(self) -> None:
        """Note in the log how the eyepiece stands, where no remark of it does so yet.

        Raises NotSavedError, and RefusedError where the log cannot be read.
        """
        eyepiece = self.mount.eyepiece
        if eyepiece is None or lines_that_say("eyepiece", self._table().remarks):
            return
        said = MountFile(eyepiece=eyepiece).to_dict()["eyepiece"]
        answers = {key: json.dumps(value) for key, value in said.items()}  # as TOML has them
        self.file.append_text(remark_that_says("eyepiece", answers))
        self._read_anew()

    @a_change
    def put_right(
        self, entries: Mapping[str, Mapping[str, str]], table: str, answers: Mapping[str, str]
    ) -> int:
        """Give entries, by id, other cells; how many there were. All of it in one step, or nothing.

        What they were stays above them as withdrawn; above the first stands the remark that says
        what they were put right by (see `keep_answers`), which goes into the mount file too.
        Raises NotSavedError, RefusedError and InputError as its neighbours do.
        """
        read_mount({table: values_of(answers)})
        self._write_again()
        found = self._table()
        positions, layout = find_columns(found)[0], self.file.layout
        lines, kept = {}, {}
        for line, row in zip(found.lines, found.rows, strict=True):
            cells = cells_by_name(found, row, positions)
            changed = entries.get(cells.get(ENTRY_ID, ""))
            if changed is not None and not any("\n" in cell for cell in row):
                lines[line] = layout.changed(row, changed)
                kept[cells[ENTRY_ID]] = {**cells, **changed}
        if lines:
            self.file.put_right(lines, remark_that_says(table, answers))
            self._kept = [kept.get(cells.get(ENTRY_ID, ""), cells) for cells in self._kept]
            self._in_mount_file(table, answers)
            self.last = self.struck = None  # what was said of those lines holds no longer
            self._read_anew()
        return len(lines)

    @property
    @in_turn
    def may_choose_columns(self) -> bool:
        """Whether the log holds no pair yet: then its first one decides what its columns hold."""
        return len(self.log) == 0 and self.file.layout.second != "seen"

    @a_change
    def choose_columns(self, names: Mapping[str, str]) -> None:
        """Call columns otherwise, in which nothing stands yet.

        Raises NotSavedError, and RefusedError where the log cannot be read.
        """
        self.file.rename_columns(names, holds_rows=bool(self._table().rows))
        self._left = self._bytes()

    @in_turn
    def recent(self, most: int) -> tuple[Undone, ...]:
        """The last entries of the log, the newest first. Raises as `last_line` does."""
        table = self._table()
        positions = find_columns(table)[0]
        last = list(zip(table.lines, table.rows, strict=True))[-most:]
        found = (Undone(line, cells_by_name(table, row, positions)) for line, row in last)
        return tuple(found)[::-1]

    @in_turn
    def with_this_eyepiece(self) -> dict[int, Mapping[str, str]]:
        """The entries after the last remark that tells how the eyepiece stands, by line.

        Raises as `last_line` does.
        """
        table = self._table()
        since = max(lines_that_say("eyepiece", table.remarks), default=0)
        positions = find_columns(table)[0]
        rows = zip(table.lines, table.rows, strict=True)
        return {line: cells_by_name(table, row, positions) for line, row in rows if line > since}

    @in_turn
    def line_of(self, entry_id: str) -> int | None:
        """The line in which an entry's id stands, struck or not; None where it was never kept.

        Raises NotSavedError.
        """
        told = self._write_again()
        if told:
            self._read_anew()
        marked = entry_id.encode()
        lines = enumerate(self._bytes().splitlines(), start=1)
        found = [n for n, one in lines if marked in one and not is_cut_off(one)]
        return found[-1] if found else None  # of a line that was put right, the one that counts

    @in_turn
    def is_struck(self, line: int) -> bool:
        """Whether a line was taken back. Raises NotSavedError."""
        return self._line(line).startswith(WITHDRAWN)

    @in_turn
    def holds(self, line: int, what: str) -> bool:
        """Whether a line, struck or not, has this event or name in it. Raises NotSavedError."""
        found = self._line(line).replace('"', "")
        return what == NO_NAME or what.replace('"', "") in found

    def _line(self, line: int) -> str:
        """A line as it stands in the log, counted from 1; nothing beyond its end."""
        lines = self._bytes().splitlines()
        encoding = self.file.layout.encoding
        return lines[line - 1].decode(encoding, "replace") if line <= len(lines) else ""

    @in_turn
    def last_line(self) -> Undone | None:
        """The last entry of the log, a pair or an event; None where there is none.

        Raises NotSavedError, and RefusedError where the log cannot be read.
        """
        self._write_again()
        table = self._table()
        return _entry(table, table.lines[-1]) if table.rows else None

    @a_change
    def undo(self, line: int | None = None, meant: Undone | None = None) -> Undone | None:
        """Strike an entry, a pair or an event, the last if not told, and fit what is left.

        None where the log holds no entry. The line stays as a remark. Raises NotSavedError, and
        RefusedError where that line holds no entry, or not what is `meant`, or goes on over
        several.
        """
        self._write_again()
        table = self._table()
        if not table.rows:
            return None
        line = table.lines[-1] if line is None else line
        if line not in table.lines:
            raise RefusedError(f"line {line} holds no pair and no event")
        if meant is not None and _entry(table, line) != meant:
            raise RefusedError(f"line {line} has another number by now: type undo again")
        if any("\n" in cell for cell in table.rows[table.lines.index(line)]):
            raise RefusedError(f"line {line} goes on over several lines: strike it in an editor")
        self.file.strike(line)
        self.undone, self.last = self.undone + 1, None
        self._read_anew()
        self.struck = _entry(table, line)
        return self.struck

    @a_change
    def redo(self, line: int) -> Undone:
        """Bring a struck line back. Raises NotSavedError, and RefusedError where it is none."""
        self._write_again()
        table = self._table()
        struck = dict(table.remarks).get(line, "")
        if not struck.startswith(WITHDRAWN):
            raise RefusedError(f"line {line} was not taken back")
        standing = (_entry(table, one).cells.get(ENTRY_ID) for one in table.lines)
        if any(entry_id is not None and entry_id in struck for entry_id in standing):
            raise RefusedError(f"line {line} was put right: it stands in the log below")
        self.file.restore(line)
        try:
            log_of_bytes(self._bytes(), self.name, self.mount)
            back = _entry(self._table(), line)
        except (InputError, RefusedError):
            self.file.strike(line)
            raise RefusedError(f"line {line} is not one that this log can hold") from None
        self.undone, self.last, self.struck = self.undone - 1, None, None
        self._read_anew()
        return back

    @a_change
    def result(self, ended_s: float) -> RecordResult:
        """What the recording leaves, with the fit of the whole log."""
        try:
            if self._write_again():
                self._read_anew()
        except NotSavedError as error:
            trace()
            self._put_back.append(Notice("not_saved", f"The log is not as it was left: {error}."))
        sources = (self.name, self.mount.source)
        return RecordResult(
            log=self.name,
            inputs=tuple(s for s in sources if s is not None),
            warnings=(*self.log.warnings, *self._put_back),
            started=stamp(self.started_s, self.mount),
            ended=stamp(ended_s, self.mount),
            pairs=complete_pairs(self.log),
            entered=self.entered,
            events=len(self.log.events),
            undone=self.undone,
            fit=self.fit,
            fit_reason=NO_PAIR,
        )

    def _table(self) -> Table:
        """The log as cells. Raises NotSavedError, and RefusedError where it cannot be read."""
        try:
            table = read_table(NamedText(self._bytes(), self.name))
            find_columns(table)
        except InputError as error:
            raise RefusedError(f"the log cannot be read just now: {error}") from None
        return table

    def _bytes(self) -> bytes:
        return self.file.read()

    def _read_anew(self) -> None:
        """Read the log and fit it again; what cannot be read just now is as it was read last."""
        self._left = self._bytes()
        try:
            self.log = log_of_bytes(self._left, self.name, self.mount)
        except InputError:  # another program has put that in: the next entry tells of it
            trace()
        self._in_doubt = False
        self._heed_remarks()
        self._fit_again()

    def _write_again(self) -> str:
        """Keep once more what another program's save took out; what was, in words.

        Raises NotSavedError.
        """
        data = self._bytes()
        gone = [] if data == self._left else taken_out(self._kept, self._left, data)
        for cells in gone:
            self.file.append(cells)
        if not gone:
            return ""
        told = said_of(gone)
        self._left = self._bytes()
        self._put_back.append(Notice("put_back", told))
        return told

    def _fit_again(self) -> None:
        try:
            self.fit = fit(self.log, prior=self.prior) if complete_pairs(self.log) else None
        except Exception:  # as in `_remark`: entering must go on
            trace()
            self.fit = None

    def _checked(self, cells: Mapping[str, str]) -> NightLog:
        """The line alone as a log. Raises RefusedError where it is none."""
        try:
            row = log_of_bytes(self.file.line_with(cells), self.name, self.mount)
        except InputError as error:
            told = (
                f"{p.column or 'line'}: read {p.found}; wanted {p.wanted}" for p in error.problems
            )
            raise RefusedError("; ".join(told)) from None
        if not len(row) and not row.events:
            raise RefusedError("no figures and no event: commanded azimuth and altitude are wanted")
        return row

    def _answer(self, row: NightLog, now_s: float) -> Kept:
        data = self._left = self._bytes()
        line = len(data.splitlines())
        try:
            self.log = log_of_bytes(data, self.name, self.mount)
        except InputError as error:  # another program has put in what cannot be read
            remark = Remark(f"The log cannot be read just now: {error}", alarm=True)
            return Kept(line, complete_pairs(self.log), remark)
        return Kept(line, complete_pairs(self.log), self._remark(row, now_s))

    def _remark(self, row: NightLog, now_s: float) -> Remark:
        """What to say of the line just kept. A mistake of this program must not end the night."""
        if not row.has_both.any():
            return Remark(_said_of(row, self.log))
        try:
            self.fit, remark = judge(self.log, self.fit, now_s, self.prior)
        except Exception as error:
            trace()
            self.fit = None
            text = f"Kept, but not judged (internal error: {type(error).__name__}: {error})."
            return Remark(text, alarm=True)
        self._in_doubt = remark.is_doubtful
        return remark


def _is_before(one: str, other: str, mount: MountFile) -> bool:
    """Whether a time of a log is before another; False where either is none."""
    try:
        first, second = (parse_moment(text, mount.zone).posix_s for text in (one, other))
    except TimeTextError:
        return False
    return first < second


def _entry(table: Table, line: int) -> Undone:
    """What stands in a line of a log."""
    row = table.rows[table.lines.index(line)]
    return Undone(line, cells_by_name(table, row, find_columns(table)[0]))


def _said_of(row: NightLog, log: NightLog) -> str:
    """What to say of a line without a pair, the last of the log."""
    if not row.events:
        return "Not centred, so it tells nothing of the mount yet."
    kinds = [event.kind for event in row.events]
    if kinds == [PRESS] and len(log) and logged_presses(log)[-1]:
        star = log.target[-1] or "the star above"
        return f"{PRESS}: on {star}. What it changed is known; all stars so far still count."
    fresh = ["azimuth zero", "altitude zero"]
    if any(EVENTS[kind].renews_the_lean for kind in kinds):
        fresh.append("lean")
    return f"{join(kinds)}: {join(fresh)} are taken as new from here on."
