"""The entries that people get wrong, each with the shift that it predicts and how common it is.

Two lists: what moves the controller's sidereal time (clock, date, zone, longitude), and what moves
its latitude. `odds.py` says how common each is, and why so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal

import numpy as np

from pointmodel.entries.believed import wrap_min
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.observed import MINUTES_A_DEGREE
from pointmodel.entries.odds import (
    AGREES_ODDS,
    AM_PM_ODDS,
    AM_PM_OTHER_SIDE_ODDS,
    ANGLE_ODDS,
    CLOCK_ODDS,
    DATE_ODDS,
    DAY_MONTH_SWAPPED_ODDS,
    MINUTES_ODDS,
    SIGN_ODDS,
    SUMMER_TIME_ODDS,
    UTC_AS_LOCAL_ODDS,
    YEAR_ODDS,
    ZONE_AT_ZERO_ODDS,
    ZONE_FALLS_OFF_H,
    ZONE_FRACTIONS,
    ZONE_ODDS,
    ZONE_SIGN_ODDS,
)

Entry = Literal[
    "agrees",
    "summer_time",
    "time_zone",
    "zone_sign",
    "utc_as_local",
    "am_pm",
    "clock",
    "date",
    "day_month_swapped",
    "longitude_sign",
    "longitude_minutes_as_decimals",
    "longitude",
    "latitude_sign",
    "latitude_minutes_as_decimals",
    "latitude",
    "mount_file",
]
Field = Literal["none", "zone", "clock", "date", "longitude", "latitude"]
Angle = Literal["latitude", "longitude"]
InMountFile = Literal["latitude", "longitude", "latitude and longitude", "utc_offset"]
Variant = Literal["", "flag", "twice", "clock", "sign", "decimals", "minutes", "exchanged"]
SIGN_ENTRY: Mapping[Angle, Entry] = {
    "latitude": "latitude_sign",
    "longitude": "longitude_sign",
}
MINUTES_ENTRY: Mapping[Angle, Entry] = {
    "latitude": "latitude_minutes_as_decimals",
    "longitude": "longitude_minutes_as_decimals",
}
SIDEREAL_RATE = 1.00273791  # sidereal minutes a minute of clock time: Meeus, eq. 12.4
HOUR_S, DAY_S = 3600.0, 86400.0
# A slip smaller than this cannot be told from none (a choice): a clock 9 s off sets no go-to wrong
# by more than a controller's own roughness and a person's centring.
LEAST_MIN, LEAST_ARCMIN = 0.15, 2.0
_ZONES_S = np.arange(-12 * HOUR_S, 14 * HOUR_S + 1, 900.0)  # all that the tz database has


@dataclass(frozen=True)
class EntryCandidate:
    """One way in which an entry may be wrong.

    `shift` is what it predicts, believed minus true: minutes of sidereal time, or arcminutes of
    latitude; None: anything. `clock_s` is by how much the controller's own UTC is ahead, seconds.
    `held` is what the controller would hold, in the entry's own unit: seconds east of UTC for a
    zone, degrees for an angle, days since the true date for a date, seconds ahead for a clock; of
    the entry mount_file what the mount file should hold. `variant` tells ways of one entry apart.
    """

    entry: Entry
    field: Field
    odds: float
    shift: float | None
    clock_s: float = 0.0
    held: float = 0.0
    variant: Variant = ""


AGREES = EntryCandidate(entry="agrees", field="none", odds=AGREES_ODDS, shift=0.0)


def least_shift_min(resolution_min: float) -> float:
    """The smallest shift that a log can tell from none: what times noted so coarsely may hide."""
    return max(LEAST_MIN, resolution_min)


def sidereal_candidates(right: EntryCircumstances) -> tuple[EntryCandidate, ...]:
    """What moves the controller's sidereal time, and that nothing does."""
    found = [
        AGREES,
        *_summer_times(right),
        *_zones(right),
        *_clocks(right),
        *_dates(right.local),
        *_angles("longitude", right.longitude_deg),
    ]
    return tuple(found)


def latitude_candidates(right: EntryCircumstances) -> tuple[EntryCandidate, ...]:
    """What moves the controller's latitude, and that nothing does."""
    found = [
        AGREES,
        *_angles("latitude", right.latitude_deg),
    ]
    return tuple(found)


def that_show(candidates: Iterable[EntryCandidate], least: float) -> tuple[EntryCandidate, ...]:
    """Those whose shift can be told from none, and that nothing is wrong; `least` in its unit."""
    return tuple(c for c in candidates if c.entry == "agrees" or _shows(c.shift, least))


def clock_candidate(
    entry: Entry,
    field: Field,
    *,
    odds: float,
    ahead_s: float,
    held: float = 0.0,
    variant: Variant = "",
) -> EntryCandidate:
    """An entry that puts the controller's UTC ahead by so many seconds, and its sidereal time."""
    return EntryCandidate(
        entry=entry,
        field=field,
        odds=odds,
        shift=wrap_min(ahead_s / 60.0 * SIDEREAL_RATE),
        clock_s=ahead_s,
        held=held,
        variant=variant,
    )


def angle_candidate(entry: Entry, odds: float, true_deg: float, held_deg: float) -> EntryCandidate:
    """A latitude or longitude that the controller holds instead of the true one."""
    if entry.startswith("longitude"):
        shift = wrap_min(MINUTES_A_DEGREE * (held_deg - true_deg))
        return EntryCandidate(entry=entry, field="longitude", odds=odds, shift=shift, held=held_deg)
    shift = 60.0 * (held_deg - true_deg)
    return EntryCandidate(entry=entry, field="latitude", odds=odds, shift=shift, held=held_deg)


