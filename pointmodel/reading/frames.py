"""Logs held in a pandas frame: its columns as text cells, and a log's columns as a new frame.

Frames that are read stay untouched. pandas is imported only where a frame is made.
"""

from __future__ import annotations

from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.reading.cells import cell_text
from pointmodel.reading.rows import Table, fit_to_header

if TYPE_CHECKING:
    import pandas as pd


def table_of_frame(frame: Any) -> Table:
    """Rows of a frame; their lines are positions counted from 1, not the index."""
    header = [str(name) for name in frame.columns]
    columns = [_column_text(frame.iloc[:, position]) for position in range(len(header))]
    rows = [header, *zip(*columns, strict=True)]
    return fit_to_header(
        "<frame>", rows, lines=list(range(len(rows))), decimal_comma=True, problems=[], notices=[]
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
    return frame
