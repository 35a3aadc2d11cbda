"""Nudges: how far the tube had to go on to centre the star, in place of what the mount read then.

Right and up are as seen standing behind the tube; left and down are negative. The star's place is
the commanded one; where the tube looked before the nudge follows, and makes the line that of a
camera. Read `base/offsets.py` first: the same frame holds for the nudges that `aim` answers with.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.angles import AngleError
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.offsets import before_step_deg
from pointmodel.base.wording import LONGEST_FIGURE, quoted
from pointmodel.reading.columns import NUDGE, TAPPED, Reader
from pointmodel.reading.places import Place

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile
    from pointmodel.reading.rows import Table

FARTHEST_NUDGE_ARCMIN = 1800.0  # 30°: nobody goes farther with the slow keys
_MARKS = str.maketrans({**dict.fromkeys("−–‒‐﹣", "-"), **dict.fromkeys("′’‘´`ʹ", "'"),
                        **dict.fromkeys("″”“ʺ", '"'), **dict.fromkeys("º˚", "°")})  # fmt: skip
_NUDGE = re.compile(
    r"""(?P<sign>[+-]?)\s*(?P<figure>\d+\.?\d*|\.\d+)\s*
        (?P<unit>'|''|"|°|f|fields?|arcmin|arcsec|deg)?\s*(?P<way>right|left|up|down)?""",
    re.VERBOSE | re.ASCII | re.IGNORECASE,
)
_ARCMIN = {"'": 1.0, "arcmin": 1.0, "": 1.0, '"': 1 / 60, "''": 1 / 60, "arcsec": 1 / 60,
           "°": 60.0, "deg": 60.0}  # fmt: skip
_WAYS = {"nudge_right": {"right": 1.0, "left": -1.0}, "nudge_up": {"up": 1.0, "down": -1.0}}
_WANTED = "arcminutes such as 12 or 12', or 0.4°, 40\", or eyepiece fields such as 0.5 f"


def parse_nudge_arcmin(
    text: str, column: str, decimal_comma: bool, field_arcmin: float | None
) -> float:
    """Read one nudge, arcminutes: plain, or with `'`, `"`, `°`, or `f` for fields of the eyepiece.

    A word may say which way (`12' left`), as `aim` does. Raises AngleError.
    """
    plain = text.translate(_MARKS).strip()
    if len(plain) > LONGEST_FIGURE:
        raise AngleError(_WANTED)
    match = _NUDGE.fullmatch(plain.replace(",", ".") if decimal_comma else plain)
    if match is None:
        raise AngleError(_WANTED)
    sign, unit, way = match["sign"], (match["unit"] or "").lower(), (match["way"] or "").lower()
    size = float(match["figure"]) * _unit_arcmin(unit, field_arcmin)
    if size > FARTHEST_NUDGE_ARCMIN:
        raise AngleError(f"a nudge of at most {FARTHEST_NUDGE_ARCMIN / 60:.0f}°")
    ways = _WAYS[column]
    if way and way not in ways:
        raise AngleError(f"{' or '.join(ways)} in this column, not {way}")
    if way and sign:
        raise AngleError(f"either a sign or the word {way}, not both")
    return size * (ways[way] if way else -1.0 if sign == "-" else 1.0)


def _unit_arcmin(unit: str, field_arcmin: float | None) -> float:
    if not unit.startswith("f"):
        return _ARCMIN[unit]
    if field_arcmin is None:
        raise AngleError(
            "arcminutes, or field_of_view under [optics] in the mount file (--mount FILE): without "
            "it nobody knows how large a field is"
        )
    return field_arcmin


_NOTHING = ("", "0", "0.0")
NUDGES = Notice(
    "nudges",
    "nudges are read as the way that the tube went. Right is clockwise, seen from above. If you "
    "noted which way the star went in the eyepiece, every correction here is the wrong way round",
)


def way_is_told_by_hand(reader: Reader) -> bool:
    """Whether a person noted which way a nudge went: a tap says it, none needs none."""
    by_hand = ~reader.filled(TAPPED)
    cells = [
        cell
        for column in NUDGE
        for cell, told in zip(reader.cells(column), by_hand, strict=True)
        if told
    ]
    return any(cell.strip() not in _NOTHING for cell in cells)


def read_nudges(reader: Reader, mount: MountFile) -> Place:
    """Read the nudges of all rows, degrees, as a place of its own kind; half ones are problems."""
    field_arcmin = mount.optics.field_of_view_arcmin

    def column_deg(column: str) -> FloatArray:
        return reader.parsed_deg(
            column,
            lambda text, comma: parse_nudge_arcmin(text, column, comma, field_arcmin) / 60.0,
        )

    right_deg, up_deg = column_deg(NUDGE[0]), column_deg(NUDGE[1])
    filled = [reader.filled(column) for column in NUDGE]
    for row in np.flatnonzero(filled[0] != filled[1]).tolist():
        given, missing = NUDGE if filled[0][row] else NUDGE[::-1]
        wanted = f"a figure, since {given} has one; 0 where the tube had not to go that way"
        reader.complain(row, missing, "nothing", wanted)
    given_rows = filled[0] & filled[1]
    return Place("nudge", right_deg, up_deg, given_rows, np.zeros_like(given_rows))


def looked_before_nudges(table: Table, commanded_deg: FloatArray, nudge: Place) -> FloatArray:
    """Azimuths and altitudes (2, n), degrees, at which the tube looked before it was nudged.

    `commanded_deg` (2, n) is where the stars stand. nan where no nudge is given. Raises InputError
    for nudges that lead to no such star.
    """
    az_deg, alt_deg = commanded_deg
    seen_deg = np.stack(before_step_deg(az_deg, alt_deg, nudge.first_deg, nudge.second_deg))
    wrong = nudge.given & np.isfinite(commanded_deg).all(axis=0) & np.isnan(seen_deg[0])
    if wrong.any():
        raise InputError(
            _too_near_the_zenith(table, row, alt_deg[row], nudge.first_deg[row])
            for row in np.flatnonzero(wrong).tolist()
        )
    return np.asarray(np.where(nudge.given, seen_deg, np.nan))


def _too_near_the_zenith(table: Table, row: int, alt_deg: float, right_deg: float) -> Problem:
    wanted = (
        f"a smaller one: a star at {alt_deg:.1f}° stands too near the zenith to be so far to the "
        "right or left of the tube; leave this line out if the figures are right"
    )
    found = f"a nudge of {right_deg * 60.0:.0f}′"
    return Problem(table.file, table.lines[row], NUDGE[0], quoted(found).strip('"'), wanted)
