"""What taps on a phone are worth: terms, corrected miss, eyepieces that stand otherwise than told.

    OPENBLAS_NUM_THREADS=1 python tests/bench/phone_figures.py habits --nights 60 --taps 8
    OPENBLAS_NUM_THREADS=1 python tests/bench/phone_figures.py doubt --nights 300
    OPENBLAS_NUM_THREADS=1 python tests/bench/phone_figures.py seconds

`habits` plays nights through the phone's door into a session: a person shows the eyepiece by two
presses, goes to stars and taps (`tests/tapping.py` says how well), with one habit or mishap a kind.
The offer of another eyepiece is taken when it comes. `doubt` asks only whether the eyepiece is
doubted, for right and wrong ones, at each count of taps.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.nights import even_targets
from phonefakes import TOLD, entry, phone_beside
from tapping import FIELD_ARCMIN, STILL, TAPPED_TO, TappedNight

from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES
from pointmodel.phone.eyepiece import (
    EyepieceUnclearError,
    Orientation,
    Shift,
    Tap,
    nudge_of,
    orientation_of,
    orientation_seen,
)
from pointmodel.phone.eyepiecedoubt import (
    EyepieceDoubt,
    TappedPairs,
    doubt_of,
    eyepiece_doubt,
    take_offer,
)
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.layout import NamedText
from pointmodel.recording.session import stamp
from pointmodel.simulation.mount import direction, pointed_deg, separation_arcmin
from pointmodel.simulation.night import MountClass

KNOCK_ARCMIN = {
    "tilt_north": 25.0,
    "tilt_east": 25.0,
    "azimuth_index": 30.0,
    "altitude_index": 15.0,
}
NEAR_ENOUGH_DEG = 30.0  # of the true turn, to be called right


@dataclass(frozen=True)
class Habit:
    """What a person does: `mishap` at one star of the night, by its number; `told` of the eyepiece.

    `told` makes of what the presses show what the phone is told; `side` is where one looks in.
    """

    name: str
    told: Callable[[Orientation], Orientation] = lambda shown: shown
    mishap: Callable[[TappedNight, str], None] | None = None
    presses_centred: bool = False
    stands: Callable[[Orientation], Orientation] = lambda stands: stands


def _wrong_side(night: TappedNight, star: str) -> None:
    seen = dict(night.seen(star))
    night.tap(star, **{**seen, "x": -seen["x"]})


def _twice(night: TappedNight, star: str) -> None:
    seen = dict(night.seen(star))
    night.phone.send(entry("tap", target=star, **seen), entry("tap", target=star, **seen))


def _wrong_star(night: TappedNight, star: str) -> None:
    around, out = night.rng.uniform(0.0, 2.0 * np.pi), np.sqrt(night.rng.uniform(0.0, 1.0))
    night.tap(
        star, x=round(float(out * np.cos(around)), 3), y=round(float(out * np.sin(around)), 3)
    )


def _knock(night: TappedNight, star: str) -> None:
    for name, spread in KNOCK_ARCMIN.items():
        night.terms[name] += spread * float(night.rng.normal())
    night.tap(star)


def _turned(night: TappedNight, star: str) -> None:
    night.stands = night.stands.turned(float(night.rng.choice([90.0, 180.0, 270.0])))
    night.tap(star)


HABITS = (
    Habit("as shown by two presses"),
    Habit("presses centred already", presses_centred=True),
    Habit("right pressed for left", lambda shown: shown.turned(0.0, exchanged=True)),
    Habit("up pressed for down", lambda shown: shown.turned(180.0, exchanged=True)),
    Habit("one tap on the wrong side", mishap=_wrong_side),
    Habit("one star tapped twice", mishap=_twice),
    Habit("one wrong star in the circle", mishap=_wrong_star),
    Habit("knocked, nothing said", mishap=_knock),
    Habit("diagonal turned, nothing said", mishap=_turned),
    Habit(
        "at the side, not told",
        lambda shown: Orientation(shown.turn_deg, shown.mirrored),
        stands=lambda stands: Orientation(stands.turn_deg, False, "left"),
    ),
    Habit(
        "at the side, told",
        lambda shown: shown,
        stands=lambda stands: Orientation(stands.turn_deg, False, "left"),
    ),
)


@dataclass(frozen=True)
class Played:
    """Of one night: which intervals held, the miss with corrections, what was said of the eyepiece.

    `taken` is whether an offer was taken, `right` whether the eyepiece is known rightly at the end.
    """

    held: tuple[bool, ...]
    miss_arcmin: float
    before_arcmin: float
    doubted: bool
    taken: bool
    right: bool


def shown(rng: np.random.Generator, stands: Orientation, alt_deg: float) -> Orientation:
    """What two presses show, tried again until they tell; the star starts near the rim."""
    across, above = stands.matrices(np.array([alt_deg]))[0].T
    while True:
        lengths = rng.uniform(1.0, 1.5, 2)
        spots = [0.7 * across, 0.7 * across - lengths[0] * across]
        spots += [0.7 * above, 0.7 * above - lengths[1] * above]
        tapped = [spot + 2.0 * TAPPED_TO * rng.normal(size=2) for spot in spots]
        (a, b), (c, d), (e, f), (g, h) = ((float(x), float(y)) for x, y in tapped)
        with contextlib.suppress(EyepieceUnclearError):
            found = orientation_seen(Shift((a, b), (c, d)), Shift((e, f), (g, h))).orientation
            return found.on_side(stands.side, alt_deg)


@contextlib.contextmanager
def a_night(
    rng: np.random.Generator, stands: Orientation, told: Orientation, population: MountClass
) -> Iterator[TappedNight]:
    """A night in a folder of its own."""
    said = {"turn": told.turn_deg, "mirrored": told.mirrored, "side": told.side}
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "night.csv")
        with phone_beside(path, {**TOLD, "eyepiece": said}) as phone:
            yield TappedNight(phone, rng, stands, population)


def play(habit: Habit, taps: int, population: MountClass, seed: int) -> Played:
    """One night through the phone's door."""
    rng = np.random.default_rng([seed, taps, 15])
    stands = habit.stands(Orientation(float(rng.uniform(0.0, 360.0)), bool(rng.integers(2))))
    told = habit.told(shown(rng, stands, 45.0))
    with a_night(rng, stands, told, population) as night:
        session = night.phone.session
        at = int(rng.integers(2, taps - 2))
        offsets, doubted, taken = [], False, False
        for number, star in enumerate(rng.choice(night.names(), taps, replace=False).tolist()):
            offsets.append(night.offset_arcmin(star))
            one_star(habit, night, star, number == at)
            if doubt := eyepiece_doubt(session):
                doubted = True
                taken = take_offer(session, doubt) > 0 or taken
        known = orientation_of(session.mount.eyepiece)
        assert known is not None
        return Played(
            held=held_of(night),
            miss_arcmin=miss_of(night),
            before_arcmin=float(np.sqrt(np.mean(np.square(offsets).sum(axis=1)))),
            doubted=doubted,
            taken=taken,
            right=stands_right(known, night.stands),
        )


