"""The one verdict on a night, as plain immutable objects; no deciding here.

Read `advise.py` for how it is reached. Whoever shows it adds nothing of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pointmodel.readings.result import Question

State = Literal["good", "mend", "ask", "log_again", "mend_file"]
NOT_KNOWN_YET = "not known before this is done"  # why a step has no figures


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do, and what go-to is after it and all before it, arcminutes.

    `action` is a name of `mount/remedies.py`, `text` the order in whole sentences, `minutes` by
    torchlight. The figures are None where they are not known before the step is done.
    """

    action: str
    text: str
    minutes: float
    rms_arcmin: float | None = None
    rms_low_arcmin: float | None = None
    rms_high_arcmin: float | None = None
    chance_in_field: float | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Some steps in turn."""

    steps: tuple[Step, ...]

    @property
    def actions(self) -> tuple[str, ...]:
        """The names of what is done, in turn."""
        return tuple(step.action for step in self.steps)

    @property
    def minutes(self) -> float:
        """How long it takes in all."""
        return sum(step.minutes for step in self.steps)

    @property
    def rms_arcmin(self) -> float | None:
        """What go-to is after the last step of which that is known; None where it is of none."""
        known = [step.rms_arcmin for step in self.steps if step.rms_arcmin is not None]
        return known[-1] if known else None


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A remedy that is not advised, and why, in few words."""

    action: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do, decided once.

    `state`: good, mend, ask (the `question` comes first, and its answers lead to other advice),
    log_again or mend_file. `steps` is the thorough way, `quick` a shorter one where there is one.
    `now_rms_arcmin` and `now_chance` are how go-to stands, None where the log cannot tell;
    `field_arcmin` is the eyepiece's field that chances are counted for, `field_assumed` where the
    mount file does not state it.
    """

    state: State
    headline: str
    question: Question | None
    steps: tuple[Step, ...]
    quick: Plan | None
    left_out: tuple[LeftOut, ...]
    now_rms_arcmin: float | None
    now_chance: float | None
    field_arcmin: float
    field_assumed: bool

    @property
    def thorough(self) -> Plan:
        """The steps as a plan."""
        return Plan(steps=self.steps)

    @property
    def actions(self) -> tuple[str, ...]:
        """The names of the steps, in turn."""
        return self.thorough.actions

    @property
    def levels(self) -> bool:
        """Whether the base is to be levelled."""
        return "level" in self.actions
