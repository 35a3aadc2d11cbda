"""Weigh what a log's figures may mean, and read the log so.

`as_told` reads a log as its owner says; `weighed` then asks whether another reading explains it far
better, and gives the log as it is to be fitted with what was found. A plainly good log pays next to
nothing: each question has a cheap gate before it. Read `hypotheses.py`, `screen.py`, `sums.py` and
`pressed.py` first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lgamma

import numpy as np

from pointmodel.base.arrays import IntArray
from pointmodel.estimate.evaluation import settings_for
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.inturn import Parts
from pointmodel.estimate.search import Candidate
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.priors import FREE_AZIMUTH_BEYOND_ARCMIN, LOG_ODDS_MOVED
from pointmodel.reading.asread import told_figures
from pointmodel.reading.mountkeys import Side
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.columns import column_readings
from pointmodel.readings.hypotheses import HYPOTHESES, confirmed_by
from pointmodel.readings.limits import fits_a_human, plainly_good, share_bad, sigma_of
from pointmodel.readings.parts import parts_of
from pointmodel.readings.pressed import Empties, empty_lines
from pointmodel.readings.result import FindingName, Question, ReadingFinding, Readings
from pointmodel.readings.screen import log_evidences, places_of_logs
from pointmodel.readings.sums import Summed, can_be_summed, summed_after_each, summed_after_some
from pointmodel.readings.words import asked, empty_words, said

TAKEN_UP_ABOVE = 3.0  # nats: 20 to 1 after the odds
ASKED_WITHIN = 3.0
SCREENED_WITHIN = 10.0
MOST_TRIED = 8
MOST_PAIRS = 2000  # evenly spread: what does not fit these fits no better with the rest, a choice
MOST_SUMMED = 60
FEWEST_PAIRS = 3
FEWEST_FOR_SOME = 6
LEFT_TO_FIT = 2
QUIETER = 0.7  # what is explained must be half the noise's square at least, a choice
ANYHOW_SHARE = 0.1  # of mounts are set down without a thought for north, a choice
NEAR_ZERO = 2.0  # how many scatters from zero readouts still count as starting near it
QUIET_SIGMA_ARCMIN, MANY = 1.6, 8  # a log so quiet shows no lean that presses could hide


@dataclass(frozen=True, eq=False)
class Meaning:
    """A log as it is to be fitted, what was found of its figures and what is to be asked.

    `pressed` are lines after which a logged press is known (see `parts.py`).
    """

    log: NightLog
    as_written: NightLog
    pressed: IntArray
    findings: tuple[ReadingFinding, ...] = ()
    question: Question | None = None

    def readings(self) -> Readings:
        """Return what is known of the log's figures."""
        alignment, keys = self.log.mount.alignment, self.log.mount.log
        return Readings(
            alignment=alignment.state,
            presses=alignment.presses or "unknown",
            commanded_from=keys.commanded_from or "unknown",
            time_resolution_s=self.log.time_resolution_s,
            findings=self.findings,
            question=self.question,
        )


@dataclass(frozen=True, eq=False)
class Way:
    """One way to read a log, not yet tried by the estimator.

    `log_extra` is all but the fit's own evidence: odds, change of density, what the sky says.
    `lines` are those that it is about. `harmless`: no advice hangs on it, so it is never asked.
    """

    finding: FindingName
    side: Side
    log: NightLog
    log_extra: float
    lines: tuple[int, ...] = ()
    harmless: bool = False


@dataclass(frozen=True, eq=False)
class Tried:
    """A way to read a log with its total, and whether it then fits as a person centres."""

    way: Way
    log_total: float
    fits: bool
    sigma_arcmin: float
    share_bad: float


