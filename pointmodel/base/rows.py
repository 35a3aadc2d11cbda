"""Rows of a result: a tuple of plain objects that can be had as a pandas frame as well.

`ResultRows` is a tuple in everything; `.frame` makes a new frame with the fields as columns. Units
stand in `frame.attrs["units"]`, by column. pandas is imported only where a frame is asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    import pandas as pd

T = TypeVar("T", covariant=True)

# a column's unit stands at the end of its name; what no ending tells has no unit
UNITS = {
    "arcmin": "arcmin",
    "arcsec": "arcsec",
    "deg": "deg",
    "min": "min",
    "minutes": "min",
    "s": "s",
    "mm": "mm",
    "turns": "turns",
    "m": "m",
}
SHARES = ("probability", "probability_bad", "chance_in_field", "kind_probability", "leverage")
IN_UNIT = (
    "value",
    "standard_error",
    "low",
    "high",
    "size",
    "difference",
    "between_night_sd",
    "between_night_sd_low",
    "between_night_sd_high",
)


class ResultRows(tuple[T, ...]):
    """A tuple of rows of one kind; `.frame` is the same as a frame."""

    _kind: type | None = None

    @classmethod
    def of(cls, kind: type, rows: Iterable[T]) -> ResultRows[T]:
        """Rows whose frame has the columns of `kind` even where there are none."""
        made = cls(rows)
        made._kind = kind
        return made

    @property
    def frame(self) -> pd.DataFrame:
        """One row each, the fields as columns, in a new frame."""
        names = [] if self._kind is None else [field.name for field in fields(self._kind)]
        return frame_of_rows([as_row(one) for one in self], names)

    def _repr_html_(self) -> str:
        """Return the frame as a notebook shows it."""
        return str(self.frame.to_html(max_rows=60))


def as_row(one: Any) -> dict[str, Any]:
    """The fields of one object, or what it says itself that its row is."""
    own = getattr(one, "as_row", None)
    row: dict[str, Any] = own() if own is not None else asdict(one)
    return row


def frame_of_rows(rows: Sequence[Mapping[str, Any]], names: Sequence[str] = ()) -> pd.DataFrame:
    """Return a frame of rows, with units; `names` are its columns where there is no row.

    Columns of figures hold floats, nan where a figure is missing.
    """
    import pandas as pd

    frame = pd.DataFrame([dict(row) for row in rows], columns=None if rows else list(names))
    for name in frame.columns:
        if unit_of(name) is not None and frame[name].dtype == object:
            frame[name] = frame[name].astype(float)
    return with_units(frame)


def with_units(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame itself, with the units of its columns in `attrs`.

    Where a column `unit` gives each row its own, the columns in it say so.
    """
    units = {str(name): unit_of(str(name)) for name in frame.columns}
    if "unit" in frame.columns:
        units |= {name: "see column unit" for name in frame.columns if name in IN_UNIT}
    frame.attrs["units"] = {name: unit for name, unit in units.items() if unit is not None}
    return frame


def unit_of(name: str) -> str | None:
    """The unit that a column's name tells; "1" for probabilities, None where it tells none."""
    if name in SHARES:
        return "1"
    return UNITS.get(name.rpartition("_")[2]) if "_" in name or name == "minutes" else None
