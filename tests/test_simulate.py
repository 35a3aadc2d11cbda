"""Simulated nights: geometry against formulas written out here, faults against their names."""

import json
import math
import pickle
import shutil
from pathlib import Path

import erfa
import numpy as np
import pytest
from bench.nights import actual_miss_arcmin, even_targets, night, right_commands_deg
from click.testing import CliRunner

from pointmodel.base.errors import InputError
from pointmodel.cli import command_line
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.mount.terms import STANDARD_NAMES, terms_of_the_mount
from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.simulation.draw import draw_terms
from pointmodel.simulation.faults import PEN_SLIPS, possible_slips
from pointmodel.simulation.files import figure_text
from pointmodel.simulation.mount import (
    SimulatedCircumstances,
    direction,
    line_of_sight,
    place_deg,
    readings_deg,
)
from pointmodel.simulation.simulate import simulate
from pointmodel.simulation.sky import bright_stars, horizontal_deg, of_date_deg, sidereal_time_deg

DATA = Path(__file__).parent.parent / "data"
SITE = {"site": {"latitude": -41.3, "longitude": 146.2, "elevation": 640}}
NO_NOISE = {"sigma_arcmin": 0.0, "readout_step_arcsec": 0.0}
PERFECT = {"mount_class": "perfect", **NO_NOISE}
ROUNDING_ARCSEC = 1e-6


def corrections_arcmin(made):
    """Correction in azimuth and altitude, as logged."""
    change = made.centred_az_deg - made.commanded_az_deg
    return (
        60.0 * (180.0 - np.mod(180.0 - change, 360.0)),
        60.0 * (made.centred_alt_deg - made.commanded_alt_deg),
    )


def first_order_arcmin(name, az_deg, alt_deg):
    """The first table: what one arcminute of a standard term adds."""
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    one, none = np.ones_like(az), np.zeros_like(az)
    return {
        "azimuth_index": (one, none),
        "altitude_index": (none, one),
        "collimation": (1 / np.cos(alt), none),
        "non_perpendicularity": (np.tan(alt), none),
        "tilt_north": (np.tan(alt) * np.sin(az), np.cos(az)),
        "tilt_east": (-np.tan(alt) * np.cos(az), np.sin(az)),
    }[name]


