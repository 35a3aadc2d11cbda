"""Logs held in a pandas frame: its columns as text cells, and a log's columns as a new frame.

Frames that are read stay untouched. pandas is imported only where a frame is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import FRAME, InputError, Problem
from pointmodel.base.wording import join, quoted
from pointmodel.reading.cells import cell_text
from pointmodel.reading.columns import NUDGE
from pointmodel.reading.rows import Table

if TYPE_CHECKING:
    import pandas as pd


_FIGURES = ("_az", "_alt", "_right", "_up")


def frame_of(source: Any) -> pd.DataFrame:
    """A frame as it is, or a dict of columns as a frame with rows that are counted from 0.

    Raises InputError for columns that are none, or of unlike lengths.
    """
    if not isinstance(source, Mapping):
        frame: pd.DataFrame = source
        return frame
    import pandas as pd

    columns = {str(name): _listed(str(name), column) for name, column in source.items()}
    lengths = {name: len(column) for name, column in columns.items()}
    if len(set(lengths.values())) > 1:
        found = join([f"{length} in {quoted(name)}" for name, length in lengths.items()][:20])
        raise InputError([Problem(FRAME, None, None, found, "as many values in every column")])
    return pd.DataFrame({name: pd.Series(c, dtype=object) for name, c in columns.items()})


def _listed(name: str, column: Any) -> list[Any]:
    if isinstance(column, (str, bytes, Mapping)) or not isinstance(column, Iterable):
        wanted = "a list or an array of values, one a line of the log"
        raise InputError([Problem(FRAME, None, name, quoted(column), wanted)])
    return list(column)


def table_of_frame(source: Any) -> Table:
    """Rows of a frame, or of a dict of columns; lines are positions from 1, not the index."""
    frame = frame_of(source)
    header = tuple(str(name).strip() for name in frame.columns)
    columns = [_column_text(frame.iloc[:, position]) for position in range(len(header))]
    rows: list[Sequence[str]] = [*zip(*columns, strict=True)]
    return Table(
        file=FRAME,
        header=header,
        rows=rows,
        lines=list(range(1, len(rows) + 1)),
        decimal_comma=True,
        header_line=None,
    )


def _column_text(column: Any) -> list[str]:
    """Cells of one column; missing ones of any kind (NaN, NaT, NA) are empty."""
    missing = column.isna().tolist()
    values = column.astype(object).tolist()
    return ["" if gone else cell_text(value) for value, gone in zip(values, missing, strict=True)]


def frame_of_columns(
    lines: NDArray[np.int64],
    columns: dict[str, Any],
    moments: dict[str, FloatArray],
    zone: tzinfo,
) -> pd.DataFrame:
    """A frame of a log's columns, moments (POSIX seconds) in `zone`; index `line`."""
    import pandas as pd

    frame = pd.DataFrame(columns, index=pd.Index(lines, name="line"))
    for position, (name, posix_s) in enumerate(moments.items(), start=1):
        seconds = pd.Series(pd.to_datetime(posix_s, unit="s", utc=True), index=frame.index)
        frame.insert(position, name, seconds.dt.round("us").dt.tz_convert(zone))
    in_arcmin = dict.fromkeys(NUDGE, "arcmin")
    places = {name: in_arcmin.get(name, "deg") for name in columns if name.endswith(_FIGURES)}
    frame.attrs["units"] = places
    return frame
