"""The statistics that the method promises, measured on simulated nights.

    python tests/bench/figures.py                    # all of them, 300 nights a figure
    python tests/bench/figures.py coverage --nights 1000

Nights come from the simulator's chain of rotations, each from a seed of its own. `tests/
test_statistics.py` runs the same functions on fewer nights, with tolerances.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import actual_miss_arcmin, even_targets, night, right_commands_deg

import pointmodel as pm
from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.evaluation import starting_point
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.observations import Observations, linear_problem
from pointmodel.forecasting.forecast import Ground, forecasts, zeroing_stars
from pointmodel.forecasting.machine import readings_for
from pointmodel.mount.kinematics import azimuth_altitude, directions
from pointmodel.mount.starfix import two_star_rotation
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES
from pointmodel.simulation.mount import readings_deg
from pointmodel.simulation.night import SimulatedNight

SIZES = (4, 5, 6, 8, 12, 20, 40)
USUAL_SD = np.array([60.0, 30.0, 12.0, 8.0, 25.0, 25.0])
TURN = 21600.0
PUBLISHED_SIGMA_ARCMIN = 4.0 / 60.0


def made(population: str, pairs: int, seed: int, **options: Any) -> SimulatedNight:
    """Return one night from its own seed."""
    return night(np.random.default_rng([seed, pairs]), population, pairs, **options)


def truth_of(simulated: SimulatedNight) -> FloatArray:
    """Return the six true terms, arcminutes."""
    return np.array([simulated.terms[name] for name in STANDARD_NAMES])


def with_centring(simulated: SimulatedNight, **optics: float) -> pm.Fit:
    """Fit a night whose mount file states the centring error."""
    mount = {"optics": {"centring_error": simulated.centring_arcmin, **optics}}
    return pm.fit(simulated.log, mount=mount)


def oracle_terms(simulated: SimulatedNight, obs: Observations, sd: FloatArray) -> FloatArray:
    """Return the six terms of one who knows the noise, the bad pairs, the terms and the population.

    The posterior mean under the very prior and noise that the night was drawn from.
    """
    good, variance = ~simulated.bad, simulated.sigma_arcmin**2
    at = starting_point(obs)
    at[0] = truth_of(simulated)[0]
    for _ in range(6):
        problem = linear_problem(obs, at)
        centre = np.zeros(N_STANDARD)
        centre[0] = at[0] if sd[0] > 1e4 else 0.0
        design = problem.design[good][..., :N_STANDARD].reshape(-1, N_STANDARD)
        data = problem.miss[good].ravel() + design @ (at[:N_STANDARD] - centre)
        normal = design.T @ design / variance + np.diag(1.0 / sd**2)
        at[:N_STANDARD] = centre + np.linalg.solve(normal, design.T @ data / variance)
    return at[:N_STANDARD]


def miss_with(simulated: SimulatedNight, command: tuple[FloatArray, FloatArray]) -> float:
    """Return the RMS miss at the targets of these commands, scatter left out, arcminutes."""
    miss = actual_miss_arcmin(simulated, *even_targets(160), *command)
    return float(np.sqrt(np.mean(miss**2)))


def oracle_miss(simulated: SimulatedNight, fit: pm.Fit, sd: FloatArray) -> float:
    """Return the RMS miss with the oracle's terms."""
    terms = oracle_terms(simulated, observations_of(fit.log), sd)
    model = fit.model.with_values(np.concatenate([terms, np.zeros(fit.model.values.size - 6)]))
    az, alt, _ = readings_for(model, *even_targets(160))
    return miss_with(simulated, (az, alt))


@dataclass(frozen=True)
class Outcome:
    """One night: which intervals held, the miss, the oracle's, whether terms were added."""

    held: tuple[bool, ...]
    miss_arcmin: float
    oracle_arcmin: float
    added: bool


def held_of(fit: pm.Fit, simulated: SimulatedNight) -> list[bool]:
    """Return whether the interval of each of the six terms holds the truth."""
    held = []
    estimates = fit.term_estimates[:N_STANDARD]
    for estimate, true in zip(estimates, truth_of(simulated), strict=True):
        turns = 0.0
        if estimate.name == "azimuth_index":
            turns = TURN * round((estimate.value - true) / TURN)
        held.append(bool(estimate.low <= true + turns <= estimate.high))
    return held


