"""Logs in which “this is the star” was pressed after centring: a line starts from the one before.

A press sets the readout to the star's place, so the miss that a line shows is taken out of all
later lines. Added up again, the figures are those of a controller on which nothing was pressed. A
wrong star or a poor centring does no harm, since the press took it out as well; a slip of the pen
was only written, never pressed, and is undone before summing. Read `screen.py` first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.estimate.badpairs import LOG_BAD, LOG_SLIP
from pointmodel.estimate.penslips import log_shares, undo_slips
from pointmodel.estimate.rounding import readout_step_arcsec
from pointmodel.estimate.termsprior import BASE_SD
from pointmodel.mount.kinematics import geometry_from_arcmin, linearise
from pointmodel.mount.priors import FREE_AZIMUTH_SD_ARCMIN
from pointmodel.mount.terms import N_STANDARD
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.screen import Places, log_evidences

FIGURES_A_LINE = 2  # the centred and the commanded one are each rounded
SLIP_FROM_ARCMIN = 40.0  # below that no slip of the pen can be told from what a mount does
SLIP_TIMES_MIDDLE = 6.0  # how far a line must stand out among the misses, a choice
MOST_SLIPS = 3
HIGHEST_ALT_DEG = 91.0
MOST_CHOICES = 14  # lines whose every choice is looked at: 2^14 misfits are a few megabytes
PROMISING, CLIMBS = 24, 2
CHOICE_SIGMAS_ARCMIN = (1.0, 3.0)


@dataclass(frozen=True, eq=False)
class Summed:
    """A log with figures added up: after which lines (n,) it was pressed, ln evidence at a glance.

    `log_odds` is what the slips undone for it cost.
    """

    log: NightLog
    pressed: BoolArray
    log_evidence: float
    log_odds: float


def can_be_summed(log: NightLog) -> bool:
    """Whether presses that nobody logged can be behind the figures of a log.

    An alignment on two stars may be changed by a press in other ways; cameras centre nothing, but
    who nudges does; where zeroings are logged, the others were not made.
    """
    logged = any(event.kind == "zero_on_star" for event in log.events)
    centred = log.nudged or not log.camera
    return centred and not (log.mount.is_aligned or logged or len(log) < 2)


def steps_of(log: NightLog) -> FloatArray:
    """Return the misses as written (n, 2): azimuth (wrapped) and altitude, degrees."""
    az_deg = wrap_deg(log.reading_az_deg - log.star_az_deg)
    return np.stack([az_deg, log.reading_alt_deg - log.star_alt_deg], axis=-1)


def sums_of(steps_deg: FloatArray, pressed: BoolArray, starts: BoolArray) -> FloatArray:
    """Return what to add to each line's readings, (..., n, 2), to have the readout of the end.

    That is minus the steps of the pressed lines from this one on. `pressed` (..., n); a line of
    `starts` (n,) begins a part of the log with zeros of its own.
    """
    taken = steps_deg * pressed[..., None]
    upto = np.cumsum(taken, axis=-2)
    ends = np.append(np.flatnonzero(starts)[1:], starts.size) - 1
    last = ends[np.cumsum(starts) - 1]
    return np.asarray(upto - taken - upto[..., last, :])


def part_starts(log: NightLog) -> BoolArray:
    """Return which lines (n,) are the first ones after an event, or of the log."""
    starts = np.zeros(len(log), dtype=bool)
    starts[0] = True
    starts[[event.before_pair for event in log.events if event.before_pair < len(log)]] = True
    return starts


def summed_after_each(log: NightLog) -> Summed | None:
    """Return the log read as pressed after each star; slips of the pen do not count."""
    everywhere = np.ones(len(log), dtype=bool)
    steps, log_odds = _slips_undone(log, everywhere)
    return _summed(log, steps, everywhere, log_odds)


def summed_after_some(log: NightLog, log_prior: Callable[[int, int], float]) -> Summed | None:
    """Return the log read as pressed after the lines that explain it best; None where none do.

    Every choice of lines is looked at in one linear problem, the best ones more closely; from there
    the best line is flipped until nothing gains. `log_prior` is that of a number of pressed lines
    among n.
    """
    steps, log_odds = _slips_undone(log, np.ones(len(log), dtype=bool))
    starts = _promising(log, steps, log_prior)
    prior = [log_prior(int(one[:-1].sum()), len(log) - 1) for one in starts]
    order = np.argsort(-(_quick(log, steps, starts) + np.array(prior)))
    climbed = [_climb(log, steps, starts[k], log_prior) for k in order[:CLIMBS].tolist()]
    _, pressed = max(climbed, key=lambda one: one[0])
    if pressed[:-1].all() or not pressed[:-1].any():
        return None
    return _summed(log, steps, pressed, log_odds)


def _promising(
    log: NightLog, steps_deg: FloatArray, log_prior: Callable[[int, int], float]
) -> BoolArray:
    """Return the choices of pressed lines (m, n) that a linear problem likes best.

    To first order the design does not change with what was pressed, and the misses are linear in
    it: r = r₀ + B p for choices p of zeros and ones. With the terms integrated out at a noise σ the
    misfit is rᵀ(σ²I + X S² Xᵀ)⁻¹ r. More lines than `MOST_CHOICES` are looked at from both ends.
    """
    count = len(log)
    everything, nothing = np.ones((1, count), dtype=bool), np.zeros((1, count), dtype=bool)
    if count - 1 > MOST_CHOICES:
        return np.vstack([everything, nothing])
    numbers = np.arange(2 ** (count - 1))
    choices = (numbers[:, None] >> np.arange(count - 1)) & 1 == 1
    choices = np.hstack([choices, np.zeros((numbers.size, 1), dtype=bool)])
    level = np.cos(np.radians(log.star_alt_deg))
    add = sums_of(steps_deg, choices, part_starts(log)) + steps_of(log)
    miss = 60.0 * add * np.stack([level, np.ones_like(level)], axis=-1)
    design = _design(log)
    heights = []
    for sigma in CHOICE_SIGMAS_ARCMIN:
        covariance = sigma**2 * np.eye(2 * count) + design @ design.T
        root = np.linalg.inv(np.linalg.cholesky(covariance))
        misfit = ((miss.reshape(numbers.size, -1) @ root.T) ** 2).sum(axis=1)
        heights.append(np.log(np.diag(root)).sum() - 0.5 * misfit)
    prior = np.array([log_prior(k, count - 1) for k in range(count)])
    height = np.max(heights, axis=0) + prior[choices.sum(axis=1)]
    return choices[np.argsort(-height)[:PROMISING]]


def _design(log: NightLog) -> FloatArray:
    """Return the design (2n, 6) at terms of zero, each column times its prior's width."""
    az, alt = np.radians(log.star_az_deg), np.radians(log.star_alt_deg)
    flat = linearise(az, alt, az, alt, geometry_from_arcmin(0.0, 0.0, 0.0, 0.0))
    spread = 2.0 * BASE_SD
    spread[0] = FREE_AZIMUTH_SD_ARCMIN
    return np.asarray(flat.design.reshape(-1, N_STANDARD) * spread)


