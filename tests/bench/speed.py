"""How long a fit takes, and how time and memory grow: measured here, never asserted in a test.

OPENBLAS_NUM_THREADS=1 python tests/bench/speed.py [WHAT PAIRS]

`WHAT PAIRS` is one of the awkward logs alone, such as `of_no_mount 2000`.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import night

import pointmodel as pm
from pointmodel.reading.nightlog import Event

DATA = Path(__file__).parents[2] / "data"


def milliseconds(work: Callable[[], Any], repeats: int = 80) -> float:
    """Return the median time of one call."""
    work()
    return 1e3 * float(np.median([seconds(work) for _ in range(repeats)]))


def seconds(work: Callable[[], Any], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the time of one call."""
    start = clock()
    work()
    return clock() - start


def terms_and_forecast(log: pm.NightLog) -> None:
    """Everything but the diagnosis: terms, pairs, what cannot be told apart, forecasts."""
    fit = pm.fit(log)
    _ = fit.term_estimates, fit.pair_results, fit.set_aside, fit.inseparable, fit.forecasts


def everything(log: pm.NightLog) -> None:
    """Causes, advice, the level and the whole document of a fit."""
    fit = pm.fit(log)
    _ = fit.to_dict(), fit.levelling


def plain_lmfit(log: pm.NightLog) -> None:
    """Six terms by lmfit and nothing else, for comparison."""
    import lmfit

    az, alt = np.radians(log.commanded_az_deg), np.radians(log.commanded_alt_deg)
    off_az = 60.0 * np.degrees(np.angle(np.exp(1j * (np.radians(log.centred_az_deg) - az))))
    off_alt = 60.0 * (log.centred_alt_deg - log.commanded_alt_deg)

    def misfit(p: lmfit.Parameters) -> np.ndarray:
        v = p.valuesdict()
        turn = v["a"] + v["c"] / np.cos(alt) + v["p"] * np.tan(alt)
        turn = turn + np.tan(alt) * (v["n"] * np.sin(az) - v["e"] * np.cos(az))
        rise = v["h"] + v["n"] * np.cos(az) + v["e"] * np.sin(az)
        return np.concatenate([(off_az - turn) * np.cos(alt), off_alt - rise])

    parameters = lmfit.Parameters()
    for name in "ahcpne":
        parameters.add(name, value=0.0)
    lmfit.minimize(misfit, parameters)


CLEAN, BAD = {}, {"wrong_stars": 2, "pen_slips": 3}
NIGHTS, REPEATS = 5, 30


def one_fit() -> None:
    """Print the time of one fit of 24 pairs over that of a plain lmfit fit, measured in turns.

    In turns and by the processor's time, since other work on the machine slows all alike: of each
    night the least of its times over the least of lmfit's, and the median over the median. Of five
    nights of a kind stand the middle one and the slowest.
    """
    clock = time.process_time
    kinds = {"clean": CLEAN, "five bad pairs": BAD}
    logs = {
        (kind, seed): night(np.random.default_rng(seed), "usual", 24, **options).log
        for kind, options in kinds.items()
        for seed in range(3, 3 + NIGHTS)
    }
    stages = {"terms and forecasts": terms_and_forecast, "all": everything}
    plain, taken = [], {(*key, stage): list[float]() for key in logs for stage in stages}
    some = logs["clean", 3]
    for _ in range(REPEATS + 1):  # the first to warm up
        plain.append(seconds(lambda: plain_lmfit(some), clock))
        for key, log in logs.items():
            for stage, work in stages.items():
                taken[*key, stage].append(seconds(lambda log=log, work=work: work(log), clock))
    print(f"plain lmfit fit, six terms: {1e3 * min(plain[1:]):.2f} ms")
    for kind in kinds:
        for stage in stages:
            nights = [taken[kind, seed, stage][1:] for seed in range(3, 3 + NIGHTS)]
            least = np.sort([min(one) for one in nights]) / min(plain[1:])
            median = np.sort([np.median(one) for one in nights]) / np.median(plain[1:])
            middle = NIGHTS // 2
            print(
                f"24 pairs, {kind}, {stage}: {least[middle]:.1f} x lmfit (slowest night "
                f"{least[-1]:.1f}); of medians {median[middle]:.1f} x ({median[-1]:.1f})"
            )