def closed_form_deg(az_deg, alt_deg, terms):
    """Steps 1 to 3 of the exact form, written out from the formulas alone."""
    tilt = np.array([terms["tilt_north"], terms["tilt_east"]]) * math.pi / 10800
    square, tip = (terms[k] * math.pi / 10800 for k in ("collimation", "non_perpendicularity"))
    amount, toward = math.hypot(*tilt), math.atan2(tilt[1], tilt[0])
    # Rodrigues: by -T about the horizontal axis at right angles to the lean's direction
    sky = np.array(direction(az_deg, alt_deg))
    axis = np.array([-math.sin(toward), math.cos(toward), 0.0])
    across = np.array([math.cos(toward), math.sin(toward), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    along, height = across @ sky, up @ sky
    base = (
        np.outer(axis, axis @ sky)
        + np.outer(across, along * math.cos(amount) - height * math.sin(amount))
        + np.outer(up, along * math.sin(amount) + height * math.cos(amount))
    )
    az, alt = np.arctan2(base[1], base[0]), np.arctan2(base[2], np.hypot(base[0], base[1]))
    delta = np.arcsin(
        (math.sin(square) + math.sin(tip) * np.sin(alt)) / (math.cos(tip) * np.cos(alt))
    )
    axis_alt = np.arctan2(
        math.cos(tip) * np.sin(alt) + math.sin(tip) * np.cos(alt) * np.sin(delta),
        np.cos(alt) * np.cos(delta),
    )
    return (
        np.degrees(az + delta) + terms["azimuth_index"] / 60,
        np.degrees(axis_alt) + terms["altitude_index"] / 60,
    )


def still(n):
    """Circumstances in which no further term but those of star and circle acts."""
    none = np.zeros(n)
    return SimulatedCircumstances(none, none, none, none)


def test_the_same_seed_gives_the_same_night_and_another_seed_another():
    one, again, other = (simulate(seed=s, pen_slips=2, wrong_stars=1) for s in (5, 5, 6))
    assert one.to_csv_text() == again.to_csv_text()
    assert one.to_dict() == again.to_dict()
    assert one.to_csv_text() != other.to_csv_text()


def test_a_term_or_a_fault_added_leaves_stars_and_noise_as_they_were():
    plain, spoiled = simulate(seed=5), simulate(seed=5, terms={"collimation": 40}, pen_slips=1)
    np.testing.assert_array_equal(plain.star_az_deg, spoiled.star_az_deg)
    index = simulate(seed=5, terms={"altitude_index": plain.terms["altitude_index"] + 6})
    raised = index.centred_alt_deg - plain.centred_alt_deg
    np.testing.assert_allclose(raised, 0.1, atol=1e-9)


def test_the_arguments_are_left_as_they_were():
    terms, mount = {"collimation": 5.0}, {"site": dict(SITE["site"])}
    simulate(terms=terms, mount=mount, clutch_slip_arcmin=3.0)
    assert terms == {"collimation": 5.0}
    assert mount == SITE


@pytest.mark.parametrize("name", STANDARD_NAMES)
def test_a_small_standard_term_adds_what_the_first_order_table_says(name):
    made = simulate(seed=2, pairs=60, terms={name: 0.1}, **PERFECT)
    add_az, add_alt = corrections_arcmin(made)
    expected_az, expected_alt = first_order_arcmin(
        name, made.commanded_az_deg, made.commanded_alt_deg
    )
    np.testing.assert_allclose(add_az, 0.1 * expected_az, atol=2e-4)
    np.testing.assert_allclose(add_alt, 0.1 * expected_alt, atol=2e-4)


def test_the_chain_agrees_with_the_closed_form_at_terms_of_several_degrees():
    rng = np.random.default_rng(8)
    az_deg, alt_deg = rng.uniform(0, 360, 200), rng.uniform(-20, 70, 200)
    for _ in range(40):
        terms = dict.fromkeys(terms_of_the_mount(), 0.0) | dict(
            zip(STANDARD_NAMES, rng.uniform(-400, 400, 6), strict=True)
        )
        chain = readings_deg(az_deg, alt_deg, terms, still(200))
        expected_az, expected_alt = closed_form_deg(az_deg, alt_deg, terms)
        apart_az = 180 - np.mod(180 - (chain[0] - expected_az), 360)
        assert np.abs(apart_az).max() * 3600 < ROUNDING_ARCSEC
        assert np.abs(chain[1] - expected_alt).max() * 3600 < ROUNDING_ARCSEC


def test_a_leaning_collimated_tube_looks_where_its_sketch_says():
    level = dict.fromkeys(terms_of_the_mount(), 0.0)
    at_north = np.zeros(1), np.zeros(1)
    az, alt = place_deg(line_of_sight(*at_north, level | {"collimation": 60.0}))
    assert (float(az[0]), float(alt[0])) == pytest.approx((359.0, 0.0), abs=1e-9)  # left
    zenith = np.zeros(1), np.full(1, math.pi / 2)
    az, alt = place_deg(line_of_sight(*zenith, level | {"tilt_east": 60.0}))
    assert (float(az[0]), float(alt[0])) == pytest.approx((90.0, 89.0), abs=1e-9)
    # right-hand end high: a tube raised from north to the zenith ends up to its left, west
    az, alt = place_deg(line_of_sight(*zenith, level | {"non_perpendicularity": 60.0}))
    assert (float(az[0]), float(alt[0])) == pytest.approx((270.0, 89.0), abs=1e-9)


def further(name, made):
    """What one unit of a further term adds to (ΔA, Δa), arcminutes: the second table."""
    az_deg, alt_deg = made.commanded_az_deg, made.commanded_alt_deg
    az, none, when = np.radians(az_deg), np.zeros(az_deg.size), made.circumstances
    after = (np.arange(az_deg.size) >= 20).astype(float)
    return {
        "tube_flexure": (none, np.cos(np.radians(alt_deg))),
        "refraction": (none, refraction_lift_arcmin(alt_deg)),
        "azimuth_scale": (180 - np.mod(180 - az_deg, 360), none),
        "altitude_scale": (none, alt_deg),
        "azimuth_eccentricity_sin": (np.sin(az), none),
        "azimuth_eccentricity_cos": (np.cos(az), none),
        "azimuth_backlash": (when.az_motion / 2, none),
        "altitude_backlash": (none, when.alt_motion / 2),
        "azimuth_drift": ((made.time_s - made.time_s[0]) / 3600, none),
        "altitude_drift": (none, (made.time_s - made.time_s[0]) / 3600),
        "azimuth_slip": (after, none),
        "altitude_slip": (none, after),
    }[name]


@pytest.mark.parametrize("name", [n for n in terms_of_the_mount() if n not in STANDARD_NAMES])
def test_a_further_term_adds_what_its_table_says_and_is_told_as_a_fault(name):
    size = 1.0 if name == "refraction" else 0.01
    made = simulate(seed=4, pairs=40, terms={name: size}, slip_after_pair=20, **PERFECT)
    add_az, add_alt = corrections_arcmin(made)
    expected_az, expected_alt = further(name, made)
    np.testing.assert_allclose(add_az, size * expected_az, atol=1e-6)
    np.testing.assert_allclose(add_alt, size * expected_alt, atol=1e-6)
    (fault,) = made.truth["faults"]
    assert (fault["kind"], fault["size"]) == (terms_of_the_mount()[name].cause, size)
    assert fault["line"] == (21 if "slip" in name else None)


def test_a_scale_error_grows_from_the_readout_at_which_the_count_is_zero():
    mount = {"mount": {"azimuth_origin": 100}}
    made = simulate(seed=4, pairs=40, terms={"azimuth_scale": 0.01}, mount=mount, **PERFECT)
    turned_deg = 180 - np.mod(180 - (made.commanded_az_deg - 100), 360)
    np.testing.assert_allclose(corrections_arcmin(made)[0], 0.01 * turned_deg, atol=1e-6)


def test_refraction_applied_twice_takes_the_lift_at_the_true_altitude():
    made = simulate(seed=4, pairs=40, terms={"refraction": -1.0}, low_alt_deg=3, **PERFECT)
    true_alt_deg = made.commanded_alt_deg
    for _ in range(20):
        true_alt_deg = made.commanded_alt_deg - 2 * refraction_lift_arcmin(true_alt_deg) / 60
    add_alt = corrections_arcmin(made)[1]
    np.testing.assert_allclose(add_alt, -refraction_lift_arcmin(true_alt_deg), atol=1e-5)


def test_flexure_moves_the_star_before_the_base_leans():
    terms = {"tube_flexure": 12.0, "tilt_north": 540.0}
    made = simulate(seed=4, pairs=30, high_alt_deg=60, terms=terms, **PERFECT)
    met_deg = made.commanded_alt_deg + 0.2 * np.cos(np.radians(made.commanded_alt_deg))
    whole = dict.fromkeys(terms_of_the_mount(), 0.0) | {"tilt_north": 540.0}
    expected = closed_form_deg(made.commanded_az_deg, met_deg, whole)
    np.testing.assert_allclose(made.centred_alt_deg, expected[1], atol=1e-9)


def test_noise_is_isotropic_on_the_sky_and_split_as_asked():
    made = simulate(seed=1, pairs=40_000, mount_class="perfect", sigma_arcmin=2, mount_share=0.6)
    add_az, add_alt = corrections_arcmin(made)
    across = add_az * np.cos(np.radians(made.star_alt_deg))
    assert across.std() == pytest.approx(2.0, rel=0.02)
    assert add_alt.std() == pytest.approx(2.0, rel=0.02)
    assert (made.scatter_arcmin, made.centring_arcmin) == pytest.approx((1.2, 1.6))


def test_stars_are_even_in_solid_angle_between_the_altitudes():
    made = simulate(seed=1, pairs=20_000)
    heights = np.sin(np.radians(made.star_alt_deg))
    low, high = math.sin(math.radians(15)), math.sin(math.radians(80))
    counts, _ = np.histogram(heights, bins=8, range=(low, high))
    assert counts.sum() == 20_000
    assert np.abs(counts - 2500).max() < 200
    assert np.abs(np.histogram(made.star_az_deg, bins=8)[0] - 2500).max() < 200


@pytest.mark.parametrize(
    ("mount_class", "index_sd", "tilt_sd"), [("usual", 60, 25), ("worse", 6235, 75)]
)
def test_terms_of_a_class_have_the_stated_spread(mount_class, index_sd, tilt_sd):
    rng = np.random.default_rng(3)
    drawn = [draw_terms(rng, mount_class) for _ in range(4000)]
    assert np.std([t["azimuth_index"] for t in drawn]) == pytest.approx(index_sd, rel=0.05)
    assert np.std([t["tilt_east"] for t in drawn]) == pytest.approx(tilt_sd, rel=0.05)


def test_varied_mounts_differ_in_noise_step_and_spread():
    rng = np.random.default_rng(3)
    made = [night(rng, "varied", 3) for _ in range(600)]
    sigma = np.array([m.sigma_arcmin for m in made])
    assert 0.4 <= sigma.min() < 0.45
    assert 3.6 < sigma.max() <= 4.0
    assert np.log(sigma).std() == pytest.approx(math.log(10) / math.sqrt(12), rel=0.06)
    share = np.array([m.scatter_arcmin / m.sigma_arcmin for m in made])
    assert (share.min(), share.max()) == pytest.approx((0.3, 0.95), abs=0.02)
    assert {m.readout_step_arcsec for m in made} == {1.0, 60.0, 360.0}
    collimation = np.array([m.terms["collimation"] for m in made])
    kurtosis = np.mean(collimation**4) / np.mean(collimation**2) ** 2
    assert kurtosis > 5  # one normal has 3


def test_the_two_tilts_of_a_varied_mount_share_one_spread():
    rng = np.random.default_rng(3)
    drawn = [draw_terms(rng, "varied") for _ in range(4000)]
    north, east = (np.log(np.abs([t[k] for t in drawn])) for k in ("tilt_north", "tilt_east"))
    # ln of a normal's size has variance π²/8
    expected = 0.49 / (0.49 + math.pi**2 / 8)
    assert np.corrcoef(north, east)[0, 1] == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("kind", "az_alt", "wrong"),
    [
        ("one_degree", (123.5, 45.25), {(124.5, 45.25), (122.5, 45.25), (123.5, 46.25)}),
        ("ten_degrees", (123.5, 45.25), {(133.5, 45.25), (113.5, 45.25), (123.5, 35.25)}),
        ("altitude_sign", (123.5, 45.25), {(123.5, -45.25)}),
        ("degree_digits", (123.5, 45.25), {(213.5, 45.25), (132.5, 45.25), (123.5, 54.25)}),
        ("degree_digits", (7.5, 8.25), {(70.5, 8.25), (7.5, 80.25)}),
        ("columns_swapped", (63.5, 45.25), {(45.25, 63.5)}),
        ("minute_digits", (63.5, 45.2), set()),  # 12′ for 21′ is less than half a degree
        ("minute_digits", (63.5, 45 + 4 / 60), {(63.5, 45 + 40 / 60)}),
        ("one_figure_twice", (63.5, 45.25), {(45.25, 45.25), (63.5, 63.5)}),
        (
            "five_degrees",
            (63.5, 45.25),
            {(68.5, 45.25), (58.5, 45.25), (63.5, 50.25), (63.5, 40.25)},
        ),
        ("hundred_degrees", (163.5, 45.25), {(63.5, 45.25), (263.5, 45.25)}),
        # half a degree of azimuth is too little to be told at 45°
        ("minutes_dropped", (63.5, 45.75), {(63.5, 45.0), (63.0, 45.0)}),
        ("minutes_as_decimals", (63.5, 45.75), {(63.5, 45.45), (63.3, 45.45)}),
    ],
)
def test_a_slip_of_the_pen_is_what_its_name_says(kind, az_alt, wrong):
    found = {(round(az, 9), round(alt, 9)) for az, alt in possible_slips(kind, *az_alt)}
    assert {(round(az, 9), round(alt, 9)) for az, alt in wrong} <= found
    at_most = {"one_degree": 4, "ten_degrees": 4}.get(kind, len(wrong))
    assert len(found) == at_most


def test_slips_that_no_log_may_hold_are_left_out():
    assert possible_slips("columns_swapped", 123.5, 45.25) == []
    assert possible_slips("one_degree", 123.5, 89.6) == [(123.5, 88.6)]
    assert possible_slips("degree_digits", 280.5, 66.0) == [(208.5, 66.0)]


@pytest.mark.parametrize("kind", PEN_SLIPS)
@pytest.mark.parametrize("place", ["centred", "commanded"])
def test_slips_spoil_just_the_lines_named_in_just_the_figures_asked(kind, place):
    asked = {"pen_slips": 2, "pen_slip_kind": kind, "pen_slip_in": place}
    plain, made = simulate(seed=9, pairs=60), simulate(seed=9, pairs=60, **asked)
    other = "commanded" if place == "centred" else "centred"
    for part in ("az_deg", "alt_deg"):
        np.testing.assert_array_equal(
            getattr(made, f"{other}_{part}"), getattr(plain, f"{other}_{part}")
        )
    right = getattr(plain, f"{place}_az_deg"), getattr(plain, f"{place}_alt_deg")
    wrong = getattr(made, f"{place}_az_deg"), getattr(made, f"{place}_alt_deg")
    spoiled = (right[0] != wrong[0]) | (right[1] != wrong[1])
    np.testing.assert_array_equal(spoiled, made.bad)
    faults = made.truth["faults"]
    assert sorted(fault["line"] for fault in faults) == (made.line[made.bad]).tolist()
    for fault in faults:
        k = fault["line"] - 2
        entry = (wrong[0][k], wrong[1][k])
        before = (wrong[0][k - 1], wrong[1][k - 1]) if k else None
        assert entry in possible_slips(kind, right[0][k], right[1][k], before)
        assert fault["kind"] == made.cause[k] == "log_typo"
        assert fault["size"] > (10 if kind == "minutes_as_decimals" else 30)


def test_a_wrong_star_stands_seven_tenths_to_eight_degrees_away():
    distances = []
    for seed in range(60):
        made = simulate(seed=seed, pairs=4, wrong_stars=2, **PERFECT)
        moved = np.array(direction(made.centred_az_deg, made.centred_alt_deg))
        named = np.array(direction(made.star_az_deg, made.star_alt_deg))
        apart = np.degrees(np.arccos(np.clip((moved * named).sum(axis=0), -1, 1)))
        np.testing.assert_array_equal(apart > 1e-3, made.bad)
        assert made.bad.sum() == 2
        sizes = {f["line"]: f["size"] / 60 for f in made.truth["faults"]}
        assert sizes == pytest.approx(dict(zip(made.line[made.bad], apart[made.bad], strict=True)))
        distances += list(apart[made.bad])
    assert 0.7 <= min(distances) < 1.2
    assert 7 < max(distances) <= 8


@pytest.mark.parametrize("step", [1.0, 10.0, 60.0, 360.0, 3600.0, 0.1])
def test_every_figure_is_a_multiple_of_the_readout_step(step):
    made = simulate(seed=2, pairs=2000, readout_step_arcsec=step)
    for figures in (made.commanded_az_deg, made.centred_az_deg, made.centred_alt_deg):
        steps = figures * 3600 / step
        np.testing.assert_allclose(steps, np.round(steps), atol=1e-6)
        assert ((figures >= -90) & (figures < 360)).all()


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [
        (123.508333333333, 1.0, "123 30 30"),
        (-0.508333333333, 1.0, "-0 30 30"),
        (59 + 59.99999999 / 60, 60.0, "60 00"),
        (5.25, 60.0, "5 15"),
        (5.3, 360.0, "5.3"),
        (5.0, 3600.0, "5"),
        (5.5000277777, 0.1, "5 30 00.1"),
        (5.123456789012, 0.0, "5.123456789"),
        (5.000194444444, 0.7, "5 00 00.7"),
    ],
)
def test_a_figure_is_written_as_a_readout_of_that_step_shows_it(value, step, text):
    assert figure_text(value, step) == text


