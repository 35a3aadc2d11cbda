"""The mount file's own site may be wrong instead of the controller's: the same places follow.

Read `catalogue.py` first. For each way in which the controller's latitude or longitude may be off
there is one in which the controller is right and the mount file is off the other way. The stars
cannot tell the two apart; the site's time zone often can, and what was typed into the controller.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.entries.believed import wrap_min
from pointmodel.entries.catalogue import HOUR_S, EntryCandidate, Variant, clock_candidate
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.observed import MINUTES_A_DEGREE
from pointmodel.entries.odds import (
    AGREES_ODDS,
    EXCHANGED_ODDS,
    MERIDIAN_REACH_DEG,
    MINUTES_ODDS,
    MOST_FROM_ZONE,
    MOUNT_FILE_SHARE,
    SUMMER_TIME_ODDS,
    ZONE_REACH_DEG,
    ZONE_SIGN_ODDS,
)
from pointmodel.reading.sitezone import corrected_places, distance_to_zone_deg

SECONDS_A_DEGREE = 240.0  # of longitude
_MIRRORED: Mapping[Variant, Variant] = {"decimals": "minutes", "minutes": "decimals"}


def with_mount_file(
    candidates: Iterable[EntryCandidate], right: EntryCircumstances
) -> tuple[EntryCandidate, ...]:
    """Candidates of one list, and beside each of place the mount file's slip that looks like it.

    `held` of such a slip is what the mount file should hold, degrees. Odds already laid in for what
    was typed into the controller count here as well: a figure typed as the mount file has it speaks
    for both.
    """
    found = tuple(candidates)
    of_place = [c for c in found if c.field in ("longitude", "latitude")]
    return (*found, *(_mirrored(c, right) for c in of_place), *_exchanged(found, right))


def offset_slips(
    right: EntryCircumstances, log_offset_s: float | None
) -> tuple[EntryCandidate, ...]:
    """Slips in the mount file's own offset from UTC, where the log's times were read by it.

    Summer time left out of it, or in it out of season; its sign. The times that were taken for true
    are then late by what the offset lacks, and a right controller seems to be behind.
    """
    stated_s = right.offset_s
    if right.zone_name is not None or right.offset_from != "zone" or log_offset_s != stated_s:
        return ()
    slips = {
        stated_s + HOUR_S: SUMMER_TIME_ODDS["flag"],
        stated_s - HOUR_S: SUMMER_TIME_ODDS["hour_in_zone_or_clock"],
        -stated_s: ZONE_SIGN_ODDS,
    }
    return tuple(
        clock_candidate(
            "mount_file",
            "zone",
            odds=MOUNT_FILE_SHARE * odds,
            ahead_s=stated_s - true_s,
            held=true_s,
        )
        for true_s, odds in slips.items()
        if true_s != stated_s
    )


def _mirrored(controller: EntryCandidate, right: EntryCircumstances) -> EntryCandidate:
    """The mount file's slip that predicts the same places as the controller's."""
    variant: Variant = (
        "sign" if controller.entry.endswith("sign") else _MIRRORED.get(controller.variant, "")
    )
    odds = MOUNT_FILE_SHARE * controller.odds
    if controller.variant in _MIRRORED:
        odds *= MINUTES_ODDS[variant] / MINUTES_ODDS[controller.variant]
    if controller.shift is not None:
        odds *= _of_zone(_place_held(controller, right), right)
    return replace(controller, entry="mount_file", odds=odds, variant=variant)


def _place_held(controller: EntryCandidate, right: EntryCircumstances) -> tuple[float, float]:
    if controller.field == "latitude":
        return controller.held, right.longitude_deg
    return right.latitude_deg, controller.held


def _exchanged(
    found: tuple[EntryCandidate, ...], right: EntryCircumstances
) -> Iterator[EntryCandidate]:
    """Latitude and longitude exchanged in the mount file: two candidates that belong together."""
    place = corrected_places(right.latitude_deg, right.longitude_deg).get("exchanged")
    if place is None:
        return
    latitude_deg, longitude_deg = place
    if any(candidate.field == "latitude" for candidate in found):
        yield EntryCandidate(
            entry="mount_file",
            field="latitude",
            odds=AGREES_ODDS,
            shift=60.0 * (latitude_deg - right.latitude_deg),
            held=latitude_deg,
            variant="exchanged",
        )
    else:
        yield EntryCandidate(
            entry="mount_file",
            field="longitude",
            odds=EXCHANGED_ODDS * _of_zone(place, right),
            shift=wrap_min(MINUTES_A_DEGREE * (longitude_deg - right.longitude_deg)),
            held=longitude_deg,
            variant="exchanged",
        )


def _of_zone(place: tuple[float, float], right: EntryCircumstances) -> float:
    """How much better a site goes with the zone than the stated one does: a ratio of densities.

    Densities fall off exponentially with the distance from the zone's places, or in longitude from
    the meridian of an offset without a name.
    """
    stated = _from_zone(right, right.latitude_deg, right.longitude_deg)
    other = _from_zone(right, *place)
    if stated is None or other is None:
        return 1.0
    log_ratio = stated - other
    return float(np.exp(np.clip(log_ratio, -np.log(MOST_FROM_ZONE), np.log(MOST_FROM_ZONE))))


def _from_zone(
    right: EntryCircumstances, latitude_deg: float, longitude_deg: float
) -> float | None:
    """How far a site is from the zone, in reaches of one; None where the zone says nothing."""
    if right.zone_name is not None:
        off_deg = distance_to_zone_deg(right.zone_name, latitude_deg, longitude_deg)
        return None if off_deg is None else off_deg / ZONE_REACH_DEG
    if right.offset_from == "longitude":
        return None
    meridian_deg = right.offset_s / SECONDS_A_DEGREE
    return float(np.abs(wrap_deg(longitude_deg - meridian_deg))) / MERIDIAN_REACH_DEG
