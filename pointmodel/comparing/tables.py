"""A comparison of nights in plain words, shared by the terminal's text and the page.

Read `comparing/results.py` for what is worded, `figures.py` for the figures. Nothing is worked out
here.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from pointmodel.base.figures import (
    chance_words,
    decimals_for,
    degrees_minutes,
    figure,
    miss_range_words,
    miss_words,
    range_words,
)
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.wording import capital, join
from pointmodel.mount.terms import spoken

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import (
        ComparedNight,
        ComparedTerm,
        Interval,
        NightValue,
    )

Row = tuple[str, ...]

# the mount's own first: in this order they are shown
TITLE = {
    name: capital(spoken(name))
    for name in (
        "collimation",
        "non_perpendicularity",
        "altitude_index",
        "tilt_north",
        "tilt_east",
        "azimuth_index",
    )
}
KIND = {
    "mount": "the mount's own",
    "setup": "new each night",
    "changed": "changed",
    "cannot_tell": "not known",
}
KIND_ORDER = ("changed", "cannot_tell", "mount", "setup")
POINTS_WORDS = "With so many nights no ranges are drawn."
BARS_WORDS = (
    "Bars hold the truth 95 times in 100. Long bars on every night move together, so a step "
    "between nights can be sure all the same."
)
NIGHTS_HEAD = ("Night", "Log", "Start", "Pairs", "Noise", "As logged", "Left by the fit")
NIGHTS_WORDS = (
    "Noise: how far one centring is off, in each direction. As logged, left by the fit: typical "
    "misses (RMS). A turn of the whole azimuth circle is left out."
)
TERMS_HEAD = ("Term", "Kind", "Sure", "Value", "Night to night")
URGENT = ("skipped", "other_mounts")
MOST_NIGHTS_IN_TEXT = 24
MOST_NIGHTS_IN_WORDS = 40
ANYHOW_ARCMIN = 1800.0
IN_DEGREES_FROM_ARCMIN = 120.0
WORTH_SAYING = 0.1


def ordered_terms(result: CompareResult) -> list[ComparedTerm]:
    """The terms as they matter: what changed first, then what is not told, steady, new."""
    places = list(TITLE)
    return sorted(result.terms, key=lambda t: (KIND_ORDER.index(t.kind), places.index(t.name)))


def nights_words(result: CompareResult) -> str:
    """How many nights, from when to when."""
    count = f"{len(result.nights):,} nights"
    starts = [night.start[:10] for night in result.nights if night.start]
    if not starts:
        return count
    return f"{count}, {min(starts)} to {max(starts)}"


def night_words(result: CompareResult, name: str) -> str:
    """A night by its number and name: `night 4 (2032-02-10)`."""
    ids = [night.id for night in result.nights]
    return f"night {ids.index(name) + 1} ({name})"


def start_words(start: str | None) -> str:
    """Day and minute at which a night began."""
    return start[:16].replace("T", " ") if start else "not logged"


def day_words(start: str | None, same_year: bool) -> str:
    """A night's date in few letters: `3 Feb`, or `Feb 2032` among nights of several years."""
    if not start:
        return ""
    day = datetime.fromisoformat(start)
    month = day.strftime("%b")
    return f"{day.day} {month}" if same_year else f"{month} {day.year}"


def kind_words(term: ComparedTerm) -> str:
    """A term's kind; where it is not told, what it may be."""
    if term.kind != "cannot_tell":
        return KIND[term.kind]
    may_be = sorted((k for k in term.kinds if k[1] > WORTH_SAYING), key=lambda pair: -pair[1])
    chances = join([f"{KIND[kind]} {chance_words(chance)}" for kind, chance in may_be], "or")
    return f"not known: {chances}"


def sure_words(term: ComparedTerm) -> str:
    """How sure the kind is; a dash where none is told."""
    return "—" if term.kind == "cannot_tell" else chance_words(term.kind_probability)