def one_night(population: str, pairs: int, options: dict[str, Any], seed: int) -> Outcome:
    """Fit one night and hold it against the truth and, where one is defined, the oracle."""
    simulated = made(population, pairs, seed, **options)
    fit = pm.fit(simulated.log)
    held = held_of(fit, simulated)
    sd = {"usual": USUAL_SD, "worse": np.array([1e6, *(3.0 * USUAL_SD[1:])])}.get(population)
    return Outcome(
        tuple(held),
        miss_with(simulated, fit.aim(*even_targets(160))),
        float("nan") if sd is None else oracle_miss(simulated, fit, sd),
        len(fit.term_estimates) > N_STANDARD,
    )


def over_nights(function: Callable[[int], Any], nights: int) -> list[Any]:
    """Return the function's value for each night's seed, on all cores."""
    with ProcessPoolExecutor() as pool:
        return list(pool.map(function, range(nights), chunksize=8))


def rms(values: Any) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def coverage(nights: int) -> Iterator[str]:
    """How often 95 % intervals of the six terms hold the truth; the miss over the oracle's."""
    yield f"{'mount':7}{'pairs':>6}  held: all, each term{'':34}miss  /oracle (RMS, mean)  added"
    for population in ("usual", "varied", "worse"):
        for pairs in (3, *SIZES):
            found = over_nights(partial(one_night, population, pairs, {}), nights)
            held = np.mean([o.held for o in found], axis=0)
            miss = np.array([o.miss_arcmin for o in found])
            oracle = np.array([o.oracle_arcmin for o in found])
            each = " ".join(f"{share:.3f}" for share in held)
            ratio = f"{rms(miss) / rms(oracle):.3f} {miss.mean() / oracle.mean():.3f}"
            added = np.mean([o.added for o in found])
            yield (
                f"{population:7}{pairs:6}  {held.mean():.3f}  {each}  {rms(miss):6.2f}′  "
                f"{ratio}  {added:.3f}"
            )


def one_forecast(population: str, pairs: int, seed: int) -> tuple[bool, float]:
    """Return whether the forecast's interval held the actual RMS, and forecast over actual."""
    simulated = made(population, pairs, seed)
    fit = with_centring(simulated)
    actual = np.hypot(
        miss_with(simulated, fit.aim(*even_targets(160))),
        np.sqrt(2.0) * simulated.scatter_arcmin,
    )
    said = fit.forecasts[-1]
    return said.rms_low_arcmin <= actual <= said.rms_high_arcmin, said.rms_arcmin / actual


def forecast(nights: int) -> Iterator[str]:
    """How often the forecast with corrections holds the actual RMS, centring error stated."""
    yield f"{'mount':7}{'pairs':>6}  held   forecast over actual: median, 10 % to 90 %"
    for population in ("usual", "varied", "worse"):
        for pairs in SIZES:
            found = over_nights(partial(one_forecast, population, pairs), nights)
            held = np.mean([one for one, _ in found])
            low, middle, high = np.quantile([ratio for _, ratio in found], [0.1, 0.5, 0.9])
            yield f"{population:7}{pairs:6}  {held:.3f}  {middle:.3f}  ({low:.2f} to {high:.2f})"


@dataclass(frozen=True)
class Sorted:
    """Of one night: bad pairs, those found, those named right; good pairs, those lost."""

    bad: int
    found: int
    named: int
    good: int
    lost: int


def one_sorting(pairs: int, bad: int, population: str, seed: int) -> Sorted:
    """Fit a night with some wrong stars and slips of the pen and count what became of them."""
    wrong = int(np.random.default_rng([seed, bad]).integers(0, bad + 1))
    simulated = made(population, pairs, seed, wrong_stars=wrong, pen_slips=bad - wrong)
    results = pm.fit(simulated.log).pair_results
    aside, cause = results.set_aside, np.array(results.cause, dtype=object)
    right = np.array([one == other for one, other in zip(cause, simulated.cause, strict=True)])
    hit = aside & simulated.bad
    return Sorted(
        bad, int(hit.sum()), int((hit & right).sum()), pairs - bad, int((aside & ~hit).sum())
    )


