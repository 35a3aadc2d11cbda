"""How long a fit takes, and how time and memory grow: measured here, never asserted in a test.

OPENBLAS_NUM_THREADS=1 python tests/bench/speed.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import night

import pointmodel as pm

DATA = Path(__file__).parents[2] / "data"


def milliseconds(work: Callable[[], Any], repeats: int = 80) -> float:
    """Return the median time of one call."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1e3 * float(np.median(times))


def terms_and_forecast(log: pm.NightLog) -> None:
    """Everything but the diagnosis: terms, pairs, what cannot be told apart, forecasts."""
    fit = pm.fit(log)
    _ = fit.term_estimates, fit.pair_results, fit.set_aside, fit.inseparable, fit.forecasts


def everything(log: pm.NightLog) -> None:
    """The whole document of a fit."""
    pm.fit(log).to_dict()


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


def one_fit() -> None:
    """Print the time of one fit of 24 pairs beside a plain lmfit fit of the same pairs."""
    clean = night(np.random.default_rng(3), "usual", 24).log
    bad = night(np.random.default_rng(5), "usual", 24, wrong_stars=2, pen_slips=3).log
    base = milliseconds(lambda: plain_lmfit(clean))
    print(f"plain lmfit fit, six terms: {base:.2f} ms")
    for name, log in (("clean", clean), ("five bad pairs", bad)):
        for what, work in (("terms and forecast", terms_and_forecast), ("all", everything)):
            took = milliseconds(lambda log=log, work=work: work(log))
            print(f"24 pairs, {name}, {what}: {took:.2f} ms = {took / base:.1f} x lmfit")


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
    one_fit()
    growth()
    commands()
