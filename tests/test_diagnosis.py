"""What is wrong, and what to do first: one fault at a time on nights made with it."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pandas as pd
import pytest
from bench import figures
from bench.nights import night

import pointmodel as pm
from pointmodel.mount.terms import TERMS

GOOD_MOUNT = dict.fromkeys(figures.STANDARD_NAMES, 0.3)


def _fit(terms: dict[str, float], mount: dict[str, Any] | None = None, **options: Any) -> pm.Fit:
    made = night(np.random.default_rng(7), "usual", 22, terms=GOOD_MOUNT | terms, **options)
    told = {"alignment": {"stars": []}, **(mount or {"optics": {"field_of_view": 48}})}
    return pm.fit(made.log, mount=told)


@pytest.mark.parametrize("fault", figures.TO_NAME)
def test_the_one_fault_of_a_good_mount_is_named_first(fault: str) -> None:
    found = figures.over_nights(partial(figures.one_naming, fault, True), 6)
    code = figures.TO_NAME[fault].code
    assert sum(first == code for first, _, _ in found) >= 5
    assert sum(len(set(likely) - {code}) for _, likely, _ in found) <= 1


def test_healthy_stands_alone_and_the_summary_says_that_nothing_need_be_done() -> None:
    fit = _fit({})
    assert [cause.cause for cause in fit.causes] == ["healthy"]
    assert fit.advice.state == "good"
    assert fit.advice.steps == ()
    assert fit.summary.startswith("Go-to is good: it misses by ")


def test_zeros_that_are_off_are_cured_on_one_star() -> None:
    fit = _fit({"azimuth_index": 80.0, "altitude_index": -40.0})
    assert {"azimuth_zero", "altitude_zero"} <= {c.cause for c in fit.causes[:2]}
    assert fit.advice.actions == ("zero_on_star",)
    assert fit.advice.quick is None
    assert fit.summary.startswith("Zero on a star (2 min): go-to misses ")


def test_a_lean_is_not_levelled_before_the_clock_is_cleared() -> None:
    optics = {"field_of_view": 20}
    site = {"latitude": -41.0, "longitude": 146.0}
    terms = {"tilt_east": 45.0, "tilt_north": 0.3, "altitude_index": 25.0, "collimation": 12.0}
    doubtful = _fit(terms, {"optics": optics, "site": site})
    codes = {cause.cause: cause for cause in doubtful.causes}
    assert codes["not_level"].verdict == "likely"
    # tilt_east = −δ cos φ: 45′ is a clock 3.96 min slow at 41° (15.041′ a minute)
    assert "clock 4.0 min slow" in codes["clock_or_longitude"].evidence
    assert pm.level(doubtful).verdict == "cannot_tell"
    cleared = _fit(terms, {"optics": optics, "site": site, "entered": {"verified": True}})
    assert "clock_or_longitude" not in {cause.cause for cause in cleared.causes}
    assert pm.level(cleared).verdict == "level"


@pytest.mark.parametrize(("tilt", "way"), [(60.0, "too far south"), (-60.0, "too far north")])
def test_a_lean_along_the_meridian_could_be_the_latitude(tilt: float, way: str) -> None:
    fit = _fit({"tilt_north": tilt}, {"site": {"latitude": 50.0, "longitude": 8.0}})
    found = {cause.cause: cause.evidence for cause in fit.causes}
    assert "1.0" in found["latitude"]
    assert way in found["latitude"]


def test_after_an_alignment_rotations_are_its_errors_and_no_foot_is_ordered() -> None:
    aligned = {"alignment": {"stars": ["Achernar", "Canopus"]}, "mount": {"readout": "sky"}}
    fit = _fit({"tilt_north": 30.0, "azimuth_index": 50.0}, aligned)
    codes = [cause.cause for cause in fit.causes]
    assert codes[0] == "alignment"
    assert not {"not_level", "azimuth_zero", "clock_or_longitude"} & set(codes)
    assert codes.count("alignment") == 1
    assert pm.level(fit).verdict in ("realign", "leave")
    assert not {"level", "zero_on_star"} & set(fit.advice.actions)


def test_logs_made_after_an_alignment_aim_nearly_as_well_as_others() -> None:
    found = figures.over_nights(partial(figures.one_aligned, 12), 16)
    assert np.median([aligned / plain for aligned, plain, _ in found]) <= 1.15
    assert not any(levelled for _, _, levelled in found)


def test_a_line_set_aside_is_named_in_cause_and_summary() -> None:
    fit = _fit({}, wrong_stars=1)
    line = fit.set_aside[0].line
    assert fit.causes[0].cause == "wrong_star"
    assert fit.causes[0].evidence.startswith(f"line {line}:")
    assert fit.causes[0].lines == (line,)
    assert f"Line {line}" in str(fit)


def test_three_stars_rule_nothing_out_that_they_cannot_show() -> None:
    made = night(np.random.default_rng(5), "usual", 3, terms=GOOD_MOUNT)
    fit = pm.fit(made.log)
    assert "healthy" not in {cause.cause for cause in fit.causes}
    assert not [cause for cause in fit.causes if cause.verdict == "likely"]
    few = night(np.random.default_rng(6), "usual", 3, terms=GOOD_MOUNT, high_alt_deg=40.0)
    fit = pm.fit(few.log)
    verdict = {cause.cause: cause.verdict for cause in fit.causes}
    reach = {term.name: max(abs(term.low), abs(term.high)) for term in fit.term_estimates}
    left_open = [name for name, size in reach.items() if size > 5.0 * TERMS[name].matters]
    assert left_open
    assert all(verdict[TERMS[name].cause] in ("open", "possible") for name in left_open)
    assert fit.advice.state == "log_again"
    assert "Too few stars to say" in fit.summary


MISREAD = {
    "azimuth_counted_backwards": ("centred_az", lambda f: (-f) % 360.0),
    "zenith_distance": ("centred_alt", lambda f: 90.0 - f),
    "azimuth_from_south": ("centred_az", lambda f: (f + 180.0) % 360.0),
}


def _found(fit: pm.Fit) -> set[str]:
    return {one.finding for one in fit.readings.findings}


@pytest.mark.parametrize(
    ("finding", "side"),
    [("azimuth_counted_backwards", "centred"), ("zenith_distance", "commanded")],
)
def test_a_column_counted_another_way_is_named_and_the_input_left_alone(
    finding: str, side: str
) -> None:
    frame = night(np.random.default_rng(3), "usual", 12, terms=GOOD_MOUNT).log.pairs
    column, misread = MISREAD[finding]
    column = column.replace("centred", side)
    frame[column] = misread(frame[column])
    before = frame.copy()
    assert _found(pm.fit(frame)) == {finding}
    assert frame.equals(before)


def test_columns_exchanged_in_every_line_are_named() -> None:
    frame = night(np.random.default_rng(4), "usual", 60, terms=GOOD_MOUNT).log.pairs
    frame = frame[frame.centred_az <= 85.0]
    swapped = frame.rename(columns={"centred_az": "centred_alt", "centred_alt": "centred_az"})
    assert _found(pm.fit(swapped)) == {"axes_exchanged"}


def test_figures_that_are_no_log_at_all_are_called_hopeless_and_stay_finite() -> None:
    rng = np.random.default_rng(0)
    frame = pd.DataFrame(
        {
            "commanded_az": rng.uniform(0, 360, 14),
            "commanded_alt": rng.uniform(-90, 90, 14),
            "centred_az": rng.uniform(0, 360, 14),
            "centred_alt": rng.uniform(-90, 90, 14),
        }
    )
    fit = pm.fit(frame)
    assert _found(fit) == {"fits_no_mount"}
    assert fit.causes == ()
    assert fit.summary.startswith("No mount could have made these figures")
    assert np.isfinite([term.value for term in fit.term_estimates]).all()
    fit.to_dict()
