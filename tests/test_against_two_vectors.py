"""What a controller learns from two and three stars, against scipy's Rotation.align_vectors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench.nights import even_targets, night
from scipy.spatial.transform import Rotation

import pointmodel as pm
from pointmodel.forecasting.alignment import aligned_misses, realignment
from pointmodel.forecasting.forecast import Ground, forecasts
from pointmodel.forecasting.outlook import at_targets
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount.kinematics import azimuth_altitude, directions
from pointmodel.mount.starfix import (
    StarFixKind,
    altitude_zeros,
    least_squares_rotation,
    star_fix,
    two_star_rotation,
)
from pointmodel.mount.terms import terms_of_the_mount
from pointmodel.reading.mountfile import Solves
from pointmodel.simulation.mount import SimulatedCircumstances, pointed_deg, readings_deg

RADIANS = 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_the_first_star_is_exact_and_the_second_fixes_the_turn_about_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    vectors = rng.standard_normal((2, 2, 3))
    stars, readings = vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)
    ours = two_star_rotation(stars[None], readings[None])[0]
    theirs, _ = Rotation.align_vectors(readings, stars, weights=[np.inf, 1.0])
    np.testing.assert_allclose(ours, theirs.as_matrix(), atol=RADIANS)
    np.testing.assert_allclose(ours @ stars[0], readings[0], atol=RADIANS)


@pytest.mark.parametrize("seed", range(20))
def test_three_stars_are_met_by_least_squares(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stars = rng.standard_normal((3, 3))
    stars /= np.linalg.norm(stars, axis=-1, keepdims=True)
    readings = Rotation.random(random_state=seed).apply(stars) + 0.05 * rng.standard_normal((3, 3))
    readings /= np.linalg.norm(readings, axis=-1, keepdims=True)
    theirs, _ = Rotation.align_vectors(readings, stars)
    ours = least_squares_rotation(stars[None], readings[None])[0]
    np.testing.assert_allclose(ours, theirs.as_matrix(), atol=1e-7)


@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("zero_deg", [-6.0, 0.0, 0.5, 6.0])
def test_an_altitude_zero_shows_in_the_separations_of_the_stars(
    count: int, zero_deg: float
) -> None:
    az, alt = np.radians([[20.0, 140.0, 255.0][:count]]), np.radians([[30.0, 55.0, 41.0][:count]])
    axes = directions(az, alt)
    turn = Rotation.from_rotvec([0.03, -0.02, 1.9])
    stars = turn.inv().apply(axes[0])[None]
    found = star_fix(stars, az, alt + np.radians(zero_deg), "altitude_zero")
    np.testing.assert_allclose(np.degrees(found.altitude_zero), zero_deg, atol=1e-9)
    np.testing.assert_allclose(found.rotation[0], turn.as_matrix(), atol=1e-9)
    assert star_fix(stars, az, alt, "rotation").altitude_zero == 0.0


def test_stars_that_no_altitude_zero_could_part_so_give_the_nearest_one() -> None:
    stars = directions(np.radians([[0.0, 90.0]]), np.radians([[10.0, 10.0]]))
    far = altitude_zeros(stars, np.radians([[0.0, 30.0]]), np.radians([[40.0, 40.0]]))
    assert np.isfinite(far).all()
    same = altitude_zeros(stars, np.radians([[30.0, 30.0]]), np.radians([[40.0, 50.0]]))
    assert np.isfinite(same).all()


def _perfect(**terms: float) -> pm.Fit:
    made = night(
        np.random.default_rng(1), "perfect", 30, terms=terms, sigma_arcmin=1e-6,
        readout_step_arcsec=0.0,
    )  # fmt: skip
    return pm.fit(made.log)


def test_aligning_afresh_cures_whatever_is_a_rotation() -> None:
    fit = _perfect(azimuth_index=4000.0, tilt_north=50.0, tilt_east=-80.0)
    best = realignment(fit.outlook).best.misses.central
    assert np.hypot(best[:, 0], best[:, 1]).max() < 0.2


def test_thirty_minutes_of_altitude_index_stay_some_forty_after_an_alignment() -> None:
    # common experience of such mounts, as derived on the project's own pages; no outside source
    fit = _perfect(altitude_index=30.0)
    found = realignment(fit.outlook)
    sizes = [np.sqrt(np.mean((p.misses.central**2).sum(axis=1))) for p in (found.best, found.bad)]
    assert 20.0 < sizes[0] < 60.0
    assert sizes[0] < sizes[1]


def test_a_controller_that_learns_an_altitude_zero_leaves_none_of_it() -> None:
    fit = _perfect(altitude_index=30.0, tilt_north=50.0)
    best = realignment(fit.outlook, "altitude_zero").best.misses.central
    assert np.hypot(best[:, 0], best[:, 1]).max() < 0.2


@pytest.mark.parametrize("kind", ["rotation", "altitude_zero"])
def test_misses_after_an_alignment_are_those_of_the_controllers_own_reckoning(
    kind: StarFixKind,
) -> None:
    # readings by the simulator's chain of rotations, the controller's sum done by hand
    terms = {"altitude_index": 40.0, "collimation": 25.0, "tilt_north": 30.0, "azimuth_index": 90.0}
    fit = _perfect(**terms)
    every = dict.fromkeys(terms_of_the_mount(), 0.0) | terms
    at = SimulatedCircumstances(*np.zeros((4, 1)))
    star_az, star_alt = np.array([30.0, 150.0]), np.array([35.0, 50.0])
    read_az, read_alt = (np.radians(part) for part in readings_deg(star_az, star_alt, every, at))
    stars = directions(np.radians(star_az), np.radians(star_alt))
    fix = star_fix(stars[None], read_az[None], read_alt[None], kind)
    target = directions(np.radians(np.array([260.0])), np.radians(np.array([62.0])))
    sent_az, sent_alt = azimuth_altitude(target @ fix.rotation[0].T)
    sent = np.degrees(sent_az), np.degrees(sent_alt + fix.altitude_zero)
    looked = pointed_deg(*sent, every, at)
    apart = np.linalg.norm(directions(*map(np.radians, looked)) - target) * 10800.0 / np.pi
    pair = np.stack([star_az, star_alt], axis=-1)[None]
    ours, _ = aligned_misses(fit.outlook, pair, np.array([260.0]), np.array([62.0]), kind)
    assert np.hypot(*ours[0, 0]) == pytest.approx(apart, abs=0.2)
    assert apart > 3.0


@pytest.mark.parametrize("kind", ["rotation", "altitude_zero"])
def test_the_slopes_are_those_of_the_misses(kind: StarFixKind) -> None:
    made = night(np.random.default_rng(3), "usual", 24)
    outlook = at_targets(pm.fit(made.log).outlook, *even_targets(20))
    pair = np.array([[(260.0, 55.0), (335.0, 25.0)]])
    _, slopes = aligned_misses(outlook, pair, *outlook.targets, kind)
    for column in range(6):
        ends = []
        for step in (-1.0, 1.0):
            values = outlook.model.values.copy()
            values[column] += step
            moved = replace(outlook, model=outlook.model.with_values(values))
            ends.append(aligned_misses(moved, pair, *outlook.targets, kind)[0])
        np.testing.assert_allclose(slopes[..., column], (ends[1] - ends[0]) / 2.0, atol=5e-3)


def test_the_forecast_is_for_the_controllers_kind_and_for_both_where_it_is_not_known() -> None:
    fit = _perfect(altitude_index=30.0, collimation=20.0)

    def realign(solves: Solves | None) -> RemedyForecast:
        return next(f for f in forecasts(Ground(fit.outlook, solves)) if f.remedy == "realign")

    plain, zero, full = realign("rotation"), realign("altitude_zero"), realign("full")
    assert plain.rms_arcmin > 20.0 > zero.rms_arcmin > 5.0 > full.rms_arcmin
    assert plain.with_altitude_zero_rms_arcmin is None
    for unknown in (realign(None), realign("unknown")):
        assert unknown.rms_arcmin == plain.rms_arcmin
        other = unknown.with_altitude_zero_rms_arcmin  # with the stars that suit a plain rotation
        assert other is not None
        assert zero.rms_arcmin <= other < plain.rms_arcmin
