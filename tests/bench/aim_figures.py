"""How far from stars asked for by name the corrected commands land, whatever the controller holds.

    python tests/bench/aim_figures.py [--nights 200]

Every night from a seed of its own: a usual mount at a site in any quadrant, twelve named stars, and
a controller that is right, has its clock an hour or some minutes wrong, or leaves refraction out.
Targets are bright stars up an hour later that were not in the log.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

import pointmodel as pm
from pointmodel.base.angles import separation_arcmin
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.simulation.mount import readings_deg
from pointmodel.simulation.sky import bright_stars
from pointmodel.sky.places import azimuth_altitude
from pointmodel.sky.targets import find_target, target_places

SITES = ((-41.3, 146.2), (52.1, -1.3), (33.4, -111.9), (-30.2, -70.7), (1.3, 103.8))
CONTROLLERS: dict[str, dict[str, Any]] = {
    "right": {},
    "summer time": {"sidereal_error_min": -60.164},
    "clock": {"sidereal_error_min": 7.0},
    "latitude": {"latitude_error_deg": -0.8},
    "no refraction": {"terms": {"refraction": 1.0}},
}
TARGETS, LATER_S = 5, 3600.0


@dataclass(frozen=True)
class Landed:
    """Misses of aimed targets, arcminutes (n,), with what was promised of each."""

    miss_arcmin: np.ndarray
    rms_arcmin: np.ndarray
    p95_arcmin: np.ndarray

    @property
    def within_p95(self) -> float:
        """Share of misses within what was called the 95th percentile."""
        return float(np.mean(self.miss_arcmin <= self.p95_arcmin))

    @property
    def over_promised(self) -> float:
        """RMS miss over the RMS promised."""
        return float(np.sqrt(np.mean(self.miss_arcmin**2) / np.mean(self.rms_arcmin**2)))


def landed(controller: str, nights: int, first_seed: int = 0) -> Landed:
    """Aim on so many nights with that controller, and see where the mount lands."""
    parts = [_one_night(controller, first_seed + k) for k in range(nights)]
    return Landed(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _one_night(controller: str, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng([seed, 7])
    latitude, longitude = SITES[seed % len(SITES)]
    start_s = 1924992000.0 + 86400.0 * int(rng.integers(365)) - longitude * 240.0 + 10 * 3600
    mount = pm.read_mount({"site": {"latitude": latitude, "longitude": longitude}})
    start = datetime.fromtimestamp(start_s, UTC).isoformat()
    night = pm.simulate(seed=seed, mount=mount, start=start, **CONTROLLERS[controller])
    lifts = 1.0 - night.terms["refraction"]
    at_s = float(night.time_s[-1]) + LATER_S
    observer = mount.observer
    assert observer is not None
    names = [name for name in bright_stars()[0] if name not in night.target]
    places = target_places([find_target(name) for name in names], at_s, observer)
    az_deg, alt_deg = azimuth_altitude(*places, at_s, observer)
    up = rng.permutation(np.flatnonzero((alt_deg > 20) & (alt_deg < 75)))[:TARGETS]
    result = pm.aim(
        pm.fit(night.log), [names[k] for k in up], at=datetime.fromtimestamp(at_s, UTC).isoformat()
    )
    sent = [k for k, target in enumerate(result.targets) if target.command_az_deg is not None]
    told = [result.targets[k] for k in sent]
    az_deg, alt_deg = az_deg[up[sent]], alt_deg[up[sent]]
    air = refraction_lift_arcmin(alt_deg, mount.pressure_hpa, mount.temperature_c)
    last = {
        name: np.broadcast_to(getattr(night.circumstances, name)[-1], az_deg.shape)
        for name in ("az_motion", "alt_motion", "hours", "slipped")
    }
    at = replace(night.circumstances, **last)
    true_az, true_alt = readings_deg(az_deg, alt_deg + lifts * air / 60, night.terms, at)
    off_x, off_y = rng.normal(0.0, night.scatter_arcmin, (2, az_deg.size))
    miss = separation_arcmin(
        np.array([t.command_az_deg for t in told]) + off_x / 60 / np.cos(np.radians(true_alt)),
        np.array([t.command_alt_deg for t in told]) + off_y / 60,
        true_az,
        true_alt,
    )
    return (
        miss,
        np.array([t.miss_rms_arcmin for t in told]),
        np.array([t.p95_arcmin for t in told]),
    )


def main() -> None:
    """Measure every kind of controller and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--nights", type=int, default=200)
    nights = parser.parse_args().nights
    for controller in CONTROLLERS:
        found = landed(controller, nights)
        print(
            f"{controller:14} {found.miss_arcmin.size} targets: median miss "
            f"{np.median(found.miss_arcmin):.2f}′, within p95 {found.within_p95:.3f}, "
            f"RMS over promised {found.over_promised:.2f}"
        )


if __name__ == "__main__":
    main()