def one_star(habit: Habit, night: TappedNight, star: str, is_the_one: bool) -> None:
    """Go to a star and tap it, as the habit has it."""
    off = night.offset_arcmin(star)
    if habit.mishap is not None and is_the_one:
        habit.mishap(night, star)
    elif habit.presses_centred and np.hypot(*off) < TAPPED_TO * FIELD_ARCMIN:
        night.phone.send(entry("centred", target=star))
        night.phone.clock.now_s += 180.0
    else:
        night.tap(star)


def stands_right(known: Orientation, stands: Orientation) -> bool:
    """Whether an eyepiece is known as it stands, nearly, with the tube at 45°."""
    there, here = known.at(45.0), stands.at(45.0)
    apart = abs((there.turn_deg - here.turn_deg + 180.0) % 360.0 - 180.0)
    return there.mirrored == here.mirrored and apart <= NEAR_ENOUGH_DEG


def held_of(night: TappedNight) -> tuple[bool, ...]:
    """Whether the interval of each of the six terms holds the truth."""
    fit = night.phone.session.fit
    assert fit is not None
    estimates = fit.term_estimates[:N_STANDARD]
    truth = (night.terms[name] for name in STANDARD_NAMES)
    return tuple(bool(e.low <= t <= e.high) for e, t in zip(estimates, truth, strict=True))


