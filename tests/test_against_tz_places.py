"""Places of time zones against zoneinfo's own names and an almanac's city coordinates.

Authorities: the tz database's tables `zone.tab`, `zone1970.tab` and `backward` (as `tzdata` ships
them) for places and other names; `zoneinfo` for which names are zones at all and for offsets; the
coordinates of cities that the almanac library `ephem` carries (`ephem.cities`) for where a few of
them are. Tolerance: a city's middle is a matter of taste, a quarter of a degree.
"""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo, available_timezones

import ephem
import numpy as np
import pytest

from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.sitezone import (
    corrected_places,
    distance_to_zone_deg,
    places_by_zone,
    site_slip,
    zone_of_name,
    zone_places,
)

CITIES = {
    "Tokyo": "Asia/Tokyo",
    "London": "Europe/London",
    "Paris": "Europe/Paris",
    "Berlin": "Europe/Berlin",
    "Rome": "Europe/Rome",
    "New York": "America/New_York",
    "Los Angeles": "America/Los_Angeles",
    "Chicago": "America/Chicago",
    "Sydney": "Australia/Sydney",
    "Bangkok": "Asia/Bangkok",
    "Buenos Aires": "America/Argentina/Buenos_Aires",
    "Johannesburg": "Africa/Johannesburg",
}
MADE_UP = ("Etc/", "GMT", "UTC", "UCT", "Greenwich", "Universal", "Zulu", "Factory", "localtime")
NO_PLACE = ("CST6CDT", "EST5EDT", "MST7MDT", "PST8PDT")  # by older tzdata; newer has them as links


@pytest.mark.parametrize("city", CITIES)
def test_a_zone_lies_where_the_almanac_has_its_city(city: str) -> None:
    place = ephem.city(city)
    off_deg = distance_to_zone_deg(
        CITIES[city], float(np.degrees(place.lat)), float(np.degrees(place.lon))
    )
    assert off_deg is not None
    assert off_deg < 0.25


def test_every_zone_that_zoneinfo_knows_has_a_place_but_those_made_of_an_offset() -> None:
    without = {name for name in available_timezones() if not zone_places(name)}
    assert all(name.startswith(MADE_UP) or name in NO_PLACE for name in without)
    assert set(places_by_zone()) <= available_timezones()


def test_another_name_of_a_zone_keeps_the_same_time() -> None:
    moments = [datetime(2031, month, 17, tzinfo=UTC) for month in (1, 7)]
    for name, zone in zone_of_name().items():
        offsets = [
            [moment.astimezone(ZoneInfo(one)).utcoffset() for moment in moments]
            for one in (name, zone)
        ]
        assert offsets[0] == offsets[1], name


def test_another_name_of_a_zone_has_its_places() -> None:
    assert zone_places("US/Pacific") == zone_places("America/Los_Angeles")
    assert zone_places("Asia/Calcutta") == zone_places("Asia/Kolkata")


def test_noon_by_the_clock_is_within_four_hours_of_noon_by_the_sun_at_every_place() -> None:
    moment = datetime(2031, 1, 17, tzinfo=UTC)
    for zone, places in places_by_zone().items():
        offset = moment.astimezone(ZoneInfo(zone)).utcoffset()
        assert offset is not None
        for _, longitude_deg in places:
            off_deg = (longitude_deg - offset.total_seconds() / 240.0 + 180.0) % 360.0 - 180.0
            assert abs(off_deg) < 60.0, zone


def slip_of(zone: str, latitude_deg: float, longitude_deg: float) -> str | None:
    site = {"latitude": latitude_deg, "longitude": longitude_deg, "time_zone": zone}
    found = site_slip(read_mount({"site": site}))
    return None if found is None else found.kind


def test_no_place_of_any_zone_nor_one_some_degrees_from_it_is_called_wrong() -> None:
    rng = np.random.default_rng(7)
    for zone, places in places_by_zone().items():
        for latitude_deg, longitude_deg in places:
            assert slip_of(zone, latitude_deg, longitude_deg) is None, zone
            north, east = rng.normal(0.0, 3.0, 2)
            latitude = float(np.clip(latitude_deg + north, -89.0, 89.0))
            longitude = float((longitude_deg + east + 180.0) % 360.0 - 180.0)
            assert slip_of(zone, latitude, longitude) is None, zone


@pytest.mark.parametrize("kind", ["longitude_sign", "latitude_sign", "exchanged"])
def test_a_slip_that_moves_the_site_by_thirty_degrees_is_named(kind: str) -> None:
    found = []
    for zone, places in places_by_zone().items():
        for place in places:
            stated = corrected_places(*place).get(kind)  # each slip undoes itself
            moved = stated is not None and abs(stated[0]) <= 90.0
            if moved and distance_to_zone_deg(zone, *stated) > 30.0:
                found.append(slip_of(zone, *stated) == kind)
    assert len(found) > 200
    assert np.mean(found) >= 0.99
