"""How well a log with a knock in it is fitted.

    python tests/bench/segment_figures.py --nights 200

Two simulated nights that share the tube's own terms make one log, with an event between them. The
fit of the whole is held against one that sees only the pairs after the event, and against one that
is told the tube's terms.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import actual_miss_arcmin, even_targets, night

import pointmodel as pm
from pointmodel.mount.events import EVENTS
from pointmodel.reading.nightlog import Event, NightLog
from pointmodel.simulation.night import SimulatedNight

TUBE = ("collimation", "non_perpendicularity", "tube_flexure")
LEAN = ("tilt_north", "tilt_east")


def knocked_night(
    seed: int, before: int, after: int, event: str = "bump", **terms: float
) -> tuple[NightLog, SimulatedNight]:
    """A log of `before` and `after` pairs with an event between; the mount as it stands at the end.

    The tube's terms are those of both parts, `terms` among them; zeros are drawn anew, and the lean
    where the event is one that moves the base.
    """
    rng = np.random.default_rng(seed)
    first = night(rng, "usual", before, terms=terms)
    kept = TUBE if EVENTS[event].renews_the_lean else (*TUBE, *LEAN)
    shared = {name: first.terms[name] for name in kept} | terms
    second = night(rng, "usual", after, terms=shared)
    return joined(first.log, second.log, event), second


def joined(one: NightLog, other: NightLog, event: str) -> NightLog:
    """Two logs as one, an event between them, the second an hour after the first."""
    later = one.time_s[-1] + 3600.0 - other.time_s[0]
    parts = {
        name: np.concatenate([getattr(one, name), getattr(other, name)])
        for name in (
            "commanded_az_deg", "commanded_alt_deg", "centred_az_deg", "centred_alt_deg",
            "commanded_time_s", "az_motion", "alt_motion",
        )
    }  # fmt: skip
    return replace(
        one,
        line=np.arange(len(one) + len(other)) + 2,
        target=(*one.target, *other.target),
        note=(*one.note, *other.note),
        time_s=np.concatenate([one.time_s, other.time_s + later]),
        events=(Event(event, len(one) + 2, len(one)),),
        **parts,
    )


def model_miss_arcmin(fit: pm.Fit, made: SimulatedNight) -> float:
    """RMS miss over the sky of corrected go-tos, scatter aside."""
    az_deg, alt_deg = even_targets()
    command = fit.aim(az_deg, alt_deg)
    return float(np.sqrt(np.mean(actual_miss_arcmin(made, az_deg, alt_deg, *command) ** 2)))


def segments(
    nights: int, before: int, after: int, event: str = "bump", first_seed: int = 0, **terms: float
) -> dict[str, float]:
    """RMS of `model_miss_arcmin` over many nights: whole log, after the event only; coverage."""
    whole, last, held = [], [], []
    for seed in range(first_seed, first_seed + nights):
        log, made = knocked_night(seed, before, after, event, **terms)
        fit = pm.fit(log)
        after_only = log.select(np.arange(len(log)) >= before)
        whole.append(model_miss_arcmin(fit, made))
        last.append(model_miss_arcmin(pm.fit(replace(after_only, events=())), made))
        for term in fit.term_estimates[1:6]:
            held.append(term.low < made.terms[term.name] < term.high)
    return {
        "whole_arcmin": float(np.sqrt(np.mean(np.square(whole)))),
        "last_only_arcmin": float(np.sqrt(np.mean(np.square(last)))),
        "whole_median_arcmin": float(np.median(whole)),
        "last_only_median_arcmin": float(np.median(last)),
        "held": float(np.mean(held)),
    }


def _main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--nights", type=int, default=200)
    nights = parser.parse_args().nights
    for before, after in ((12, 2), (12, 3), (12, 4), (12, 6), (6, 6), (12, 12), (2, 8)):
        print(before, after, segments(nights, before, after))
    print("flexure of 8′, 12 and 4", segments(nights, 12, 4, tube_flexure=8.0))
    print("zero on a star, 12 and 3", segments(nights, 12, 3, "zero_on_star"))


if __name__ == "__main__":
    _main()
