"""What the mount file says was typed, held against what is right.

An entry that was demonstrably typed right is a poor explanation, one that was demonstrably typed
wrong a very good one: the first loses odds, the second gets a candidate of its own that predicts
exactly what was typed. The sky still decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from pointmodel.base.angles import parse_angle_deg, wrap_deg
from pointmodel.base.times import (
    DATE_ORDERS,
    TimeTextError,
    parse_clock_s,
    parse_date,
    parse_utc_offset_s,
)
from pointmodel.entries.catalogue import (
    DAY_S,
    HOUR_S,
    MINUTES_ENTRY,
    SIGN_ENTRY,
    Angle,
    Entry,
    EntryCandidate,
    Variant,
    angle_candidate,
    clock_candidate,
    minutes_mistaken,
)
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.odds import (
    STILL_AGREES_FACTOR,
    TYPED_RIGHT_FACTOR,
    TYPED_WRONG_ODDS,
)
from pointmodel.reading.mountfile import Entered

# Choices: what people round to when they type. 3′ moves no go-to by more than 3′; a clock is typed
# ahead and started at the full minute, or a minute late where half a day or a zone is wrong too.
SAME_ANGLE_DEG, SAME_CLOCK_S, NEAR_CLOCK_S = 0.05, 15.0, 90.0
_ZONE: tuple[Entry, ...] = ("time_zone", "zone_sign", "summer_time")
_CLOCK: tuple[Entry, ...] = ("clock", "am_pm", "utc_as_local")
_DATE: tuple[Entry, ...] = ("date", "day_month_swapped")


@dataclass(frozen=True)
class TypedEntry:
    """What one typed value tells: the entries that it speaks of, and the one that it makes wrong.

    `variants` limits `entries` to some ways of being wrong; empty: all. `wrong` is None where what
    was typed is right.
    """

    entries: tuple[Entry, ...]
    wrong: EntryCandidate | None
    variants: tuple[Variant, ...] = ()


def typed_entries(entered: Entered, right: EntryCircumstances) -> tuple[TypedEntry, ...]:
    """Every typed value that can be judged."""
    return (
        *_zone(entered, right),
        *_clock(entered, right),
        *_date(entered, right),
        *_angle(entered.latitude, "latitude", right.latitude_deg),
        *_angle(entered.longitude, "longitude", right.longitude_deg),
    )


def with_typed(
    candidates: Iterable[EntryCandidate], typed: Iterable[TypedEntry]
) -> tuple[EntryCandidate, ...]:
    """Candidates of one list with what is known of the typed values laid into their odds."""
    found = list(candidates)
    of_place = any(candidate.field == "latitude" for candidate in found)
    for told in typed:
        if of_place != (told.entries[0].startswith("latitude")):
            continue
        found = [
            replace(c, odds=c.odds * TYPED_RIGHT_FACTOR)
            if c.entry in told.entries and (not told.variants or c.variant in told.variants)
            else c
            for c in found
        ]
        if told.wrong is not None:
            found = [
                replace(c, odds=c.odds * STILL_AGREES_FACTOR) if c.entry == "agrees" else c
                for c in found
            ]
            found.append(told.wrong)
    return tuple(found)


def _zone(entered: Entered, right: EntryCircumstances) -> Iterator[TypedEntry]:
    """Zone and summer time, which a controller adds up."""
    flag = entered.summer_time
    if entered.utc_offset is None:
        if flag is None or right.summer is None:
            return
        wrong = None
        if flag != right.summer:
            wrong = _typed_wrong("summer_time", "zone", HOUR_S if right.summer else -HOUR_S, flag)
        yield TypedEntry(entries=("summer_time",), wrong=wrong, variants=("flag",))
        return
    held_s = parse_utc_offset_s(entered.utc_offset)
    if flag is None:
        known = held_s in (right.standard_s, right.offset_s)
        wrong = None if known else _wrong_zone(held_s, right.standard_s - held_s, right)
        yield TypedEntry(entries=("time_zone", "zone_sign"), wrong=wrong)
        return
    ahead_s = right.offset_s - held_s - HOUR_S * flag
    if not ahead_s:
        yield TypedEntry(entries=_ZONE, wrong=None, variants=("", "flag", "twice"))
        return
    if held_s == right.standard_s:
        wrong = _typed_wrong("summer_time", "zone", ahead_s, flag)
    elif flag and held_s == right.offset_s:
        wrong = replace(_typed_wrong("summer_time", "zone", ahead_s, True), variant="twice")
    else:
        wrong = _wrong_zone(held_s, ahead_s, right)
    yield TypedEntry(entries=_ZONE, wrong=wrong)


def _typed_wrong(
    entry: Entry, field: Literal["zone", "clock", "date"], ahead_s: float, held: float
) -> EntryCandidate:
    return clock_candidate(
        entry,
        field,
        odds=TYPED_WRONG_ODDS,
        ahead_s=ahead_s,
        held=float(held),
        variant="flag" if entry == "summer_time" else "",
    )


def _wrong_zone(held_s: float, ahead_s: float, right: EntryCircumstances) -> EntryCandidate:
    sign = held_s == -right.standard_s and held_s != 0.0
    return _typed_wrong("zone_sign" if sign else "time_zone", "zone", ahead_s, held_s)


def _clock(entered: Entered, right: EntryCircumstances) -> Iterator[TypedEntry]:
    """The clock, where the moment of typing is known."""
    if entered.time is None or entered.entered_at is None:
        return
    local = right.local
    true_s = local.hour * 3600.0 + local.minute * 60.0 + local.second
    ahead_s = (
        DAY_S / 360.0 * float(wrap_deg((parse_clock_s(entered.time) - true_s) * 360.0 / DAY_S))
    )
    wrong = None
    if abs(ahead_s) > SAME_CLOCK_S:
        entry: Entry = "clock"
        if abs(abs(ahead_s) - DAY_S / 2.0) < NEAR_CLOCK_S:
            entry = "am_pm"
            ahead_s = abs(ahead_s) if local.hour < 12 else -abs(ahead_s)
        elif right.offset_s and abs(ahead_s + right.offset_s) < NEAR_CLOCK_S:
            entry = "utc_as_local"
        wrong = _typed_wrong(entry, "clock", ahead_s, ahead_s)
    yield TypedEntry(entries=_CLOCK, wrong=wrong)


def _date(entered: Entered, right: EntryCircumstances) -> Iterator[TypedEntry]:
    """The date; without a moment of typing the evening before is as right as the day."""
    if entered.date is None:
        return
    today = right.local.date()
    days = [today]
    if entered.entered_at is None and right.local.hour < 12:
        days.append(today - timedelta(days=1))
    held = [
        found
        for order in ((entered.date_order,) if entered.date_order else DATE_ORDERS)
        if (found := date_held(entered.date, order, today.year)) is not None
    ]
    if not held:
        return
    off = min(((day - true).days for day in held for true in days), key=abs)
    wrong = None
    if off:
        swapped = any(
            (day.month, day.day) == (true.day, true.month) for day in held for true in days
        )
        entry: Entry = "day_month_swapped" if swapped else "date"
        wrong = _typed_wrong(entry, "date", off * DAY_S, off)
    yield TypedEntry(entries=_DATE, wrong=wrong)


def date_held(typed: str, order: str, year: int) -> date | None:
    """The date that a controller of this order reads; `year` where none was typed."""
    try:
        told, month, day = parse_date(typed, order)
        return date(told or year, month, day)
    except (TimeTextError, ValueError):
        return None


def _angle(typed: str | None, name: Angle, true_deg: float) -> Iterator[TypedEntry]:
    if typed is None:
        return
    sides = "NS" if name == "latitude" else "EW"
    held_deg = float(wrap_deg(parse_angle_deg(typed, decimal_comma=True, sides=sides)))
    sign, minutes = SIGN_ENTRY[name], MINUTES_ENTRY[name]
    wrong = None
    if abs(wrap_deg(held_deg - true_deg)) > SAME_ANGLE_DEG:
        entry: Entry = name
        variant: Variant = ""
        if abs(held_deg + true_deg) <= SAME_ANGLE_DEG:
            entry = sign
        else:
            for mistaken, angle_deg in minutes_mistaken(true_deg).items():
                if abs(held_deg - angle_deg) <= SAME_ANGLE_DEG / 3.0:
                    entry, variant = minutes, mistaken
        wrong = replace(
            angle_candidate(entry, TYPED_WRONG_ODDS, true_deg, held_deg), variant=variant
        )
    yield TypedEntry(entries=(name, sign, minutes), wrong=wrong)
