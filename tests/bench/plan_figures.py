"""How good the planned stars are: against the best there are, against random ones, on real fits.

    python tests/bench/plan_figures.py                # 60 skies, 200 nights a figure
    python tests/bench/plan_figures.py --skies 400 --nights 1000

The yardstick is worked out here, apart from the program's own way: every set of stars where there
are few, else exchange from many starts, with the information matrices summed and inverted. Its
stars are all that a beginner might be sent to: to magnitude 2.5, 20° to 75° up.
`tests/test_plan.py` runs the same functions on fewer skies.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.figures import over_nights
from bench.nights import even_targets

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.planning.candidates import scene
from pointmodel.planning.knowledge import TYPICAL_SD_ARCMIN, Knowledge, design_at, typical
from pointmodel.simulation.draw import draw_terms
from pointmodel.simulation.mount import (
    SimulatedCircumstances,
    direction,
    pointed_deg,
    readings_deg,
    separation_arcmin,
)
from pointmodel.sky.sunguard import too_near_sun

COUNTS = (2, 3, 5, 8)
RANDOM_SETS = 40
STARTS = 12
SIGMA_ARCMIN, SCATTER_ARCMIN = 1.0, 0.6
HORIZONS: tuple[list[list[float]], ...] = (
    [],
    [[0, 12], [90, 35], [180, 8], [270, 20]],
    [[0, 15], [100, 15], [110, 60], [230, 60], [240, 15]],
)


@dataclass(frozen=True)
class Sky:
    """A site with its horizon, and a moment of the night."""

    mount: dict[str, Any]
    at: str


def some_sky(seed: int) -> Sky:
    """Return a site anywhere but at the poles, on some dark moment of three years."""
    rng = np.random.default_rng([seed, 14])
    latitude = float(np.degrees(np.arcsin(rng.uniform(-0.92, 0.92))))
    longitude = float(rng.uniform(-180.0, 180.0))
    mount: dict[str, Any] = {"site": {"latitude": latitude, "longitude": longitude}}
    if horizon := HORIZONS[seed % len(HORIZONS)]:
        mount["horizon"] = {"profile": horizon}
    midnight_h = (-longitude / 15.0) % 24.0
    for _ in range(200):
        day = int(rng.integers(0, 3 * 365))
        hour = (midnight_h + float(rng.uniform(-6.0, 6.0))) % 24.0
        moment = np.datetime64("2031-01-01") + np.timedelta64(day * 86400 + int(hour * 3600), "s")
        at = f"{moment}Z"
        if pm.plan(mount, at, stars=1).sun_alt_deg < -12.0:
            break
    return Sky(mount, at)


@dataclass(frozen=True)
class Yardstick:
    """Stars (k,) of a sky that anyone might be sent to, with their designs (k, 2, 6)."""

    known: Knowledge
    az_deg: FloatArray
    alt_deg: FloatArray
    design: FloatArray

    def rms_arcmin(self, sets: np.ndarray) -> FloatArray:
        """Return the RMS miss (m,) from the terms alone after each set of stars (m, n)."""
        return rms_of(self.known, self.design[sets])


def rms_of(known: Knowledge, design: FloatArray) -> FloatArray:
    """Return √tr[M (P⁻¹ + Σ XᵀX/σ²)⁻¹] (m,) of sets of stars with designs (m, n, 2, 6)."""
    rows = design.reshape(design.shape[0], -1, 6)
    information = np.diag(TYPICAL_SD_ARCMIN**-2.0) + (
        np.swapaxes(rows, 1, 2) @ rows / known.sigma_arcmin**2
    )
    return np.asarray(np.sqrt(np.einsum("ij,mji->m", known.sky, np.linalg.inv(information))))


def yardstick(sky: Sky, time_s: float) -> Yardstick:
    """Return the yardstick's stars over a sky."""
    mount = pm.read_mount(sky.mount)
    observer = mount.observer
    assert observer is not None
    seen = scene(mount, observer, time_s)
    usable = (seen.magnitude <= 2.5) & (seen.alt_deg >= 20.0) & (seen.alt_deg <= 75.0)
    usable &= seen.alt_deg >= mount.open_alt_deg(seen.az_deg)
    usable &= ~too_near_sun(seen.sun, seen.az_deg, seen.alt_deg)
    known = typical(mount)
    az_deg, alt_deg = seen.az_deg[usable], seen.alt_deg[usable]
    return Yardstick(known, az_deg, alt_deg, design_at(known, az_deg, alt_deg))


def best_rms_arcmin(stick: Yardstick, count: int, rng: np.random.Generator) -> float:
    """Return the least miss with so many stars: of all sets, or by exchange from many starts."""
    size = stick.az_deg.size
    if count <= 2 or (count == 3 and size <= 40):
        return float(stick.rms_arcmin(np.array(list(combinations(range(size), count)))).min())
    found = []
    for _ in range(STARTS):
        chosen = rng.permutation(size)[:count]
        least = np.inf
        while True:
            for place in range(count):
                sets = np.tile(chosen, (size, 1))
                sets[:, place] = np.arange(size)
                sets = sets[~np.isin(np.arange(size), np.delete(chosen, place))]
                rms = stick.rms_arcmin(sets)
                chosen = sets[rms.argmin()]
            if rms.min() >= least * (1.0 - 1e-9):
                break
            least = float(rms.min())
        found.append(least)
    return min(found)