@pytest.mark.parametrize("step", [0.0, 1.0, 60.0, 360.0])
def test_the_written_log_reads_back_as_the_night(tmp_path, step):
    made = simulate(seed=3, pairs=15, readout_step_arcsec=step, mount=SITE)
    path, _ = made.write(str(tmp_path / "night.csv"))
    read, held = read_log(path, mount=SITE), made.log
    for name in ("commanded_az_deg", "commanded_alt_deg", "centred_az_deg", "centred_alt_deg"):
        np.testing.assert_allclose(getattr(read, name), getattr(held, name), atol=1e-9)
    for name in ("line", "time_s", "az_motion", "alt_motion"):
        np.testing.assert_array_equal(getattr(read, name), getattr(held, name))
    assert read.target == held.target
    assert held.mount.to_dict() == read.mount.to_dict()


def test_unlogged_motions_are_blank_in_the_log_though_the_gears_had_them():
    made = simulate(seed=3, motions="unlogged", terms={"azimuth_backlash": 20.0})
    assert not made.log.az_motion.any()
    assert set(made.circumstances.az_motion) == {-1.0, 1.0}
    lines = [line for line in made.to_csv_text().splitlines()[1:] if line[0] != "#"]
    assert lines
    assert all(line.endswith(",,") for line in lines)


