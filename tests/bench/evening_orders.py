"""What the program tells the owner of a simulated evening to do first, and what doing it brings.

Read `evenings.py` first. `Answer.first` is what the sentence that comes first orders, read as an
owner would; `outcome` does it in the simulator and holds go-to, base and controller against what
they were before.
"""

from __future__ import annotations

import contextlib
import io
import re
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any, Literal

import numpy as np
from bench.controllers import Wrong
from bench.evening_kinds import (
    ASK,
    BY_HAND,
    GOOD,
    HELPS,
    KINDS,
    LEVEL,
    LOG_AGAIN,
    MEND_FILE,
    REALIGN,
    SET_ENTRY,
    STEADY,
    ZERO,
)
from bench.evening_machine import Machine, lean_of_feet, targets_deg
from bench.evening_play import FEET_DEG, FIELD_ARCMIN, RADIUS_MM, Evening

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError

Judged = Literal["right", "wrong", "harmful"]
# go-to is worse where it misses by a tenth more, and by two arcminutes, which a hand notices
WORSE_SHARE, WORSE_ARCMIN = 1.1, 2.0
LEAN_WORSE_ARCMIN = 5.0
# the first words of the sentence that comes first, and what they tell the owner to do
FIRST_WORDS: tuple[tuple[str, str], ...] = (
    (r"^in the controller's menu set", SET_ENTRY),
    (r"go-to is good|nothing need be done", GOOD),
    (r"fits? no mount|no mount (fits|could have made)", LOG_AGAIN),
    (r"log again|log (these|the) stars again", LOG_AGAIN),
    (r"mount file|\[site\]|mount\.toml", MEND_FILE),
    (r"\?", ASK),
    (r"first compare|compare the controller", "check_entries"),
    (r"board under|sink|steady|moved|knock", STEADY),
    (r"tighten|dovetail|saddle", "tighten"),
    (r"too few stars", "log_more"),
    (r"^zero on", ZERO),
    (r"^level the base", LEVEL),
    (r"^realign|^align", REALIGN),
    (r"^shim", "square_tube"),
    (r"^send it to corrected|pointmodel aim", "apply_corrections"),
    (r"^(set|enter|correct|change|put|type|turn)\b", SET_ENTRY),
)


@dataclass(frozen=True, eq=False)
class Answer:
    """What the program says of one log: the fit and the verdict on levelling, or a refusal."""

    fit: Any | None
    level: Any | None
    refused: str | None

    @cached_property
    def readings(self) -> Any | None:
        """What it holds of the figures, where the fit says so."""
        return getattr(self.fit, "readings", None)

    @cached_property
    def findings(self) -> dict[str, Any]:
        """What was found about the figures, by name."""
        found = getattr(self.readings, "findings", ())
        return {one.finding: one for one in found}

    def taken_up(self, finding: str) -> bool:
        """Whether the fit is of the log read so."""
        return finding in self.findings and self.findings[finding].taken_up

    def named(self, finding: str) -> bool:
        """Whether this is found, or asked about, or said in the refusal."""
        return finding in self.findings

    @cached_property
    def causes(self) -> dict[str, Any]:
        """The causes by name."""
        return {one.cause: one for one in getattr(self.fit, "causes", ())}

    def likely(self, cause: str) -> bool:
        """Whether this cause is called likely."""
        return cause in self.causes and self.causes[cause].verdict == "likely"

    @cached_property
    def orders_feet(self) -> bool:
        """Whether feet are ordered to be turned, by the verdict or by the first sentence."""
        return (self.level is not None and self.level.verdict == "level") or self.first == LEVEL

    @cached_property
    def sentence(self) -> str:
        """The sentence that comes first."""
        return self.refused if self.fit is None else str(self.fit.summary)  # type: ignore[return-value]

    @cached_property
    def first(self) -> str:
        """What the sentence that comes first tells the owner to do."""
        if self.fit is None:
            return LOG_AGAIN if self.refused else "nothing"
        advice = getattr(self.fit, "advice", None)
        if advice is not None:
            return _of_advice(advice)
        question = getattr(self.readings, "question", None)
        if question is not None and question.ask in self.sentence:
            return f"{ASK}:{question.answer_in}"
        return order_in(self.sentence)


def _of_advice(advice: Any) -> str:
    by_state = {"ask": ASK, "log_again": LOG_AGAIN, "mend_file": MEND_FILE, "good": GOOD}
    if advice.state in by_state:
        return by_state[advice.state]
    steps = advice.quick.steps if advice.quick is not None else advice.steps
    return str(steps[0].action) if steps else GOOD


def order_in(sentence: str) -> str:
    """What a sentence tells the owner to do; "other: …" with its first words where unclear."""
    for pattern, order in FIRST_WORDS:
        if re.search(pattern, sentence, re.IGNORECASE):
            return order
    return "other: " + " ".join(sentence.split()[:5])


@lru_cache(maxsize=256)
def answer(evening: Evening) -> Answer:
    """What the program says of an evening's log with the person's own mount file."""
    return answer_to(evening.text, evening.mount)


def answer_to(text: str, mount: Any) -> Answer:
    """What the program says of a log and a mount file; what it refuses is an answer too."""
    return _answered(_Asked(text, repr(mount), mount))


@dataclass(frozen=True)
class _Asked:
    """A log and a mount file, told apart by what they say."""

    text: str
    told: str
    mount: Any = field(compare=False)


