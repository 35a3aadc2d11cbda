"""The sky that a plan looks at: who can be confused, when it is dark, what the controller asks."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import ephem
import numpy as np
import pytest

import pointmodel as pm
from pointmodel.base.compass import compass_word
from pointmodel.base.times import fixed_zone
from pointmodel.planning import asked, remarks
from pointmodel.planning.candidates import (
    Confusable,
    Scene,
    candidates,
    confusables,
    scene,
    star_directions,
)
from pointmodel.planning.darkness import DARK_SUN_ALT_DEG, next_dark_s, sun_altitudes_deg
from pointmodel.planning.entrycard import EntryCard, entry_card
from pointmodel.planning.finding import confusable_words, fists_words, how_to_know, ordinal
from pointmodel.sky.observer import Observer
from pointmodel.sky.sunguard import sun_at, sun_separation_deg

SITES = [(52.0, 13.0), (-41.3, 146.2), (0.0, -78.0), (35.0, 179.5)]
MINUTE_S = 60.0
TENTH_DEG = 0.05  # half of the last figure of a separation that is given to a tenth


def posix_s(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def sky_over(latitude: float, longitude: float, at: str, **tables: Any) -> Scene:
    mount = pm.read_mount({"site": {"latitude": latitude, "longitude": longitude}} | tables)
    observer = mount.observer
    assert observer is not None
    return scene(mount, observer, posix_s(at))


def star_of(sky: Scene, name: str) -> int:
    return next(k for k in range(sky.row.size) if sky.label(k) == name)


def rivals(sky: Scene, name: str) -> dict[str, float]:
    (found,) = confusables(sky, np.array([star_of(sky, name)]))
    return {one.target: one.separation_deg for one in found}


NORTH = sky_over(50.0, 10.0, "2031-02-01T21:00+00:00")
SOUTH = sky_over(-35.0, 150.0, "2031-06-01T10:00+00:00")


@pytest.mark.parametrize(
    ("sky", "star", "other", "apart_deg"),
    [
        # from memory of star atlases: the twins stand 4.5° apart, the Pointers of the Plough 5.4°,
        # those to the Southern Cross 4.4°
        (NORTH, "Pollux", "Castor", 4.5),
        (NORTH, "Castor", "Pollux", 4.5),
        (NORTH, "Dubhe", "Merak", 5.4),
        (SOUTH, "Hadar", "Rigil Kentaurus", 4.4),
    ],
)
def test_stars_that_people_confuse_are_told_with_their_distance(
    sky: Scene, star: str, other: str, apart_deg: float
) -> None:
    assert rivals(sky, star)[other] == pytest.approx(apart_deg, abs=TENTH_DEG)


@pytest.mark.parametrize("star", ["Sirius", "Capella", "Regulus", "Procyon"])
def test_stars_that_stand_alone_are_taken_for_no_other(star: str) -> None:
    assert rivals(NORTH, star) == {}


def test_a_star_much_fainter_than_its_neighbour_is_no_rival_but_the_neighbour_is() -> None:
    # Mintaka (2.2) with Alnilam (1.7) in the belt; Rigel (0.2) has nothing like itself
    assert "Alnilam" in rivals(NORTH, "Mintaka")
    assert rivals(NORTH, "Rigel") == {}


def test_two_stars_that_the_eye_sees_as_one_are_one() -> None:
    labels = [SOUTH.label(k) for k in range(SOUTH.row.size)]
    assert len([name for name in labels if "Rigil" in name or "α² Cen" in name]) == 1
    assert rivals(SOUTH, "Rigil Kentaurus").keys() == {"Hadar"}


def test_a_bright_planet_near_a_star_is_told() -> None:
    # Jupiter near Regulus in 2027, the day and the distance by PyEphem
    day = min(
        (ephem.Date("2027/1/1") + k for k in range(365)),
        key=lambda d: _jupiter_from_regulus_deg(d),
    )
    apart = _jupiter_from_regulus_deg(day)
    moment = ephem.Date(day).datetime().replace(tzinfo=UTC)
    skies = [sky_over(0.0, lon, moment.isoformat()) for lon in range(-180, 180, 60)]
    up = [sky for sky in skies if any(p[0] == "Jupiter" and p[2] > 20 for p in sky.planets)]
    assert apart < 6.0
    assert rivals(up[0], "Regulus")["Jupiter"] == pytest.approx(apart, abs=0.2)


def _jupiter_from_regulus_deg(day: float) -> float:
    jupiter, regulus = ephem.Jupiter(day), ephem.star("Regulus")
    regulus.compute(day)
    return float(np.degrees(ephem.separation(jupiter, regulus)))


def test_as_one_faces_south_the_twin_farther_east_is_on_the_left() -> None:
    # Pollux's right ascension is the larger: on the meridian it stands east of Castor
    sky = sky_over(50.0, 0.0, "2031-02-01T22:50+00:00")
    (found,) = confusables(sky, np.array([star_of(sky, "Castor")]))
    assert 150.0 < sky.az_deg[star_of(sky, "Castor")] < 210.0
    assert found[0].target == "Pollux"
    assert found[0].right_deg < -1.0


@pytest.mark.parametrize(("latitude", "longitude"), SITES)
def test_candidates_stand_where_the_mount_can_see_them(latitude: float, longitude: float) -> None:
    profile = [[0, 25], [180, 40], [300, 12]]
    sky = sky_over(latitude, longitude, "2031-09-01T12:00Z", horizon={"profile": profile})
    found = candidates(sky)
    assert (found.alt_deg >= sky.mount.open_alt_deg(found.az_deg)).all()
    assert (found.alt_deg <= 80.0).all()
    assert (found.magnitude <= 3.5).all()


@pytest.mark.parametrize("latitude", [60.0, 0.0, -35.0])
def test_stars_that_leave_the_open_sky_within_the_session_are_known(latitude: float) -> None:
    mount = pm.read_mount(
        {"site": {"latitude": latitude, "longitude": 20.0}, "horizon": {"profile": [[0, 25]]}}
    )
    observer, start_s = mount.observer, posix_s("2031-06-01T22:10+00:00")
    assert observer is not None
    sky = scene(mount, observer, start_s)
    found = candidates(sky)
    room_deg = np.full(found.star.size, np.inf)
    for later_s in (900.0, 1800.0, 2700.0):
        _, alt_deg = star_directions(sky.row[found.star], mount, observer, start_s + later_s)
        room_deg = np.minimum(room_deg, np.minimum(alt_deg - 25.0, 80.0 - alt_deg))
    plain = np.abs(room_deg) > 0.1
    assert np.count_nonzero(plain & (room_deg < 0.0)) > 0
    np.testing.assert_array_equal(found.stays[plain], room_deg[plain] > 0.0)


def test_nothing_within_20_degrees_of_the_sun_is_asked_for() -> None:
    for hour in range(0, 24, 3):
        sky = sky_over(20.0, 30.0, f"2031-08-20T{hour:02d}:00+00:00")
        found = candidates(sky)
        if sky.sun.matters:
            apart = sun_separation_deg(sky.sun, found.az_deg, found.alt_deg)
            assert apart.min() >= 20.0
            assert ("Sun") in dict(remarks.refused(sky, found))


def test_a_bright_star_beside_the_sun_is_refused_for_that_reason() -> None:
    # Regulus, on the ecliptic, is passed by the Sun on 23 August (from memory of almanacs)
    result = pm.plan({"site": {"latitude": 20.0, "longitude": 0.0}}, "2031-08-23T12:00Z")
    reasons = {one.target: one.reason for one in result.refused}
    assert reasons["Regulus"] == "within 20° of the Sun"
    assert "Regulus" not in [star.target for star in result.stars]
    codes = [notice.code for notice in result.warnings]
    assert codes[:2] == ["daylight", "sun"]
    assert str(result).startswith(
        "The Sun is up: no star can be seen. It is dark enough from 2031-08-23"
    )


def test_bright_stars_that_are_left_out_come_with_a_reason() -> None:
    zenith = pm.plan({"site": {"latitude": 38.8, "longitude": 0.0}}, "2031-08-01T22:00Z")
    assert any(
        one.target == "Vega" and one.reason.startswith("too near the zenith")
        for one in zenith.refused
    )
    hidden = pm.plan(
        {"site": {"latitude": 38.8, "longitude": 0.0}, "horizon": {"profile": [[0, 45]]}},
        "2031-08-01T22:00Z",
    )
    assert any("behind your horizon (45° there)" in one.reason for one in hidden.refused)


@pytest.mark.parametrize(("latitude", "longitude"), SITES)
@pytest.mark.parametrize("day", ["2031-01-10", "2031-05-17", "2031-10-02"])
def test_darkness_begins_when_an_independent_library_says(
    latitude: float, longitude: float, day: str
) -> None:
    there = ephem.Observer()
    there.lat, there.lon = str(latitude), str(longitude)
    there.pressure, there.horizon = 0, str(DARK_SUN_ALT_DEG)
    noon_s = posix_s(f"{day}T12:00+00:00") - longitude / 15.0 * 3600.0
    there.date = ephem.Date(datetime.fromtimestamp(noon_s, UTC).replace(tzinfo=None))
    setting = there.next_setting(ephem.Sun(), use_center=True).datetime().replace(tzinfo=UTC)
    dark_s = next_dark_s(Observer(latitude, longitude), noon_s)
    assert dark_s is not None
    assert -MINUTE_S <= dark_s - setting.timestamp() <= 6.0 * MINUTE_S


def test_where_it_is_dark_it_is_dark_now() -> None:
    midnight_s = posix_s("2031-01-10T00:00+00:00")
    assert next_dark_s(Observer(50.0, 0.0), midnight_s) == midnight_s


def test_a_polar_summer_waits_for_its_first_night() -> None:
    # at 70° north the Sun first sinks to −9° once its declination is below 90° − 70° − 9° = 11°:
    # late in August (declinations from memory of almanacs)
    june_s = posix_s("2031-06-21T00:00+00:00")
    dark_s = next_dark_s(Observer(70.0, 20.0), june_s)
    assert dark_s is not None
    assert datetime.fromtimestamp(dark_s, UTC).month == 8
    result = pm.plan({"site": {"latitude": 70.0, "longitude": 20.0}}, "2031-06-21T00:00Z")
    assert (
        "It does not get dark here now. It is dark enough from 2031-08-" in result.warnings[0].text
    )


def test_the_quick_sun_is_the_guards_sun() -> None:
    mount = pm.read_mount({"site": {"latitude": -41.3, "longitude": 146.2}})
    observer, start_s = Observer(-41.3, 146.2), posix_s("2031-05-17T00:00+00:00")
    later_s = np.arange(0.0, 10 * 86400.0, 7 * 3600.0)
    quick = sun_altitudes_deg(observer, start_s, later_s)
    for offset_s, alt_deg in zip(later_s, quick, strict=True):
        sun = sun_at(mount.observer, start_s + offset_s)
        assert sun is not None
        assert alt_deg == pytest.approx(sun.alt_deg, abs=0.03)


def test_asked_by_day_without_a_time_it_plans_for_dusk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asked.time, "time", lambda: posix_s("2031-05-17T13:00+10:00"))
    site = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
    result = pm.plan({"site": site})
    assert result.warnings[0].code == "moved_to_darkness"
    assert result.at.startswith("2031-05-17T17:")
    assert result.sun_alt_deg < DARK_SUN_ALT_DEG
    assert result.dark_from is None


def test_asked_by_night_without_a_time_it_plans_for_now(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(asked.time, "time", lambda: posix_s("2031-05-17T22:00+10:00"))
    result = pm.plan({"site": {"latitude": -41.3, "longitude": 146.2}})
    assert result.at == "2031-05-17T12:00:00+00:00"
    assert "moved_to_darkness" not in [notice.code for notice in result.warnings]


@pytest.mark.parametrize(
    "at",
    [
        "2031-05-17T20:00",
        "2031-05-17T20:00+10:00",
        "2031-05-17T10:00Z",
        datetime(2031, 5, 17, 20),
        datetime(2031, 5, 17, 10, tzinfo=UTC),
    ],
)
def test_a_moment_may_be_given_in_many_ways(at: str | datetime) -> None:
    site = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
    assert pm.plan({"site": site}, at, 1).at == "2031-05-17T20:00:00+10:00"


def test_a_time_without_any_zone_is_taken_as_utc_and_said_so_once() -> None:
    result = pm.plan({"site": {"latitude": 1.0, "longitude": 2.0}}, "2031-05-17T20:00", 1)
    assert [n.code for n in result.warnings].count("zone") == 1
    assert result.at == "2031-05-17T20:00:00+00:00"


def test_the_moon_is_a_remark_and_no_refusal() -> None:
    # full Moon on 7 May 2031 (PyEphem: next_full_moon)
    full = ephem.next_full_moon("2031/5/1").datetime().replace(tzinfo=UTC)
    result = pm.plan({"site": {"latitude": 0.0, "longitude": 0.0}}, full + timedelta(hours=1))
    assert result.moon.lit > 0.99
    result = pm.plan({"site": {"latitude": 0.0, "longitude": 0.0}}, _at_night(full))
    assert "moon" in [notice.code for notice in result.warnings]
    assert all(one.target != "Moon" for one in result.refused)


def _at_night(moment: datetime) -> datetime:
    return moment.replace(hour=23, minute=0, second=0, microsecond=0)


def card(at: str, **site: Any) -> EntryCard:
    """The card of a site at a moment."""
    mount = pm.read_mount({"site": {"latitude": 1.0, "longitude": 2.0} | site})
    zone = mount.zone
    return entry_card(mount, posix_s(at), zone)


@pytest.mark.parametrize(
    ("zone", "at", "standard_h", "summer", "clock"),
    [
        # the IANA data base's rules; Lord Howe turns by half an hour, Ireland's are written as a
        # winter time, Chatham stands at 12:45
        ("Australia/Hobart", "2031-01-10T10:00+00:00", 10.0, True, "21:00"),
        ("Australia/Hobart", "2031-06-10T10:00+00:00", 10.0, False, "20:00"),
        ("Europe/Berlin", "2031-07-10T22:00+00:00", 1.0, True, "00:00"),
        ("Europe/Dublin", "2031-07-10T22:00+00:00", 0.0, True, "23:00"),
        ("Europe/Dublin", "2031-01-10T22:00+00:00", 0.0, False, "22:00"),
        ("Australia/Lord_Howe", "2031-01-10T10:00+00:00", 10.5, True, "21:00"),
        ("Pacific/Chatham", "2031-07-10T10:00+00:00", 12.75, False, "22:45"),
        ("Asia/Kolkata", "2031-07-10T16:00+00:00", 5.5, False, "21:30"),
        ("Asia/Tokyo", "2031-07-10T12:00+00:00", 9.0, False, "21:00"),
    ],
)
def test_zone_and_summer_time_go_by_the_rules_of_that_date(
    zone: str, at: str, standard_h: float, summer: bool, clock: str
) -> None:
    found = card(at, time_zone=zone)
    assert found.standard_offset_s == standard_h * 3600.0
    assert found.summer_time is summer
    assert f"{found.local:%H:%M}" == clock


def test_with_an_offset_alone_summer_time_is_not_told() -> None:
    found = card("2031-01-10T10:00+00:00", utc_offset="+09:30")
    assert found.summer_time is None
    assert found.utc_offset_s == found.standard_offset_s == 9.5 * 3600.0


def test_clocks_that_change_in_the_night_are_told_to_the_minute() -> None:
    spring = card("2031-03-29T21:00+00:00", time_zone="Europe/Berlin")
    assert spring.clocks_change is not None
    assert f"{spring.clocks_change:%H:%M}" == "02:00"
    autumn = card("2031-04-05T23:10+00:00", time_zone="America/Santiago")
    assert autumn.clocks_change is not None
    assert f"{autumn.clocks_change:%d %H:%M}" == "06 00:00"
    assert card("2031-05-29T21:00+00:00", time_zone="Europe/Berlin").clocks_change is None


def test_the_card_may_have_the_zone_of_the_moment_as_it_was_written() -> None:
    mount = pm.read_mount({"site": {"latitude": 1.0, "longitude": 2.0}})
    found = entry_card(mount, posix_s("2031-01-10T10:00+00:00"), fixed_zone(7200.0))
    assert f"{found.local:%H:%M}" == "12:00"
    assert found.zone_known
    assert not entry_card(mount, 0.0, None).zone_known


@pytest.mark.parametrize(
    ("alt_deg", "words"),
    [  # ten degrees are a fist at arm's length: common practice, no source
        (10.0, "one fist"),
        (15.0, "one and a half fists"),
        (26.3, "two and a half fists"),
        (44.0, "four and a half fists"),
        (79.0, "eight fists"),
        (3.0, "half a fist"),
    ],
)
def test_heights_are_told_in_fists(alt_deg: float, words: str) -> None:
    assert fists_words(alt_deg) == words


@pytest.mark.parametrize(
    ("az_deg", "word"),
    [(0, "north"), (22.6, "north-east"), (180, "south"), (337.4, "north-west"), (359.9, "north")],
)
def test_directions_are_told_by_the_compass(az_deg: float, word: str) -> None:
    assert compass_word(az_deg) == word


@pytest.mark.parametrize(
    ("number", "word"), [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (22, "22nd")]
)
def test_ranks_are_told_as_people_say_them(number: int, word: str) -> None:
    assert ordinal(number) == word


@pytest.mark.parametrize(
    ("right_deg", "up_deg", "side"),
    [
        (0.0, 1.0, "above"),
        (1.0, 1.0, "to the upper right of"),
        (1.0, 0.1, "to the right of"),
        (1.0, -1.0, "to the lower right of"),
        (0.1, -1.0, "below"),
        (-1.0, -1.0, "to the lower left of"),
        (-1.0, 0.0, "to the left of"),
        (-1.0, 1.0, "to the upper left of"),
    ],
)
def test_sides_are_told_as_one_faces_the_star(right_deg: float, up_deg: float, side: str) -> None:
    other = Confusable("Castor", 4.5, up_deg, right_deg)
    assert confusable_words((other,)) == f"Castor is 4.5° {side} it"


def test_the_belt_of_orion_stands_to_the_upper_right_of_sirius() -> None:
    # seen from the north, the belt points down and left to Sirius (any star atlas; from memory)
    sky = sky_over(45.0, 0.0, "2031-02-01T21:30+00:00")
    told = how_to_know(sky, star_of(sky, "Alnilam"), ())
    assert told == "blue-white, two and a half fists to the upper right of Sirius, in Orion"


def test_what_might_be_confused_is_told_with_how_to_know_a_star() -> None:
    star = star_of(NORTH, "Castor")
    (others,) = confusables(NORTH, np.array([star]))
    told = how_to_know(NORTH, star, others)
    assert re.search(r"in Gemini\. Take care: Pollux is 4\.5° (below|to the \w+ \w+ of) it$", told)
