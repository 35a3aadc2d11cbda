"""Which stars are planned, in which order, and what is promised of them."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.figures import over_nights
from bench.plan_figures import COUNTS, one_choice, one_fit, rms_of, some_sky, yardstick
from click.testing import CliRunner
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.cli import command_line
from pointmodel.mount.terms import STANDARD_NAMES, TERMS
from pointmodel.planning import choice
from pointmodel.planning import plan as starplan
from pointmodel.planning.knowledge import (
    TYPICAL_SD_ARCMIN,
    after_fit,
    design_at,
    not_determined,
    rms_arcmin,
    typical,
    updated,
)

DATA = Path(__file__).parent.parent / "data"
MOUNT = DATA / "mount.toml"
EVENING = "2031-05-17T20:00+10:00"
SITE: dict[str, Any] = {"site": {"latitude": -41.3, "longitude": 146.2}}


@cache
def evening(stars: int = 8) -> pm.PlanResult:
    """A plan for the demonstration mount's evening."""
    return pm.plan(MOUNT, EVENING, stars)


@cache
def leaning() -> pm.Fit:
    """The fit of the demonstration night that leans."""
    return pm.fit(DATA / "leaning.csv")


def end_s(fit: pm.Fit) -> float:
    return float(np.nanmax(fit.log.time_s))


@pytest.mark.parametrize("count", COUNTS)
def test_the_planned_stars_come_near_the_best_that_there_are(count: int) -> None:
    found = over_nights(partial(one_choice, count), 16)
    planned = np.array([one.planned for one in found if one is not None])
    random = np.array([one.random for one in found if one is not None])
    assert np.median(planned) < 1.03
    assert np.percentile(planned, 90) < 1.08
    assert np.median(random) > 1.1 * np.median(planned)


def test_real_fits_of_planned_stars_beat_those_of_random_ones() -> None:
    found = over_nights(partial(one_fit, 4), 24)
    planned = np.array([one.planned_arcmin for one in found])
    random = np.array([one.random_arcmin for one in found])
    expected = np.array([one.expected_arcmin for one in found])
    assert np.median(planned) < 0.9 * np.median(random)
    assert np.mean(planned < random) > 0.6
    assert 0.7 < np.sqrt(np.mean((planned / expected) ** 2)) < 1.3


def test_the_covariance_after_some_stars_is_that_of_the_normal_equations() -> None:
    known = typical(pm.read_mount(SITE))
    design = design_at(known, np.array([10.0, 130.0, 250.0]), np.array([30.0, 60.0, 40.0]))
    rows = design.reshape(-1, 6)
    normal = np.diag(TYPICAL_SD_ARCMIN**-2.0) + rows.T @ rows / known.sigma_arcmin**2
    after = updated(known.covariance, rows, known.sigma_arcmin**2)
    np.testing.assert_allclose(after, np.linalg.inv(normal), rtol=1e-7, atol=1e-8)
    expected = np.hypot(rms_of(known, design[None])[0], np.sqrt(2.0) * known.scatter_arcmin)
    assert rms_arcmin(known, after) == pytest.approx(expected)


def test_what_one_more_star_leaves_is_what_the_update_says() -> None:
    known = typical(pm.read_mount(SITE))
    design = design_at(known, np.array([10.0, 130.0]), np.array([30.0, 60.0]))
    problem = choice.DesignProblem(known, design, np.ones(2))
    np.testing.assert_allclose(
        problem.left([0]),
        [np.sum(known.sky * problem.covariance([0, k])) for k in range(2)],
        rtol=1e-9,
    )


def test_the_design_of_a_star_is_that_of_the_terms_to_first_order() -> None:
    # the pointing terms' own table: see tests/test_against_pointing_terms.py
    known = typical(pm.read_mount(SITE))
    az, alt = np.radians(250.0), np.radians(40.0)
    across = [np.cos(alt), 0, 1, np.sin(alt), np.sin(alt) * np.sin(az), -np.sin(alt) * np.cos(az)]
    rise = [0, 1, 0, 0, np.cos(az), np.sin(az)]
    design = design_at(known, np.array([250.0]), np.array([40.0]))[0]
    np.testing.assert_allclose(design, [across, rise], atol=1e-9)


