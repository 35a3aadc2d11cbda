"""What the evenings' figures leave out of moves and logged zeroings.

    python tests/bench/move_figures.py --nights 60

Small knocks, tubes that slid, nights with bad lines that stood still, and logs in which each star
was zeroed on, one line of them written down wrongly. Knocks of 25′ and more, sinking ground and
nights that stood still are `knocks`, `sinking` and `synced_logged` of `evenings.py`.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.evening_kinds import evening
from bench.nights import night
from bench.record_figures import knocked_log

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.reading.nightlog import Event, NightLog
from pointmodel.simulation.faults import draw_slip

TILTS = ["tilt_north", "tilt_east"]
PLACES_DEG = (np.array([100.0, 250.0]), np.array([40.0, 50.0]))


def pressed_after(log: NightLog, lines: tuple[int, ...]) -> NightLog:
    """The log that a controller shows which is told "this is the star" after these pairs.

    Step by step, as the readout would be set, and not by sums.
    """
    az, alt = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    events = []
    for k in lines:
        set_back_az, set_back_alt = (
            az[k] - log.commanded_az_deg[k],
            alt[k] - log.commanded_alt_deg[k],
        )
        az[k + 1 :] -= set_back_az
        alt[k + 1 :] -= set_back_alt
        events.append(Event("zero_on_star", int(log.line[k]) + 1, k + 1))
    return replace(log, centred_az_deg=az % 360.0, centred_alt_deg=alt, events=tuple(events))


def moves_of(fit: pm.Fit) -> tuple[str, ...]:
    """What is taken up as having happened."""
    return tuple(one.kind for one in fit.happened if one.taken_up)


def small_knock(lean_arcmin: float, pairs: int, seed: int) -> bool:
    """Is a small knock in the middle of a log found at its line?"""
    after = pairs // 2
    fit = pm.fit(knocked_log(pairs, after, lean_arcmin, seed))
    return [one.after_line for one in fit.happened if one.taken_up] == [after + 1]


def tube(seed: int) -> str:
    """What a tube that slid in its saddle is called."""
    causes = pm.fit(evening("tube_shifted", seed).log).causes
    named = [c.cause for c in causes if c.verdict == "likely"]
    return next((c for c in named if c in ("tube_shifted", "moved", "slip")), "nothing")


def among_bad_lines(population: str, bad: dict[str, int], seed: int) -> bool:
    """Is a move found in a night that stood still, but has bad lines?"""
    rng = np.random.default_rng([seed, 59])
    made: Any = night(rng, population, int(rng.integers(7, 14)), **bad)  # type: ignore[arg-type]
    return bool(moves_of(pm.fit(made.log)))


def pressed_with_slip(seed: int) -> tuple[float, float, float]:
    """Errors of the lean, arcminutes: with a slip of the pen in a pressed line, and without it.

    And by how much the slip changes what is to be commanded, arcminutes.
    """
    rng = np.random.default_rng([seed, 3])
    made = night(rng, "usual", 10)
    log = pressed_after(made.log, tuple(range(10)))
    line = int(rng.integers(10))
    drawn = draw_slip(rng, float(log.centred_az_deg[line]), float(log.centred_alt_deg[line]), None)
    assert drawn is not None
    az, alt = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    az[line], alt[line] = drawn[1]
    fits = [pm.fit(one) for one in (replace(log, centred_az_deg=az, centred_alt_deg=alt), log)]
    truth = np.array([made.terms[name] for name in TILTS])
    errors = [float(np.hypot(*(fit.terms.loc[TILTS, "value"] - truth))) for fit in fits]
    alt_deg: list[FloatArray] = [fit.aim(*PLACES_DEG)[1] for fit in fits]
    return errors[0], errors[1], 60.0 * float(np.abs(alt_deg[0] - alt_deg[1]).max())


def figures(nights: int) -> Iterator[str]:
    """All of them, a line each."""
    with ProcessPoolExecutor() as pool:
        over = partial(pool.map, chunksize=4)
        for lean, pairs in ((10.0, 14), (15.0, 10), (15.0, 14)):
            found = list(over(partial(small_knock, lean, pairs), range(nights)))
            yield f"knock of {lean:g}′, {pairs} lines: found at its line {np.mean(found):.2f}"
        yield f"a tube that slid is called {dict(Counter(over(tube, range(nights))))}"
        for bad in ({"wrong_stars": 1, "pen_slips": 1}, {"wrong_stars": 2}):
            for population in ("usual", "varied"):
                function = partial(among_bad_lines, population, bad)
                false = list(over(function, range(2 * nights)))
                yield f"{population} nights, {bad}: a move found {np.mean(false):.3f}"
        found = np.array(list(over(pressed_with_slip, range(nights))))
        rms = np.sqrt(np.mean(found[:, :2] ** 2, axis=0))
        yield f"each star zeroed on, a slip of the pen: lean {rms[0]:.2f}′, without {rms[1]:.2f}′"
        yield f"    commands differ by 10′ or more: {np.mean(found[:, 2] > 10.0):.2f}"


def _main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--nights", type=int, default=60)
    for line in figures(parser.parse_args().nights):
        print(line, flush=True)


if __name__ == "__main__":
    _main()
