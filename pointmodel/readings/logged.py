"""The controller told "this is the star" while logging: what each press did to the readings.

A press sets both readouts so that the star just centred stands where it was commanded; every figure
read after it differs by that line's miss. Where it is known after which lines it was pressed, the
misses are summed and nothing is lost: the log is as if nobody had pressed.

The sum is exact for a wrong star and for a poor centring, since the press took them out of the sky
and into the readout. A slip of the pen was in the log alone: its line must be put right first.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.estimate.badpairs import LOG_BAD, LOG_SLIP
from pointmodel.estimate.evaluation import Hypothesis, Settings, settings_for
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.moves import TIMES_USUAL_NOISE, ZEROED_ELSEWHERE, with_step
from pointmodel.estimate.observations import Observations
from pointmodel.estimate.penslips import UndoneSlips, log_shares, undo_slips
from pointmodel.estimate.search import Candidate, refine
from pointmodel.estimate.segments import segments_of
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.terms import N_STANDARD
from pointmodel.reading.nightlog import Event, NightLog

PRESS = "zero_on_star"
LONGEST_NAME_WORDS = 3
# A miss so large is no mount's that was zeroed on the star before: another star's, or a slip of the
# pen's, which undone leaves less than half of it.
FAR_ARCMIN, NEARER = 150.0, 0.5
MOST_FAR = 3
# A smaller slip shows as a step of all figures from its line on, by as much as it is.
SAME_STEP_ARCMIN = 15.0
HIGHEST_DEG = 91.0  # altitude that a mount may show


def logged_presses(log: NightLog) -> BoolArray:
    """Return after which pairs (n,) a logged zeroing was on the star just centred.

    A zeroing is taken to be on the star of the line above, unless its own line names another, that
    line was never centred, or something else happened to the mount between them. After an
    alignment on two stars a press may turn the whole sky: then none is taken so.
    """
    pressed = np.zeros(len(log), dtype=bool)
    if log.mount.is_aligned:
        return pressed
    complete, disturbed = log.has_both, set[int]()
    for event in log.events:
        above = event.before_pair - 1
        if event.kind != PRESS:
            disturbed.add(event.before_pair)
        elif event.after_struck:
            continue  # on a star whose line was taken back
        elif above >= 0 and complete[above] and event.before_pair not in disturbed:
            pressed[above] |= not names_another_star(event, log)
    return pressed


def names_another_star(event: Event, log: NightLog) -> bool:
    """Whether the line of an event names a star, and not the one that was centred above it."""
    if not event.note:
        return False
    from pointmodel.sky.names import squeezed
    from pointmodel.sky.targets import look_up

    above = squeezed(log.target[event.before_pair - 1] or "")
    if above and above in squeezed(event.note):
        return False
    of_this_log = {squeezed(name) for name in log.target if name}
    words = re.findall(r"[^\W_]+", event.note)
    runs = [
        " ".join(words[first : first + size])
        for size in range(1, LONGEST_NAME_WORDS + 1)
        for first in range(len(words) - size + 1)
    ]
    # a word of two letters is no star's name, whatever catalogues call by it
    return any(
        squeezed(run) in of_this_log or (len(run) > 2 and look_up(run) is not None) for run in runs
    )


def misses_deg(log: NightLog) -> FloatArray:
    """Return reading minus star as logged (2, n), azimuth and altitude of the axes, wrapped."""
    return np.stack([
        wrap_deg(log.reading_az_deg - log.star_az_deg), log.reading_alt_deg - log.star_alt_deg
    ])  # fmt: skip


def summed_misses_deg(miss_deg: FloatArray, pressed: BoolArray) -> FloatArray:
    """Return how far both readouts had been set back by then (2, n + 1), degrees, from the start.

    What was pressed after a line counts from the next one on; `miss_deg` (2, n).
    """
    sums = np.cumsum(np.where(pressed, miss_deg, 0.0), axis=1)
    return np.hstack([np.zeros((2, 1)), sums])


@dataclass(frozen=True, eq=False)
class Presses:
    """What was pressed away: after which pairs (n,) it is known, and the misses (2, n), degrees."""

    pressed: BoolArray
    miss_deg: FloatArray


@dataclass(frozen=True, eq=False)
class _Corrected:
    """One slip of the pen undone: the log so written, the presses then, ln of its prior odds."""

    log: NightLog
    presses: Presses
    log_odds: float


def presses_of(log: NightLog, pressed: BoolArray) -> Presses:
    """Return the presses after pairs (n,), slips of the pen in their lines undone for the sum.

    The press took the true miss; what was written wrongly spoils all later sums. Only a log that
    does not fit as it is pays for the search. The lines themselves stay as they were written.
    """
    found = Presses(pressed, misses_deg(log))
    if not pressed.any():
        return found
    for line in _far_lines(log, found):
        found = _best(log, found, _slips_undone(log, found, line, None))
    parts = _parts(log, found)
    if parts is not None and any(part.is_amiss for part in parts):
        line, step_deg = _likeliest_step(parts, found, log)
        found = _best(log, found, _slips_undone(log, found, line, step_deg))
    return found


def _far_lines(log: NightLog, found: Presses) -> list[int]:
    """Return the pressed lines that miss by degrees, the farthest first."""
    size = _sizes_arcmin(found.miss_deg, log.star_alt_deg)
    far = np.flatnonzero(found.pressed & (size > FAR_ARCMIN))
    return [int(line) for line in far[np.argsort(-size[far])][:MOST_FAR]]


def _sizes_arcmin(miss_deg: FloatArray, alt_deg: FloatArray) -> FloatArray:
    """Return how far misses (2, ...) are on the sky, arcminutes."""
    return np.asarray(60.0 * np.hypot(miss_deg[0] * np.cos(np.radians(alt_deg)), miss_deg[1]))


def _slips_undone(
    log: NightLog, found: Presses, line: int, step_deg: FloatArray | None
) -> list[_Corrected]:
    """Return the log and the presses with each slip of the pen undone that a line may hold.

    Of all slips those that leave a far smaller miss, or that are as large as the step (2,) which
    the later figures make.
    """
    figures = (log.star_az_deg, log.star_alt_deg, log.reading_az_deg, log.reading_alt_deg)
    undone = undo_slips(*(column[line : line + 1] for column in figures))
    az_deg = wrap_deg(undone.reading_az_deg - undone.star_az_deg)[0]
    miss_deg = np.stack([az_deg, (undone.reading_alt_deg - undone.star_alt_deg)[0]])
    logged_deg = found.miss_deg[:, line]
    size = _sizes_arcmin(miss_deg, log.star_alt_deg[line])
    if step_deg is None:
        fits = size < NEARER * float(_sizes_arcmin(logged_deg, log.star_alt_deg[line]))
    else:
        off_deg = logged_deg[:, None] - miss_deg - step_deg[:, None]
        fits = _sizes_arcmin(off_deg, log.star_alt_deg[line]) < SAME_STEP_ARCMIN
    tried = []
    for k in np.flatnonzero(undone.possible[0] & fits).tolist():
        changed = found.miss_deg.copy()
        changed[:, line] = miss_deg[:, k]
        tried.append(
            _Corrected(
                log=_rewritten(log, line, undone, k),
                presses=replace(found, miss_deg=changed),
                log_odds=LOG_BAD + LOG_SLIP + float(log_shares()[k]),
            )
        )
    return tried


def _rewritten(log: NightLog, line: int, undone: UndoneSlips, case: int) -> NightLog:
    """Return the log with the figures of one line as they are with a slip undone."""
    sides = {"star": "centred", "reading": "commanded"}
    if not log.camera:
        sides = {"star": "commanded", "reading": "centred"}
    columns = {}
    for part, side in sides.items():
        for angle in ("az_deg", "alt_deg"):
            column = getattr(log, f"{side}_{angle}").copy()
            column[line] = getattr(undone, f"{part}_{angle}")[0, case]
            columns[f"{side}_{angle}"] = column % 360.0 if angle == "az_deg" else column
    return replace(log, **columns)


def _best(log: NightLog, found: Presses, tried: list[_Corrected]) -> Presses:
    """Return the presses that explain the log best: as they were, or with a slip undone.

    Nothing is known of any where all would show what no mount can.
    """
    every = [_Corrected(log, found, 0.0), *tried]
    heights = [_log_evidence(_parts(one.log, one.presses)) + one.log_odds for one in every]
    if max(heights) == -np.inf:
        return replace(found, pressed=np.zeros_like(found.pressed))
    return every[int(np.argmax(heights))].presses


@dataclass(frozen=True, eq=False)
class _Part:
    """A part of the log between events of which nothing is known, and how it fits."""

    first: int
    obs: Observations
    settings: Settings
    candidate: Candidate

    @property
    def is_amiss(self) -> bool:
        """Whether a slip of the clutch, bad lines or large noise were needed."""
        hypothesis = self.candidate.result.hypothesis
        usual = np.exp(self.settings.noise.log_mean)
        loose = self.candidate.result.variance > (TIMES_USUAL_NOISE * usual) ** 2
        slipped = hypothesis.obs.slip_at is not None
        return bool(loose or slipped or not hypothesis.good.all())


def _parts(log: NightLog, found: Presses) -> list[_Part] | None:
    """Return how each part of the log fits, None where it would show what no mount can."""
    flat = without_presses(log, found.pressed, found.miss_deg)
    complete = flat.has_both
    if np.abs(flat.reading_alt_deg[complete]).max() > HIGHEST_DEG:
        return None
    optics, parts, first = log.mount.optics, [], 0
    for segment in segments_of(flat):
        obs = observations_of(segment.log)
        settings = settings_for(
            optics.centring_error_arcmin, obs, field_arcmin=optics.field_of_view_arcmin
        )
        parts.append(_Part(first, obs, settings, best_candidates(obs, settings)[0]))
        first += len(segment.log)
    return parts


def _log_evidence(parts: list[_Part] | None) -> float:
    return -np.inf if parts is None else sum(part.candidate.log_total for part in parts)


def _likeliest_step(parts: list[_Part], found: Presses, log: NightLog) -> tuple[int, FloatArray]:
    """Return the pressed pair from which on all figures are off, and by how much (2,), degrees."""
    lines = np.flatnonzero(log.has_both)
    best = (-np.inf, 0, np.zeros(2))
    for part in parts:
        for place in range(part.obs.count):
            line = int(lines[part.first + place])
            if not found.pressed[line]:
                continue
            height, step_deg = _step_at(part, place)
            if height > best[0]:
                best = height, line, step_deg
    return best[1], best[2]


def _step_at(part: _Part, place: int) -> tuple[float, FloatArray]:
    """Return ln evidence of a step of both readouts before a pair, and the step (2,), degrees."""
    obs = with_step(part.obs, ZEROED_ELSEWHERE, place)
    at = np.zeros(N_STANDARD + len(obs.columns))
    at[:N_STANDARD] = part.candidate.result.hypothesis.at[:N_STANDARD]
    everything = np.ones(obs.count, dtype=bool)
    start = Hypothesis(obs, obs.always, everything, at)
    reached = refine(start, part.settings, flips=True)
    return reached.log_total, -reached.result.mean[-2:] / 60.0


def without_presses(
    log: NightLog, pressed: BoolArray, miss_deg: FloatArray | None = None
) -> NightLog:
    """Return the log as it would be had nobody pressed since, with the readout of the log's end.

    `pressed` (n,) says after which pairs "this is the star" was pressed; the figures that were read
    before a press are set to what the readout would show for them now. The events of those presses
    are gone. `miss_deg` (2, n) are the misses that were pressed away, where not those logged.
    """
    if not pressed.any():
        return log
    miss_deg = misses_deg(log) if miss_deg is None else miss_deg
    sums_az_deg, sums_alt_deg = summed_misses_deg(miss_deg, pressed)
    az_deg = np.mod(log.reading_az_deg + sums_az_deg[:-1] - sums_az_deg[-1], 360.0)
    alt_deg = log.reading_alt_deg + sums_alt_deg[:-1] - sums_alt_deg[-1]
    events = tuple(
        event
        for event in log.events
        if event.kind != PRESS or event.before_pair == 0 or not pressed[event.before_pair - 1]
    )
    return replace(log.with_readings(az_deg, alt_deg), events=events)
