"""A plan in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.planning import words as planwords
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.planning.plan import PlanResult


def plan_card(result: PlanResult) -> Card:
    """What to do first, and the stars in their order."""
    return Card(
        f"Plan for {planwords.moment_words(result)}",
        (planwords.headline(result),),
        planwords.STARS_HEAD,
        planwords.star_rows(result),
        "print it for all of it: how to find them, cautions; .frame holds the stars",
    )
