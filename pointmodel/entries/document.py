"""The document of `pointmodel check`; read `check.py` first."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pointmodel.base.documents import as_dict, head, or_why

if TYPE_CHECKING:
    from pointmodel.entries.answers import BelievedSolution
    from pointmodel.entries.result import CheckResult, Explanation
    from pointmodel.entries.suspects import StarCheck

CHECK_SCHEMA = "pointmodel.check/2"
ONE_STAR = "a single star always fits: two or more show how well"
NOT_ASKED = "one answer fits, or no bright star is well placed to settle it"
ONE_ENTRY = "one entry explains it alone"
FILE_RIGHT = "here the mount file is right"
NO_AGES = "nothing shows that commanded places were of different ages"
NOT_SUSPECT = "nothing speaks against the star that the log names"
NO_STAR_THERE = "no known star stands there: perhaps a slip of the pen"


def check_document(result: CheckResult) -> dict[str, Any]:
    """Return the document of `pointmodel check`: plain types only, units in the keys."""
    return as_dict(
        {
            **head(CHECK_SCHEMA, result.inputs, result.warnings),
            "pairs": {
                "read": result.pairs_read,
                "used": result.pairs_used,
                "unknown": result.unknown,
            },
            "solutions": [_solution(solution) for solution in result.solutions],
            **or_why("residual_rms_arcmin", result.residual_rms_arcmin, ONE_STAR),
            "places": result.places,
            "time_resolution_s": result.time_resolution_s,
            "explanations": [_explanation(one) for one in result.explanations],
            "tied": result.tied,
            "stars": [_star(star) for star in result.stars],
            "verdict": result.verdict,
            "reason": result.reason,
            "remedy": result.remedy,
            "place_is_open": result.place_is_open,
            "proves_nothing": result.proves_nothing,
            "could_be_stale": result.could_be_stale,
            **or_why("stale", result.stale and asdict(result.stale), NO_AGES),
            **or_why("next_star", result.next_star and asdict(result.next_star), NOT_ASKED),
        }
    )


def _solution(solution: BelievedSolution) -> dict[str, Any]:
    return {
        "sidereal_offset_min": solution.sidereal_offset_min._asdict(),
        "latitude_offset_deg": solution.latitude_offset_deg._asdict(),
        "weight": solution.weight,
    }


def _explanation(one: Explanation) -> dict[str, Any]:
    found = asdict(one)
    also, in_file = found.pop("also"), found.pop("in_mount_file")
    return found | or_why("also", also, ONE_ENTRY) | or_why("in_mount_file", in_file, FILE_RIGHT)


def _star(star: StarCheck) -> dict[str, Any]:
    why = NOT_SUSPECT if star.suspicion is None else NO_STAR_THERE
    return {
        "line": star.line,
        "target": star.target,
        **or_why("separation_misfit_arcmin", star.separation_misfit_arcmin, ONE_STAR),
        "commanded_miss_arcmin": star.commanded_miss_arcmin,
        **or_why("suspicion", star.suspicion, NOT_SUSPECT),
        **or_why("probable_target", star.probable_target, why),
        **or_why("where", star.where, why),
    }
