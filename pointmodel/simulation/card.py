"""A simulated night in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.figures import amount_words
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.simulation.night import SimulatedNight


def night_card(night: SimulatedNight) -> Card:
    """How many pairs of what mount, and the terms that it has."""
    pairs, bad = night.time_s.size, int(night.bad.sum())
    of_mount = f"{night.options.mount_class} mount"
    seed = "" if night.seed is None else f", seed {night.seed}"
    return Card(
        f"Simulated night: {pairs} pairs, {bad or 'none'} bad, {of_mount}{seed}",
        (),
        ("Term", "True value"),
        [
            (one["name"], amount_words(one["value"], one["unit"]))
            for one in night.to_dict()["terms"]
        ],
        "pm.fit(night.log) fits it; night.truth holds all that was simulated",
    )