def test_a_simulated_log_says_that_nothing_was_aligned_and_nothing_pressed(tmp_path):
    made = simulate(seed=3)
    made.write(tmp_path / "night.csv")
    for log in (made.log, read_log(tmp_path / "night.csv")):
        assert (log.mount.alignment.state, log.mount.alignment.presses) == ("none", "none")
    told = read_mount({"alignment": {"stars": ["Achernar"], "presses": "unknown"}})
    zeroed = simulate(seed=3, mount=told)
    assert zeroed.log.mount == told
    assert "#" not in zeroed.to_csv_text()


def test_the_truth_stands_beside_the_log_and_says_all(tmp_path):
    made = simulate(seed=3, pairs=9, wrong_stars=1, pen_slips=1, terms={"altitude_drift": 9.0})
    log, truth = made.write(str(tmp_path / "night.csv"))
    assert truth == str(tmp_path / "night.truth.json")
    document = json.loads((tmp_path / "night.truth.json").read_text(encoding="utf-8"))
    assert document == made.to_dict((log, truth))
    assert document["schema"] == "pointmodel.simulate/1"
    assert document["files"] == [log, truth]
    assert document["seed"] == 3
    assert {t["name"]: t["value"] for t in document["terms"]} == {
        **{name: made.terms[name] for name in STANDARD_NAMES},
        "altitude_drift": 9.0,
    }
    assert [pair["line"] for pair in document["pairs"]] == list(range(2, 11))
    assert sum(pair["bad"] for pair in document["pairs"]) == 2
    kinds = {fault["kind"] for fault in document["faults"]}
    assert kinds == {"drift", "wrong_star", "log_typo"}


