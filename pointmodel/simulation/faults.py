"""Faults of single lines in a simulated night: the wrong star centred, a slip of the pen.

A slip of the pen is made on the figures as a person reads them off: whole degrees, minutes, sign.
Each kind lists every wrong entry it can make of a line; a slip is drawn among those a log may hold
and that lead at least half a degree astray.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.simulation.mount import beside, direction, place_deg, separation_arcmin

LEAST_SLIP_ARCMIN = 30.0
WRONG_STAR_DEG = (0.7, 8.0)
HIGHEST_WRONG_STAR_DEG = 85.0

Entry = tuple[float, float]


@dataclass(frozen=True)
class Fault:
    """One fault of a simulated night; `line` is None for one that is in every line.

    `size` is in `unit`: for a wrong star its distance, for a slip of the pen how far it leads
    astray on the sky. `detail` says which slip, term or column.
    """

    kind: str
    line: int | None
    size: float
    unit: str
    detail: str


def _parts(value_deg: float) -> tuple[float, int, float]:
    """Sign, whole degrees and minutes of an angle, proof against 59.9999999′."""
    seconds = round(abs(value_deg) * 3600.0, 6)
    degrees = int(seconds // 3600.0)
    return (-1.0 if value_deg < 0 else 1.0), degrees, (seconds - 3600.0 * degrees) / 60.0


def _swapped_neighbours(digits: str) -> Iterator[int]:
    for k in range(len(digits) - 1):
        yield int(digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :])


def _one_degree(az: float, alt: float) -> Iterator[Entry]:
    yield from ((az + 1, alt), (az - 1, alt), (az, alt + 1), (az, alt - 1))


def _ten_degrees(az: float, alt: float) -> Iterator[Entry]:
    yield from ((az + 10, alt), (az - 10, alt), (az, alt + 10), (az, alt - 10))


def _altitude_sign(az: float, alt: float) -> Iterator[Entry]:
    yield az, -alt


def _degree_digits(az: float, alt: float) -> Iterator[Entry]:
    sign, degrees, minutes = _parts(alt)
    for swapped in _swapped_neighbours(f"{degrees:02d}"):
        yield az, sign * (swapped + minutes / 60.0)
    _, degrees, minutes = _parts(az)
    for digits in {f"{degrees:02d}", f"{degrees:03d}"}:
        for swapped in _swapped_neighbours(digits):
            yield swapped + minutes / 60.0, alt


def _columns_swapped(az: float, alt: float) -> Iterator[Entry]:
    yield alt, az


def _minute_digits(az: float, alt: float) -> Iterator[Entry]:
    for column, value in enumerate((az, alt)):
        sign, degrees, minutes = _parts(value)
        whole = int(minutes)
        (swapped,) = _swapped_neighbours(f"{whole:02d}")
        if swapped < 60:
            other = sign * (degrees + (swapped + minutes - whole) / 60.0)
            yield (other, alt) if column == 0 else (az, other)


def _one_figure_twice(az: float, alt: float) -> Iterator[Entry]:
    yield from ((alt, alt), (az, az))


PEN_SLIPS: dict[str, tuple[float, Callable[[float, float], Iterator[Entry]]]] = {
    "one_degree": (0.25, _one_degree),
    "ten_degrees": (0.25, _ten_degrees),
    "altitude_sign": (0.15, _altitude_sign),
    "degree_digits": (0.20, _degree_digits),
    "columns_swapped": (0.10, _columns_swapped),
    "minute_digits": (0.05, _minute_digits),
    "one_figure_twice": (0.05, _one_figure_twice),
}


def astray_arcmin(one: Entry, other: Entry) -> float:
    """How far two entries (azimuth, altitude in degrees) lie apart on the sky."""
    az, alt = np.array((one, other)).T
    north, east, up = direction(az, alt)
    return float(separation_arcmin((north[0], east[0], up[0]), (north[1], east[1], up[1])))


def possible_slips(kind: str, az_deg: float, alt_deg: float) -> list[Entry]:
    """All wrong entries that one kind of slip can make of a line's figures and a log may hold."""
    legal = [
        (az, alt)
        for az, alt in sorted(set(PEN_SLIPS[kind][1](az_deg, alt_deg)))
        if 0.0 <= az < 360.0 and -90.0 <= alt <= 90.0
    ]
    az, alt = np.array(legal).reshape(-1, 2).T
    right = direction(np.array([az_deg]), np.array([alt_deg]))
    astray = separation_arcmin(direction(az, alt), right) > LEAST_SLIP_ARCMIN
    return [entry for entry, far in zip(legal, astray, strict=True) if far]


def draw_slip(
    rng: np.random.Generator, az_deg: float, alt_deg: float, kind: str | None
) -> tuple[str, Entry] | None:
    """Draw the kind (unless given) and one wrong entry; None where this line allows none."""
    kinds = list(PEN_SLIPS) if kind is None else [kind]
    possible = {name: possible_slips(name, az_deg, alt_deg) for name in kinds}
    kinds = [name for name in kinds if possible[name]]
    if not kinds:
        return None
    weights = np.array([PEN_SLIPS[name][0] for name in kinds])
    drawn = kinds[int(rng.choice(len(kinds), p=weights / weights.sum()))]
    return drawn, possible[drawn][int(rng.integers(len(possible[drawn])))]


def draw_wrong_star(
    rng: np.random.Generator, az_deg: float, alt_deg: float, lowest_deg: float
) -> Entry:
    """Place of another star some degrees off, not lower than `lowest_deg` nor near the zenith."""
    distance = np.tan(np.radians(rng.uniform(*WRONG_STAR_DEG)))
    first = rng.uniform(0.0, 2.0 * np.pi)
    turns = first + np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    az, alt = np.full(24, az_deg), np.full(24, alt_deg)
    sight = beside(az, alt, distance * np.cos(turns), distance * np.sin(turns))
    around_az, around_alt = place_deg(sight)
    good = (around_alt >= lowest_deg) & (around_alt <= HIGHEST_WRONG_STAR_DEG)
    pick = int(np.argmax(good))
    return float(around_az[pick]), float(around_alt[pick])


def rounded(values_deg: FloatArray, step_arcsec: float) -> FloatArray:
    """Figures as a readout of this step shows them; step 0 leaves them alone."""
    if step_arcsec == 0.0:
        return np.array(values_deg)
    return np.asarray(np.round(values_deg * 3600.0 / step_arcsec) * (step_arcsec / 3600.0))
