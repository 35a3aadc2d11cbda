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
# the most that minutes written as decimals lead astray is 24′
LEAST_AS_DECIMALS_ARCMIN = 10.0
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


def _five_degrees(az: float, alt: float) -> Iterator[Entry]:
    yield from ((az + 5, alt), (az - 5, alt), (az, alt + 5), (az, alt - 5))


def _hundred_degrees(az: float, alt: float) -> Iterator[Entry]:
    yield from ((az + 100, alt), (az - 100, alt))


def _other_digits(value: float, length: int) -> Iterator[float]:
    """Every figure with one digit of the degrees, or the tens of minutes, written as another."""
    sign, degrees, minutes = _parts(value)
    digits = f"{degrees:0{length}d}"
    for k in range(length):
        for other in "0123456789".replace(digits[k], ""):
            yield sign * (int(digits[:k] + other + digits[k + 1 :]) + minutes / 60.0)
    for tens in range(6):
        if tens != int(minutes // 10.0):
            yield sign * (degrees + (10 * tens + minutes % 10.0) / 60.0)


def _one_digit(az: float, alt: float) -> Iterator[Entry]:
    """One digit wrong; what is whole degrees off by 1, 10 or 100 has kinds of its own."""
    of_their_own = (1.0, 5.0, 10.0, 100.0)
    for other in _other_digits(az, 3):
        if round(abs(other - az), 6) not in of_their_own:
            yield other, alt
    for other in _other_digits(alt, 2):
        if round(abs(other - alt), 6) not in of_their_own:
            yield az, other


def _whole(value: float) -> float:
    sign, degrees, _ = _parts(value)
    return sign * degrees


def _minutes_dropped(az: float, alt: float) -> Iterator[Entry]:
    yield from ((_whole(az), alt), (az, _whole(alt)), (_whole(az), _whole(alt)))


def _as_decimals(value: float) -> float:
    sign, degrees, minutes = _parts(value)
    return sign * (degrees + minutes / 100.0)


def _minutes_as_decimals(az: float, alt: float) -> Iterator[Entry]:
    other_az, other_alt = _as_decimals(az), _as_decimals(alt)
    yield from ((other_az, alt), (az, other_alt), (other_az, other_alt))


def _line_copied(az: float, alt: float) -> Iterator[Entry]:
    """The figures of the line before: `possible_slips` has them."""
    yield from ()


# A choice, after what people write: how often each kind is the one, and every wrong entry it makes.
# The detector has a list and shares of its own.
PEN_SLIPS: dict[str, tuple[float, Callable[[float, float], Iterator[Entry]]]] = {
    "one_degree": (0.15, _one_degree),
    "ten_degrees": (0.12, _ten_degrees),
    "five_degrees": (0.05, _five_degrees),
    "hundred_degrees": (0.05, _hundred_degrees),
    "one_digit": (0.15, _one_digit),
    "degree_digits": (0.12, _degree_digits),
    "minute_digits": (0.04, _minute_digits),
    "altitude_sign": (0.07, _altitude_sign),
    "columns_swapped": (0.07, _columns_swapped),
    "one_figure_twice": (0.03, _one_figure_twice),
    "line_copied": (0.07, _line_copied),
    "minutes_dropped": (0.05, _minutes_dropped),
    "minutes_as_decimals": (0.03, _minutes_as_decimals),
}


def astray_arcmin(one: Entry, other: Entry) -> float:
    """How far two entries (azimuth, altitude in degrees) lie apart on the sky."""
    az, alt = np.array((one, other)).T
    north, east, up = direction(az, alt)
    return float(separation_arcmin((north[0], east[0], up[0]), (north[1], east[1], up[1])))


def possible_slips(
    kind: str, az_deg: float, alt_deg: float, before: Entry | None = None
) -> list[Entry]:
    """All wrong entries that one kind of slip can make of a line's figures and a log may hold.

    `before` are the figures of the line before, None on the first.
    """
    entries = set(PEN_SLIPS[kind][1](az_deg, alt_deg))
    if kind == "line_copied" and before is not None:
        entries.add(before)
    legal = [(az, alt) for az, alt in sorted(entries) if 0.0 <= az < 360.0 and -90.0 <= alt <= 90.0]
    az, alt = np.array(legal).reshape(-1, 2).T
    right = direction(np.array([az_deg]), np.array([alt_deg]))
    least = LEAST_AS_DECIMALS_ARCMIN if kind == "minutes_as_decimals" else LEAST_SLIP_ARCMIN
    astray = separation_arcmin(direction(az, alt), right) > least
    return [entry for entry, far in zip(legal, astray, strict=True) if far]


def draw_slip(
    rng: np.random.Generator,
    az_deg: float,
    alt_deg: float,
    kind: str | None,
    before: Entry | None = None,
) -> tuple[str, Entry] | None:
    """Draw the kind (unless given) and one wrong entry; None where this line allows none.

    `before` are the figures of the line before, None on the first.
    """
    kinds = list(PEN_SLIPS) if kind is None else [kind]
    possible = {name: possible_slips(name, az_deg, alt_deg, before) for name in kinds}
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
