"""Which pairs of a log can tell what the controller believes, and where their targets truly stand.

A pair counts when its target is known by name, and its moment and place are. The moment is that of
the go-to where it was logged (`commanded_time`), else that of the centring.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.times import FINEST_RESOLUTION_S
from pointmodel.estimate.rounding import readout_step_arcsec
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import catalogue_places
from pointmodel.sky.targets import Target, look_up, target_places

if TYPE_CHECKING:
    from pointmodel.reading.nightlog import NightLog

SECONDS_A_MINUTE, MINUTES_A_DEGREE = 60.0, 4.0
MOST_PAIRS = 300  # a choice: by then what all stars have in common outweighs the rest
OF_DATE, J2000 = 0, 1
PLAIN, LIFTED = 0, 1
_LIFT_STEPS = 3


@dataclass(frozen=True, eq=False)
class Observed:
    """The pairs that count, n of them, and the two ways to compute and to show a place.

    `pair` (n,) are positions in the log. Places of targets are (2, n), of date and of J2000;
    `commanded` (2, n, 3) are unit vectors (north, east, up) of the commanded places, taken as they
    stand and with the air's lift taken off. `sidereal_deg` is the true local one. `moving`: Sun,
    Moon and planets, whose places depend on the controller's own date.

    `resolution_min` is how coarsely the moments were written, minutes; 0 for seconds, which nobody
    reads off a phone any better. A moment noted to a step was cut to it (the true one is later, by
    half a step on average) or rounded: `sidereal_deg` belongs to the middle of the two habits.
    """

    pair: NDArray[np.int64]
    targets: tuple[Target, ...]
    time_s: FloatArray
    ra_deg: FloatArray
    dec_deg: FloatArray
    commanded: FloatArray
    sidereal_deg: FloatArray
    moving: BoolArray
    step_arcmin: float
    resolution_min: float = 0.0

    @property
    def moment_sd_min(self) -> float:
        """What each line's moment is off by on its own, one sd, minutes: step² / 12.

        Variance of an even spread over the step (any handbook of statistics).
        """
        return self.resolution_min / float(np.sqrt(12.0))

    @property
    def habit_sd_min(self) -> float:
        """What all moments are off by alike, one sd, minutes: a quarter step either way.

        Cut: half a step early. Rounded: not early. Both are as common as each other (a choice).
        """
        return self.resolution_min / 4.0

    def __len__(self) -> int:
        """Number of pairs that count."""
        return len(self.targets)


def moments_s(log: NightLog) -> FloatArray:
    """When each commanded place was true, POSIX seconds (n,): at the go-to, else the centring."""
    return log.noted_places[2]


def known_targets(log: NightLog) -> tuple[Target | None, ...]:
    """The target of each line, None where the name is no known one."""
    found = {name: look_up(name) if name else None for name in set(log.target)}
    return tuple(found[name] for name in log.target)


def observe(log: NightLog, targets: tuple[Target | None, ...], observer: Observer) -> Observed:
    """The pairs of a log that count, seen from the observer's site; none may be left."""
    az_deg, alt_deg, time_s = log.noted_places
    usable = np.array([target is not None for target in targets], dtype=bool) & np.isfinite(time_s)
    pair = np.flatnonzero(usable)
    if pair.size > MOST_PAIRS:
        pair = pair[np.linspace(0, pair.size - 1, MOST_PAIRS).astype(int)]
    chosen = tuple(target for k in pair.tolist() if (target := targets[k]) is not None)
    az_deg, alt_deg, time_s = az_deg[pair], alt_deg[pair], time_s[pair]
    ra_deg, dec_deg = target_places(chosen, time_s, observer)
    old_ra_deg, old_dec_deg = catalogue_places(ra_deg, dec_deg, time_s)
    resolution_min = coarse_resolution_min(log.time_resolution_s)
    lifts = (np.zeros_like(alt_deg), lift_within_arcmin(alt_deg) / 60.0)
    return Observed(
        pair=pair,
        targets=chosen,
        time_s=time_s,
        ra_deg=np.stack([ra_deg, old_ra_deg]),
        dec_deg=np.stack([dec_deg, old_dec_deg]),
        commanded=np.stack([direction_vectors(az_deg, alt_deg - lift) for lift in lifts]),
        sidereal_deg=(
            sidereal_time_deg(time_s)
            + observer.longitude_deg
            + resolution_min / 4.0 / MINUTES_A_DEGREE
        ),
        moving=np.array([target.ra_deg is None for target in chosen], dtype=bool),
        step_arcmin=readout_step_arcsec(np.concatenate([az_deg, alt_deg])) / 60.0,
        resolution_min=resolution_min,
    )


def coarse_resolution_min(resolution_s: float | None) -> float:
    """How coarsely moments were written, minutes; 0 where it was to the second."""
    if resolution_s is None or resolution_s <= FINEST_RESOLUTION_S:
        return 0.0
    return resolution_s / SECONDS_A_MINUTE


def lift_within_arcmin(lifted_alt_deg: FloatArray) -> FloatArray:
    """The air's lift that is within altitudes already lifted, arcminutes; usual air."""
    lift = np.zeros_like(lifted_alt_deg)
    for _ in range(_LIFT_STEPS):
        lift = refraction_lift_arcmin(lifted_alt_deg - lift / 60.0)
    return lift