def bad_pairs(nights: int) -> Iterator[str]:
    """How many bad pairs are found and named, and how many good ones are lost."""
    yield f"{'mount':7}{'pairs':>6}{'bad':>5}  found   named   good lost"
    for population, pairs, bad in (
        *(("usual", n, b) for n, b in ((6, 1), (8, 2), (12, 3), (16, 4), (20, 5), (24, 6))),
        ("varied", 16, 4),
        ("worse", 16, 4),
        ("usual", 40, 0),
    ):
        found = over_nights(partial(one_sorting, pairs, bad, population), nights)
        total = {key: sum(getattr(o, key) for o in found) for key in Sorted.__annotations__}
        share, named = (
            total[k] / max(total[d], 1) for k, d in (("found", "bad"), ("named", "found"))
        )
        lost = total["lost"] / total["good"]
        yield f"{population:7}{pairs:6}{bad:5}  {share:.4f}  {named:.4f}  {lost:.5f}"


def one_lean(pairs: int, seed: int) -> float:
    """Return the RMS miss with corrections on a mount that leans by 9.16°, set down anyhow."""
    rng = np.random.default_rng([seed, 916])
    toward = rng.uniform(0.0, 2.0 * np.pi)
    terms = {
        "azimuth_index": rng.uniform(-10800.0, 10800.0),
        "tilt_north": 549.6 * np.cos(toward),
        "tilt_east": 549.6 * np.sin(toward),
    }
    simulated = made("usual", pairs, seed, terms=terms)
    return miss_with(simulated, pm.fit(simulated.log).aim(*even_targets(160)))


PATCHES = {
    "a ring 30° to 45° up": ((0.0, 360.0), (30.0, 45.0)),
    "one quadrant": ((0.0, 90.0), (15.0, 80.0)),
    "40° to 55° up by 80° of azimuth": ((140.0, 220.0), (40.0, 55.0)),
}


def one_patch(patch: str, seed: int) -> tuple[list[bool], bool]:
    """Return which intervals held with ten stars in one patch, and whether any terms were named."""
    (first, last), (low, high) = PATCHES[patch]
    simulated = made("usual", 80, seed, low_alt_deg=low, high_alt_deg=high)
    inside = (simulated.star_az_deg >= first) & (simulated.star_az_deg <= last)
    fit = pm.fit(simulated.log.select(inside & (np.cumsum(inside) <= 10)))
    truth = truth_of(simulated)
    held = [bool(t.low <= v <= t.high) for t, v in zip(fit.term_estimates, truth, strict=False)]
    return held, bool(fit.inseparable)


def awkward(nights: int) -> Iterator[str]:
    """A lean of degrees, and ten stars in one patch of the sky."""
    misses = over_nights(partial(one_lean, 12), nights)
    yield f"lean of 9.16°, any azimuth zero, 12 pairs: RMS miss {rms(misses):.2f}′ (RMS of nights)"
    for patch in PATCHES:
        found = over_nights(partial(one_patch, patch), nights)
        held = np.mean([one for one, _ in found], axis=0)
        named = np.mean([named for _, named in found])
        each = " ".join(f"{share:.3f}" for share in held)
        yield f"{patch:32} held {held.mean():.3f} ({each}), inseparable named {named:.2f}"


def one_observatory(seed: int) -> tuple[bool, float, float, float]:
    """Return of an arcsecond log: flexure found, its standardised error, residual over noise."""
    rng = np.random.default_rng([seed, 130])
    sizes = np.array([10.0, 10.0, 2.0, 1.0, 0.5, 0.5]) * rng.standard_normal(6)
    terms = dict(zip(STANDARD_NAMES, sizes, strict=True)) | {"tube_flexure": 20.0 / 60.0}
    simulated = made(
        "usual",
        130,
        seed,
        terms=terms,
        sigma_arcmin=rng.uniform(2.0, 4.0) / 60.0,
        readout_step_arcsec=0.1,
    )
    fit = pm.fit(simulated.log)
    found = {term.name: term for term in fit.term_estimates}
    flexure = found.get("tube_flexure")
    z = float("nan") if flexure is None else (flexure.value - 1 / 3) / flexure.standard_error
    noise = np.sqrt(2.0) * simulated.sigma_arcmin
    return flexure is not None, z, fit.residual_rms_arcmin / noise, len(found)


