"""The terminal's text of the verdict on the controller's entries: the entry first, then the doubt.

Read `words.py` first: words are there, this file says what stands where.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.wording import sentence
from pointmodel.entries import words as checkwords
from pointmodel.showing.textpage import TextPage

if TYPE_CHECKING:
    from pointmodel.entries.result import CheckResult


def check_text(result: CheckResult, *, width: int = 100, color: bool = False) -> str:
    """The whole verdict as text, at most `width` columns wide."""
    page = TextPage(width, color)
    page.paragraph(checkwords.verdict_words(result), bold=True)
    page.paragraph(checkwords.tie_words(result))
    page.paragraph(result.remedy)
    page.paragraph(checkwords.next_star_words(result))
    page.paragraph(checkwords.stale_words(result))
    page.bullets("Which star was it", map(sentence, checkwords.star_remarks(result)))
    rows = checkwords.explanation_rows(result)
    if not result.proves_nothing:
        if result.verdict != "agrees" or len(rows) > 1:
            page.table("What would explain it", checkwords.ENTRY_HEAD, rows, 2)
        page.paragraph(checkwords.believed_words(result))
        page.paragraph(checkwords.PLACES_WORDS.get(result.places))
    page.bullets("Remarks", (sentence(notice.text) for notice in result.warnings))
    page.paragraph(checkwords.pairs_words(result))
    if result.verdict != "agrees":
        page.paragraph(checkwords.SUN_WORDS)
    return page.text()