def miss_of(night: TappedNight) -> float:
    """The RMS miss over the sky with the corrections, scatter left out, arcminutes."""
    fit, targets = night.phone.session.fit, even_targets(160)
    assert fit is not None
    landed = pointed_deg(*fit.aim(*targets), night.terms, STILL)
    miss = separation_arcmin(direction(*landed), direction(*targets))
    return float(np.sqrt(np.nanmean(miss**2)))


def habits(nights: range, taps: int, workers: int, only: str) -> Iterator[str]:
    """Coverage, miss and what was said of the eyepiece, for each habit."""
    yield f"{'habit':32}held   miss: median, 9 in 10  (before)  doubted  taken  right at the end"
    for habit in HABITS:
        if only not in habit.name:
            continue
        with ProcessPoolExecutor(workers) as pool:
            jobs = [pool.submit(_play_named, habit.name, taps, seed) for seed in nights]
            played = [job.result() for job in jobs]
        miss = np.array([one.miss_arcmin for one in played])
        before = np.median([one.before_arcmin for one in played])
        shares = [np.mean([getattr(p, n) for p in played]) for n in ("doubted", "taken", "right")]
        yield (
            f"{habit.name:32}{np.mean([one.held for one in played]):.3f}  {np.median(miss):5.2f}′ "
            f"{np.quantile(miss, 0.9):5.2f}′  ({before:.0f}′)  "
            + "  ".join(f"{share:.3f}" for share in shares)
        )


def _play_named(name: str, taps: int, seed: int) -> Played:
    habit = next(one for one in HABITS if one.name == name)
    return play(habit, taps, "usual", seed)


WRONG = {
    "right": (0.0, False), "exchanged": (0.0, True), "exchanged, upside down": (180.0, True),
    "upside down": (180.0, False), "a quarter turn": (90.0, False),
}  # fmt: skip
COUNTS = (5, 6, 7, 8, 10, 12)
SPOILT = ("nothing", "knocked", "a wrong star", "a tap on the wrong side", "loosely tapped")


def doubts(population: MountClass, spoilt: str, seed: int) -> dict[str, list[EyepieceDoubt | None]]:
    """What is said at each count of taps, of a right eyepiece and of wrong ones, in one night.

    The terms about which all is linear are the true ones.
    """
    rng = np.random.default_rng([seed, 16])
    stands = Orientation(float(rng.uniform(0.0, 360.0)), bool(rng.integers(2)))
    with a_night(rng, stands, stands, population) as night:
        night.tapped_to = 0.1 if spoilt == "loosely tapped" else TAPPED_TO
        terms = np.array([night.terms[name] for name in STANDARD_NAMES])
        taps, at = [], int(rng.integers(2, COUNTS[-1] - 2))
        for number, star in enumerate(
            rng.choice(night.names(), COUNTS[-1], replace=False).tolist()
        ):
            if spoilt == "knocked" and number == at:
                for name, spread in KNOCK_ARCMIN.items():
                    night.terms[name] += spread * float(rng.normal())
            seen = dict(night.seen(star))
            if spoilt == "a tap on the wrong side" and number == at:
                seen["x"] = -seen["x"]
            if spoilt == "a wrong star" and number == at:
                seen |= {"x": float(rng.uniform(-0.8, 0.8)), "y": float(rng.uniform(-0.8, 0.8))}
            taps.append((star, stamp(night.phone.clock(), night.phone.session.mount), seen))
            night.phone.clock.now_s += 180.0
        return {
            name: [
                doubt_of(told_so(night, taps[:count], stands.turned(turn, mirror)), terms)
                for count in COUNTS
            ]
            for name, (turn, mirror) in WRONG.items()
        }


