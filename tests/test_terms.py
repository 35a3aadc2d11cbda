"""The registry of terms as a specification: a new term is tested the day it is added."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from pointmodel.base.angles import wrap_deg
from pointmodel.mount.term import Circumstances, Term, Where, refraction_lift_arcmin
from pointmodel.mount.terms import (
    N_STANDARD,
    READOUT,
    SINKING,
    STANDARD,
    STANDARD_NAMES,
    TERMS,
    further_terms,
)

EVERY = pytest.mark.parametrize("term", TERMS.values(), ids=TERMS)
UNITS = {"arcmin", "arcmin/h", "arcmin/deg", "1"}
CAUSES = {
    "clock_or_longitude",
    "latitude",
    "mount_file",
    "not_level",
    "azimuth_zero",
    "altitude_zero",
    "collimation",
    "non_perpendicularity",
    "tube_flexure",
    "refraction",
    "azimuth_scale",
    "altitude_scale",
    "eccentricity",
    "azimuth_backlash",
    "altitude_backlash",
    "slip",
    "drift",
    "moved",
    "tube_shifted",
    "sinking",
    "wrong_star",
    "log_typo",
    "loose_centring",
    "alignment",
    "stale_command",
    "old_equinox",
    "healthy",
}


def _circumstances(**changes: object) -> Circumstances:
    random = np.random.default_rng(41)
    reading_az_deg = random.uniform(0, 360, 50)
    plain = Circumstances(
        reading_az_deg=reading_az_deg,
        reading_alt_deg=random.uniform(5, 85, 50),
        star_alt_deg=random.uniform(5, 85, 50),
        az_motion=random.choice([-1.0, 0.0, 1.0], 50),
        alt_motion=random.choice([-1.0, 0.0, 1.0], 50),
        hours=np.sort(random.uniform(0, 3, 50)),
        expected_az_deg=reading_az_deg,
    )
    if "reading_az_deg" in changes:
        changes.setdefault("expected_az_deg", changes["reading_az_deg"])
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_the_six_standard_terms_come_first_and_in_the_order_of_the_geometry() -> None:
    assert STANDARD_NAMES == (
        "azimuth_index",
        "altitude_index",
        "collimation",
        "non_perpendicularity",
        "tilt_north",
        "tilt_east",
    )
    assert N_STANDARD == 6
    assert tuple(TERMS)[:6] == STANDARD_NAMES


def test_no_name_stands_twice() -> None:
    assert len(TERMS) == len(STANDARD) + len(further_terms()) + len(READOUT) + len(SINKING)


@EVERY
def test_a_term_is_named_in_words_not_in_codes(term: Term) -> None:
    assert term.name == term.name.lower()
    words = term.name.split("_")
    assert all(word.isalpha() for word in words)
    assert max(map(len, words)) >= 4


@EVERY
def test_a_term_says_in_plain_words_what_it_is_and_what_to_do(term: Term) -> None:
    for text in (term.positive, term.remedy):
        assert len(text.split()) >= 4
        assert text == text.strip()
        assert not text.endswith(".")
        assert not any(word.isupper() and len(word) > 1 for word in re.findall(r"\w+", text))


@EVERY
def test_a_term_has_a_known_unit_cause_and_place(term: Term) -> None:
    assert term.unit in UNITS
    assert term.cause in CAUSES
    assert term.acts in get_args(Where)


@EVERY
def test_a_term_has_a_shape_or_is_of_the_geometry_or_a_slip(term: Term) -> None:
    if term.acts in ("geometry", "readout", "base") or term.cause == "slip":
        assert term.shape is None
        return
    assert term.shape is not None
    values = term.shape(_circumstances())
    assert values.shape == (50,)
    assert np.isfinite(values).all()
    assert np.abs(values).max() > 0


@pytest.mark.parametrize("term", STANDARD, ids=STANDARD_NAMES)
def test_a_standard_term_has_one_wide_prior(term: Term) -> None:
    assert term.sd > 0
    assert term.priors == ()
    assert term.unit == "arcmin"


@pytest.mark.parametrize("term", further_terms(), ids=[term.name for term in further_terms()])
def test_a_further_term_has_priors_of_its_own_or_its_partners(term: Term) -> None:
    assert term.sd == 0
    priors = term.priors
    if term.partner is not None:
        partner = TERMS[term.partner]
        assert partner.partner == term.name
        assert bool(priors) != bool(partner.priors)
        priors = priors or partner.priors
        assert all(prior.mean == 0 for prior in priors)
    assert priors
    for prior in priors:
        assert prior.sd > 0
        assert 0 < prior.odds < 0.15  # one night in seven: all further terms together are a third


@pytest.mark.parametrize("term", further_terms(), ids=[term.name for term in further_terms()])
def test_a_further_term_that_centres_on_nothing_has_a_wide_and_rarer_twin(term: Term) -> None:
    if not term.priors or term.cause == "slip" or term.priors[0].mean:
        return
    narrow, wide = term.priors
    assert wide.sd == pytest.approx(4 * narrow.sd)
    assert narrow.odds / 6 < wide.odds < narrow.odds / 3


def test_a_term_with_a_negative_prior_says_where_it_acts_then() -> None:
    for term in further_terms():
        assert (term.negative_shape is not None) == any(prior.mean < 0 for prior in term.priors)


def test_the_circles_eccentricity_and_scale_follow_the_azimuth_reading() -> None:
    at = _circumstances(reading_az_deg=np.array([0.0, 90.0, 180.0, 200.0, 350.0]))
    shapes = {
        name: TERMS[name].shape(at)  # type: ignore[misc]
        for name in ("azimuth_eccentricity_sin", "azimuth_eccentricity_cos", "azimuth_scale")
    }
    np.testing.assert_allclose(shapes["azimuth_eccentricity_sin"][:2], [0, 1], atol=1e-15)
    np.testing.assert_allclose(shapes["azimuth_eccentricity_cos"][:3], [1, 0, -1], atol=1e-15)
    np.testing.assert_allclose(shapes["azimuth_scale"], [0, 90, 180, -160, -10])


def test_counts_beyond_the_half_turn_go_on_from_the_side_where_the_axis_is() -> None:
    # the scale error itself may carry a reading past 180°
    at = _circumstances(
        reading_az_deg=np.array([180.4, 179.5, 0.2, 359.9]),
        expected_az_deg=np.array([179.8, 180.3, -0.3, 0.4]),
    )
    shape = TERMS["azimuth_scale"].shape
    assert shape is not None
    np.testing.assert_allclose(shape(at), [180.4, -180.5, 0.2, -0.1])


def test_the_azimuth_scale_grows_both_ways_from_the_origin_of_the_mount_file() -> None:
    at = _circumstances(reading_az_deg=np.array([30.0, 120.0, 330.0, 209.0]))
    shape = TERMS["azimuth_scale"].shape
    assert shape is not None
    np.testing.assert_allclose(shape(replace(at, azimuth_origin_deg=30.0)), [0, 90, -60, 179])


def test_backlash_is_half_by_the_last_motion_and_nothing_where_that_was_not_logged() -> None:
    at = _circumstances(az_motion=np.array([1.0, -1.0, 0.0]), alt_motion=np.array([-1.0, 0.0, 1.0]))
    assert TERMS["azimuth_backlash"].shape(at).tolist() == [0.5, -0.5, 0.0]  # type: ignore[misc]
    assert TERMS["altitude_backlash"].shape(at).tolist() == [-0.5, 0.0, 0.5]  # type: ignore[misc]


def test_flexure_is_full_at_the_horizon_and_nothing_at_the_zenith() -> None:
    at = _circumstances(star_alt_deg=np.array([0.0, 60.0, 90.0]))
    shape = TERMS["tube_flexure"].shape
    assert shape is not None
    np.testing.assert_allclose(shape(at), [1.0, 0.5, 0.0], atol=1e-15)


def test_refraction_takes_the_lift_at_the_stations_pressure_and_temperature() -> None:
    at = _circumstances(pressure_hpa=700.0, temperature_c=-10.0)
    shape = TERMS["refraction"].shape
    assert shape is not None
    np.testing.assert_allclose(shape(at), refraction_lift_arcmin(at.star_alt_deg, 700.0, -10.0))


def test_the_lift_is_in_proportion_to_pressure_and_falls_with_warmth() -> None:
    alt_deg = np.array([5.0, 20.0, 60.0])
    plain = refraction_lift_arcmin(alt_deg)
    np.testing.assert_allclose(refraction_lift_arcmin(alt_deg, 505.0), plain / 2)
    np.testing.assert_allclose(
        refraction_lift_arcmin(alt_deg, 1010.0, 27.0), plain * 283 / 300, rtol=1e-12
    )


def test_where_refraction_was_applied_twice_the_lift_is_that_of_the_true_altitude() -> None:
    true_deg = np.array([8.0, 15.0, 40.0])
    lift = refraction_lift_arcmin(true_deg)
    at = _circumstances(star_alt_deg=true_deg + 2 * lift / 60)
    shape = TERMS["refraction"].negative_shape
    assert shape is not None
    np.testing.assert_allclose(shape(at), lift, rtol=0.005)
    # low down the lift at the place commanded would be too small by more than that
    assert refraction_lift_arcmin(at.star_alt_deg)[0] < 0.98 * lift[0]


@pytest.mark.parametrize(
    ("angle", "wrapped"),
    [(0, 0), (180, 180), (-180, 180), (181, -179), (540, 180), (359.5, -0.5), (-361, -1)],
)
def test_angles_are_wrapped_into_half_a_turn_each_way_180_itself_kept(
    angle: float, wrapped: float
) -> None:
    assert wrap_deg(np.array([float(angle)])) == pytest.approx(wrapped)
