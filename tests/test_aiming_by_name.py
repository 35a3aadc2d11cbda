"""Targets by name: put where the controller has them, and kept away from the Sun."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from bench.aim_figures import landed
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.aiming.targets import asked_moment, asked_targets
from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.machine import MountModel, readings_for
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.places import carried_forward
from pointmodel.simulation.mount import readings_deg
from pointmodel.simulation.night import SimulatedNight
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import (
    apparent_places,
    azimuth_altitude,
    catalogue_places,
    horizontal_places,
    places_of_date,
)
from pointmodel.sky.targets import find_target, target_places

DATA = Path(__file__).parent.parent / "data"
MOUNT: dict[str, Any] = {
    "site": {"latitude": -41.3, "longitude": 146.2, "elevation": 0, "utc_offset": "+10:00"},
    "optics": {"field_of_view": 48},
    "weather": {"pressure": 1010, "temperature": 10},
}
OBSERVER = Observer(-41.3, 146.2, 0.0)
AT = "2031-05-17T22:30:00+10:00"
AT_S = 1936787400.0
NOON, NOON_S = "2031-05-17T12:30:00+10:00", 1936751400.0
TARGETS = ["Spica", "alf Cen", "Antares", "Alphard", "Regulus", "Achernar"]
SHARP: dict[str, Any] = {
    "pairs": 24,
    "sigma_arcmin": 0.2,
    "mount": MOUNT,
    "readout_step_arcsec": 0.0,
    "low_alt_deg": 10.0,
}


def truly(
    names: list[str], lifts: float = 1.0, time_s: float = AT_S
) -> tuple[FloatArray, FloatArray]:
    """Azimuths and altitudes, with the air's lift in them once."""
    targets = [find_target(name) for name in names]
    az_deg, alt_deg = azimuth_altitude(*target_places(targets, time_s, OBSERVER), time_s, OBSERVER)
    return az_deg, alt_deg + lifts * refraction_lift_arcmin(alt_deg) / 60


def without_air(alt_deg: FloatArray) -> FloatArray:
    """Altitudes from which the air lifts to these."""
    low = alt_deg
    for _ in range(6):
        low = alt_deg - refraction_lift_arcmin(low) / 60
    return low


def true_readings(
    night: SimulatedNight, az_deg: FloatArray, alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """What the made mount reads with these stars centred, at the end of its night."""
    at = replace(
        night.circumstances,
        **{
            name: np.broadcast_to(getattr(night.circumstances, name)[-1], az_deg.shape)
            for name in ("az_motion", "alt_motion", "hours", "slipped")
        },
    )
    return readings_deg(az_deg, alt_deg, night.terms, at)


def off_arcmin(result: Any, az_deg: FloatArray, alt_deg: FloatArray) -> FloatArray:
    command_az = np.array([target.command_az_deg for target in result.targets])
    command_alt = np.array([target.command_alt_deg for target in result.targets])
    return separation_arcmin(command_az, command_alt, az_deg, alt_deg)


def codes(result: Any) -> list[str]:
    return [notice.code for notice in result.warnings]


# Where a name leads ----------------------------------------------------------------------------


def test_names_lead_to_where_the_stars_truly_stand() -> None:
    night = pm.simulate(seed=3, **SHARP)
    result = pm.aim(pm.fit(night.log), TARGETS, at=AT)
    assert {target.status for target in result.targets} <= {"ok", "extrapolated", "zero_first"}
    assert off_arcmin(result, *true_readings(night, *truly(TARGETS))).max() < 1.0
    assert codes(result) == []


@pytest.mark.parametrize(("factor", "lifts"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 2.0)])
def test_what_the_controller_makes_of_refraction_is_followed(factor: float, lifts: float) -> None:
    night = pm.simulate(seed=3, terms={"refraction": factor}, **SHARP)
    fit = pm.fit(night.log)
    assert ("refraction" in fit.terms.index) is bool(factor)
    result = pm.aim(fit, TARGETS, at=AT)
    az_deg, alt_deg = truly(TARGETS, lifts)
    asked_alt = np.array([target.asked_alt_deg for target in result.targets])
    np.testing.assert_allclose(asked_alt, alt_deg, atol=1e-6)  # where the controller has them
    assert off_arcmin(result, *true_readings(night, az_deg, alt_deg)).max() < 1.0