@pytest.mark.parametrize("first", ["night.csv", "night.truth.json"])
def test_a_file_that_exists_is_never_replaced(tmp_path, first):
    (tmp_path / first).write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"exists already; wanted a new name"):
        simulate().write(str(tmp_path / "night.csv"))
    assert [path.name for path in tmp_path.iterdir()] == [first]
    assert (tmp_path / first).read_text(encoding="utf-8") == "mine"


def test_a_file_that_comes_between_looking_and_writing_is_not_replaced(tmp_path, monkeypatch):
    (tmp_path / "night.csv").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(Path, "exists", lambda _: False)
    with pytest.raises(InputError, match="exists already"):
        simulate().write(str(tmp_path / "night.csv"))
    assert (tmp_path / "night.csv").read_text(encoding="utf-8") == "mine"


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match="wanted a file that can be made there"):
        simulate().write(str(tmp_path / "none" / "night.csv"))


def test_a_log_needs_a_file_name():
    with pytest.raises(InputError, match="read no file name"):
        simulate().write("")


def test_named_stars_stand_within_an_arcminute_of_where_erfa_puts_them():
    when = "2026-05-17T20:00:00+10:00"  # near enough for leap seconds to be known
    made = simulate(seed=3, pairs=30, mount=SITE, start=when, **PERFECT)
    names, ra_deg, dec_deg = bright_stars()
    for k, name in enumerate(made.target):
        star = names.index(name)
        az, zenith_distance = erfa.atco13(
            math.radians(ra_deg[star]), math.radians(dec_deg[star]), 0, 0, 0, 0,
            2440587.5, made.time_s[k] / 86400, 0.0,
            math.radians(146.2), math.radians(-41.3), 640, 0, 0, 0, 10, 0.5, 0.55,
        )[:2]  # fmt: skip
        true_alt_deg = 90 - math.degrees(zenith_distance)
        lift = refraction_lift_arcmin(np.array([true_alt_deg]), pressure_hpa=939.0)[0]
        expected = direction(math.degrees(az), true_alt_deg + lift / 60)
        found = direction(made.star_az_deg[k], made.star_alt_deg[k])
        assert math.dist(expected, found) * 3438 < 1.0


