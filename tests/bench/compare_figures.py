"""What comparing nights promises, measured on simulated seasons.

    python tests/bench/compare_figures.py                       # all figures, 300 seasons each
    python tests/bench/compare_figures.py kinds --seasons 1000

A season is several nights of one usual mount: the tube's terms are drawn once, the set-up anew each
night (azimuth zero anyhow) or, on a pier, once. `tests/test_compare_statistics.py` runs the same
functions on fewer seasons.
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.figures import over_nights
from bench.nights import actual_miss_arcmin, even_targets, night

import pointmodel as pm
from pointmodel.comparing.blocks import CHANGED, COLLIMATION, MOUNT, NON_PERPENDICULARITY
from pointmodel.comparing.season import cores
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.simulation.night import SimulatedNight

TUBE = ("collimation", "non_perpendicularity")
SETUP = tuple(name for name in STANDARD_NAMES if name not in TUBE)
TURN = 21600.0
# that a step is one of collimation, as the comparison has it: changed, the other steady
_STEPS = [block.odds[CHANGED] / block.odds[MOUNT] for block in (COLLIMATION, NON_PERPENDICULARITY)]
STEP_ODDS = _STEPS[0] / sum(_STEPS)


@dataclass(frozen=True)
class Plan:
    """A season: how many nights of how many pairs, what changes by how much, pier or tripod.

    A step comes before a night drawn from the season's seed (never the first), its sign as well.
    """

    nights: int = 4
    pairs: int = 12
    steps: dict[str, float] = field(default_factory=dict)
    pier: bool = False
    options: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Season:
    """Simulated nights, with what changed before which of them (None: nothing did)."""

    nights: list[SimulatedNight]
    place: int | None


def season(plan: Plan, seed: int) -> Season:
    """Return the season of a seed."""
    rng = np.random.default_rng([seed, plan.nights, plan.pairs])
    tube = night(rng, "usual", 1).terms
    azimuth = float(rng.uniform(-10800.0, 10800.0))
    place = int(rng.integers(1, plan.nights))
    sign = float(rng.choice([-1.0, 1.0]))
    made = []
    for k in range(plan.nights):
        terms = {name: tube[name] for name in TUBE}
        if plan.pier:
            terms |= {name: tube[name] for name in SETUP} | {"azimuth_index": azimuth}
        else:
            terms["azimuth_index"] = float(rng.uniform(-10800.0, 10800.0))
        for name, size in plan.steps.items():
            if k >= place:
                terms[name] += sign * size
        start_s = 1936951200.0 + 86400.0 * k
        made.append(night(rng, "usual", plan.pairs, terms=terms, start_s=start_s, **plan.options))
    return Season(made, place if plan.steps else None)


@dataclass(frozen=True)
class Outcome:
    """One season compared: kinds found, changes told, which by-night intervals held (n, 6)."""

    kinds: dict[str, str]
    changes: tuple[pm.nightcompare.Change, ...]
    held: np.ndarray
    place: int | None
    ids: list[str]

    def dated(self) -> bool:
        """Whether the one change told is of the tube and stands where it happened."""
        return any(
            c.term in TUBE and self.place is not None
            and (c.after, c.before) == (self.ids[self.place - 1], self.ids[self.place])
            for c in self.changes
        )  # fmt: skip


def one_season(plan: Plan, seed: int) -> Outcome:
    """Compare one season."""
    made = season(plan, seed)
    result = pm.compare([one.log for one in made.nights])
    held = np.array([
        [_held(term, k, one.terms[term.name]) for term in result.terms]
        for k, one in enumerate(made.nights)
    ])  # fmt: skip
    kinds = {term.name: term.kind for term in result.terms}
    return Outcome(kinds, result.changes, held, made.place, [one.id for one in result.nights])


def _held(term: pm.nightcompare.ComparedTerm, k: int, truth: float) -> bool:
    found = term.by_night[k]
    turns = TURN * round((found.value - truth) / TURN) if term.name == "azimuth_index" else 0.0
    return bool(found.low <= truth + turns <= found.high)


def wanted_kinds(plan: Plan) -> dict[str, str]:
    """Return the kinds that are right for a season."""
    right = dict.fromkeys(TUBE, "mount") | dict.fromkeys(SETUP, "mount" if plan.pier else "setup")
    return right | dict.fromkeys(plan.steps, "changed")


PLANS = {
    "tripod, nothing changed": Plan(),
    "tripod, 10′ of collimation": Plan(steps={"collimation": 10.0}),
    "tripod, 10′ of non-perpendicularity": Plan(steps={"non_perpendicularity": 10.0}),
    "24 pairs, nothing changed": Plan(pairs=24),
    "24 pairs, 10′ of collimation": Plan(pairs=24, steps={"collimation": 10.0}),
    "24 pairs, 10′ of non-perpendicularity": Plan(pairs=24, steps={"non_perpendicularity": 10.0}),
    "pier, six nights": Plan(nights=6, pier=True),
    "pier, six nights, 10′ of collimation": Plan(6, pier=True, steps={"collimation": 10.0}),
    "two nights": Plan(nights=2),
    "two nights, 10′ of collimation": Plan(nights=2, steps={"collimation": 10.0}),
    "six nights of 5 pairs": Plan(nights=6, pairs=5),
    "σ 3′": Plan(options={"sigma_arcmin": 3.0}),
}


def kinds(seasons: int, only: str = "") -> Iterator[str]:
    """Kinds right, steps seen, dated and laid on the right term, false changes, coverage."""
    yield f"{'':38}kinds right, each term{'':20}seen  laid  false/season  held, each term"
    for name, plan in PLANS.items():
        if only not in name:
            continue
        found = over_nights(partial(one_season, plan), seasons)
        right = wanted_kinds(plan)
        each = [np.mean([o.kinds[t] == right[t] for o in found]) for t in STANDARD_NAMES]
        seen = np.mean([o.dated() for o in found])
        laid = np.mean([
            any(c.term in plan.steps for c in o.changes) for o in found if o.dated()
        ]) if plan.steps and seen else np.nan  # fmt: skip
        false = np.mean([len(o.changes) - o.dated() for o in found])
        held = np.mean([o.held.mean(axis=0) for o in found], axis=0)
        yield (
            f"{name:38}{' '.join(f'{x:.3f}' for x in each)}  {seen:.3f} {laid:.3f} {false:.3f}  "
            f"{held.mean():.3f}: {' '.join(f'{x:.3f}' for x in held)}"
        )


def chances(seasons: int) -> Iterator[str]:
    """How often the likelier term is right, by the probability told for it."""
    told = told_and_right(seasons)
    edges = (0.5, 0.6, 0.7, 0.8, 0.9, 1.001)
    for low, high in pairwise(edges):
        inside = told[(told[:, 0] >= low) & (told[:, 0] < high)]
        if inside.size:
            yield (
                f"told {inside[:, 0].mean():.2f} ({len(inside):4} steps): right "
                f"{inside[:, 1].mean():.2f}"
            )


def told_and_right(seasons: int, pairs: int = 12) -> np.ndarray:
    """Return (k, 2): the probability told for the likelier term, whether it was that one.

    Which term steps is drawn as the odds of the comparison have it, and its size as well.
    """
    found = over_nights(partial(_one_told, pairs), seasons)
    return np.array([row for row in found if row is not None])


def _one_told(pairs: int, seed: int) -> tuple[float, bool] | None:
    rng = np.random.default_rng([7, seed])
    term = "collimation" if rng.random() < STEP_ODDS else TUBE[1]
    size = (12.0 if term == "collimation" else 8.0) * (1.0 if rng.random() < 0.7 else 3.0)
    outcome = one_season(Plan(pairs=pairs, steps={term: size * rng.standard_normal()}), seed)
    tube = [c for c in outcome.changes if c.term in TUBE]
    if not outcome.dated() or len(tube) != 1:
        return None
    return tube[0].probability_this_term, tube[0].term == term


def profile(seasons: int) -> Iterator[str]:
    """Miss over the sky on one more night, azimuth zero anyhow: with the profile and without."""
    for pairs in (2, 3, 4, 6, 8):
        for moved in (0.0, 15.0):
            found = np.array(over_nights(partial(_next_night, pairs, moved), seasons))
            with_, without = np.sqrt(np.mean(found[:, :2] ** 2, axis=0))
            middle = np.median(found[:, :2], axis=0)
            yield (
                f"{pairs} pairs, collimation moved by {moved:2.0f}′: RMS {with_:.2f}′, without "
                f"{without:.2f}′; median {middle[0]:.2f}′, {middle[1]:.2f}′; held "
                f"{found[:, 2].mean():.3f}"
            )


def _next_night(pairs: int, moved: float, seed: int) -> tuple[float, float, float]:
    nights = season(Plan(nights=5), seed).nights
    told = pm.compare([one.log for one in nights[:4]]).profile
    terms = {name: nights[4].terms[name] for name in STANDARD_NAMES}
    terms["collimation"] += moved
    made = night(np.random.default_rng([9, seed, pairs]), "usual", pairs, terms=terms)
    fit = pm.fit(made.log, prior=told)
    held = [
        t.low <= made.terms[t.name] + TURN * round((t.value - made.terms[t.name]) / TURN) <= t.high
        for t in fit.term_estimates[:6]
    ]
    return miss_of(fit, made), miss_of(pm.fit(made.log), made), float(np.mean(held))


def miss_of(fit: pm.Fit, made: SimulatedNight) -> float:
    """Return the RMS miss over the sky of corrected go-tos, scatter aside, arcminutes."""
    targets = even_targets(160)
    miss = actual_miss_arcmin(made, *targets, *fit.aim(*targets))
    return float(np.sqrt(np.mean(miss**2)))


def speed(seasons: int) -> Iterator[str]:
    """Time of a season of four nights beside its fits, and of a thousand logs; memory."""
    fits = [pm.fit(one.log) for one in season(Plan(), 1).nights]
    pm.compare(fits)
    start = time.perf_counter()
    for _ in range(20):
        pm.compare(fits)
    yield f"four nights, fits aside: {50.0 * (time.perf_counter() - start):.0f} ms"
    with tempfile.TemporaryDirectory() as folder:
        logs = max(seasons, 100)
        write_season(Path(folder), logs)
        start = time.perf_counter()
        result = pm.compare(folder, workers=cores())
        took = time.perf_counter() - start
        own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        each = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
        yield (
            f"{len(result.nights)} logs of 24 pairs on {cores()} cores: {took:.1f} s, {own:.0f} MB "
            f"and {each:.0f} MB for the largest worker"
        )


def write_season(folder: Path, logs: int, pairs: int = 24) -> None:
    """Write a season of so many logs into a folder."""
    for k, one in enumerate(season(Plan(nights=logs, pairs=pairs), 3).nights):
        (folder / f"night-{k:04}.csv").write_text(one.to_csv_text(), encoding="utf-8")


FIGURES = {"kinds": kinds, "chances": chances, "profile": profile, "speed": speed}


def _main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("figures", nargs="*", choices=[[], *FIGURES], default=[])
    parser.add_argument("--seasons", type=int, default=300)
    parser.add_argument("--only", default="", help="of kinds: names of plans that hold this text")
    told = parser.parse_args()
    for name in told.figures or FIGURES:
        print(f"== {name}")
        arguments = (told.seasons, told.only) if name == "kinds" else (told.seasons,)
        for line in FIGURES[name](*arguments):
            print(line, flush=True)


if __name__ == "__main__":
    _main()
