"""A base that was knocked, a tube that slid, ground that sinks: found where nobody wrote it down.

Evenings are those of `tests/bench/evening_kinds.py`; the counts stand in `tests/bench/evenings.py`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench.evening_kinds import evening
from bench.nights import night
from bench.segment_figures import joined, model_miss_arcmin

import pointmodel as pm
from pointmodel.estimate.fromlog import hours_since_first, observations_of
from pointmodel.estimate.moves import MOVED, Move, fits_badly, on_sinking_ground, with_step
from pointmodel.estimate.observations import linear_problem
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.simulation.night import SimulatedNight


def knocked(
    seed: int, before: int, after: int, lean_arcmin: float
) -> tuple[pm.Fit, SimulatedNight]:
    """A night whose base is knocked by a lean toward the east after some pairs; its end."""
    rng = np.random.default_rng(seed)
    first = night(rng, "usual", before)
    moved = dict(first.terms)
    moved["tilt_east"] += lean_arcmin
    moved["azimuth_index"] += 15.0
    last = night(rng, "usual", after, terms=moved)
    log = replace(joined(first.log, last.log, "bump"), events=())
    return pm.fit(log), last


def cause_of(fit: pm.Fit, code: str) -> pm.Cause:
    """The cause of this name."""
    return next(cause for cause in fit.causes if cause.cause == code)


def test_a_knock_is_found_at_its_line_and_the_results_are_those_of_the_end() -> None:
    fit, end = knocked(1, 6, 6, 40.0)
    cause = cause_of(fit, "moved")
    assert (cause.verdict, cause.after_line) == ("likely", 7)
    assert [len(log) for log, _ in fit.segments] == [6, 6]
    assert fit.summary.startswith("Something moved after line 7. Tighten the leg clamps")
    assert fit.advice.actions[0] == "steady_base"
    east = fit.terms.loc["tilt_east"]
    assert east["low"] < end.terms["tilt_east"] < east["high"]
    assert fit.happened[0].change["tilt_east"] == pytest.approx(40.0, abs=6.0)
    assert model_miss_arcmin(fit, end) < 3.0


@pytest.mark.parametrize("seed", range(4))
def test_knocks_of_the_smallest_size_are_found_in_eight_lines(seed: int) -> None:
    one = evening("knocked", seed, lines=(8, 8))
    cause = cause_of(pm.fit(one.log), "moved")
    assert cause.verdict == "likely"
    assert cause.after_line == (one.played.moved_after or 0) + 1


def test_a_knock_is_told_from_two_wrong_stars_and_from_slips_of_the_pen() -> None:
    rng = np.random.default_rng(5)
    for _ in range(6):
        fit = pm.fit(night(rng, "usual", 10, wrong_stars=1, pen_slips=1).log)
        assert not fit.happened
        assert len(fit.set_aside) == 2


def test_a_slip_of_the_clutch_stays_a_slip() -> None:
    slips = {"azimuth_slip": 35.0, "altitude_slip": -25.0}
    rng = np.random.default_rng(6)
    for _ in range(4):
        fit = pm.fit(night(rng, "usual", 14, terms=slips, slip_after_pair=7).log)
        assert cause_of(fit, "slip").verdict == "likely"
        assert not any(one.taken_up for one in fit.happened)


def test_a_clean_log_is_never_asked() -> None:
    rng = np.random.default_rng(7)
    asked = [fits_badly(pm.fit(night(rng, "usual", 12).log).solution) for _ in range(40)]
    assert sum(asked) <= 1


def test_nights_that_stood_still_are_not_said_to_have_moved() -> None:
    rng = np.random.default_rng(8)
    for population in ("usual", "varied", "worse"):
        for _ in range(15):
            fit = pm.fit(night(rng, population, 9).log)
            assert not any(one.taken_up for one in fit.happened)


@pytest.mark.parametrize("log_odds", [-1.9, -0.1, 0.1, 3.0])
def test_a_move_is_taken_up_where_it_is_likelier_than_all_else_together(log_odds: float) -> None:
    move = Move("moved", 4, log_odds, {})
    assert move.taken_up == (move.probability > 0.5)


def test_figures_that_fit_no_mount_are_not_called_a_move() -> None:
    rng = np.random.default_rng(9)
    log = night(rng, "usual", 10).log
    shuffled = replace(log, centred_az_deg=np.roll(log.centred_az_deg, 1))
    assert not pm.fit(shuffled).happened


def test_sinking_ground_is_named_and_no_foot_is_to_be_turned() -> None:
    one = evening("sinking", 2)
    fit = pm.fit(one.log, mount={"feet": {"radius": 400, "azimuths": [0, 120, 240]}})
    assert cause_of(fit, "sinking").verdict == "likely"
    assert "board under each foot" in fit.summary
    level = pm.level(fit)
    assert level.verdict == "cannot_tell"
    assert not level.feet
    assert "board under each foot" in level.reason
    assert cause_of(fit, "not_level").remedy.startswith("put a board under each foot")


def test_a_tube_that_slid_is_named() -> None:
    found = [pm.fit(evening("tube_shifted", seed).log).causes for seed in range(6)]
    named = [any(c.cause == "tube_shifted" and c.verdict == "likely" for c in one) for one in found]
    assert sum(named) >= 4


def test_few_stars_after_a_move_order_no_feet() -> None:
    fit, _ = knocked(3, 9, 3, 60.0)
    level = pm.level(fit, "check")
    assert level.verdict == "cannot_tell"
    assert "after line 10" in level.reason


def knocked_then(event: str, lasting: bool) -> pm.Fit:
    """Nine stars, a knock that nobody wrote down, two more; the event, after which six follow."""
    rng = np.random.default_rng(11)
    first = night(rng, "usual", 9)
    moved = dict(first.terms)
    moved["tilt_east"] += 60.0
    moved["azimuth_index"] += 15.0
    two = night(rng, "usual", 2, terms=moved)
    if not lasting:
        moved["tilt_north"] += 20.0
    six = night(rng, "usual", 6, terms=moved)
    log = replace(joined(first.log, two.log, event), events=())
    return pm.fit(replace(joined(log, six.log, event)))


def test_a_knock_that_a_logged_one_follows_is_over() -> None:
    """So it comes about: two stars do not fit, and only then `bump` is typed."""
    fit = knocked_then("bump", lasting=False)
    (one,) = fit.happened
    assert (one.after_line, one.is_over, one.pairs_after) == (10, True, 2)
    cause = cause_of(fit, "moved")
    assert "Results are for the log after a later event" in cause.evidence
    assert "log again" not in cause.remedy
    assert not set(fit.advice.actions) & {"steady_base", "log_again"}
    assert pm.level(fit, "check").verdict != "cannot_tell"


def test_new_zeros_after_a_knock_leave_its_lean_to_all_the_stars_since() -> None:
    fit = knocked_then("power_cycle", lasting=True)
    (one,) = fit.happened
    assert (one.after_line, one.is_over, one.pairs_after) == (10, False, 8)
    assert fit.advice.actions[0] == "steady_base"
    assert "log_again" not in fit.advice.actions


def test_terms_that_step_or_drift_have_exact_slopes() -> None:
    """Against differences of the misses themselves, at a lean of degrees."""
    lean = {"tilt_north": 150.0, "tilt_east": -90.0}
    made = night(np.random.default_rng(10), "usual", 9, terms=lean)
    obs = observations_of(made.log)
    sinking = on_sinking_ground(obs, hours_since_first(made.log))
    assert sinking is not None
    for seen in (with_step(obs, MOVED, 4), sinking):
        at = np.zeros(6 + len(seen.columns))
        at[:6] = [made.terms[name] for name in STANDARD_NAMES]
        problem = linear_problem(seen, at)
        for one in seen.varied:
            place = 6 + one.column
            step = np.zeros_like(at)
            step[place] = 0.01
            ends = [linear_problem(seen, at + sign * step).miss for sign in (1.0, -1.0)]
            slope = (ends[1] - ends[0]) / 0.02
            assert np.allclose(problem.design[..., place], slope, atol=1e-4)
            assert np.allclose(slope[-1], 0.0, atol=1e-6)  # the six are those of the end


def test_what_was_found_comes_back_equal_from_the_disk(tmp_path: pytest.TempPathFactory) -> None:
    fit, _ = knocked(1, 6, 6, 40.0)
    again = pm.load_fit(fit.save(f"{tmp_path}/kept.json"))
    assert again.to_dict() == fit.to_dict()
    assert again.happened == fit.happened
