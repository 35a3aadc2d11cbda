"""The remedies: what each is called, how long it takes by torchlight, which terms it cures.

An `Action` is one thing that a person does; `ACTIONS` stands in the order in which things are done.
A `Remedy` is one row of the forecast table: some actions in turn, and how go-to then stands.

To add a remedy: an `Action` here, and a `Remedy` if the forecast table is to have a row for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pointmodel.base.registry import Registry

USUAL_FIELD_ARCMIN = 40.0  # taken for the eyepiece's field where that is not stated; a choice
TARGETS_AN_EVENING = 10  # for which corrected positions are looked up and typed; a choice

Ending = Literal["nothing", "zero", "realign", "corrections"]


@dataclass(frozen=True, kw_only=True)
class Action:
    """One thing to do: its name, the order in few words, minutes by torchlight.

    `cures` names the terms that it takes away. `ends`: what it does to the controller's zero or
    alignment; an action that `voids` those must be followed by one that ends. `minutes_each` comes
    for every target (corrections) or line (centring again), `minutes` once.
    """

    name: str
    order: str
    minutes: float = 0.0
    minutes_each: float = 0.0
    cures: tuple[str, ...] = ()
    ends: Ending = "nothing"
    voids: bool = False


# minutes: common practice, no source
ACTIONS: Registry[Action] = Registry((
    Action(name="answer_question", order="answer the question"),
    Action(name="mend_file", order="correct the file", minutes=1.0),
    Action(name="log_again", order="log again", minutes=15.0),
    Action(name="recentre_lines", order="centre those stars again", minutes_each=2.0),
    Action(name="check_entries", order="compare the controller's entries", minutes=2.0),
    Action(name="set_entry", order="correct the entry", minutes=1.0, voids=True),
    Action(name="steady_base", order="steady the base", minutes=5.0),
    Action(name="tighten", order="tighten the tube and the clutches", minutes=2.0),
    Action(
        name="level",
        order="level the base",
        minutes=10.0,
        cures=("tilt_north", "tilt_east"),
        voids=True,
    ),
    Action(
        name="start_level",
        order="power up with the tube level",
        minutes=4.0,
        cures=("altitude_index",),
        voids=True,
    ),
    Action(
        name="square_tube",
        order="shim the tube square in its saddle",
        minutes=20.0,
        cures=("collimation",),
        voids=True,
    ),
    Action(name="zero_on_star", order="zero on a star", minutes=2.0, ends="zero"),
    Action(name="realign", order="align again on two stars", minutes=3.0, ends="realign"),
    Action(name="same_approach", order="end every move in the same direction"),
    Action(
        name="apply_corrections",
        order="send it to corrected positions",
        minutes_each=1.0 / 3.0,
        ends="corrections",
    ),
))  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """One row of the forecast: the actions done in turn, and the words for go-to after them."""

    name: str
    once_done: str
    actions: tuple[str, ...] = ()

    @property
    def order(self) -> str:
        """What to do, without capital or full stop."""
        return ", then ".join(ACTIONS[name].order for name in self.actions) or "leave it"

    @property
    def minutes(self) -> int:
        """How long it takes by torchlight."""
        return round(minutes_for(self.actions))


REMEDIES: Registry[Remedy] = Registry((
    Remedy(name="none", once_done="as it is now"),
    Remedy(name="zero_on_star", once_done="zeroed on a star", actions=("zero_on_star",)),
    Remedy(name="realign", once_done="aligned again", actions=("realign",)),
    Remedy(
        name="level",
        once_done="levelled and zeroed",
        actions=("level", "zero_on_star"),
    ),
    Remedy(
        name="square_tube",
        once_done="squared and zeroed",
        actions=("square_tube", "zero_on_star"),
    ),
    Remedy(
        name="apply_corrections",
        once_done="corrected positions",
        actions=("apply_corrections",),
    ),
))  # fmt: skip


def minutes_for(
    actions: tuple[str, ...], targets: int = TARGETS_AN_EVENING, lines: int = 1
) -> float:
    """Return how long actions take in all: once by hand, and for every target of the evening."""
    total = 0.0
    for name in actions:
        each = lines if name == "recentre_lines" else targets
        total += ACTIONS[name].minutes + each * ACTIONS[name].minutes_each
    return total


def order_of(name: str) -> str:
    """Return what a remedy asks for, as the head of a sentence."""
    order = REMEDIES[name].order
    return order[:1].upper() + order[1:]
