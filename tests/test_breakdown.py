"""A fit taken apart: shares that add up, landings, what a star carries, what one more would do."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import pointmodel as pm
from pointmodel.fitting.breakdown import landings_of
from pointmodel.fitting.landings import landing_after
from pointmodel.fitting.turn import logged_misses
from pointmodel.fitting.unsettled import outline

DATA = Path(__file__).parents[1] / "data"
LEANING, HEALTHY, FOUR = (DATA / f"{name}.csv" for name in ("leaning", "healthy", "four-stars"))


@cache
def fitted(path: Path) -> pm.Fit:
    return pm.fit(path)


@pytest.mark.parametrize("path", [LEANING, HEALTHY, FOUR], ids=lambda path: path.stem)
def test_what_the_terms_add_and_what_is_left_make_up_the_misses_as_logged(path: Path) -> None:
    fit = fitted(path)
    pairs, logged = fit.pair_results, logged_misses(fit.pair_results)
    x, y = sum(fit.breakdown.shares.values()).T
    used = ~pairs.set_aside
    # to first order about the fitted terms: a lean of 45′ leaves 45′²/2 in radians, 0.3′
    assert np.abs(x + pairs.residual_x_arcmin - logged.x_arcmin)[used].max() < 0.4
    assert np.abs(y + pairs.residual_y_arcmin - logged.y_arcmin)[used].max() < 0.4


@pytest.mark.parametrize("path", [LEANING, HEALTHY, FOUR], ids=lambda path: path.stem)
def test_each_term_taken_out_leaves_less_and_the_last_leaves_what_the_fit_left(path: Path) -> None:
    fit = fitted(path)
    left = [one.rms_arcmin for one in fit.breakdown.bought]
    # terms are held by their usual sizes, so one that is not needed may cost a hair
    assert max(np.diff(left)) < 0.01
    assert left[0] < fit.before_rms_arcmin
    assert left[-1] == pytest.approx(fit.residual_rms_arcmin, rel=0.05)


def test_a_leaning_base_is_bought_back_by_the_lean_first() -> None:
    assert fitted(LEANING).breakdown.bought[0].title == "lean"


def test_with_nothing_done_the_stars_land_where_they_were_logged() -> None:
    fit = fitted(LEANING)
    same = landing_after(fit.outlook, fit.pair_results, (), "nothing")
    used = ~fit.pair_results.set_aside
    # the go-to moves the axes where the log centred them: the same to second order
    assert np.abs(same.x_arcmin - fit.pair_results.before_x_arcmin)[used].max() < 1.5
    assert np.abs(same.y_arcmin - fit.pair_results.before_y_arcmin)[used].max() < 1.5


def test_corrections_leave_each_star_what_the_fit_left() -> None:
    fit = fitted(LEANING)
    landing = landing_after(fit.outlook, fit.pair_results, ("apply_corrections",), "corrected")
    np.testing.assert_array_equal(landing.x_arcmin, fit.pair_results.residual_x_arcmin)
    np.testing.assert_array_equal(landing.y_arcmin, fit.pair_results.residual_y_arcmin)


def test_levelled_and_zeroed_a_leaning_mount_puts_every_star_near_the_middle() -> None:
    fit = fitted(LEANING)
    logged, quick, thorough = landings_of(fit, ("realign",), ("level", "zero_on_star"))
    used = ~fit.pair_results.set_aside
    assert np.median(logged.miss_arcmin[used]) > 20
    assert np.median(quick.miss_arcmin[used]) < 20
    assert thorough.miss_arcmin[used].max() < 6


@pytest.mark.parametrize("path", [LEANING, HEALTHY, FOUR], ids=lambda path: path.stem)
def test_the_influence_of_a_star_is_what_a_fit_without_it_shows(path: Path) -> None:
    fit = fitted(path)
    told = fit.breakdown.influence
    assert told is not None
    heaviest = int(told.size_arcmin.argmax())
    without = pm.fit(fit.log.select(fit.log.line != told.line[heaviest]))
    moved = without.terms["value"] - fit.terms["value"]
    assert told.north_arcmin[heaviest] == pytest.approx(moved["tilt_north"], abs=0.05)
    assert told.east_arcmin[heaviest] == pytest.approx(moved["tilt_east"], abs=0.05)


def test_the_star_that_tells_two_terms_apart_shrinks_their_ellipse() -> None:
    ridge = fitted(FOUR).breakdown.ridge
    assert ridge is not None
    assert set(ridge.names) <= {"azimuth_index", "collimation", "non_perpendicularity"}
    assert np.linalg.det(ridge.after) < 0.7 * np.linalg.det(ridge.now)
    assert fitted(HEALTHY).breakdown.ridge is None


def test_the_outline_of_an_ellipse_holds_nineteen_draws_in_twenty() -> None:
    covariance = np.array([[4.0, -3.0], [-3.0, 9.0]])
    draws = np.random.default_rng(7).multivariate_normal([1.0, 2.0], covariance, 20000)
    edge = outline(np.array([1.0, 2.0]), covariance) - [1.0, 2.0]
    on_edge = np.einsum("ij,jk,ik->i", edge, np.linalg.inv(covariance), edge)
    about = draws - [1.0, 2.0]
    inside = np.einsum("ij,jk,ik->i", about, np.linalg.inv(covariance), about) < on_edge[0]
    np.testing.assert_allclose(on_edge, on_edge[0])
    assert inside.mean() == pytest.approx(0.95, abs=0.01)


def test_two_parts_of_a_log_are_counted_and_their_figures_are_free_of_terms() -> None:
    log = fitted(LEANING).log
    split = replace(log, events=(pm.reading.nightlog.Event("power_cycle", int(log.line[9]), 9),))
    fit = pm.fit(split)
    assert fit.breakdown.part.tolist() == [0] * 9 + [1] * (len(log) - 9)
    assert fit.breakdown.degrees_of_freedom == 2 * fit.pairs_used - 12
    one = fitted(LEANING)
    assert one.breakdown.degrees_of_freedom == 2 * one.pairs_used - len(one.breakdown.names)


def test_correlations_are_one_with_oneself_and_never_more() -> None:
    told = fitted(FOUR).breakdown
    np.testing.assert_allclose(np.diag(told.correlation), 1.0)
    assert np.abs(told.correlation).max() <= 1.0 + 1e-9
    assert told.correlation.shape == (len(told.names),) * 2
