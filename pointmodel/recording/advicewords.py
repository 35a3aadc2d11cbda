"""The advice on the mount in the lines of a conversation: the headline, and the steps in turn.

Read `advising/result.py` first. Nothing is decided here.
"""

from __future__ import annotations

from pointmodel.advising.result import Advice, Plan, Step
from pointmodel.advising.text import NO_GO_TO
from pointmodel.advising.words import minutes_words
from pointmodel.base.figures import miss_words


def advice_lines(advice: Advice) -> list[str]:
    """The headline, then every step with its minutes and what go-to misses by after it."""
    lines = [advice.headline]
    if advice.quick is not None:
        lines += _plan_lines("The quick way:", advice.quick)
        lines += _plan_lines("The thorough way:", advice.thorough)
    elif advice.steps and advice.headline != advice.steps[0].text:
        lines += _plan_lines("What to do:", advice.thorough)
    elif len(advice.steps) > 1:
        lines += _plan_lines("Then:", Plan(steps=advice.steps[1:]))
    return lines


def _plan_lines(title: str, plan: Plan) -> list[str]:
    if len(plan.steps) == 1:
        return [f"{title} {_step_words(plan.steps[0])}"]
    numbered = (f"{k}. {_step_words(step)}" for k, step in enumerate(plan.steps, start=1))
    return [title, *numbered]


def _step_words(step: Step) -> str:
    after = after_words(step)
    return f"{step.text} {after}" if after else step.text


def after_words(step: Step) -> str:
    """How long a step takes, and what go-to misses by then; empty where that is not known."""
    if step.rms_arcmin is None or step.action in NO_GO_TO:
        return ""
    missed = miss_words(step.rms_arcmin)
    return f"Takes {minutes_words(step.minutes)}; go-to then misses by {missed}."
