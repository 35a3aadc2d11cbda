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
    names_a_way,
    parse_nudge,
    parse_place,
    take_motions,
)
from pointmodel.recording.words import event_meant, is_word, moment_meant, word_meant

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
        ("", "type azimuth and altitude, such as"),
        ("123.75", "type azimuth and altitude, such as"),
        ("40 40 24", "could be 40°00.0′ 40°24.0′ or 40°40.0′ 24°00.0′: type a comma"),
        ("41 30 123 45", "azimuth first, then altitude"),
        ("123 75 41 30", "azimuth 123 75: type minutes below 60"),
        ("here there", "azimuth here: type degrees such as"),
        ("1;2;3", "type azimuth and altitude, such as"),
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
    ("typed", "right", "up"),
    [
        ("12r 5u", 12.0, 5.0),
        ("12l 5d", -12.0, -5.0),
        ("5u, 12r", 12.0, 5.0),
        ("12 left 5 down", -12.0, -5.0),
        ("12' right, 5' up", 12.0, 5.0),
        ("12′l 5′u", -12.0, 5.0),
        ("0.5fr 0.25fu", 20.0, 10.0),
        ("0.5 f left 0.25 fields up", -20.0, 10.0),
        ('40"r 0.5°d', 40.0 / 60.0, -30.0),
        ("1,5r 2,5u", 1.5, 2.5),
        ("7r", 7.0, 0.0),
        ("39r -3u", 39.0, -3.0),
        ("7d", 0.0, -7.0),
        ("12 -5", 12.0, -5.0),
        ("-12; 5", -12.0, 5.0),
    ],
)
def test_a_nudge_is_read_as_people_type_it(typed: str, right: float, up: float) -> None:
    nudge = parse_nudge(typed, 40.0)
    assert (nudge.right_arcmin, nudge.up_arcmin) == pytest.approx((right, up))
    assert parse_nudge(nudge.offered, 40.0) == nudge
    assert parse_nudge(nudge.with_ways, 40.0).right_arcmin == pytest.approx(right)


@pytest.mark.parametrize(
    ("typed", "field", "why"),
    [
        ("12", 40.0, "how far right and up"),
        ("12r 5r", 40.0, "one figure for right or left"),
        ("-12l 5u", 40.0, "a sign or a word"),
        ("0.5fr 0.5fu", None, "field_of_view"),
        ("9999r 1u", 40.0, "at most 30°"),
        ("200 30 60 15", 40.0, "how far right and up"),
    ],
)
def test_what_is_no_nudge_is_answered_with_what_would_be_right(
    typed: str, field: float | None, why: str
) -> None:
    with pytest.raises(EntryError, match=why):
        parse_nudge(typed, field)


def test_a_nudge_is_told_from_a_place_with_its_last_motion() -> None:
    assert names_a_way("12r 5u")
    assert names_a_way("12r 5u cw")
    assert not names_a_way("200 36 60 6 cw up")
    assert not names_a_way("200 36 60 6")


@pytest.mark.parametrize(
    ("typed", "word"), [("udno", "undo"), ("bakc", "back"), ("kicked", "bump"), ("bumpp", "bump")]
)
def test_a_slip_in_a_word_is_noticed(typed: str, word: str) -> None:
    assert word_meant(typed) == word


def test_no_name_of_a_star_is_taken_for_a_word() -> None:
    assert not [name for name in names.bright_names() if is_word(name)]
    assert is_word("undo 7")
    assert is_word("Zero on star")


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
        ("ANTARES", "Antares"),
        ("  alpha   sco ", "Antares"),
        ("antar", "Antares"),  # one star begins so
        ("cano", "Canopus"),
        ("acr", "Acrux"),  # up; Acrab is another beginning
        ("lamp on the hill", "lamp on the hill"),
        ("m42", "M 42"),
    ],
)
def test_a_name_is_completed_or_stays_as_it_is(typed: str, name: str) -> None:
    named = names.complete(typed, MOUNT, NOW_S)
    assert (named.name, named.found) == (name, "unknown" if name == typed else "one")


def test_a_beginning_of_several_stars_offers_those_that_are_up() -> None:
    named = names.complete("al", MOUNT, NOW_S)
    assert named.found == "several"
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
    assert (named.found, named.choices[0]) == ("unknown", "Fomalhaut")


def test_a_free_name_stands_nowhere() -> None:
    assert names.overhead("lamp", MOUNT, NOW_S) is None
    assert names.overhead("Antares", read_mount({}), NOW_S) is None
