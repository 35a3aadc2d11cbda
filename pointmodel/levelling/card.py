"""The verdict on levelling in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.levelling import words as levelwords
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.levelling.result import LevelResult


def level_card(result: LevelResult) -> Card:
    """The verdict with its reason, and the feet where one is to be turned."""
    feet = levelwords.shown_feet(result)
    return Card(
        f"Levelling, by {result.name}",
        (levelwords.verdict_words(result),),
        levelwords.feet_head(result) if feet else (),
        levelwords.feet_rows(result) if feet else (),
        "print it before you turn: it has the cautions; .frame holds the feet",
    )
