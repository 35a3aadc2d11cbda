"""What a mount's profile is worth on the next night.

    python tests/bench/profile_figures.py --seasons 200

Four nights of twelve pairs are compared; then comes a new night of a few pairs, fitted with their
profile and without. `steps` moves a term of the tube in between. Misses are the model's part: RMS
over the sky without scatter, then RMS over the seasons.
"""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.compare_figures import TUBE, Plan, season
from bench.figures import over_nights
from bench.nights import night
from bench.segment_figures import model_miss_arcmin

import pointmodel as pm

NIGHTS = Plan(nights=4, pairs=12, options={"sigma_arcmin": 1.0})
ANYHOW_ARCMIN, NEAR_ARCMIN = 10800.0, 20.0


def next_night(
    pairs: int, steps: dict[str, float], near: bool, seed: int
) -> tuple[float, float, list[bool]]:
    """Misses with the profile and without, arcminutes, and which of five intervals held.

    `near`: the azimuth zero of all five nights is within some 20′, as with a mark on the ground.
    """
    plan = Plan(4, 12, options={"sigma_arcmin": 1.0}, near=near)
    made = season(plan, seed)
    profile = pm.compare([one.log for one in made.nights]).profile
    rng = np.random.default_rng([seed, 77])
    terms = {name: made.nights[-1].terms[name] + steps.get(name, 0.0) for name in TUBE}
    reach = NEAR_ARCMIN if near else ANYHOW_ARCMIN
    terms["azimuth_index"] = float(rng.uniform(-reach, reach))
    new = night(rng, "usual", pairs, terms=terms, sigma_arcmin=1.0)
    fit = pm.fit(new.log, prior=profile)
    held = [term.low < new.terms[term.name] < term.high for term in fit.term_estimates[1:6]]
    return model_miss_arcmin(fit, new), model_miss_arcmin(pm.fit(new.log), new), held


def gain(
    pairs: int, seasons: int, steps: dict[str, float] | None = None, near: bool = False
) -> dict[str, float]:
    """RMS misses with the profile and without, their medians, and the share of intervals held."""
    found = over_nights(partial(next_night, pairs, steps or {}, near), seasons)
    misses = np.array([one[:2] for one in found])
    rms, median = np.sqrt(np.mean(misses**2, axis=0)), np.median(misses, axis=0)
    return {
        "with_arcmin": float(rms[0]),
        "without_arcmin": float(rms[1]),
        "with_median_arcmin": float(median[0]),
        "without_median_arcmin": float(median[1]),
        "held": float(np.mean([one[2] for one in found])),
    }


def _main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seasons", type=int, default=200)
    seasons = parser.parse_args().seasons
    for pairs in (2, 3, 4, 6, 8, 12):
        print(f"azimuth anyhow, {pairs} pairs", gain(pairs, seasons))
    for pairs in (3, 6):
        print(f"azimuth near, {pairs} pairs", gain(pairs, seasons, near=True))
    for pairs in (3, 6, 8, 12):
        moved = {"collimation": 15.0}
        print(f"tube moved by 15′, {pairs} pairs", gain(pairs, seasons, moved))


if __name__ == "__main__":
    _main()
