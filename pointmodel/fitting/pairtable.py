"""Every line of the log with what the fit says of it: the page's table, and the same as CSV.

Angles of position are degrees as logged, misses arcminutes on the sky. The page shows some lines of
a long log; the CSV holds all.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.base.figures import clean, figure
from pointmodel.base.ownfiles import refusal, write_whole
from pointmodel.base.times import fixed_zone
from pointmodel.fitting import words
from pointmodel.fitting.showable import Log, Showable
from pointmodel.fitting.turn import logged_misses
from pointmodel.reading.freetext import safe_cell

if TYPE_CHECKING:
    from datetime import tzinfo

    from pointmodel.fitting.result import Fit

MOST_ROWS = 120  # a page shows all lines up to here
FIRST_ROWS, WORST_ROWS, ASIDE_ROWS = 20, 40, 40  # of a longer log

CSV_HEAD = (
    "line",
    "target",
    "time",
    "part",
    "commanded_az_deg",
    "commanded_alt_deg",
    "centred_az_deg",
    "centred_alt_deg",
    "miss_x_arcmin",
    "miss_y_arcmin",
    "residual_x_arcmin",
    "residual_y_arcmin",
    "band_x_arcmin",
    "band_y_arcmin",
    "leverage",
    "set_aside",
    "probability_bad",
    "cause",
    "hint",
    "note",
)


@dataclass(frozen=True)
class TableColumn:
    """A column of the page's table: its title with its unit, and what it holds."""

    title: str
    kind: Literal["number", "name", "words"] = "number"


@dataclass(frozen=True)
class Row:
    """One line of the log, worded."""

    line: int
    cells: tuple[str, ...]
    aside: bool


@dataclass(frozen=True)
class PairTable:
    """The page's table: heads, rows, and what is left out of it, in words."""

    head: tuple[TableColumn, ...]
    rows: tuple[Row, ...]
    left_out: str


HEAD = (
    TableColumn("Line", "name"),
    TableColumn("Star", "name"),
    TableColumn("Left over across (′)"),
    TableColumn("Left over in height (′)"),
    TableColumn("Miss across (′)"),
    TableColumn("Miss in height (′)"),
    TableColumn("Time", "name"),
    TableColumn("Commanded azimuth (°)"),
    TableColumn("Commanded altitude (°)"),
    TableColumn("Centred azimuth (°)"),
    TableColumn("Centred altitude (°)"),
    TableColumn("Your note", "words"),
    TableColumn("Ours", "words"),
)


def pair_table(fit: Showable) -> PairTable:
    """Return the page's table of pairs; of a long log the first, the worst, those aside."""
    pairs, logged = fit.pair_results, logged_misses(fit.pair_results)
    zone, places = zone_of(fit.log), _as_written(fit.as_written, fit.pair_results.line)
    kept = _kept(fit)
    rows = [
        Row(
            int(pairs.line[k]),
            (
                pairs.target[k] or "—",
                figure(pairs.residual_x_arcmin[k], 2),
                figure(pairs.residual_y_arcmin[k], 2),
                figure(logged.x_arcmin[k], 1),
                figure(logged.y_arcmin[k], 1),
                _clock(fit.log.time_s[k], zone),
                *(_degrees(value) for value in places[k]),
                fit.log.note[k] or "",
                our_note(fit, int(k)),
            ),
            bool(pairs.set_aside[k]),
        )
        for k in kept
    ]
    return _without_empty(PairTable(HEAD, tuple(rows), _left_out(fit, kept)))


def _without_empty(table: PairTable) -> PairTable:
    """The table without columns of words that hold none."""
    kept = [
        k
        for k, column in enumerate(table.head[1:])
        if column.kind != "words" or any(row.cells[k] for row in table.rows)
    ]
    rows = tuple(replace(row, cells=tuple(row.cells[k] for k in kept)) for row in table.rows)
    return replace(table, head=(table.head[0], *(table.head[k + 1] for k in kept)), rows=rows)


