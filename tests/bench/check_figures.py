"""How often `check` names the entry at fault, on simulated controllers.

    python tests/bench/check_figures.py                       # 200 nights a figure
    python tests/bench/check_figures.py entries --nights 1000

`tests/test_check_figures.py` runs the same functions on fewer nights.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.controllers import ENTRIES, ControllerNight, night
from bench.figures import over_nights, rms

import pointmodel as pm
from pointmodel.base.normal import NORMAL_95
from pointmodel.entries.answers import Estimate
from pointmodel.entries.result import CheckResult, Explanation
from pointmodel.reading.nightlog import NightLog

FREE = {"clock", "longitude", "latitude"}
SAME_MIN, SAME_ARCMIN = 0.06, 0.7


@dataclass(frozen=True)
class Checked:
    """One night: whether the entry at fault came first, and what else was said."""

    first: bool
    called_wrong: bool
    not_ruled_out: int
    verdict: str
    offset_error_s: float
    latitude_error_arcmin: float
    held: bool
    off_in_errors: tuple[float, float]
    seconds: float


def is_first(made: ControllerNight, result: CheckResult) -> bool:
    """Whether the entry at fault stands first; entries that predict the same shift count as one.

    A sharp entry in the place of another one counts where both predict the same places. An entry
    that may be off by anything explains everything and counts only for itself, clock and longitude
    for each other.
    """
    first = result.explanations[0]
    if first.also is not None:
        return False
    if first.entry == made.entry:
        return True
    if first.entry in FREE or made.entry == "agrees" or first.entry == "agrees":
        return {first.entry, made.entry} == {"clock", "longitude"}
    off_min = (first.sidereal_offset_min - made.meant.sidereal_offset_min + 720.0) % 1440.0 - 720.0
    off_arcmin = 60.0 * (first.latitude_offset_deg - made.meant.latitude_deg)
    return abs(off_min) < SAME_MIN and abs(off_arcmin) < SAME_ARCMIN


def first_among_equals(made: ControllerNight, result: CheckResult) -> bool:
    """Whether the entry at fault is first or one that the stars at hand cannot tell from the first.

    One star leaves two answers: an entry counts that is not ruled out and fits as well.
    """
    if is_first(made, result):
        return True
    first = result.explanations[0]
    return any(
        one.entry == made.entry
        and one.also is None
        and one.verdict != "ruled_out"
        and one.misfit_arcmin < first.misfit_arcmin + 1.0
        for one in result.explanations
    )


def shifts(explanations: tuple[Explanation, ...]) -> int:
    """How many different shifts are predicted by what is not ruled out."""
    found: list[Explanation] = []
    for one in explanations:
        near = any(
            abs(one.sidereal_offset_min - other.sidereal_offset_min) < 0.1
            and abs(one.latitude_offset_deg - other.latitude_offset_deg) < 0.02
            for other in found
        )
        if one.verdict != "ruled_out" and not near:
            found.append(one)
    return len(found)


def one_check(entry: str, stars: int, seed: int) -> Checked:
    """Check one simulated night."""
    made = night(seed, entry, stars=stars)
    before = time.perf_counter()
    result = pm.check(made.log)
    took = time.perf_counter() - before
    best = result.solutions[0]
    truth_min, truth_deg = made.wrong.sidereal_offset_min, made.wrong.latitude_deg
    offset, latitude = best.sidereal_offset_min, best.latitude_offset_deg
    turned = (truth_min - offset.value + 720.0) % 1440.0 - 720.0 + offset.value
    return Checked(
        is_first(made, result) if stars > 2 else first_among_equals(made, result),
        result.verdict == "disagrees",
        shifts(result.explanations),
        result.verdict,
        60.0 * (offset.value - turned),
        60.0 * (latitude.value - truth_deg),
        offset.low <= turned <= offset.high and latitude.low <= truth_deg <= latitude.high,
        (_in_errors(offset, turned), _in_errors(latitude, truth_deg)),
        took,
    )


def _in_errors(found: Estimate, truth: float) -> float:
    """How far off a value is, in standard errors."""
    return (found.value - truth) * 2.0 * NORMAL_95 / (found.high - found.low)


def entries(nights: int, stars: int = 4) -> Iterator[str]:
    """Which entry is at fault."""
    heads = "first  not ruled out  sidereal s (68, 95 %)  latitude ′  held  off/sd  wrongly"
    yield f"{'entry':30} {heads}"
    for entry in ENTRIES:
        yield f"{entry:30} {told(over_nights(partial(one_check, entry, stars), nights))}"


def told(found: list[Checked]) -> str:
    """The figures of some nights in a line."""
    sidereal = np.abs([one.offset_error_s for one in found])
    latitude = np.abs([one.latitude_error_arcmin for one in found])
    return (
        f"{np.mean([one.first for one in found]):.3f}  "
        f"{np.mean([one.not_ruled_out for one in found]):.2f}  "
        f"{np.quantile(sidereal, 0.68):.1f} {np.quantile(sidereal, 0.95):.1f}  "
        f"{np.quantile(latitude, 0.68):.2f} {np.quantile(latitude, 0.95):.2f}  "
        f"{np.mean([one.held for one in found]):.3f}  "
        f"{rms([one.off_in_errors for one in found]):.2f}  "
        f"{np.mean([one.called_wrong for one in found]):.3f}  "
        f"{1000 * np.median([one.seconds for one in found]):.0f} ms"
    )


def few_stars(nights: int) -> Iterator[str]:
    """One and two stars: first among equals."""
    for stars in (1, 2):
        yield f"{stars} star{'s' if stars > 1 else ''}"
        yield from entries(nights, stars)


def one_wrong_name(seed: int) -> tuple[bool, bool, bool]:
    """Four stars, one name wrong: found, named, and no other line accused."""
    entry = ("agrees", "summer_time", "clock", "latitude", "date")[seed % 5]
    made = night(seed, entry, swap_name=True)
    result = pm.check(made.log)
    accused = [star for star in result.stars if star.suspicion == "name"]
    found = any(star.line == made.swapped_line for star in accused)
    named = any(star.probable_target == made.swapped_for for star in accused)
    return found, named, all(star.line == made.swapped_line for star in accused)


def names(nights: int) -> Iterator[str]:
    """A wrong name among four."""
    found = np.array(over_nights(one_wrong_name, nights))
    shares = found.mean(axis=0)
    yield f"wrong name found {shares[0]:.3f}, named {shares[1]:.3f}, no other {shares[2]:.3f}"


def noted_coarsely(log: NightLog, step_s: float, how: str) -> NightLog:
    """The log of someone who notes times to a step, by cutting or rounding them."""
    to_whole = {"cut": np.floor, "rounded": np.rint}[how]
    moments = {
        name: step_s * to_whole(getattr(log, name) / step_s)
        for name in ("time_s", "commanded_time_s")
    }
    return replace(log, **moments)


def one_coarse(entry: str, stars: int, step_s: float, how: str, seed: int) -> tuple[bool, str, str]:
    """Whether the entry at fault comes first, the verdict, and what stands first, of such a log."""
    made = night(seed, entry, stars=stars)
    result = pm.check(noted_coarsely(made.log, step_s, how))
    return is_first(made, result), result.verdict, result.explanations[0].entry


def coarse_times(nights: int) -> Iterator[str]:
    """Times noted to a step: right controllers blamed, wrong entries still first."""
    kinds = [(60.0, "cut"), (60.0, "rounded"), (30.0, "cut"), (10.0, "rounded"), (5.0, "cut")]
    yield "right controllers       blamed  agrees"
    for stars in (1, 2, 4, 8):
        for step_s, how in kinds if stars > 2 else kinds[:2]:
            found = over_nights(partial(one_coarse, "agrees", stars, step_s, how), nights)
            blamed, agrees = (
                np.mean([v == w for _, v, _ in found]) for w in ("disagrees", "agrees")
            )
            yield f"{stars} lines, {step_s:.0f} s {how:8}    {blamed:.4f}  {agrees:.3f}"
    yield "wrong ones, to the minute, cut: first, called"
    for entry in ENTRIES[1:]:
        found = over_nights(partial(one_coarse, entry, 4, 60.0, "cut"), max(nights // 4, 20))
        called = np.mean([verdict == "disagrees" for _, verdict, _ in found])
        yield f"{entry:30} {np.mean([first for first, *_ in found]):.3f}  {called:.3f}"


FILE_SLIPS = ("longitude_sign", "latitude_sign", "exchanged", "latitude", "longitude", "elsewhere")


def misstated(site: dict[str, float], slip: str, rng: np.random.Generator) -> dict[str, float]:
    """The site as a mount file with this slip has it, degrees."""
    latitude, longitude = site["latitude"], site["longitude"]
    off = rng.choice([-1.0, 1.0], 2) * np.exp(rng.uniform(np.log(0.3), np.log(4.0), 2))
    latitude, longitude = {
        "right": (latitude, longitude),
        "longitude_sign": (latitude, -longitude),
        "latitude_sign": (-latitude, longitude),
        "exchanged": (longitude, latitude),
        "latitude": (latitude + off[0], longitude),
        "longitude": (latitude, longitude + off[1]),
        "elsewhere": (latitude + off[0], longitude + off[1]),
    }[slip]
    return {"latitude": latitude, "longitude": longitude}


def one_mount_file(entry: str, slip: str, zone: bool, seed: int) -> tuple[bool, bool] | None:
    """Whether right and wrong side are named, and the right one first; None: no such slip.

    The controller has `entry` wrong and the mount file `slip`. Named: the first explanation, or one
    tied with it. Without `zone` the mount file names no zone, only the log's offset is known.
    """
    made = night(seed, entry)
    true = {"latitude": made.site.latitude_deg, "longitude": made.site.longitude_deg}
    stated = misstated(true, slip, np.random.default_rng([seed, 77]))
    moved = abs(stated["latitude"] - true["latitude"]) + abs(
        stated["longitude"] - true["longitude"]
    )
    if abs(stated["latitude"]) > 89.0 or abs(stated["longitude"]) > 180.0:
        return None
    if slip != "right" and moved < 0.2:
        return None
    site = stated | ({"time_zone": made.site.zone} if zone else {})
    result = pm.check(replace(made.log, mount=pm.read_mount({"site": site})))
    wanted = entry if slip == "right" else "mount_file"
    named = {result.explanations[0].entry, *result.tied}
    named |= {"mount_file"} if "[site] in the mount file" in result.remedy else set()
    return wanted in named, result.explanations[0].entry == wanted


def mount_files(nights: int) -> Iterator[str]:
    """Right mount file and wrong controller, and the other way round: the right one named."""
    yield "                                   named  first, zone stated; named  first, no zone"
    cases = [(entry, "right") for entry in ENTRIES if entry.startswith(("longitude", "latitude"))]
    cases += [("agrees", slip) for slip in FILE_SLIPS]
    for entry, slip in cases:
        told = []
        for zone in (True, False):
            kept = over_nights(partial(one_mount_file, entry, slip, zone), nights)
            found = np.array([one for one in kept if one is not None])
            told.append("  ".join(f"{share:.3f}" for share in found.mean(axis=0)))
        yield f"controller {entry:30} file {slip:15} {'   '.join(told)}  ({len(found)})"


FIGURES: dict[str, Callable[[int], Iterator[str]]] = {
    "entries": entries,
    "few_stars": few_stars,
    "names": names,
    "coarse_times": coarse_times,
    "mount_files": mount_files,
}


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("which", nargs="*", metavar="NAME", help=", ".join(FIGURES))
    parser.add_argument("--nights", type=int, default=200)
    asked = parser.parse_args()
    for name in asked.which or FIGURES:
        for line in FIGURES[name](asked.nights):
            print(line, flush=True)


if __name__ == "__main__":
    main()
