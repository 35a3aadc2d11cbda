"""The terminal's text of the verdict on levelling: the order first, then feet, gain and doubt.

Read `words.py` first: words are there, this file says what stands where.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.cautions import CAUTION_LINE
from pointmodel.base.wording import sentence
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.picture import feet_lines
from pointmodel.showing.textpage import TextPage

if TYPE_CHECKING:
    from pointmodel.levelling.result import LevelResult


def level_text(result: LevelResult, *, width: int = 100, color: bool = False) -> str:
    """The whole verdict as text, at most `width` columns wide; foot orders only where to level."""
    page = TextPage(width, color)
    page.paragraph(levelwords.verdict_words(result), bold=True)
    page.paragraph(levelwords.doubt_words(result))
    page.paragraph(levelwords.side_words(result))
    feet = levelwords.shown_feet(result)
    if feet:
        head = levelwords.feet_head(result)
        page.table(levelwords.feet_title(result), head, levelwords.feet_rows(result))
        page.picture(feet_lines(feet, *levelwords.shown_way(result)))
        page.paragraph(levelwords.picture_words(result))
    page.bullets(None, levelwords.feet_remarks(result))
    if feet:
        page.bullets("Before you turn", result.cautions)
    page.bullets("Then see whether it is level", levelwords.confirm_steps(result))
    page.table("What each would do", levelwords.GAIN_HEAD, list(levelwords.gain_rows(result)), 3)
    page.paragraph(levelwords.field_words(result))
    told = (levelwords.direction_words(result), levelwords.cleared_words(result))
    page.paragraph(" ".join(filter(None, told)))
    page.bullets("Remarks", (sentence(notice.text) for notice in result.warnings))
    if not feet:
        page.paragraph(CAUTION_LINE)
    return page.text()
