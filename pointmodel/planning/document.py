"""The plan document: which stars to centre, what is expected of them, what to type in."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pointmodel.base.documents import as_dict, head, or_why

if TYPE_CHECKING:
    from pointmodel.planning.entrycard import EntryCard
    from pointmodel.planning.plan import PlanResult
    from pointmodel.planning.results import PlannedStar

PLAN_SCHEMA = "pointmodel.plan/1"
DARK_OR_NEVER = "it is dark enough at the plan's moment, or not within a year"
ALL_WORTH_IT = "every star of the plan still gains something worth having"
NOT_TOLD = "the mount file does not state it"
ONLY_AN_OFFSET = "only an offset from UTC is known, not the zone's rules"
NO_CHANGE = "the clocks do not change within twelve hours"


def plan_document(result: PlanResult) -> dict[str, Any]:
    """Return the document of `pointmodel plan`: plain types only, units in the keys."""
    document = {
        **head(PLAN_SCHEMA, result.inputs, result.warnings),
        "at": result.at,
        "sun_alt_deg": result.sun_alt_deg,
        **or_why("dark_from", result.dark_from, DARK_OR_NEVER),
        "moon": asdict(result.moon),
        "stars": [_star(star) for star in result.stars],
        "alignment_pairs": [asdict(pair) for pair in result.alignment_pairs],
        "now_rms_arcmin": result.now_rms_arcmin,
        "expected": [asdict(step) for step in result.expected],
        "two_more_gain_arcmin": result.more.gained_arcmin,
        **or_why("stop_after", result.stop_after, ALL_WORTH_IT),
        "sigma_arcmin": result.sigma_arcmin,
        "scatter_arcmin": result.scatter_arcmin,
        "refused": [asdict(refused) for refused in result.refused],
        "entry_card": _card(result.entry_card),
        "cautions": result.cautions,
    }
    return as_dict(document)


def _star(star: PlannedStar) -> dict[str, Any]:
    return {
        "order": star.order,
        "target": star.target,
        "az_deg": star.az_deg,
        "alt_deg": star.alt_deg,
        "magnitude": star.magnitude,
        "how_to_find": star.how_to_find,
        "confusable": [
            {"target": other.target, "separation_deg": other.separation_deg}
            for other in star.confusable
        ],
        "sun_separation_deg": star.sun_separation_deg,
        "settles": star.settles,
    }


def _card(card: EntryCard) -> dict[str, Any]:
    change = card.clocks_change
    return {
        "latitude_deg": card.latitude_deg,
        "longitude_deg": card.longitude_deg,
        **or_why("elevation_m", card.elevation_m, NOT_TOLD),
        **or_why("time_zone", card.zone_name, NOT_TOLD),
        "local_time": card.local.isoformat(),
        "utc_offset_s": card.utc_offset_s,
        "standard_offset_s": card.standard_offset_s,
        **or_why("summer_time", card.summer_time, ONLY_AN_OFFSET),
        **or_why("clocks_change", change and change.isoformat(), NO_CHANGE),
    }
