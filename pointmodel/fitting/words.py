"""Plain words for what a fit found, shared by the terminal text, the pictures and the page.

Read first: `terms.py` for the terms, `results.py` for what is worded, `figures.py` for the figures.
"""

from __future__ import annotations

import math

from pointmodel.advising.result import LeftOut
from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import (
    UNIT_SUFFIX,
    decimals_for,
    degrees_minutes,
    figure,
    miss_range_words,
    miss_words,
    range_words,
)
from pointmodel.base.wording import capital, sentence
from pointmodel.diagnosis.evidence import limit_words
from pointmodel.diagnosis.kinds import cause_titles
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.results import TermEstimate
from pointmodel.fitting.showable import Showable
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount.remedies import ACTIONS, REMEDIES
from pointmodel.mount.terms import TERMS, spoken

STATUS = {
    "determined": "known",
    "weak": "roughly known",
    "not_determined": "not known",
    "fixed": "held",
}

VERDICT = {"likely": "likely", "possible": "possible", "open": "open", "ruled_out": "ruled out"}

FORECAST_HEAD = (
    "The mount",
    "Typical miss",
    "Uncertainty of that",
    "In eyepiece",
    "95 of 100 within",
)


NOT_THE_MIRRORS = "Collimation: how square the tube is to its axis. It is not about the mirrors."
SHOWN_IN_DEGREES_TOO_ARCMIN = 120.0
HELD_DECIMALS = 2
SAME_FIGURE = 0.9  # two misses nearer than a tenth read as one


def cause_words(code: str) -> str:
    """Return a cause in plain words."""
    return cause_titles()[code]


def remedy_words(code: str) -> str:
    """How go-to stands once a remedy was done, in plain words."""
    return REMEDIES[code].once_done


def term_title(term: TermEstimate) -> str:
    """The term as it is spoken of, with the line after which a slip happened."""
    return capital(_in_a_sentence(term))


def _in_a_sentence(term: TermEstimate) -> str:
    named = spoken(term.name)
    return named if term.after_line is None else f"{named}, after line {term.after_line}"


def meaning(term: TermEstimate) -> str:
    """What the term's sign says about the mount, without capital or full stop."""
    if term.status == "not_determined":
        return "this night cannot tell"
    if term.status == "fixed":
        return "held at this value, as asked"
    if term.low < 0 < term.high:
        small = term.status == "determined"
        return "too small to tell which way" if small else "which way is not certain"
    known = TERMS[term.name]
    words = known.positive if term.value >= 0 else known.negative
    if term.unit == "arcmin" and abs(term.value) >= SHOWN_IN_DEGREES_TOO_ARCMIN:
        words += f", by {degrees_minutes(abs(term.value) / 60)}"
    return words


def remark(term: TermEstimate) -> str:
    """What to know beside the term's value; for an unknown term only what its name may hide."""
    told_nothing = term.status in ("not_determined", "fixed")
    hidden = told_nothing and term.name != "collimation"
    return "" if hidden else TERMS[term.name].note


def most_words(cause: Cause) -> str:
    """Up to which size a cause could be there unseen."""
    ends = [abs(end) for end in (cause.low, cause.high) if end is not None]
    return f"up to {limit_words(max(ends), cause.unit or '')}" if ends else "any size"


def left_out_words(one: LeftOut) -> str:
    """A remedy that is not advised, and why."""
    return f"{sentence(ACTIONS[one.action].order)} {sentence(one.why)}"


def unknown_terms_words(fit: Showable) -> str | None:
    """The terms that the night leaves unknown, in one sentence; None where it knows all."""
    unknown = [t for t in fit.term_estimates if t.status == "not_determined"]
    if not unknown:
        return None
    names = ", ".join(_in_a_sentence(term) for term in unknown)
    told = f"Not known from this night: {names}. Only the ranges can be given."
    is_among = any(term.name == "collimation" for term in unknown)
    return f"{told} {TERMS['collimation'].note}" if is_among else told


def pairs_used(fit: Showable) -> int:
    """Pairs that the fit rests on."""
    return len(fit.pair_results.line) - len(fit.set_aside)


def pairs_words(fit: Showable) -> str:
    """How many pairs were read, used and set aside."""
    read, aside = fit.pairs_read, len(fit.set_aside)
    return (
        f"{read} pair{'' if read == 1 else 's'} read, {pairs_used(fit)} used, "
        f"{aside or 'none'} set aside"
    )