def test_each_bright_star_comes_once_before_any_comes_twice():
    made = simulate(seed=3, pairs=20, mount=SITE)
    assert len(set(made.target)) == 20


@pytest.mark.parametrize("with_site", [True, False])
def test_no_star_is_taken_from_behind_the_horizon_or_outside_the_altitudes(with_site):
    profile = {"horizon": {"profile": [[0, 10], [90, 50], [180, 10], [270, 30]]}}
    mount = profile | (SITE if with_site else {})
    made = simulate(seed=3, pairs=80, mount=mount, low_alt_deg=20)
    lowest = np.maximum(made.log.mount.open_alt_deg(made.star_az_deg), 20)
    assert (made.star_alt_deg >= lowest).all()
    assert (made.star_alt_deg <= 80).all()


def test_wrong_entries_turn_the_commands_and_leave_the_stars():
    wrong = {"sidereal_error_min": 8.0, "latitude_error_deg": 0.5}
    right, made = (simulate(seed=3, mount=SITE, **PERFECT, **w) for w in ({}, wrong))
    np.testing.assert_array_equal(made.star_az_deg, right.star_az_deg)
    np.testing.assert_array_equal(made.centred_alt_deg, right.centred_alt_deg)
    names, ra_deg, dec_deg = bright_stars()
    stars = [names.index(name) for name in made.target]
    ra_deg, dec_deg = of_date_deg(ra_deg[stars], dec_deg[stars], made.time_s[0])
    hour_deg = sidereal_time_deg(made.time_s) + 146.2 + 2.0 - ra_deg
    az_deg, true_alt_deg = horizontal_deg(hour_deg, dec_deg, -40.8)
    lift = refraction_lift_arcmin(true_alt_deg, made.circumstances.pressure_hpa)
    np.testing.assert_allclose(made.commanded_az_deg, az_deg, atol=1e-9)
    np.testing.assert_allclose(made.commanded_alt_deg, true_alt_deg + lift / 60, atol=1e-9)
    assert made.truth["entries"] == {
        "true": {"latitude_deg": -41.3, "sidereal_offset_min": 0.0},
        "typed": {"latitude_deg": -40.8, "sidereal_offset_min": 8.0},
    }


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"pairs": 0}, r"column pairs: read 0; wanted a whole number from 1 to 200000"),
        ({"pairs": 2.5}, r"column pairs: read 2.5; wanted a whole number"),
        ({"pairs": True}, r"column pairs: read True; wanted a whole number"),
        ({"seed": -1}, r"column seed: read -1; wanted a whole number from 0"),
        ({"seed": "x"}, r"column seed: read 'x'; wanted a whole number from 0"),
        ({"terms": {"colimation": 1}}, r"read 'colimation'; wanted one of azimuth_index, "),
        ({"terms": {"collimation": math.nan}}, r"collimation: read nan; wanted a number from -18"),
        ({"terms": {"azimuth_scale": 60}}, r"azimuth_scale: read 60; wanted a number from -10 to"),
        ({"terms": [1]}, r"column terms: read \[1\]; wanted a mapping"),
        ({"mount_class": "good"}, r"wanted one of usual, varied, worse, perfect"),
        ({"mount_share": 1.2}, r"column mount_share: read 1.2; wanted a number from 0 to 1"),
        ({"sigma_arcmin": -1}, r"column sigma_arcmin: read -1; wanted a number from 0"),
        ({"wrong_stars": 8, "pen_slips": 5}, r"read 13 bad lines .*; wanted at most 12 in all"),
        ({"pen_slip_kind": ""}, r"wanted one of one_degree, ten_degrees, five_degrees"),
        ({"pen_slip_in": "seen"}, r"wanted one of centred, commanded"),
        ({"slip_after_pair": 0}, r"slip_after_pair: read 0; wanted a whole number from 1"),
        ({"slip_after_pair": 12}, r"slip_after_pair: read 12; wanted less than 12, the pairs"),
        ({"pairs": 1, "clutch_slip_arcmin": 9}, r"column pairs: read 1; wanted at least 2"),
        (
            {"clutch_slip_arcmin": 9, "terms": {"azimuth_slip": 9}},
            r"wanted this or the term azimuth_slip, not both",
        ),
        ({"low_alt_deg": 60, "high_alt_deg": 50}, r"wanted less than high_alt_deg"),
        ({"start": "2031-05-17T20:00:00"}, r"column start: read '2031.*; wanted a moment in ISO"),
        ({"start": "tonight"}, r"column start: read 'tonight'; wanted a moment in ISO 8601"),
        ({"start": "x" * 200}, r"column start: read 'x+…; wanted a moment in ISO 8601"),
        ({"start": "9999-05-17T20:00:00+10:00"}, r"read '9999.* in 1971 to 2200"),
        ({"motions": "both"}, r"wanted one of mixed, same, unlogged"),
        ({"sidereal_error_min": 4}, r"read no site; wanted a mount file with a site"),
        ({"mount": {"alignment": {"stars": ["a", "b"]}}}, r"read an aligned mount; wanted one"),
        ({"mount": {"mount": {"readout": "sky"}}}, r"read an aligned mount; wanted one that"),
        (
            {"high_alt_deg": 90, "low_alt_deg": 88, "terms": {"collimation": 600}},
            r"read 90, with 12 stars out of reach; wanted a lower altitude, or smaller terms",
        ),
        ({"terms": {"altitude_index": 1800}}, r"with readouts past 90° of altitude; wanted a low"),
        (
            {"pen_slips": 12, "pen_slip_kind": "minute_digits"},
            r"pen_slips: read 12, where \d lines can hold such a slip; wanted fewer, another",
        ),
        (
            {"mount": {"horizon": {"profile": [[0, 80], [180, 80]]}}},
            r"read a horizon that hides nearly all of the sky asked for; wanted low_alt_deg",
        ),
        ({"mount": SITE, "low_alt_deg": 79.99}, r"read a moment with no bright star there"),
    ],
)
def test_a_bad_argument_is_told_with_what_would_be_right(arguments, message):
    with pytest.raises(InputError, match=message):
        simulate(**arguments)


