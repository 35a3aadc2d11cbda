"""The closing words of a recording."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.recording.advicewords import advice_lines

if TYPE_CHECKING:
    from pointmodel.recording.session import RecordResult


def record_text(result: RecordResult) -> str:
    """What stands in the log, what follows from it, and where to read on."""
    parts = [
        f"{result.log}: {_count(result.pairs, 'pair')} ({result.entered} entered now"
        f"{f', {result.undone} undone' if result.undone else ''}), "
        f"{_count(result.events, 'event')}; all of it is on the disk."
    ]
    parts += [one.text for one in result.warnings if one.code in ("put_back", "not_saved")]
    if result.fit is not None:
        parts += advice_lines(result.fit.advice)
        parts.append(f"Next: pointmodel fit {result.log}")
    return "\n".join(parts) + "\n"


def _count(number: int, word: str) -> str:
    return f"{number} {word if number == 1 else word + 's'}"
