"""Terms held, bounded, tied and freed in lmfit's own words, and what follows from such a fit."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import lmfit
import matplotlib
import numpy as np
import pytest
from bench.nights import actual_miss_arcmin, even_targets, night
from schemas import keeps_its_schema

import pointmodel as pm

matplotlib.use("Agg")
MOUNT = {"alignment": {"stars": []}, "optics": {"field_of_view": 48}}
TERMS = {"collimation": 8.0, "tilt_north": 20.0, "tilt_east": -14.0, "non_perpendicularity": 3.0}


def _log(seed: int = 3, pairs: int = 20, **options: Any) -> pm.NightLog:
    made = night(np.random.default_rng(seed), "usual", pairs, terms=TERMS, **options)
    return pm.read_log(made.log.pairs, mount=MOUNT)


@pytest.fixture(scope="module")
def log() -> pm.NightLog:
    return _log()


def _asked(**changes: dict[str, Any]) -> lmfit.Parameters:
    asked = pm.parameters()
    for name, change in changes.items():
        asked[name].set(**change)
    return asked


def test_parameters_are_the_terms_and_the_standard_ones_vary() -> None:
    asked = pm.parameters()
    assert [name for name, one in asked.items() if one.vary] == list(pm.fit(_log()).terms.index)
    assert asked["tube_flexure"].value == 0.0
    assert not asked["tube_flexure"].vary


def test_a_held_term_stays_and_the_others_make_up_for_it(log: pm.NightLog) -> None:
    fit = pm.fit(log, params=_asked(collimation={"value": 0.0, "vary": False}))
    held = fit.terms.loc["collimation"]
    assert (held["value"], held["standard_error"], held["status"]) == (0.0, 0.0, "fixed")
    free = pm.fit(log, params=pm.parameters())
    errors = fit.terms["standard_error"] <= free.terms["standard_error"] * 1.1
    assert errors.all()
    assert (
        fit.terms.loc["azimuth_index", "standard_error"]
        < 0.3 * (free.terms.loc["azimuth_index", "standard_error"])
    )


def test_what_is_held_is_not_called_found_or_ruled_out_by_the_log(
    log: pm.NightLog, tmp_path: Path
) -> None:
    held = {"value": 9.0, "vary": False}
    fit = pm.fit(log, params=_asked(collimation=held))
    cause = next(one for one in fit.causes if one.cause == "collimation")
    assert cause.evidence == "held at 9′ as asked; the log was not asked"
    text = " ".join(str(fit).split())
    assert "Collimation 9.00′ — held" in text
    page = fit.report(tmp_path / "page.html").read_text("utf-8")
    assert "held at this value, as asked" in page.lower()


def test_a_bound_is_kept_by_the_value_and_by_its_range(log: pm.NightLog) -> None:
    fit = pm.fit(log, params=_asked(tilt_north={"min": 0.0, "max": 19.5}))
    row = fit.terms.loc["tilt_north"]
    assert 19.0 < row["value"] <= 19.5  # 20.1 without it
    assert row["high"] <= 19.5
    assert fit.solution.posterior.draws[:, 4].max() <= 19.5


@pytest.mark.parametrize("priors", [True, False])
def test_a_tie_holds_in_values_and_in_draws(log: pm.NightLog, priors: bool) -> None:
    asked = _asked(tilt_east={"expr": "-0.7 * tilt_north"})
    fit = pm.fit(log, params=asked, priors=priors)
    assert fit.terms.loc["tilt_east", "value"] == pytest.approx(
        -0.7 * fit.terms.loc["tilt_north", "value"], rel=1e-12
    )
    draws = fit.solution.posterior.draws
    np.testing.assert_allclose(draws[:, 5], -0.7 * draws[:, 4], atol=1e-6)
    assert fit.terms.loc["tilt_east", "standard_error"] == pytest.approx(
        0.7 * fit.terms.loc["tilt_north", "standard_error"], rel=1e-6
    )


def test_terms_may_be_tied_to_parameters_that_are_none(log: pm.NightLog) -> None:
    asked = pm.parameters()
    asked.add("lean", value=20.0, min=0.0)
    asked.add("toward", value=-0.5)
    asked["tilt_north"].set(expr="lean * cos(toward)")
    asked["tilt_east"].set(expr="lean * sin(toward)")
    fit, free = (pm.fit(log, params=p, priors=False) for p in (asked, pm.parameters()))
    # the same model in other words
    np.testing.assert_allclose(fit.terms["value"], free.terms["value"], atol=1e-3)
    lean = np.hypot(*free.terms.loc[["tilt_north", "tilt_east"], "value"])
    assert fit.lmfit.params["lean"].value == pytest.approx(lean, abs=1e-3)


def test_a_freed_term_is_fitted_and_no_other_is_taken_up() -> None:
    made = night(np.random.default_rng(5), "usual", 30, terms={"tube_flexure": 12.0})
    fit = pm.fit(made.log, params=_asked(tube_flexure={"vary": True}))
    row = fit.terms.loc["tube_flexure"]
    assert abs(row["value"] - 12.0) < 3.5 * row["standard_error"]
    without = pm.fit(made.log, params=pm.parameters())
    assert len(without.terms) == 6
    assert without.noise.sigma_arcmin > fit.noise.sigma_arcmin


def test_a_slip_is_fitted_at_the_line_that_is_told() -> None:
    log = _log(pairs=24)
    frame = log.pairs
    frame.loc[frame.index[10:], "centred_alt"] += 0.5
    asked = _asked(altitude_slip={"vary": True})
    asked["altitude_slip"].user_data = int(log.line[9])
    fit = pm.fit(frame, mount=MOUNT, params=asked)
    row = fit.terms.loc["altitude_slip"]
    assert row["value"] == pytest.approx(30.0, abs=3.0)
    assert row["after_line"] == log.line[9]
    assert fit.pairs["residual_y_arcmin"].abs().max() < 6.0  # the first line after it has it too
    with pytest.raises(pm.InputError, match="the line of the log after which"):
        pm.fit(log, params=_asked(azimuth_slip={"vary": True}))


def test_go_tos_follow_the_terms_that_were_asked_for() -> None:
    made = night(np.random.default_rng(3), "usual", 24, terms=TERMS)
    held = {"value": made.terms["collimation"], "vary": False}
    fit = pm.fit(made.log, params=_asked(collimation=held))
    misses = actual_miss_arcmin(made, *even_targets(60), *fit.aim(*even_targets(60)))
    forecast = fit.forecast.loc["apply_corrections"]
    rms = float(np.sqrt(np.mean(np.square(misses))))
    assert rms < forecast["rms_high_arcmin"] * 1.5
    wrong = pm.fit(made.log, params=_asked(collimation={"value": 60.0, "vary": False}))
    other = actual_miss_arcmin(made, *even_targets(60), *wrong.aim(*even_targets(60)))
    assert np.sqrt(np.mean(np.square(other))) > 3.0 * rms


def test_document_page_and_verdict_on_levelling_follow(log: pm.NightLog, tmp_path: Path) -> None:
    fit = pm.fit(log, params=_asked(tilt_north={"value": 0, "vary": False}))
    keeps_its_schema(fit.to_dict(), "fit")
    assert "held" in fit.report(tmp_path / "page.html").read_text("utf-8")
    north, east = fit.terms.loc[["tilt_north", "tilt_east"], "value"]
    lean = pm.level(fit).to_dict()["lean"]
    assert lean["amount_arcmin"] == pytest.approx(np.hypot(north, east), rel=0.05)


def test_a_fit_with_parameters_is_saved_loaded_and_pickled(
    log: pm.NightLog, tmp_path: Path
) -> None:
    asked = _asked(
        collimation={"value": 4.0, "vary": False},
        tilt_east={"expr": "-0.7 * tilt_north"},
        altitude_index={"min": -500.0, "max": 500.0},
    )
    fit = pm.fit(log, params=asked, priors=False)
    again = pm.load_fit(fit.save(tmp_path / "night.json"))
    assert again.to_dict()["terms"] == fit.to_dict()["terms"]
    assert pickle.loads(pickle.dumps(fit)).to_dict() == fit.to_dict()


def test_a_tie_by_a_function_of_ones_own_is_fitted_but_not_saved(
    log: pm.NightLog, tmp_path: Path
) -> None:
    asked = pm.parameters()
    asked._asteval.symtable["halved"] = lambda value: 0.5 * value
    asked["tilt_east"].set(expr="halved(tilt_north)")
    fit = pm.fit(log, params=asked)
    with pytest.raises(pm.InputError, match="ties that rest on parameters"):
        fit.save(tmp_path / "night.json")


def test_nobodys_parameters_are_modified(log: pm.NightLog) -> None:
    asked = _asked(collimation={"value": 1.0, "vary": False})
    before = asked.dumps()
    pm.fit(log, params=asked)
    assert asked.dumps() == before


def test_a_log_with_an_event_is_fitted_part_by_part(log: pm.NightLog) -> None:
    frame = _log(pairs=24).pairs
    frame["event"] = frame["event"].astype(object)
    frame.loc[frame.index[12], "event"] = "bump"
    frame.loc[frame.index[12] :, "centred_az"] += 1.0
    fit = pm.fit(frame, params=_asked(collimation={"value": 0.0, "vary": False}))
    assert [one.statuses[2] for _, one in fit.segments] == ["fixed", "fixed"]
    assert len(fit.pairs) == 24


WRONG = {
    "no term, in no expr": (lambda p: p.add("colimation", value=1.0), "wanted collimation"),
    "not shown": (lambda p: p["azimuth_drift"].set(vary=True), "a log with times"),
    "of an alignment": (lambda p: p["readout_tilt_east"].set(vary=True), 'readout = "sky"'),
    "nothing free": (lambda p: [one.set(vary=False) for one in p.values()], "one free term"),
    "moves no term": (
        lambda p: (p.add("a", value=1.0), p["tilt_east"].set(expr="0 * a + 2")),
        "a, which no term follows",
    ),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_cannot_be_fitted_is_refused_by_name(what: str) -> None:
    change, said = WRONG[what]
    frame = _log().pairs.drop(columns=["time", "commanded_time"], errors="ignore")
    asked = pm.parameters()
    change(asked)
    with pytest.raises(pm.InputError, match=said):
        pm.fit(frame, params=asked)


def test_without_priors_too_few_pairs_are_refused_with_the_terms_they_leave_open() -> None:
    with pytest.raises(pm.InputError, match=r"2 good pairs say nothing of .*collimation"):
        pm.fit(_log(pairs=2), priors=False)
    assert len(pm.fit(_log(pairs=2), params=pm.parameters()).terms) == 6


def test_what_are_no_parameters_is_refused(log: pm.NightLog) -> None:
    with pytest.raises(pm.InputError, match=r"what pm\.parameters\(\) returns"):
        pm.fit(log, params={"collimation": 0.0})  # type: ignore[arg-type]
    with pytest.raises(pm.InputError, match="True or False"):
        pm.fit(log, priors="flat")  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(8))
def test_with_priors_the_values_are_the_estimators(seed: int) -> None:
    made = night(np.random.default_rng(seed), "usual", 12 + seed)
    estimated = pm.fit(made.log)
    assert len(estimated.terms) == 6, "a further term was taken up: another seed"
    fit = pm.fit(made.log, params=pm.parameters())
    off = (fit.terms["value"] - estimated.terms["value"]).abs() / estimated.terms["standard_error"]
    # the estimator averages over a tube that may sag, which looks much like the altitude zero
    ridge = ["azimuth_index", "collimation", "non_perpendicularity"]
    assert off[ridge].max() < 0.1
    own = fit.solution.posterior
    centre = own.draws.mean(axis=0)
    error = fit.terms["standard_error"].to_numpy()
    assert (np.abs(centre - own.mean) < 0.1 * error).all()