def test_all_bad_arguments_are_told_at_once():
    with pytest.raises(InputError, match="pairs") as told:
        simulate(pairs=0, seed=-1, start="x", terms={"a": 1, "collimation": "b"})
    assert len(told.value.problems) == 5


def test_a_night_prints_in_words_and_pickles():
    made = simulate(seed=3, wrong_stars=1, terms={"azimuth_slip": 30.0})
    text = str(pickle.loads(pickle.dumps(made)))
    assert text.startswith(
        "12 pairs, usual mount, seed 3\none pair is off by 1.00′ in each direction"
    )
    assert "wrong_star" in text
    assert "line 7: slip, 30.0 arcmin (azimuth_slip)" in text


def test_right_commands_land_on_their_targets_and_others_miss_by_what_they_should():
    rng = np.random.default_rng(2)
    az_deg, alt_deg = even_targets(100)
    further_terms = {"tube_flexure": 12.0, "refraction": -1.0, "azimuth_slip": 20.0}
    made = night(rng, "worse", 8, terms=further_terms)
    commands = right_commands_deg(made, az_deg, alt_deg)
    assert actual_miss_arcmin(made, az_deg, alt_deg, *commands).max() < 1e-7
    perfect = night(rng, "perfect", 8, terms={"altitude_index": 30.0})
    misses = actual_miss_arcmin(perfect, az_deg, alt_deg, az_deg, alt_deg)
    np.testing.assert_allclose(misses, 30.0, atol=1e-9)