def test_few_stars_do_not_hide_what_is_made_of_refraction() -> None:
    few = SHARP | {"pairs": 5, "sigma_arcmin": 1.0}
    night = pm.simulate(seed=14, terms={"refraction": 1.0}, **few)
    fit = pm.fit(night.log)
    result = pm.aim(fit, "Alphard", at=AT)
    assert result.targets[0].asked_alt_deg == pytest.approx(float(truly(["Alphard"], 0)[1][0]))


@pytest.mark.parametrize(
    ("error", "text"),
    [
        ({"sidereal_error_min": -60.164}, r"sidereal time by −60\.[12] min"),
        ({"latitude_error_deg": 1.5}, r"latitude by 1\.(49|50|51)°"),
    ],
)
def test_with_a_wrong_entry_the_mount_is_still_sent_to_the_star(
    error: dict[str, float], text: str
) -> None:
    night = pm.simulate(seed=4, **error, **SHARP)
    result = pm.aim(pm.fit(night.log), TARGETS, at=AT)
    az_deg, alt_deg = truly(TARGETS)
    assert off_arcmin(result, *true_readings(night, az_deg, alt_deg)).max() < 1.5
    asked = np.array([(t.asked_az_deg, t.asked_alt_deg) for t in result.targets]).T
    assert separation_arcmin(*asked, az_deg, alt_deg).min() > 30  # where the controller has them
    (notice,) = [notice for notice in result.warnings if notice.code == "clock_wrong"]
    assert re.search(text, notice.text)


@pytest.mark.parametrize("error_min", [0.0, 8.0])
def test_the_right_ascension_given_makes_the_controller_drive_to_the_command(
    error_min: float,
) -> None:
    night = pm.simulate(seed=5, sidereal_error_min=error_min, **SHARP)
    for target in pm.aim(pm.fit(night.log), TARGETS, at=AT).targets:
        local = sidereal_time_deg(AT_S) + 146.2 + error_min / 4  # as the controller counts
        place = horizontal_places(local - target.command_ra_deg, target.command_dec_deg, -41.3)
        alt_deg = without_air(np.array(target.command_alt_deg))
        assert separation_arcmin(*place, target.command_az_deg, alt_deg) < 0.8  # 3 s of clock
        assert target.equinox == "date"


def test_a_controller_that_takes_j2000_gets_j2000() -> None:
    old = MOUNT | {"mount": {"equinox": "J2000"}}
    night = pm.simulate(seed=5, **(SHARP | {"mount": old}))
    fit = pm.fit(night.log)
    (target,) = pm.aim(fit, "Spica", at=AT).targets
    assert target.equinox == "J2000"
    of_date = apparent_places(target.command_ra_deg, target.command_dec_deg, AT_S)
    place = azimuth_altitude(*of_date, AT_S, OBSERVER)
    alt_deg = without_air(np.array(target.command_alt_deg))
    assert separation_arcmin(*place, target.command_az_deg, alt_deg) < 0.01


def test_a_controller_without_precession_is_followed() -> None:
    night = pm.simulate(seed=6, **SHARP)
    log = night.log
    low_deg = without_air(log.commanded_alt_deg)
    dates = places_of_date(log.commanded_az_deg, low_deg, log.time_s, OBSERVER)
    az_deg, low_deg = azimuth_altitude(*catalogue_places(*dates, log.time_s), log.time_s, OBSERVER)
    alt_deg = low_deg + refraction_lift_arcmin(low_deg) / 60
    old = replace(log, commanded_az_deg=az_deg, commanded_alt_deg=alt_deg)
    in_its_middle = "2031-05-17T20:35:00+10:00"
    result = pm.aim(pm.fit(old), TARGETS, at=in_its_middle)
    assert "old_equinox" in codes(result)
    places = truly(TARGETS, time_s=AT_S - 115 * 60)
    assert off_arcmin(result, *true_readings(night, *places)).max() < 2.5


