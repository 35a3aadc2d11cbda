"""Line by line: was the mount sent to the star that the log names, and was that star centred?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import FloatArray
from pointmodel.entries.believed import EntrySolution
from pointmodel.entries.observed import Observed
from pointmodel.entries.probable import place_held, probable_star
from pointmodel.entries.separations import Centred, compare_separations
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import apparent_places

if TYPE_CHECKING:
    from pointmodel.reading.nightlog import NightLog

WRONG_NAME_ARCMIN = 30.0  # a choice: far outside every controller's own errors
# Choices: a commanded place is known to arcminutes, a centred one through a mount of unknown shape.
NAME_RADIUS_ARCMIN, CENTRED_RADIUS_ARCMIN = 10.0, 90.0
Suspicion = Literal["name", "centred"]


@dataclass(frozen=True)
class StarCheck:
    """One line: by how much its separations from the others are off, and what it may have been.

    `separation_misfit_arcmin` compares readouts with commands where stars were centred, commands
    with the named stars else; None where there is nothing to compare with. `suspicion`: "name"
    where the mount was sent to another star than the log names, "centred" where another star was
    centred. `where` is the probable star's place as seen from the named one.
    """

    line: int
    target: str
    separation_misfit_arcmin: float | None
    commanded_miss_arcmin: float
    suspicion: Suspicion | None
    probable_target: str | None
    where: str | None


def check_stars(
    night: NightLog, observed: Observed, best: EntrySolution, observer: Observer
) -> tuple[StarCheck, ...]:
    """Every line that counts, under the likeliest solution."""
    centred = _centred_by_segment(night, observed)
    found = []
    for row, pair in enumerate(observed.pair.tolist()):
        miss = float(best.miss_arcmin[row])
        misfit = miss if len(observed) > 1 else None
        suspicion: Suspicion | None = None
        direction, radius = observed.commanded[best.mode.lifted][row], NAME_RADIUS_ARCMIN
        if best.good.sum() >= 2 and not best.good[row] and miss > WRONG_NAME_ARCMIN:
            suspicion = "name" if not observed.moving[row] else None
        elif row in centred:
            told, place = centred[row]
            misfit = float(told.misfit_arcmin[place])
            if told.suspect[place]:
                suspicion, radius = "centred", CENTRED_RADIUS_ARCMIN
                direction = None if told.directions is None else told.directions[place]
        star, where = None, None
        if suspicion is not None and direction is not None:
            star, where = _probable(
                observed, best, row, observer, direction=direction, radius_arcmin=radius
            )
        name = night.target[pair] or observed.targets[row].name
        found.append(
            StarCheck(
                line=int(night.line[pair]),
                target=name,
                separation_misfit_arcmin=misfit,
                commanded_miss_arcmin=miss,
                suspicion=suspicion,
                probable_target=star,
                where=where,
            )
        )
    return tuple(found)


def _centred_by_segment(night: NightLog, observed: Observed) -> dict[int, tuple[Centred, int]]:
    """Comparison and place in it of each row that was centred; events begin new segments."""
    starts = sorted({event.before_pair for event in night.events})
    segment = np.searchsorted(starts, observed.pair, side="right")
    both = night.has_both[observed.pair]
    found: dict[int, tuple[Centred, int]] = {}
    for one in np.unique(segment[both]).tolist():
        rows = np.flatnonzero(both & (segment == one))
        if rows.size < 2:
            continue
        pairs = observed.pair[rows]
        commanded = direction_vectors(night.commanded_az_deg[pairs], night.commanded_alt_deg[pairs])
        told = compare_separations(
            commanded, night.centred_az_deg[pairs], night.centred_alt_deg[pairs]
        )
        found |= {row: (told, place) for place, row in enumerate(rows.tolist())}
    return found


def _probable(
    observed: Observed,
    best: EntrySolution,
    row: int,
    observer: Observer,
    *,
    direction: FloatArray,
    radius_arcmin: float,
) -> tuple[str | None, str | None]:
    """Name of the star in a direction of the controller's sky, and where it stands."""
    time_s = float(observed.time_s[row])
    ra_deg, dec_deg = place_held(
        direction,
        best.sidereal_offset_min,
        best.latitude_arcmin / 60.0,
        float(observed.sidereal_deg[row]),
    )
    if best.mode.places != 0:
        ra, dec = apparent_places(ra_deg, dec_deg, time_s)
        ra_deg, dec_deg = float(ra), float(dec)
    named = observed.targets[row]
    star = probable_star(ra_deg, dec_deg, time_s, observer, named, radius_arcmin=radius_arcmin)
    if star is None:
        return None, None
    return star.target.name, star.seen_from(named, time_s, observer)
