"""Logs with events: what each event renews, what the pairs before it still say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bench.segment_figures import joined, knocked_night, model_miss_arcmin, segments
from scipy.optimize import least_squares

import pointmodel as pm
from pointmodel.estimate import solve
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.observations import linear_problem
from pointmodel.estimate.segments import segments_of
from pointmodel.estimate.starts import best_candidates
from pointmodel.reading.nightlog import Event, NightLog


def test_every_event_starts_a_segment_and_a_segment_without_pairs_gives_its_events_on() -> None:
    log, _ = knocked_night(1, 5, 6)
    events = (Event("bump", 6, 5), Event("clutch", 7, 5), Event("power_cycle", 30, 11))
    parts = segments_of(replace(log, events=events))
    assert [len(part.log) for part in parts] == [5, 6]
    assert [part.events for part in parts] == [(), ("bump", "clutch")]
    hidden = log.centred_az_deg.copy()
    hidden[:5] = np.nan
    late = (Event("zero_on_star", 3, 2), Event("bump", 7, 5))
    parts = segments_of(replace(log, events=late, centred_az_deg=hidden))
    assert [part.events for part in parts] == [("zero_on_star", "bump")]


def test_only_a_knock_or_a_levelling_renews_the_lean() -> None:
    for kind, new in (
        ("bump", True),
        ("relevelled", True),
        ("zero_on_star", False),
        ("clutch", False),
        ("power_cycle", False),
    ):
        log, _ = knocked_night(2, 4, 4, kind)
        assert segments_of(log)[1].lean_is_new is new, kind


def test_results_are_for_the_last_segment_and_bad_pairs_of_earlier_ones_are_told() -> None:
    log, made = knocked_night(3, 10, 8)
    centred = log.centred_alt_deg.copy()
    centred[4] += 10.0
    fit = pm.fit(replace(log, centred_alt_deg=centred))
    assert [pair.line for pair in fit.set_aside] == [6]
    assert fit.pairs_used == 17
    index = next(term for term in fit.term_estimates if term.name == "altitude_index")
    assert index.low < made.terms["altitude_index"] < index.high
    assert fit.to_dict()["pairs"]["used"] == 17


def test_one_star_after_zeroing_goes_as_far_as_the_night_before_it_had_come() -> None:
    found = segments(10, 12, 1, "zero_on_star", first_seed=100)
    assert found["whole_median_arcmin"] < 3.0
    assert found["whole_arcmin"] < 4.0  # 2.0 over 60 nights; 39 without the pairs before
    assert found["last_only_arcmin"] > 15.0


def test_pairs_before_a_knock_help_and_never_harm_those_after_it() -> None:
    few = segments(30, 12, 3, first_seed=200)
    assert few["whole_arcmin"] < 0.85 * few["last_only_arcmin"]
    assert few["held"] > 0.93
    many = segments(30, 4, 12, first_seed=300)
    assert many["whole_arcmin"] < 1.05 * many["last_only_arcmin"]
    assert many["held"] > 0.91


def test_flexure_found_before_the_knock_is_kept_after_it() -> None:
    found = segments(12, 14, 4, first_seed=400, tube_flexure=9.0)
    assert found["whole_arcmin"] < 0.85 * found["last_only_arcmin"]


def test_the_whole_agrees_with_one_least_squares_fit_of_both_parts() -> None:
    """Sixteen unknowns less the two shared ones, by scipy's least squares without priors."""
    log, made = knocked_night(5, 30, 30)
    obs = [observations_of(part.log) for part in segments_of(log)]

    def misfit(x: np.ndarray) -> np.ndarray:
        rows = []
        for k, part in enumerate(obs):
            own = x[4 * k : 4 * k + 4]
            at = np.zeros(6 + len(part.columns))
            at[:6] = [own[0], own[1], x[8], x[9], own[2], own[3]]
            rows.append(linear_problem(part, at).miss.ravel())
        return np.concatenate(rows)

    start = np.zeros(10)
    start[[0, 4]] = [60.0 * np.degrees(np.angle(np.exp(1j * (o.reading_az - o.star_az)).sum()))
                     for o in obs]  # fmt: skip
    free = least_squares(misfit, start).x
    fit = pm.fit(log)
    value = {term.name: (term.value, term.standard_error) for term in fit.term_estimates}
    joint = dict(zip(("altitude_index", "tilt_north", "tilt_east"), free[5:8], strict=True))
    joint |= {"collimation": free[8], "non_perpendicularity": free[9]}
    for name, expected in joint.items():
        assert value[name][0] == pytest.approx(expected, abs=0.6 * value[name][1]), name
    assert model_miss_arcmin(fit, made) < 1.0


def test_two_events_are_carried_over_in_turn() -> None:
    first, _ = knocked_night(7, 8, 8, "zero_on_star")
    second, last = knocked_night(7, 8, 3, "zero_on_star")
    log = joined(first, second.select(np.arange(11) >= 8), "clutch")
    log = replace(log, events=(Event("zero_on_star", 10, 8), Event("clutch", 18, 16)))
    fit = pm.fit(log)
    assert [len(part) for part, _ in fit.segments] == [8, 8, 3]
    assert model_miss_arcmin(fit, last) < 3.0


def test_a_fit_of_segments_comes_back_equal_from_the_disk(tmp_path: pytest.TempPathFactory) -> None:
    log, _ = knocked_night(8, 9, 5)
    fit = pm.fit(log)
    path = fit.save(f"{tmp_path}/kept.json")
    again = pm.load_fit(path)
    assert again.to_dict() == fit.to_dict()
    assert len(again.segments) == 2


def with_an_event_on_each_line(log: NightLog, kind: str) -> NightLog:
    """The log with something that happened before each pair but the first."""
    events = tuple(Event(kind, int(line), k) for k, line in enumerate(log.line) if k)
    return replace(log, events=events)


def test_between_two_events_one_pair_is_not_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    searched: list[int] = []

    def counting(*given: Any, **more: Any) -> Any:
        searched.append(given[0].count)
        return best_candidates(*given, **more)

    monkeypatch.setattr(solve, "best_candidates", counting)
    for pairs in (6, 24):
        searched.clear()
        fit = pm.fit(with_an_event_on_each_line(knocked_night(1, pairs, 1)[0], "bump"))
        assert len(fit.segments) == pairs + 1
        assert len(searched) == 2  # the first, of which nothing is known, and the last


def test_what_the_tube_was_found_to_have_outlasts_a_line_between_two_events() -> None:
    log, _ = knocked_night(8, 24, 5, tube_flexure=15.0)
    first = int(log.line[24])
    events = (Event("bump", first, 24), Event("bump", first + 1, 25))
    fit = pm.fit(replace(log, events=events))
    assert [len(part) for part, _ in fit.segments] == [24, 1, 4]
    flexure = fit.terms.loc["tube_flexure"]
    assert 5.0 < flexure["low"] < 15.0 < flexure["high"] < 25.0


def test_a_part_of_a_log_holds_no_more_of_the_events_than_its_neighbours() -> None:
    log = with_an_event_on_each_line(knocked_night(2, 20, 20)[0], "zero_on_star")
    parts = segments_of(log)
    assert max(len(part.log.events) for part in parts) <= 4
    assert parts[-1].log.events[0].before_pair == 0