def realign_words(fit: Showable) -> str | None:
    """Where the two stars of a good alignment stand, and what a poor choice of them costs."""
    realign = forecast_of(fit, "realign")
    if realign is None or len(realign.stars) < 2:
        return None
    good = " and ".join(place_in_words(*star) for star in realign.stars)
    text = f"The two good stars to align on: {good}."
    if realign.median_pair_rms_arcmin is None or realign.bad_pair_rms_arcmin is None:
        return text
    poor = " and ".join(place_in_words(*star) for star in realign.bad_stars)
    return (
        f"{text} A middling pair leaves {miss_words(realign.median_pair_rms_arcmin)}. A poor one "
        f"leaves {miss_words(realign.bad_pair_rms_arcmin)}, such as {poor}."
        f"{_of_the_other_kind(realign)}"
    )


def _of_the_other_kind(realign: RemedyForecast) -> str:
    """What the same stars leave if the controller learns more from them, where that differs."""
    other = realign.with_altitude_zero_rms_arcmin
    if other is None or other > SAME_FIGURE * realign.rms_arcmin:
        return ""
    return (
        " That is for a controller that works out a rotation and nothing else. One that works out "
        f"an altitude zero as well would leave {miss_words(other)}. If you know which yours is, "
        "write it in mount.toml: solves, under [alignment]."
    )


def remarks(fit: Showable) -> list[str]:
    """What there is to remark, in whole sentences.

    How few pairs there are is said in a paragraph of its own; where no fit may speak nothing is
    said of it.
    """
    untold = ("few_pairs", "exact_figures") if fit.readings.stops else ("few_pairs",)
    return [sentence(notice.text) for notice in fit.warnings if notice.code not in untold]


def few_pairs_words(used: int) -> str | None:
    """What a short log leaves unknown; None where there are pairs enough."""
    if used > 5:
        return None
    count = f"Only {used} pair{'' if used == 1 else 's'}. "
    if used <= 3:
        return count + (
            "So few cannot show a bad line, nor how well you centre. The ranges below rest on what "
            "small mounts are usually like. Centre a few more stars, high and low, all around the "
            "sky."
        )
    return count + (
        "If one line were bad, nobody could tell which. That is why the ranges are wide. "
        "Two or three more stars, high and low, would narrow them much."
    )


def forecast_of(fit: Showable, remedy: str) -> RemedyForecast | None:
    """The forecast for one remedy, None where the fit holds none."""
    return next((f for f in fit.forecasts if f.remedy == remedy), None)


def noise_words(fit: Showable) -> list[str]:
    """The noise, what it is made of, and what would tell more."""
    noise = fit.noise
    words = [
        f"One centring is off by about {miss_words(noise.sigma_arcmin)} in each direction "
        f"(95 % range {miss_range_words(noise.low, noise.high)})."
    ]
    if noise.scatter_arcmin is None or noise.centring_arcmin is None:
        words.append(
            "How much of that is the hand at the eyepiece and how much the mount is not known. "
            "All of it is counted as the mount's, to be on the safe side. To part them, write "
            "centring_error under [optics] in mount.toml."
        )
    else:
        words.append(
            f"Of that, {miss_words(noise.centring_arcmin)} is the hand at the eyepiece, as stated, "
            f"and {miss_words(noise.scatter_arcmin)} the mount itself."
        )
    if noise.readout_step_arcsec >= 1:
        words.append(f"The readout counts in steps of {figure(noise.readout_step_arcsec, 0)}″.")
    return words


def cured_words(fit: Showable) -> str:
    """Misses of the log itself, before and after the model."""
    return (
        f"The log typically misses by {miss_words(fit.before_rms_arcmin)}. With the terms taken "
        f"out {miss_words(fit.residual_rms_arcmin)} is left."
    )


def value_words(term: TermEstimate) -> str:
    """A term with its standard error, if it has one; a dash where the night does not know it."""
    if term.status == "not_determined" or not math.isfinite(term.value):
        return "—"
    if term.status == "fixed":
        return f"{figure(term.value, HELD_DECIMALS)}{UNIT_SUFFIX.get(term.unit, '')}"
    decimals = decimals_for(term.standard_error, term.unit)
    suffix = UNIT_SUFFIX.get(term.unit, "")
    value = f"{figure(term.value, decimals)}{suffix}"
    if not math.isfinite(term.standard_error):
        return value
    return f"{value} ± {figure(term.standard_error, decimals)}{suffix}"


def term_range_words(term: TermEstimate) -> str:
    """A term's 95 % interval, rounded as its value is; a dash where it is held at a value."""
    if term.status == "fixed":
        return "—"
    decimals = decimals_for(term.standard_error, term.unit)
    return range_words(term.low, term.high, term.unit, decimals)
