"""A quick look at all that may have happened: what it is worth, and what it spares.

Work is counted in searches, never in seconds; `tests/bench/speed.py` measures those.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bench.nights import night
from bench.segment_figures import joined

import pointmodel as pm
from pointmodel.estimate import evaluation, moves, search
from pointmodel.estimate.evaluation import Hypothesis
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.glance import glance_at, plain_of
from pointmodel.estimate.moves import MOVED, with_step
from pointmodel.estimate.search import refine
from pointmodel.estimate.solve import solve
from pointmodel.estimate.starts import best_candidates
from pointmodel.mount.terms import N_STANDARD
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings import weigh


def knocked(seed: int, before: int, after: int, lean_arcmin: float, **bad: Any) -> NightLog:
    """A night whose base is knocked after some pairs; `bad` lines stand after the knock."""
    rng = np.random.default_rng(seed)
    first = night(rng, "usual", before)
    moved = dict(first.terms)
    moved["tilt_north"] += lean_arcmin
    last = night(rng, "usual", after, terms=moved, **bad)
    return replace(joined(first.log, last.log, "bump"), events=())


def beside_their_stars(log: NightLog, lines: slice) -> NightLog:
    """The log with other stars in these lines, four degrees off in different directions."""
    az_deg, alt_deg = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    size = alt_deg[lines].size
    alt_deg[lines] += 4.0 * np.cos(np.arange(size))
    az_deg[lines] += 4.0 * np.sin(np.arange(size)) / np.cos(np.radians(alt_deg[lines]))
    return replace(log, centred_az_deg=az_deg % 360.0, centred_alt_deg=alt_deg)


def of_no_mount(pairs: int, seed: int = 0) -> NightLog:
    """Figures that have nothing to do with one another."""
    rng = np.random.default_rng(seed)
    log = night(rng, "usual", pairs).log
    return replace(
        log,
        centred_az_deg=rng.uniform(0.0, 360.0, pairs),
        centred_alt_deg=rng.uniform(15.0, 80.0, pairs),
    )


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Callable[[NightLog], int]:
    """How many searches for a move a log costs."""
    counted: list[str] = []

    def watched(name: str) -> Callable[..., Any]:
        function = getattr(moves, name)

        def counting(*given: Any, **more: Any) -> Any:
            counted.append(name)
            return function(*given, **more)

        return counting

    for name in ("best_candidates", "refine"):
        monkeypatch.setattr(moves, name, watched(name))

    def count(log: NightLog) -> int:
        counted.clear()
        pm.fit(log)
        return len(counted)

    return count


def evidences(log: NightLog, places: list[int]) -> tuple[np.ndarray, np.ndarray, float]:
    """ln evidence of a knock before these pairs: at a glance, by a search from all pairs good.

    And that of the log without one.
    """
    obs = observations_of(log)
    solution = solve(obs, None)
    before = (np.arange(len(log)) < np.array(places)[:, None]).astype(float)
    seen = glance_at(plain_of(solution.candidate, solution.settings), MOVED.by(before))
    searched = []
    for place in places:
        parted = with_step(obs, MOVED, place)
        at = np.zeros(N_STANDARD + len(parted.columns))
        start = Hypothesis(parted, parted.always, np.ones(obs.count, dtype=bool), at)
        searched.append(refine(start, solution.settings, flips=True).log_total)
    return seen.log_total, np.array(searched), solution.candidate.log_total


@pytest.mark.parametrize("seed", range(4))
def test_a_glance_at_the_right_place_is_worth_what_a_search_finds_there(seed: int) -> None:
    seen, searched, plain = evidences(knocked(seed, 6, 8, 25.0), [6])
    assert seen[0] == pytest.approx(searched[0], abs=1.5)
    assert seen[0] > plain + 5.0


def test_the_right_place_comes_first_whatever_lines_are_bad() -> None:
    places = list(range(2, 15))
    bad = {"wrong_stars": 1, "pen_slips": 1}
    first = [
        places[int(evidences(knocked(seed, 8, 8, 25.0, **bad), places)[0].argmax())]
        for seed in range(6)
    ]
    assert first.count(8) >= 5


def test_wrong_stars_side_by_side_cost_no_search_for_a_move(
    searches: Callable[[NightLog], int],
) -> None:
    nights = [night(np.random.default_rng(seed), "usual", 24).log for seed in range(6)]
    spent = [searches(beside_their_stars(log, slice(10, 12))) for log in nights]
    assert spent.count(0) >= 5


@pytest.mark.parametrize("pairs", [12, 40, 120])
def test_figures_of_no_mount_cost_no_search_for_a_move(
    pairs: int, searches: Callable[[NightLog], int]
) -> None:
    assert searches(of_no_mount(pairs)) == 0


def test_searches_for_a_move_do_not_grow_with_the_log(
    searches: Callable[[NightLog], int],
) -> None:
    # three of the best and the best of each other kind, in each of the parts that are found
    for half in (6, 20, 60):
        assert searches(knocked(3, half, half, 30.0)) <= 7


def counted_in(module: Any, name: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A list that grows by one with each call of this function of a module."""
    calls: list[str] = []
    function = getattr(module, name)

    def counting(*given: Any, **more: Any) -> Any:
        calls.append(name)
        return function(*given, **more)

    monkeypatch.setattr(module, name, counting)
    return calls


def test_figures_of_no_mount_are_known_early_however_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    evaluated = counted_in(evaluation, "evaluate", monkeypatch)
    slips = counted_in(search, "score_bad", monkeypatch)
    for pairs in (30, 300, 1000):
        evaluated.clear()
        fit = pm.fit(of_no_mount(pairs))
        assert "No mount could have made these figures" in fit.summary
        assert not fit.set_aside
        # five further terms at most are taken up and dropped, each settled in a few steps, for the
        # log as it is written and for the few readings of it that come near
        assert len(evaluated) < 400
    assert not slips


def test_half_a_log_of_other_stars_is_still_set_aside() -> None:
    rng = np.random.default_rng(3)
    log = night(rng, "usual", 60).log
    bad = rng.random(60) < 0.4
    az_deg = np.where(bad, rng.uniform(0.0, 360.0, 60), log.centred_az_deg)
    alt_deg = np.where(bad, rng.uniform(15.0, 80.0, 60), log.centred_alt_deg)
    fit = pm.fit(replace(log, centred_az_deg=az_deg, centred_alt_deg=alt_deg))
    assert len(fit.set_aside) == bad.sum()


def test_a_long_log_of_no_mount_is_read_otherwise_only_as_far_as_some_pairs_bear_it_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[int] = []

    def counting(obs: Any, settings: Any) -> Any:
        asked.append(obs.count)
        return best_candidates(obs, settings)

    monkeypatch.setattr(weigh, "best_candidates", counting)
    pm.fit(of_no_mount(4500))
    assert all(count <= 2000 for count in asked)
    asked.clear()
    log = night(np.random.default_rng(4), "usual", 4500).log
    fit = pm.fit(replace(log, centred_az_deg=-log.centred_az_deg % 360.0))
    assert [one.finding for one in fit.figures.findings if one.taken_up] == [
        "azimuth_counted_backwards"
    ]
    assert 4500 in asked
