"""An explanation in the words of someone who looks at a hand controller: what it holds, what it
should hold. Read `findings.py` first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from pointmodel.base.angles import wrap_deg
from pointmodel.base.figures import figure
from pointmodel.base.times import format_utc_offset
from pointmodel.entries.catalogue import SIDEREAL_RATE, Candidate, Entry
from pointmodel.entries.circumstances import Circumstances
from pointmodel.entries.findings import Finding
from pointmodel.entries.notation import angle_like, angle_words, clock_like, date_like
from pointmodel.entries.typed import date_held
from pointmodel.reading.mountfile import Entered

MENU: Mapping[Entry, str] = {
    "summer_time": "summer time",
    "time_zone": "time zone",
    "zone_sign": "time zone",
    "utc_as_local": "time",
    "am_pm": "time",
    "clock": "time",
    "date": "date",
    "day_month_swapped": "date",
    "longitude_sign": "longitude",
    "longitude_minutes_as_decimals": "longitude",
    "longitude": "longitude",
    "latitude_sign": "latitude",
    "latitude_minutes_as_decimals": "latitude",
    "latitude": "latitude",
}


@dataclass(frozen=True)
class Worded:
    """What the controller holds, what it should hold, both in one sentence, and in a few words."""

    typed: str
    meant: str
    text: str
    brief: str


def worded(finding: Finding, right: Circumstances, entered: Entered) -> Worded:
    """The words of an explanation; of two entries at once the first, both in the sentence."""
    if finding.entry == "agrees":
        return Worded(
            "time and place as they are",
            "the same",
            "The controller's date, time and place agree with the stars.",
            "all entries right",
        )
    parts = []
    if finding.time.entry != "agrees":
        parts.append(_of_time(finding.time, finding.offset_min, right, entered))
    if finding.place.entry != "agrees":
        parts.append(_of_angle(finding.place, finding.latitude_off_arcmin / 60.0, right, entered))
    first = parts[0]
    if len(parts) == 1:
        return first
    return Worded(
        first.typed,
        first.meant,
        " ".join(part.text for part in parts),
        " and ".join(part.brief for part in parts),
    )


def _of_time(
    candidate: Candidate, offset_min: float, right: Circumstances, entered: Entered
) -> Worded:
    entry = candidate.entry
    if entry.startswith("longitude"):
        return _of_angle(candidate, float(wrap_deg(offset_min / 4.0)), right, entered)
    if entry == "summer_time":
        return _summer_time(candidate, right)
    if entry in ("time_zone", "zone_sign"):
        return _zone(candidate, right)
    if entry in ("date", "day_month_swapped"):
        return _date(candidate, right, entered)
    ahead_s = candidate.clock_s if candidate.shift is not None else _clock_s(offset_min)
    return _clock(entry, ahead_s, right, entered)


def _clock_s(offset_min: float) -> float:
    return 60.0 * offset_min / SIDEREAL_RATE


def _summer_time(candidate: Candidate, right: Circumstances) -> Worded:
    day = right.local.date().isoformat()
    if candidate.way == "twice":
        standard, total = format_utc_offset(right.standard_s), format_utc_offset(right.offset_s)
        held, should = f"{total} and summer time yes", f"{standard} and summer time yes"
        text = (
            f"The controller counts summer time twice: it holds the zone {total}, which has the "
            f"hour in it already, and summer time: yes. The zone should be {standard}."
        )
        return Worded(held, should, text, "summer time counted twice")
    if candidate.way == "clock":
        now = clock_like(None, _second_of_day(right))
        ahead = clock_like(None, _second_of_day(right) + 3600.0)
        text = (
            f"The time typed in still counts summer time: {ahead} where it was {now}. On {day} "
            f"there is none{_in_zone(right)}."
        )
        return Worded(ahead, now, text, "clock an hour ahead, as in summer time")
    held = "yes" if candidate.held else "no"
    should = "no" if candidate.held else "yes"
    text = f"The controller holds summer time: {held}. "
    if right.summer is None:
        text += f"It should be {should}, if that is what clocks at the site went by on {day}."
    elif not right.has_summer:
        text += f"It should be no: {right.zone_name} has none."
    else:
        text += f"On {day} it should be {should}{_in_zone(right)}."
    return Worded(held, should, text, f"summer time {held} instead of {should}")


def _in_zone(right: Circumstances) -> str:
    return f" ({right.zone_name})" if right.zone_name else ""


def _zone(candidate: Candidate, right: Circumstances) -> Worded:
    held, should = (format_utc_offset(s) for s in (candidate.held, right.standard_s))
    with_summer = (
        f", with summer time {'yes' if right.summer else 'no'}" if right.has_summer else ""
    )
    if right.summer is None:
        with_summer = ""
    if candidate.entry == "zone_sign":
        start = f"The controller holds the zone {held}, the sign the wrong way round"
    elif candidate.held == 0.0:
        start = f"The controller holds the zone {held}, as if it had never been set"
    else:
        start = f"The controller holds the zone {held}"
    text = f"{start}: it should be {should}{with_summer}{_in_zone(right)}."
    return Worded(held, should, text, f"time zone {held} instead of {should}")


def _second_of_day(right: Circumstances) -> float:
    local = right.local
    return local.hour * 3600.0 + local.minute * 60.0 + local.second


def _clock(entry: Entry, ahead_s: float, right: Circumstances, entered: Entered) -> Worded:
    """A time of day: what the clock showed at the moment of typing, else at the first star."""
    like = entered.time
    if entry == "am_pm" and like is None:
        like = "9:00 pm"
    now_s = _second_of_day(right)
    held, should = clock_like(like, now_s + ahead_s), clock_like(like, now_s)
    if like is not None and entered.entered_at is not None and entry != "clock":
        held = like
    if entry == "am_pm":
        text = f"The controller holds {held}, where it should be {should}."
        return Worded(held, should, text, f"{held} instead of {should}")
    if entry == "utc_as_local":
        text = (
            f"The controller was given UTC ({held}) where it asks for local time: it should be "
            f"{should}, with the zone {format_utc_offset(right.standard_s)}."
        )
        return Worded(held, should, text, "UTC typed as local time")
    amount = f"{_span_words(ahead_s)} {'fast' if ahead_s > 0 else 'slow'}"
    text = f"The controller's clock is {amount}: it shows {held} when it is {should}."
    return Worded(held, should, text, f"clock {amount}")


def _span_words(seconds: float) -> str:
    size = abs(seconds)
    if size < 45.0:
        return f"{figure(size, 0)} s"
    if size < 5400.0:
        return f"{figure(size / 60.0, 1)} min"
    hours, minutes = divmod(round(size / 60.0), 60)
    return f"{hours} h {minutes:02d} min"


def _date(candidate: Candidate, right: Circumstances, entered: Entered) -> Worded:
    day = right.local.date()
    other = day + timedelta(days=round(candidate.held))
    if candidate.entry == "day_month_swapped" and (other.day, other.month) != (day.month, day.day):
        day = _typed_the_evening_before(day)
        other = day + timedelta(days=round(candidate.held))
    held, should = other.isoformat(), day.isoformat()
    typed, order = entered.date, entered.date_order
    if typed is not None and order is not None and date_held(typed, order, day.year) == other:
        held, should = typed, date_like(typed, order, day)
    if candidate.entry == "day_month_swapped":
        text = (
            f"The controller has day and month the other way round: it holds "
            f"{other.isoformat()} (year-month-day), where it should be {day.isoformat()}."
        )
        if held != other.isoformat():
            text += f" Typed {held}; {should} is right."
        return Worded(held, should, text, "day and month swapped")
    days = round(candidate.held)
    amount = f"{abs(days)} day{'s' if abs(days) > 1 else ''} {'ahead' if days > 0 else 'behind'}"
    text = f"The controller holds the date {held}, {amount}: it should be {should}."
    return Worded(held, should, text, f"date {amount}")


def _typed_the_evening_before(day: date) -> date:
    return day - timedelta(days=1)


def _of_angle(
    candidate: Candidate, off_deg: float, right: Circumstances, entered: Entered
) -> Worded:
    place = candidate.field == "latitude"
    name, sides = ("latitude", "NS") if place else ("longitude", "EW")
    true_deg = right.latitude_deg if place else right.longitude_deg
    raw = entered.latitude if place else entered.longitude
    held_deg = true_deg + off_deg
    held_deg = held_deg if place else float(wrap_deg(held_deg))
    exact = candidate.shift is not None
    decimals = exact and candidate.way == "decimals"
    like = raw or (f"{abs(held_deg):.2f} {sides[0]}" if decimals else None)
    if like is None:
        held, should = angle_words(held_deg, sides), angle_words(true_deg, sides)
    else:
        held, should = (angle_like(like, angle, sides) for angle in (held_deg, true_deg))
    toward = ("north" if off_deg > 0 else "south") if place else ("east" if off_deg > 0 else "west")
    start = f"The controller holds {name} {held}"
    if candidate.entry.endswith("sign"):
        text = f"{start}, on the wrong side: it should be {should}."
        return Worded(held, should, text, f"{name} {held} instead of {should}")
    if candidate.entry.endswith("decimals"):
        minutes, hundredths = angle_words(true_deg, sides), f"{abs(true_deg):.2f}°"
        how = "minutes were typed as decimals" if decimals else "decimals were typed as minutes"
        text = f"{start}: {how}. It should be {should}: {minutes} is {hundredths}."
        return Worded(held, should, text, f"{name} {held} instead of {should}")
    size = abs(off_deg)
    amount = f"{figure(size, 1)}°" if size >= 0.995 else f"{figure(60.0 * size, 0)}′"
    text = f"{start}, {amount} too far {toward}: it should be {should}."
    return Worded(held, should, text, f"{name} {amount} too far {toward}")
