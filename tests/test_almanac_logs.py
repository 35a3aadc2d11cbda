"""Logs without commanded places: an almanac's are used; no entry of the controller is judged."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from logtexts import codes, log_of
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.aiming.belief import UNPROVEN
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.sky.places import Observer, azimuth_altitude
from pointmodel.sky.targets import find_target, target_places

SITE = {"latitude": -41.3, "longitude": 146.2, "elevation": 640.0, "time_zone": "Australia/Hobart"}
MOUNT: dict[str, Any] = {"site": SITE, "weather": {"pressure": 940, "temperature": 5}}
OBSERVER = Observer(-41.3, 146.2, 640.0)
AT = "2031-05-17T21:04:30"
HEADER = "target,time,centred_az,centred_alt"


def text_of(night: Any, columns: tuple[str, ...] = ("centred_az", "centred_alt")) -> str:
    """A simulated night's log with only these columns beside name and time."""
    frame = night.log.pairs
    rows = [
        ",".join(
            [row["target"], row["time"].isoformat(), *(f"{row[name]:.6f}" for name in columns)]
        )
        for _, row in frame.iterrows()
    ]
    return "\n".join([",".join(["target", "time", *columns]), *rows, ""])


def test_commanded_places_are_those_of_the_stars_lifted_by_the_air() -> None:
    log = log_of(f"{HEADER}\nAntares,{AT},100,30\nCanopus,{AT},200,40\n", MOUNT)
    targets = [find_target(name) for name in ("Antares", "Canopus")]
    place = target_places(targets, log.time_s)
    az_deg, alt_deg = azimuth_altitude(*place, log.time_s, OBSERVER)
    lifted = alt_deg + refraction_lift_arcmin(alt_deg, 940, 5) / 60
    np.testing.assert_allclose(log.commanded_az_deg, az_deg, atol=1e-9)
    np.testing.assert_allclose(log.commanded_alt_deg, lifted, atol=1e-9)
    assert codes(log) == ["almanac"]
    assert log.mount.log.commanded_from == "almanac"
    assert "says nothing of the controller's clock and site" in log.warnings[0].text


def test_a_line_without_a_centring_is_a_pair_that_waits() -> None:
    log = log_of(f"{HEADER}\nAntares,{AT},100,30\nCanopus,{AT},,\n,,,\n", MOUNT)
    assert log.has_both.tolist() == [True, False]


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        (f",{AT},1,2", "target", "the star's name: without commanded figures"),
        ("Antares,,1,2", "time", "the time of the centring: the star's place is"),
        (f"Antarus,{AT},1,2", "target", "did you mean Antares"),
        (f"Antares,{AT},1,", "centred_alt", "a figure, since centred_az has one"),
    ],
)
def test_what_an_almanac_needs_is_told_with_its_line(row: str, column: str, wanted: str) -> None:
    with pytest.raises(pm.InputError, match=f"line 2, column {column}: .*{wanted}"):
        log_of(f"{HEADER}\n{row}\n", MOUNT)


def test_without_a_site_or_a_zone_there_is_no_almanac() -> None:
    with pytest.raises(pm.InputError, match="or commanded_az and commanded_alt in the log"):
        log_of(f"{HEADER}\nAntares,{AT}+10:00,1,2\n")
    bare = {"site": {"latitude": -41.3, "longitude": 146.2}}
    with pytest.raises(pm.InputError, match="wanted a zone behind the time"):
        log_of(f"{HEADER}\nAntares,{AT},1,2\n", bare)
    with pytest.raises(pm.InputError, match=r"site\.latitude") as caught:
        log_of(f"{HEADER}\nAntares,{AT}+10:00,1,2\n", {"site": {"latitude": 95}})
    assert len(caught.value.problems) == 1


def test_without_names_or_times_in_the_header_commanded_columns_are_asked_for() -> None:
    for header in ("target,centred_az,centred_alt", "time,nudge_right,nudge_up", "target,time"):
        with pytest.raises(pm.InputError, match="wanted commanded_az and commanded_alt too"):
            log_of(f"{header}\n", MOUNT)


