"""The bundled tables: stars, Messier objects, constellations.

What each table holds, its epoch, source and licence stand in its own first lines; how the tables
were made stands in `tables/SOURCES.md`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray

_SUPERSCRIPTS = str.maketrans("123456789", "¹²³⁴⁵⁶⁷⁸⁹")
_COLOURS = (  # B−V below which a star looks so; common usage, after Ballesteros 2012 and charts
    (-0.05, "blue-white"),
    (0.30, "white"),
    (0.60, "yellow-white"),
    (0.95, "yellow"),
    (1.45, "orange"),
)


@dataclass(frozen=True, eq=False)
class StarTable:
    """Stars, brightest first, shapes (n,): ICRS places of epoch J2000, degrees.

    Motions in milliarcseconds a year, cos(declination) in that of right ascension; parallax in
    milliarcseconds. `colour_index` is B−V, nan where unknown. Texts are empty where there is none;
    `label` is what a person reads: proper name, else letter, Flamsteed's or Hipparcos' number.
    """

    hip: NDArray[np.int64]
    name: tuple[str, ...]
    bayer: tuple[str, ...]
    flamsteed: tuple[str, ...]
    constellation: tuple[str, ...]
    ra_deg: FloatArray
    dec_deg: FloatArray
    pm_ra_mas_yr: FloatArray
    pm_dec_mas_yr: FloatArray
    parallax_mas: FloatArray
    magnitude: FloatArray
    colour_index: FloatArray
    other_names: tuple[tuple[str, ...], ...]
    label: tuple[str, ...]

    def __len__(self) -> int:
        """Number of stars."""
        return len(self.hip)


class MessierObject(NamedTuple):
    """One of the 110: ICRS place, degrees, good to about an arcminute; visual magnitude."""

    number: int
    designation: str
    names: tuple[str, ...]
    type: str
    ra_deg: float
    dec_deg: float
    magnitude: float


class Constellation(NamedTuple):
    """Abbreviation, Latin name and its genitive."""

    abbreviation: str
    name: str
    genitive: str


def _rows(file: str) -> list[list[str]]:
    """Rows of a bundled table, without its comments and header."""
    table = resources.files("pointmodel.sky").joinpath("tables", file)
    lines = table.read_text(encoding="utf-8").splitlines()
    return list(csv.reader(line for line in lines if not line.startswith("#")))[1:]


@cache
def star_table() -> StarTable:
    """The bundled stars. The arrays are shared and read-only."""
    hip, name, bayer, flamsteed, constellation, *figures, others = zip(
        *_rows("stars.csv"), strict=True
    )
    numbers = np.array([[float(cell or "nan") for cell in column] for column in figures])
    hips = np.array(hip, dtype=np.int64)
    for held in (numbers, hips):
        held.setflags(write=False)
    ra_deg, dec_deg, pm_ra_mas_yr, pm_dec_mas_yr, parallax_mas, magnitude, colour_index = numbers
    return StarTable(
        hip=hips,
        name=name,
        bayer=bayer,
        flamsteed=flamsteed,
        constellation=constellation,
        ra_deg=ra_deg,
        dec_deg=dec_deg,
        pm_ra_mas_yr=pm_ra_mas_yr,
        pm_dec_mas_yr=pm_dec_mas_yr,
        parallax_mas=parallax_mas,
        magnitude=magnitude,
        colour_index=colour_index,
        other_names=tuple(tuple(cell.split("|")) if cell else () for cell in others),
        label=tuple(map(_label, hip, name, bayer, flamsteed, constellation)),
    )


def _label(hip: str, name: str, bayer: str, flamsteed: str, constellation: str) -> str:
    if name:
        return name
    if bayer or flamsteed:
        return f"{bayer.translate(_SUPERSCRIPTS) or flamsteed} {constellation}"
    return f"HIP {hip}"


@cache
def messier_objects() -> tuple[MessierObject, ...]:
    """The 110 Messier objects, in order."""
    return tuple(
        MessierObject(
            int(number),
            designation,
            tuple(names.split("|")) if names else (),
            kind,
            *map(float, figures),
        )
        for number, designation, names, kind, *figures in _rows("messier.csv")
    )


@cache
def constellations() -> tuple[Constellation, ...]:
    """The 88 constellations, in the order of their Latin names."""
    return tuple(Constellation(*row) for row in _rows("constellations.csv"))


def colour_word(colour_index: float) -> str:
    """How a bright star of this B−V looks; an empty word where it is unknown (nan)."""
    if not np.isfinite(colour_index):
        return ""
    return next((word for limit, word in _COLOURS if colour_index < limit), "red")