def test_commands_noted_too_early_are_followed_and_said() -> None:
    night = pm.simulate(seed=9, **SHARP)
    log = night.log
    ages_s = np.random.default_rng(2).uniform(90, 210, len(log))
    early = carried_forward(log.commanded_az_deg, log.commanded_alt_deg, -ages_s, -41.3)
    stale = replace(log, commanded_az_deg=early[0], commanded_alt_deg=early[1])
    result = pm.aim(pm.fit(stale), TARGETS[:3], at=AT)
    (notice,) = [notice for notice in result.warnings if notice.code == "stale_command"]
    assert re.search(r"noted 1\.\d to 3\.\d min before the centring", notice.text)
    assert off_arcmin(result, *true_readings(night, *truly(TARGETS[:3]))).max() < 15  # not 40


def test_an_equatorial_log_aims_without_the_air() -> None:
    night = pm.simulate(seed=7, **SHARP)
    log = night.log
    equatorial = replace(
        log,
        commanded_alt_deg=without_air(log.commanded_alt_deg),
        centred_alt_deg=without_air(log.centred_alt_deg),
        commanded_equatorial=True,
        centred_equatorial=True,
        target=(None,) * len(log),
    )
    result = pm.aim(pm.fit(equatorial), TARGETS, at=AT)
    az_deg, alt_deg = true_readings(night, *truly(TARGETS))
    assert off_arcmin(result, az_deg, without_air(alt_deg)).max() < 1.0
    assert codes(result) == []


def test_a_night_without_names_says_that_its_clock_is_unproven() -> None:
    log = pm.simulate(seed=8, **SHARP).log
    nameless = replace(log, target=(None,) * len(log))
    result = pm.aim(pm.fit(nameless), "Spica", at=AT)
    assert codes(result) == ["clock_unproven"]
    assert codes(pm.aim(pm.fit(nameless), "120,45", at=AT)) == []
    cleared = pm.read_mount(MOUNT | {"entered": {"verified": True}})
    assert codes(pm.aim(pm.fit(replace(nameless, mount=cleared)), "Spica", at=AT)) == []


@pytest.mark.parametrize(
    ("target", "same"),
    [
        ("Achernar", "alf Eri"),
        ("m42", "Orion Nebula"),
        ("13:25:11.6 -11:09:41", "13h25m11.6s, -11°09'41\""),
        ("13:25:11.6, -11:09:41", "201.298333 -11.161389"),
        ("13:26:50 -11:19 of date", "13:26:50 -11:19 JNow"),
    ],
)
def test_a_target_may_be_called_in_many_ways(leaning: pm.Fit, target: str, same: str) -> None:
    one, other = pm.aim(leaning, [target, same], at=AT).targets
    assert (one.target, other.target) == (target, same)
    off = separation_arcmin(
        one.asked_az_deg, one.asked_alt_deg, other.asked_az_deg, other.asked_alt_deg
    )
    assert off < 0.01


def test_places_of_date_and_of_j2000_are_told_apart(leaning: pm.Fit) -> None:
    one, other = pm.aim(
        leaning, ["13:25:11.6 -11:09:41", "13:25:11.6 -11:09:41 of date"], at=AT
    ).targets
    off = separation_arcmin(
        one.asked_az_deg, one.asked_alt_deg, other.asked_az_deg, other.asked_alt_deg
    )
    assert 20 < off < 30


def test_planets_and_the_moon_are_seen_from_the_site(leaning: pm.Fit) -> None:
    names = ["Jupiter", "Mars", "Moon"]
    at_s = 1936951200.0
    observer = leaning.log.mount.observer
    assert observer is not None
    found = pm.aim(leaning, names, at="2031-05-19T20:00:00+10:00").targets
    places = target_places([find_target(name) for name in names], at_s, observer)
    az_deg, alt_deg = azimuth_altitude(*places, at_s, observer)
    for k, target in enumerate(found):
        apart = separation_arcmin(target.asked_az_deg, target.asked_alt_deg, az_deg[k], alt_deg[k])
        assert apart < 40  # the air's lift at the most


