"""Causes that need the sky: wrong entries told from a lean, stale commands, old places, which star.

The sky of these nights is the simulator's own (Meeus' and Lieske's formulas), not ERFA's.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bench.evenings import evening

import pointmodel as pm
from pointmodel.diagnosis.skyevidence import moved
from pointmodel.entries.probable import probable_star_words
from pointmodel.reading.nightlog import NightLog
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.targets import find_target, target_places

SITE = {"latitude": -41.3, "longitude": 146.2, "elevation": 640, "time_zone": "Australia/Hobart"}
HERE = Observer(-41.3, 146.2, 640.0)
UPRIGHT = {"tilt_north": 1.0, "tilt_east": -1.0}


def log_of(seed: int = 1, pairs: int = 12, **options: Any) -> NightLog:
    mount = {"site": SITE} | options.pop("mount", {})
    options["terms"] = UPRIGHT | options.get("terms", {})
    return pm.simulate(seed=seed, pairs=pairs, mount=mount, **options).log


def causes_of(fit: pm.Fit) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for cause in fit.causes:
        found.setdefault(cause.cause, cause)
    return found


def test_an_hour_of_summer_time_is_named_and_the_upright_base_left_alone() -> None:
    fit = pm.fit(log_of(sidereal_error_min=-60.164))
    causes = causes_of(fit)
    assert fit.causes[0].cause == "clock_or_longitude"
    assert causes["clock_or_longitude"].verdict == "likely"
    evidence = causes["clock_or_longitude"].evidence
    assert "This wrong entry alone looks like a lean of 11°" in evidence
    assert "summer time" in fit.summary
    assert causes["not_level"].verdict in ("open", "ruled_out")
    level = pm.level(fit)
    assert level.verdict == "leave"
    assert "Apart from that the base leans by no more than" in level.reason
    assert [gain.remedy for gain in level.gain] == ["none", "realign", "apply_corrections"]
    assert "Direction of the lean" not in str(level)


def test_a_latitude_entered_wrong_is_told_from_a_lean() -> None:
    fit = pm.fit(log_of(2, latitude_error_deg=0.8))
    causes = causes_of(fit)
    assert causes["latitude"].verdict == "likely"
    assert causes["not_level"].verdict in ("open", "ruled_out")
    assert fit.causes[0].cause == "latitude"


def test_a_lean_is_the_bases_own_where_the_commanded_places_agree_with_clock_and_place() -> None:
    fit = pm.fit(log_of(3, terms={"tilt_north": 40.0, "tilt_east": 25.0}))
    causes = causes_of(fit)
    assert causes["not_level"].verdict == "likely"
    assert causes["clock_or_longitude"].verdict == "ruled_out"
    assert "clock is right to" in causes["clock_or_longitude"].evidence
    level = pm.level(fit)
    assert (level.clock_cleared_by, level.verdict) == ("check", "level")


def test_a_lean_beside_a_wrong_clock_is_named_too_and_no_foot_ordered() -> None:
    tilted = {"tilt_north": 40.0, "tilt_east": 25.0}
    fit = pm.fit(log_of(4, pairs=16, terms=tilted, sidereal_error_min=13.0))
    causes = causes_of(fit)
    assert causes["clock_or_longitude"].verdict == "likely"
    assert causes["not_level"].verdict == "likely"
    level = pm.level(fit)
    assert level.verdict == "cannot_tell"
    assert "Apart from it the base leans about 4" in level.reason
    assert "toward the north-east" in level.reason
    assert "verified = true" not in str(level)  # the stars would not believe it


def test_times_from_the_controller_prove_nothing_and_leave_the_lean_open() -> None:
    tilted = {"tilt_north": 40.0, "tilt_east": 25.0}
    log = log_of(5, terms=tilted, mount={"time": {"source": "controller"}})
    causes = causes_of(pm.fit(log))
    assert causes["clock_or_longitude"].verdict == "possible"
    assert pm.level(pm.fit(log)).verdict == "cannot_tell"


def test_refraction_applied_twice_is_not_taken_for_a_wrong_entry() -> None:
    for seed in (1, 3, 6):
        log = log_of(seed, pairs=24, terms={"refraction": -1.0})
        assert pm.check(log).verdict != "disagrees"


def test_free_names_say_nothing_of_the_sky() -> None:
    log = log_of(6, terms={"tilt_north": 40.0, "tilt_east": 25.0})
    nameless = replace(log, target=tuple(f"star {k}" for k in range(len(log))))
    fit = pm.fit(nameless)
    assert fit.sky_evidence is None
    assert causes_of(fit)["clock_or_longitude"].verdict == "possible"


def commanded_at(log: NightLog, moments_s: np.ndarray) -> NightLog:
    """The log with the places that its stars had at other moments, as commanded."""
    targets = [find_target(name or "") for name in log.target]
    az, alt = azimuth_altitude(*target_places(targets, moments_s, HERE), moments_s, HERE)
    lift = log.commanded_alt_deg - true_alt(log)
    return replace(log, commanded_az_deg=az, commanded_alt_deg=alt + lift)


def true_alt(log: NightLog) -> np.ndarray:
    targets = [find_target(name or "") for name in log.target]
    return azimuth_altitude(*target_places(targets, log.time_s, HERE), log.time_s, HERE)[1]


def test_commands_noted_before_the_centring_are_named() -> None:
    log = log_of(7, pairs=14)
    age_s = np.random.default_rng(7).uniform(60.0, 300.0, len(log))
    causes = causes_of(pm.fit(commanded_at(log, log.time_s - age_s)))
    assert causes["stale_command"].verdict == "likely"
    assert "older than the times logged" in causes["stale_command"].evidence
    assert "commanded_time" in causes["stale_command"].remedy


def test_places_of_j2000_are_named() -> None:
    log = log_of(8, pairs=14)
    targets = [find_target(name or "") for name in log.target]
    ra = np.array([target.ra_deg for target in targets])
    dec = np.array([target.dec_deg for target in targets])
    az, alt = azimuth_altitude(ra, dec, log.time_s, HERE)
    causes = causes_of(pm.fit(replace(log, commanded_az_deg=az, commanded_alt_deg=alt)))
    assert causes["old_equinox"].verdict == "likely"
    # 31 years of general precession, 50.29″ a year (Lieske et al. 1977)
    assert "lean of some 26′" in causes["old_equinox"].evidence


def test_the_star_that_was_centred_instead_is_named() -> None:
    """Hadar and Rigil Kentaurus, the Pointers, stand 4.4° apart (common star charts)."""
    log = log_of(11, pairs=24)
    row = next(k for k, name in enumerate(log.target) if name == "Rigil Kentaurus")
    moment = np.array([log.time_s[row]])
    az, alt = azimuth_altitude(*target_places([find_target("Hadar")], moment, HERE), moment, HERE)
    reading_az, reading_alt = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    reading_az[row] += az[0] - log.commanded_az_deg[row]
    reading_alt[row] += alt[0] - log.commanded_alt_deg[row]
    fit = pm.fit(replace(log, centred_az_deg=reading_az % 360.0, centred_alt_deg=reading_alt))
    assert [pair.target for pair in fit.set_aside] == ["Rigil Kentaurus"]
    assert "probably Hadar, 4.4°" in fit.set_aside[0].hint
    assert "similar brightness" in fit.set_aside[0].hint


def test_where_the_neighbour_of_a_star_stands_is_told_as_the_chart_has_it() -> None:
    """Hadar lies 4.4° west of Rigil Kentaurus, half a magnitude fainter (common star charts)."""
    mount = pm.read_mount({"site": SITE})
    time_s = 1936951200.0
    named = find_target("Rigil Kentaurus")
    az, alt = azimuth_altitude(*target_places([find_target("Hadar")], time_s, HERE), time_s, HERE)
    told = probable_star_words(float(az[0]), float(alt[0]), named, time_s, mount)
    assert told == "Hadar, 4.4° west, similar brightness"
    nowhere = probable_star_words(float(az[0]), -80.0, named, time_s, pm.read_mount({}))
    assert nowhere is None


def test_who_verified_is_not_believed_against_the_stars() -> None:
    log = log_of(12, sidereal_error_min=-60.164, mount={"entered": {"verified": True}})
    level = pm.level(pm.fit(log))
    assert level.clock_cleared_by is None
    assert level.verdict == "leave"


@pytest.mark.parametrize("size_arcmin", [1.0, 600.0])
def test_a_move_across_or_up_is_an_arc_of_that_length(size_arcmin: float) -> None:
    for x, y in ((size_arcmin, 0.0), (0.0, -size_arcmin)):
        there, here = moved(30.0, 50.0, x, y), moved(30.0, 50.0, 0.0, 0.0)
        assert np.degrees(np.arccos(there @ here)) * 60.0 == pytest.approx(size_arcmin, rel=1e-6)
    assert moved(0.0, 0.0, 60.0, 0.0)[1] == pytest.approx(np.sin(np.radians(1.0)))


def test_the_stars_of_an_alignment_are_judged_by_their_names() -> None:
    log = log_of(10, pairs=14, terms={"tilt_north": 40.0, "tilt_east": 25.0})
    fit = pm.fit(log, {"site": SITE, "alignment": {"stars": ["Castor", "Pollux"]}})
    assert "near each other" in causes_of(fit)["alignment"].evidence


def test_a_wrong_latitude_in_the_mount_file_feigns_no_lean_and_is_told_from_the_controllers() -> (
    None
):
    log = log_of(2)
    assert log.mount.site is not None
    mount = pm.read_mount({"site": SITE | {"latitude": SITE["latitude"] + 0.8}})
    fit = pm.fit(replace(log, mount=mount))
    causes = causes_of(fit)
    assert causes["mount_file"].verdict == "likely"
    assert "latitude" not in causes or causes["latitude"].verdict != "likely"
    assert not pm.level(fit).feet


@pytest.mark.parametrize("seed", [0, 2, 5])
def test_an_entry_so_wrong_that_no_mount_fits_is_still_the_one_to_put_right(seed: int) -> None:
    one = evening("wrong_entry", seed=seed)
    fit = pm.fit(one.log)
    assert fit.summary.startswith("In the controller's menu set the ")
    assert fit.advice.actions == ("set_entry", "log_again")
    assert fit.advice.steps[0].text.endswith("Then go to one star and check again.")
    assert fit.causes == ()
    assert (pm.level(fit).verdict, pm.level(fit).feet) == ("cannot_tell", ())
