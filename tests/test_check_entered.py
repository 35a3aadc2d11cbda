"""What was typed into the controller, where the mount file says it: judged, quoted, and weighed."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest
from bench.controllers import Wrong
from test_check import FAULTS, HOUR_S, on_one_line, sent

import pointmodel as pm
from pointmodel.entries.notation import angle_like, clock_like, date_like

AT = "2031-05-17T19:50:00+10:00"
RIGHT: dict[str, Any] = {
    "latitude": "41 18 S",
    "longitude": "146 12 E",
    "date": "05/17",
    "date_order": "month-day",
    "time": "19:50:00",
    "entered_at": AT,
    "utc_offset": "+10:00",
    "summer_time": False,
}


@pytest.mark.parametrize(
    ("entry", "wrong", "typed", "held", "meant"),
    [
        ("summer_time", Wrong(-HOUR_S), {"summer_time": True}, "yes", "no"),
        ("time_zone", Wrong(2 * HOUR_S), {"utc_offset": "+08:00"}, "+08:00", "+10:00"),
        ("zone_sign", Wrong(20 * HOUR_S), {"utc_offset": "-10:00"}, "-10:00", "+10:00"),
        ("am_pm", Wrong(-12 * HOUR_S), {"time": "7:50:00 am"}, "7:50:00 am", "7:50:00 pm"),
        ("clock", Wrong(-480.0), {"time": "19:42:00"}, "19:42:00", "19:50:00"),
        ("utc_as_local", Wrong(-10 * HOUR_S), {"time": "09:50:00"}, "09:50:00", "19:50:00"),
        ("date", Wrong(86400.0), {"date": "05/18"}, "05/18", "05/17"),
        ("latitude_sign", Wrong(latitude_deg=82.6), {"latitude": "41 18 N"}, "41 18 N", "41 18 S"),
        ("longitude_sign", Wrong(longitude_deg=-292.4), {"longitude": "-146.2"}, "-146.2", "146.2"),
        ("latitude", Wrong(latitude_deg=1.5), {"latitude": "-39.8"}, "-39.8", "-41.3"),
        ("longitude", Wrong(longitude_deg=-2.0), {"longitude": "144:12"}, "144:12", "146:12"),
        (
            "latitude_minutes_as_decimals",
            Wrong(latitude_deg=0.12),
            {"latitude": "41.18S"},
            "41.18S",
            "41.30S",
        ),
    ],
)
def test_the_entry_is_quoted_as_it_was_typed_and_as_it_should_have_been(
    entry: str, wrong: Wrong, typed: dict[str, Any], held: str, meant: str
) -> None:
    result = pm.check(sent(wrong, entered=RIGHT | typed))
    first = result.explanations[0]
    assert (first.entry, first.typed, first.meant) == (entry, held, meant)
    assert result.verdict == "disagrees"
    # a typed place a degree from the mount file's may be right, and the mount file wrong
    asked = entry in ("latitude", "longitude")
    assert first.probability > (0.6 if asked else 0.9)
    assert result.remedy.startswith("Look up on a phone's map") == asked


def test_day_and_month_swapped_are_quoted_in_the_controller_s_order() -> None:
    days = (date(2031, 12, 5) - date(2031, 5, 12)).days
    typed = {"date": "12/05", "date_order": "month-day", "entered_at": "2031-05-12T19:50:00+10:00"}
    log = sent(Wrong(days * 86400.0), start="2031-05-12T20:00:00+10:00", entered=RIGHT | typed)
    first = pm.check(log).explanations[0]
    assert (first.entry, first.typed, first.meant) == ("day_month_swapped", "12/05", "05/12")


@pytest.mark.parametrize("entry", FAULTS)
def test_entries_typed_right_do_not_hide_what_the_sky_says(entry: str) -> None:
    wrong, _ = FAULTS[entry]
    result = pm.check(sent(wrong, entered=RIGHT))
    assert result.verdict != "agrees"
    assert result.explanations[0].entry in (entry, "clock", "longitude", "date")


def test_a_longitude_typed_right_leaves_the_clock() -> None:
    free = pm.check(sent(Wrong(-17 * 60.0)))
    told = pm.check(sent(Wrong(-17 * 60.0), entered={"longitude": "146 12 E"}))
    shares = [
        {one.entry: one.probability for one in result.explanations if one.also is None}["longitude"]
        for result in (free, told)
    ]
    assert shares[0] > 0.1
    assert shares[1] < 0.02


def test_a_wrong_longitude_in_the_mount_file_beats_the_clock() -> None:
    first = pm.check(sent(Wrong(-480.0), entered={"longitude": "144 12 E"})).explanations[0]
    assert (first.entry, first.typed, first.meant) == ("longitude", "144 12 E", "146 12 E")


def test_summer_time_counted_in_zone_and_flag_is_told_as_such() -> None:
    january = "2031-01-17T22:00:00+11:00"
    typed = {
        **RIGHT,
        "utc_offset": "+11:00",
        "summer_time": True,
        "date": "01/17",
        "entered_at": january,
        "time": "22:00:00",
    }
    names = ("Canopus", "Sirius", "Achernar", "Rigel")
    first = pm.check(sent(Wrong(-HOUR_S), names, january, entered=typed)).explanations[0]
    assert first.entry == "summer_time"
    assert "counts summer time twice" in first.text
    right = pm.check(
        sent(Wrong(), names, january, entered=typed | {"summer_time": False})
    )  # +11:00 without the flag comes to the same
    assert right.verdict == "agrees"


@pytest.mark.parametrize("typed", [{}, {"summer_time": False}])
def test_in_january_at_43_south_summer_time_should_be_yes(typed: dict[str, Any]) -> None:
    january = "2031-01-17T22:00:00+11:00"
    names = ("Canopus", "Sirius", "Achernar", "Rigel")
    first = pm.check(sent(Wrong(HOUR_S), names, january, entered=typed)).explanations[0]
    assert (first.entry, first.typed, first.meant) == ("summer_time", "no", "yes")
    assert first.text == (
        "The controller holds summer time: no. On 2031-01-17 it should be yes (Australia/Hobart)."
    )
    assert first.probability > 0.99


def test_summer_time_that_was_typed_wrong_is_an_hour_the_way_that_it_was_typed() -> None:
    stars = pm.check(sent(Wrong(-HOUR_S))).explanations[0]
    typed = pm.check(sent(Wrong(-HOUR_S), entered={"summer_time": True})).explanations[0]
    assert (stars.entry, typed.entry) == ("summer_time", "summer_time")
    assert typed.probability >= stars.probability > 0.99
    # what was typed alone makes it no likelier where the stars say the other way
    other = pm.check(sent(Wrong(HOUR_S), entered={"summer_time": True})).explanations
    assert not any(one.typed == "yes" and one.verdict == "likely" for one in other)


def test_all_typed_right_and_stars_that_agree_is_agreement() -> None:
    result = pm.check(sent(Wrong(), entered=RIGHT))
    assert result.verdict == "agrees"
    assert result.explanations[0].probability > 0.99


def test_a_clock_some_seconds_off_by_what_was_typed_still_agrees_with_its_stars() -> None:
    result = pm.check(sent(Wrong(-5.0), entered=RIGHT | {"time": "19:49:55"}))
    assert result.verdict == "agrees"


@pytest.mark.parametrize("key", ["latitude", "longitude", "date", "utc_offset", "summer_time"])
def test_one_typed_value_alone_is_enough_to_be_weighed(key: str) -> None:
    entered = {key: RIGHT[key]} | ({"date_order": "month-day"} if key == "date" else {})
    assert pm.check(sent(Wrong(), entered=entered)).verdict == "agrees"
    assert pm.check(sent(Wrong(-HOUR_S), entered=entered)).verdict == "disagrees"


@pytest.mark.parametrize(
    ("typed", "angle", "sides", "written"),
    [
        ("41 18 N", -41.3, "NS", "41 18 S"),
        ("N41°18′", -41.3, "NS", "S41°18′"),
        ("41.18", -41.3, "NS", "-41.30"),
        ("-41,180", 41.3, "NS", "41,300"),
        ("146:12:30", -146.20833, "EW", "-146:12:30"),
        ("146 12.5 E", -146.20833, "EW", "146 12.5 W"),
        ("7°05' W", 7.5, "EW", "7°30' E"),
        ("0 59 59", 0.99999, "NS", "1 00 00"),
    ],
)
def test_an_angle_is_written_as_the_typed_one_was(
    typed: str, angle: float, sides: str, written: str
) -> None:
    assert angle_like(typed, angle, sides) == written


@pytest.mark.parametrize(
    ("typed", "order", "written"),
    [
        ("05/17", "month-day", "03/09"),
        ("17.5.", "day-month", "2031-03-09"),
        ("17/5/31", "day-month", "09/3/31"),
        ("2031-05-17", "year-month-day", "2031-03-09"),
    ],
)
def test_a_date_is_written_as_the_typed_one_was(typed: str, order: str, written: str) -> None:
    assert date_like(typed, order, date(2031, 3, 9)).startswith(written[:5])


@pytest.mark.parametrize(
    ("typed", "hour", "written"),
    [
        (None, 21.0, "21:00"),
        ("9:00:00 pm", 21.5, "9:30:00 pm"),
        ("12:10 AM", 12.25, "12:15 pm"),
        ("20:52:10", 24.0 + 1.0 / 60.0, "00:01:00"),
        ("7:00", 23.9999, "00:00"),
    ],
)
def test_a_time_is_written_as_the_typed_one_was(
    typed: str | None, hour: float, written: str
) -> None:
    assert clock_like(typed, 3600.0 * hour) == written


def test_what_was_typed_is_never_changed() -> None:
    log = sent(Wrong(-HOUR_S), entered=RIGHT)
    before = log.mount.entered
    pm.check(log)
    assert log.mount.entered == before
    assert on_one_line("a\n b") == "a b"
    assert np.isfinite(log.time_s).all()
