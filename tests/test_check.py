"""`check`: which entry is named for which fault, what is said of doubt, and what is refused."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.check_figures import is_first
from bench.controllers import ENTRIES, Site, Wrong, horizon_deg, night, places_deg
from click.testing import CliRunner
from schemas import keeps_its_schema
from scipy.stats import multivariate_normal

import pointmodel as pm
from pointmodel.base.times import named_zone
from pointmodel.cli import command_line
from pointmodel.entries.believed import noise_arcmin, solve
from pointmodel.entries.circumstances import zone_rule
from pointmodel.entries.observed import known_targets, observe
from pointmodel.entries.text import check_text
from pointmodel.reading.nightlog import NightLog

HOUR_S, DAY_S = 3600.0, 86400.0
HOBART = Site("Australia/Hobart", -41.3, 146.2)
STARS = ("Canopus", "Sirius", "Rigil Kentaurus", "Spica")
OTHERS = ("Acrux", "Hadar", "Antares", "Procyon", "Regulus", "Arcturus", "Alphard", "Gacrux")
EVENING = "2031-05-17T20:00:00+10:00"


def sent(
    wrong: Wrong,
    names: tuple[str, ...] = STARS,
    start: str = EVENING,
    site: Site = HOBART,
    *,
    j2000: bool = False,
    refracted: bool = False,
    step_arcsec: float = 60.0,
    entered: dict[str, Any] | None = None,
    **tables: Any,
) -> NightLog:
    """A log of a controller that holds these entries, one star every 187 s."""
    moments = datetime.fromisoformat(start).timestamp() + 187.0 * np.arange(len(names))
    ra, dec = places_deg(moments + wrong.ahead_s, list(names), j2000)
    places = horizon_deg(moments, site, ra, dec, wrong, refracted)
    az, alt = (
        np.round(np.diagonal(part) * 3600.0 / step_arcsec) * step_arcsec / 3600.0 for part in places
    )
    n = len(names)
    where = {"latitude": site.latitude_deg, "longitude": site.longitude_deg}
    mount = {"site": {**where, "time_zone": site.zone}, **tables}
    if entered:
        mount["entered"] = entered
    return NightLog(
        source="<simulated>",
        name="simulated",
        line=np.arange(n) + 2,
        target=names,
        commanded_az_deg=np.mod(az, 360.0),
        commanded_alt_deg=alt,
        centred_az_deg=np.full(n, np.nan),
        centred_alt_deg=np.full(n, np.nan),
        camera=False,
        time_s=moments,
        commanded_time_s=np.full(n, np.nan),
        az_motion=np.zeros(n),
        alt_motion=np.zeros(n),
        events=(),
        note=(None,) * n,
        mount=pm.read_mount(mount),
        warnings=(),
    )


def renamed(log: NightLog, *names: str | None) -> NightLog:
    return replace(log, target=names)


def on_one_line(text: str) -> str:
    return " ".join(text.split())


FAULTS = {
    "summer_time": (
        Wrong(-HOUR_S),
        "The controller holds summer time: yes. On 2031-05-17 it should be no (Australia/Hobart).",
    ),
    "time_zone": (
        Wrong(2 * HOUR_S),
        "The controller holds the zone +08:00. It should be +10:00, with summer time no "
        "(Australia/Hobart).",
    ),
    "zone_sign": (
        Wrong(20 * HOUR_S),
        "The controller holds the zone -10:00, with the wrong sign. It should be +10:00, "
        "with summer time no (Australia/Hobart).",
    ),
    "utc_as_local": (
        Wrong(-10 * HOUR_S),
        "The controller was given UTC (10:00), but it asks for local time. It should be 20:00, "
        "with the zone +10:00.",
    ),
    "am_pm": (Wrong(-12 * HOUR_S), "The controller holds 8:00 am; it should be 8:00 pm."),
    "clock": (
        Wrong(-480.0),
        "The controller's clock is 8.0 min slow: it shows 19:52 when it is 20:00.",
    ),
    "date": (
        Wrong(DAY_S),
        "The controller holds the date 2031-05-18, 1 day ahead. It should be 2031-05-17.",
    ),
    "longitude_sign": (
        Wrong(longitude_deg=-292.4),
        "The controller holds longitude 146°12′ W, on the wrong side. It should be 146°12′ E.",
    ),
    "latitude_sign": (
        Wrong(latitude_deg=82.6),
        "The controller holds latitude 41°18′ N, on the wrong side. It should be 41°18′ S.",
    ),
    "latitude_minutes_as_decimals": (
        Wrong(latitude_deg=0.12),
        "The controller holds latitude 41.18 S: minutes were typed as decimals. It should be "
        "41.30 S: 41°18′ S is 41.30°.",
    ),
    "latitude": (
        Wrong(latitude_deg=1.5),
        "The controller holds latitude 39°48′ S, 1.5° too far north. It should be 41°18′ S.",
    ),
}


@pytest.mark.parametrize("entry", FAULTS)
def test_the_sentence_names_the_menu_entry_what_it_holds_and_what_it_should(entry: str) -> None:
    wrong, sentence = FAULTS[entry]
    result = pm.check(sent(wrong))
    first = result.explanations[0]
    assert (result.verdict, first.entry, first.also) == ("disagrees", entry, None)
    assert first.verdict == "likely"
    assert first.text == sentence
    told = on_one_line(str(result))
    if entry == "latitude":  # any other latitude may as well be the mount file's slip
        assert told.startswith("The controller's entries do not go with the site in the mount file")
        assert "Look up on a phone's map where the telescope stood." in told
    else:
        assert told.startswith(sentence)
    assert first.misfit_arcmin < 1.0


def test_day_and_month_the_other_way_round_are_named_with_both_dates() -> None:
    swapped_days = (datetime(2031, 12, 5) - datetime(2031, 5, 12)).days
    result = pm.check(sent(Wrong(swapped_days * DAY_S), start="2031-05-12T20:00:00+10:00"))
    first = result.explanations[0]
    assert first.entry == "day_month_swapped"
    assert (first.typed, first.meant) == ("2031-12-05", "2031-05-12")


def test_longitude_minutes_typed_as_decimals_are_named() -> None:
    site = replace(HOBART, longitude_deg=146.75)
    first = pm.check(sent(Wrong(longitude_deg=146.45 - 146.75), site=site)).explanations[0]
    assert first.entry == "longitude_minutes_as_decimals"
    assert (first.typed, first.meant) == ("146.45 E", "146.75 E")


def test_a_time_typed_a_decimal_too_far_is_the_other_way_of_mistaking_minutes() -> None:
    site = replace(HOBART, latitude_deg=-41.3)
    result = pm.check(sent(Wrong(latitude_deg=-0.2), site=site))
    found = {one.entry: one for one in result.explanations if one.also is None}
    controller, mount_file = found["latitude_minutes_as_decimals"], found["mount_file"]
    assert "decimals were typed as minutes" in controller.text
    assert controller.typed == "41°30′ S"
    assert "where minutes were typed as decimals" in mount_file.text
    assert min(controller.probability, mount_file.probability) > 0.2


def test_right_entries_agree_and_nothing_is_to_be_changed() -> None:
    result = pm.check(sent(Wrong()))
    assert (result.verdict, result.explanations[0].entry) == ("agrees", "agrees")
    assert result.places == "apparent"
    assert result.remedy == "Leave the controller's date, time and site as they are."
    assert "Care:" not in str(result)
    assert result.residual_rms_arcmin is not None
    assert result.residual_rms_arcmin < 0.6


def test_clock_and_longitude_are_said_to_look_alike_and_not_told_apart() -> None:
    result = pm.check(sent(Wrong(-480.0)))
    assert "longitude" in result.tied
    told = on_one_line(str(result))
    assert "The stars cannot tell these apart: clock 8.0 min slow" in told
    assert "longitude 2.0° too far west" in told


def test_two_wrong_entries_at_once_are_both_named() -> None:
    first = pm.check(sent(Wrong(-HOUR_S, latitude_deg=82.6))).explanations[0]
    assert (first.entry, first.also) == ("summer_time", "latitude_sign")
    assert "summer time: yes" in first.text
    assert "41°18′ N" in first.text


def test_one_star_leaves_two_answers_and_a_star_that_settles_it() -> None:
    log = sent(Wrong(-17 * 60.0, latitude_deg=-4.0), ("Canopus",), step_arcsec=1.0)
    result = pm.check(log)
    assert len(result.solutions) == 2
    assert sum(solution.weight for solution in result.solutions) == pytest.approx(1.0)
    assert result.next_star is not None
    assert 20.0 < result.next_star.alt_deg < 75.0
    assert f"send the mount to {result.next_star.target}" in on_one_line(str(result))
    assert result.residual_rms_arcmin is None


def test_one_star_is_enough_where_an_entry_fits_exactly() -> None:
    result = pm.check(sent(Wrong(-HOUR_S), ("Spica",)))
    assert result.explanations[0].entry == "summer_time"
    assert result.verdict == "disagrees"


@pytest.mark.parametrize("refracted", [False, True])
def test_places_of_2000_are_told_from_apparent_ones(refracted: bool) -> None:
    result = pm.check(sent(Wrong(), j2000=True, refracted=refracted))
    assert (result.places, result.verdict) == ("old_equinox", "agrees")
    assert "places of the year 2000" in on_one_line(str(result))


def test_a_wrong_name_among_four_is_found_and_the_true_star_named() -> None:
    log = sent(Wrong(-HOUR_S), ("Canopus", "Sirius", "Hadar", "Spica"))
    result = pm.check(renamed(log, "Canopus", "Sirius", "Rigil Kentaurus", "Spica"))
    assert result.explanations[0].entry == "summer_time"
    star = result.stars[2]
    assert (star.suspicion, star.probable_target) == ("name", "Hadar")
    assert star.where == "4.4° west, similar brightness"
    assert [one.suspicion for one in result.stars if one.line != star.line] == [None] * 3
    told = on_one_line(str(result))
    assert "Line 4: the mount was not sent to Rigil Kentaurus, but probably to Hadar" in told


def test_a_star_centred_in_the_place_of_another_is_found_by_separations() -> None:
    names = ("Canopus", "Sirius", "Rigil Kentaurus", "Spica", "Regulus")
    log = sent(Wrong(), names)
    centred = sent(Wrong(), ("Canopus", "Sirius", "Hadar", "Spica", "Regulus"))
    az_deg = np.mod(centred.commanded_az_deg + 7.3, 360.0)
    log = replace(log, centred_az_deg=az_deg, centred_alt_deg=centred.commanded_alt_deg + 0.9)
    result = pm.check(log)
    star = result.stars[2]
    assert (star.suspicion, star.probable_target) == ("centred", "Hadar")
    assert star.separation_misfit_arcmin is not None
    assert star.separation_misfit_arcmin > 60.0
    assert all(one.suspicion is None for one in result.stars if one.line != star.line)


def test_free_names_are_told_as_unknown_and_do_not_count() -> None:
    log = renamed(sent(Wrong()), "star 1", "Sirius", None, "Spica")
    result = pm.check(log)
    assert (result.pairs_read, result.pairs_used, result.unknown) == (4, 2, ("star 1",))


@pytest.mark.parametrize("days", [1, 2, 30])
def test_a_planet_tells_a_wrong_date_from_a_wrong_clock(days: int) -> None:
    names = ("Arcturus", "Spica", "Venus")
    start = "2031-05-20T18:10:00+10:00"
    of_date = pm.check(sent(Wrong(days * DAY_S), names, start, step_arcsec=1.0))
    clock_s = np.mod(days * 236.555, 86400.0)
    of_clock = pm.check(sent(Wrong(clock_s), names, start, step_arcsec=1.0))
    assert of_date.explanations[0].entry == "date"
    assert of_clock.explanations[0].entry == "clock"
    assert all(star.suspicion is None for star in (*of_date.stars, *of_clock.stars))


def test_times_from_the_controller_itself_prove_nothing() -> None:
    log = sent(Wrong(), time={"source": "controller"})
    result = pm.check(log)
    assert result.verdict == "cannot_tell"
    assert "That proves nothing of its clock" in on_one_line(str(result))


def test_after_an_alignment_only_a_sharp_match_is_held_against_the_entries() -> None:
    aligned = {"alignment": {"stars": ["Canopus", "Spica"]}}
    assert pm.check(sent(Wrong(-17 * 60.0), **aligned)).verdict == "cannot_tell"
    assert pm.check(sent(Wrong(-HOUR_S), **aligned)).verdict == "disagrees"
    assert pm.check(sent(Wrong(), **aligned)).verdict == "agrees"


def test_right_ascension_and_declination_show_names_but_no_clock() -> None:
    log = replace(renamed(sent(Wrong()), *STARS[:3], "Regulus"), commanded_equatorial=True)
    result = pm.check(log)
    assert result.verdict == "cannot_tell"
    assert result.stars[3].probable_target == "Spica"
    assert result.remedy.startswith("Compare date, time")


def stale(log: NightLog, ages_s: list[float]) -> NightLog:
    """The log of someone who noted the commands so long before the centring."""
    return replace(
        log,
        time_s=log.time_s + ages_s,
        centred_az_deg=log.commanded_az_deg,
        centred_alt_deg=log.commanded_alt_deg,
    )


def test_commands_noted_at_unlike_times_before_the_centring_are_no_clock_fault() -> None:
    result = pm.check(stale(sent(Wrong(), step_arcsec=1.0), [50.0, 190.0, 80.0, 240.0]))
    assert result.verdict == "cannot_tell"
    assert result.could_be_stale
    assert result.stale is not None
    assert result.stale.least_min == pytest.approx(50 / 60, abs=0.1)
    assert result.stale.most_min == pytest.approx(4.0, abs=0.1)
    assert all(star.suspicion != "name" for star in result.stars)
    assert "older than the times logged" in on_one_line(str(result))


def test_an_hour_is_still_seen_behind_commands_noted_too_early() -> None:
    result = pm.check(stale(sent(Wrong(-HOUR_S)), [50.0, 190.0, 80.0, 240.0]))
    assert (result.verdict, result.explanations[0].entry) == ("disagrees", "summer_time")
    assert result.stale is not None


def test_a_slow_clock_on_a_log_with_centred_stars_could_be_stale_commands() -> None:
    slow = pm.check(stale(sent(Wrong()), [150.0] * 4))
    assert (slow.verdict, slow.explanations[0].entry) == ("disagrees", "clock")
    assert slow.could_be_stale
    assert "Commanded places noted some minutes before" in on_one_line(str(slow))
    fast = pm.check(stale(sent(Wrong()), [-150.0] * 4))
    assert not fast.could_be_stale
    timed = stale(sent(Wrong()), [150.0] * 4)
    assert not pm.check(replace(timed, commanded_time_s=timed.time_s)).could_be_stale


def test_the_time_of_the_go_to_counts_where_it_was_logged() -> None:
    log = sent(Wrong())
    late = replace(log, commanded_time_s=log.time_s, time_s=log.time_s + 200.0)
    assert pm.check(late).verdict == "agrees"


SITES = {
    "equator": Site("Africa/Nairobi", 0.0, 36.9),
    "north pole": Site("Etc/GMT", 89.9, 20.0),
    "south of the circle": Site("Antarctica/Mawson", -67.6, 62.9),
    "date line, west": Site("Pacific/Fiji", -17.5, 179.95),
    "date line, east": Site("Pacific/Honolulu", 21.3, -179.95),
    "north": Site("Europe/Berlin", 52.1, 12.4),
}


@pytest.mark.parametrize("where", SITES)
def test_right_entries_agree_at_any_site(where: str) -> None:
    site = SITES[where]
    names = ("Sirius", "Procyon", "Betelgeuse", "Regulus")
    if site.latitude_deg > 60.0:
        names = ("Capella", "Vega", "Polaris", "Dubhe")
    if site.latitude_deg < -60.0:
        names = ("Canopus", "Achernar", "Acrux", "Sirius")
    moment = datetime.fromisoformat("2031-01-20T22:00:00+00:00").timestamp()
    start = datetime.fromtimestamp(moment - site.longitude_deg * 240.0, named_zone("Etc/GMT"))
    result = pm.check(sent(Wrong(), names, start.isoformat(), site))
    assert result.verdict == "agrees"
    hour_off = pm.check(sent(Wrong(-HOUR_S), names, start.isoformat(), site))
    assert hour_off.explanations[0].entry == "summer_time"


def test_a_night_across_midnight_and_the_change_of_clocks_still_agrees() -> None:
    # Hobart's clocks go back at 3:00 on 2031-04-06, the first Sunday in April (from memory)
    result = pm.check(sent(Wrong(), start="2031-04-06T02:54:00+11:00"))
    assert result.verdict == "agrees"
    assert [notice.code for notice in result.warnings] == ["clock_change"]
    late = pm.check(sent(Wrong(), start="2031-05-17T23:57:00+10:00"))
    assert (late.verdict, late.warnings) == ("agrees", ())


def test_in_the_evening_a_clock_is_in_the_morning_rather_than_half_a_day_ahead() -> None:
    """Half a day ahead would need the date of tomorrow as well."""
    behind, ahead = (pm.check(sent(Wrong(hours * HOUR_S))).explanations[0] for hours in (-12, 12))
    assert (behind.entry, ahead.entry) == ("am_pm", "am_pm")
    assert behind.probability > 0.99
    assert ahead.probability < 0.95


def test_a_star_belongs_as_surely_as_one_wrong_name_in_thirty_leaves_it() -> None:
    """Both sides of the middle, held against the normal density of `scipy.stats`.

    That three names in a hundred are wrong, and then any star of the sky, is a choice.
    """
    log = sent(Wrong(), (*STARS, *OTHERS), step_arcsec=1.0)
    everywhere = 4.0 * np.pi * (10800.0 / np.pi) ** 2  # square arcminutes of the sky
    belongs = []
    for off_arcmin in np.arange(2.5, 4.0, 0.04):
        alt = log.commanded_alt_deg.copy()
        alt[1] += off_arcmin / 60.0
        moved = replace(log, commanded_alt_deg=alt)
        assert moved.mount.observer is not None
        observed = observe(moved, known_targets(moved), moved.mount.observer)
        best = solve(observed)[0]
        noise = float(noise_arcmin(observed)[1])
        density = multivariate_normal(cov=noise**2 * np.eye(2)).pdf([best.miss_arcmin[1], 0.0])
        expected = 0.97 * density / (0.97 * density + 0.03 / everywhere)
        assert best.weight[1] == pytest.approx(expected, abs=0.02)
        belongs.append(expected)
    assert min(belongs) < 0.1
    assert any(0.1 < one < 0.9 for one in belongs)
    assert max(belongs) > 0.9


@pytest.mark.parametrize(
    ("zone", "moment", "hours", "summer"),
    [  # published dates of change, from memory: last Sundays in Europe and so on
        ("Australia/Hobart", "2025-10-04T15:59:00+00:00", 10.0, False),
        ("Australia/Hobart", "2025-10-04T16:01:00+00:00", 11.0, True),
        ("Europe/London", "2025-03-30T00:59:00+00:00", 0.0, False),
        ("Europe/London", "2025-03-30T01:01:00+00:00", 1.0, True),
        ("Europe/Dublin", "2025-07-01T00:00:00+00:00", 1.0, True),
        ("Europe/Dublin", "2025-12-01T00:00:00+00:00", 0.0, False),
        ("America/New_York", "2025-11-02T05:59:00+00:00", -4.0, True),
        ("America/New_York", "2025-11-02T06:01:00+00:00", -5.0, False),
        ("Asia/Kathmandu", "2025-06-01T00:00:00+00:00", 5.75, False),
    ],
)
def test_zone_rules_are_those_of_the_published_dates(
    zone: str, moment: str, hours: float, summer: bool
) -> None:
    moment_s = datetime.fromisoformat(moment).timestamp()
    offset_s, standard_s, has_summer = zone_rule(named_zone(zone), moment_s)
    assert offset_s == hours * 3600.0
    assert (offset_s > standard_s) is summer
    assert has_summer is (zone != "Asia/Kathmandu")


def test_without_a_zone_the_log_s_own_offset_counts_and_it_is_said() -> None:
    log = sent(Wrong(-10 * HOUR_S))
    site = {"site": {"latitude": -41.3, "longitude": 146.2}}
    log = replace(log, mount=pm.read_mount(site), time_offset_s=36000.0)
    result = pm.check(log)
    assert result.explanations[0].entry == "utc_as_local"
    assert [notice.code for notice in result.warnings] == ["zone_unknown"]
    hour = replace(sent(Wrong(-HOUR_S)), mount=pm.read_mount(site))
    assert "if clocks at the site said so" in pm.check(hour).explanations[0].text


def test_what_is_missing_altogether_is_told_at_once() -> None:
    log = renamed(sent(Wrong()), "star 1", "test", None, None)
    nothing = replace(log, mount=pm.read_mount(None), time_s=np.full(4, np.nan))
    with pytest.raises(pm.InputError, match="latitude and longitude under") as caught:
        pm.check(nothing)
    assert [problem.column for problem in caught.value.problems] == ["site", "time"]
    with pytest.raises(pm.InputError, match='read "star 1" and "test"; wanted names of stars'):
        pm.check(log)


def test_a_mount_given_beside_a_log_takes_the_place_of_its_own() -> None:
    log = replace(sent(Wrong()), mount=pm.read_mount(None))
    mount = {"site": {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}}
    assert pm.check(log, mount).verdict == "agrees"


@pytest.mark.parametrize("entry", ENTRIES)
def test_the_document_is_as_its_schema_says(entry: str) -> None:
    for stars in (1, 4):
        document = pm.check(night(3, entry, stars=stars).log).to_dict()
        keeps_its_schema(document, "check")
        assert document["schema"] == "pointmodel.check/2"
        assert json.loads(json.dumps(document, allow_nan=False)) == document


@pytest.mark.parametrize("width", [40, 72, 100])
def test_no_line_of_the_text_is_wider_than_asked(width: int) -> None:
    for entry in ("clock", "agrees", "latitude_sign"):
        told = check_text(pm.check(night(1, entry).log), width=width)
        assert max(map(len, told.splitlines())) <= width


def test_the_command_prints_what_the_function_says(tmp_path: Path) -> None:
    made = night(2, "summer_time")
    frame = made.log.pairs
    frame.to_csv(tmp_path / "night.csv", index=False)
    site = made.log.mount.site
    assert site is not None
    (tmp_path / "mount.toml").write_text(
        f"[site]\nlatitude = {site.latitude_deg}\nlongitude = {site.longitude_deg}\n"
        f'time_zone = "{site.time_zone}"\n',
        encoding="utf-8",
    )
    log = str(tmp_path / "night.csv")
    shown = CliRunner().invoke(command_line, ["check", log], env={"COLUMNS": "100"})
    assert (shown.exit_code, shown.stderr) == (0, "")
    result = pm.check(log)
    assert shown.stdout == str(result)
    as_json = CliRunner().invoke(command_line, ["check", log, "--json"])
    assert json.loads(as_json.stdout) == result.to_dict()
    assert result.explanations[0].entry == "summer_time"


def test_nobody_s_log_is_changed_and_a_second_look_says_the_same() -> None:
    log = night(5, "clock").log
    before = log.commanded_az_deg.copy()
    assert pm.check(log).to_dict() == pm.check(log).to_dict()
    assert np.array_equal(log.commanded_az_deg, before)


def test_the_package_loads_no_sky_before_it_is_asked_to() -> None:
    script = "import sys, pointmodel, pointmodel.commands.check; print('erfa' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert found.stdout.strip() == "False"


def test_the_entry_at_fault_comes_first_on_a_night_of_each_kind() -> None:
    for entry in ENTRIES:
        made = night(8, entry)
        assert is_first(made, pm.check(made.log)), entry
