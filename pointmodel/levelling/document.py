"""The document of `pointmodel level`; read `level.py` first."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pointmodel.advising.document import advice_document
from pointmodel.base.documents import as_dict, head, or_why

if TYPE_CHECKING:
    from pointmodel.diagnosis.lean import Lean
    from pointmodel.levelling.feet import FootOrder
    from pointmodel.levelling.result import LevelResult


LEVEL_SCHEMA = "pointmodel.level/2"


NO_LEAN = "no lean is seen, so it has no direction"


NO_PITCH = "screw_pitch is not stated in the mount file"


NO_FEET = "the feet are not stated in the mount file"


NO_ORDER = "no foot is to be turned: see reason"


NO_QUESTION = "no answer would change the verdict"


ALL_KNOWN = "the lean is known well enough"


NO_LATITUDE = "clock and site are cleared, or the site's latitude is not known or too near a pole"


def level_document(result: LevelResult) -> dict[str, Any]:
    """Return the document of `pointmodel level`: plain types only, units in the keys."""
    no_feet = NO_FEET if result.verdict == "level" else NO_ORDER
    document = {
        **head(LEVEL_SCHEMA, result.inputs, result.warnings),
        "verdict": result.verdict,
        "reason": result.reason,
        "lean": _lean(result.lean),
        "confounded_with": result.confounded_with,
        **or_why("look_alike", result.look_alike and asdict(result.look_alike), NO_LATITUDE),
        "clock_cleared_by": result.clock_cleared_by,
        "feet": [_foot(order) for order in result.feet],
        **or_why("stand", result.stand and asdict(result.stand), NO_ORDER),
        **or_why("hand_step_mm", result.hand_step_mm, no_feet),
        **or_why("expected_lean_after_arcmin", result.expected_lean_after_arcmin, NO_ORDER),
        "gain": [asdict(gain) for gain in result.gain],
        "field_of_view_arcmin": result.field_of_view_arcmin,
        "field_assumed": result.field_assumed,
        "confirm_at": [_place(place) for place in result.confirm_at],
        **or_why("one_more_star", result.one_more_star and _place(result.one_more_star), ALL_KNOWN),
        "cautions": result.cautions,
        **or_why("question", result.question and asdict(result.question), NO_QUESTION),
        "advice": advice_document(result.advice),
    }
    if not result.feet:
        document["feet_reason"] = no_feet
    return as_dict(document)


def _place(place: tuple[float, float]) -> dict[str, float]:
    return {"az_deg": place[0], "alt_deg": place[1]}


def _lean(lean: Lean) -> dict[str, Any]:
    found = asdict(lean)
    if lean.toward_az_deg is None:
        found["reason"] = NO_LEAN
    return found


def _foot(order: FootOrder) -> dict[str, Any]:
    found = asdict(order)
    if order.uncertainty_turns is None:
        found["reason"] = NO_PITCH
    return found
