"""The causes with the step of the advice that cures each. Read `result.py` first."""

from __future__ import annotations

from dataclasses import replace

from pointmodel.advising.result import Advice
from pointmodel.diagnosis.result import Cause
from pointmodel.mount.remedies import ACTIONS, REMEDIES
from pointmodel.mount.terms import TERMS

TAKEN_UP_BY_ALIGNING = ("azimuth_zero", "not_level", "alignment")


def with_steps(causes: tuple[Cause, ...], advice: Advice) -> tuple[Cause, ...]:
    """Return the causes, each with the step that cures it as its remedy; those that have none
    keep what else is to be done about them.
    """
    return tuple(
        replace(one, remedy=_step_words(one, advice) or one.remedy)
        if one.verdict in ("likely", "possible")
        else one
        for one in causes
    )


def _step_words(cause: Cause, advice: Advice) -> str:
    by = {term.cured_by for term in TERMS.values() if term.cause == cause.cause}
    wanted = [REMEDIES[name].actions[0] for name in by if name is not None]
    if cause.cause in TAKEN_UP_BY_ALIGNING:
        wanted.append("realign")
    if cause.cause == "altitude_zero":
        wanted.append("start_level")
    for name in wanted:
        if name in advice.actions:
            return f"{ACTIONS[name].order} (step {advice.actions.index(name) + 1})"
    if advice.quick is not None:
        for name in wanted:
            if name in advice.quick.actions:
                return f"{ACTIONS[name].order} (the quick way)"
    return ""