def published_log(pairs: int, seed: int) -> pd.DataFrame:
    """Return a log as professional data are published: places to 0.1°, offsets to 0.1″.

    20″ of flexure, 4″ of noise. The places are exact: what few decimals they have hides nothing.
    """
    rng = np.random.default_rng([seed, pairs, 3])
    sizes = np.array([10.0, 10.0, 2.0, 1.0, 0.5, 0.5]) * rng.standard_normal(6)
    terms = dict(zip(STANDARD_NAMES, sizes, strict=True)) | {"tube_flexure": 20.0 / 60.0}
    simulated = made("usual", pairs, seed, terms=terms)
    az, alt = np.round(simulated.commanded_az_deg, 1), np.round(simulated.commanded_alt_deg, 1)
    noise = PUBLISHED_SIGMA_ARCMIN * rng.standard_normal((2, pairs))
    read = readings_deg(az, alt, simulated.terms, simulated.circumstances, *noise)
    offsets = [
        np.round(part * 36000.0) / 36000.0 for part in (wrap_deg(read[0] - az), read[1] - alt)
    ]
    frame = {"commanded_az": az, "commanded_alt": alt}
    return pd.DataFrame(
        frame | {"centred_az": np.mod(az + offsets[0], 360.0), "centred_alt": alt + offsets[1]}
    )


def one_published(pairs: int, seed: int) -> tuple[float, float, tuple[str, ...]]:
    """Return of a published-style log: residual over noise, sigma over noise, further terms."""
    fit = pm.fit(published_log(pairs, seed))
    return (
        fit.residual_rms_arcmin / (np.sqrt(2.0) * PUBLISHED_SIGMA_ARCMIN),
        fit.noise.sigma_arcmin / PUBLISHED_SIGMA_ARCMIN,
        tuple(term.name for term in fit.term_estimates[N_STANDARD:]),
    )


def published(nights: int) -> Iterator[str]:
    """Logs with places to 0.1°, offsets to 0.1″, 20″ of flexure and 4″ of noise."""
    for pairs in (40, 130):
        found = over_nights(partial(one_published, pairs), nights)
        residual, sigma = (np.median([one[i] for one in found]) for i in (0, 1))
        flexure = np.mean(["tube_flexure" in one[2] for one in found])
        yield (
            f"{pairs:4} pairs: residual over noise {residual:.3f}, sigma over noise {sigma:.3f}, "
            f"flexure found {flexure:.3f}"
        )


def one_coarse(optics: dict[str, float], seed: int) -> tuple[list[bool], float]:
    """Return which intervals held on three stars of a mount set up without care, and the noise.

    Stars centred to 5′; the altitude zero is 6° off, the base leans by 3°, the tube is 1° off.
    """
    rng = np.random.default_rng([seed, 36])
    toward, sign = rng.uniform(0.0, 2.0 * np.pi), rng.choice([-1.0, 1.0], 2)
    terms = {
        "azimuth_index": rng.uniform(-10800.0, 10800.0),
        "altitude_index": 360.0 * sign[0],
        "collimation": 60.0 * sign[1],
        "tilt_north": 180.0 * np.cos(toward),
        "tilt_east": 180.0 * np.sin(toward),
    }
    simulated = made("usual", 3, seed, terms=terms, sigma_arcmin=5.0, mount_share=0.12)
    fit = pm.fit(simulated.log, mount={"optics": optics} if optics else None)
    return held_of(fit, simulated), fit.noise.sigma_arcmin


COARSE_OPTICS: dict[str, dict[str, float]] = {
    "nothing stated": {},
    "centring error 5′ stated": {"centring_error": 5.0},
    "field of 150′ stated": {"field_of_view": 150.0},
}


def coarse(nights: int) -> Iterator[str]:
    """Three stars centred to 5′ on a mount set up without care: how often intervals hold."""
    for told, optics in COARSE_OPTICS.items():
        found = over_nights(partial(one_coarse, optics), nights)
        held = np.mean([one for one, _ in found], axis=0)
        each = " ".join(f"{share:.3f}" for share in held)
        sigma = np.median([one for _, one in found])
        yield f"{told:26} held {held.mean():.3f} ({each}), noise found {sigma:.1f}′"


def observatory(nights: int) -> Iterator[str]:
    """130 pairs, noise of 2″ to 4″, 20″ of flexure, offsets of 10′."""
    found = over_nights(one_observatory, nights)
    taken = np.mean([one[0] for one in found])
    z = np.array([one[1] for one in found if one[0]])
    yield (
        f"flexure found {taken:.3f}; error over standard error, RMS {rms(z):.2f}; residual over "
        f"noise {np.median([one[2] for one in found]):.3f}; "
        f"terms {np.mean([one[3] for one in found]):.2f}"
    )


