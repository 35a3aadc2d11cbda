"""How honest intervals are where the assumptions bend: measured on simulated nights.

    python tests/bench/bent_figures.py                   # all of them, 300 nights a figure
    python tests/bench/bent_figures.py flexure alike --nights 1000

Further terms on one night in five, and given that one is there; noise that is alike from star to
star; mounts of another shape than the priors; and ordinary nights, which must not pay for it. Each
line tells of the six terms how often their 95 % intervals hold the truth, the RMS of (estimate −
truth) / standard error, and the miss with corrections over that of an oracle who knows which
terms there are, which lines are bad, how large the noise is, and the population.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench import figures
from bench.nights import at_the_end, even_targets

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.evaluation import starting_point
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.observations import Observations, linear_problem, with_slip
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES
from pointmodel.simulation.mount import (
    direction,
    pointed_deg,
    readings_deg,
    separation_arcmin,
)
from pointmodel.simulation.night import SimulatedNight

Terms = dict[str, float]
NIGHTS_WITH_A_FAULT = 0.2
# A choice: how often each fault is the one that a night has, its least and largest size.
FAULTS: tuple[tuple[float, tuple[str, ...], float, float], ...] = (
    (0.30, ("tube_flexure",), 3.0, 15.0),
    (0.20, ("refraction",), 1.0, 1.0),
    (0.15, ("azimuth_backlash",), 3.0, 15.0),
    (0.15, ("altitude_backlash",), 3.0, 15.0),
    (0.05, ("azimuth_scale",), 0.06, 0.3),
    (0.05, ("azimuth_drift",), 5.0, 25.0),
    (0.05, ("azimuth_eccentricity_sin", "azimuth_eccentricity_cos"), 3.0, 12.0),
    (0.05, ("azimuth_slip", "altitude_slip"), 8.0, 30.0),
)
UNIFORM_ARCMIN = 60.0
ALIKE = 0.5


def drawn_fault(rng: np.random.Generator) -> Terms:
    """Return one further fault of either sign; refraction is left out thrice as often as twice."""
    shares = np.array([share for share, *_ in FAULTS])
    _, names, low, high = FAULTS[int(rng.choice(len(FAULTS), p=shares / shares.sum()))]
    if names[0] == "refraction":
        return {"refraction": float(rng.choice([1.0, -1.0], p=[0.75, 0.25]))}
    size, angle = rng.uniform(low, high), rng.uniform(0.0, 2.0 * np.pi)
    if len(names) == 1:
        return {names[0]: size * float(np.sign(np.cos(angle)))}
    return {names[0]: size * float(np.cos(angle)), names[1]: size * float(np.sin(angle))}


def nothing(rng: np.random.Generator) -> Terms:
    """Return no further term: an ordinary night."""
    return {}


def one_in_five(rng: np.random.Generator) -> Terms:
    """Return a further fault on one night in five."""
    there = rng.random() < NIGHTS_WITH_A_FAULT
    return drawn_fault(rng) if there else {}


def flexed(size_arcmin: float, rng: np.random.Generator) -> Terms:
    """Return a tube that sags by so much, to either side."""
    return {"tube_flexure": size_arcmin * float(rng.choice([-1.0, 1.0]))}


def uniform(rng: np.random.Generator) -> Terms:
    """Return six terms even between −60′ and 60′."""
    return dict(zip(STANDARD_NAMES, rng.uniform(-1.0, 1.0, 6) * UNIFORM_ARCMIN, strict=True))


def with_noise_alike(simulated: SimulatedNight, rng: np.random.Generator) -> SimulatedNight:
    """Return the night with noise of lag-one correlation .5 in place of its own.

    An autoregressive series of the first order, started in its own spread (Box & Jenkins, Time
    Series Analysis, section 3.2).
    """
    noise = rng.standard_normal((2, simulated.time_s.size))
    for k in range(1, noise.shape[1]):
        noise[:, k] = ALIKE * noise[:, k - 1] + np.sqrt(1.0 - ALIKE**2) * noise[:, k]
    az, alt = readings_deg(
        simulated.star_az_deg,
        simulated.star_alt_deg,
        simulated.terms,
        simulated.circumstances,
        *(simulated.sigma_arcmin * noise),
    )
    step = simulated.readout_step_arcsec / 3600.0
    return replace(
        simulated,
        centred_az_deg=np.mod(np.round(az / step) * step, 360.0),
        centred_alt_deg=np.round(alt / step) * step,
    )


@dataclass(frozen=True)
class Case:
    """Nights to measure: their mounts, how many stars, what is added, spoilt lines, the noise."""

    population: Any
    pairs: int
    terms: Callable[[np.random.Generator], Terms] = nothing
    bad: int = 0
    alike: bool = False


@dataclass(frozen=True)
class Bent:
    """Of one night: which intervals held and (estimate − truth)/se of the six; misses; terms."""

    held: tuple[bool, ...]
    z: tuple[float, ...]
    miss_arcmin: float
    oracle_arcmin: float
    further: tuple[str, ...]


def made(case: Case, seed: int) -> SimulatedNight:
    """Return the night of this seed."""
    rng = np.random.default_rng([seed, case.pairs, 55])
    simulated = figures.made(
        case.population,
        case.pairs,
        seed,
        terms=case.terms(rng),
        wrong_stars=case.bad // 2,
        pen_slips=case.bad - case.bad // 2,
    )
    return with_noise_alike(simulated, rng) if case.alike else simulated


def further_columns(
    simulated: SimulatedNight, obs: Observations
) -> tuple[Observations, list[int], list[float], list[float]]:
    """Return, of the further terms truly there, their columns, expected values and spreads.

    Slack shows only where the log has motions both ways: else not even the oracle knows of it.
    """
    names = [n for n, v in simulated.terms.items() if v and n not in STANDARD_NAMES]
    if "azimuth_slip" in names:
        obs = with_slip(obs, simulated.slip_after_pair)
    columns, means, spreads = [], [], []
    for name in names:
        value = simulated.terms[name]
        listed = [
            k
            for k, column in enumerate(obs.columns)
            if column.name == name and column.negative == (name == "refraction" and value < 0)
        ]
        if not listed:
            continue
        columns.append(N_STANDARD + listed[0])
        means.append(float(np.sign(value)) if name == "refraction" else 0.0)
        spreads.append(0.05 if name == "refraction" else abs(value))
    return obs, columns, means, spreads


def oracle_terms(simulated: SimulatedNight, obs: Observations, sd: FloatArray) -> Terms:
    """Return the terms of one who knows what there is, the noise, the bad lines, the population."""
    obs, columns, means, spreads = further_columns(simulated, obs)
    used = [*range(N_STANDARD), *columns]
    good, variance = ~simulated.bad, simulated.sigma_arcmin**2
    at = starting_point(obs)
    at[0] = simulated.terms["azimuth_index"]
    at[columns] = means
    precision = 1.0 / np.array([*sd, *spreads]) ** 2
    for _ in range(6):
        problem = linear_problem(obs, at)
        centre = at[used].copy()
        centre[1:N_STANDARD] = 0.0
        centre[0] = at[0] if sd[0] > 1e4 else 0.0
        centre[N_STANDARD:] = means
        design = problem.design[good][..., used].reshape(-1, len(used))
        data = problem.miss[good].ravel() + design @ (at[used] - centre)
        normal = design.T @ design / variance + np.diag(precision)
        at[used] = centre + np.linalg.solve(normal, design.T @ data / variance)
    return dict(zip((*STANDARD_NAMES, *_names(obs, columns)), at[used].tolist(), strict=True))


def _names(obs: Observations, columns: list[int]) -> list[str]:
    return [obs.columns[column - N_STANDARD].name for column in columns]


def miss_approached(simulated: SimulatedNight, fit: pm.Fit) -> float:
    """Return the RMS miss of corrected go-tos, each ended with the motions that the fit asks for.

    Scatter is left out, arcminutes.
    """
    during = at_the_end(simulated)
    motions = {"az_motion": fit.model.az_motion, "alt_motion": fit.model.alt_motion}
    ending = replace(during, **{key: np.full(1, value) for key, value in motions.items()})
    targets = even_targets(160)
    landed = pointed_deg(*fit.aim(*targets), simulated.terms, ending)
    return figures.rms(separation_arcmin(direction(*landed), direction(*targets)))


def oracle_miss(simulated: SimulatedNight, fit: pm.Fit, sd: FloatArray) -> float:
    """Return the RMS miss of go-tos that the oracle corrects, arcminutes."""
    terms = oracle_terms(simulated, observations_of(fit.log), sd)
    known = dict.fromkeys(simulated.terms, 0.0) | terms
    command = readings_deg(*even_targets(160), known, at_the_end(simulated))
    return figures.miss_with(simulated, command)


SPREADS: dict[str, FloatArray] = {
    "usual": figures.USUAL_SD,
    "worse": np.array([1e6, *(3.0 * figures.USUAL_SD[1:])]),
}


def one_night(case: Case, seed: int) -> Bent:
    """Fit one night and hold it against the truth and the oracle."""
    simulated = made(case, seed)
    fit = pm.fit(simulated.log)
    turn = figures.TURN
    z = []
    estimates = fit.term_estimates[:N_STANDARD]
    for estimate, true in zip(estimates, figures.truth_of(simulated), strict=True):
        off = estimate.value - true
        z.append((off - turn * round(off / turn)) / estimate.standard_error)
    sd = np.full(6, UNIFORM_ARCMIN / np.sqrt(3.0))
    if case.terms is not uniform:
        sd = SPREADS.get(case.population, np.full(6, np.nan))
    return Bent(
        tuple(figures.held_of(fit, simulated)),
        tuple(z),
        miss_approached(simulated, fit),
        oracle_miss(simulated, fit, sd) if np.isfinite(sd).all() else float("nan"),
        tuple(term.name for term in fit.term_estimates[N_STANDARD:]),
    )


CASES: dict[str, dict[str, Case]] = {
    "ordinary": {
        f"ordinary, {population} mounts, {pairs} stars": Case(population, pairs)
        for population, pairs in (
            *(("usual", n) for n in (4, 5, 6, 8, 12, 20)),
            ("varied", 8),
            ("worse", 12),
        )
    },
    "mixture": {
        f"a fault on one night in five, {population} mounts, {pairs} stars, {bad} bad": Case(
            population, pairs, one_in_five, bad=bad
        )
        for population, pairs, bad in (
            ("usual", 8, 0),
            ("usual", 12, 0),
            ("usual", 20, 0),
            ("varied", 12, 0),
            ("worse", 12, 0),
            ("usual", 12, 2),
        )
    },
    "flexure": {
        f"flexure of {size:g}′, {pairs} stars": Case("usual", pairs, partial(flexed, size))
        for size, pairs in ((8.0, 12), (8.0, 20), (5.0, 20), (15.0, 12))
    },
    "given": {
        f"a fault on every night, {pairs} stars": Case("usual", pairs, drawn_fault)
        for pairs in (12, 20)
    },
    "alike": {
        f"noise alike from star to star, {pairs} stars": Case("usual", pairs, alike=True)
        for pairs in (6, 8, 12, 20, 40)
    },
    "uniform": {
        f"six terms even in ±60′, {pairs} stars": Case("usual", pairs, uniform)
        for pairs in (4, 6, 8, 12)
    },
}


def measured(case: Case, nights: int, first: int = 0) -> list[Bent]:
    """Return what came of so many nights."""
    return figures.over_nights(partial(_shifted, case, first), nights)


def _shifted(case: Case, first: int, seed: int) -> Bent:
    return one_night(case, first + seed)


def line(found: list[Bent]) -> str:
    """Return one line of figures."""
    held = np.mean([one.held for one in found], axis=0)
    z = np.sqrt(np.mean(np.square([one.z for one in found]), axis=0))
    miss = np.array([one.miss_arcmin for one in found])
    oracle = np.array([one.oracle_arcmin for one in found])
    shares = " ".join(f"{share:.3f}" for share in held)
    errors = " ".join(f"{value:.2f}" for value in z)
    added = np.mean([bool(one.further) for one in found])
    ratio = f"{figures.rms(miss) / figures.rms(oracle):.3f} {miss.mean() / oracle.mean():.3f}"
    return (
        f"held {held.mean():.3f} ({shares})  RMS of z {errors}  miss {miss.mean():.3f}′  "
        f"/oracle (RMS, mean) {ratio}  terms added {added:.3f}"
    )


def lines(name: str, nights: int) -> Iterator[str]:
    """Return the figures of one group of cases."""
    for said, case in CASES[name].items():
        yield f"{said:58} {line(measured(case, nights))}"


def main() -> None:
    """Print the figures that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("figures", nargs="*", choices=[[], *CASES], default=[])
    parser.add_argument("--nights", type=int, default=300)
    asked = parser.parse_args()
    print("terms in the order of:", ", ".join(STANDARD_NAMES))
    for name in asked.figures or CASES:
        for text in lines(name, asked.nights):
            print(text, flush=True)


if __name__ == "__main__":
    main()
