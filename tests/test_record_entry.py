"""What is typed at the telescope: places, motions, names, events, moments."""

from __future__ import annotations

from datetime import datetime

import pytest

from pointmodel.base.times import TimeTextError
from pointmodel.reading.mountfile import read_mount
from pointmodel.recording import names
from pointmodel.recording.entry import (
    EntryError,
    is_one_angle,
    looks_like_figures,
    parse_place,
    take_motions,
)
from pointmodel.recording.words import event_meant, moment_meant

SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
MOUNT = read_mount({"site": SITE})
NOW_S = datetime.fromisoformat("2031-05-17T21:04:30+10:00").timestamp()


@pytest.mark.parametrize(
    ("typed", "az_deg", "alt_deg"),
    [
        ("123 45 41 30", 123.75, 41.5),
        ("123.75 41.5", 123.75, 41.5),
        ("123 45 30 41 30 15", 123.758333, 41.504167),
        ("123:45:30, 41:30:00", 123.758333, 41.5),
        ("123.75,41.5", 123.75, 41.5),
        ("123,75 41,5", 123.75, 41.5),
        ("123 45.5; -0 30", 123.758333, -0.5),
        ("123°45′30″ +41°30′", 123.758333, 41.5),
        ("123 45 / 41.5", 123.75, 41.5),
        ("123.75 41 30", 123.75, 41.5),
        ("123 45.5 41", 123.758333, 41.0),
        ("-10 30 60 30", -10.5, 60.5),
    ],
)
def test_a_place_is_read_in_any_notation_of_the_log(
    typed: str, az_deg: float, alt_deg: float
) -> None:
    place = parse_place(typed)
    assert (place.az_deg, place.alt_deg) == pytest.approx((az_deg, alt_deg), abs=1e-6)
    assert parse_place(f"{place.az_text}; {place.alt_text}") == place


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", "azimuth and altitude, such as"),
        ("123.75", "azimuth and altitude, such as"),
        ("40 40 24", "could be 40°00.0′ 40°24.0′ or 40°40.0′ 24°00.0′"),
        ("41 30 123 45", "azimuth first, then altitude"),
        ("123 75 41 30", "azimuth 123 75: minutes below 60"),
        ("here there", "azimuth here: degrees such as"),
        ("1;2;3", "azimuth and altitude, such as"),
    ],
)
def test_what_is_no_place_is_answered_with_what_would_be_right(typed: str, why: str) -> None:
    with pytest.raises(EntryError, match=why):
        parse_place(typed)


def test_a_decimal_comma_goes_into_the_log_as_a_point() -> None:
    place = parse_place("123,75 41,5")
    assert (place.az_text, place.alt_text) == ("123.75", "41.5")


def test_an_azimuth_alone_waits_for_its_altitude() -> None:
    assert is_one_angle("123:45")
    assert not is_one_angle("123 45")
    assert not is_one_angle("400")


def test_figures_in_place_of_a_name_are_told_from_names_with_figures() -> None:
    assert looks_like_figures("123 45 41 30")
    assert looks_like_figures("-10.5, 60")
    assert not looks_like_figures("61 Cyg")
    assert not looks_like_figures("M 42")
    assert not looks_like_figures("Vega")


def test_last_motions_are_parted_from_the_figures_in_either_order() -> None:
    motions = {"az_motion": "cw", "alt_motion": "up"}
    assert take_motions("123 45 41 30 CW, up") == ("123 45 41 30", motions)
    assert take_motions("123 45 41 30") == ("123 45 41 30", {})


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ("bump", "bump"),
        ("Zero on star", "zero_on_star"),
        ("re-levelled", "relevelled"),
        ("power cycle", "power_cycle"),
        ("kicked", "bump"),
        ("cluch", "clutch"),
        ("", None),
        ("rain", None),
    ],
)
def test_an_event_is_understood_as_people_say_it(typed: str, kind: str | None) -> None:
    assert event_meant(typed) == kind


def test_only_the_logs_own_words_are_events_where_a_star_is_asked_for() -> None:
    assert event_meant("bump", exactly=True) == "bump"
    assert event_meant("kicked", exactly=True) is None


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ("20:59", "2031-05-17T20:59:00+10:00"),
        ("9:03:10 pm", "2031-05-17T21:03:10+10:00"),
        ("2:10", "2031-05-18T02:10:00+10:00"),
        ("2031-05-17T11:00Z", "2031-05-17T21:00:00+10:00"),
        ("2031-05-17 20:00", "2031-05-17T20:00:00+10:00"),
    ],
)
def test_a_time_of_day_is_the_one_nearest_to_now(typed: str, at: str) -> None:
    assert moment_meant(typed, NOW_S, MOUNT) == datetime.fromisoformat(at).timestamp()


def test_what_is_no_time_is_refused_with_an_example() -> None:
    with pytest.raises(TimeTextError, match="a clock time such as 21:00:40"):
        moment_meant("soon", NOW_S, MOUNT)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Antares", "Antares"),
        ("  alpha   sco ", "Antares"),
        ("antar", "Antares"),  # one star begins so
        ("cano", "Canopus"),
        ("acr", "Acrux"),  # up; Acrab is another beginning
        ("lamp on the hill", "lamp on the hill"),
        ("m42", "M 42"),
    ],
)
def test_a_name_is_completed_or_stays_as_it_is(typed: str, name: str) -> None:
    assert names.complete(typed, MOUNT, NOW_S).name == name


def test_a_beginning_of_several_stars_offers_those_that_are_up() -> None:
    named = names.complete("al", MOUNT, NOW_S)
    assert named.name is None
    assert len(named.choices) > 1
    for name in named.choices:
        place = names.overhead(name, MOUNT, NOW_S)
        assert place is not None
        assert place.alt_deg > 0.0


def test_a_star_that_has_set_gives_way_to_the_one_that_is_up() -> None:
    assert names.complete("fom", MOUNT, NOW_S).name == "Fomalhaut"
    assert names.complete("mir", MOUNT, NOW_S).name == "Mirzam"
    assert names.complete("mir", read_mount({}), NOW_S).choices[:2] == ("Mirfak", "Mirzam")


def test_a_misspelt_name_is_answered_with_what_was_probably_meant() -> None:
    named = names.complete("Fomalhout", MOUNT, NOW_S)
    assert (named.name, named.choices[0]) == (None, "Fomalhaut")


def test_a_free_name_stands_nowhere() -> None:
    assert names.overhead("lamp", MOUNT, NOW_S) is None
    assert names.overhead("Antares", read_mount({}), NOW_S) is None
