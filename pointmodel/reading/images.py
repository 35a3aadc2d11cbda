"""Images beside a log: which line each belongs to, and where the telescope looked there.

An image taken after the go-to and before any centring shows where the telescope truly looked while
the mount read the commanded place. Read `sights.py` first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import line_list, printable, quoted
from pointmodel.reading.columns import LineTimes, Reader
from pointmodel.reading.places import ZONE_WANTED, Place
from pointmodel.reading.sights import sights_in

FARTHEST_S = 120.0  # a go-to and its image belong together; the next star is some minutes away
MOST_LISTED = 12


def seen_in_images(reader: Reader, time: LineTimes, folder: str | Path) -> tuple[Place, Notice]:
    """Return where the telescope looked on each row, by the image nearest to it in time.

    The places are ICRS, and hold at the row's own time, since the mount follows the sky. A row
    keeps one image, an image goes to one row. What is unmatched is in the Notice. Raises InputError
    where nothing matches, or the log's times have no zone.
    """
    _require_zones(reader, time)
    sights, unmatched = sights_in(folder)
    ra_deg, dec_deg = np.full((2, time.posix_s.size), np.nan)
    for gap_s, row, sight in sorted(
        ((*_nearest_row(time.posix_s, sight.time_s), sight) for sight in sights),
        key=lambda found: found[0],
    ):
        if gap_s > FARTHEST_S:
            unmatched.append(f"{sight.file}: no line within {FARTHEST_S / 60.0:.0f} min of it")
        elif math.isfinite(ra_deg[row]):
            unmatched.append(f"{sight.file}: line {reader.table.lines[row]} has a nearer image")
        else:
            ra_deg[row], dec_deg[row] = sight.ra_deg, sight.dec_deg
    given = np.isfinite(ra_deg)
    if not given.any():
        found = f"no image that belongs to a line: {_listed(unmatched)}"
        wanted = "solved images whose times are those of the log's lines"
        raise InputError([Problem(printable(str(folder)), None, None, found, wanted)])
    place = Place("seen", ra_deg, dec_deg, given, given, equinox_of_date=False)
    lines = [reader.table.lines[row] for row in np.flatnonzero(given).tolist()]
    return place, Notice("images", _told(lines, unmatched))


def _require_zones(reader: Reader, time: LineTimes) -> None:
    """Raise InputError where the log's times are in no known zone: images tell theirs in UTC."""
    if time.lines_without_zone:
        table, line = reader.table, time.lines_without_zone[0]
        found = quoted(reader.cells("time")[table.lines.index(line)].strip())
        raise InputError([Problem(table.file, line, "time", found, ZONE_WANTED)])


def _nearest_row(times_s: FloatArray, time_s: float) -> tuple[float, int]:
    """How far off in time the nearest row is, and which: inf where no row has a time."""
    gaps = np.where(np.isfinite(times_s), np.abs(times_s - time_s), np.inf)
    row = int(gaps.argmin()) if gaps.size else -1
    return float(gaps.min(initial=np.inf)), row


def _told(lines: Sequence[int], unmatched: Sequence[str]) -> str:
    text = f"images show where the telescope looked on {line_list(lines)}"
    return f"{text}. Images not used: {_listed(unmatched)}" if unmatched else text


def _listed(unmatched: Sequence[str]) -> str:
    more = f"; and {len(unmatched) - MOST_LISTED} more" if len(unmatched) > MOST_LISTED else ""
    return "; ".join(unmatched[:MOST_LISTED]) + more