def growth() -> None:
    """Print time and peak memory of large logs."""
    taken = {}
    for pairs in (1_000, 10_000, 100_000):
        log = night(np.random.default_rng(pairs), "usual", pairs).log
        start = time.perf_counter()
        terms_and_forecast(log)
        taken[pairs] = time.perf_counter() - start
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(f"{pairs} pairs: {taken[pairs]:.2f} s, peak memory {peak:.2f} GB")
    exponent = np.log(taken[100_000] / taken[1_000]) / np.log(100.0)
    print(f"growth exponent from 1,000 to 100,000: {exponent:.2f}")


def of_no_mount(pairs: int) -> pm.NightLog:
    """Figures that have nothing to do with one another."""
    rng = np.random.default_rng(pairs)
    return replace(
        night(rng, "usual", pairs).log,
        centred_az_deg=rng.uniform(0.0, 360.0, pairs),
        centred_alt_deg=rng.uniform(15.0, 80.0, pairs),
    )


def one_line_off(pairs: int) -> pm.NightLog:
    """A usual night with the centred figures one line too low."""
    log = night(np.random.default_rng(pairs), "usual", pairs).log
    return replace(
        log,
        centred_az_deg=np.roll(log.centred_az_deg, 1),
        centred_alt_deg=np.roll(log.centred_alt_deg, 1),
    )


def counted_backwards(pairs: int) -> pm.NightLog:
    """A usual night with its centred azimuths counted from north through west."""
    log = night(np.random.default_rng(pairs), "usual", pairs).log
    return replace(log, centred_az_deg=-log.centred_az_deg % 360.0)


def other_stars_side_by_side(pairs: int) -> pm.NightLog:
    """A usual night with two other stars in its middle, one after the other."""
    log = night(np.random.default_rng(pairs), "usual", pairs).log
    alt_deg = log.centred_alt_deg.copy()
    alt_deg[pairs // 2 : pairs // 2 + 2] += [4.0, -3.0]
    return replace(log, centred_alt_deg=alt_deg)


def knocked_on_each_line(pairs: int) -> pm.NightLog:
    """A usual night with a knock logged before every pair but the first."""
    log = night(np.random.default_rng(pairs), "usual", pairs).log
    events = tuple(Event("bump", int(line), k) for k, line in enumerate(log.line) if k)
    return replace(log, events=events)


AWKWARD: tuple[tuple[Callable[[int], pm.NightLog], tuple[int, ...]], ...] = (
    (other_stars_side_by_side, (12, 24, 60, 200)),
    (of_no_mount, (24, 300, 2_000, 5_000, 199_999)),
    (one_line_off, (300, 2_000, 5_000)),
    (counted_backwards, (300, 2_000, 5_000)),
    (knocked_on_each_line, (30, 300, 1_000)),
)


def awkward() -> None:
    """Print time and peak memory of logs that are hard to make sense of, each in its own process.

    The time is that of the processor for a fit and its document, imports and a first fit apart.
    """
    for draw, sizes in AWKWARD:
        for pairs in sizes:
            command = [sys.executable, __file__, draw.__name__, str(pairs)]
            subprocess.run(command, check=True)


def one_awkward(name: str, pairs: int) -> None:
    """Print time and peak memory of one of them."""
    draw = next(draw for draw, _ in AWKWARD if draw.__name__ == name)
    everything(night(np.random.default_rng(1), "usual", 12).log)
    log = draw(pairs)
    start = time.process_time()
    everything(log)
    took = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    what = name.replace("_", " ")
    print(f"{what}, {pairs} pairs: {took:.2f} s, peak memory {peak:.2f} GB", flush=True)


def commands() -> None:
    """Print the time of whole commands, cold, beside a script that imports pandas and lmfit."""
    script = (
        "import pandas, lmfit, sys; sys.path.insert(0, sys.argv[1]); from bench import speed; "
        "import pointmodel as pm; speed.plain_lmfit(pm.read_log(sys.argv[2]))"
    )
    log = str(DATA / "leaning.csv")
    page = Path(tempfile.mkdtemp()) / "page.html"
    tests = str(Path(__file__).parents[1])
    runs = {
        "script with pandas and lmfit": [sys.executable, "-c", script, tests, log],
        "fit --no-report": [sys.executable, "-m", "pointmodel", "fit", log, "--no-report"],
        "fit with its page": [
            sys.executable, "-m", "pointmodel", "fit", log, "--report", str(page),
        ],
    }  # fmt: skip
    for name, command in runs.items():
        took = milliseconds(lambda command=command: subprocess.run(
            command, check=True, capture_output=True
        ), 7)  # fmt: skip
        print(f"{name}: {took / 1e3:.2f} s")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        one_awkward(sys.argv[1], int(sys.argv[2]))
    else:
        one_fit()
        awkward()  # before what grows: a process begins with the peak of the one that started it
        growth()
        commands()