@dataclass(frozen=True)
class Choice:
    """The miss of the planned stars over the least there is, and that of random stars over it."""

    planned: float
    random: float


def one_choice(count: int, seed: int) -> Choice | None:
    """Plan for some sky and hold it against the yardstick; None where that has too few stars."""
    sky = some_sky(seed)
    result = pm.plan(sky.mount, sky.at, stars=count)
    stick = yardstick(sky, result.time_s)
    if stick.az_deg.size <= count:
        return None
    rng = np.random.default_rng([seed, count])
    best = best_rms_arcmin(stick, count, rng)
    az_deg = np.array([star.az_deg for star in result.stars])
    alt_deg = np.array([star.alt_deg for star in result.stars])
    planned = float(rms_of(stick.known, design_at(stick.known, az_deg, alt_deg)[None])[0])
    sets = np.array([rng.permutation(stick.az_deg.size)[:count] for _ in range(RANDOM_SETS)])
    return Choice(planned / best, float(np.median(stick.rms_arcmin(sets))) / best)


@dataclass(frozen=True)
class Fitted:
    """RMS misses after a real fit with planned and with random stars, and what was expected."""

    planned_arcmin: float
    random_arcmin: float
    expected_arcmin: float


def one_fit(count: int, seed: int) -> Fitted:
    """Centre the planned stars, and random ones, with one usual mount; fit; aim at the sky.

    The stars stand still at the plan's moment. Misses are without the mount's scatter.
    """
    sky = some_sky(seed % 40)
    mount = sky.mount | {"optics": {"centring_error": float(np.sqrt(1.0 - SCATTER_ARCMIN**2))}}
    result = pm.plan(mount, sky.at, stars=count)
    stick = yardstick(sky, result.time_s)
    rng = np.random.default_rng([seed, count, 1])
    terms = draw_terms(rng, "usual")
    planned = (
        np.array([star.az_deg for star in result.stars]),
        np.array([star.alt_deg for star in result.stars]),
    )
    some = rng.permutation(stick.az_deg.size)[: len(result.stars)]
    noise = SIGMA_ARCMIN * rng.standard_normal((2, 2, len(result.stars)))
    random = stick.az_deg[some], stick.alt_deg[some]
    scatter = 2.0 * (result.scatter_arcmin**2)
    expected = float(np.sqrt(max(result.expected[-1].rms_arcmin ** 2 - scatter, 0.0)))
    return Fitted(
        _miss_arcmin(planned, terms, noise[0][:, : planned[0].size], mount),
        _miss_arcmin(random, terms, noise[1][:, : some.size], mount),
        expected,
    )


def _miss_arcmin(
    places: tuple[FloatArray, FloatArray],
    terms: dict[str, float],
    noise: FloatArray,
    mount: dict[str, Any],
) -> float:
    """Return the RMS miss over the even sky of a fit to stars at these places."""
    import pandas as pd

    at = SimulatedCircumstances(np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1))
    read_az, read_alt = readings_deg(*places, terms, at, *noise)
    frame = pd.DataFrame(
        {
            "commanded_az": places[0],
            "commanded_alt": places[1],
            "centred_az": read_az,
            "centred_alt": read_alt,
        }
    )
    fit = pm.fit(frame, mount={"optics": mount["optics"]})
    az_deg, alt_deg = even_targets(160)
    landed = pointed_deg(*fit.aim(az_deg, alt_deg), terms, at)
    miss = separation_arcmin(direction(*landed), direction(az_deg, alt_deg))
    return float(np.sqrt(np.mean(miss**2)))


def choice_lines(skies: int) -> Iterator[str]:
    """Tell how the choice does against the yardstick."""
    for count in COUNTS:
        done = [one for one in over_nights(partial(one_choice, count), skies) if one is not None]
        planned, random = (np.array([getattr(o, k) for o in done]) for k in ("planned", "random"))
        yield (
            f"{count} stars, {len(done)} skies: planned {np.median(planned):.3f} of the least miss "
            f"(90th percentile {np.percentile(planned, 90):.3f}, worst {planned.max():.2f}); "
            f"random stars {np.median(random):.2f} ({np.percentile(random, 90):.1f})"
        )


def fit_lines(nights: int) -> Iterator[str]:
    """Tell what real fits make of planned and of random stars."""
    for count in (3, 4, 6, 8):
        done = list(over_nights(partial(one_fit, count), nights))
        planned = np.array([one.planned_arcmin for one in done])
        random = np.array([one.random_arcmin for one in done])
        expected = np.array([one.expected_arcmin for one in done])
        yield (
            f"{count} stars, {nights} fits: planned {np.median(planned):.2f}′ median "
            f"({np.percentile(planned, 90):.2f}′), random {np.median(random):.2f}′ "
            f"({np.percentile(random, 90):.2f}′), better on {np.mean(planned < random):.2f} of "
            f"nights; expected {np.median(expected):.2f}′, RMS of actual over expected "
            f"{np.sqrt(np.mean((planned / expected) ** 2)):.2f}"
        )


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--skies", type=int, default=60)
    parser.add_argument("--nights", type=int, default=200)
    told = parser.parse_args()
    for line in choice_lines(told.skies):
        print(line, flush=True)
    for line in fit_lines(told.nights):
        print(line, flush=True)


if __name__ == "__main__":
    main()
