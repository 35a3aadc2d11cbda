"""Slips of the pen: each with its share among slips, how it is undone, and what is said of it.

Those that lost what was meant, so that the figures alone do not bring it back, stand in
`lostfigures.py`. To add a slip: one `PenSlip` here; the simulator draws its own from a list of its
own (`simulation/faults.py`). A slip is undone on the figures of either side of a line, the readings
and the commanded place, and scored by the place that it then leads to.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.registry import Registry

Figures = tuple[FloatArray, FloatArray]
SIDES = ("centred", "commanded")
_SAME_DEG = 1e-6  # figures are nowhere written more finely


@dataclass(frozen=True, kw_only=True)
class PenSlip:
    """One slip: `undo` turns azimuths and altitudes (m,), degrees, as written into those meant.

    `share` is its prior probability among slips, of both sides together: choices, after what people
    write. `hint` is how a person would name it, with `{side}` for the column; `hint_commanded`
    where the words differ on the commanded side. `either`: made the other way on the other side it
    would look the same.
    """

    name: str
    share: float
    hint: str
    undo: Callable[[FloatArray, FloatArray], Figures]
    hint_commanded: str = ""
    either: bool = False

    def hint_of(self, side: str) -> str:
        """Return what is said of the slip where it was made in the figures of this side."""
        hint = self.hint_commanded if side == "commanded" and self.hint_commanded else self.hint
        return hint.format(side=side)


class SlipCase(NamedTuple):
    """A slip in the figures of one side."""

    slip: PenSlip
    side: str


@dataclass(frozen=True)
class UndoneSlips:
    """Figures with each slip undone: (m, k) arrays in degrees, and where a slip was possible."""

    star_az_deg: FloatArray
    star_alt_deg: FloatArray
    reading_az_deg: FloatArray
    reading_alt_deg: FloatArray
    possible: BoolArray


def _whole_degrees(axis: str, size_deg: float, sign: float, share: float) -> PenSlip:
    """Return the slip of a whole number of degrees: `sign` is what undoing it adds."""

    def undo(az: FloatArray, alt: FloatArray) -> Figures:
        step = sign * size_deg
        return (az + step, alt) if axis == "azimuth" else (az, alt + step)

    def hint(way: float) -> str:
        word, other = ("low", "high") if way > 0 else ("high", "low")
        size = f"{size_deg:.0f}°"
        return f"{axis} reads {size} too {word} (or the commanded {axis} {size} too {other})"

    # seen from one star alone a figure too low on one side looks like one too high on the other
    return PenSlip(
        name=f"{axis}_{'low' if sign > 0 else 'high'}_by_{size_deg:.0f}_degrees",
        share=share,
        hint=hint(sign),
        hint_commanded=hint(-sign),
        undo=undo,
        either=True,
    )


def _swap_digits(degrees: FloatArray, high: int) -> FloatArray:
    """Swap the digits of 10**high and 10**(high-1) in the whole degrees, the sign kept."""
    size = np.abs(degrees)
    whole = np.floor(size + 1e-9)
    upper = np.floor(whole / 10**high) % 10
    lower = np.floor(whole / 10 ** (high - 1)) % 10
    change = (lower - upper) * (10**high - 10 ** (high - 1))
    return np.asarray(np.sign(degrees) * (size + change))


def _swap_minutes(degrees: FloatArray) -> FloatArray:
    """Swap the two digits of the whole minutes, where that leaves minutes below sixty."""
    size = np.abs(degrees)
    whole = np.floor(size + 1e-9)
    minutes = (size - whole) * 60.0
    full = np.floor(minutes + 1e-6)
    swapped = (full % 10) * 10 + np.floor(full / 10)
    changed = np.where(swapped < 60, size + (swapped - full) / 60.0, size)
    return np.asarray(np.sign(degrees) * changed)


def _minutes_from_decimals(degrees: FloatArray) -> FloatArray:
    """Read the two figures after the point as minutes, where there are so many minutes."""
    size = np.abs(degrees)
    whole = np.floor(size + 1e-9)
    minutes = (size - whole) * 100.0
    meant = np.where(minutes < 60.0, whole + minutes / 60.0, size)
    return np.asarray(np.sign(degrees) * meant)


# choices: a wheel or a digit one off is commoner than a five or a hundred misread
_SHARES_OF_WHOLE_DEGREES = (
    (1.0, ("azimuth", "altitude"), 0.035),
    (5.0, ("azimuth", "altitude"), 0.015),
    (10.0, ("azimuth", "altitude"), 0.035),
    (100.0, ("azimuth",), 0.02),
)

PEN_SLIPS: Registry[PenSlip] = Registry((
    *(
        _whole_degrees(axis, size_deg, sign, share)
        for size_deg, axes, share in _SHARES_OF_WHOLE_DEGREES
        for sign in (1.0, -1.0)
        for axis in axes
    ),
    PenSlip(
        name="altitude_sign",
        share=0.10,
        hint="the sign of the {side} altitude is wrong",
        undo=lambda az, alt: (az, -alt),
    ),
    PenSlip(
        name="azimuth_tens_and_ones",
        share=0.04,
        hint="two digits of the {side} azimuth are swapped",
        undo=lambda az, alt: (_swap_digits(az, 1), alt),
    ),
    PenSlip(
        name="azimuth_hundreds_and_tens",
        share=0.04,
        hint="two digits of the {side} azimuth are swapped",
        undo=lambda az, alt: (_swap_digits(az, 2), alt),
    ),
    PenSlip(
        name="altitude_digits",
        share=0.04,
        hint="two digits of the {side} altitude are swapped",
        undo=lambda az, alt: (az, _swap_digits(alt, 1)),
    ),
    PenSlip(
        name="columns_swapped",
        share=0.08,
        hint="{side} azimuth and altitude are swapped",
        undo=lambda az, alt: (alt, az),
    ),
    PenSlip(
        name="azimuth_minutes",
        share=0.02,
        hint="the minutes of the {side} azimuth have their digits swapped",
        undo=lambda az, alt: (_swap_minutes(az), alt),
    ),
    PenSlip(
        name="altitude_minutes",
        share=0.02,
        hint="the minutes of the {side} altitude have their digits swapped",
        undo=lambda az, alt: (az, _swap_minutes(alt)),
    ),
    PenSlip(
        name="azimuth_minutes_as_decimals",
        share=0.015,
        hint="the minutes of the {side} azimuth are written as decimals",
        undo=lambda az, alt: (_minutes_from_decimals(az), alt),
    ),
    PenSlip(
        name="altitude_minutes_as_decimals",
        share=0.015,
        hint="the minutes of the {side} altitude are written as decimals",
        undo=lambda az, alt: (az, _minutes_from_decimals(alt)),
    ),
    PenSlip(
        name="minutes_as_decimals",
        share=0.03,
        hint="the minutes of the {side} azimuth and altitude are written as decimals",
        undo=lambda az, alt: (_minutes_from_decimals(az), _minutes_from_decimals(alt)),
    ),
))  # fmt: skip


def cases() -> tuple[SlipCase, ...]:
    """Return every slip on either side, in the order in which they are scored."""
    return _cases(tuple(PEN_SLIPS.values()))


@lru_cache(maxsize=4)  # asked for at every step of a search; others are registered in tests alone
def _cases(slips: tuple[PenSlip, ...]) -> tuple[SlipCase, ...]:
    return tuple(SlipCase(slip, side) for side in SIDES for slip in slips)


def log_shares() -> FloatArray:
    """Return ln of the prior share of every case (k,)."""
    return np.log([0.5 * slip.share for slip in PEN_SLIPS.values()] * len(SIDES))


def slip_hint(case: int) -> str:
    """Return what is said of the case with this place among `cases`."""
    slip, side = cases()[case]
    return slip.hint_of(side)


def undo_slips(
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
) -> UndoneSlips:
    """Return the figures of m pairs (m,) with every one of the k `cases` undone, (m, k)."""
    slips = PEN_SLIPS.values()
    written = np.array([[star_az_deg, star_alt_deg], [reading_az_deg, reading_alt_deg]])
    star, reading = (np.array([slip.undo(*side) for slip in slips]) for side in written)
    # (side, case, axis, pair): what was written, but for the side that is undone
    figures = np.repeat(written[:, None], len(cases()), axis=1)
    figures[1, : len(slips)], figures[0, len(slips) :] = reading, star
    differs = (np.abs(figures - written[:, None]) > _SAME_DEG).any(axis=(0, 2))
    possible = differs & (np.abs(figures[:, :, 1]) <= 90.0).all(axis=0)
    (star_az, star_alt), (reading_az, reading_alt) = np.transpose(figures, (0, 2, 3, 1))
    return UndoneSlips(
        star_az_deg=star_az,
        star_alt_deg=star_alt,
        reading_az_deg=reading_az,
        reading_alt_deg=reading_alt,
        possible=possible.T,
    )
