"""One thing that is wrong, as a plain immutable object; no judging here."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Cause:
    """One finding: what, how sure (likely, possible, ruled_out), the evidence and what to do.

    `after_line` is the line after which it happened, None for what has no place in the log.
    """

    cause: str
    verdict: str
    evidence: str
    remedy: str
    after_line: int | None = None