def as_told(as_written: NightLog, pressed: IntArray) -> Meaning:
    """Return the log read as the mount file says of its figures and presses, without weighing.

    `pressed` are the lines after which a logged zeroing was on the star just centred.
    """
    log, figures = told_figures(as_written)
    told = Meaning(log=log, as_written=as_written, pressed=pressed)
    findings = [_told(name, side) for name, side in figures]
    alignment = log.mount.alignment
    if alignment.noted == "after_press" and alignment.presses != "none":
        return replace(told, findings=(*findings, _told("readings_after_sync", "centred")))
    summed = None
    if alignment.presses == "each_star" and can_be_summed(log):
        summed = summed_after_each(log)
    if summed is None:
        return replace(told, findings=tuple(findings))
    findings.append(_told("synced_after_each", "both"))
    return replace(told, log=summed.log, findings=tuple(findings))


def _told(name: FindingName, side: Side) -> ReadingFinding:
    return ReadingFinding(
        finding=name,
        probability=1.0,
        taken_up=True,
        lines=(),
        text=said(name, (side,), confirmed=True),
        confirmed=True,
        side=side,
    )


def weighed(told: Meaning, parts: Parts) -> Meaning:
    """Return what the log's figures mean; `parts` are the log solved as it stands."""
    if any(one.empties_the_log for one in told.findings):
        return told
    pressed = _after_press(told)
    if pressed is not None:
        return pressed
    log = told.log
    good = plainly_good(parts.solutions, log.mount)
    ways = [*_presses(log, parts, good), *column_ways(log, parts.solutions, good)]
    return _decided(told, ways, parts) if ways else told


# ---------------------------------------------------------------- noted after the press


def _after_press(told: Meaning) -> Meaning | None:
    """Return the meaning of a log in which lines repeat the commanded place; None where none do."""
    alignment = told.log.mount.alignment
    if alignment.presses == "none" or alignment.noted == "before_press":
        return None
    empties = empty_lines(told.log)
    if empties is None:
        return None
    likely = alignment.presses in ("each_star", "logged")
    odds = 0.0 if likely else HYPOTHESES["readings_after_sync"].log_odds
    margin = empties.log_factor + odds
    if (margin > TAKEN_UP_ABOVE or empties.plain.any()) and not empties.too_coarse:
        return _without_empties(told, empties, max(margin, TAKEN_UP_ABOVE))
    if margin < -ASKED_WITHIN:
        return None
    return _asking(told, "readings_after_sync", ("centred",), margin)


def _without_empties(told: Meaning, empties: Empties, margin: float) -> Meaning:
    """Return the log without the lines that are empty; all of it where too few others remain."""
    log = told.log
    empty = empties.lines if margin > TAKEN_UP_ABOVE else empties.plain
    left = int(np.count_nonzero(~empty))
    everything = left < LEFT_TO_FIT
    lines = () if everything else tuple(int(line) for line in log.line[empty])
    finding = ReadingFinding(
        finding="readings_after_sync",
        probability=_probability(margin),
        taken_up=True,
        lines=lines,
        text=empty_words(lines, left),
        side="centred",
    )
    kept = log if everything else log.select(~empty)
    return replace(told, log=kept, findings=(*told.findings, finding))


def _asking(told: Meaning, name: FindingName, sides: tuple[Side, ...], margin: float) -> Meaning:
    finding = ReadingFinding(
        finding=name,
        probability=_probability(margin),
        taken_up=False,
        lines=(),
        text=asked(name, sides).ask,
        side=sides[0],
    )
    return replace(told, findings=(*told.findings, finding), question=asked(name, sides))


def _probability(margin: float) -> float:
    return float(1.0 / (1.0 + np.exp(-np.clip(margin, -700.0, 700.0))))


# ---------------------------------------------------------------- pressed while logging


def _quiet(parts: Parts) -> bool:
    """Whether a log fits without anything set aside or moved, and closely."""
    candidates = [solution.candidate for solution in parts.solutions]
    smooth = not parts.happened and share_bad(candidates) == 0.0
    return smooth and max(map(sigma_of, candidates)) < QUIET_SIGMA_ARCMIN