FAULTS: dict[str, tuple[dict[str, float], dict[str, Any]]] = {
    "tube_flexure": ({"tube_flexure": 12.0}, {"low_alt_deg": 7.0}),
    "refraction": ({"refraction": 1.0}, {"low_alt_deg": 7.0}),
    "refraction twice": ({"refraction": -1.0}, {"low_alt_deg": 7.0}),
    "azimuth_scale": ({"azimuth_scale": 0.18}, {}),
    "altitude_scale": ({"altitude_scale": 0.48}, {}),
    "eccentricity": ({"azimuth_eccentricity_sin": 10.0}, {}),
    "azimuth_backlash": ({"azimuth_backlash": 12.0}, {}),
    "altitude_backlash": ({"altitude_backlash": 12.0}, {}),
    "azimuth_drift": ({"azimuth_drift": 15.0}, {}),
    "altitude_drift": ({"altitude_drift": 15.0}, {}),
    "slip": ({"azimuth_slip": 14.0, "altitude_slip": 14.0}, {}),
    "slip, two wrong stars": ({"azimuth_slip": 20.0, "altitude_slip": 14.0}, {"wrong_stars": 2}),
    "nothing": ({}, {}),
}


def one_fault(fault: str, seed: int) -> tuple[tuple[str, ...], int]:
    """Return the further terms taken up on a night of the usual mount with one fault, 22 pairs."""
    terms, options = FAULTS[fault]
    simulated = made("usual", 22, seed, terms=terms, **options)
    fit = pm.fit(simulated.log)
    lost = int((fit.pair_results.set_aside & ~simulated.bad).sum())
    return tuple(term.name for term in fit.term_estimates[N_STANDARD:]), lost


def further(nights: int) -> Iterator[str]:
    """Which further terms are taken up on a mount as found with one fault."""
    for fault in FAULTS:
        found = over_nights(partial(one_fault, fault), nights)
        kinds: dict[tuple[str, ...], int] = {}
        for names, _ in found:
            kinds[names] = kinds.get(names, 0) + 1
        common = sorted(kinds.items(), key=lambda item: -item[1])[:3]
        shown = "; ".join(f"{', '.join(k) or 'none'} {v / nights:.2f}" for k, v in common)
        yield f"{fault:24} {shown}; good pairs lost {sum(lost for _, lost in found)}"


@dataclass(frozen=True)
class Made:
    """A fault to be named: draws its terms and the options of the night; `code` is its cause."""

    code: str
    terms: Callable[[np.random.Generator], dict[str, float]]
    options: dict[str, Any]


def _either(name: str, size: float) -> Callable[[np.random.Generator], dict[str, float]]:
    return lambda rng: {name: size * rng.choice([-1.0, 1.0])}


def _between(
    name: str, low: float, high: float
) -> Callable[[np.random.Generator], dict[str, float]]:
    return lambda rng: {name: rng.uniform(low, high) * rng.choice([-1.0, 1.0])}


def _toward(names: tuple[str, str], low: float, high: float) -> Callable[..., dict[str, float]]:
    def draw(rng: np.random.Generator) -> dict[str, float]:
        size, angle = rng.uniform(low, high), rng.uniform(0.0, 2.0 * np.pi)
        return {names[0]: size * np.cos(angle), names[1]: size * np.sin(angle)}

    return draw


def _nothing(rng: np.random.Generator) -> dict[str, float]:
    return {}


