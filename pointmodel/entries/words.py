"""Words and figures of the verdict on the controller's entries.

Read `check.py` first: what is worded here was found there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from pointmodel.base.cautions import SUN
from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import chance_words, figure, miss_words
from pointmodel.base.wording import join
from pointmodel.entries.odds import POSSIBLE_ABOVE

if TYPE_CHECKING:
    from pointmodel.entries.answers import BelievedSolution, Estimate
    from pointmodel.entries.result import CheckResult, Explanation

VERDICT_WORDS = {
    "agrees": "Date, time and site in the controller agree with the stars.",
    "cannot_tell": "This log cannot say whether the controller's entries are right.",
}
PLACES_WORDS = {
    "old_equinox": (
        "The controller works with places of the year 2000, not of today. So every star is off the "
        "same way, by more than 20′. An alignment on two stars makes up for most of that."
    ),
}
OPEN_PLACE = (
    "The controller's entries do not go with the site in the mount file. The stars cannot tell "
    "which of them is wrong."
)
UNSURE = (
    "The controller's date, time and site do not agree with the stars, and more than one slip may "
    "be behind it. This fits best:"
)
ENTRY_HEAD = ("What would explain it", "Holds", "Should hold", "Misses by", "Chance")
STALE_REMEDY = "Note them again at the centring, or log the go-to as commanded_time."
STALE_WORDS = (
    "Or no entry is wrong. Commanded places noted some minutes before the centring look the same. "
    f"{STALE_REMEDY}"
)
SUN_WORDS = (
    "Until that is right the controller has the Sun in the wrong place too. Do not trust its "
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
    return f"{told} This fits best: {first.text}" if guessed else told


def tie_words(result: CheckResult) -> str | None:
    """Entries that predict the same places, said and not broken; None where one stands alone."""
    if result.verdict == "agrees" or not result.tied:
        return None
    first = result.explanations[0]
    others = [one.brief for one in _tied(result)]
    return f"The stars cannot tell these apart: {', or '.join((first.brief, *others))}."


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
    """How far the stars call the controller's clock and latitude off; both answers of two."""
    answers = [_solution_words(solution) for solution in result.solutions[:2]]
    if len(answers) == 1:
        return f"By the stars {answers[0]}."
    if result.solutions[1].weight < SHOWN_ABOVE:
        return (
            f"By the stars {answers[0]}. They leave a second answer, which no entry explains. "
            f"By that {answers[1]}."
        )
    first, second = (
        f"({chance_words(solution.weight)}): {answer}"
        for answer, solution in zip(answers, result.solutions[:2], strict=True)
    )
    return f"Two answers fit. The likelier {first}. The other {second}."


def _solution_words(solution: BelievedSolution) -> str:
    """Clock and latitude as the stars have them; a longitude counts as a clock."""
    clock, latitude = solution.sidereal_offset_min, solution.latitude_offset_deg
    ways = ("too far north", "too far south")
    return (
        f"the controller's clock is {_off_words(clock, _span_words, ('fast', 'slow'))}. Its "
        f"latitude is {_off_words(latitude, _degrees_words, ways)}"
    )


def _off_words(off: Estimate, amount: Callable[[float], str], ways: tuple[str, str]) -> str:
    """`right to 3 s`, or `7.2 min fast (7.1 min to 7.4 min)`."""
    if off.low <= 0.0 <= off.high:
        return f"right to {amount(max(-off.low, off.high))}"
    ends = sorted((abs(off.low), abs(off.high)))
    way = ways[0] if off.value > 0.0 else ways[1]
    low, high = map(amount, ends)
    return f"{amount(abs(off.value))} {way}" + (f" ({low} to {high})" if low != high else "")


def _span_words(minutes: float) -> str:
    """A span of time: seconds below a minute and a half, hours from two hours on."""
    if minutes < 1.5:
        return f"{max(60.0 * minutes, 1.0):.0f} s"
    if minutes < 119.5:
        return f"{figure(minutes, 1 if minutes < 9.95 else 0)} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min"


def _degrees_words(size_deg: float) -> str:
    return miss_words(max(60.0 * size_deg, 0.1))


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
        lines += f". Not known: {join(result.unknown[:5])}"
    return f"{lines}."
