"""Things in a readable log that are worth asking about; nothing here changes a figure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import Notice
from pointmodel.base.wording import line_list
from pointmodel.reading.columns import LineTimes

# Three lines, one of their six figures whole. A fraction is below .60 by chance 6 times in 10; that
# five are and the centred ones beside them too happened in 2 of 400 simulated logs of three lines.
_ENOUGH_FIGURES = 5
_ENOUGH_FRACTIONS = 4  # half and quarter degrees are no sign of minutes
_UNDER_GROUND_DEG = -2.0


def minutes_as_decimals(commanded_deg: FloatArray, centred_deg: FloatArray) -> list[Notice]:
    """Ask, if no fraction of a degree reaches .60, whether minutes were typed behind the point.

    `commanded_deg` and `centred_deg` are all figures typed as decimals, any shape, nan where none.
    The commanded ones alone are counted: a centred figure close to its commanded one is no
    independent witness.
    """
    fractions = [_fractions(figures) for figures in (commanded_deg, centred_deg)]
    if len(fractions[0]) < _ENOUGH_FIGURES or len(np.unique(fractions[0])) < _ENOUGH_FRACTIONS:
        return []
    if max(part.max(initial=0.0) for part in fractions) >= 0.6:
        return []
    text = (
        "no fraction of a degree in this log reaches .60. Were minutes typed as decimals "
        "(45.30 for 45°30′)? If so, write 45 30 or 45:30"
    )
    return [Notice("minutes_as_decimals", text)]


def _fractions(figures_deg: FloatArray) -> FloatArray:
    """Fractions of the figures that have one."""
    figures = np.abs(figures_deg[np.isfinite(figures_deg)])
    fractions = np.asarray(np.round(np.mod(figures, 1.0), 6), dtype=float)
    return fractions[(fractions > 0.0) & (fractions < 1.0)]


def same_pair_twice(figures_deg: FloatArray, lines: NDArray[np.int64]) -> list[Notice]:
    """Name lines whose figures, (n, 4) in degrees, are all the same; incomplete pairs are not."""
    lines_of: dict[tuple[float, ...], list[int]] = defaultdict(list)
    complete = np.isfinite(figures_deg).all(axis=1)
    for figures, line in zip(figures_deg[complete].tolist(), lines[complete].tolist(), strict=True):
        lines_of[tuple(figures)].append(line)
    repeated = [group for group in lines_of.values() if len(group) > 1]
    if not repeated:
        return []
    groups = "; ".join(line_list(group) for group in repeated[:3])
    more = f"; and {len(repeated) - 3} more such groups" if len(repeated) > 3 else ""
    text = f"the same four figures stand on {groups}{more}. All are kept. Was one copied?"
    return [Notice("duplicate_pair", text)]


def time_notices(
    time: LineTimes, commanded_time: LineTimes, lines: NDArray[np.int64]
) -> list[Notice]:
    """Remarks on times: of the next day, without zone, at a change of clocks, going backwards."""
    notices = []
    if next_day := _merged(time.lines_next_day, commanded_time.lines_next_day):
        text = (
            f"{line_list(next_day)}: the date is taken as that of the evening, so these times are "
            "of the day after"
        )
        notices.append(Notice("next_day", text))
    if without := _merged(time.lines_without_zone, commanded_time.lines_without_zone):
        text = (
            f"times without a zone ({line_list(without)}), and the mount file names none. So only "
            "their differences count. Write time_zone or utc_offset under [site]"
        )
        notices.append(Notice("time_without_zone", text))
    if in_doubt := _merged(time.lines_in_doubt, commanded_time.lines_in_doubt):
        text = (
            f"{line_list(in_doubt)}: the clocks changed, and this local time came twice "
            "or not at all. Write the offset from UTC behind it"
        )
        notices.append(Notice("clock_change", text))
    if backwards := _lines_going_back(time.posix_s, lines):
        notices.append(Notice("time_backwards", f"time goes backwards at {line_list(backwards)}"))
    return notices


def below_horizon(
    alt_deg: FloatArray, equatorial: NDArray[np.bool_], lines: NDArray[np.int64]
) -> list[Notice]:
    """Ask about time and site where they put places of right ascension under the ground, (n,)."""
    under = equatorial & (alt_deg < _UNDER_GROUND_DEG)
    if not under.any():
        return []
    text = (
        f"at its time the place commanded on {line_list(lines[under].tolist())} stood below the "
        "horizon. Are date, zone and longitude right (east is positive)?"
    )
    return [Notice("below_horizon", text)]


def _merged(first: list[int], second: list[int]) -> list[int]:
    return sorted({*first, *second})


def _lines_going_back(time_s: FloatArray, lines: NDArray[np.int64]) -> Sequence[int]:
    timed = np.isfinite(time_s)
    back: list[int] = lines[timed][1:][np.diff(time_s[timed]) < 0.0].tolist()
    return back