def test_each_star_betters_what_the_ones_before_it_left() -> None:
    misses = [step.rms_arcmin for step in evening().expected]
    assert misses == sorted(misses, reverse=True)
    assert misses[0] < evening().now_rms_arcmin
    assert [step.after_stars for step in evening().expected] == list(range(1, 9))
    assert [star.order for star in evening().stars] == list(range(1, 9))
    assert len({star.target for star in evening().stars}) == 8


def test_stars_are_above_the_horizon_off_the_zenith_and_bright() -> None:
    horizon = pm.read_mount(MOUNT)
    for star in evening(12).stars:
        assert star.alt_deg >= float(horizon.open_alt_deg(star.az_deg))
        assert 20.0 <= star.alt_deg <= 75.0
        assert star.magnitude <= 2.5


@pytest.mark.parametrize("seed", range(8))
def test_no_star_is_ever_higher_than_80_or_lower_than_10_degrees(seed: int) -> None:
    sky = some_sky(seed)
    heights = [star.alt_deg for star in pm.plan(sky.mount, sky.at, stars=30).stars]
    assert min(heights) >= 10.0
    assert max(heights) <= 80.0


def test_stars_that_can_be_confused_are_asked_for_only_where_they_gain_plainly() -> None:
    easy, asked = 0, 0
    for seed in range(12):
        sky = some_sky(seed)
        stars = pm.plan(sky.mount, sky.at, stars=5).stars
        easy += sum(not star.confusable for star in stars)
        asked += len(stars)
    assert easy / asked > 0.85


def test_the_first_star_is_the_brightest_of_those_that_tell_as_much() -> None:
    first = evening().stars[0]
    assert first.target == "Sirius"
    assert first.how_to_find == (
        "look west, two and a half fists up (26°); white, the brightest star now up, in Canis Major"
    )


def test_terms_are_settled_by_the_star_that_makes_them_known() -> None:
    unknown = set(STANDARD_NAMES)
    for star, step in zip(evening().stars, evening().expected, strict=True):
        unknown -= set(star.settles)
        assert unknown == set(step.not_determined)


def test_one_star_leaves_everything_but_the_zeros_open() -> None:
    known = typical(pm.read_mount(SITE))
    design = design_at(known, np.array([100.0]), np.array([40.0]))
    left = not_determined(known, design.reshape(-1, 6))
    assert {"collimation", "non_perpendicularity", "tilt_north", "tilt_east"} <= set(left)


def test_a_fit_that_knows_its_terms_is_told_so_as_fit_itself_does() -> None:
    fit = leaning()
    known = after_fit(fit)
    none = np.empty((0, len(known.names)))
    told = {t.name for t in fit.term_estimates if t.status == "not_determined"}
    assert set(not_determined(known, none)) == told
    corrected = next(f for f in fit.forecasts if f.remedy == "apply_corrections")
    assert rms_arcmin(known, known.covariance) == pytest.approx(corrected.rms_arcmin, rel=0.15)


def test_the_next_star_is_where_the_fit_knows_least() -> None:
    fit, mount = leaning(), pm.read_mount(MOUNT)
    star = starplan.next_star_after(fit, mount, end_s(fit))
    assert star is not None
    planned = pm.plan(mount, _iso(end_s(fit)), 1, after=fit)
    assert planned.stars[0] == star
    assert not [n for n in planned.warnings if n.code == "another_night"]
    assert planned.expected[0].rms_arcmin < planned.now_rms_arcmin