def told_so(night: TappedNight, taps: list[Any], told: Orientation) -> TappedPairs:
    """The pairs that a log would hold whose eyepiece is told to stand so."""
    spots = [Tap(**seen) for _, _, seen in taps]
    nudges = [nudge_of(spot, told, FIELD_ARCMIN) for spot in spots]
    lines = [
        f"{star},{moment},{nudge.right_text},{nudge.up_text}"
        for (star, moment, _), nudge in zip(taps, nudges, strict=True)
    ]
    text = "\n".join(["target,time,nudge_right,nudge_up", *lines, ""]).encode()
    fields = np.array([[spot.fields_right, spot.fields_up] for spot in spots])
    return TappedPairs(
        log=read_log(NamedText(text, "night"), night.phone.session.mount),
        stated=told,
        field_arcmin=FIELD_ARCMIN,
        by_tap=np.ones(len(taps), dtype=bool),
        tapped_arcmin=0.5 * FIELD_ARCMIN * np.array([[spot.x, spot.y] for spot in spots]),
        moved_arcmin=FIELD_ARCMIN * fields,
        entry_ids=tuple(f"{number:016x}" for number in range(len(taps))),
    )


def doubt(nights: range, workers: int, populations: tuple[MountClass, ...]) -> Iterator[str]:
    """How often a right eyepiece is doubted at any tap, and a wrong one at each count."""
    yield f"a right eyepiece doubted at any tap; wrong ones doubted at {COUNTS} taps (offer wrong)"
    for population in populations:
        for spoilt in SPOILT:
            with ProcessPoolExecutor(workers) as pool:
                jobs = [pool.submit(doubts, population, spoilt, seed) for seed in nights]
                said = [job.result() for job in jobs]
            false = np.mean([any(one["right"]) for one in said])
            yield f"{population}, {spoilt}: {false:.4f} of {len(nights)} nights"
            for name in list(WRONG)[1:]:
                found = np.mean(
                    [[one is not None for one in night[name]] for night in said], axis=0
                )
                offers = [one.offer for night in said for one in night[name] if one is not None]
                sides = np.mean([one is not None and one.side != "back" for one in offers] or [0.0])
                none = np.mean([one is None for one in offers] or [0.0])
                shares = " ".join(f"{share:.3f}" for share in found)
                yield f"  {name:24} {shares}  without an offer {none:.3f}, of a side {sides:.3f}"


def seconds(times: int) -> Iterator[str]:
    """How long it takes to ask, after so many taps."""
    rng = np.random.default_rng(1)
    stands = Orientation(30.0, mirrored=True)
    for taps in (5, 8, 16, 60):
        with a_night(rng, stands, stands, "usual") as night:
            names = night.names()
            for number in range(taps):
                night.tap(names[number % len(names)])
            taken = []
            for _ in range(times):
                start = time.perf_counter()
                eyepiece_doubt(night.phone.session)
                taken.append(time.perf_counter() - start)
        least, middle = 1e3 * min(taken), 1e3 * float(np.median(taken))
        yield f"{taps} taps: {least:.1f} ms least, {middle:.1f} ms median"


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser()
    asked.add_argument("what", choices=("habits", "doubt", "seconds"))
    asked.add_argument("--nights", type=int, default=60)
    asked.add_argument("--first-seed", type=int, default=0)
    asked.add_argument("--taps", type=int, default=8)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--only", default="")
    told = asked.parse_args()
    nights = range(told.first_seed, told.first_seed + told.nights)
    lines = {
        "habits": lambda: habits(nights, told.taps, told.workers, told.only),
        "doubt": lambda: doubt(nights, told.workers, ("usual", "varied", "worse")),
        "seconds": lambda: seconds(20),
    }[told.what]
    for line in lines():
        print(line, flush=True)


if __name__ == "__main__":
    main()
