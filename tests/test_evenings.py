"""Evenings with a controller and a person: the simulator of them, and what the program advises.

The functions are those of `tests/bench/evenings.py`, on a few evenings each; the counts behind the
figures stand there.
"""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from bench import evening_figures as figures
from bench.advice_figures import one_advice
from bench.controllers import Wrong
from bench.evening_kinds import FORMS, KINDS, evening
from bench.evening_machine import lean_of_feet, vectors
from bench.evening_orders import answer, order_in
from scipy.spatial.transform import Rotation

import pointmodel as pm
from pointmodel.advising.words import LONGEST_HEADLINE

BENCH = Path(__file__).parent / "bench"
ARCSEC_DEG = 1.0 / 3600.0
# of the columns that hold something else one each: in both pairs of figures, or in one
FORMED = [f"{form}:{'both' if k % 2 else 'centred'}" for k, form in enumerate(FORMS)]
STILL = {"sigma_arcmin": 0.0, "step_arcsec": 0.36}


def apart_arcmin(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Angles between places (n, 2), arcminutes."""
    chord = np.linalg.norm(vectors(one) - vectors(other), axis=-1)
    return np.degrees(2.0 * np.arcsin(chord / 2.0)) * 60.0


@pytest.mark.parametrize("file", ["evening_machine.py", "evening_play.py", "evening_kinds.py"])
def test_the_simulated_evening_shares_nothing_with_what_it_is_to_test(file: str):
    imported = [
        node.module or ""
        for node in ast.walk(ast.parse((BENCH / file).read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom)
    ]
    forbidden = ("pointmodel.mount.kinematics", "pointmodel.readings", "pointmodel.entries")
    assert not [module for module in imported if module.startswith(forbidden)]


def test_the_same_kind_and_seed_give_the_same_evening():
    assert evening("knocked", 4).text == evening("knocked", 4).text
    assert evening("knocked", 4).text != evening("knocked", 5).text


@pytest.mark.parametrize("kind", ["plain", "zeroed", "synced_each"])
def test_the_plain_log_of_a_still_evening_gives_the_true_lean(kind: str):
    one = evening(kind, 2, lines=(12, 12), **STILL)
    fit = pm.fit(one.plain_log)
    for name in ("tilt_north", "tilt_east"):
        # the clock was typed in by hand, to a second or so: a quarter of an arcminute each
        assert fit.terms.loc[name, "value"] == pytest.approx(one.terms[name], abs=1.0)


@pytest.mark.parametrize("solves", ["rotation", "altitude_zero"])
def test_an_alignment_brings_both_its_stars_home(solves: str):
    machine = evening("plain", 3).machine
    on = ((110.0, 35.0), (215.0, 55.0))
    aligned = machine.with_solving(solves).realigned(on)
    stars = np.array(on)
    held = aligned.controller.believed(stars)
    landed = aligned.looks_at(aligned.controller.drives_to(held))
    miss = apart_arcmin(landed, stars)
    assert miss[0] < 1e-4
    # a rotation alone cannot mend the angle between the stars: a wrong altitude zero stays
    assert miss[1] < (0.02 if solves == "altitude_zero" else 90.0)


def test_the_rotation_is_that_of_align_vectors_where_the_angles_agree():
    machine = evening("plain", 3).machine.with_solving("altitude_zero").realigned()
    stars = np.array(((120.0, 40.0), (220.0, 50.0)))
    axes = machine.reads(stars) - np.array([0.0, machine.controller.altitude_zero_deg])
    held = machine.controller.believed(stars)
    authority, _ = Rotation.align_vectors(vectors(axes), vectors(held))
    np.testing.assert_allclose(machine.controller.rotation, authority.as_matrix(), atol=1e-6)


def test_a_press_makes_the_star_right_and_moves_every_later_reading_by_the_miss():
    one = evening("synced_each", 6, **STILL)
    played = one.played
    shown = played.shown - played.unpressed
    missed = np.cumsum(played.shown - played.commanded, axis=0)
    off = shown[1:] + missed[:-1]
    off[:, 0] = (off[:, 0] + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(off, 0.0, atol=1e-9)
    landed = one.machine.looks_at(one.machine.controller.drives_to(played.commanded[-1]))
    assert apart_arcmin(landed, played.star[-1]) < 1e-4


def test_readings_after_the_press_equal_the_commanded_places():
    log = evening("noted_after_press_exact", 1).log
    np.testing.assert_allclose(log.centred_az_deg, log.commanded_az_deg, atol=1e-9)
    np.testing.assert_allclose(log.centred_alt_deg, log.commanded_alt_deg, atol=1e-9)


def test_a_display_on_the_sky_hides_the_lean_and_one_of_the_axes_shows_it():
    hidden, shown = (
        evening(f"aligned_{shows}", 5, solves="altitude_zero", **STILL) for shows in ("sky", "axes")
    )
    for one, low, high in ((hidden, 0.0, 25.0), (shown, 15.0, 500.0)):
        miss = apart_arcmin(one.played.noted, one.played.commanded)
        assert low <= np.median(miss) <= high


def test_turning_the_feet_for_the_true_lean_takes_it_away():
    machine = evening("plain_silent", 8).machine
    north, east = machine.lean_arcmin
    assert np.hypot(*machine.levelled(north, east).lean_arcmin) == pytest.approx(0.0, abs=1e-9)
    assert machine.levelled(north, east).zeroed().miss_arcmin() < machine.zeroed().miss_arcmin()


def test_rises_of_three_feet_are_read_as_the_lean_they_take_away():
    # worked in the pointing model: 1.3° toward azimuth 70°, feet at 430 mm
    lean, toward = np.radians(1.3), np.radians(70.0)
    azimuths = np.array([0.0, 120.0, 240.0])
    rises = 430.0 * np.tan(lean) * np.cos(np.radians(azimuths) - toward) + 3.0
    north, east = lean_of_feet(azimuths, rises, 430.0)
    assert north == pytest.approx(78.0 * np.cos(toward), abs=1e-6)
    assert east == pytest.approx(78.0 * np.sin(toward), abs=1e-6)


def test_wrong_entries_send_a_go_to_astray_and_right_ones_bring_it_back():
    one = evening("wrong_entry", 3, entry="summer_time")
    assert one.machine.miss_arcmin() > 300.0
    assert one.machine.with_entries(Wrong()).zeroed().miss_arcmin() < 150.0


def test_a_nudge_carries_the_tube_from_where_it_landed_to_the_star():
    from astropy import units
    from astropy.coordinates import SkyCoord, SkyOffsetFrame

    one = evening("nudges", 2, step_arcsec=1.0, mount_share=1.0)
    played = one.played
    rows = [row.split(",") for row in one.text.splitlines()]
    right, up = (rows[0].index(name) for name in ("nudge_right", "nudge_up"))
    for k, row in enumerate(rows[1:]):
        seen = SkyCoord(*played.landed[k] * units.deg)
        offset = SkyCoord(
            float(row[right]) * units.arcmin,
            float(row[up]) * units.arcmin,
            frame=SkyOffsetFrame(origin=seen),
        ).transform_to("icrs")
        place = np.array([offset.ra.deg, offset.dec.deg])
        assert apart_arcmin(place, played.star[k]) < 0.1


@pytest.mark.parametrize("kind", [*(name for name in KINDS if ":" not in name), *FORMED])
def test_every_kind_of_evening_is_answered_or_refused_with_words(kind: str):
    said = answer(evening(kind, 0))
    assert said.sentence
    assert not said.first.startswith("other"), said.sentence


@pytest.mark.parametrize("kind", [*(name for name in KINDS if ":" not in name), *FORMED])
def test_fit_and_level_never_disagree_on_any_kind_of_evening(kind: str):
    """A night a kind; hundreds are in `bench/advice_figures.py`."""
    found = one_advice((kind, 0))
    if found is not None:
        assert found.agree
        assert len(found.headline) <= LONGEST_HEADLINE


def test_an_order_is_read_as_an_owner_reads_it():
    assert order_in("Zero on a star: 2 min, 60′ → 5′.") == "zero_on_star"
    assert order_in("Go-to is good, nothing need be done: it misses by 4′.") == "good"
    assert order_in("Which of the two is it?") == "ask"


@pytest.mark.parametrize("kind", [name for name in KINDS if name.startswith("minutes_")])
def test_times_without_seconds_blame_no_right_controller(kind: str):
    assert not any(figures.one_minutes(kind, seed) for seed in range(2))


@pytest.mark.parametrize("kind", [name for name in KINDS if name.startswith("mount_file_")])
def test_a_slip_in_the_mount_file_is_named_and_no_right_controller_is_changed(kind: str):
    for seed in range(2):
        named, controller, first = figures.one_file(kind, seed)
        assert named, first
        assert not controller, first
        assert figures.one_advice(kind, seed).judged == "right", first


def test_a_wrong_entry_of_the_controller_is_named_though_the_mount_file_could_be_wrong():
    assert all(figures.one_file("wrong_entry", seed)[1] for seed in range(4))


def test_a_nudge_log_gives_the_terms_of_the_axis_log():
    found = [figures.one_nudges(seed) for seed in range(3)]
    assert all(one is not None and one[0] < 3.5 for one in found)


def test_a_coarse_set_up_and_three_loosely_centred_stars_leave_intervals_that_hold():
    found = [figures.one_loose("nothing", seed)[0] for seed in range(20)]
    assert np.mean(found) >= 0.87 - 0.09  # three standard errors of some 60 independent intervals


def test_a_professionals_list_keeps_its_noise_and_shows_its_flexure():
    ratio, taken = figures.one_label("coarse_labels", 1)
    assert taken
    assert ratio <= 1.15


def test_a_knock_nobody_logged_is_found_at_its_line_and_harms_nobody():
    found = [figures.one_knock(seed, lines=(8, 12)) for seed in range(5)]
    assert sum(at_line for _, at_line, _ in found) >= 4  # .95 are promised
    assert not any(judged == "harmful" for _, _, judged in found)


@pytest.mark.parametrize("population", ["usual", "varied", "worse"])
def test_a_mount_that_stood_still_is_not_said_to_have_moved(population: str):
    assert not any(figures.one_still(population, seed) for seed in range(5))


def test_ground_that_sinks_is_named_and_no_foot_is_ordered():
    found = [figures.one_sinking(seed) for seed in range(4)]
    assert sum(named for named, _ in found) >= 3  # .9 are promised
    assert not any(feet for _, feet in found)


def test_zeroings_that_are_logged_cost_nothing():
    found = [figures.one_synced("synced_each_logged", "none", seed) for seed in range(4)]
    # an alignment may do as well where the last press happened to set the zeros right
    assert all({one["verdict"], one["plain_verdict"]} <= {"level", "realign"} for one in found)
    own, plain = (np.array([one[key] for one in found]) for key in ("error", "plain_error"))
    assert np.sqrt(np.mean(own**2)) <= 1.5 * np.sqrt(np.mean(plain**2)) + 0.3


def test_a_wrong_entry_is_ordered_right_even_where_it_makes_a_log_that_fits_no_mount():
    for seed in range(4):
        one = figures.one_advice("wrong_entry", seed)
        assert (one.order, one.judged) == ("set_entry", "right"), one.sentence


@pytest.mark.parametrize("kind", [name for name in KINDS if name.startswith("hopeless_")])
def test_a_hopeless_log_orders_nothing_by_hand(kind: str):
    for seed in range(2):
        by_hand, _, first = figures.one_hopeless(kind, seed)
        assert not by_hand, first


@pytest.mark.parametrize("lines", [4, 8])
def test_zeroings_after_each_line_are_found_though_nobody_logged_them(lines: int):
    found = [
        figures.one_synced("synced_each", "synced_after_each", seed, lines=(lines, lines))
        for seed in range(3)
    ]
    assert all(one["found"] for one in found)
    assert not any(one["judged"] == "harmful" for one in found)


@pytest.mark.parametrize("kind", ["columns_exchanged", *FORMED])
def test_columns_that_hold_something_else_are_named_and_taken_up(kind: str):
    finding = kind.split(":")[0]
    named, taken_up, first = figures.one_columns(kind, finding, 0)
    assert named, first
    assert taken_up, first


def test_figures_noted_after_the_press_are_called_good_by_nobody():
    for seed in range(4):
        good, named = figures.one_after_press("noted_after_press_exact", seed)
        assert named
        assert not good