LOW = {"low_alt_deg": 7.0}
TO_NAME = {
    "lean": Made("not_level", _toward(("tilt_north", "tilt_east"), 15.0, 60.0), {}),
    "collimation": Made("collimation", _either("collimation", 15.0), {}),
    "axes": Made("non_perpendicularity", _either("non_perpendicularity", 15.0), {}),
    "azimuth zero": Made("azimuth_zero", _between("azimuth_index", 20.0, 300.0), {}),
    "altitude zero": Made("altitude_zero", _between("altitude_index", 15.0, 120.0), {}),
    "flexure": Made("tube_flexure", _either("tube_flexure", 12.0), LOW),
    "refraction": Made("refraction", _either("refraction", 1.0), LOW),
    "azimuth backlash": Made("azimuth_backlash", _either("azimuth_backlash", 12.0), {}),
    "altitude backlash": Made("altitude_backlash", _either("altitude_backlash", 12.0), {}),
    "slip": Made("slip", _toward(("azimuth_slip", "altitude_slip"), 20.0, 20.0), {}),
    "azimuth drift": Made("drift", _either("azimuth_drift", 15.0), {}),
    "azimuth scale": Made("azimuth_scale", _either("azimuth_scale", 0.18), {}),
    "altitude scale": Made("altitude_scale", _either("altitude_scale", 0.48), {}),
    "loose": Made("loose_centring", _nothing, {"sigma_arcmin": 5.0}),
    "nothing": Made("healthy", _nothing, {}),
    "wrong star": Made("wrong_star", _nothing, {"wrong_stars": 1}),
    "slip of the pen": Made("log_typo", _nothing, {"pen_slips": 1}),
}


