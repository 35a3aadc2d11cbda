"""Levelling with cold hands: which side, by screws or legs, which way a screw turns, no compass."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from bench.levelling_figures import GOOD
from fakes import make_levelling
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.feet import hand_errors_arcmin
from pointmodel.levelling.stand import USUAL_TRAVEL_MM, WAYS
from pointmodel.levelling.text import level_text
from pointmodel.reading.mountfile import Feet
from pointmodel.simulation.mount import line_of_sight, place_deg

AZIMUTHS = (0.0, 120.0, 240.0)
KNOWN = {"alignment": {"stars": [], "presses": "none"}, "entered": {"verified": True}}


def leaning_terms(lean_arcmin: float, toward_deg: float) -> dict[str, float]:
    toward = np.radians(toward_deg)
    return {
        "tilt_north": lean_arcmin * np.cos(toward),
        "tilt_east": lean_arcmin * np.sin(toward),
    }


@cache
def leaning(lean_arcmin: float, toward_deg: float = 70.0, azimuth_index: float = 0.0) -> pm.Fit:
    """The fit of a mount that leans so and reads so much too high in azimuth."""
    terms = {**GOOD, **leaning_terms(lean_arcmin, toward_deg), "azimuth_index": azimuth_index}
    return pm.fit(pm.simulate(seed=5, pairs=12, terms=terms).log)


def levelled(lean_arcmin: float, feet: dict[str, Any] | None, **more: float) -> pm.LevelResult:
    mount: dict[str, Any] = {**KNOWN, **({} if feet is None else {"feet": feet})}
    result = pm.level(pm.fit(leaning(lean_arcmin, **more).log, mount=mount))
    assert result.verdict == "level"
    return result


def feet_of(**more: Any) -> dict[str, Any]:
    return {"radius": 430, "azimuths": list(AZIMUTHS), **more}


def told(result: pm.LevelResult) -> str:
    return " ".join(level_text(result).split())


def test_screws_come_first_as_far_as_they_reach() -> None:
    result = levelled(30.0, feet_of(screw_pitch=1.5, legs=True))
    assert result.stand is not None
    assert (result.stand.by, result.stand.ways) == ("screws", WAYS)
    assert WAYS[0] == "lower_only"  # what stands lower stands steadier (common practice, no source)
    assert "Turn the screws of the feet: choose ONE column".upper() in told(result)
    assert "measure the height" not in told(result)


def test_ways_beyond_the_screws_are_left_out_and_that_is_said() -> None:
    result = levelled(45.0, feet_of(screw_pitch=1.5))
    assert result.stand is not None
    assert (result.stand.by, result.stand.ways) == ("screws", ("least_travel",))
    assert max(abs(foot.least_travel_mm) for foot in result.feet) <= USUAL_TRAVEL_MM
    assert max(abs(foot.lower_only_mm) for foot in result.feet) > USUAL_TRAVEL_MM
    assert "a screw goes 8 mm each way (taken as usual" in told(result)
    assert "lower only" not in told(result).lower()
    longer = levelled(45.0, feet_of(screw_pitch=1.5, screw_travel=12))
    assert longer.stand is not None
    assert longer.stand.ways == WAYS
    assert "taken as usual" not in told(longer)


def test_beyond_the_screws_the_legs_come_first_and_height_counts_not_length() -> None:
    result = levelled(150.0, feet_of(screw_pitch=1.5, legs=True))
    assert result.stand is not None
    assert result.stand.by == "legs"
    text = told(result)
    assert "SLIDE THE LEGS (HEIGHT, NOT LENGTH)" in text
    assert "A sloping leg lengthened by 10 mm lifts less than 10 mm: measure the height." in text
    assert "log three stars and ask again: what is left is for the screws" in text
    assert "turns" not in text  # of screws that are not to be turned yet
    assert not re.search(r"(raise|lower) \d+\.\d mm", text)  # a leg is not set to a tenth


def test_legs_without_screws_are_all_there_is() -> None:
    result = levelled(30.0, feet_of(legs=True))
    assert result.stand is not None
    assert (result.stand.by, result.stand.screw_travel_mm) == ("legs", None)
    assert "screw" not in told(result)


def test_without_legs_plates_go_under_the_low_feet_and_nothing_is_lowered() -> None:
    result = levelled(150.0, feet_of(screw_pitch=1.5))
    assert result.stand is not None
    assert (result.stand.by, result.stand.ways) == ("plates", ("raise_only",))
    assert not re.search(r"lower \d+ mm", told(result))
    assert re.search(r"raise \d+ mm", told(result))


def test_what_a_hand_leaves_is_more_by_legs_than_by_screws() -> None:
    feet = Feet(430.0, AZIMUTHS, 1.5)
    spread = {by: hand_errors_arcmin(feet, 2000, by).std() for by in (True, False)}
    # a plane through three feet set to a step: sqrt(2/3) of a step's sd over the radius, on an axis
    assert spread[False] == pytest.approx(np.sqrt(2.0 / 3.0 / 12.0) * 2.0 / 430 * 3437.7, rel=0.05)
    assert spread[True] < 0.15 * spread[False]
    by_legs = levelled(30.0, feet_of(legs=True)).expected_lean_after_arcmin
    by_screws = levelled(30.0, feet_of(screw_pitch=1.5)).expected_lean_after_arcmin
    assert by_legs is not None
    assert by_screws is not None
    assert by_legs > 2.0 * by_screws


def test_a_common_screw_lifts_when_turned_clockwise_from_above() -> None:
    """The right-hand screw rule (common practice, no source): thumb along the way it advances."""
    from_above = np.array([0.0, 0.0, 1.0])  # up, toward the one who looks down
    clockwise = np.cross([0.0, 1.0, 0.0], [1.0, 0.0, 0.0])  # from north to east, as a clock's hand
    screw_moves_up = float(np.dot(clockwise, from_above)) > 0
    assert not screw_moves_up  # down through the base, so the base goes up
    assert "raises the base when you turn it clockwise, seen from above" in levelwords.SCREW_TURNS


@pytest.mark.parametrize("azimuth_index", [0.0, 300.0, -4000.0])
def test_the_tube_at_the_readout_named_points_at_the_side_to_raise(azimuth_index: float) -> None:
    """Where the tube then looks is asked of the simulated mount: no arithmetic of the fit's."""
    result = levelled(60.0, feet_of(screw_pitch=1.5), azimuth_index=azimuth_index)
    assert result.stand is not None
    toward = result.lean.toward_az_deg
    assert toward == pytest.approx(70.0, abs=2.0)
    readings = np.array([result.stand.side_reading_deg, *result.stand.foot_readings_deg])
    axis_az = np.radians(readings - azimuth_index / 60.0)
    terms = {**GOOD, **leaning_terms(60.0, 70.0)}
    looks_at, _ = place_deg(line_of_sight(axis_az, np.full(4, np.radians(5.0)), terms))
    off = (looks_at - [toward, *AZIMUTHS] + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(np.zeros(4), abs=0.5)
    side = round(result.stand.side_reading_deg) % 360
    assert f"Send the tube to readout {side}° in azimuth, low down" in told(result)


def test_the_side_to_raise_is_named_and_is_the_low_one() -> None:
    for toward, word in ((0.0, "north"), (135.0, "south-east"), (270.0, "west")):
        result = levelled(60.0, feet_of(screw_pitch=1.5), toward_deg=toward)
        assert f"The base is too low in the {word} (azimuth" in told(result)
        low_side = np.cos(np.radians(np.array(AZIMUTHS) - toward))
        rises = [foot.least_travel_mm for foot in result.feet]
        assert int(np.argmax(rises)) == int(np.argmax(low_side))


def test_without_feet_in_the_mount_file_the_side_and_a_slope_are_told() -> None:
    result = levelled(78.0, None)
    assert result.stand is not None
    assert (result.stand.by, result.feet) == (None, ())
    # 1 mm in 1 m is 3.4377′ (common practice, no source)
    slope = result.lean.amount_arcmin / 3.4377
    assert f"How much: {slope:.0f} mm for each metre" in told(result)
    assert "points at the side to raise" in told(result)


def test_a_bubble_is_looked_at_before_two_stars_and_only_where_it_can_see() -> None:
    steps = levelwords.confirm_steps(levelled(60.0, feet_of()))
    assert steps[0].startswith("Look at a bubble level")
    assert steps[1].startswith("Zero the mount on a star")
    assert "Each 1′ of lean left shows there as a 2′ miss." in steps[2]
    assert levelwords.confirm_steps(levelled(20.0, feet_of()))[0].startswith("Zero the mount")


def test_the_document_holds_the_means_and_is_as_its_schema_says() -> None:
    for feet in (None, feet_of(), feet_of(legs=True), feet_of(screw_travel=1)):
        document = levelled(45.0, feet).to_dict()
        keeps_its_schema(document, "level")
        assert len(document["stand"]["foot_readings_deg"]) == len(document["feet"])
    made = replace(make_levelling(Feet(430.0, AZIMUTHS, 1.5), 48.0), stand=None).to_dict()
    assert made["stand"] is None
    assert made["stand_reason"]


@pytest.mark.parametrize("width", [60, 80])
def test_the_feet_stand_in_a_table_that_does_not_fall_apart(width: int) -> None:
    text = level_text(levelled(30.0, feet_of(screw_pitch=1.5)), width=width)
    head = next(line for line in text.splitlines() if "Lower only" in line)
    assert "Raise only" in head
    assert "Least work" in head
    row = next(line for line in text.splitlines() if line.startswith("3 (240°)"))
    assert row.count(" mm") + row.count("leave") == 3
    assert max(map(len, text.splitlines())) <= width
