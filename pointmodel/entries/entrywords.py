"""An explanation in the words of someone who looks at a hand controller: what it holds, what it
should hold, and what to set. Read `findings.py` first.

Every order is a whole sentence, and none sets what is so already: where two figures would read
alike they are written more finely.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from pointmodel.base.angles import wrap_deg
from pointmodel.base.figures import figure
from pointmodel.base.times import format_utc_offset
from pointmodel.entries.catalogue import AGREES, SIDEREAL_RATE, Entry, EntryCandidate
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.findings import Finding
from pointmodel.entries.notation import angle_words, clock_like, date_like, two_angles
from pointmodel.entries.observed import MINUTES_A_DEGREE
from pointmodel.entries.result import Worded
from pointmodel.entries.sitewords import mount_file_worded
from pointmodel.entries.typed import date_held
from pointmodel.reading.mountfile import Entered

MENU: Mapping[Entry, str] = {
    "summer_time": "summer time",
    "time_zone": "the time zone",
    "zone_sign": "the time zone",
    "utc_as_local": "the time",
    "am_pm": "the time",
    "clock": "the time",
    "date": "the date",
    "day_month_swapped": "the date",
    "longitude_sign": "the longitude",
    "longitude_minutes_as_decimals": "the longitude",
    "longitude": "the longitude",
    "latitude_sign": "the latitude",
    "latitude_minutes_as_decimals": "the latitude",
    "latitude": "the latitude",
    "mount_file": "the site in the mount file",
}
IN_MENU = "In the controller's menu"
SHOWN_IN_SECONDS_S = 90.0  # below that two times to the minute read alike, or nearly
FROM_PHONE = f"{IN_MENU} set the time again, from a phone"


def worded(finding: Finding, right: EntryCircumstances, entered: Entered) -> Worded:
    """The words of an explanation; of two entries at once the first, both in the sentence."""
    if finding.entry == AGREES.entry:
        return Worded(
            typed="right",
            meant="right",
            text="The controller's date, time and site agree with the stars.",
            brief="all entries right",
            order="Leave the controller's date, time and site as they are.",
        )
    parts = []
    if finding.time.entry not in ("agrees", "mount_file"):
        parts.append(_of_time(finding.time, finding.offset_min, right, entered))
    if finding.place.entry not in ("agrees", "mount_file"):
        parts.append(_of_angle(finding.place, finding.latitude_off_arcmin / 60.0, right, entered))
    if "mount_file" in (finding.time.entry, finding.place.entry):
        parts.append(mount_file_worded(finding, right))
    first = parts[0]
    if len(parts) == 1:
        return first
    return Worded(
        typed=first.typed,
        meant=first.meant,
        text=" ".join(part.text for part in parts),
        brief=" and ".join(part.brief for part in parts),
        order=" ".join(part.order for part in parts),
    )


def _of_time(
    candidate: EntryCandidate, offset_min: float, right: EntryCircumstances, entered: Entered
) -> Worded:
    entry = candidate.entry
    if entry.startswith("longitude"):
        off_deg = float(wrap_deg(offset_min / MINUTES_A_DEGREE))
        return _of_angle(candidate, off_deg, right, entered)
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


def _summer_time(candidate: EntryCandidate, right: EntryCircumstances) -> Worded:
    if candidate.variant == "twice":
        return _summer_time_twice(right)
    if candidate.variant == "clock":
        return _summer_time_in_clock(right)
    day = right.local.date().isoformat()
    held = "yes" if candidate.held else "no"
    should = "no" if candidate.held else "yes"
    text = f"The controller holds summer time: {held}. "
    if right.summer is None:
        text += f"It should be {should}, if clocks at the site said so on {day}."
    elif not right.has_summer:
        text += f"It should be no: {right.zone_name} has none."
    else:
        text += f"On {day} it should be {should}{_in_zone(right)}."
    order = f"{IN_MENU} set summer time to {should}."
    if right.summer is None:
        order = f"Did clocks at the site show summer time on {day}? "
        order += f"If {should}, set summer time to {should} in the controller's menu."
    return Worded(
        typed=held,
        meant=should,
        text=text,
        brief=f"summer time {held} instead of {should}",
        order=order,
    )


def _summer_time_twice(right: EntryCircumstances) -> Worded:
    standard, total = format_utc_offset(right.standard_s), format_utc_offset(right.offset_s)
    return Worded(
        typed=f"{total} and summer time yes",
        meant=f"{standard} and summer time yes",
        text=(
            f"The controller counts summer time twice. Its zone {total} has the hour in it "
            f"already, and summer time is yes as well. The zone should be {standard}."
        ),
        brief="summer time counted twice",
        order=f"{IN_MENU} set the time zone to {standard}. Leave summer time at yes.",
    )


def _summer_time_in_clock(right: EntryCircumstances) -> Worded:
    now_s = _second_of_day(right)
    now, ahead = clock_like(None, now_s), clock_like(None, now_s + 3600.0)
    return Worded(
        typed=ahead,
        meant=now,
        text=(
            f"The time typed in still has summer time in it: {ahead} where it was {now}. On "
            f"{right.local.date().isoformat()} there is no summer time{_in_zone(right)}."
        ),
        brief="clock an hour ahead, as in summer time",
        order=f"{FROM_PHONE}: local time. Leave summer time at no.",
    )


def _in_zone(right: EntryCircumstances) -> str:
    return f" ({right.zone_name})" if right.zone_name else ""


def _zone(candidate: EntryCandidate, right: EntryCircumstances) -> Worded:
    held, should = (format_utc_offset(s) for s in (candidate.held, right.standard_s))
    flag = None if right.summer is None or not right.has_summer else right.summer
    summer = "" if flag is None else f", with summer time {'yes' if flag else 'no'}"
    start = f"The controller holds the zone {held}"
    if candidate.entry == "zone_sign":
        start += ", with the wrong sign"
    elif candidate.held == 0.0:
        start += ", as if it had never been set"
    return Worded(
        typed=held,
        meant=should,
        text=f"{start}. It should be {should}{summer}{_in_zone(right)}.",
        brief=f"time zone {held} instead of {should}",
        order=f"{IN_MENU} set the time zone to {should}{summer}.",
    )


def _second_of_day(right: EntryCircumstances) -> float:
    local = right.local
    return local.hour * 3600.0 + local.minute * 60.0 + local.second


def _clock(entry: Entry, ahead_s: float, right: EntryCircumstances, entered: Entered) -> Worded:
    """A time of day: what the clock showed at the moment of typing, else at the first star."""
    like = entered.time
    if entry == "am_pm" and like is None:
        like = "9:00 pm"
    now_s = _second_of_day(right)
    held, should = clock_like(like, now_s + ahead_s), clock_like(like, now_s)
    if abs(ahead_s) < SHOWN_IN_SECONDS_S and (like or "").count(":") < 2:
        like = "9:00:00 pm" if "m" in (like or "").lower() else "21:00:00"
        held, should = clock_like(like, now_s + ahead_s), clock_like(like, now_s)
    typed_then = entered.time is not None and entered.entered_at is not None and entry != "clock"
    if typed_then and entered.time is not None:
        held = entered.time
    if entry == "am_pm":
        return Worded(
            typed=held,
            meant=should,
            text=f"The controller holds {held}; it should be {should}.",
            brief=f"{held} instead of {should}",
            order=f"{FROM_PHONE}: local time, with am or pm as the phone has it.",
        )
    if entry == "utc_as_local":
        zone = format_utc_offset(right.standard_s)
        return Worded(
            typed=held,
            meant=should,
            text=(
                f"The controller was given UTC ({held}), but it asks for local time. It should be "
                f"{should}, with the zone {zone}."
            ),
            brief="UTC typed as local time",
            order=f"{FROM_PHONE}: local time, not UTC. Leave the time zone at {zone}.",
        )
    amount = f"{_span_words(ahead_s)} {'fast' if ahead_s > 0 else 'slow'}"
    return Worded(
        typed=held,
        meant=should,
        text=f"The controller's clock is {amount}: it shows {held} when it is {should}.",
        brief=f"clock {amount}",
        order=f"{FROM_PHONE}: local time.",
    )


def _span_words(seconds: float) -> str:
    size = abs(seconds)
    if size < 45.0:
        return f"{figure(size, 0)} s"
    if size < 5400.0:
        return f"{figure(size / 60.0, 1)} min"
    hours, minutes = divmod(round(size / 60.0), 60)
    return f"{hours} h {minutes:02d} min"


def _date(candidate: EntryCandidate, right: EntryCircumstances, entered: Entered) -> Worded:
    day = right.local.date()
    days = round(candidate.held)
    other = day + timedelta(days=days)
    swapped = candidate.entry == "day_month_swapped"
    if swapped and (other.day, other.month) != (day.month, day.day):
        day = _typed_the_evening_before(day)
        other = day + timedelta(days=days)
    held, should = other.isoformat(), day.isoformat()
    typed, form = entered.date, entered.date_order
    if typed is not None and form is not None and date_held(typed, form, day.year) == other:
        held, should = typed, date_like(typed, form, day)
    amount = f"{abs(days)} day{'s' if abs(days) > 1 else ''} {'ahead' if days > 0 else 'behind'}"
    text = f"The controller holds the date {held}, {amount}. It should be {should}."
    if swapped:
        text = (
            f"The controller has day and month the other way round. It holds "
            f"{other.isoformat()} (year-month-day); it should be {day.isoformat()}."
        )
        if held != other.isoformat():
            text += f" What was typed is {held}; {should} is right."
    return Worded(
        typed=held,
        meant=should,
        text=text,
        brief="day and month swapped" if swapped else f"date {amount}",
        order=(
            f"{IN_MENU} set the date of the evening. For this log it is {should}, which is "
            f"{day.day} {day:%B} {day.year}."
        ),
    )


def _typed_the_evening_before(day: date) -> date:
    return day - timedelta(days=1)


def _of_angle(
    candidate: EntryCandidate, off_deg: float, right: EntryCircumstances, entered: Entered
) -> Worded:
    place = candidate.field == "latitude"
    name, sides = ("latitude", "NS") if place else ("longitude", "EW")
    true_deg = right.latitude_deg if place else right.longitude_deg
    raw = entered.latitude if place else entered.longitude
    held_deg = true_deg + off_deg if place else float(wrap_deg(true_deg + off_deg))
    decimals = candidate.variant == "decimals"
    like = raw or (f"{abs(held_deg):.2f} {sides[0]}" if decimals else None)
    held, should = two_angles(like, held_deg, true_deg, sides)
    start = f"The controller holds {name} {held}"
    brief = f"{name} {held} instead of {should}"
    if candidate.entry.endswith("sign"):
        text = f"{start}, on the wrong side. It should be {should}."
    elif candidate.entry.endswith("decimals"):
        text = f"{start}: {_mistaken_words(candidate.variant, should, true_deg, sides)}"
    else:
        amount = _off_words(off_deg, place)
        text, brief = f"{start}, {amount}. It should be {should}.", f"{name} {amount}"
    return Worded(
        typed=held,
        meant=should,
        text=text,
        brief=brief,
        order=f"{IN_MENU} set the {name} to {should}.",
    )


def _mistaken_words(variant: str, should: str, true_deg: float, sides: str) -> str:
    """How minutes and decimals were taken for each other, and both ways to write the right one."""
    how = (
        "minutes were typed as decimals"
        if variant == "decimals"
        else "decimals were typed as minutes"
    )
    minutes, hundredths = angle_words(true_deg, sides), f"{abs(true_deg):.2f}°"
    return f"{how}. It should be {should}: {minutes} is {hundredths}."


def _off_words(off_deg: float, north: bool) -> str:
    """How far an angle is off, and toward where: `1.5° too far north`."""
    size = abs(off_deg)
    amount = f"{figure(size, 1)}°" if size >= 0.995 else f"{figure(60.0 * size, 0)}′"
    side = ("north", "south") if north else ("east", "west")
    return f"{amount} too far {side[0] if off_deg > 0 else side[1]}"