def one_naming(
    fault: str, good_mount: bool, seed: int
) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Return the cause named first, all called likely, and all at least possible."""
    rng = np.random.default_rng([seed, 71])
    case = TO_NAME[fault]
    others = {name: rng.uniform(-0.6, 0.6) for name in STANDARD_NAMES} if good_mount else {}
    pairs = 14 if case.code in ("wrong_star", "log_typo") else int(rng.integers(20, 25))
    terms = others | case.terms(rng)
    fit = pm.fit(made("usual", pairs, seed, terms=terms, **case.options).log)
    likely = tuple(cause.cause for cause in fit.causes if cause.verdict == "likely")
    named = tuple(cause.cause for cause in fit.causes if cause.verdict != "ruled_out")
    return fit.causes[0].cause, likely, named


def naming(nights: int) -> Iterator[str]:
    """Is the one fault named first on a good mount, and named at all on a mount as found?"""
    yield f"{'fault':18}  first   others likely a night   as found: likely, at least possible"
    for fault, case in TO_NAME.items():
        good = over_nights(partial(one_naming, fault, True), nights)
        first = np.mean([one == case.code for one, _, _ in good])
        others = np.mean([len(set(likely) - {case.code}) for _, likely, _ in good])
        found = over_nights(partial(one_naming, fault, False), nights)
        sure = np.mean([case.code in likely for _, likely, _ in found])
        named = np.mean([case.code in at_least for _, _, at_least in found])
        wrong: dict[str, int] = {}
        for one, _, _ in good:
            if one != case.code:
                wrong[one] = wrong.get(one, 0) + 1
        shown = f"{first:.3f}   {others:.3f}                   {sure:.3f}  {named:.3f}"
        yield f"{fault:18}  {shown}   {wrong or ''}"


def one_aligned(pairs: int, seed: int) -> tuple[float, float, bool]:
    """Miss with corrections on a log made after an alignment, on the same night unaligned, health.

    The controller is aligned on two stars centred like the others; it then shows its readings
    turned back to the sky. The log is fitted in that frame, commands are turned to the axes.
    """
    plain = made("usual", pairs + 2, seed)
    log = plain.log
    stars = directions(np.radians(log.commanded_az_deg), np.radians(log.commanded_alt_deg))
    read = directions(np.radians(log.centred_az_deg), np.radians(log.centred_alt_deg))
    apart = np.degrees(np.arccos(np.clip(stars[1:] @ stars[0], -1.0, 1.0)))
    second = 1 + int(np.abs(apart - 90.0).argmin())
    rotation = two_star_rotation(stars[None, [0, second]], read[None, [0, second]])[0]
    shown_az, shown_alt = (np.degrees(part) for part in azimuth_altitude(read @ rotation))
    left = np.delete(np.arange(pairs + 2), [0, second])
    frame = log.pairs.iloc[left].copy()
    frame["centred_az"], frame["centred_alt"] = shown_az[left], shown_alt[left]
    mount = {"mount": {"readout": "sky"}, "alignment": {"stars": ["first", "second"]}}
    fit = pm.fit(frame, mount=mount)
    az, alt = fit.aim(*even_targets(160))
    sent = directions(np.radians(az), np.radians(alt)) @ rotation.T
    command = tuple(np.degrees(part) for part in azimuth_altitude(sent))
    unaligned = pm.fit(log.select(np.isin(np.arange(pairs + 2), left)))
    levels = any(cause.cause == "not_level" for cause in fit.causes)
    aimed = unaligned.aim(*even_targets(160))
    return miss_with(plain, command), miss_with(plain, aimed), levels


def aligned(nights: int) -> Iterator[str]:
    """Logs made after a two-star alignment against unaligned logs of as many pairs."""
    for pairs in (6, 8, 12, 20):
        found = over_nights(partial(one_aligned, pairs), nights)
        ours, plain = (np.array([one[i] for one in found]) for i in (0, 1))
        level = sum(one[2] for one in found)
        ratio = f"ratio {rms(ours) / rms(plain):.3f} (median {np.median(ours / plain):.3f})"
        miss = f"RMS miss {rms(ours):.2f}′ aligned, {rms(plain):.2f}′ not"
        yield f"{pairs:3} pairs: {miss}, {ratio}; called not level {level}"


def _after_zeroing(simulated: SimulatedNight) -> float:
    """Return the median over 16 stars of the RMS miss once both readings are zeroed on a star."""
    az, alt = even_targets(160)
    found = []
    for star_az, star_alt in zip(*zeroing_stars((az, alt)), strict=True):
        read_az, read_alt = right_commands_deg(simulated, np.array([star_az]), np.array([star_alt]))
        command = (az + read_az - star_az) % 360.0, alt + read_alt - star_alt
        found.append(miss_with(simulated, command))
    return float(np.median(found))


def _after_realigning(simulated: SimulatedNight, places: tuple[tuple[float, float], ...]) -> float:
    """Return the RMS miss once the controller has its rotation from two stars at these places."""
    star_az, star_alt = np.array(places).T
    read_az, read_alt = right_commands_deg(simulated, star_az, star_alt)
    stars, read = (
        directions(np.radians(a), np.radians(h))
        for a, h in ((star_az, star_alt), (read_az, read_alt))
    )
    rotation = two_star_rotation(stars[None], read[None])[0]
    az, alt = even_targets(160)
    sent = azimuth_altitude(directions(np.radians(az), np.radians(alt)) @ rotation.T)
    return miss_with(simulated, (np.degrees(sent[0]), np.degrees(sent[1])))


def one_remedied(seed: int) -> dict[str, float]:
    """Return forecast over actual of four remedies, done on the simulated mount."""
    simulated = made("usual", 16, seed)
    fit = with_centring(simulated)
    outlook = fit.expected_at(*even_targets(160))
    said = {forecast.remedy: forecast for forecast in forecasts(Ground(outlook))}
    found = {term.name: term.value for term in fit.term_estimates}
    left = {name: simulated.terms[name] - found[name] for name in ("tilt_north", "tilt_east")}
    levelled = replace(simulated, terms={**simulated.terms, **left})
    actual = {
        "none": miss_with(simulated, even_targets(160)),
        "zero_on_star": _after_zeroing(simulated),
        "level": _after_zeroing(levelled),
        "realign": _after_realigning(simulated, said["realign"].stars),
    }
    scatter = np.sqrt(2.0) * simulated.scatter_arcmin
    return {code: said[code].rms_arcmin / np.hypot(miss, scatter) for code, miss in actual.items()}


def remedies(nights: int) -> Iterator[str]:
    """Forecasts of remedies against what the simulated mount then does, 16 pairs."""
    found = over_nights(one_remedied, nights)
    for code in found[0]:
        low, middle, high = np.quantile([one[code] for one in found], [0.1, 0.5, 0.9])
        yield f"{code:14} forecast over actual: median {middle:.3f} ({low:.2f} to {high:.2f})"


FIGURES = {
    "coverage": coverage,
    "forecast": forecast,
    "bad_pairs": bad_pairs,
    "awkward": awkward,
    "observatory": observatory,
    "published": published,
    "coarse": coarse,
    "further": further,
    "naming": naming,
    "aligned": aligned,
    "remedies": remedies,
}


def main() -> None:
    """Print the figures that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("figures", nargs="*", choices=[[], *FIGURES], default=[])
    parser.add_argument("--nights", type=int, default=300)
    asked = parser.parse_args()
    for name in asked.figures or FIGURES:
        print(f"\n{name}: {FIGURES[name].__doc__}")
        for line in FIGURES[name](asked.nights):
            print(line, flush=True)


if __name__ == "__main__":
    main()
