"""Corrected positions: they bring the target in, say how surely, and refuse what cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.aiming.aim import FARTHEST_STAR_DEG
from pointmodel.estimate.observations import Column
from pointmodel.forecasting.forecast import misses_at_targets, sky_forecast
from pointmodel.forecasting.machine import MountModel, linearised_at, pointing_at, readings_for
from pointmodel.mount.terms import STANDARD_NAMES

DATA = Path(__file__).parent.parent / "data"


@pytest.fixture(scope="module")
def leaning() -> pm.Fit:
    return pm.fit(DATA / "leaning.csv")


def one(fit: pm.Fit, target: Any, **changes: Any) -> Any:
    return pm.aim(fit, [target], **changes).targets[0]


def test_the_mount_points_at_the_target_once_it_reads_the_command(leaning: pm.Fit) -> None:
    az_deg, alt_deg = np.array([10.0, 123.5, 300.0]), np.array([75.0, 45.0, 25.0])
    found = pm.aim(leaning, list(zip(az_deg, alt_deg, strict=True))).targets
    command_az = np.array([target.command_az_deg for target in found])
    command_alt = np.array([target.command_alt_deg for target in found])
    miss = linearised_at(leaning.model, az_deg, alt_deg, command_az, command_alt).miss
    np.testing.assert_allclose(miss, 0.0, atol=1e-6)


def test_the_nudge_is_about_the_correction_on_the_sky(leaning: pm.Fit) -> None:
    target = one(leaning, "350,60")
    across = (target.command_az_deg - 350.0) * 60 * np.cos(np.radians(60.0))
    assert target.nudge.right_arcmin == pytest.approx(across, abs=1.0)
    assert target.nudge.up_arcmin == pytest.approx((target.command_alt_deg - 60) * 60, abs=1.0)


def test_more_than_two_fields_are_not_nudged(leaning: pm.Fit) -> None:
    for field, status in ((24.0, "ok"), (12.0, "zero_first"), (None, "ok")):
        fit = pm.fit(
            DATA / "leaning.csv", mount={"optics": {"field_of_view": field} if field else {}}
        )
        target = one(fit, "350,60")  # 26′ off
        assert target.status == status
        assert (target.nudge is None) == (status == "zero_first")
        assert target.command_az_deg is not None
        keeps_its_schema(pm.aim(fit, "350,60").to_dict(), "aim")
    far = pm.fit(pm.simulate(seed=2, terms={"azimuth_index": 900.0}, mount_class="perfect").log)
    result = pm.aim(far, (100.0, 30.0))
    reason = result.targets[0].reason
    assert "misses by 13°, more than two fields of the eyepiece of 40′ (field_of" in reason
    assert "Zero the controller on a bright star first. Log that star on a line with" in reason
    assert "zero first" in str(result)
    assert "Not sent" not in str(result)


def test_where_the_mount_points_is_the_way_back_of_the_readings(leaning: pm.Fit) -> None:
    az_deg, alt_deg = np.array([10.0, 123.5, 300.0]), np.array([75.0, 45.0, 15.0])
    for name, size in ((None, 0.0), ("tube_flexure", 20.0), ("refraction", 1.0)):
        columns = () if name is None else (Column(name),)
        values = np.array([22.0, -9.0, 12.0, -6.0, 15.0, 42.0, *([size] if name else [])])
        model = MountModel(values, columns)
        reading_az, reading_alt, _ = readings_for(model, az_deg, alt_deg)
        again = pointing_at(model, reading_az, reading_alt)
        np.testing.assert_allclose(again, (az_deg, alt_deg), atol=1e-6)


def test_a_nudge_goes_the_short_way_round_north() -> None:
    fit = pm.fit(pm.simulate(seed=2, terms={"azimuth_index": 60.0}, mount_class="perfect").log)
    assert one(fit, (359.5, 30.0)).nudge.right_arcmin == pytest.approx(52.0, abs=1.0)


@pytest.mark.parametrize(
    "target",
    [
        "123.5,45",
        " 123.5 , 45 ",
        "123°30',45°",
        "123 30, 45 0",
        "123:30:00,45:00",
        "123deg30m,45deg",
        "123,5;45,0",
        (123.5, 45),
        np.array([123.5, 45.0]),
    ],
)
def test_a_place_may_be_written_in_many_ways(leaning: pm.Fit, target: Any) -> None:
    assert (one(leaning, target).asked_az_deg, one(leaning, target).asked_alt_deg) == (123.5, 45.0)


def test_an_azimuth_may_count_down_from_north(leaning: pm.Fit) -> None:
    targets = pm.aim(leaning, ["-36.5,45", "−36°30',45", (-36.5, 45.0), "323.5,45"]).targets
    assert {target.asked_az_deg for target in targets} == {323.5}
    assert len({target.command_az_deg for target in targets}) == 1


@pytest.mark.parametrize("targets", ["123.5,45", (123.5, 45.0), [(123.5, 45.0)], ("123.5,45",)])
def test_one_target_may_stand_without_a_list(leaning: pm.Fit, targets: Any) -> None:
    assert [target.asked_az_deg for target in pm.aim(leaning, targets).targets] == [123.5]


@pytest.mark.parametrize("text", ["05:34:31, 22:00:52", "5:34,22:00", "23:59:59;-12"])
def test_hours_or_degrees_are_asked_where_they_could_be_either(leaning: pm.Fit, text: str) -> None:
    with pytest.raises(pm.InputError, match="azimuth and altitude or right ascension and decl"):
        pm.aim(leaning, text)
    assert one(leaning, "24:30,45:00").asked_az_deg == 24.5


def test_no_targets_make_an_empty_document(leaning: pm.Fit) -> None:
    assert pm.aim(leaning, []).to_dict()["targets"] == []


def test_every_target_that_cannot_be_read_is_told_at_once(leaning: pm.Fit) -> None:
    wrong = ["Siriuss", "12,9O", "400,10", (10.0, 91.0), (np.nan, 3), (1, 2, 3), "1,2", "M 111"]
    with pytest.raises(pm.InputError, match="wanted") as caught:
        pm.aim(leaning, [*wrong, "5:34:31 +95:00", "Grubb's Star", ""])
    told = [problem.wanted for problem in caught.value.problems]
    assert told[:6] == [
        "a known target: did you mean Sirius?",
        "azimuth and altitude in degrees, such as 123.5,45 or 123°30',45° (digits only: 90?)",
        "azimuth from -180 to 360 degrees",
        "altitude from -90 to 90 degrees",
        "azimuth from -180 to 360 degrees",
        "azimuth and altitude in degrees, such as 123.5,45 or 123°30',45°",
    ]
    assert told[6].startswith("a Messier number from 1 to 110. Or azimuth and altitude")
    assert told[7].startswith("a declination from -90 to +90 degrees. Or azimuth and altitude")
    assert "a star (Achernar, alpha Eri, HIP 7588), a planet" in told[8]
    assert len(told) == 10
    assert caught.value.problems[0].found == '"Siriuss"'


@pytest.mark.parametrize("targets", [None, 5.0, [None], [3]])
def test_what_is_no_target_at_all_is_refused(leaning: pm.Fit, targets: Any) -> None:
    with pytest.raises(pm.InputError, match=r"wanted .*azimuth and altitude in degrees"):
        pm.aim(leaning, targets)


def test_a_place_behind_the_horizon_profile_is_not_sent(leaning: pm.Fit) -> None:
    hidden, clear = pm.aim(leaning, ["90,34", "90,36"]).targets
    assert (hidden.status, hidden.command_az_deg, hidden.nudge) == ("below_horizon", None, None)
    assert hidden.reason == "its altitude is 34°00′, and the open sky begins at 35°00′ there"
    assert clear.status == "ok"


def test_nothing_below_zero_is_sent_even_where_the_horizon_dips() -> None:
    fit = pm.fit(DATA / "leaning.csv", mount={"horizon": {"profile": [[0, -5], [180, -5]]}})
    low = one(fit, "40,-1")
    assert (low.status, low.miss_rms_arcmin, low.chance_in_field) == ("below_horizon", None, None)
    assert one(fit, "40,1").status == "ok"


def test_a_place_near_the_zenith_that_no_reading_reaches_is_told() -> None:
    tube = {"collimation": 120.0}
    log = pm.simulate(seed=5, pairs=20, mount_class="perfect", terms=tube).log
    fit = pm.fit(log.pairs, mount={"optics": {"field_of_view": 300}})
    far, near = pm.aim(fit, ["77,87.9", "77,88.1"]).targets
    assert (far.status, near.status) == ("ok", "unreachable")
    assert (near.command_alt_deg, near.p95_arcmin) == (None, None)
    assert "no position of the axes points there" in near.reason


def test_a_command_past_the_zenith_is_not_given() -> None:
    high = {"altitude_index": 40.0}
    fit = pm.fit(pm.simulate(seed=5, pairs=20, mount_class="perfect", terms=high).log)
    above = one(fit, "77,89.5")
    assert (above.status, above.command_alt_deg) == ("unreachable", None)
    assert "more than 90°" in above.reason
    assert one(fit, "77,89.2").command_alt_deg == pytest.approx(89.2 + 40 / 60, abs=0.01)


def test_a_place_far_from_every_star_used_is_called_extrapolated() -> None:
    log = pm.simulate(seed=6, pairs=60, low_alt_deg=20, high_alt_deg=60).log
    patch = log.select((log.commanded_az_deg > 40) & (log.commanded_az_deg < 140))
    fit = pm.fit(patch.pairs, mount={"optics": {"field_of_view": 90}})
    stars = np.flatnonzero(~fit.pair_results.set_aside)
    assert stars.size >= 6
    far, near = pm.aim(fit, ["270,40", "90,40"]).targets
    assert (far.status, near.status) == ("extrapolated", "ok")
    assert far.command_az_deg is not None
    nearest = float(far.reason.split(" is ")[1].split("°")[0])
    assert nearest > FARTHEST_STAR_DEG
    assert far.miss_rms_arcmin > near.miss_rms_arcmin


def test_a_star_that_was_set_aside_makes_no_place_well_known() -> None:
    log = pm.simulate(seed=6, pairs=60, low_alt_deg=20, high_alt_deg=60).log
    patch = (log.commanded_az_deg > 40) & (log.commanded_az_deg < 140)
    lone = int(np.argmin(np.abs(log.commanded_az_deg - 270)))
    patch[lone] = True
    place = (float(log.commanded_az_deg[lone]), float(log.commanded_alt_deg[lone]))
    assert one(pm.fit(log.select(patch)), place).status == "ok"
    wrong_alt = log.centred_alt_deg + np.where(np.arange(60) == lone, 7.0, 0.0)
    spoilt = pm.fit(replace(log, centred_alt_deg=wrong_alt).select(patch))
    assert [pair.line for pair in spoilt.set_aside] == [int(log.line[lone])]
    assert one(spoilt, place).status == "extrapolated"


def test_the_expected_miss_is_that_of_the_draws_and_grows_with_the_doubt(leaning: pm.Fit) -> None:
    az_deg, alt_deg = np.array([20.0, 200.0]), np.array([50.0, 78.0])
    outlook = leaning.expected_at(az_deg, alt_deg)
    drawn = misses_at_targets(outlook)
    rms = sky_forecast(outlook).miss_rms_arcmin
    np.testing.assert_allclose(np.sqrt((drawn**2).mean(axis=0)), rms, rtol=0.06)
    found = pm.aim(leaning, list(zip(az_deg, alt_deg, strict=True))).targets
    assert [target.miss_rms_arcmin for target in found] == pytest.approx(rms.tolist())
    for k, target in enumerate(found):
        assert np.mean(drawn[:, k] <= target.p95_arcmin) == pytest.approx(0.95, abs=0.002)


def test_nineteen_commands_in_twenty_land_within_what_was_said() -> None:
    az_deg, alt_deg = np.array([200.0]), np.array([50.0])
    inside = 0
    for seed in range(60):
        night = pm.simulate(seed=seed, pairs=10)
        truth = MountModel(np.array([night.terms[name] for name in STANDARD_NAMES]), ())
        target = one(pm.fit(night.log), (200.0, 50.0))
        command = np.array([target.command_az_deg]), np.array([target.command_alt_deg])
        miss = linearised_at(truth, az_deg, alt_deg, *command).miss[0]
        scatter = np.random.default_rng(seed).normal(0, night.scatter_arcmin, 2)
        inside += bool(np.hypot(*(miss + scatter)) <= target.p95_arcmin)
    assert 53 <= inside <= 60


def test_the_chance_is_that_of_half_the_field() -> None:
    narrow = pm.fit(DATA / "leaning.csv", mount={"optics": {"field_of_view": 1.5}})
    target = one(narrow, "20,50")
    drawn = misses_at_targets(narrow.expected_at(np.array([20.0]), np.array([50.0])))
    assert target.chance_in_field == np.mean(drawn <= 0.75)
    assert 0.1 < target.chance_in_field < 0.9


def test_an_unknown_field_leaves_the_chance_unknown_and_says_so() -> None:
    target = one(pm.fit(DATA / "leaning.csv", mount={}), "20,50")
    assert (target.status, target.chance_in_field) == ("ok", None)
    assert "field_of_view" in target.reason


def test_slack_that_was_found_asks_for_its_side_of_approach(leaning: pm.Fit) -> None:
    slack = {"azimuth_backlash": 25.0}
    fit = pm.fit(pm.simulate(seed=8, pairs=30, terms=slack).log)
    assert (one(fit, "20,50").approach_az, one(fit, "20,50").approach_alt) == ("cw", None)
    assert (one(leaning, "20,50").approach_az, one(leaning, "20,50").approach_alt) == (None, None)


def test_the_sun_is_warned_of_always(leaning: pm.Fit) -> None:
    warnings = {notice.code: notice.text for notice in pm.aim(leaning, ["20,50"]).warnings}
    assert list(warnings) == ["mount_file", "sun"]
    assert "Never point at or near the Sun without a certified filter" in warnings["sun"]


@pytest.mark.parametrize(
    ("at", "written"),
    [
        ("2031-05-17T21:04:30+10:00", "2031-05-17T21:04:30+10:00"),
        ("2031-05-17T21:04:30", "2031-05-17T21:04:30+10:00"),
        ("2031-01-17 21:04Z", "2031-01-17T21:04:00+00:00"),
        (datetime(2031, 5, 17, 11, tzinfo=UTC), "2031-05-17T11:00:00+00:00"),
        (None, None),
    ],
)
def test_the_moment_is_told_with_its_zone(leaning: pm.Fit, at: Any, written: str | None) -> None:
    result = pm.aim(leaning, ["20,50"], at=at)
    assert result.targets[0].at == written
    assert "time_zone" not in [notice.code for notice in result.warnings]


def test_a_moment_without_any_zone_is_taken_as_utc_and_said_so() -> None:
    result = pm.aim(pm.fit(DATA / "leaning.csv", mount={}), ["20,50"], at="2031-05-17T21:04")
    assert result.targets[0].at == "2031-05-17T21:04:00+00:00"
    assert "time_zone" in [notice.code for notice in result.warnings]


@pytest.mark.parametrize("at", ["tonight", 3, ""])
def test_what_is_no_moment_is_refused(leaning: pm.Fit, at: Any) -> None:
    with pytest.raises(pm.InputError, match=r"<at>: read .*; wanted"):
        pm.aim(leaning, ["20,50"], at=at)


def test_the_document_is_as_its_schema_says_and_the_text_names_every_target() -> None:
    tube = {"collimation": 120.0, "azimuth_backlash": 30.0}
    fit = pm.fit(pm.simulate(seed=5, pairs=20, mount_class="perfect", terms=tube).log)
    result = pm.aim(fit, ["77,50", "33,-4", "10,89.5"], at="2031-05-17T21:04:30+10:00")
    keeps_its_schema(result.to_dict(), "aim")
    text = str(result)
    assert all(name in text for name in ("77,50", "33,-4", "10,89.5", "going cw", "Sun"))
    assert not jsonschema.Draft202012Validator(pm.schema("aim")).is_valid(
        {**result.to_dict(), "targets": [{**result.to_dict()["targets"][1], "command_az_deg": 1.0}]}
    )
