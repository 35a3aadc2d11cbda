"""How finely the figures of a log were read off, and what that does to the misses.

A display rounds: what stands in the log is off by an even spread over one step, known noise that is
nobody's scatter. But a figure need not have been read off. A star sent to "123.4" may stand at
123.4 exactly, however few decimals that has; then its step is no noise at all (`without_coarser`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from pointmodel.base.arrays import FloatArray

Figures = tuple[FloatArray, FloatArray]

# what displays and people round to: whole degrees, minutes and seconds of arc, decimals of a degree
STEPS_ARCSEC = (
    3600.0, 1800.0, 900.0, 600.0, 360.0, 300.0, 180.0, 60.0,
    36.0, 30.0, 10.0, 6.0, 3.6, 3.0, 1.0, 0.36, 0.1,
)  # fmt: skip
FEWEST_TO_PART = 5  # pairs from which on each column has a step of its own
MOST_ASKED = 2000  # figures of a column that are looked at: more would tell nothing new
ON_RASTER = 0.9  # share of figures: one in ten may be typed otherwise, as a whole degree is
BY_CHANCE = 0.05  # above this probability of falling on a raster by chance none is seen in it


@dataclass(frozen=True, eq=False)
class Rounding:
    """Rounding noise on the sky of the stars' places and of the readings, (n, 2) each, arcmin².

    The steps are the coarsest of either side, arcminutes. `exact_step_arcmin` is that of figures
    that are labels: they have few decimals and yet are exact; 0 where none are.
    """

    star: FloatArray
    reading: FloatArray
    star_step_arcmin: float
    reading_step_arcmin: float
    exact_step_arcmin: float = 0.0

    @cached_property
    def variance(self) -> FloatArray:
        """Of both together, (n, 2), arcmin²."""
        return np.asarray(self.star + self.reading)

    @property
    def step_arcmin(self) -> float:
        """The coarsest step of all."""
        return max(self.star_step_arcmin, self.reading_step_arcmin)

    @property
    def coarser(self) -> FloatArray:
        """The noise (n, 2) of the side with the coarser figures, arcmin²."""
        return self.star if self._star_is_coarser else self.reading

    @property
    def _star_is_coarser(self) -> bool:
        return self.star_step_arcmin >= self.reading_step_arcmin

    def without_coarser(self) -> Rounding:
        """Return what is left if the coarser figures are exact: labels, not read off a display."""
        nothing, step = np.zeros_like(self.star), self.step_arcmin
        if self._star_is_coarser:
            return replace(self, star=nothing, star_step_arcmin=0.0, exact_step_arcmin=step)
        return replace(self, reading=nothing, reading_step_arcmin=0.0, exact_step_arcmin=step)


def no_rounding(pairs: int) -> Rounding:
    """Return the rounding of figures that have all their decimals."""
    nothing = np.zeros((pairs, 2))
    return Rounding(nothing, nothing, 0.0, 0.0)


def rounding_of(star_deg: Figures, reading_deg: Figures) -> Rounding:
    """Return the rounding of azimuths and altitudes (n,), degrees, of stars and of readings.

    A figure rounded to a step is off by step²/12 (variance of an even spread). From five pairs on
    each column has a step of its own, below that all figures share one.
    """
    columns = (*star_deg, *reading_deg)
    if star_deg[0].size >= FEWEST_TO_PART:
        steps = [readout_step_arcsec(column[:MOST_ASKED]) / 60.0 for column in columns]
    else:
        steps = [readout_step_arcsec(np.concatenate(columns)) / 60.0] * 4
    cosine = np.cos(np.radians(star_deg[1]))
    star, reading = (
        np.stack([(az * cosine) ** 2, np.full_like(cosine, alt**2)], axis=-1) / 12.0
        for az, alt in (steps[:2], steps[2:])
    )
    return Rounding(star, reading, max(steps[:2]), max(steps[2:]))


def readout_step_arcsec(figures_deg: FloatArray) -> float:
    """Return the largest step of which the figures are multiples, arcseconds; 0 where none is.

    One figure in ten may be off the raster, and chance must not explain it: figures on the raster
    of the next finer step that divides this one fall on it with (finer step / step) ** count.
    """
    figures = np.abs(figures_deg).ravel()[:, None] * 3600.0
    off = np.abs(figures - _STEPS * np.rint(figures / _STEPS))
    # decimals of a degree stand in binary: a few milliseconds of arc are rounding of the machine
    on_raster = np.count_nonzero(off <= 0.004 + 1e-3 * _STEPS, axis=0)
    by_chance = _FINER ** figures.shape[0]
    fits = (on_raster >= ON_RASTER * figures.shape[0]) & (by_chance < BY_CHANCE)
    return float(_STEPS[fits.argmax()]) if fits.any() else 0.0


def _finer(step: float) -> float:
    """Return the largest listed step that divides this one, a tenth of it where none does."""
    return next(
        (f for f in STEPS_ARCSEC if f < step and abs(step / f - round(step / f)) < 1e-9),
        step / 10.0,
    )


_STEPS = np.array(STEPS_ARCSEC)
_FINER = np.array([_finer(step) for step in STEPS_ARCSEC]) / _STEPS
