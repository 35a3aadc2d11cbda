"""The terminal's text of a plan: what to do first, the stars in order, what to expect, the card.

Read `words.py` first: words are there, this file says what stands where.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.cautions import CAUTION_LINE
from pointmodel.base.wording import sentence
from pointmodel.planning import words as planwords
from pointmodel.showing.textpage import TextPage

if TYPE_CHECKING:
    from pointmodel.planning.plan import PlanResult


def plan_text(result: PlanResult, *, width: int = 100, color: bool = False) -> str:
    """The whole plan as text, at most `width` columns wide."""
    page = TextPage(width, color)
    page.paragraph(planwords.headline(result), bold=True)
    told = [n.text for n in result.warnings if n.code not in planwords.TOO_LIGHT]
    page.bullets(None, map(sentence, told))
    page.table(planwords.STARS_TITLE, planwords.STARS_HEAD, planwords.star_rows(result), 1)
    page.bullets("How to find them", planwords.finding_lines(result))
    page.paragraph(planwords.settling_words(result))
    if result.stop_after != 0:  # else the first line says it
        page.paragraph(planwords.stop_words(result))
    page.bullets("To align on two stars instead", planwords.pair_lines(result))
    page.bullets("Leave out", planwords.refused_lines(result))
    page.table("What to type in", ("The controller asks for", "Enter"), planwords.card_rows(result))
    page.paragraph(planwords.source_words(result))
    page.paragraph(CAUTION_LINE)
    return page.text()
