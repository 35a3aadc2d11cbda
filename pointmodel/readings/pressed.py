"""Centred figures noted after “this is the star” was pressed: they repeat the commanded ones.

A readout that was just set to the star's place shows that place, give or take a step of the
display. A good mount, zeroed on a star and read on a coarse display, shows many such lines too, so
differences are weighed against the scatter with which people centre. Pure arithmetic on counts of
display steps; read `empty_lines` first.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.normal import LOG_TWO_PI, normal_distribution
from pointmodel.estimate.rounding import readout_step_arcsec
from pointmodel.estimate.termsprior import noise_of_portable_mounts
from pointmodel.mount.priors import SIGMA_ARCMIN
from pointmodel.reading.nightlog import NightLog

FEWEST_LINES = 2
LEAST_STEP_ARCMIN = 0.1 / 60.0  # figures without a raster: the finest step that anybody reads
# how a display stands after the press: on the place itself, or a step beside it while gears settle
EXACT, JITTER = (0.99, 0.004), (0.5, 0.249)
LOG_MODE_SHARE = np.log([0.6, 0.4])  # a choice: most displays stand still
# twice the scatter with which people centre: nearly nine figures in ten are then alike anyway
COARSE_STEP_ARCMIN = 2.0 * SIGMA_ARCMIN
FARTHER = 1e-4  # share of lines that stand farther off than one step after a press
PLAINLY_EMPTY_NATS = 7.0  # a line: prior of one in fifty, and 3 nats to spare
_LOG_SIGMA = np.linspace(np.log(0.05), np.log(20.0), 40)


@dataclass(frozen=True, eq=False)
class Empties:
    """Which lines (n,) show nothing but the commanded place, and ln odds that they are empty.

    `log_factor` weighs all of them together: noted after the press against centred by a person.
    `plain` (n,) are lines that are empty by themselves. `too_coarse`: the display's steps are so
    wide that careful centring alone repeats the commanded place; then nothing is but asked.
    """

    lines: BoolArray
    plain: BoolArray
    log_factor: float
    too_coarse: bool


def empty_lines(log: NightLog) -> Empties | None:
    """Return the lines that look noted after a press, None where there are not two of them."""
    if log.camera or len(log) < FEWEST_LINES:
        return None
    off_deg = np.stack(
        [
            wrap_deg(log.centred_az_deg - log.commanded_az_deg),
            log.centred_alt_deg - log.commanded_alt_deg,
        ]
    )
    steps = _steps_arcmin(log)
    count = np.rint(60.0 * off_deg / steps[:, None])
    lines = np.asarray(np.all(np.abs(count) <= 1.0, axis=0))
    if np.count_nonzero(lines) < FEWEST_LINES:
        return None
    level = np.maximum(np.cos(np.radians(log.commanded_alt_deg)), 0.05)
    widths = steps[:, None] * np.stack([level, np.ones_like(level)])
    pressed, _ = _log_after_press(count[:, lines])
    honest = _log_honest(count[:, lines], widths[:, lines], log)
    chosen = lgamma(len(log) + 1) - lgamma(lines.sum() + 1) - lgamma(len(log) - lines.sum() + 1)
    return Empties(
        lines=lines,
        plain=lines & _plainly_empty(count, widths),
        log_factor=float(pressed - honest - chosen),
        too_coarse=bool(steps.max() > COARSE_STEP_ARCMIN),
    )


def _steps_arcmin(log: NightLog) -> FloatArray:
    """Return the display's step of azimuth and of altitude, arcminutes (2,).

    The centred figures tell: a display that was set to a place shows that place on its own raster.
    """
    columns = (log.centred_az_deg, log.centred_alt_deg)
    both = readout_step_arcsec(np.concatenate(columns)) / 60.0
    steps = [both] * 2 if len(log) < 5 else [readout_step_arcsec(c) / 60.0 for c in columns]
    return np.asarray(np.maximum(np.array(steps), LEAST_STEP_ARCMIN))


def _log_after_press(count: FloatArray) -> tuple[float, FloatArray]:
    """Return ln probability of these counts of steps (2, m) after a press, and of each mode."""
    of_mode = []
    for here, beside in (EXACT, JITTER):
        chance = np.where(count == 0.0, here, np.where(np.abs(count) == 1.0, beside, FARTHER))
        of_mode.append(float(np.log(chance).sum()))
    heights = np.array(of_mode) + LOG_MODE_SHARE
    return float(np.logaddexp.reduce(heights)), heights


def _log_honest(count: FloatArray, widths: FloatArray, log: NightLog) -> float:
    """Return ln probability of counts of steps (2, m) `widths` arcminutes wide, by scatter alone.

    The best that an honest log can do: a mount without errors, zeroed, centred with the scatter
    that people have; its size is integrated out.
    """
    optics = log.mount.optics
    log_prior = noise_of_portable_mounts(optics.field_of_view_arcmin).log_density(_LOG_SIGMA)
    sigma = np.hypot(np.exp(_LOG_SIGMA), optics.centring_error_arcmin or 0.0)
    chance = _chance_of_steps(count[None], widths[None] / sigma[:, None, None])
    height = np.log(chance).sum(axis=(1, 2)) + log_prior + np.log(_LOG_SIGMA[1] - _LOG_SIGMA[0])
    return float(np.logaddexp.reduce(height))


def _plainly_empty(count: FloatArray, widths: FloatArray) -> BoolArray:
    """Return which lines (n,) no person centres so: each alone, at the usual scatter."""
    sigma = float(np.exp(noise_of_portable_mounts().log_mean))
    honest = np.log(_chance_of_steps(count, widths / sigma)).sum(axis=0)
    pressed = np.log(np.where(count == 0.0, EXACT[0], EXACT[1])).sum(axis=0)
    return np.asarray(pressed - honest > PLAINLY_EMPTY_NATS)


def _chance_of_steps(count: FloatArray, width: FloatArray) -> FloatArray:
    """Return the chance that two rounded figures differ by `count` steps, `width` sigmas wide.

    Two figures rounded to one raster differ by k steps with the chance max(0, 1 − |x − k|) for a
    true difference of x steps; for a normal x that is a second difference of G(z) = zΦ(z) + φ(z).
    """
    g = [_ramp((count + shift) * width) for shift in (-1.0, 0.0, 1.0)]
    return np.asarray(np.clip((g[0] - 2.0 * g[1] + g[2]) / width, 1e-12, 1.0))


def _ramp(z: FloatArray) -> FloatArray:
    """Return zΦ(z) + φ(z), the mean of how far a normal variable stays below z."""
    density = np.exp(-0.5 * np.minimum(z * z, 1400.0) - 0.5 * LOG_TWO_PI)
    return np.asarray(z * normal_distribution(z) + density)
