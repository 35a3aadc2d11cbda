"""The JSON document of `pointmodel compare`."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from pointmodel.base.documents import as_dict, head

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import ComparedNight, ComparedTerm

COMPARE_SCHEMA = "pointmodel.compare/1"
NO_TIMES = "the log has no times"


def compare_document(result: CompareResult) -> dict[str, Any]:
    """Return the document of `pointmodel compare`: plain types only, units in the keys."""
    return as_dict(
        {
            **head(COMPARE_SCHEMA, result.inputs, result.warnings),
            "nights": [_night(night) for night in result.nights],
            "terms": [_term(term) for term in result.terms],
            "changes": [asdict(change) for change in result.changes],
            "carry_over": [asdict(one) for one in result.carry_over],
            "profile": result.profile.to_dict(),
            "summary": result.summary,
            "habits": result.habits,
        }
    )


def _night(night: ComparedNight) -> dict[str, Any]:
    found = asdict(night)
    del found["start_s"]  # start says it
    if night.start is None:
        found["start_reason"] = NO_TIMES
    return found


def _term(term: ComparedTerm) -> dict[str, Any]:
    sd = term.between_night_sd
    return {
        "name": term.name,
        "unit": term.unit,
        "kind": term.kind,
        "kind_probability": term.kind_probability,
        "kinds": dict(term.kinds),
        "by_night": [asdict(night) for night in term.by_night],
        "common": asdict(term.common),
        "between_night_sd": sd.value,
        "between_night_sd_low": sd.low,
        "between_night_sd_high": sd.high,
    }
