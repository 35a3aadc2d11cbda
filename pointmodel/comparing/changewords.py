"""What changed between nights, what to do about it, and what the nights say of each term, in words.

Read `tables.py` first. Nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from pointmodel.base.figures import chance_words, figure, miss_words, range_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.wording import join
from pointmodel.comparing.tables import (
    KIND,
    MOST_NIGHTS_IN_WORDS,
    TITLE,
    Row,
    error_decimals,
    is_anyhow,
    kind_words,
    least_to_most,
    night_words,
    ordered_terms,
    sure_words,
    value_words,
)
from pointmodel.mount.priors import LIKELY_ABOVE
from pointmodel.mount.terms import spoken_together

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import CarryOver, Change, ComparedTerm

HEED_NEXT = {
    "collimation": (
        "Seat the tube in its saddle the same way each time, and mark where that is. Adjusting "
        "the mirrors changes the collimation too."
    ),
    "non_perpendicularity": (
        "Hold the tube and look for something loose in the fork or the altitude axis. Setting "
        "the axes square is a matter for the maker or a workshop."
    ),
    "altitude_index": "Zero the mount on a star at the start of the night.",
    "azimuth_index": "Zero the mount on a star at the start of the night.",
    "tilt_north": "Look at the feet and at what they stand on: something was turned or sank.",
    "tilt_east": "Look at the feet and at what they stand on: something was turned or sank.",
}
TELL_APART_ADVICE = (
    "It was {names}. To tell them apart, centre stars near the zenith and near the horizon too "
    "the next night."
)
SETUP_ADVICE = (
    "New each night: {names}. Zero on a star first. Then log two or three pairs, and fit them "
    "with the profile of these nights."
)
ALIGNED_ADVICE = (
    "New with each alignment: {names}. After it log two or three pairs, and fit them with the "
    "profile of these nights."
)
UNSURE_ADVICE = (
    "Not known from these nights: {names}. More nights, or more pairs a night, would tell."
)
PROFILE_ADVICE = (
    "Keep the profile of these nights, and start the next fit from it. Two or three stars then "
    "tell more."
)
PROFILE_COMMANDS = (
    "pointmodel compare LOG LOG… --profile-out mount-profile.json",
    "pointmodel fit LOG --prior mount-profile.json",
)
SAID_HEAD = ("Term", "Sure", "Over the nights")
LEAN = ("tilt_north", "tilt_east")
OF_THE_TUBE = ("collimation", "non_perpendicularity")


def steps(result: CompareResult) -> list[str]:
    """What to do now, most pressing first; `PROFILE_ADVICE` comes after it."""
    told = []
    if result.changes:
        told.append(_valid_from_words(result))
    told += list(dict.fromkeys(_heed_words(change) for change in result.changes))
    by_kind = {kind: _names(t for t in result.terms if t.kind == kind) for kind in KIND}
    if by_kind["cannot_tell"]:
        told.append(UNSURE_ADVICE.format(names=join(by_kind["cannot_tell"])))
    if by_kind["setup"]:
        advice = ALIGNED_ADVICE if result.is_aligned else SETUP_ADVICE
        told.append(advice.format(names=join(by_kind["setup"])))
    return told


def _valid_from_words(result: CompareResult) -> str:
    """From which night on the newest state of the mount holds."""
    places = {night.id: place for place, night in enumerate(result.nights)}
    newest = max(result.changes, key=lambda change: places[change.before])
    return (
        f"What was fitted before {night_words(result, newest.before)} no longer holds. Use fits "
        "from then on. The profile already does so."
    )


def _heed_words(change: Change) -> str:
    """What to look at after a change; where it is not told which term moved, how to tell."""
    if change.alternatives and change.probability_this_term < LIKELY_ABOVE:
        rivals = [change.term, *(one.term for one in change.alternatives)]
        return TELL_APART_ADVICE.format(
            names=join([spoken_together(name) for name in rivals], "or")
        )
    return HEED_NEXT[change.term]


def _names(terms: Iterable[ComparedTerm]) -> list[str]:
    return list(dict.fromkeys(spoken_together(term.name) for term in terms))


def change_title(result: CompareResult, change: Change) -> str:
    """A change in a few words: which term, how far (95 % range), between which nights."""
    after, before = (night_words(result, one) for one in (change.after, change.before))
    decimals = error_decimals(change.low, change.high)
    size = f"{_signed(change.difference, decimals)}′"
    ends = range_words(change.low, change.high, "arcmin", decimals)
    return f"{TITLE[change.term]} {size} ({ends}), between {after} and {before}"


def change_lines(result: CompareResult) -> list[str]:
    """One paragraph a change: what, when, the likely event and how sure."""
    return [
        " ".join((f"{change_title(result, change)}. {event_words(change)}", *doubt_words(change)))
        for change in result.changes
    ]


def step_words(change: Change) -> str:
    """The size of a step with its standard error and sign."""
    decimals = error_decimals(change.low, change.high)
    error = figure((change.high - change.low) / (2.0 * NORMAL_95), decimals)
    return f"{_signed(change.difference, decimals)}′ ± {error}′"


def _signed(value: float, decimals: int) -> str:
    return f"{'+' if value > 0 else ''}{figure(value, decimals)}"


def event_words(change: Change) -> str:
    """The likely event, as a question to the person who was there."""
    event = change.likely_event.strip()
    return f"{event[:1].upper()}{event[1:]}"


def doubt_words(change: Change) -> list[str]:
    """How sure a change is: that something changed at all, and that it was this term."""
    told = [
        f"The chance that nothing changed is {chance_words(change.probability_unchanged)}. This "
        "allows for having looked at every term and night."
    ]
    if change.alternatives:
        rivals = join(
            [
                f"{spoken_together(one.term)} ({chance_words(one.probability)})"
                for one in change.alternatives
            ],
            "or",
        )
        told.append(
            f"If something did, it was {spoken_together(change.term)} "
            f"({chance_words(change.probability_this_term)}) or {rivals}."
        )
        if change.probability_this_term < LIKELY_ABOVE:
            told.append("Stars near the zenith and near the horizon would tell which.")
    return told


def changes_of(result: CompareResult, term: ComparedTerm) -> list[Change]:
    """The changes of a term; the two of the lean are one vector and change together."""
    together = LEAN if term.name in LEAN else (term.name,)
    return [change for change in result.changes if change.term in together]


def term_words(result: CompareResult, term: ComparedTerm) -> str:
    """What the nights say of a term, in one or two short sentences."""
    moves = changes_of(result, term)
    if moves:
        since = f" Since then {value_words(term)}." if term.kind == "changed" else ""
        return " ".join(_moved_words(result, term, change) for change in moves) + since
    if term.kind == "changed":
        return "It moved, but these nights do not tell when."
    if term.kind == "mount":
        return f"It is the same on all nights: {value_words(term)}."
    if term.kind == "setup":
        if is_anyhow(term.between_night_sd):
            return "The mount faces a new way each night."
        return f"It differs by about {miss_words(term.between_night_sd.value)} from night to night."
    words = kind_words(term)
    return f"{words[0].upper()}{words[1:]}."


def _moved_words(result: CompareResult, term: ComparedTerm, change: Change) -> str:
    numbers = [night.id for night in result.nights]
    after, before = (numbers.index(one) + 1 for one in (change.after, change.before))
    size = f"by {step_words(change)}" if change.term == term.name else "with the rest of the lean"
    return (
        f"It moved {size} between nights {after} and {before} (chance of no change: "
        f"{chance_words(change.probability_unchanged)})."
    )


def said_rows(result: CompareResult) -> list[Row]:
    """One row a term under `SAID_HEAD`; the two of the lean in one where they read the same."""
    rows: list[Row] = [
        (TITLE[term.name], sure_words(term), term_words(result, term))
        for term in ordered_terms(result)
    ]
    north, east = (next(r for r in rows if r[0] == TITLE[name]) for name in LEAN)
    if north[1:] == east[1:]:
        rows[rows.index(north)] = ("Lean, north and east", *north[1:])
        rows.remove(east)
    return rows


def carry_over_words(result: CompareResult) -> str:
    """How well one night's tube terms serve another: within what stayed, and across a change."""
    if len(result.nights) > MOST_NIGHTS_IN_WORDS:
        return ""
    within: list[CarryOver] = []
    across: list[CarryOver] = []
    for one in result.carry_over:
        (across if is_across(result, one) else within).append(one)
    if not within and not across:
        return ""
    told = "With the tube's terms of another night the pairs of a night miss by"
    if not across:
        return f"{told} {_extremes(within)}."
    if not within:
        return f"{told} {_extremes(across)}, with a change between the two nights."
    return (
        f"{told} {_extremes(within)} if nothing changed between the two nights. Across a change "
        f"they miss by {_extremes(across)}."
    )


def _extremes(group: Sequence[CarryOver]) -> str:
    return least_to_most([one.rms_arcmin for one in group])


def is_across(result: CompareResult, one: CarryOver) -> bool:
    """Whether something of the tube changed between the two nights, or may have."""
    places = {night.id: place for place, night in enumerate(result.nights)}
    early, late = sorted((places[one.train], places[one.test]))
    return any(
        early < places[change.before] and places[change.after] < late
        for change in result.changes
        if change.term in OF_THE_TUBE
    )
