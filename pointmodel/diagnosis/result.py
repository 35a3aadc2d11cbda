"""One thing that is wrong, as a plain immutable object; no judging here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["likely", "possible", "open", "ruled_out"]


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One finding: what, how sure, its size, the evidence and what to do.

    `open`: no sign of it, but these stars would not have shown it up to the size named. `size` with
    its 95 % limits is that of the table of terms, in `unit`; None where a cause has no size.
    `lines` are those of the log that it is about; `after_line` is the line after which it happened,
    None for what has no place in the log. `remedy` is empty where there is nothing to do about it.
    """

    cause: str
    verdict: Verdict
    probability: float
    evidence: str
    remedy: str = ""
    size: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    lines: tuple[int, ...] = ()
    after_line: int | None = None
