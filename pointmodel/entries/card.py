"""The verdict on the controller's entries in a few lines, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.entries import words as checkwords
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.entries.result import CheckResult


def check_card(result: CheckResult) -> Card:
    """The verdict, what to do, and what would explain the places."""
    rows = [] if result.proves_nothing else checkwords.explanation_rows(result)
    return Card(
        f"Check of {result.name}: {checkwords.pairs_words(result)}",
        (checkwords.verdict_words(result), result.remedy),
        checkwords.ENTRY_HEAD,
        rows,
        "print it for all of it; .frame holds the explanations",
    )
