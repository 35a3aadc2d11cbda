"""Simulated evenings after an alignment that went right or wrong, for the statistics of its doctor.

    python -c "from bench.alignments import evening; print(evening(3, 'wrong_star'))"

The telescope is the simulator's chain of rotations; the controller's rotation is scipy's own
(`Rotation.align_vectors`), its altitude zero the root of the stars' separation (`brentq`). Nothing
is shared with the code under test but the star catalogue and the places of date.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from bench.nights import night
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.reading.nightlog import NightLog
from pointmodel.simulation.mount import SimulatedCircumstances, direction, place_deg, readings_deg
from pointmodel.sky.places import Observer, apparent_places, azimuth_altitude
from pointmodel.sky.stars import star_table

What = Literal["right", "wrong_star", "badly_centred", "knocked"]
Kind = Literal["rotation", "altitude_zero"]
Order = Literal["first", "even"]
FIRST_S, THREE_YEARS_S = 1767225600.0, 3 * 365.25 * 86400.0
NOTHING = SimulatedCircumstances(*np.zeros((4, 1)))


@dataclass(frozen=True)
class Evening:
    """A log with its truth: what went wrong, with which of the stated stars, what was centred."""

    log: NightLog
    what: What
    place: int | None
    instead: str | None
    off_deg: float
    stated: tuple[str, ...]


@dataclass(frozen=True)
class _Sky:
    """Stars (n,) by label with their magnitudes, to be placed for a site and a moment."""

    site: Observer

    def directions(self, rows: FloatArray, time_s: float) -> FloatArray:
        table = star_table()
        ra, dec = apparent_places(table.ra_deg[rows], table.dec_deg[rows], time_s)
        return np.stack(direction(*azimuth_altitude(ra, dec, time_s, self.site)), axis=-1)


def evening(
    seed: int,
    what: What,
    pairs: int = 10,
    *,
    kind: Kind = "rotation",
    order: Order = "first",
    solves: str | None = None,
    sigma_arcmin: float | None = None,
    population: str = "usual",
) -> Evening:
    """One evening; `solves` is what its mount file says of the controller's kind."""
    rng = np.random.default_rng([seed, 77])
    table = star_table()
    site = Observer(float(rng.uniform(25, 52) * rng.choice([-1, 1])), float(rng.uniform(-180, 180)))
    sky, start_s = _Sky(site), FIRST_S + rng.uniform(0.0, THREE_YEARS_S)
    drawn = night(rng, population, 2)  # type: ignore[arg-type]
    terms, sigma = dict(drawn.terms), sigma_arcmin or drawn.sigma_arcmin
    bright = np.flatnonzero(table.magnitude <= 2.0)
    rows = _two_apart(rng, bright, sky.directions(bright, start_s))
    centred_rows, place, instead, off = list(rows), None, None, 0.0
    if what == "wrong_star":
        place = int(rng.random() < 0.7)
        near = _near(sky, rows[place], rows, start_s)
        while not near.size:
            rows = _two_apart(rng, bright, sky.directions(bright, start_s))
            near = _near(sky, rows[place], rows, start_s)
        centred_rows = list(rows)
        weight = np.exp(-0.7 * table.magnitude[near])
        centred_rows[place] = int(rng.choice(near, p=weight / weight.sum()))
        instead = table.label[centred_rows[place]]
    moments = start_s + np.array([0.0, 60.0 * rng.uniform(1.0, 4.0)])
    stated = np.array([sky.directions(rows[[k]], moments[k])[0] for k in (0, 1)])
    truly = np.array([sky.directions(np.array([centred_rows[k]]), moments[k])[0] for k in (0, 1)])
    if place is not None:
        off = float(np.degrees(np.arccos(np.clip(stated[place] @ truly[place], -1.0, 1.0))))
    off_arcmin = rng.standard_normal((2, 2)) * sigma
    if what == "badly_centred":
        place, size, way = int(rng.random() < 0.5), rng.uniform(40.0, 120.0), rng.uniform(0.0, 6.28)
        off_arcmin[place], off = size * np.array([np.cos(way), np.sin(way)]), size / 60.0
    read = readings_deg(*place_deg(tuple(truly.T)), terms, NOTHING, *off_arcmin.T)  # type: ignore[arg-type]
    turn, zero_deg = _learnt(stated, *read, kind, order)
    log_s = moments[1] + 60.0 * (rng.uniform(2.0, 20.0) + 3.0 * np.arange(pairs))
    named = _to_log(rng, sky, log_s)
    at = np.array([sky.directions(named[[k]], log_s[k])[0] for k in range(pairs)])
    knocked = Rotation.identity()
    if what == "knocked":
        knocked = Rotation.from_rotvec(np.radians(rng.normal(0.0, [0.7, 0.7, 4.0])))
    met = place_deg(tuple(knocked.apply(at).T))  # type: ignore[arg-type]
    read = readings_deg(*met, terms, NOTHING, *(rng.standard_normal((2, pairs)) * sigma))
    axes = np.stack(direction(read[0], read[1] - zero_deg), axis=-1)
    shown = place_deg(tuple(turn.inv().apply(axes).T))  # type: ignore[arg-type]
    return Evening(
        _log(site, solves, tuple(table.label[r] for r in rows), named, log_s, at, shown),
        what, place, instead, off, tuple(table.label[r] for r in rows),
    )  # fmt: skip


