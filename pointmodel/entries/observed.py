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
from pointmodel.estimate.rounding import readout_step_arcsec
from pointmodel.mount.terms import refraction_lift_arcmin
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.places import Observer, catalogue_places
from pointmodel.sky.targets import Target, look_up, target_places

if TYPE_CHECKING:
    from pointmodel.reading.nightlog import NightLog

MOST_PAIRS = 300  # more of them cannot make the answer better in any way that matters
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
    lifts = (np.zeros_like(alt_deg), lift_within_arcmin(alt_deg) / 60.0)
    return Observed(
        pair=pair,
        targets=chosen,
        time_s=time_s,
        ra_deg=np.stack([ra_deg, old_ra_deg]),
        dec_deg=np.stack([dec_deg, old_dec_deg]),
        commanded=np.stack([direction_vectors(az_deg, alt_deg - lift) for lift in lifts]),
        sidereal_deg=sidereal_time_deg(time_s) + observer.longitude_deg,
        moving=np.array([target.ra_deg is None for target in chosen], dtype=bool),
        step_arcmin=readout_step_arcsec(np.concatenate([az_deg, alt_deg])) / 60.0,
    )


def lift_within_arcmin(lifted_alt_deg: FloatArray) -> FloatArray:
    """The air's lift that is within altitudes already lifted, arcminutes; usual air."""
    lift = np.zeros_like(lifted_alt_deg)
    for _ in range(_LIFT_STEPS):
        lift = refraction_lift_arcmin(lifted_alt_deg - lift / 60.0)
    return lift
