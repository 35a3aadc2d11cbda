"""The document of `pointmodel record`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pointmodel.advising.document import advice_document
from pointmodel.base.documents import as_dict, head, or_why

if TYPE_CHECKING:
    from pointmodel.recording.session import RecordResult

RECORD_SCHEMA = "pointmodel.record/2"


def record_document(result: RecordResult) -> dict[str, Any]:
    """Return the record document: plain types only."""
    why = result.fit_reason
    return as_dict(
        {
            **head(RECORD_SCHEMA, result.inputs, result.warnings),
            "log": result.log,
            "started": result.started,
            "ended": result.ended,
            "pairs": result.pairs,
            "entered": result.entered,
            "events": result.events,
            "undone": result.undone,
            **or_why("advice", result.fit and advice_document(result.fit.advice), why),
            **or_why("fit", result.fit and result.fit.to_dict(), why),
        }
    )