def _kept(fit: Showable) -> NDArray[np.intp]:
    """Which pairs the page shows, in the log's order."""
    pairs = fit.pair_results
    count = len(pairs.line)
    if count <= MOST_ROWS:
        return np.arange(count)
    size = np.hypot(pairs.residual_x_arcmin, pairs.residual_y_arcmin)
    worst = np.argsort(np.where(pairs.set_aside, -1.0, -size), kind="stable")
    used = worst[~pairs.set_aside[worst]][:WORST_ROWS]
    aside = np.flatnonzero(pairs.set_aside)[:ASIDE_ROWS]
    return np.unique(np.concatenate([np.arange(FIRST_ROWS), used, aside]))


def _left_out(fit: Showable, kept: NDArray[np.intp]) -> str:
    count = len(fit.pair_results.line)
    if kept.size == count:
        return ""
    return (
        f"{kept.size} of {count} lines are shown: the first {FIRST_ROWS}, the {WORST_ROWS} that "
        "fit worst, and those set aside. Every line: pointmodel fit LOG --residuals FILE.csv."
    )


def our_note(fit: Showable, pair: int) -> str:
    """What the program says of a pair: why it was set aside; nothing where no mount fits."""
    if fit.readings.stops:
        return ""
    cause, hint = fit.pair_results.cause[pair], fit.pair_results.hint[pair]
    return "; ".join(filter(None, (cause and words.cause_words(cause), hint)))


def zone_of(log: Log) -> tzinfo:
    """The zone in which the log's times are told."""
    return log.mount.zone or fixed_zone(log.time_offset_s or 0.0)


def _clock(time_s: float, zone: tzinfo) -> str:
    return f"{datetime.fromtimestamp(time_s, zone):%H:%M:%S}" if np.isfinite(time_s) else "—"


def _degrees(value: float) -> str:
    return figure(value, 3) if np.isfinite(value) else "—"


def _as_written(log: Log, lines: NDArray[np.int64]) -> FloatArray:
    """Commanded and centred places (n, 4) of some lines as the log has them, degrees."""
    places = np.column_stack([
        log.commanded_az_deg,
        log.commanded_alt_deg,
        log.centred_az_deg,
        log.centred_alt_deg,
    ])  # fmt: skip
    return np.asarray(places[np.searchsorted(log.line, lines)])


def residuals_csv(fit: Fit) -> str:
    """Return every line with its residuals as CSV text, plain numbers, empty where unknown."""
    pairs, logged = fit.pair_results, logged_misses(fit.pair_results)
    zone, places = zone_of(fit.log), _as_written(fit.as_written, pairs.line)
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_HEAD)
    for k, line in enumerate(pairs.line):
        time_s = fit.log.time_s[k]
        told = datetime.fromtimestamp(time_s, zone) if np.isfinite(time_s) else None
        writer.writerow((
            int(line),
            _text(pairs.target[k]),
            "" if told is None else told.isoformat(timespec="seconds"),
            int(fit.breakdown.part[k]) + 1,
            *_plain(places[k], 6),
            *_plain((logged.x_arcmin[k], logged.y_arcmin[k]), 4),
            *_plain((pairs.residual_x_arcmin[k], pairs.residual_y_arcmin[k]), 4),
            *_plain((pairs.band_x_arcmin[k], pairs.band_y_arcmin[k], pairs.leverage[k]), 4),
            int(pairs.set_aside[k]),
            *_plain((pairs.probability_bad[k],), 6),
            _text(pairs.cause[k]),
            _text(pairs.hint[k]),
            _text(fit.log.note[k]),
        ))  # fmt: skip
    return out.getvalue()


def _plain(values: Sequence[float] | FloatArray, decimals: int) -> list[str]:
    return [f"{value:.{decimals}f}" if np.isfinite(value) else "" for value in values]


def _text(told: str | None) -> str:
    """Words as a spreadsheet may take them: none that it would run as a formula."""
    return safe_cell("note", clean(told or ""))


def write_residuals(fit: Fit, path: Path) -> Path:
    """Write the residuals as CSV to `path`, whole or not at all, and return the path.

    Replaces only a file that begins as such a file does. Raises InputError where something else
    stands there, or where the system refuses.
    """
    head = ",".join(CSV_HEAD)
    if path.exists():
        wanted = "another name for the residuals, or what is there moved out of the way"
        if not path.is_file():
            raise refusal(path, "something that is not a file", wanted)
        with path.open("rb") as there:
            ours = there.read(len(head)) == head.encode()
        if not ours:
            raise refusal(path, "a file that this program did not write", wanted)
    return write_whole(path, residuals_csv(fit).encode())