def test_an_almanac_log_gives_the_terms_of_the_whole_log() -> None:
    night = pm.simulate(seed=4, pairs=16, mount=MOUNT, readout_step_arcsec=0.0)
    whole, without = pm.fit(night.log), pm.fit(log_of(text_of(night), MOUNT))
    off = (without.terms["value"] - whole.terms["value"]).abs()[:6]
    assert off.max() < 0.5  # arcminutes: the simulator's stars have neither aberration nor nutation


def test_a_wrong_clock_is_no_lean_where_the_places_are_an_almanac_s() -> None:
    upright = {"tilt_north": 0.0, "tilt_east": 0.0}
    made = {"seed": 9, "pairs": 16, "mount": MOUNT, "terms": upright}
    feigned = pm.fit(pm.simulate(**made, sidereal_error_min=8.0).log).terms["value"]
    night = pm.simulate(**made)  # what the axes read with the stars centred hangs on no clock
    log = log_of(text_of(night), MOUNT)
    fit = pm.fit(log)
    lean = np.hypot(*fit.terms.loc[["tilt_north", "tilt_east"], "value"])
    assert np.hypot(feigned["tilt_north"], feigned["tilt_east"]) > 60
    assert lean < 3
    assert fit.sky_evidence is None
    assert log.clock_cleared_by == "almanac"
    assert fit._case.clock_cleared


def test_feet_are_ordered_for_a_lean_that_no_clock_can_feign() -> None:
    feet = {"feet": {"radius": 430, "azimuths": [0, 120, 240], "screw_pitch": 1.5}}
    told = MOUNT | feet | {"alignment": {"stars": []}}
    leaning = {"tilt_north": 40.0, "tilt_east": -25.0}
    night = pm.simulate(seed=9, pairs=16, mount=told, terms=leaning)
    result = pm.level(pm.fit(log_of(text_of(night), told)))
    assert (result.verdict, result.clock_cleared_by) == ("level", "almanac")
    assert len(result.feet) == 3
    keeps_its_schema(result.to_dict(), "level")
    assert "true ones, whatever the controller's clock" in " ".join(str(result).split())


def test_nothing_is_concluded_about_the_controller() -> None:
    log = log_of(text_of(pm.simulate(seed=4, pairs=10, mount=MOUNT)), MOUNT)
    checked = pm.check(log)
    assert checked.verdict == "cannot_tell"
    assert "are from an app or a table" in checked.reason
    assert "Compare date, time, zone" in checked.remedy
    assert checked.proves_nothing
    assert "over 99 %" not in str(checked)
    keeps_its_schema(checked.to_dict(), "check")
    fit = pm.fit(log)
    assert all(cause.cause not in ("clock_or_longitude", "latitude") for cause in fit.causes
               if cause.verdict == "likely")  # fmt: skip
    aimed = pm.aim(fit, ["Antares"], at=f"{AT}+10:00")
    assert UNPROVEN in aimed.warnings


def test_an_owner_may_say_that_the_commanded_places_are_an_almanac_s() -> None:
    night = pm.simulate(seed=4, pairs=10, mount=MOUNT, sidereal_error_min=8.0)
    said = MOUNT | {"log": {"commanded_from": "almanac"}}
    columns = ("commanded_az", "commanded_alt", "centred_az", "centred_alt")
    log = log_of(text_of(night, columns), said)
    assert pm.check(log).verdict == "cannot_tell"
    assert pm.fit(log).sky_evidence is None


def test_a_nudge_from_an_almanac_s_place_clears_no_clock() -> None:
    log = log_of(f"target,time,nudge_right,nudge_up\nAntares,{AT},10,-5\n", MOUNT)
    assert log.nudged
    assert log.has_both.all()
    assert log.clock_cleared_by is None
    equatorial = "target,time,centred_ra,centred_dec"
    log = log_of(f"{equatorial}\nAntares,{AT},16:29:30,-26:26\n", MOUNT)
    assert log.clock_cleared_by is None


def test_the_pairs_of_an_almanac_log_are_its_places() -> None:
    log = log_of(f"{HEADER}\nAntares,{AT},100,30\n", MOUNT)
    again = pm.read_log(log.pairs, log.mount)
    np.testing.assert_allclose(again.commanded_alt_deg, log.commanded_alt_deg)
    assert not again.shows_entries
