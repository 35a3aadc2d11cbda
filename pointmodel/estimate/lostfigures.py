"""Slips of the pen that lost what was meant: the other lines say about what it was.

Read `penslips.py` first. One digit stands for another, minutes were left out, the line before was
copied, one figure stands in both columns: no undoing brings the figure back. But what is written
is hardly ever so by chance, and where only part is lost the rest still fits.

Densities are on the sky, per square arcminute, as those of `badpairs.py`: a figure that is certain
once the slip is assumed has density one over the step to which figures are written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.normal import log_normal, normal_distribution
from pointmodel.base.registry import Registry
from pointmodel.estimate.penslips import Figures

NOTHING = -745.0  # ln of the smallest number there is
_SAME_DEG = 1e-6  # figures are nowhere written more finely
# places of digits, degrees, and how many values a digit has there: whole degrees, tens of minutes,
# tenths of a degree
_PLACES = ((100.0, 10), (10.0, 10), (1.0, 10), (1.0 / 6.0, 6), (0.1, 10))


def _every_digit(places: tuple[tuple[float, int], ...]) -> FloatArray:
    """Return (3, c): place, how many values a digit has there, and each of them in turn."""
    return np.array([(place, count, value) for place, count in places for value in range(count)]).T


_AZIMUTH_DIGITS, _ALTITUDE_DIGITS = _every_digit(_PLACES), _every_digit(_PLACES[1:])


@dataclass(frozen=True, eq=False)
class Written:
    """Figures of m lines on one side, degrees (m,), and what may have been meant.

    `before_*` are those of the line before (NaN before the first), `expected_*` those that the
    good pairs lead to, sure to `sd_arcmin` an axis on the sky. `other_copied` (m,): the other side
    too is that of the line before. `step_arcmin` is the step to which figures are written.
    """

    az_deg: FloatArray
    alt_deg: FloatArray
    before_az_deg: FloatArray
    before_alt_deg: FloatArray
    expected_az_deg: FloatArray
    expected_alt_deg: FloatArray
    other_copied: BoolArray
    sd_arcmin: float
    step_arcmin: float

    @cached_property
    def level(self) -> FloatArray:
        """Cosine of the altitude expected: what a degree of azimuth is on the sky."""
        return np.maximum(np.cos(np.radians(self.expected_alt_deg)), 1e-3)

    def log_azimuth(self, az_deg: FloatArray) -> FloatArray:
        """Return ln density (m, ...) of azimuths, if these were meant."""
        shape = (-1,) + (1,) * (az_deg.ndim - 1)
        off = wrap_deg(az_deg - self.expected_az_deg.reshape(shape)) * self.level.reshape(shape)
        return log_normal(60.0 * off, 0.0, self.sd_arcmin)

    def log_altitude(self, alt_deg: FloatArray) -> FloatArray:
        """Return ln density (m, ...) of altitudes, if these were meant."""
        shape = (-1,) + (1,) * (alt_deg.ndim - 1)
        off = alt_deg - self.expected_alt_deg.reshape(shape)
        return log_normal(60.0 * off, 0.0, self.sd_arcmin)

    @cached_property
    def log_azimuth_there(self) -> FloatArray:
        """ln density (m,) of the azimuths that stand there."""
        return self.log_azimuth(self.az_deg)

    @cached_property
    def log_altitude_there(self) -> FloatArray:
        """ln density (m,) of the altitudes that stand there."""
        return self.log_altitude(self.alt_deg)

    @cached_property
    def log_certain_azimuth(self) -> FloatArray:
        """ln density (m,) of an azimuth that the slip leaves no choice of."""
        return np.asarray(-np.log(self.step_arcmin * self.level))

    @cached_property
    def log_certain_altitude(self) -> FloatArray:
        """ln density (m,) of an altitude that the slip leaves no choice of."""
        return np.full(self.alt_deg.size, -np.log(self.step_arcmin))

    @cached_property
    def log_azimuth_began(self) -> FloatArray:
        """ln density (m,) of azimuths that lack minutes; next to nothing where they have some."""
        whole = _is_whole(self.az_deg, self)
        if not whole.any():
            return np.full(whole.shape, NOTHING)
        off = wrap_deg(self.expected_az_deg - self.az_deg)
        sd = self.sd_arcmin / 60.0 / self.level
        began = _log_within_the_degree(self.az_deg, off, sd) + self.log_certain_azimuth
        return np.where(whole, began, NOTHING)

    @cached_property
    def log_altitude_began(self) -> FloatArray:
        """ln density (m,) of altitudes without their minutes; as of azimuths."""
        whole = _is_whole(self.alt_deg, self)
        if not whole.any():
            return np.full(whole.shape, NOTHING)
        off = self.expected_alt_deg - self.alt_deg
        began = _log_within_the_degree(self.alt_deg, off, self.sd_arcmin / 60.0)
        return np.where(whole, began + self.log_certain_altitude, NOTHING)


@dataclass(frozen=True, kw_only=True)
class LostSlip:
    """One slip: its ln density (m,) where it can have been made, and what was meant.

    `share` is its prior probability among slips, of both sides together: a choice. `hint` names it,
    with `{side}` for the column. `meant` gives the figures (az, alt), as near as can be told.
    """

    name: str
    share: float
    hint: str
    log_density: Callable[[Written], FloatArray]
    meant: Callable[[Written], Figures]


def _digits_replaced(degrees: FloatArray, digits: FloatArray) -> FloatArray:
    """Return figures (m, c) with each digit replaced by each value, NaN where that is its own."""
    place, count, value = digits
    size = np.abs(degrees)[:, None] + 1e-9
    change = value - np.floor(size / place) % count
    replaced = np.where(change == 0.0, np.nan, size - 1e-9 + change * place)
    return np.asarray(np.where(degrees < 0.0, -1.0, 1.0)[:, None] * replaced)


def _over_digits(log_p: FloatArray) -> FloatArray:
    """Return ln of the mean density (m,) over the digits (m, c) that could have been meant."""
    possible = np.isfinite(log_p)
    top = np.where(possible, log_p, NOTHING)
    total = np.logaddexp.reduce(top, axis=1) - np.log(possible.sum(axis=1))
    return np.asarray(np.maximum(total, NOTHING))


def _likeliest(figures: FloatArray, log_p: FloatArray) -> FloatArray:
    best = np.where(np.isfinite(log_p), log_p, -np.inf).argmax(axis=1)
    return np.asarray(np.take_along_axis(figures, best[:, None], axis=1)[:, 0])


def _other_azimuths(written: Written) -> FloatArray:
    figures = _digits_replaced(written.az_deg, _AZIMUTH_DIGITS)
    return np.where((figures >= 0.0) & (figures < 360.0), figures, np.nan)


def _other_altitudes(written: Written) -> FloatArray:
    figures = _digits_replaced(written.alt_deg, _ALTITUDE_DIGITS)
    return np.where(np.abs(figures) <= 90.0, figures, np.nan)


def _azimuth_digit(written: Written) -> FloatArray:
    log_p = written.log_azimuth(_other_azimuths(written))
    return _over_digits(log_p) + written.log_altitude_there


def _altitude_digit(written: Written) -> FloatArray:
    log_p = written.log_altitude(_other_altitudes(written))
    return _over_digits(log_p) + written.log_azimuth_there


def _azimuth_of_digit(written: Written) -> Figures:
    figures = _other_azimuths(written)
    return _likeliest(figures, written.log_azimuth(figures)), written.alt_deg


def _altitude_of_digit(written: Written) -> Figures:
    figures = _other_altitudes(written)
    return written.az_deg, _likeliest(figures, written.log_altitude(figures))


def _is_whole(degrees: FloatArray, written: Written) -> BoolArray:
    """Whether figures are whole degrees that would have had minutes."""
    off = np.abs(degrees - np.round(degrees))
    return np.asarray((off < _SAME_DEG) & (written.step_arcmin < 60.0))


def _log_within_the_degree(
    degrees: FloatArray, off_deg: FloatArray, sd_deg: FloatArray | float
) -> FloatArray:
    """Return ln of the probability (m,) that what was meant began with these whole degrees.

    `off_deg` is how far what is expected lies above what is written, away from zero.
    """
    away = np.where(degrees < 0.0, -off_deg, off_deg)
    share = normal_distribution(away / sd_deg) - normal_distribution((away - 1.0) / sd_deg)
    return np.asarray(np.log(np.maximum(share, 1e-300)))


def _copied(written: Written, figures: FloatArray, before: FloatArray) -> BoolArray:
    return (np.abs(figures - before) < _SAME_DEG) & ~written.other_copied


def _log_line_copied(written: Written) -> FloatArray:
    both = _copied(written, written.az_deg, written.before_az_deg)
    both &= _copied(written, written.alt_deg, written.before_alt_deg)
    return np.where(both, written.log_certain_azimuth + written.log_certain_altitude, NOTHING)


def _log_azimuth_copied(written: Written) -> FloatArray:
    left = written.log_certain_azimuth + written.log_altitude_there
    return np.where(_copied(written, written.az_deg, written.before_az_deg), left, NOTHING)


def _log_altitude_copied(written: Written) -> FloatArray:
    left = written.log_certain_altitude + written.log_azimuth_there
    return np.where(_copied(written, written.alt_deg, written.before_alt_deg), left, NOTHING)


def _log_same_figure(written: Written) -> FloatArray:
    """Return ln density (m,) of one figure in both columns: it is right for one of them."""
    alike = np.abs(written.az_deg - written.alt_deg) * 60.0 < 0.51 * written.step_arcmin
    azimuth = written.log_azimuth_there + written.log_certain_altitude
    altitude = written.log_altitude_there + written.log_certain_azimuth
    return np.where(alike, np.logaddexp(azimuth, altitude) - np.log(2.0), NOTHING)


def _as_expected(written: Written) -> Figures:
    return written.expected_az_deg, written.expected_alt_deg


def _azimuth_expected(written: Written) -> Figures:
    return written.expected_az_deg, written.alt_deg


def _altitude_expected(written: Written) -> Figures:
    return written.az_deg, written.expected_alt_deg


def _other_of_same(written: Written) -> Figures:
    """Return the figures with the one expected in the column where the other's stands."""
    log_az, log_alt = written.log_azimuth_there, written.log_altitude_there
    right = log_az > log_alt
    return (
        np.where(right, written.az_deg, written.expected_az_deg),
        np.where(right, written.expected_alt_deg, written.alt_deg),
    )


