"""The advice as other programs read it: the same in every document that carries it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from pointmodel.advising.result import NOT_KNOWN_YET, Advice, Plan, Step


def advice_document(advice: Advice) -> dict[str, Any]:
    """Return the advice as plain types; figures that are not known are null, with the reason."""
    return {
        "state": advice.state,
        "headline": advice.headline,
        "question": None if advice.question is None else asdict(advice.question),
        "steps": [_step(step) for step in advice.steps],
        "quick": _plan(advice.quick),
        "left_out": [asdict(one) for one in advice.left_out],
        "field_arcmin": advice.field_arcmin,
        "field_assumed": advice.field_assumed,
    }


def _plan(plan: Plan | None) -> dict[str, Any] | None:
    return None if plan is None else {"steps": [_step(step) for step in plan.steps]}


def _step(step: Step) -> dict[str, Any]:
    found = asdict(step)
    if step.rms_arcmin is None:
        found["reason"] = NOT_KNOWN_YET
    return found
