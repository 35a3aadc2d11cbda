"""Slips in the mount file's own site: named, with what to write, and never by distance alone."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest

import pointmodel as pm
from pointmodel.base.times import TimeTextError, parse_utc_offset_s
from pointmodel.reading.sitezone import site_slip

HOBART = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
LOG = "commanded_az,commanded_alt,centred_az,centred_alt\n20,40,20.1,40.1\n"


@pytest.mark.parametrize(
    ("site", "kind", "write"),
    [
        ({"longitude": -146.2}, "longitude_sign", "write longitude = 146.2 under [site]"),
        ({"latitude": 41.3}, "latitude_sign", "write latitude = -41.3 under [site]"),
    ],
)
def test_a_wrong_sign_is_named_with_what_to_write(
    site: dict[str, float], kind: str, write: str
) -> None:
    found = site_slip(pm.read_mount({"site": HOBART | site}))
    assert found is not None
    assert found.kind == kind
    assert write in found.order
    assert "If the telescope stands at 41°18′ S, 146°12′ E" in found.order
    assert "wrong sign" in found.text


def test_exchanged_figures_are_named_with_both() -> None:
    site = {"latitude": 13.0, "longitude": 52.0, "time_zone": "Europe/Berlin"}
    found = site_slip(pm.read_mount({"site": site}))
    assert found is not None
    assert found.kind == "exchanged"
    assert "write latitude = 52 and longitude = 13 under [site]" in found.order


@pytest.mark.parametrize(
    "site",
    [
        HOBART,
        {"latitude": 48.39, "longitude": -4.49, "time_zone": "Europe/Paris"},  # Brest, from memory
        {"latitude": 42.9, "longitude": -8.5, "time_zone": "Europe/Madrid"},
        {"latitude": 43.8, "longitude": 87.6, "time_zone": "Asia/Shanghai"},  # far west
        {"latitude": 1.1, "longitude": 36.0, "time_zone": "Africa/Nairobi"},
        {"latitude": 60.0, "longitude": -140.0, "time_zone": "Africa/Nairobi"},  # no slip helps
        HOBART | {"longitude": -146.2, "time_zone": "Etc/GMT-10"},  # a zone without a place
        {"latitude": -41.3, "longitude": -146.2, "utc_offset": "+10:00"},
        {"latitude": -41.3, "time_zone": "Australia/Hobart"},
    ],
)
def test_distance_alone_never_warns(site: dict[str, object]) -> None:
    assert site_slip(pm.read_mount({"site": site})) is None


def test_a_log_and_a_plan_say_it_before_anything_else() -> None:
    mount = {"site": HOBART | {"longitude": -146.2}}
    log = pm.read_log(StringIO(LOG), mount)
    assert [notice.code for notice in log.warnings] == ["site_slip"]
    planned = pm.plan(mount, at="2031-05-17T20:00+10:00", stars=2)
    assert planned.warnings[0] == log.warnings[0]
    assert "longitude = 146.2" in str(planned)


@pytest.mark.parametrize(
    ("written", "meant"), [(9.3, "9:30"), (10.3, "10:30"), (5.45, "5:45"), (-3.3, "-3:30")]
)
def test_an_offset_typed_with_a_point_for_a_colon_is_refused(written: float, meant: str) -> None:
    with pytest.raises(TimeTextError, match=f'write "{meant}"'):
        parse_utc_offset_s(written)
    with pytest.raises(pm.InputError, match=f'write "{meant}"'):
        pm.read_mount({"site": {"utc_offset": written}})


@pytest.mark.parametrize("hours", [9.5, 10, 5.75, -3.5, 0, 12.75])
def test_quarters_of_an_hour_are_read(hours: float) -> None:
    assert parse_utc_offset_s(hours) == 3600.0 * hours


NIGHT = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}


def night_by(site: dict[str, object]) -> pm.NightLog:
    """A simulated night with named stars and right entries, read with this site."""
    log = pm.read_log(Path(__file__).parents[1] / "data" / "healthy.csv")
    return replace(log, mount=pm.read_mount({"site": site, "alignment": {"stars": []}}))


def test_fit_names_a_site_that_neither_stars_nor_zone_agree_with() -> None:
    fit = pm.fit(night_by(NIGHT | {"longitude": -146.2}))
    causes = {cause.cause: cause for cause in fit.causes}
    assert causes["mount_file"].verdict == "likely"
    assert "write longitude = 146.2 under [site]" in causes["mount_file"].remedy
    assert "healthy" not in causes
    level = pm.level(fit)
    assert not level.feet
    assert "mount file" in level.reason


def test_fit_names_it_from_the_zone_alone_where_no_star_is_named() -> None:
    log = night_by(NIGHT | {"latitude": 41.3})
    fit = pm.fit(replace(log, target=(None,) * len(log)))
    causes = {cause.cause: cause for cause in fit.causes}
    assert causes["mount_file"].verdict == "likely"
    assert "write latitude = -41.3 under [site]" in causes["mount_file"].remedy


def test_a_controller_that_holds_the_same_wrong_place_is_not_cleared() -> None:
    assert pm.check(night_by(NIGHT)).verdict == "agrees"
    result = pm.check(night_by(NIGHT | {"time_zone": "Asia/Tokyo"}))  # its mirror image is there
    assert result.verdict == "cannot_tell"
    assert result.reason.startswith("The controller holds the same site as the mount file")
    assert "write latitude = 41.3 under [site] in the mount file" in result.remedy
    assert result.remedy.endswith("Compare the site in the controller with a phone too.")


def test_a_latitude_that_can_only_be_a_longitude_is_asked_about() -> None:
    with pytest.raises(pm.InputError, match="are latitude and longitude exchanged"):
        pm.read_mount({"site": {"latitude": 146.2, "longitude": -41.3}})
