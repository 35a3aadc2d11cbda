"""Corrected positions in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.aiming.text import HEAD, READY, refusal_words, target_row
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.aiming.aim import AimResult


def aim_card(result: AimResult) -> Card:
    """A row a target: what to command, or why it is not sent."""
    targets = result.to_dict()["targets"]
    ready = sum(target["status"] in READY for target in targets)
    rows = [
        target_row(one) if one["status"] in READY else (one["target"], refusal_words(one))
        for one in targets
    ]
    return Card(
        "Where to send the mount",
        (f"{ready} of {len(targets)} target{'' if len(targets) == 1 else 's'} can be sent to.",),
        HEAD,
        rows,
        "print it for all of it, cautions too; .frame holds the targets",
    )
