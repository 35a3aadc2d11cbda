"""Words and figures of the verdict on the controller's entries.

Read `check.py` first: what is worded here was found there.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pointmodel.base.cautions import SUN
from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import chance_words, figure, miss_words
from pointmodel.base.wording import join
from pointmodel.entries.odds import POSSIBLE_ABOVE

if TYPE_CHECKING:
    from pointmodel.entries.answers import BelievedSolution
    from pointmodel.entries.result import CheckResult, Explanation

VERDICT_WORDS = {
    "agrees": "Date, time and place in the controller agree with the stars.",
    "cannot_tell": "This log cannot say whether the controller's entries are right.",
}
PLACES_WORDS = {
    "old_equinox": (
        "The controller works with places of the year 2000, not of the date: every star is off the "
        "same way, by more than 20′. An alignment on two stars takes most of that up."
    ),
}
OPEN_PLACE = (
    "The controller's entries do not go with the site in the mount file, and the stars cannot tell "
    "which of them is wrong."
)
UNSURE = (
    "The controller's date, time and place do not agree with the stars, and more than one slip may "
    "be behind it. What fits best:"
)
ENTRY_HEAD = ("What would explain it", "Holds", "Should hold", "Misses by", "Chance")
STALE_REMEDY = "Note them again at the centring, or log the go-to as commanded_time."
STALE_WORDS = (
    "Or no entry is wrong: commanded places noted some minutes before the centring look the same. "
    f"{STALE_REMEDY}"
)
SUN_WORDS = (
    "Until that is right the controller has the Sun in the wrong place too: do not trust its "
    f"warnings. {SUN}"
)
SHOWN_ABOVE = POSSIBLE_ABOVE


def verdict_words(result: CheckResult) -> str:
    """The verdict in one line; where an entry is wrong, that entry."""
    first = result.explanations[0]
    if result.verdict == "disagrees" and result.place_is_open:
        return OPEN_PLACE
    if result.verdict == "disagrees":
        return first.text if first.verdict == "likely" else f"{UNSURE} {first.text}"
    told = f"{VERDICT_WORDS[result.verdict]} {result.reason}"
    guessed = result.verdict == "cannot_tell" and first.entry != "agrees"
    return f"{told} What fits best: {first.text}" if guessed else told


def tie_words(result: CheckResult) -> str | None:
    """Entries that predict the same places, said and not broken; None where one stands alone."""
    if result.verdict == "agrees" or not result.tied:
        return None
    first = result.explanations[0]
    others = [one.brief for one in _tied(result)]
    return f"The stars cannot tell these apart: {join([first.brief, *others], 'or')}."


def _tied(result: CheckResult) -> Sequence[Explanation]:
    found = {one.entry: one for one in result.explanations if one.also is None}
    return [found[entry] for entry in result.tied]


def explanation_rows(result: CheckResult) -> list[tuple[str, ...]]:
    """One row an explanation that is not ruled out, and each that is tied with the first."""
    shown = [
        one
        for one in result.explanations
        if one.probability > SHOWN_ABOVE or (one.also is None and one.entry in result.tied)
    ]
    return [
        (
            one.brief,
            one.typed,
            one.meant,
            miss_words(one.misfit_arcmin),
            chance_words(one.probability),
        )
        for one in shown
    ]


def believed_words(result: CheckResult) -> str:
    """The sidereal time and latitude that the controller believes in; both answers of two."""
    answers = [_solution_words(solution) for solution in result.solutions[:2]]
    if len(answers) == 1:
        return f"Controller minus truth: {answers[0]}."
    if result.solutions[1].weight < SHOWN_ABOVE:
        return (
            f"Controller minus truth: {answers[0]}. These stars leave a second answer, which no "
            f"entry explains: {answers[1]}."
        )
    first, second = (
        f"{answer} ({chance_words(solution.weight)})"
        for answer, solution in zip(answers, result.solutions[:2], strict=True)
    )
    return f"Two answers fit. Controller minus truth: {first}; or {second}."


def _solution_words(solution: BelievedSolution) -> str:
    offset, latitude = solution.sidereal_offset_min, solution.latitude_offset_deg
    if abs(latitude.value) < 2.0:
        value, low, high = (f"{figure(60.0 * part, 1)}′" for part in latitude)
    else:
        value, low, high = (f"{figure(part, 2)}°" for part in latitude)
    return (
        f"sidereal time {figure(offset.value, 2)} min ({figure(offset.low, 2)} to "
        f"{figure(offset.high, 2)}), latitude {value} ({low} to {high})"
    )


def stale_words(result: CheckResult) -> str | None:
    """What is to be said of commands noted too early, beside the entry at fault."""
    if not result.could_be_stale or result.explanations[0].entry == "agrees":
        return None
    if result.stale is None:
        return STALE_WORDS
    least, most = figure(result.stale.least_min, 1), figure(result.stale.most_min, 1)
    return (
        f"Besides, the commanded places are {least} to {most} min older than the times logged. "
        f"{STALE_REMEDY}"
    )


def next_star_words(result: CheckResult) -> str | None:
    """Which star would settle it."""
    if result.next_star is None:
        return None
    star = result.next_star
    where = place_in_words(star.az_deg, star.alt_deg)
    return f"To settle it send the mount to {star.target}, {where}, and log that line too."


def star_remarks(result: CheckResult) -> list[str]:
    """What is to be said of single lines."""
    told = []
    for star in result.stars:
        if star.suspicion is None:
            continue
        probable = star.probable_target
        if probable and star.where:
            probable = f"{probable} ({star.where} of it)" if "," not in star.where else (
                f"{probable} ({star.where})"
            )  # fmt: skip
        if star.suspicion == "name":
            start = f"line {star.line}: the mount was not sent to {star.target}"
            end = f"but probably to {probable}" if probable else "nor to any star known here"
        else:
            start = f"line {star.line}: the star that was centred was not {star.target}"
            end = f"but probably {probable}" if probable else "or a figure is mistyped"
        told.append(f"{start}, {end}.")
    return told


def pairs_words(result: CheckResult) -> str:
    """How many lines counted, and whose names were unknown."""
    lines = f"{result.pairs_used} of {result.pairs_read} lines have a known name and a time"
    if result.unknown:
        lines += f"; unknown: {join(result.unknown[:5])}"
    return f"{lines}."
