"""What is said after a pair: does it fit, what is known by now, and what next.

A new pair is held against what the pairs before it predict (read `machine.py` and `outlook.py`
first), with a noise that they alone have shown: in a fit that holds the pair itself, a dozen
arcminutes among few pairs pass for noise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pointmodel.advising.result import Advice
from pointmodel.base.arrays import FloatArray
from pointmodel.base.figures import miss_words
from pointmodel.base.wording import sentence
from pointmodel.estimate.moves import fits_badly
from pointmodel.estimate.profile import Profile
from pointmodel.fitting.fit import fit
from pointmodel.fitting.result import Fit
from pointmodel.forecasting.machine import linearised_at
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.logged import PRESS, logged_presses, without_presses
from pointmodel.recording.nextstep import NO_STEP, NextStep, next_step

# A pair does not fit where fewer than one good pair in a hundred is so far off, and the eyepiece
# would not show the star; what the field forgives is a centring to look at again.
CHANCE_OF_FITTING, TIMES_THE_USUAL = 0.01, 3.0
FEWEST_TO_JUDGE = 3  # pairs before it, that it may be said to fit; with a profile one will do
CANNOT_TELL_ARCMIN = 30.0
DID_IT_MOVE = "Did something move? Type bump, or go back to an earlier star: it tells."
CHECK = "Check the centring"
SEEN_AT_ONCE = {"set_entry", "mend_file", "answer_question"}  # of the ladder's actions
FEW_PAIRS = 4  # with so few, an earlier one may be the wrong one


@dataclass(frozen=True)
class Remark:
    """What is said of the last entry, the advice by now, what to do next.

    `alarm` where something is amiss. Of a doubtful pair there is no advice: mend that first.
    `fits` is None where that cannot be told; `miss_arcmin` is how far the pair is from where the
    others put it, None where there are no others. `is_doubtful`: its centring is to be looked at.
    `asks_if_moved`: it is the second misfit in a row, and the base may have been knocked.
    """

    told: str
    fits: bool | None = None
    miss_arcmin: float | None = None
    alarm: bool = False
    advice: Advice | None = None
    next: NextStep = NO_STEP
    is_doubtful: bool = False
    asks_if_moved: bool = False

    @property
    def text(self) -> str:
        """All of it in one line."""
        headline = "" if self.advice is None else self.advice.headline
        return " ".join(part for part in (self.told, headline, self.next.text) if part)

    def after(self, told: str) -> Remark:
        """The same with something of the log before it, which is an alarm."""
        return replace(self, told=f"{told} {self.told}", alarm=True) if told else self


@dataclass(frozen=True)
class _Expected:
    """How the last pair looks to those before it: miss and usual miss, chance of one so large."""

    miss_arcmin: float
    usual_arcmin: float
    chance: float

    @property
    def in_doubt(self) -> bool:
        """Whether a miss is so large that it should not be passed over."""
        too_large = self.miss_arcmin > TIMES_THE_USUAL * self.usual_arcmin
        return self.chance < CHANCE_OF_FITTING or too_large


def complete_pairs(log: NightLog) -> int:
    """Number of pairs that can be fitted."""
    return int(np.count_nonzero(log.has_both))


def pairs_words(pairs: int) -> str:
    """A number of pairs in words."""
    return f"{pairs} pair{'' if pairs == 1 else 's'}"


def pairs_since_event(log: NightLog) -> int:
    """Number of complete pairs after the last event, all of them where there was none.

    A zeroing on the star above does not count: what it did is known.
    """
    known = np.concatenate([[False], logged_presses(log)])
    unknown = [e.before_pair for e in log.events if e.kind != PRESS or not known[e.before_pair]]
    start = max(unknown, default=0)
    return int(np.count_nonzero(log.has_both[start:]))


def judge(
    log: NightLog, before: Fit | None, time_s: float, prior: Profile | None = None
) -> tuple[Fit, Remark]:
    """Return the fit of a log that ends in a complete pair, and what to say of that pair.

    `before` is the fit of the log without that pair, if it is at hand; `time_s` is now, POSIX
    seconds, for the next star; `prior` is the mount's profile. Raises InputError as `fit` does.
    """
    fewest = FEWEST_TO_JUDGE if prior is None else 1
    now = fit(log, prior=prior)
    expected = None
    if pairs_since_event(log) > 1:
        earlier = before
        if earlier is None or not _is_of_the_others(earlier, log):
            earlier = fit(log.select(np.arange(len(log)) < len(log) - 1), prior=prior)
        before = earlier
        if not earlier.readings.taken_up:
            expected = _expected(earlier, log)
        elif _read_alike(earlier, now, log):
            expected = _expected(earlier, now.log)
    fits = _fits(now, expected, complete_pairs(log) > fewest)
    amiss = fits is False or (expected is not None and expected.in_doubt)
    twice = before is not None and _second_misfit(log, now, before, amiss, prior)
    fits = None if twice and fits else fits
    suspect = _newly_suspect(now, before, int(log.line[-1]))
    aside = bool(now.pair_results.set_aside[-1])
    doubtful = amiss or twice or (aside and expected is not None)
    after = NO_STEP if doubtful else next_step(now, log.mount, time_s)
    verdict = _verdict(log, now, expected, fits, twice)
    told = (verdict, suspect, _counted(complete_pairs(log), fewest))
    text = " ".join(part for part in told if part)
    miss = None if expected is None else expected.miss_arcmin
    return now, Remark(
        told=text,
        fits=fits,
        miss_arcmin=miss,
        alarm=doubtful or bool(suspect),
        advice=None if doubtful or not _is_telling(now, fewest) else now.advice,
        next=after,
        is_doubtful=doubtful,
        asks_if_moved=twice,
    )


def _is_of_the_others(before: Fit, log: NightLog) -> bool:
    """Whether a fit is that of the log without its last pair, events and all."""
    pairs = before.pairs_read == complete_pairs(log) - 1
    return pairs and len(before.log.events) == len(log.events)


def _second_misfit(
    log: NightLog, now: Fit, before: Fit, amiss: bool, prior: Profile | None
) -> bool:
    """Whether neither the last pair nor the one before it fits what the earlier ones say.

    Both are held against a fit without either, since in one with the first misfit the second may
    pass for noise; that fit is made only where something is amiss.
    """
    amiss = amiss or bool(before.pair_results.set_aside[-1]) or fits_badly(before.solution)
    lines = np.arange(len(log))
    log = without_presses(log, logged_presses(log))
    earlier = log.select(lines < len(log) - 2)
    if not amiss or pairs_since_event(log) - 2 < FEWEST_TO_JUDGE or not earlier.has_both.any():
        return False
    if now.pair_results.cause[-1] == "log_typo" or now.pair_results.cause[-2] == "log_typo":
        return False
    of_earlier = fit(earlier, prior=prior)
    each = (_expected(of_earlier, log.select(lines < end)) for end in (len(log), len(log) - 1))
    return all(one.chance < CHANCE_OF_FITTING for one in each)


def _read_alike(before: Fit, now: Fit, log: NightLog) -> bool:
    """Whether both fits read the figures alike and the last pair is among those fitted."""
    meant = [
        tuple((one.finding, one.side) for one in fit.readings.taken_up) for fit in (before, now)
    ]
    return meant[0] == meant[1] and bool(now.log.line[-1] == log.line[-1])


def _expected(before: Fit, log: NightLog) -> _Expected:
    """Hold the last pair against a fit of the others.

    Its miss is normal with the covariance that the terms' uncertainty and the noise have together;
    the chance of one so large is averaged over the noise that may be.
    """
    model = replace(
        before.model, az_motion=float(log.az_motion[-1]), alt_motion=float(log.alt_motion[-1])
    )
    there = linearised_at(
        model,
        log.star_az_deg[-1:],
        log.star_alt_deg[-1:],
        log.reading_az_deg[-1:],
        log.reading_alt_deg[-1:],
    )
    miss, design = there.miss[0], there.design[0]
    variance = _noise_variances(before)
    spread, axes = np.linalg.eigh(design @ before.outlook.covariance @ design.T)
    total = np.maximum(spread, 0.0) + variance[:, None]
    chance = np.mean(np.exp(-0.5 * ((axes.T @ miss) ** 2 / total).sum(axis=1)))
    drawn = before.outlook.deviation @ design.T
    usual = np.sqrt(np.median((drawn**2).sum(axis=1) + 2.0 * variance))
    return _Expected(float(np.hypot(*miss)), float(usual), float(chance))


def _noise_variances(before: Fit) -> FloatArray:
    """The noise an axis that the other pairs leave possible (d,), arcmin²."""
    centring = before.log.mount.optics.centring_error_arcmin or 0.0
    return np.asarray(before.solution.posterior.draws_sigma**2 + centring**2)


def _fits(now: Fit, expected: _Expected | None, enough: bool) -> bool | None:
    if expected is None:
        return None
    pairs = now.pair_results
    aside = bool(pairs.set_aside[-1])
    unlikely = aside or expected.chance < CHANCE_OF_FITTING
    beyond = expected.miss_arcmin > 0.5 * _field_arcmin(now)
    if unlikely and (beyond or pairs.cause[-1] == "log_typo"):
        return False
    if not enough or expected.usual_arcmin > CANNOT_TELL_ARCMIN:
        return None
    return None if aside or expected.in_doubt else True


def _field_arcmin(now: Fit) -> float:
    """The eyepiece's field, a usual one where it is not stated."""
    return now.log.mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN


def _verdict(
    log: NightLog, now: Fit, expected: _Expected | None, fits: bool | None, twice: bool
) -> str:
    if expected is None:
        return "" if not log.events else "First pair since the event: nothing to judge it by."
    miss, usual = miss_words(expected.miss_arcmin), miss_words(expected.usual_arcmin)
    off = f"it is {miss} from where the other stars put it"
    if twice:
        head = "DOES NOT FIT" if fits is False else "In doubt"
        return f"{head}: {off}, the second in a row. {DID_IT_MOVE}"
    if fits:
        return f"It fits: {miss} off, and {usual} is usual."
    pairs = now.pair_results
    if fits is None:
        doubted = expected.in_doubt or bool(pairs.set_aside[-1])
        return f"In doubt: {off}, and {usual} is usual. {CHECK}." if doubted else ""
    if pairs.cause[-1] == "log_typo":
        return f"DOES NOT FIT: {off}. Is it a slip of the pen? {sentence(str(pairs.hint[-1]))}"
    ask = f"{CHECK}, and that it is the right star."
    if pairs_since_event(log) <= FEW_PAIRS:
        ask = f"{CHECK}. This star, or an earlier one, may be the wrong one."
    return f"DOES NOT FIT: {off}. {ask}"


def _newly_suspect(now: Fit, before: Fit | None, last_line: int) -> str:
    """Earlier lines that this pair has shown to be wrong."""
    known = {aside.line for aside in before.set_aside} if before is not None else set()
    new = [a for a in now.set_aside if a.line not in known and a.line != last_line]
    named = [
        f"Line {a.line}{f' ({a.target})' if a.target else ''} no longer fits: it is "
        f"{miss_words(a.miss_arcmin)} from where the others put it."
        for a in new
    ]
    return " ".join(named[:2])


def _counted(pairs: int, fewest: int) -> str:
    if pairs >= fewest:
        return f"{pairs_words(pairs)}."
    missing = fewest + 1 - pairs
    return f"{pairs_words(pairs)}. With {missing} more a wrong star will show."


def _is_telling(now: Fit, fewest: int) -> bool:
    """Whether there are pairs enough for advice, or it is one that a single star can give."""
    return complete_pairs(now.log) >= fewest or bool(set(now.advice.actions) & SEEN_AT_ONCE)