@lru_cache(maxsize=200)  # several questions are asked of one evening
def _answered(asked: _Asked) -> Answer:
    try:
        fit = pm.fit(pm.read_log(io.StringIO(asked.text), asked.mount))
        return Answer(fit, pm.level(fit), None)
    except InputError as error:
        return Answer(None, None, str(error))


@dataclass(frozen=True)
class Outcome:
    """What the first order was, how it is judged, and go-to before and after doing it."""

    order: str
    judged: Judged
    before_arcmin: float
    after_arcmin: float | None
    sentence: str


def outcome(evening: Evening, said: Answer, *, answered: bool = False) -> Outcome:
    """Do what the program orders first; say whether that was right, of no use, or harm.

    `answered`: the owner has confirmed what the columns hold, so that all may be ordered again.
    """
    kind, before = KINDS[evening.kind], evening.machine.miss_arcmin()
    order = said.first.split(":")[0] if said.first.startswith(ASK) else said.first
    after = None
    harmful = frozenset[str]() if answered and evening.script.columns else kind.harmful
    if order in harmful or (said.orders_feet and LEVEL in harmful):
        judged: Judged = "harmful"
    elif order in BY_HAND:
        after, leans_more = _after(evening, said, order)
        worse = after > WORSE_SHARE * before + WORSE_ARCMIN or leans_more
        helps = order in kind.right or (HELPS in kind.right and after <= before)
        judged = "harmful" if worse else "right" if helps else "wrong"
    elif order == GOOD:
        fine = before <= 0.5 * FIELD_ARCMIN
        allowed = GOOD in kind.right or HELPS in kind.right
        judged = "right" if fine and allowed else "wrong" if fine else "harmful"
    else:
        judged = "right" if order in kind.right else "wrong"
    return Outcome(order, judged, before, after, said.sentence)


def _after(evening: Evening, said: Answer, order: str) -> tuple[float, bool]:
    """Go-to once the order was followed, and whether the base then leans more than it did.

    What undoes the zero is followed by one, and a tube started level by an alignment.
    """
    machine = evening.machine
    if order == SET_ENTRY:
        return _entries_set(evening), False
    if order == "apply_corrections":
        return machine.miss_arcmin(_corrected(machine, said)), False
    then = {LEVEL: (ZERO,), "square_tube": (ZERO,), "start_level": (REALIGN,)}
    done = machine
    for action in (order, *then.get(order, ())):
        done = step_done(done, action, said)
    more = np.hypot(*done.lean_arcmin) > np.hypot(*machine.lean_arcmin) + LEAN_WORSE_ARCMIN
    return done.miss_arcmin(), bool(order == LEVEL and more)


def step_done(
    machine: Machine, action: str, said: Answer, zero_on: tuple[float, float] | None = None
) -> Machine:
    """The machine once one step was done as it says; zeroed on a middling star if none is told."""
    if action == ZERO:
        return machine.zeroed(zero_on)
    if action == REALIGN:
        return _realigned(machine, said)
    if action == "start_level":
        # powered up with a level on the tube, good to a tenth of a degree: six arcminutes
        level = {**machine.terms, "altitude_index": 6.0}
        fresh = replace(machine.controller, offset_deg=np.zeros(2))
        return replace(machine, terms=level, controller=fresh)
    if action == LEVEL:
        return _feet_turned(machine, said)
    if action == "square_tube":
        squared = {**machine.terms, "collimation": machine.terms["collimation"] - _term(said)}
        return replace(machine, terms=squared)
    if action == SET_ENTRY:
        return machine.with_entries(Wrong())
    return machine


def _corrected(machine: Machine, said: Answer) -> FloatArray:
    """The targets as `aim` has them sent, (k, 2); as they are where it refuses one."""
    assert said.fit is not None
    sent = machine.controller.believed(targets_deg())
    for k, (az_deg, alt_deg) in enumerate(sent):
        with contextlib.suppress(InputError):
            sent[k] = np.ravel(said.fit.aim(az_deg, alt_deg))
    return sent


def _term(said: Answer) -> float:
    found = {term.name: term.value for term in said.fit.term_estimates}  # type: ignore[union-attr]
    return float(found["collimation"])


def _realigned(machine: Machine, said: Answer) -> Machine:
    forecast = {one.remedy: one for one in said.fit.forecasts}  # type: ignore[union-attr]
    on = forecast["realign"].stars if "realign" in forecast else ()
    return machine.realigned((on[0], on[1])) if len(on) == 2 else machine.realigned()


def _feet_turned(machine: Machine, said: Answer) -> Machine:
    """The machine once every foot was turned as `level` says, or for the lean that it names."""
    level = said.level
    assert level is not None
    if level.feet:
        rises = np.array([foot.least_travel_mm for foot in level.feet])
        return machine.levelled(*lean_of_feet(np.array(FEET_DEG), rises, RADIUS_MM))
    toward = np.radians(level.lean.toward_az_deg or 0.0)
    size = level.lean.amount_arcmin
    return machine.levelled(size * float(np.cos(toward)), size * float(np.sin(toward)))


def _entries_set(evening: Evening) -> float:
    """Go-to once an entry was changed: right entries made wrong by an hour, wrong ones put right.

    That the entry named is the right one is measured by the figure `which_file`.
    """
    right = evening.played.entry == "agrees"
    after = Wrong(ahead_s=3600.0) if right else Wrong()
    return evening.machine.with_entries(after).zeroed().miss_arcmin()
