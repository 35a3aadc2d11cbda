"""What a comparison says in words: the sentence first, and what nights say of habits.

Read `results.py` first. Figures are those of the result; nothing is judged here that is not there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.base.figures import chance_words, decimals_for, figure, miss_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.wording import capital, join
from pointmodel.comparing.pooling import pooled_noise, trend
from pointmodel.comparing.results import Change, ComparedNight, ComparedTerm
from pointmodel.comparing.summary import NightSummary
from pointmodel.mount.priors import LIKELY_ABOVE
from pointmodel.mount.terms import spoken_together

ORDINALS_UP_TO = 20
TREND_NIGHTS, TREND_ERRORS = 5, 3.0
TILTS = ("tilt_north", "tilt_east")


def summary_words(
    nights: Sequence[ComparedNight], terms: Sequence[ComparedTerm], changes: Sequence[Change]
) -> str:
    """Return one sentence: what changed, or that nothing did and what is the mount's own."""
    if changes:
        first = max(changes, key=lambda c: c.term in ("collimation", "non_perpendicularity"))
        told = change_words(first, [night.id for night in nights])
        rest = len(changes) - 1
        if not rest:
            return told
        more = "One more change stands" if rest == 1 else f"{rest} more changes stand"
        return f"{told} {more} below."
    by_kind: dict[str, list[str]] = {}
    for term in terms:
        by_kind.setdefault(term.kind, []).append(spoken_together(term.name))
    parts = [
        f"{join(list(dict.fromkeys(by_kind[kind])))} {said}"
        for kind, said in _KIND_WORDS.items()
        if kind in by_kind
    ]
    return f"No change is seen over {len(nights)} nights: {'; '.join(parts)}."


_KIND_WORDS = {
    "mount": "the same each night",
    "setup": "new each night",
    "changed": "moved, at a time that these nights do not tell",
    "cannot_tell": "not known well enough to say",
}


def change_words(change: Change, ids: Sequence[str]) -> str:
    """Return a change as a sentence: the likely event, or both terms where two may be meant."""
    error = (change.high - change.low) / (2.0 * NORMAL_95)
    decimals = decimals_for(error)
    size = f"{figure(abs(change.difference), decimals)}′ ± {figure(error, decimals)}′"
    when = f"between {_two_nights(change, ids)}"
    name = spoken_together(change.term)
    if change.probability_this_term >= LIKELY_ABOVE:
        return f"{capital(name)} moved by {size} {when}. {change.likely_event}"
    rivals = [f"{name} ({chance_words(change.probability_this_term)})"]
    rivals += [
        f"{spoken_together(one.term)} ({chance_words(one.probability)})"
        for one in change.alternatives
    ]
    about = miss_words(abs(change.difference))
    return (
        f"Something in the tube or fork moved by about {about} {when}: {join(rivals, 'or')}. These "
        "stars cannot tell. Stars near the zenith and near the horizon would."
    )


def _two_nights(change: Change, ids: Sequence[str]) -> str:
    if len(ids) > ORDINALS_UP_TO:
        return f"{change.after} and {change.before}"
    after, before = (_ordinal(list(ids).index(one) + 1) for one in (change.after, change.before))
    return f"the {after} and the {before} night"


def _ordinal(number: int) -> str:
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}th" if number in (11, 12, 13) else f"{number}{ending}"


def habit_words(
    summaries: Sequence[NightSummary], terms: Sequence[ComparedTerm]
) -> tuple[str, ...]:
    """Return what the nights say of levelling, zeroing and centring, a sentence each."""
    by_name = {term.name: term for term in terms}
    told = [
        _levelling(summaries, by_name),
        _zeroing(by_name["altitude_index"]),
        _centring(summaries),
    ]
    return tuple(words for words in told if words)


def _levelling(summaries: Sequence[NightSummary], terms: dict[str, ComparedTerm]) -> str | None:
    if any(summary.is_aligned for summary in summaries):
        return None
    term = terms["tilt_north"]
    if term.kind == "mount":
        return "The base stands as it stood: its lean is the same each night."
    if term.kind != "setup":
        return None
    sd = term.between_night_sd
    told = (
        f"Your base is usually {miss_words(sd.value)} off level in each direction "
        f"({miss_words(sd.low)} to {miss_words(sd.high)}). A clock set differently each night "
        "would look the same."
    )
    lean = np.array([np.hypot(*(summary.fitted[4:6])) for summary in summaries])
    error = np.array([_lean_variance(summary) for summary in summaries])
    return told + _trend_words(np.log(np.maximum(lean, 0.1)), error / np.maximum(lean, 0.1) ** 2)


def _lean_variance(summary: NightSummary) -> float:
    covariance = np.linalg.pinv(summary.information, hermitian=True)
    return float(0.5 * (covariance[4, 4] + covariance[5, 5]))


def _zeroing(term: ComparedTerm) -> str | None:
    if term.kind != "setup":
        return None
    return (
        f"The altitude zero is new each night: it differs by "
        f"about {miss_words(term.between_night_sd.value)}."
    )


def _centring(summaries: Sequence[NightSummary]) -> str:
    pooled = pooled_noise(summaries)
    sigma = float(np.exp(pooled.mean))
    told = (
        f"One centring is off by about {miss_words(sigma)} in each direction, what the mount "
        "adds included."
    )
    value = np.array([summary.log_sigma_mean for summary in summaries])
    return told + _trend_words(value, np.array([summary.log_sigma_sd**2 for summary in summaries]))


def _trend_words(log_value: np.ndarray, variance: np.ndarray) -> str:
    """Return whether something grows or shrinks over the nights; nothing where it is not plain."""
    if log_value.size < TREND_NIGHTS:
        return ""
    slope, error = trend(log_value, np.maximum(variance, 1e-6))
    if abs(slope) < TREND_ERRORS * error:
        return ""
    factor = float(np.exp(abs(slope) * (log_value.size - 1)))
    way = "grew" if slope > 0 else "fell"
    return f" Over these nights it {way} to {figure(factor if slope > 0 else 1.0 / factor)} times."