def test_three_stars_in_one_corner_send_you_to_the_other_side() -> None:
    mount = {"site": {"latitude": 10.0, "longitude": 20.0}}
    log = pm.simulate(seed=3, pairs=3, sigma_arcmin=1.0).log
    corner = replace(
        log,
        **_readings(np.array([40.0, 60.0, 80.0]), np.array([35.0, 50.0, 40.0])),
        mount=pm.read_mount(mount),
    )
    star = pm.plan(mount, "2031-05-17T20:00Z", 1, after=pm.fit(corner)).stars[0]
    assert 150.0 < star.az_deg < 330.0


def _readings(az_deg: FloatArray, alt_deg: FloatArray) -> dict[str, FloatArray]:
    off = np.array([0.01, -0.012, 0.008])
    return {
        "commanded_az_deg": az_deg,
        "commanded_alt_deg": alt_deg,
        "centred_az_deg": az_deg + 0.3 + off,
        "centred_alt_deg": alt_deg - 0.1 - off,
        "time_s": np.full(3, np.nan),
    }


def _iso(time_s: float) -> str:
    return f"{np.datetime64(round(time_s), 's')}Z"


def test_next_star_without_a_site_is_none() -> None:
    assert starplan.next_star_after(leaning(), pm.read_mount({}), 0.0) is None


def test_next_star_under_a_closed_sky_is_none() -> None:
    closed = pm.read_mount(SITE | {"horizon": {"profile": [[0, 89]]}})
    assert starplan.next_star_after(leaning(), closed, end_s(leaning())) is None


def test_two_more_stars_gain_less_the_more_there_are() -> None:
    few = pm.fit(pm.simulate(seed=1, pairs=4).log)
    many = pm.fit(pm.simulate(seed=1, pairs=24).log)
    gains = [starplan.gain_of_more(fit) for fit in (few, many)]
    assert gains[0].gained_arcmin > 2.0 * gains[1].gained_arcmin
    assert gains[0].least_arcmin == pytest.approx(40.0 / 12.0)
    assert all(gain.after_two_more_rms_arcmin <= gain.now_rms_arcmin for gain in gains)


def test_a_log_of_another_night_keeps_the_tube_and_forgets_the_set_up() -> None:
    fit = leaning()
    same = pm.plan(at=_iso(end_s(fit) + 600.0), stars=3, after=fit)
    later = pm.plan(at=_iso(end_s(fit) + 5 * 86400.0), stars=3, after=fit)
    assert [n.code for n in later.warnings].count("another_night") == 1
    assert "another_night" not in [n.code for n in same.warnings]
    assert later.now_rms_arcmin > 20.0 > same.now_rms_arcmin
    assert "collimation" not in later.expected[-1].not_determined
    assert later.expected[1].rms_arcmin < evening().expected[1].rms_arcmin


def test_a_log_without_times_is_taken_as_tonights_and_said_so() -> None:
    log = pm.simulate(seed=2, pairs=5).log
    timeless = pm.fit(replace(log, time_s=np.full(5, np.nan)))
    codes = [n.code for n in pm.plan(SITE, EVENING, 2, after=timeless).warnings]
    assert "no_times" in codes


@pytest.mark.parametrize("extra", [{"tube_flexure": 25.0}, {"azimuth_slip": 80.0}])
def test_further_terms_of_the_fit_are_planned_for(extra: dict[str, float]) -> None:
    fit = pm.fit(pm.simulate(seed=4, pairs=14, terms=extra).log)
    result = pm.plan(SITE, EVENING, 3, after=fit)
    assert result.expected[-1].rms_arcmin < result.now_rms_arcmin
    names = {name for step in result.expected for name in step.not_determined}
    assert names <= {column.name for column in fit.solution.posterior.columns}


def test_it_says_when_to_stop() -> None:
    result = evening(16)
    assert result.stop_after is not None
    assert 6 <= result.stop_after < 16
    misses = [step.rms_arcmin for step in result.expected]
    gained = misses[result.stop_after - 1] - misses[result.stop_after + 1]
    assert gained < 40.0 / 12.0
    assert evening(3).stop_after is None