def test_places_and_names_may_be_mixed(leaning: pm.Fit) -> None:
    found = pm.aim(leaning, ["123.5,45", "Antares", (10.0, 50.0)], at=AT).targets
    assert [target.what for target in found] == [None, "Antares", None]
    assert found[0].asked_az_deg == pytest.approx(123.5)
    assert found[0].command_ra_deg is not None
    alone = pm.aim(leaning, "123.5,45").targets[0]
    assert (alone.command_ra_deg, alone.equinox) == (None, None)
    assert alone.command_az_deg == pytest.approx(found[0].command_az_deg)


@pytest.mark.parametrize("controller", ["summer time", "no refraction"])
def test_commands_land_within_what_is_promised_whatever_the_controller_holds(
    controller: str,
) -> None:
    found = landed(controller, nights=8, first_seed=500)  # bench/aim_figures.py: 40 nights each
    assert found.miss_arcmin.size >= 25
    assert np.median(found.miss_arcmin) < 1.8
    assert found.within_p95 > 0.85
    assert found.over_promised < 1.3


# What names need -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def leaning() -> pm.Fit:
    return pm.fit(DATA / "leaning.csv")


def test_names_need_a_site_and_every_one_says_so() -> None:
    fit = pm.fit(DATA / "leaning.csv", mount={"site": {"latitude": -41.3}})
    with pytest.raises(pm.InputError, match="latitude and longitude under") as caught:
        pm.aim(fit, ["Achernar", "120,40", "M 42"], at=AT)
    assert [problem.found for problem in caught.value.problems] == ['"Achernar"', '"M 42"']


def test_names_need_the_zone_of_their_moment() -> None:
    site = {"site": {"latitude": -41.3, "longitude": 146.2}}
    fit = pm.fit(DATA / "leaning.csv", mount=site)
    with pytest.raises(pm.InputError, match=r"<at>: .*a zone behind it, such as"):
        pm.aim(fit, "Achernar", at="2031-05-17T22:30:00")
    unknown = pm.aim(fit, "120,40", at="2031-05-17T12:30:00")
    assert codes(unknown)[-2:] == ["time_zone", "sun"]
    assert "is not known here" in unknown.warnings[-1].text


