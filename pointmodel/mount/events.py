"""What may happen to a mount in the course of a log: what each event renews, and what it is called.

To add an event: one `EventKind` here. Those with `logged` may stand in a log's event column; the
others are found where nobody logged them (`estimate/moves.py`).
"""

from __future__ import annotations

from dataclasses import dataclass

from pointmodel.base.registry import Registry

LEAN = ("tilt_north", "tilt_east")
INDICES = ("azimuth_index", "altitude_index")  # new after every event


@dataclass(frozen=True, kw_only=True)
class EventKind:
    """One event: its name, the terms that it renews besides both indices, other words for it.

    `also_said` are words that people type for it at the telescope, `happened` what they press for
    it; `logged` tells whether it may stand in a log.
    """

    name: str
    renews: tuple[str, ...] = ()
    also_said: tuple[str, ...] = ()
    happened: str = ""
    logged: bool = True

    @property
    def renews_the_lean(self) -> bool:
        """Whether the base may lean another way after it."""
        return set(LEAN) <= set(self.renews)


EVENTS: Registry[EventKind] = Registry((
    EventKind(
        name="zero_on_star",
        also_said=("zero", "zeroed", "zeroed_on_a_star", "zeroed_on_star", "sync"),
        happened="I told the controller “this is the star”",
    ),
    EventKind(
        name="bump",
        renews=LEAN,
        also_said=("bumped", "kicked", "knock"),
        happened="The telescope or its stand was knocked",
    ),
    EventKind(name="clutch", happened="A clutch was loosened, or it slipped"),
    EventKind(
        name="relevelled",
        renews=LEAN,
        also_said=("re_levelled", "relevel", "releveled", "levelled"),
        happened="The stand was levelled again",
    ),
    EventKind(
        name="power_cycle",
        also_said=("power", "power_cycled", "restart"),
        happened="The controller was switched off and on",
    ),
    EventKind(name="moved", renews=LEAN, logged=False),
    EventKind(name="tube_shifted", renews=("collimation",), logged=False),
    EventKind(name="zeroed_elsewhere", logged=False),
))  # fmt: skip


def logged_events() -> tuple[str, ...]:
    """Return the events that may stand in a log, by name."""
    return tuple(name for name, kind in EVENTS.items() if kind.logged)
