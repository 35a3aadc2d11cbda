"""What turning the feet as told leaves, and how often it is told, on simulated nights.

    python tests/bench/levelling_figures.py                # 200 nights a figure
    python tests/bench/levelling_figures.py --nights 1000

The lean that is left is read from a plane through the feet's ends by singular values, which knows
nothing of the formula for the rises. `tests/test_levelling.py` runs the same functions on fewer
nights.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.figures import made, over_nights

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.levelling.feet import FootOrder
from pointmodel.simulation.night import SimulatedNight

ARCMIN = np.pi / 10800.0
WAYS = ("raise_only", "lower_only", "least_travel")
TRIPODS: dict[str, tuple[float, ...]] = {
    "three feet": (0.0, 120.0, 240.0),
    "three feet, uneven": (17.0, 110.0, 260.0),
    "four feet": (45.0, 135.0, 225.0, 315.0),
}
# a mount whose other terms are nearly nothing, all but the zeros: those go when it is zeroed
GOOD = dict.fromkeys(("collimation", "non_perpendicularity"), 0.6)


def plane_normal(points: FloatArray) -> FloatArray:
    """Return the upward normal (3,) of the plane nearest to points (f, 3), by singular values."""
    normal = np.linalg.svd(points - points.mean(axis=0))[2][2]
    return np.asarray(normal * np.sign(normal[2]))


def lean_left_arcmin(
    radius_mm: float,
    azimuths_deg: FloatArray,
    rises_mm: FloatArray,
    tilt_north_arcmin: float,
    tilt_east_arcmin: float,
) -> float:
    """Return how far from the zenith the azimuth axis stands once the feet were turned.

    In the frame of the base (north, east, along the axis): the screws' ends lie in a plane, the
    ground holds that plane, and before the turn the axis stood on it as it leaned.
    """
    foot = np.radians(azimuths_deg)
    ends = np.stack(
        [radius_mm * np.cos(foot), radius_mm * np.sin(foot), -np.asarray(rises_mm)], axis=1
    )
    lean = np.hypot(tilt_north_arcmin, tilt_east_arcmin) * ARCMIN
    toward = np.arctan2(tilt_east_arcmin, tilt_north_arcmin)
    ground = [np.sin(lean) * np.cos(toward), np.sin(lean) * np.sin(toward), np.cos(lean)]
    off = float(np.linalg.norm(np.cross(plane_normal(ends), ground)))
    return float(np.arcsin(min(off, 1.0)) / ARCMIN)


@dataclass(frozen=True)
class Levelled:
    """One night: the verdict, the lean left by each way, and what was said beforehand."""

    verdict: str
    left_arcmin: tuple[float, ...]
    off_deg: float
    expected_arcmin: float
    held: bool
    one_more: bool


def leaning_night(
    pairs: int, lean_arcmin: float, others: dict[str, float], seed: int
) -> SimulatedNight:
    """Return a night of a usual mount, some terms given, that leans so far in any direction."""
    toward = np.random.default_rng([seed, 70]).uniform(0.0, 2.0 * np.pi)
    tilts = {
        "tilt_north": lean_arcmin * np.cos(toward),
        "tilt_east": lean_arcmin * np.sin(toward),
    }
    return made("usual", pairs, seed, terms=others | tilts)


def one_levelling(
    pairs: int, lean_arcmin: float, others: dict[str, float], tripod: str, seed: int
) -> Levelled:
    """Fit such a night, its clock compared with a phone, and turn the feet as told."""
    simulated = leaning_night(pairs, lean_arcmin, others, seed)
    mount: dict[str, Any] = {
        "alignment": {"stars": []},
        "entered": {"verified": True},
        "optics": {"field_of_view": 40},
        "feet": {"radius": 430, "azimuths": list(TRIPODS[tripod]), "screw_pitch": 1.5},
    }
    result = pm.level(pm.fit(simulated.log, mount=mount))
    north, east = simulated.terms["tilt_north"], simulated.terms["tilt_east"]
    azimuths = np.array(TRIPODS[tripod])
    left = tuple(
        lean_left_arcmin(430.0, azimuths, _rises(result.feet, way, azimuths.size), north, east)
        for way in WAYS
    )
    true_toward = np.degrees(np.arctan2(east, north))
    said = result.lean.toward_az_deg
    off = 0.0 if said is None else abs((said - true_toward + 180.0) % 360.0 - 180.0)
    held = result.lean.low <= lean_arcmin <= result.lean.high
    after = result.expected_lean_after_arcmin
    after = lean_arcmin if after is None else after  # nothing was to be turned
    return Levelled(result.verdict, left, float(off), after, held, result.one_more_star is not None)


def _rises(feet: tuple[FootOrder, ...], way: str, count: int) -> FloatArray:
    """Return what each foot is turned by; nothing where nothing was ordered."""
    return np.array([getattr(foot, f"{way}_mm") for foot in feet]) if feet else np.zeros(count)


def figures(nights: int) -> Iterator[str]:
    """Yield one line a kind of night."""
    yield (
        f"{'mount':6}{'pairs':>6}{'lean':>6}  told what; lean left: median, 95 %, most; most off; "
        "expected; range holds; one more star"
    )
    for name, others in (("good", GOOD), ("usual", {})):
        for pairs, lean in (
            *((12, lean) for lean in (0.0, 15.0, 45.0)),
            *((pairs, 30.0) for pairs in (3, 4, 5, 8, 20)),
        ):
            found = over_nights(partial(one_levelling, pairs, lean, others, "three feet"), nights)
            yield f"{name:6}{pairs:6}{lean:6.0f}  {told(found)}"
    for tripod in list(TRIPODS)[1:]:
        found = over_nights(partial(one_levelling, 12, 45.0, {}, tripod), nights)
        yield f"{tripod}, 12 pairs, 45′: {told(found)}"


def told(found: list[Levelled]) -> str:
    """Return the figures of some nights in a line."""
    verdicts = Counter(one.verdict for one in found)
    left = np.array([one.left_arcmin for one in found]).max(axis=1)
    share = ", ".join(f"{verdict} {count}" for verdict, count in verdicts.most_common())
    more = np.mean([one.one_more for one in found])
    off = max((one.off_deg for one in found if one.verdict == "level"), default=0.0)
    return (
        f"{share}; {np.median(left):.2f}′ {np.quantile(left, 0.95):.2f}′ {left.max():.2f}′; "
        f"{off:.0f}°; {np.median([one.expected_arcmin for one in found]):.2f}′; "
        f"{np.mean([one.held for one in found]):.3f}; {more:.2f}"
    )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nights", type=int, default=200)
    for line in figures(parser.parse_args().nights):
        print(line, flush=True)


if __name__ == "__main__":
    main()
