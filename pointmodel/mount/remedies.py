"""The remedies: what each is called, how long it takes by torchlight, which terms it cures.

A forecast is made for each, in this order; whoever names a remedy finds its words here.

To add a remedy: one `Remedy` here. Its forecast follows from `cures` and `ends`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pointmodel.base.registry import Registry

USUAL_FIELD_ARCMIN = 40.0  # taken for the eyepiece's field where that is not stated; a choice

Ending = Literal["nothing", "zero", "realign", "corrections"]


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """One remedy: its name, what to do, how go-to then stands, minutes by torchlight.

    `order` and `once_done` are the words of both. `cures` names the terms that it takes away;
    `ends` is what is done with the controller after that: nothing, zeroed on a star, aligned afresh
    on two stars, or sent to corrected positions. `only_for`: the cause without which it makes no
    sense. `asks_for_axes`: it makes no sense once the controller was aligned on two stars.
    """

    name: str
    order: str
    once_done: str
    minutes: int
    ends: Ending
    cures: tuple[str, ...] = ()
    only_for: str | None = None
    asks_for_axes: bool = False

    @property
    def by_hand(self) -> bool:
        """Whether hands alone do it, once for the evening."""
        return self.ends != "corrections"


# minutes: common practice, no source
REMEDIES: Registry[Remedy] = Registry((
    Remedy(name="none", order="leave it", once_done="as it is now", minutes=0, ends="nothing"),
    Remedy(
        name="zero_on_star",
        order="zero on a star",
        once_done="zeroed on one star",
        minutes=2,
        ends="zero",
        asks_for_axes=True,
    ),
    Remedy(
        name="realign",
        order="align afresh on two stars",
        once_done="aligned afresh on two good stars",
        minutes=3,
        ends="realign",
    ),
    Remedy(
        name="level",
        order="level the base, then zero on a star",
        once_done="levelled, then zeroed on a star",
        minutes=12,
        ends="zero",
        cures=("tilt_north", "tilt_east"),
        only_for="not_level",
        asks_for_axes=True,
    ),
    Remedy(
        name="square_tube",
        order="shim the tube square in its saddle, then zero on a star",
        once_done="tube squared, then zeroed on a star",
        minutes=20,
        ends="zero",
        cures=("collimation",),
        only_for="collimation",
    ),
    Remedy(
        name="apply_corrections",
        order="send it to corrected positions (pointmodel aim)",
        once_done="with these corrections applied",
        minutes=1,
        ends="corrections",
    ),
))  # fmt: skip


def order_of(name: str) -> str:
    """Return what a remedy asks for, as the head of a sentence."""
    order = REMEDIES[name].order
    return order[:1].upper() + order[1:]