def _shows(shift: float | None, least: float) -> bool:
    return shift is None or abs(shift) >= least


def _summer_times(right: EntryCircumstances) -> Iterator[EntryCandidate]:
    """An hour off: the flag on the wrong side, or summer time counted twice or in the clock."""
    for ahead_s in (HOUR_S, -HOUR_S):
        variant: Variant = "flag"
        odds = SUMMER_TIME_ODDS["unknown" if right.summer is None else "flag"]
        if right.summer is not None and (ahead_s > 0) != right.summer:
            odds, variant = SUMMER_TIME_ODDS["hour_in_zone_or_clock"], "clock"
            if right.summer:
                variant = "twice"
        yield clock_candidate(
            "summer_time",
            "zone",
            odds=odds,
            ahead_s=ahead_s,
            held=float(ahead_s < 0),
            variant=variant,
        )


def _zones(right: EntryCircumstances) -> Iterator[EntryCandidate]:
    """Another zone; one left at zero counts apart, one an hour off is a summer time."""
    standard_s = right.standard_s
    hours = (_ZONES_S - standard_s) / HOUR_S
    quarters = np.rint(hours * 4.0).astype(int) % 4
    odds = np.exp(-np.abs(hours) / ZONE_FALLS_OFF_H) * np.array(ZONE_FRACTIONS)[quarters]
    odds[(np.abs(hours) < 0.1) | (np.abs(np.abs(hours) - 1.0) < 0.1)] = 0.0
    if standard_s:
        odds[-standard_s == _ZONES_S] = 0.0  # that is zone_sign
    odds = ZONE_ODDS * odds / odds.sum()
    odds[_ZONES_S == 0.0] += ZONE_AT_ZERO_ODDS * (standard_s != 0.0)
    for held_s, share in zip(_ZONES_S.tolist(), odds.tolist(), strict=True):
        if share:
            ahead_s = standard_s - held_s
            yield clock_candidate("time_zone", "zone", odds=share, ahead_s=ahead_s, held=held_s)
    if standard_s:
        yield clock_candidate(
            "zone_sign",
            "zone",
            odds=ZONE_SIGN_ODDS,
            ahead_s=2.0 * standard_s,
            held=-standard_s,
        )


def _clocks(right: EntryCircumstances) -> Iterator[EntryCandidate]:
    yield EntryCandidate(entry="clock", field="clock", odds=CLOCK_ODDS, shift=None)
    if right.offset_s:
        yield clock_candidate(
            "utc_as_local", "clock", odds=UTC_AS_LOCAL_ODDS, ahead_s=-right.offset_s
        )
    half_day_s = DAY_S / 2.0
    for ahead_s in (half_day_s, -half_day_s):
        likely = (ahead_s > 0) == (right.local.hour < 12)
        odds = AM_PM_ODDS if likely else AM_PM_OTHER_SIDE_ODDS
        yield clock_candidate("am_pm", "clock", odds=odds, ahead_s=ahead_s)


def _dates(local: datetime) -> Iterator[EntryCandidate]:
    today = local.date()
    for days, odds in DATE_ODDS.items():
        for ahead in (days, -days):
            yield _date_candidate("date", odds, ahead)
    for ahead in _years_off(today):
        yield _date_candidate("date", YEAR_ODDS, ahead)
    for typed_on, share in _typing_days(local):
        if typed_on.day <= 12 and typed_on.day != typed_on.month:
            swapped = date(typed_on.year, typed_on.day, typed_on.month)
            ahead = (swapped - typed_on).days
            yield _date_candidate("day_month_swapped", DAY_MONTH_SWAPPED_ODDS * share, ahead)


def _date_candidate(entry: Entry, odds: float, days: int) -> EntryCandidate:
    """A date that is ahead by so many days."""
    return clock_candidate(entry, "date", odds=odds, ahead_s=days * DAY_S, held=days)


def _typing_days(local: datetime) -> tuple[tuple[date, float], ...]:
    """The days on which the date may have been typed: before noon also the evening before."""
    today = local.date()
    if local.hour >= 12:
        return ((today, 1.0),)
    return ((today, 0.5), (today - timedelta(days=1), 0.5))


def _years_off(today: date) -> Iterator[int]:
    """Days to the same date a year later and earlier."""
    for years in (1, -1):
        day = min(today.day, 28) if today.month == 2 else today.day
        other = date(today.year + years, today.month, day)
        yield (other + timedelta(days=today.day - day) - today).days


def _angles(name: Angle, true_deg: float) -> Iterator[EntryCandidate]:
    """An angle with the wrong sign, minutes and decimals mistaken for each other, or anything."""
    yield angle_candidate(SIGN_ENTRY[name], SIGN_ODDS[name], true_deg, -true_deg)
    for variant, held_deg in minutes_mistaken(true_deg).items():
        found = angle_candidate(MINUTES_ENTRY[name], MINUTES_ODDS[variant], true_deg, held_deg)
        yield replace(found, variant=variant)
    yield EntryCandidate(entry=name, field=name, odds=ANGLE_ODDS[name], shift=None)


def minutes_mistaken(true_deg: float) -> dict[Variant, float]:
    """What is held where 41°18′ was typed as 41.18 ("decimals"), or 41.30 as 41°30′ ("minutes")."""
    size, side = abs(true_deg), -1.0 if true_deg < 0 else 1.0
    degrees, minutes = divmod(round(size * 60.0), 60)
    found: dict[Variant, float] = {"decimals": side * (degrees + minutes / 100.0)}
    degrees, hundredths = divmod(round(size * 100.0), 100)
    if hundredths < 60:
        found["minutes"] = side * (degrees + hundredths / 60.0)
    return found