def test_without_a_moment_names_are_aimed_at_now(
    leaning: pm.Fit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("time.time", lambda: AT_S)
    now = pm.aim(leaning, "Spica").targets[0]
    assert now.at == "2031-05-17T22:30:00+10:00"
    assert now == pm.aim(leaning, "Spica", at=AT).targets[0]
    assert asked_moment(None, None, by_name=True)[0].written == "2031-05-17T12:30:00+00:00"
    assert asked_moment(None, None, by_name=False)[0].time_s is None


def test_two_names_in_a_tuple_are_two_targets() -> None:
    assert [one.name for one in asked_targets(("Spica", "Antares"))] == ["Spica", "Antares"]


# Sun and Moon ----------------------------------------------------------------------------------


def test_the_sun_and_what_is_near_it_are_never_sent_by_day(leaning: pm.Fit) -> None:
    sun = target_places([find_target("Sun")], NOON_S, OBSERVER)
    az_deg, alt_deg = (float(part[0]) for part in azimuth_altitude(*sun, NOON_S, OBSERVER))
    names = [
        "Sun",
        f"{az_deg:.3f},{alt_deg + 15:.3f}",
        f"{az_deg:.3f},{alt_deg + 22:.3f}",
        "Sirius",
    ]
    result = pm.aim(leaning, names, at=NOON)
    itself, near, clear, star = result.targets
    assert (itself.status, near.status) == ("sun", "sun")
    assert "no mount is sent to the Sun" in str(itself.reason)
    assert near.reason == "it stands 15° from the Sun, and must be 20° from it"
    assert (near.command_az_deg, near.nudge, near.command_ra_deg) == (None, None, None)
    assert clear.status in ("ok", "extrapolated")
    assert star.status in ("ok", "extrapolated")
    assert "the Sun is up" in result.warnings[-1].text


def test_at_night_the_sun_is_below_the_horizon_and_no_danger(leaning: pm.Fit) -> None:
    result = pm.aim(leaning, ["Sun", "Spica"], at=AT)
    assert result.targets[0].status == "below_horizon"
    assert not {"sun", "sun_slew", "sun_first_slew"} & set(codes(result))


def test_the_guard_goes_by_the_true_sky_whatever_the_controller_believes() -> None:
    night = pm.simulate(seed=4, sidereal_error_min=-120.0, **SHARP)
    sun = target_places([find_target("Sun")], NOON_S, OBSERVER)
    true_az, true_alt = (float(part[0]) for part in azimuth_altitude(*sun, NOON_S, OBSERVER))
    local = sidereal_time_deg(NOON_S) + 146.2 - 30.0
    believed = horizontal_places(local - sun[0][0], sun[1][0], -41.3)
    apart = float(separation_arcmin(*believed, true_az, true_alt)) / 60
    assert apart > 22
    places = [(float(believed[0]), float(believed[1])), (true_az, true_alt)]
    at_sun, beside = pm.aim(pm.fit(night.log), places, at=NOON).targets
    assert (at_sun.status, beside.status != "sun") == ("sun", True)


def test_slews_past_the_sun_are_warned_of_in_the_order_of_the_list(leaning: pm.Fit) -> None:
    result = pm.aim(leaning, ["300,40", "60,40", "90,60"], at=NOON)  # the Sun: 355°, 29° high
    slews = [notice.text for notice in result.warnings if notice.code == "sun_slew"]
    assert len(slews) == 1
    assert slews[0].startswith("the way from 300,40 to 60,40 may pass within 20° of the Sun")
    assert "sun_first_slew" in codes(result)
    assert "sun_slew" not in codes(pm.aim(leaning, ["60,40", "90,60", "150,40"], at=NOON))


def test_a_bright_moon_close_by_is_a_remark(leaning: pm.Fit) -> None:
    full = "2031-05-07T00:30:00+10:00"
    moon = pm.aim(leaning, "Moon", at=full).targets[0]
    near = (moon.asked_az_deg, moon.asked_alt_deg - 5.0)
    far = (moon.asked_az_deg, moon.asked_alt_deg - 15.0)
    result = pm.aim(leaning, ["Moon", near, far], at=full)
    (notice,) = [notice for notice in result.warnings if notice.code == "moon"]
    assert f"{near[0]:g},{near[1]:g} (5°)" in notice.text
    assert f"{far[0]:g},{far[1]:g}" not in notice.text


# Showing ---------------------------------------------------------------------------------------


def test_document_and_text_tell_all_ways_to_get_there(leaning: pm.Fit) -> None:
    result = pm.aim(leaning, ["alf Cen", "Sun", "123.5,45", "M 42"], at=AT)
    document = result.to_dict()
    keeps_its_schema(document, "aim")
    first = document["targets"][0]
    assert (first["what"], first["equinox"]) == ("Rigil Kentaurus", "date")
    hours, minutes, seconds = (float(part) for part in first["command_ra"].split(":"))
    in_degrees = 15 * (hours + minutes / 60 + seconds / 3600)
    assert in_degrees == pytest.approx(first["command_ra_deg"], abs=1e-3)
    again = find_target(f"{first['command_ra']} {first['command_dec']}")
    assert again.dec_deg == pytest.approx(first["command_dec_deg"], abs=2e-4)
    text = str(result)
    assert "alf Cen (Rigil Kentaurus)" in text
    assert "OR AS RIGHT ASCENSION AND DECLINATION, OF DATE" in text
    assert "Places by name are for 2031-05-17 22:30:00+10:00." in text
    wrong: list[Callable[[dict[str, Any]], Any]] = [
        lambda one: one.pop("equinox"),
        lambda one: one.update(status="sun"),
        lambda one: one.update(command_ra=5.5),
    ]
    for spoil in wrong:
        spoilt = {**document, "targets": [dict(first)]}
        spoil(spoilt["targets"][0])
        assert not jsonschema.Draft202012Validator(pm.schema("aim")).is_valid(spoilt)


def test_the_model_of_the_test_is_the_mounts_own() -> None:
    night = pm.simulate(seed=3, **SHARP)
    truth = MountModel(np.array([night.terms[name] for name in STANDARD_NAMES]), ())
    az_deg, alt_deg = truly(TARGETS)
    ours = readings_for(truth, az_deg, alt_deg)
    theirs = true_readings(night, az_deg, alt_deg)
    assert separation_arcmin(ours[0], ours[1], *theirs).max() < 0.01