def test_more_stars_are_worth_it_where_they_gain_a_twelfth_of_the_field() -> None:
    fit = pm.fit(pm.simulate(seed=0, pairs=4).log)
    wide, narrow = (
        starplan.gain_of_more(pm.fit(fit.log, mount={"optics": {"field_of_view": field}}))
        for field in (60.0, 15.0)
    )
    assert wide.gained_arcmin == pytest.approx(narrow.gained_arcmin, rel=0.3)
    assert 15.0 / 12.0 < narrow.gained_arcmin < 60.0 / 12.0
    assert narrow.is_worth_it
    assert wide.is_worth_it == bool(wide.settles)


def test_what_two_more_stars_would_settle_is_worth_staying_for() -> None:
    """A lean that may be large enough to matter, and that two well-placed stars would rule out."""
    gains = [
        starplan.gain_of_more(pm.fit(pm.simulate(seed=seed, pairs=4).log)) for seed in range(12)
    ]
    settling = [gain for gain in gains if gain.settles]
    assert settling
    assert all(gain.is_worth_it for gain in settling)
    assert {name for gain in settling for name in gain.settles} <= set(TERMS)


def test_alignment_stars_are_well_apart_and_worth_what_a_realignment_is() -> None:
    fit = leaning()
    result = pm.plan(at=_iso(end_s(fit)), after=fit, stars=1)
    realign = next(f for f in fit.forecasts if f.remedy == "realign")
    best = result.alignment_pairs[0]
    assert best.rms_arcmin == pytest.approx(realign.rms_arcmin, rel=0.1)
    assert [p.rms_arcmin for p in result.alignment_pairs] == sorted(
        p.rms_arcmin for p in result.alignment_pairs
    )
    assert len({frozenset((p.first, p.second)) for p in result.alignment_pairs}) == 3


def test_an_alignment_leaves_the_altitude_zero_of_a_typical_mount_on_the_sky() -> None:
    # 30′ of altitude zero leave some 40′ RMS over the sky, whichever two stars are taken
    assert 36.0 < evening().alignment_pairs[0].rms_arcmin < 46.0


def test_the_document_fits_its_schema_and_the_command_prints_it() -> None:
    document = evening().to_dict()
    keeps_its_schema(document, "plan")
    assert document["schema"] == "pointmodel.plan/1"
    told = CliRunner().invoke(
        command_line, ["plan", "--mount", str(MOUNT), "--at", EVENING, "--json"]
    )
    assert told.exit_code == 0
    assert json.loads(told.stdout) == document


def test_the_command_goes_on_from_a_log_with_the_mount_file_beside_it() -> None:
    told = CliRunner().invoke(
        command_line,
        ["plan", "--after", str(DATA / "leaning.csv"), "--at", EVENING, "--stars", "2"],
    )
    assert told.exit_code == 0
    assert "go-tos of this mount miss by" in " ".join(told.stdout.split())
    assert max(map(len, told.stdout.splitlines())) <= 100


