"""One fit as the user sees it: what it takes, what it gives, what it leaves alone."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest
from bench.nights import actual_miss_arcmin, even_targets, night

import pointmodel as pm
from pointmodel.reading.nightlog import NightLog
from pointmodel.simulation.night import SimulatedNight

FINE = {"sigma_arcmin": 1e-6, "readout_step_arcsec": 0.0}


def _made(seed: int = 3, pairs: int = 16, **options: Any) -> SimulatedNight:
    return night(np.random.default_rng(seed), "usual", pairs, **options)


def _values(fit: pm.Fit) -> np.ndarray:
    return np.array([term.value for term in fit.term_estimates])


def test_a_frame_a_log_and_a_file_give_the_same_fit(tmp_path: Any) -> None:
    made = _made()
    path, _ = made.write(str(tmp_path / "night.csv"))
    from_file = pm.fit(path)
    np.testing.assert_allclose(_values(pm.fit(made.log)), _values(from_file), atol=1e-4)
    np.testing.assert_allclose(_values(pm.fit(made.log.pairs)), _values(from_file), atol=1e-4)


def test_nothing_of_the_input_is_modified() -> None:
    frame = _made().log.pairs
    before = frame.copy(deep=True)
    pm.fit(frame, mount={"optics": {"field_of_view": 40}}).to_dict()
    assert frame.equals(before)


def _with_event(place: int) -> pm.Fit:
    frame = _made(pairs=14).log.pairs
    frame["event"] = frame["event"].astype(object)
    frame.loc[frame.index[place], "event"] = "bump"
    frame.loc[frame.index[place] :, "centred_az"] += 2.0
    frame["centred_az"] %= 360.0
    return pm.fit(frame)


def test_a_log_with_an_event_is_fitted_whole_and_that_is_said() -> None:
    fit = _with_event(6)
    assert (len(fit.last_segment), fit.pairs_read, fit.pairs_used) == (8, 14, 14)
    said = {notice.code: notice.text for notice in fit.warnings}
    assert "Results are for line 7 and later ones. The earlier lines still help" in said["segments"]
    assert not fit.set_aside
    assert "14 pairs read, 14 used" in str(fit)
    assert len(fit.pairs) == 14


def test_a_log_without_a_usable_pair_is_refused_by_name() -> None:
    frame = _made(pairs=5).log.pairs
    frame[["centred_az", "centred_alt"]] = np.nan
    with pytest.raises(pm.InputError, match="5 lines with a commanded place, none with a centred"):
        pm.fit(frame)


def test_a_camera_log_is_the_same_pairs_seen_the_other_way_round() -> None:
    frame = _made().log.pairs
    names = {"commanded_az": "seen_az", "commanded_alt": "seen_alt"}
    back = {"centred_az": "commanded_az", "centred_alt": "commanded_alt"}
    camera = frame.rename(columns=names).rename(columns=back)
    np.testing.assert_allclose(_values(pm.fit(camera)), _values(pm.fit(frame)), atol=1e-9)


FAULTS = {
    "none": {},
    "flexure": {"tube_flexure": 12.0},
    "refraction": {"refraction": 1.0},
    "altitude scale": {"altitude_scale": 0.48},
    "eccentricity": {"azimuth_eccentricity_sin": 9.0},
    "drift": {"azimuth_drift": 15.0},
    "slip": {"azimuth_slip": 20.0, "altitude_slip": 14.0},
}


@pytest.mark.parametrize("fault", FAULTS)
def test_aim_ends_on_the_star_at_the_end_of_the_log(fault: str) -> None:
    made = _made(11, 40, terms=FAULTS[fault], low_alt_deg=8.0, **FINE)
    command = pm.fit(made.log).aim(*even_targets(60))
    assert np.sqrt(np.mean(actual_miss_arcmin(made, *even_targets(60), *command) ** 2)) < 0.15


def test_a_direction_that_no_reading_reaches_is_refused() -> None:
    fit = pm.fit(_made(terms={"collimation": 60.0, "non_perpendicularity": 60.0}, **FINE).log)
    with pytest.raises(pm.InputError, match="farther from the mount's own zenith"):
        fit.aim(0.0, 89.9)
    with pytest.raises(pm.InputError, match="−90 to 90 up"):
        fit.aim(10.0, 95.0)


def test_a_fit_comes_back_from_another_process_as_it_was() -> None:
    fit = pm.fit(_made(wrong_stars=1).log)
    assert pickle.loads(pickle.dumps(fit)).to_dict() == fit.to_dict()


@pytest.mark.parametrize("zero", [0.0, 90.0, 179.999, -170.0])
def test_any_azimuth_zero_changes_the_azimuth_index_only(zero: float) -> None:
    frame = _made().log.pairs
    turned = frame.copy()
    turned["centred_az"] = (turned["centred_az"] + zero) % 360.0
    plain, other = pm.fit(frame), pm.fit(turned)
    index = other.term_estimates[0].value
    assert -10800.0 < index <= 10800.0
    off = (index - plain.term_estimates[0].value - 60.0 * zero + 10800.0) % 21600.0 - 10800.0
    # only the weak prior of a mount set down near north tells the two apart
    assert abs(off) < 0.5 * plain.term_estimates[0].standard_error
    np.testing.assert_allclose(_values(other)[4:6], _values(plain)[4:6], atol=0.1)


@pytest.mark.parametrize("pairs", [1, 2, 3, 4])
def test_few_pairs_give_finite_figures_and_are_called_few(pairs: int) -> None:
    fit = pm.fit(_made(2, pairs).log)
    assert "few_pairs" in {notice.code for notice in fit.warnings}
    for term in fit.term_estimates:
        assert np.isfinite([term.value, term.low, term.high, term.standard_error]).all()
        assert term.low < term.value < term.high
    assert "nan" not in str(fit).lower()


@pytest.mark.parametrize("seed", range(5))
def test_lmfit_agrees_with_us_by_the_names_of_the_terms(seed: int) -> None:
    fit = pm.fit(_made(seed, 20, terms={"tube_flexure": 12.0}, low_alt_deg=10.0).log)
    ours = {term.name: term for term in fit.term_estimates}
    parameters = fit.lmfit.params
    assert set(parameters) == set(ours)
    for name, term in ours.items():
        assert abs(parameters[name].value - term.value) < 0.3 * term.standard_error


def test_frames_have_the_columns_of_the_interface() -> None:
    fit = pm.fit(_made(wrong_stars=1).log)
    assert list(fit.terms.columns)[:6] == [
        "value", "standard_error", "low", "high", "unit", "status",
    ]  # fmt: skip
    wanted = {"residual_x_arcmin", "residual_y_arcmin", "leverage", "set_aside", "cause", "hint"}
    assert wanted | {"probability_bad"} <= set(fit.pairs.columns)
    assert fit.pairs["set_aside"].sum() == 1
    assert "rms_arcmin" in fit.forecast.columns
    assert fit.forecast.index[0] == "none"


def test_a_log_object_can_be_given_another_mount_file() -> None:
    log: NightLog = _made().log
    fit = pm.fit(log, mount={"optics": {"centring_error": 0.8, "field_of_view": 40}})
    assert fit.noise.centring_arcmin == 0.8
    assert fit.forecasts[0].chance_in_field is not None
    assert log.mount.optics.centring_error_arcmin is None