def error_decimals(low: float, high: float) -> int:
    """Decimals of a value with these 95 % limits."""
    return decimals_for((high - low) / (2.0 * NORMAL_95))


def value_words(term: ComparedTerm) -> str:
    """What the nights share with its 95 % range; a dash where each night has its own."""
    if term.kind == "setup":
        return "—"
    common = term.common
    decimals = error_decimals(common.low, common.high)
    ends = range_words(common.low, common.high, "arcmin", decimals)
    return f"{figure(common.value, decimals)}′ ({ends})"


def spread_words(term: ComparedTerm) -> str:
    """How much the term differs from night to night, with its 95 % range."""
    spread = term.between_night_sd
    if is_anyhow(spread):
        return "a new way each night"
    return f"{miss_words(spread.value)} ({miss_range_words(spread.low, spread.high)})"


def is_anyhow(spread: Interval) -> bool:
    """Whether nights differ by so much that the value was plainly nobody's care."""
    return spread.value >= ANYHOW_ARCMIN


def term_row(term: ComparedTerm) -> Row:
    """A term's row under `TERMS_HEAD`."""
    return (
        TITLE[term.name],
        kind_words(term),
        sure_words(term),
        value_words(term),
        spread_words(term),
    )


def night_rows(nights: Sequence[ComparedNight]) -> list[Row]:
    """One row a night under `NIGHTS_HEAD`."""
    return [
        (
            str(number),
            night.id,
            start_words(night.start),
            str(night.pairs) if night.pairs == night.pairs_read else _pairs_words(night),
            miss_words(night.sigma_arcmin),
            miss_words(night.logged_rms_arcmin),
            miss_words(night.after_rms_arcmin),
        )
        for number, night in enumerate(nights, 1)
    ]


def _pairs_words(night: ComparedNight) -> str:
    return f"{night.pairs} of {night.pairs_read}"


def nights_table(nights: Sequence[ComparedNight]) -> tuple[Row, list[Row]]:
    """Head and rows of the nights, without their starts where names hold the dates already."""
    rows = night_rows(nights)
    if all(night.start is None or night.start[:10] in night.id for night in nights):
        start = NIGHTS_HEAD.index("Start")
        head, *rows = [(*row[:start], *row[start + 1 :]) for row in (NIGHTS_HEAD, *rows)]
        return head, rows
    return NIGHTS_HEAD, rows


def value_cell(value: NightValue) -> tuple[str, str]:
    """A night's value of a term, and its 95 % range."""
    if abs(value.value) >= IN_DEGREES_FROM_ARCMIN:
        middle, low, high = (degrees_minutes(v / 60) for v in (value.value, value.low, value.high))
        return middle, f"{low} to {high}"
    decimals = error_decimals(value.low, value.high)
    return (
        f"{figure(value.value, decimals)}′",
        range_words(value.low, value.high, "arcmin", decimals),
    )


def misses_words(result: CompareResult) -> str:
    """Typical misses as logged and left by the nights' fits, least to most."""
    before = [night.logged_rms_arcmin for night in result.nights]
    after = [night.after_rms_arcmin for night in result.nights]
    left = least_to_most(after)
    return f"Misses as logged: {least_to_most(before)}. Each night's own fit leaves {left}."


def noise_words(result: CompareResult) -> str:
    """The noise of the nights, least to most."""
    noise = [night.sigma_arcmin for night in result.nights]
    return f"One centring is off by {least_to_most(noise)} in each direction."


def many_nights_words(result: CompareResult) -> str:
    """What stands for the table of nights where there are too many to list."""
    told = f"{nights_words(result)}. {noise_words(result)} {misses_words(result)}"
    return f"{told} To see every night: --json."


def least_to_most(sizes: Sequence[float]) -> str:
    """Sizes by their extremes."""
    least, most = miss_words(min(sizes)), miss_words(max(sizes))
    return least if least == most else f"{least} to {most}"
