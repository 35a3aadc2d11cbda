"""What the remark after a pair is worth, and how long it takes: measured here with many nights.

OPENBLAS_NUM_THREADS=1 python tests/bench/record_figures.py [--nights 300]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import night

from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.recording.entriesdoubt import entries_doubt
from pointmodel.recording.layout import NamedText
from pointmodel.recording.logfile import open_log
from pointmodel.recording.names import BelievedSky, bright_names, overhead
from pointmodel.recording.remark import judge
from pointmodel.recording.session import Session, stamp
from pointmodel.simulation.night import MountClass

SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
NIGHT_S = 1936782270.0  # an evening in May 2031 there


@dataclass(frozen=True)
class Verdicts:
    """Shares of last pairs that were said to fit, not to fit, and that nothing was said of."""

    fit: float
    misfit: float
    silent: float


def with_last_off(log: NightLog, off_arcmin: float, toward_deg: float) -> NightLog:
    """A log whose last pair was centred so far from its star, toward this side on the sky."""
    az, alt = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    side = np.radians(toward_deg)
    az[-1] += off_arcmin / 60.0 * np.cos(side) / np.cos(np.radians(alt[-1]))
    alt[-1] += off_arcmin / 60.0 * np.sin(side)
    return replace(log, centred_az_deg=az, centred_alt_deg=alt)


def knocked_log(pairs: int, after: int, lean_arcmin: float = 40.0, seed: int = 1) -> NightLog:
    """A usual night with the base knocked toward the north after so many pairs, unnoted."""
    lean = {"tilt_north": lean_arcmin}
    still = night(np.random.default_rng(seed), "usual", pairs, terms={"tilt_north": 0.0}).log
    knocked = night(np.random.default_rng(seed), "usual", pairs, terms=lean).log
    before = np.arange(pairs) < after
    return replace(
        still,
        centred_az_deg=np.where(before, still.centred_az_deg, knocked.centred_az_deg),
        centred_alt_deg=np.where(before, still.centred_alt_deg, knocked.centred_alt_deg),
    )


def verdicts(
    seed: int, nights: int, pairs: int, off_arcmin: float, population: MountClass = "varied"
) -> Verdicts:
    """What is said of the last of so many pairs, off by so much, over many nights."""
    rng = np.random.default_rng(seed)
    said = []
    for _ in range(nights):
        log = night(rng, population, pairs, high_alt_deg=75.0).log
        _, remark = judge(with_last_off(log, off_arcmin, rng.uniform(0.0, 360.0)), None, 0.0)
        said.append(remark.fits)
    return Verdicts(*(float(np.mean([s is word for s in said])) for word in (True, False, None)))


def share_in_doubt(
    seed: int, nights: int, stars: int, ahead_min: float, late_s: float = 10.0
) -> float:
    """Share of nights on which so many stars cast doubt on the controller's clock, set ahead.

    Its places are noted to the minute of arc, up to `late_s` seconds before the moment that is
    logged.
    """
    rng = np.random.default_rng(seed)
    doubts = [entries_doubt(_log_of_a_clock(rng, stars, ahead_min, late_s)) for _ in range(nights)]
    return float(np.mean([doubt is not None for doubt in doubts]))


def _log_of_a_clock(
    rng: np.random.Generator, stars: int, ahead_min: float, late_s: float
) -> NightLog:
    """Some bright stars as a controller has them whose sidereal clock is so far ahead."""
    latitude, longitude = float(rng.uniform(-50.0, 55.0)), float(rng.uniform(-180.0, 180.0))
    site = {"latitude": latitude, "longitude": longitude, "utc_offset": "+00:00"}
    mount, start_s = read_mount({"site": site}), NIGHT_S + float(rng.uniform(0.0, 3e7))
    rows = ["target,time,commanded_az,commanded_alt,centred_az,centred_alt"]
    for name in rng.permutation(bright_names()[5:60]):
        at_s = start_s + 120.0 * len(rows)
        noted_s = at_s - float(rng.uniform(0.0, late_s))
        place = overhead(name, mount, noted_s, BelievedSky(ahead_min, 0.0))
        if place is not None and 20.0 < place.alt_deg < 80.0 and len(rows) <= stars:
            az, alt = round(place.az_deg * 60.0) / 60.0, round(place.alt_deg * 60.0) / 60.0
            centred = f"{(az + 0.3) % 360.0:.5f},{alt + 0.2:.5f}"
            rows.append(f"{name},{stamp(at_s, mount)},{az:.5f},{alt:.5f},{centred}")
    return read_log(NamedText(("\n".join(rows) + "\n").encode(), "clock.csv"), mount)


def seconds_to_the_answer(seed: int, pairs: int, repeats: int) -> np.ndarray:
    """Seconds (repeats, 2) from a pair's cells to its remark: by the clock, and of the processor.

    The first is answered with so many pairs in the log before it; the site is known.
    """
    log = night(np.random.default_rng(seed), "usual", pairs + repeats).log
    names = ("commanded_az", "commanded_alt", "centred_az", "centred_alt")
    figures = np.stack([getattr(log, f"{name}_deg") for name in names], axis=1)
    rows = [[f"{figure:.4f}" for figure in row] for row in figures.tolist()]
    taken = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "night.csv"
        path.write_text("\n".join(map(",".join, [names, *rows[:pairs]])) + "\n")
        file = open_log(path)
        try:
            session = Session(file, str(path), read_mount({"site": SITE}), NIGHT_S)
            session.next_step(NIGHT_S)  # as at the start of a recording that goes on
            for row in rows[pairs:]:
                start = np.array([time.perf_counter(), time.process_time()])
                session.keep(dict(zip(names, row, strict=True)), NIGHT_S)
                taken.append([time.perf_counter(), time.process_time()] - start)
        finally:
            file.close()
    return np.array(taken)


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--nights", type=int, default=300)
    nights = asked.parse_args().nights
    for pairs in (4, 8, 20, 60):
        taken = 1e3 * seconds_to_the_answer(1, pairs, 20)
        median, worst = np.median(taken, axis=0), taken.max(axis=0)
        print(
            f"answer from {pairs} pairs on: median {median[0]:.1f} ms, worst {worst[0]:.1f} ms; "
            f"of the processor {median[1]:.1f} ms and {worst[1]:.1f} ms"
        )
    for stars in (2, 3):
        for ahead, late in ((0.0, 0.0), (0.0, 40.0), (2.0, 10.0), (4.0, 10.0), (60.16, 10.0)):
            share = share_in_doubt(stars, nights, stars, ahead, late)
            print(f"{stars} stars, clock {ahead:.0f} min ahead, {late:.0f} s late: {share:.3f}")
    for pairs in (2, 3, 4, 6, 8, 12):
        for off in (0.0, 5.0, 12.0, 60.0, 600.0):
            found = verdicts(pairs, nights, pairs, off)
            print(
                f"{pairs:3d} pairs, last off by {off:5.0f}′: fits {found.fit:.3f}, "
                f"does not {found.misfit:.3f}, cannot tell {found.silent:.3f}"
            )


if __name__ == "__main__":
    main()