def _two_apart(rng: np.random.Generator, rows: FloatArray, at: FloatArray) -> FloatArray:
    """Two stars 20° to 70° up that stand 50° to 130° apart."""
    up = (at[:, 2] > np.sin(np.radians(20.0))) & (at[:, 2] < np.sin(np.radians(70.0)))
    rows, at = rows[up], at[up]
    cosine = at @ at.T
    fair = np.argwhere((cosine < np.cos(np.radians(50))) & (cosine > np.cos(np.radians(130))))
    return np.asarray(rows[fair[rng.integers(len(fair))]])


def _near(sky: _Sky, row: int, stated: FloatArray, time_s: float) -> FloatArray:
    """Stars to magnitude 3.2 between 1° and 13° from one, the stated ones left out."""
    table = star_table()
    rows = np.flatnonzero(table.magnitude <= 3.2)
    at, here = sky.directions(rows, time_s), sky.directions(np.array([row]), time_s)[0]
    apart = np.degrees(np.arccos(np.clip(at @ here, -1.0, 1.0)))
    near = (apart > 1.0) & (apart < 13.0) & (at[:, 2] > 0.1) & ~np.isin(rows, stated)
    return np.asarray(rows[near])


def _learnt(
    stated: FloatArray, az_deg: FloatArray, alt_deg: FloatArray, kind: Kind, order: Order
) -> tuple[Rotation, float]:
    """The controller's rotation from sky to axes, and its altitude zero in degrees."""
    wanted = float(stated[0] @ stated[1])

    def misfit(zero_deg: float) -> float:
        one, other = np.stack(direction(az_deg, alt_deg - zero_deg), axis=-1)
        return float(one @ other) - wanted

    zero = 0.0
    if kind == "altitude_zero":
        grid = np.linspace(-25.0, 25.0, 101)
        signs = np.sign([misfit(g) for g in grid])
        turns = np.flatnonzero(signs[1:] != signs[:-1])
        if turns.size:
            k = int(turns[np.abs(grid[turns]).argmin()])
            zero = float(brentq(misfit, grid[k], grid[k + 1]))
    read = np.stack(direction(az_deg, alt_deg - zero), axis=-1)
    weights = [np.inf, 1.0] if order == "first" else [1.0, 1.0]
    return Rotation.align_vectors(read, stated, weights=weights)[0], zero


def _to_log(rng: np.random.Generator, sky: _Sky, log_s: FloatArray) -> FloatArray:
    """Stars to magnitude 2.6 that stand 15° to 78° up, a row of the table for each pair."""
    table = star_table()
    bright = np.flatnonzero(table.magnitude <= 2.6)
    at = sky.directions(bright, float(log_s.mean()))
    up = (at[:, 2] > np.sin(np.radians(15.0))) & (at[:, 2] < np.sin(np.radians(78.0)))
    up = bright[up]
    return np.asarray(rng.choice(up, log_s.size, replace=up.size < log_s.size))


def _log(
    site: Observer,
    solves: str | None,
    stated: tuple[str, ...],
    named: FloatArray,
    log_s: FloatArray,
    at: FloatArray,
    shown: tuple[FloatArray, FloatArray],
) -> NightLog:
    """The log as people bring it, figures to 1′, with its mount file."""
    import pandas as pd

    az, alt = place_deg(tuple(at.T))  # type: ignore[arg-type]
    figures = {"commanded_az": az, "commanded_alt": alt, "centred_az": shown[0]}
    figures["centred_alt"] = shown[1]
    frame = pd.DataFrame({
        "target": [star_table().label[row] for row in named],
        "time": pd.to_datetime(np.round(log_s), unit="s", utc=True),
        **{name: np.round(part * 60.0) / 60.0 for name, part in figures.items()},
    })  # fmt: skip
    alignment = {"stars": list(stated)} | ({} if solves is None else {"solves": solves})
    return pm.read_log(frame, {
        "mount": {"readout": "sky"},
        "site": {"latitude": site.latitude_deg, "longitude": site.longitude_deg},
        "alignment": alignment,
    })  # fmt: skip
