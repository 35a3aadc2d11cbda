"""Is the one advice one, and does go-to come out as its steps say? On evenings of all kinds.

    python tests/bench/advice_figures.py --nights 500

Read `evenings.py` first. The steps are done in the simulator, which shares nothing with the fit;
zeroing there is on a middling star, an alignment on the stars that the forecast was made for.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
from bench.evening_kinds import KINDS, coarse_set_up, evening
from bench.evening_machine import ZEROING_PLACES
from bench.evening_orders import Answer, answer_to, step_done
from bench.evening_play import Evening, Script, play

from pointmodel.advising.result import Plan

# whose figures speak of the mount as the simulator has it; of the rest only unity is asked
HONEST = frozenset({
    "plain", "plain_good", "zeroed", "aligned_axes", "aligned_sky", "synced_each_logged",
    "knocked", "tube_shifted", "minutes_cut_4", "minutes_cut_8", "minutes_rounded_4",
    "minutes_rounded_8", "nudges", "loose_said", "wrong_entry", "one_to_four", "anyhow",
})  # fmt: skip
DONE = frozenset({
    "set_entry", "steady_base", "tighten", "check_entries", "level", "start_level", "square_tube",
    "zero_on_star", "realign",
})  # fmt: skip
OTHERS = ("one_to_four", "anyhow")


@dataclass(frozen=True)
class StepFound:
    """One step done: what was forecast, and what go-to then truly was, arcminutes."""

    kind: str
    actions: tuple[str, ...]
    forecast: float
    low: float
    high: float
    true: float


@dataclass(frozen=True)
class AdviceFound:
    """One evening: whether fit and level agree, the headline's length, and every step done."""

    kind: str
    state: str
    actions: tuple[str, ...]
    agree: bool
    headline: str
    steps: tuple[StepFound, ...]


def anyhow(seed: int) -> Evening:
    """A mount set down anyhow: azimuth any, altitude 6°, lean 3°, tube 1° off; 12 pairs, 1′."""
    rng = np.random.default_rng([seed, 77])
    script = Script(lines=(12, 12), terms=coarse_set_up(rng), solves_said=True)
    return play("plain", seed, script, rng)


def evening_of(kind: str, seed: int) -> Evening:
    """An evening of a kind; with one to four lines, or of a mount set down anyhow, as well."""
    if kind == "one_to_four":
        return evening("plain", seed, lines=(1 + seed % 4, 1 + seed % 4))
    return anyhow(seed) if kind == "anyhow" else evening(kind, seed)


def one_advice(job: tuple[str, int]) -> AdviceFound | None:
    """The advice on one evening, done in the simulator; None where the log is refused."""
    kind, seed = job
    one = evening_of(kind, seed)
    said = answer_to(one.text, one.mount)
    if said.fit is None:
        return None
    advice, level = said.fit.advice, said.level
    agree = advice == level.advice and advice.levels == (level.verdict == "level")
    plans = [advice.thorough] + ([advice.quick] if advice.quick is not None else [])
    steps: list[StepFound] = []
    if kind in HONEST and advice.state == "mend":
        for plan in plans:
            steps += _done(kind, one, said, plan)
    return AdviceFound(
        kind=kind,
        state=advice.state,
        actions=advice.actions,
        agree=agree,
        headline=advice.headline,
        steps=tuple(steps),
    )


def _done(kind: str, one: Evening, said: Answer, plan: Plan) -> Iterator[StepFound]:
    machine, done = one.machine, []
    # people zero on whatever star they know
    star = ZEROING_PLACES[one.seed % len(ZEROING_PLACES)]
    for step in plan.steps:
        if step.action not in DONE:
            return
        machine = step_done(machine, step.action, said, star)
        done.append(step.action)
        if step.rms_arcmin is None or step.action in ("steady_base", "tighten", "check_entries"):
            continue
        yield StepFound(
            kind=kind,
            actions=tuple(done),
            forecast=step.rms_arcmin,
            low=float(step.rms_low_arcmin or 0.0),
            high=float(step.rms_high_arcmin or np.inf),
            true=machine.miss_arcmin(),
        )


def set_down_anyhow(seed: int) -> tuple[tuple[str, ...], float, float]:
    """What is advised for a mount set down anyhow, the miss forecast, and the true one after it."""
    one = anyhow(seed)
    told = {**one.told, "entered": {"verified": True}}
    said = answer_to(one.text, told)
    machine = one.machine
    for step in said.fit.advice.steps:  # type: ignore[union-attr]
        machine = step_done(machine, step.action, said)
    plan = said.fit.advice.thorough  # type: ignore[union-attr]
    return plan.actions, plan.rms_arcmin or np.nan, machine.miss_arcmin()


def figures(nights: int) -> Iterator[str]:
    """Yield the figures, one line each."""
    kinds = [*KINDS, *OTHERS]
    jobs = [(kinds[k % len(kinds)], k // len(kinds)) for k in range(nights)]
    with ProcessPoolExecutor() as pool:
        found = [one for one in pool.map(one_advice, jobs, chunksize=8) if one is not None]
    yield f"{len(found)} evenings of {len(kinds)} kinds; fit and level disagree on "
    yield f"  {[one.kind for one in found if not one.agree]}"
    yield f"longest headline: {max(len(one.headline) for one in found)} characters"
    yield f"states: {dict(Counter(one.state for one in found))}"
    steps = [step for one in found for step in one.steps]
    yield from _steps("all steps", steps)
    for last in sorted({step.actions[-1] for step in steps}):
        yield from _steps(f"  {last}", [step for step in steps if step.actions[-1] == last])
    for kind in sorted({step.kind for step in steps}):
        yield from _steps(f"  {kind}", [step for step in steps if step.kind == kind])
    with ProcessPoolExecutor() as pool:
        ends = list(pool.map(set_down_anyhow, range(max(nights // 10, 8))))
    offered = sum(actions[:3] == ("level", "square_tube", "zero_on_star") for actions, *_ in ends)
    yield f"set down anyhow: level, square, zero on {offered} of {len(ends)}; forecast "
    said, true = (np.array([one[k] for one in ends]) for k in (1, 2))
    yield f"  {np.median(said):.1f}′, truly {np.median(true):.1f}′"
    yield f"  95 of 100 below {np.quantile(true, 0.95):.1f}′"


def _steps(title: str, steps: list[StepFound]) -> Iterator[str]:
    if steps:
        ratio = np.median([step.true / step.forecast for step in steps])
        held = np.mean([step.low <= step.true <= step.high for step in steps])
        yield f"{title:24} {len(steps):5}  true / forecast {ratio:.3f}  interval holds {held:.3f}"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--nights", type=int, default=500)
    for line in figures(parser.parse_args().nights):
        print(line, flush=True)


if __name__ == "__main__":
    main()