LOST_SLIPS: Registry[LostSlip] = Registry((
    LostSlip(
        name="azimuth_digit",
        share=0.05,
        hint="one digit of the {side} azimuth is wrong",
        log_density=_azimuth_digit,
        meant=_azimuth_of_digit,
    ),
    LostSlip(
        name="altitude_digit",
        share=0.05,
        hint="one digit of the {side} altitude is wrong",
        log_density=_altitude_digit,
        meant=_altitude_of_digit,
    ),
    LostSlip(
        name="azimuth_minutes_dropped",
        share=0.02,
        hint="the minutes of the {side} azimuth are left out",
        log_density=lambda w: w.log_azimuth_began + w.log_altitude_there,
        meant=_azimuth_expected,
    ),
    LostSlip(
        name="altitude_minutes_dropped",
        share=0.02,
        hint="the minutes of the {side} altitude are left out",
        log_density=lambda w: w.log_altitude_began + w.log_azimuth_there,
        meant=_altitude_expected,
    ),
    LostSlip(
        name="minutes_dropped",
        share=0.02,
        hint="the minutes of the {side} azimuth and altitude are left out",
        log_density=lambda w: w.log_azimuth_began + w.log_altitude_began,
        meant=_as_expected,
    ),
    LostSlip(
        name="line_copied",
        share=0.04,
        hint="the {side} azimuth and altitude of the line before stand here again",
        log_density=_log_line_copied,
        meant=_as_expected,
    ),
    LostSlip(
        name="azimuth_copied",
        share=0.01,
        hint="{side} azimuth of the line before stands here again",
        log_density=_log_azimuth_copied,
        meant=_azimuth_expected,
    ),
    LostSlip(
        name="altitude_copied",
        share=0.01,
        hint="{side} altitude of the line before stands here again",
        log_density=_log_altitude_copied,
        meant=_altitude_expected,
    ),
    LostSlip(
        name="same_figure",
        share=0.02,
        hint="one figure stands as azimuth and as altitude ({side})",
        log_density=_log_same_figure,
        meant=_other_of_same,
    ),
))  # fmt: skip


def log_lost(written: Written) -> FloatArray:
    """Return ln density (m, s) of every lost slip on one side, its share included."""
    slips = LOST_SLIPS.values()
    log_share = np.log([0.5 * slip.share for slip in slips])
    log_p = np.array([slip.log_density(written) for slip in slips]).T
    return np.asarray(np.maximum(log_p + log_share, NOTHING))