def test_the_command_takes_the_mount_file_of_the_folder(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(DATA)
    told = CliRunner().invoke(command_line, ["plan", "--at", EVENING, "--stars", "1"])
    assert told.exit_code == 0
    assert "Centre this star" in told.stdout


def test_the_text_says_first_what_to_do_and_what_it_brings() -> None:
    text = str(evening())
    assert text.startswith("Centre these 8 stars, Sirius first. Corrected go-tos then miss")
    for star in evening().stars:
        assert star.target in text
    assert "CENTRE THESE, IN THIS ORDER" in text
    assert "Never point near the Sun without a certified front filter" in text


@pytest.mark.parametrize("stars", [0, -1, 31, 2.5, "8", True])
def test_a_number_of_stars_that_makes_no_sense_is_refused(stars: Any) -> None:
    with pytest.raises(pm.InputError, match="a whole number of stars, 1 to 30"):
        pm.plan(SITE, EVENING, stars)


@pytest.mark.parametrize("at", ["tonight", 5, "2031-13-01T00:00", ""])
def test_a_time_that_is_none_is_refused(at: Any) -> None:
    with pytest.raises(pm.InputError, match="date and time"):
        pm.plan(SITE, at)


@pytest.mark.parametrize(
    ("mount", "missing"),
    [
        (None, "no latitude and no longitude"),
        ({}, "no latitude and no longitude"),
        ({"site": {"latitude": 3.0}}, "no longitude under"),
        ({"site": {"longitude": 3.0}}, "no latitude under"),
    ],
)
def test_without_a_site_it_says_what_to_add(mount: Any, missing: str) -> None:
    with pytest.raises(pm.InputError, match=rf"{missing}.*\[site\] latitude = -41\.3"):
        pm.plan(mount, EVENING)


def test_what_is_no_fit_is_refused() -> None:
    with pytest.raises(pm.InputError, match=r"a fit, as pm\.fit gives it"):
        pm.plan(SITE, EVENING, after="night.csv")  # type: ignore[arg-type]


def test_a_horizon_that_hides_every_star_is_named() -> None:
    with pytest.raises(pm.InputError, match="a horizon profile with no bright star above it"):
        pm.plan(SITE | {"horizon": {"profile": [[0, 89.5]]}}, EVENING)


def test_a_narrow_sky_gives_what_there_is_and_says_so() -> None:
    slot = [[0, 85], [100, 85], [110, 30], [125, 30], [135, 85]]
    result = pm.plan(SITE | {"horizon": {"profile": slot}}, EVENING, stars=30)
    assert 1 <= len(result.stars) < 30
    assert "few_stars" in [n.code for n in result.warnings]
    assert result.more.gained_arcmin >= 0.0


@pytest.mark.parametrize("latitude", [90.0, -90.0, 0.0])
@pytest.mark.parametrize("longitude", [180.0, -180.0, 0.0])
def test_poles_equator_and_date_line_are_places_like_others(
    latitude: float, longitude: float
) -> None:
    mount = {"site": {"latitude": latitude, "longitude": longitude}}
    result = pm.plan(mount, "2031-12-21T12:00Z", stars=4)
    assert len(result.stars) == 4
    keeps_its_schema(result.to_dict(), "plan")


def test_both_sides_of_the_date_line_see_one_sky() -> None:
    east, west = (
        pm.plan({"site": {"latitude": -18.0, "longitude": longitude}}, "2031-03-21T09:00Z")
        for longitude in (180.0, -180.0)
    )
    assert [star.target for star in east.stars] == [star.target for star in west.stars]
    assert [s.az_deg for s in east.stars] == pytest.approx([s.az_deg for s in west.stars])


def test_nothing_that_was_passed_in_is_changed() -> None:
    mount = json.loads(json.dumps(SITE | {"horizon": {"profile": [[0, 10], [180, 30]]}}))
    before = json.dumps(mount)
    pm.plan(mount, EVENING, 3)
    assert json.dumps(mount) == before


def test_the_yardstick_holds_the_stars_that_the_plan_may_use() -> None:
    stick = yardstick(some_sky(0), evening().time_s)
    assert (stick.alt_deg >= 20.0).all()
    assert (stick.alt_deg <= 75.0).all()


def test_a_log_that_is_good_enough_says_stop_first() -> None:
    fit = pm.fit(pm.simulate(seed=1, pairs=40, mount=SITE).log)
    result = pm.plan(at=_iso(end_s(fit)), stars=4, after=fit)
    assert result.stop_after == 0
    assert re.match(r"Corrected go-tos miss by about [\d.]+′ now\. You may stop: two", str(result))


def test_a_star_that_was_centred_is_not_named_again() -> None:
    mount = pm.read_mount({"site": {"latitude": -41.3, "longitude": 146.2}})
    made = pm.simulate(seed=3, pairs=5, mount=mount)
    names = set()
    log = made.log
    for _ in range(4):
        star = starplan.next_star_after(pm.fit(log), mount, float(log.time_s[-1]) + 120.0)
        assert star is not None
        assert star.target not in log.target
        names.add(star.target)
        log = replace(log, target=(star.target, *log.target[1:]))
    assert len(names) > 1