def commands_of_the_demonstration():
    """The commands that `data/README.md` says the demonstration nights were made by."""
    text = (DATA / "README.md").read_text(encoding="utf-8")
    return [line.split()[2:] for line in text.splitlines() if line.startswith("pointmodel sim")]


@pytest.mark.parametrize("command", commands_of_the_demonstration(), ids=lambda words: words[1])
def test_the_demonstration_nights_are_made_by_the_commands_beside_them(
    command, tmp_path, monkeypatch
):
    (tmp_path / "season").mkdir()
    for file in ("mount.toml", "season/mount.toml"):
        shutil.copy(DATA / file, tmp_path / file)
    monkeypatch.chdir(tmp_path)
    CliRunner().invoke(command_line, ["simulate", *command], catch_exceptions=False)
    name = command[1]
    for file in (name, name.replace(".csv", ".truth.json")):
        assert (tmp_path / file).read_text("utf-8") == (DATA / file).read_text("utf-8")


def test_the_command_prints_the_document_it_wrote_or_says_it_in_words(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    options = ["--seed", "4", "--term", "collimation=30", "--slip-after", "3", "--clutch-slip", "9"]
    printed = CliRunner().invoke(
        command_line, ["simulate", *options, "--json"], catch_exceptions=False
    )
    written = (tmp_path / "simulated.truth.json").read_text(encoding="utf-8")
    assert json.loads(printed.stdout) == json.loads(written)
    again = [*options, "--out", "b.csv"]
    said = CliRunner().invoke(command_line, ["simulate", *again], catch_exceptions=False).stdout
    assert "collimation +30.00 arcmin" in said
    assert "line 4: slip, 9.0 arcmin (azimuth_slip)" in said
    assert said.endswith("wrote b.csv, and the truth to b.truth.json\n")


def test_the_command_tells_a_term_that_is_no_name_and_value():
    told = CliRunner().invoke(command_line, ["simulate", "--term", "collimation"])
    assert told.exit_code == 2
    assert "--term: read 'collimation'; wanted NAME=VALUE" in told.stderr