def _climb(
    log: NightLog,
    steps_deg: FloatArray,
    pressed: BoolArray,
    log_prior: Callable[[int, int], float],
) -> tuple[float, BoolArray]:
    """Flip the best line until nothing gains; a press after the last line changes nothing."""
    count = len(log)
    lines = np.arange(count - 1)
    height = -np.inf
    while True:
        flipped = np.tile(pressed, (count - 1, 1))
        flipped[lines, lines] = ~flipped[lines, lines]
        tried = flipped if np.isfinite(height) else np.vstack([pressed[None], flipped])
        prior = [log_prior(int(one[:-1].sum()), count - 1) for one in tried]
        scores = _quick(log, steps_deg, tried) + np.array(prior)
        best = int(scores.argmax())
        if scores[best] <= height + 1e-9:
            return height, pressed
        same = np.array_equal(tried[best], pressed)
        height, pressed = float(scores[best]), tried[best]
        if same:
            return height, pressed


def _quick(log: NightLog, steps_deg: FloatArray, pressed: BoolArray) -> FloatArray:
    """Return quick evidences (s,) of pressing after these lines (s, n)."""
    add = sums_of(steps_deg, pressed, part_starts(log))
    step_arcmin = _display_step_deg(log) * 60.0
    several = pressed.shape[0]
    shape = (several, len(log))
    behind = _figures_behind(pressed, part_starts(log))
    return log_evidences(
        Places(
            star_az=np.radians(np.broadcast_to(log.star_az_deg, shape)),
            star_alt=np.radians(np.broadcast_to(log.star_alt_deg, shape)),
            reading_az=np.radians(log.reading_az_deg + add[..., 0]),
            reading_alt=np.radians(log.reading_alt_deg + add[..., 1]),
            rounding=step_arcmin**2 / 12.0 * FIGURES_A_LINE * behind.mean(axis=1),
        )
    )