def _presses(log: NightLog, parts: Parts, good: bool) -> list[Way]:
    """Return the ways in which presses that nobody logged could be behind the figures."""
    alignment = log.mount.alignment
    if alignment.presses in ("none", "each_star", "logged") or len(log) < FEWEST_PAIRS:
        return []
    if len(log) > MOST_SUMMED or not can_be_summed(log):
        return []
    settled = good and _quiet(parts)
    if settled and len(log) > MANY:
        return []
    as_written = float(log_evidences(places_of_logs([log]))[0])
    found = []
    each = summed_after_each(log)
    if each is not None:
        found.append(_summed_way(log, "synced_after_each", each, _each_odds(log)))
    if not settled and len(log) >= FEWEST_FOR_SOME:
        some = summed_after_some(log, _log_prior_of_some)
        if some is not None:
            pressed = some.pressed[:-1]
            odds = _log_prior_of_some(int(pressed.sum()), pressed.size)
            found.append(_summed_way(log, "synced_after_some", some, odds))
    return [way for way, quick in found if quick + way.log_extra > as_written - SCREENED_WITHIN]


def _summed_way(
    log: NightLog, name: FindingName, summed: Summed, log_odds: float
) -> tuple[Way, float]:
    lines: tuple[int, ...] = ()
    if name == "synced_after_some":
        lines = tuple(int(line) for line in log.line[:-1][summed.pressed[:-1]])
    way = Way(name, "both", summed.log, log_odds + summed.log_odds, lines)
    return way, summed.log_evidence


def _each_odds(log: NightLog) -> float:
    """Return ln prior odds of a press after each star: even where readouts start near zero."""
    off = 60.0 * (log.centred_alt_deg - log.commanded_alt_deg)
    scatter = float(np.median(np.abs(off - np.median(off)))) * 1.4826 + 1.0
    if log.mount.alignment.presses == "unknown" and abs(np.median(off)) < NEAR_ZERO * scatter:
        return 0.0
    return HYPOTHESES["synced_after_each"].log_odds


def _log_prior_of_some(pressed: int, count: int) -> float:
    """Return ln prior odds of these lines out of so many: all are one habit, some a choice."""
    if pressed == 0:
        return 0.0
    if pressed == count:
        return HYPOTHESES["synced_after_each"].log_odds
    ways = lgamma(count + 1) - lgamma(pressed + 1) - lgamma(count - pressed + 1)
    return HYPOTHESES["synced_after_some"].log_odds - ways


# ---------------------------------------------------------------- whole columns


def column_ways(log: NightLog, solutions: Sequence[Solution], good: bool) -> list[Way]:
    """Return the ways to read whole columns that come near the log as it is written."""
    if log.mount.log.figures is not None or log.nudged or len(log) < FEWEST_PAIRS:
        return []
    index_deg = float(solutions[-1].posterior.mean[0]) / 60.0
    return [
        Way(one.finding, one.side, one.log, one.log_extra, harmless=one.harmless)
        for one in column_readings(log, good, index_deg)
    ]


# ---------------------------------------------------------------- the decision


@dataclass(frozen=True)
class _Group:
    """All ways of one finding: ln of their total evidence, the best of them, sides near it."""

    name: FindingName
    log_total: float
    best: Tried
    sides: tuple[Side, ...]


def _decided(told: Meaning, ways: list[Way], parts: Parts) -> Meaning:
    """Try what comes near by the estimator; take up what wins by far, ask about what is near."""
    solutions = parts.solutions
    index = float(solutions[0].posterior.mean[0])
    as_written = _total_of(told, parts) + _azimuth_log_odds(index)
    near = _screened(told.log, ways)
    written = [solution.candidate for solution in solutions]
    tried = [_tried(way, told.pressed) for way in near if _may_fit(way, told.pressed)]
    groups = _grouped([one for one in tried if one.fits and _matters(one, written)])
    if not groups:
        return told
    best = groups[0]
    rivals = [as_written, *(group.log_total for group in groups[1:])]
    margin = best.log_total - float(np.logaddexp.reduce(rivals))
    if margin > (0.0 if best.best.way.harmless else TAKEN_UP_ABOVE):
        return _taken_up(told, best, margin)
    if best.best.way.harmless:
        return told
    if best.log_total > as_written - ASKED_WITHIN:
        return _asking(told, best.name, best.sides, margin)
    return told


