"""How pairs are prepared: readout steps, columns of further terms, the linear problem."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from observed import circumstances_of, observed, seeded_night, truth

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.observations import (
    Column,
    Observations,
    column_shapes,
    linear_problem,
    observations,
    with_slip,
)
from pointmodel.estimate.rounding import STEPS_ARCSEC, readout_step_arcsec, rounding_of
from pointmodel.mount.term import Circumstances
from pointmodel.mount.terms import N_STANDARD, TERMS, further_terms

DIFFERENCE = 1e-2


def _figures(count: int, step_arcsec: float, seed: int = 61) -> FloatArray:
    raw = np.random.default_rng(seed).uniform(-80, 360, count)
    if step_arcsec == 0:
        return raw
    return np.asarray(np.round(raw * 3600 / step_arcsec) * step_arcsec / 3600)


@pytest.mark.parametrize("step_arcsec", STEPS_ARCSEC)
@pytest.mark.parametrize("count", [10, 100])
def test_figures_on_a_raster_betray_its_step(step_arcsec: float, count: int) -> None:
    assert readout_step_arcsec(_figures(count, step_arcsec)) == step_arcsec


@pytest.mark.parametrize("step_arcsec", [1.0, 10.0, 36.0, 360.0, 6.0, 60.0])
def test_six_figures_betray_the_usual_steps(step_arcsec: float) -> None:
    found = [readout_step_arcsec(_figures(6, step_arcsec, seed)) for seed in range(20)]
    assert found.count(step_arcsec) >= 18
    # chance may put few figures on a coarser raster, but hardly ever
    assert all(step >= step_arcsec for step in found)


@pytest.mark.parametrize("decimals", [1, 2, 3, 4])
def test_decimal_degrees_as_written_in_a_log_betray_their_step(decimals: int) -> None:
    written = np.round(np.random.default_rng(62).uniform(0, 360, 12), decimals)
    assert readout_step_arcsec(written) == pytest.approx(3600 / 10**decimals)


def test_one_figure_in_ten_may_be_off_the_raster() -> None:
    figures = _figures(20, 60.0)
    figures[[3, 11]] += 17.3 / 3600
    assert readout_step_arcsec(figures) == 60.0
    figures[[5, 6]] += 17.3 / 3600
    assert readout_step_arcsec(figures) < 60.0


def test_figures_without_a_raster_have_no_step() -> None:
    assert all(readout_step_arcsec(_figures(12, 0.0, seed)) == 0.0 for seed in range(50))


def test_chance_is_not_mistaken_for_a_raster() -> None:
    # a single figure on a whole degree, or two on minutes, may well be chance
    assert readout_step_arcsec(np.array([45.0])) == 0.0
    assert readout_step_arcsec(np.array([45.0, 80.0])) < 1800.0
    # twelve figures to the minute: none of the coarser steps is ever seen in them
    found = {readout_step_arcsec(_figures(12, 60.0, seed)) for seed in range(200)}
    assert found == {60.0}


def test_sexagesimal_figures_parsed_from_text_are_on_their_raster_despite_rounding() -> None:
    degrees, minutes, seconds = 359, np.arange(12) * 5 + 1, np.arange(12) * 4 + 3
    assert readout_step_arcsec(degrees + minutes / 60 + seconds / 3600) == 1.0


def test_rounding_to_a_step_has_a_twelfth_of_its_square_on_the_sky() -> None:
    random = np.random.default_rng(63)
    alt_deg = np.round(random.uniform(10, 80, 40) * 60) / 60
    az_deg = np.round(random.uniform(0, 360, 40) * 10) / 10
    fine = random.uniform(0, 80, 40)
    found = rounding_of((az_deg, alt_deg), (fine, fine))
    # 6′ in azimuth and 1′ in altitude on one side, nothing on the other
    np.testing.assert_allclose(found.variance[:, 0], 36 * np.cos(np.radians(alt_deg)) ** 2 / 12)
    np.testing.assert_allclose(found.variance[:, 1], 1 / 12)
    assert found.step_arcmin == pytest.approx(6.0)
    assert not found.without_coarser().variance.any()


def test_rounding_noise_is_what_rounding_does() -> None:
    random = np.random.default_rng(64)
    az, alt = random.uniform(0, 360, 4000), random.uniform(15, 80, 4000)
    rounded = np.round(az * 60) / 60, np.round(alt * 60) / 60
    variance = rounding_of(rounded, rounded).variance
    error_x = (rounded[0] - az) * 60 * np.cos(np.radians(alt))
    error_y = (rounded[1] - alt) * 60
    # both sides were rounded: twice the variance of one
    assert variance[:, 0].mean() == pytest.approx(2 * np.mean(error_x**2), rel=0.05)
    assert variance[:, 1].mean() == pytest.approx(2 * np.mean(error_y**2), rel=0.05)


def test_few_pairs_pool_their_figures() -> None:
    az, alt = np.array([10.5, 200.25]), np.array([40.75, 60.1])
    found = rounding_of((az, alt), (az, alt))
    assert found.step_arcmin > 0
    variance = found.variance
    cosine = np.cos(np.radians(alt))
    np.testing.assert_allclose(variance[:, 0], variance[:, 1] * cosine**2)


def _plain(pairs: int = 12, **changes: object) -> Observations:
    made = seeded_night(65, "usual", pairs)
    at = replace(circumstances_of(made), **changes)  # type: ignore[arg-type]
    return observations(
        made.commanded_az_deg,
        made.commanded_alt_deg,
        made.centred_az_deg,
        made.centred_alt_deg,
        at,
        has_times=True,
    )


def test_every_further_term_but_slips_has_its_column() -> None:
    names = {column.name for column in _plain().columns}
    assert names == {term.name for term in further_terms() if term.shape is not None}


def test_every_prior_of_every_further_term_is_one_addition() -> None:
    obs = _plain()
    expected = sum(len(term.priors) for term in further_terms() if term.shape is not None)
    assert len(obs.additions) == expected
    for addition in obs.additions:
        prior = next(
            prior
            for prior in TERMS[addition.terms[0]].priors
            if (prior.mean, prior.sd) == (addition.mean, addition.sd)
        )
        assert addition.log_odds == pytest.approx(np.log(prior.odds))
        assert tuple(obs.columns[c].name for c in addition.columns) == addition.terms
        assert all(obs.columns[c].negative == (prior.mean < 0) for c in addition.columns)


def test_backlash_needs_motions_both_ways() -> None:
    up = np.ones(12)
    names = {column.name for column in _plain(az_motion=up, alt_motion=np.zeros(12)).columns}
    assert not names & {"azimuth_backlash", "altitude_backlash"}
    up[4] = -1.0
    names = {column.name for column in _plain(az_motion=up, alt_motion=-np.ones(12)).columns}
    assert "azimuth_backlash" in names
    assert "altitude_backlash" not in names


def test_drift_needs_times_that_differ() -> None:
    names = {column.name for column in _plain(hours=np.zeros(12)).columns}
    assert not names & {"azimuth_drift", "altitude_drift"}
    assert "azimuth_drift" in {column.name for column in _plain().columns}


def test_columns_act_on_the_axis_that_their_term_names() -> None:
    made = seeded_night(66, "usual", 12)
    columns = tuple(Column(term.name) for term in further_terms())
    shapes = dict(
        zip(
            ("azimuth_axis", "altitude_axis", "star_altitude"),
            column_shapes(columns, circumstances_of(made)),
            strict=True,
        )
    )
    for index, term in enumerate(further_terms()):
        for where, values in shapes.items():
            assert bool(np.any(values[:, index])) == (where == term.acts), term.name
        if term.cause == "slip":
            assert (shapes[term.acts][:, index] == 1.0).all()


def test_a_slip_adds_two_steps_that_begin_with_the_pair_named() -> None:
    obs = _plain()
    slipped = with_slip(obs, 5)
    after = (np.arange(12) >= 5).astype(float)
    assert [column.name for column in slipped.columns[-2:]] == ["azimuth_slip", "altitude_slip"]
    np.testing.assert_array_equal(slipped.az_shape[:, -2:], np.stack([after, 0 * after], axis=1))
    np.testing.assert_array_equal(slipped.alt_shape[:, -2:], np.stack([0 * after, after], axis=1))
    assert not slipped.star_shape[:, -2:].any()
    assert slipped.slip_at == 5
    assert obs.slip_at is None


FURTHER_CASES = {
    "tube_flexure": 12.0,
    "refraction": 1.0,
    "azimuth_scale": 0.1,
    "altitude_scale": 0.5,
    "azimuth_eccentricity_sin": 15.0,
    "azimuth_eccentricity_cos": -10.0,
    "azimuth_backlash": 12.0,
    "altitude_backlash": -12.0,
    "azimuth_drift": 30.0,
    "altitude_drift": -30.0,
}
# scales and eccentricity look at the reading, which they themselves have moved: the term times its
# own slope is left, .1′/deg × 18′ and 15′ × 15′ over the radian
SECOND_ORDER_ARCMIN = {"azimuth_scale": 0.04, "altitude_scale": 0.4} | dict.fromkeys(
    ("azimuth_eccentricity_sin", "azimuth_eccentricity_cos"), 0.1
)


def _at_the_truth(obs: Observations, terms: dict[str, float], six: FloatArray) -> FloatArray:
    at = np.zeros(N_STANDARD + len(obs.columns))
    at[:N_STANDARD] = six
    for index, column in enumerate(obs.columns):
        if not column.negative:
            at[N_STANDARD + index] = terms.get(column.name, 0.0)
    return at


@pytest.mark.parametrize("name", FURTHER_CASES)
def test_at_the_terms_that_made_a_perfect_night_nothing_is_missed(name: str) -> None:
    # the simulator's geometry shares nothing with the estimator's
    terms = {name: FURTHER_CASES[name], "tilt_north": 300.0, "tilt_east": -200.0}
    perfect = {"sigma_arcmin": 0.0, "readout_step_arcsec": 0.0, "high_alt_deg": 75.0}
    made = seeded_night(67, "usual", 30, terms=terms, **perfect)
    # a scale error counts on that side of the half turn where the axis stands without it
    right = seeded_night(67, "usual", 30, terms=terms | {name: 0.0}, **perfect)
    at = replace(circumstances_of(made), expected_az_deg=right.centred_az_deg)
    obs = observed(made)
    az_shape, alt_shape, star_shape = column_shapes(obs.columns, at)
    obs = replace(obs, az_shape=az_shape, alt_shape=alt_shape, star_shape=star_shape)
    miss = linear_problem(obs, _at_the_truth(obs, terms, truth(made))).miss
    assert np.abs(miss).max() < SECOND_ORDER_ARCMIN.get(name, 1e-8)


def test_refraction_applied_twice_is_met_by_its_own_column() -> None:
    terms = {"refraction": -1.0}
    made = seeded_night(68, "usual", 30, terms=terms, sigma_arcmin=0.0, readout_step_arcsec=0.0)
    obs = observed(made)
    at = np.zeros(N_STANDARD + len(obs.columns))
    at[:N_STANDARD] = truth(made)
    at[N_STANDARD + obs.columns.index(Column("refraction", negative=True))] = -1.0
    assert np.abs(linear_problem(obs, at).miss).max() < 0.01


def test_the_design_of_every_column_is_what_differences_of_the_miss_give() -> None:
    terms = FURTHER_CASES
    six = np.array([2000.0, -40.0, 25.0, -15.0, 200.0, -300.0])
    made = seeded_night(69, "usual", 20)
    obs = with_slip(observed(made), 7)
    at = _at_the_truth(obs, terms, six)
    at[-2:] = 20.0, -30.0
    # stars put where the model has them, so that curvature of the offset plays no part
    problem = linear_problem(obs, at)
    for _ in range(4):
        problem = linear_problem(obs, at)
        obs = replace(
            obs,
            star_az=obs.star_az + np.radians(problem.miss[:, 0] / 60) / np.cos(obs.star_alt),
            star_alt=obs.star_alt + np.radians(problem.miss[:, 1] / 60),
        )
    problem = linear_problem(obs, at)
    assert problem.design.shape == (20, 2, at.size)
    for column in range(at.size):
        step = np.zeros_like(at)
        step[column] = DIFFERENCE
        change = linear_problem(obs, at - step).miss - linear_problem(obs, at + step).miss
        np.testing.assert_allclose(
            problem.design[..., column], change / (2 * DIFFERENCE), rtol=1e-4, atol=2e-4
        )


def test_observations_leave_what_they_are_given_as_it_was() -> None:
    made = seeded_night(70, "usual", 12)
    at = circumstances_of(made)
    given = {
        **{field.name: getattr(at, field.name) for field in fields(Circumstances)},
        "az": made.commanded_az_deg,
        "alt": made.commanded_alt_deg,
    }
    before = {name: np.array(values) for name, values in given.items()}
    obs = observed(made)
    linear_problem(obs, np.zeros(N_STANDARD + len(obs.columns)))
    with_slip(obs, 4)
    for name, values in given.items():
        np.testing.assert_array_equal(values, before[name])
