"""One thing that is wrong, as a plain immutable object; no judging here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["likely", "possible", "ruled_out"]


@dataclass(frozen=True)
class Cause:
    """One finding: what, how sure, the evidence and what to do.

    `after_line` is the line after which it happened, None for what has no place in the log.
    """

    cause: str
    verdict: Verdict
    evidence: str
    remedy: str
    after_line: int | None = None