def _azimuth_log_odds(index_arcmin: float) -> float:
    """Return ln of the share of mounts whose azimuth was set down anyhow, where this one's was."""
    return float(np.log(ANYHOW_SHARE)) if abs(index_arcmin) > FREE_AZIMUTH_BEYOND_ARCMIN else 0.0


def _screened(log: NightLog, ways: list[Way]) -> list[Way]:
    quick = log_evidences(places_of_logs([log, *(way.log for way in ways)]))
    quick[1:] += [way.log_extra for way in ways]
    enough = float(quick.max()) - SCREENED_WITHIN
    order = [k for k in np.argsort(-quick[1:]).tolist() if quick[1 + k] > enough]
    return [ways[k] for k in order[:MOST_TRIED]]


def _may_fit(way: Way, pressed: IntArray) -> bool:
    """Whether a log read so may be a person's: of a long one some pairs are asked first."""
    log, apart = way.log, -(-len(way.log) // MOST_PAIRS)
    if apart == 1 or log.events:
        return True
    some = log.select(np.arange(len(log)) % apart == 0)
    return fits_a_human(_candidates(some, pressed), log.mount)


def _matters(tried: Tried, as_written: list[Candidate]) -> bool:
    """Whether presses, if that is what was found, explain noise or bad pairs of before.

    On a mount without errors, loosely centred, pressing after each star changes nothing but the
    look of the noise: there chance speaks, and no advice hangs on it.
    """
    if tried.way.finding not in ("synced_after_each", "synced_after_some"):
        return True
    fewer_bad = tried.share_bad < share_bad(as_written)
    return fewer_bad or tried.sigma_arcmin < QUIETER * max(map(sigma_of, as_written))


def _tried(way: Way, pressed: IntArray) -> Tried:
    candidates = _candidates(way.log, pressed)
    total = sum(candidate.log_total for candidate in candidates)
    total += _azimuth_log_odds(float(candidates[0].result.mean[0]))
    fits = fits_a_human(candidates, way.log.mount)
    return Tried(
        way=way,
        log_total=total + way.log_extra,
        fits=fits,
        sigma_arcmin=max(map(sigma_of, candidates)),
        share_bad=share_bad(candidates),
    )


def _candidates(log: NightLog, pressed: IntArray) -> list[Candidate]:
    found = []
    for part in parts_of(log, pressed):
        obs = observations_of(part.log)
        optics = log.mount.optics
        settings = settings_for(
            optics.centring_error_arcmin, obs, field_arcmin=optics.field_of_view_arcmin
        )
        found.append(best_candidates(obs, settings)[0])
    return found


def _total_of(told: Meaning, parts: Parts) -> float:
    """Return the total evidence of a log as it stands, with what it costs that something moved."""
    total = sum(solution.candidate.log_total for solution in parts.solutions)
    moves = sum(one.taken_up and one.after_line is not None for one in parts.happened)
    if not moves:
        return total
    still = sum(one.log_total for one in _candidates(told.log, told.pressed))
    return max(total + moves * (LOG_ODDS_MOVED - float(np.log(len(told.log)))), still)


def _grouped(tried: list[Tried]) -> list[_Group]:
    """Return the findings, likeliest first; sides of the log that cannot be told count together."""
    found = []
    for name in dict.fromkeys(one.way.finding for one in tried):
        own = [one for one in tried if one.way.finding == name]
        total = float(np.logaddexp.reduce([one.log_total for one in own]))
        own.sort(key=lambda one: -one.log_total)
        near = [one for one in own if one.log_total > own[0].log_total - TAKEN_UP_ABOVE]
        found.append(_Group(name, total, own[0], tuple(one.way.side for one in near)))
    return sorted(found, key=lambda group: -group.log_total)


def _taken_up(told: Meaning, group: _Group, margin: float) -> Meaning:
    way = group.best.way
    finding = ReadingFinding(
        finding=group.name,
        probability=_probability(margin),
        taken_up=True,
        lines=way.lines,
        text=said(group.name, group.sides, way.lines),
        side=way.side,
        confirm=confirmed_by(group.name, group.sides),
    )
    return replace(told, log=way.log, findings=(*told.findings, finding))