def _figures_behind(pressed: BoolArray, starts: BoolArray) -> FloatArray:
    """Return how many lines' rounding stands behind each line's reading, (..., n), from 1 on."""
    ones = np.ones((*pressed.shape, 1))
    return np.asarray(np.maximum(-sums_of(ones, pressed, starts)[..., 0], 1.0))


def _summed(
    log: NightLog, steps_deg: FloatArray, pressed: BoolArray, log_odds: float
) -> Summed | None:
    starts = part_starts(log)
    add = sums_of(steps_deg, pressed, starts)
    alt_deg = log.reading_alt_deg + add[:, 1]
    if np.abs(alt_deg).max() > HIGHEST_ALT_DEG:
        return None
    read = replace(
        log.with_readings(np.mod(log.reading_az_deg + add[:, 0], 360.0), alt_deg),
        figures_summed=_figures_behind(pressed, starts),
    )
    quick = float(_quick(log, steps_deg, pressed[None])[0])
    return Summed(log=read, pressed=pressed, log_evidence=quick, log_odds=log_odds)


def _display_step_deg(log: NightLog) -> float:
    """Return the coarsest step of the display's two figures, degrees; 0 where none is seen.

    A nudge is no figure of a display: what it was rounded to is part of the centring.
    """
    if log.nudged:
        return 0.0
    columns = (log.centred_az_deg, log.centred_alt_deg)
    if len(log) < 5:  # as few figures as that share one step: see `readout_variance`
        return readout_step_arcsec(np.concatenate(columns)) / 3600.0
    return max(readout_step_arcsec(column) for column in columns) / 3600.0


def _slips_undone(log: NightLog, pressed: BoolArray) -> tuple[FloatArray, float]:
    """Return the steps with slips of the pen undone, and ln of what the slips cost.

    Only a line that stands far out can be a slip; it is undone where that fits the log better.
    """
    steps = steps_of(log)
    if log.nudged:  # no figure of two went wrong that the other could put right
        return steps, 0.0
    size = np.hypot(steps[:, 0] * np.cos(np.radians(log.commanded_alt_deg)), steps[:, 1]) * 60.0
    limit = max(SLIP_FROM_ARCMIN, SLIP_TIMES_MIDDLE * float(np.median(size)))
    suspects = np.flatnonzero(size > limit)
    log_odds = 0.0
    for line in suspects[np.argsort(-size[suspects])][:MOST_SLIPS].tolist():
        tried, cost = _undone_at(log, steps, line)
        scores = np.array([_quick(log, one, pressed[None])[0] for one in tried]) + cost
        best = int(scores.argmax())
        steps, log_odds = tried[best], log_odds + float(cost[best])
    return steps, log_odds


def _undone_at(
    log: NightLog, steps_deg: FloatArray, line: int
) -> tuple[list[FloatArray], FloatArray]:
    """Return the steps as they are and with each slip of one line undone, and ln prior odds."""
    undone = undo_slips(
        *(
            np.atleast_1d(column[line])
            for column in (
                log.commanded_az_deg,
                log.commanded_alt_deg,
                log.centred_az_deg,
                log.centred_alt_deg,
            )
        )
    )
    az_deg = wrap_deg(undone.reading_az_deg[0] - undone.star_az_deg[0])
    alt_deg = undone.reading_alt_deg[0] - undone.star_alt_deg[0]
    level = np.cos(np.radians(log.commanded_alt_deg[line]))
    size = np.hypot(az_deg * level, alt_deg)
    before = float(np.hypot(steps_deg[line, 0] * level, steps_deg[line, 1]))
    nearer = np.flatnonzero(undone.possible[0] & (size < 0.5 * before))
    tried, cost, shares = [steps_deg], [0.0], log_shares()
    for k in nearer.tolist():
        changed = steps_deg.copy()
        changed[line] = az_deg[k], alt_deg[k]
        tried.append(changed)
        cost.append(LOG_BAD + LOG_SLIP + float(shares[k]))
    return tried, np.array(cost)
