"""What fit, page and causes say of a controller that was aligned, was not, or may have been."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pytest
from bench.alignments import evening

import pointmodel as pm
from pointmodel.fitting.page import report_html
from pointmodel.fitting.text import fit_text

LEANING = {"tilt_north": 15.0, "tilt_east": 42.0, "altitude_index": 20.0, "azimuth_index": 60.0}
OPTICS = {"optics": {"field_of_view": 40}, "entered": {"verified": True}}
FEET = {"feet": {"radius": 430, "azimuths": [0, 120, 240], "screw_pitch": 1.5}}
ORDER = re.compile(r"\b(lower|raise) [\d.]+ mm|Level the base", re.IGNORECASE)


@cache
def fitted(alignment: str = "", **terms: float) -> pm.Fit:
    told = {"": {}, "none": {"stars": []}, "two": {"stars": ["Achernar", "Canopus"]}}[alignment]
    made = pm.simulate(seed=5, pairs=12, terms=terms)
    return pm.fit(made.log, mount={**OPTICS, **FEET, "alignment": told})


def told(fit: pm.Fit) -> str:
    return " ".join(str(fit).split())


def everything(fit: pm.Fit) -> str:
    return " ".join(fit_text(fit, whole=True).split())


def test_the_question_comes_first_in_text_and_page_with_what_each_answer_means() -> None:
    fit = fitted(**LEANING)
    question = fit.readings.question
    assert question is not None
    assert question.answer_in == "[alignment] stars"
    assert fit.summary.startswith("Before this log, did you align the controller on two or more")
    assert told(fit).startswith(fit.summary)
    assert told(fit).count(question.ask) <= 2  # above, and under "level or not"
    assert "stars = []" in told(fit)
    page = re.sub(r"<[^>]+>", " ", report_html(fit))
    assert question.ask in page
    assert "If you did: turn no foot" in " ".join(page.split())


def test_unknown_orders_no_foot_anywhere() -> None:
    fit = fitted(**LEANING)
    causes = {cause.cause: cause for cause in fit.causes}
    assert causes["not_level"].verdict == "likely"
    assert causes["not_level"].remedy.startswith("turn no foot yet: it is not known whether")
    assert fit.advice.state == "ask"
    assert fit.advice.actions == ("answer_question",)
    assert pm.level(fit).verdict == "ask"
    assert not re.search(r"(lower|raise) [\d.]+ mm", told(fit) + report_html(fit))


def test_an_answer_ends_the_question() -> None:
    fit = fitted("none", **LEANING)
    assert fit.readings.question is None
    assert (fit.readings.alignment, pm.level(fit).verdict) == ("none", "level")
    assert "?" not in fit.summary


def test_a_good_go_to_is_just_good() -> None:
    fit = fitted(**dict.fromkeys(LEANING, 0.0), collimation=0.0, non_perpendicularity=0.0)
    assert fit.readings.question is None
    assert fit.summary.startswith("Go-to is good")


def test_too_few_stars_come_before_any_question() -> None:
    made = pm.simulate(seed=5, pairs=1, terms=LEANING)
    fit = pm.fit(made.log, mount={**OPTICS, "alignment": {}})
    if fit.summary.startswith("Too few stars"):
        assert fit.readings.question is None


@pytest.mark.parametrize("seed", [0, 3, 5])
def test_a_wrong_alignment_star_is_the_headline_with_the_pair_for_tonight(seed: int) -> None:
    one = evening(seed, "wrong_star")
    fit = pm.fit(one.log)
    assert fit.alignment_fault is not None
    first, second = fit.realign_on or ("", "")
    assert fit.summary.startswith(f"Align again on {first}, then {second}")
    assert str(one.instead) in fit.summary
    cause = fit.causes[0]
    assert (cause.cause, cause.verdict) == ("alignment", "likely")
    assert str(one.instead) in cause.evidence
    assert [c.cause for c in fit.causes].count("alignment") == 1
    result = pm.level(fit)
    assert (result.verdict, result.feet) == ("realign", ())
    assert str(one.instead) in result.reason
    assert f"Align again on {first}, then {second}" in result.reason


@pytest.mark.parametrize("seed", [18, 39])
def test_what_fits_no_mount_may_be_an_alignment_zero_that_came_of_a_wrong_star(seed: int) -> None:
    one = evening(seed, "wrong_star", kind="altitude_zero")
    fit = pm.fit(one.log)
    assert fit.readings.fits_no_mount
    assert str(one.instead) in fit.summary
    assert "Align again on" in fit.summary
    assert "No mount" not in told(fit)
    assert [(cause.cause, cause.verdict) for cause in fit.causes] == [("alignment", "likely")]
    result = pm.level(fit)
    assert (result.verdict, result.feet) == ("cannot_tell", ())
    assert str(one.instead) in result.reason


def test_without_an_alignment_that_hides_the_lean_there_is_no_doctor() -> None:
    one = evening(0, "wrong_star")
    for mount in ({"alignment": {"stars": []}}, {"mount": {"readout": "axes"}}):
        tables: dict[str, Any] = one.log.mount.to_dict()
        for table, keys in mount.items():
            tables[table] = {**tables.get(table, {}), **keys}
        assert pm.fit(one.log, mount=tables).alignment_fault is None


def test_the_forecast_says_both_figures_where_the_kind_of_controller_is_not_known() -> None:
    fit = fitted("none", **{**LEANING, "altitude_index": 40.0})
    assert "works out an altitude zero as well would leave" in everything(fit)
    known = pm.fit(fit.as_written, mount={
        **OPTICS, "alignment": {"stars": [], "solves": "rotation"},
    })  # fmt: skip
    assert "works out an altitude zero" not in everything(known)
