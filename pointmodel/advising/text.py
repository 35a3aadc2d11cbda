"""The advice in a terminal: the first screen of `fit`, and of every command that shows it.

Read `result.py` first. Nothing is decided or computed here.
"""

from __future__ import annotations

from pointmodel.advising.result import Advice, Plan, Step
from pointmodel.advising.words import minutes_words
from pointmodel.base.figures import chance_words, miss_words
from pointmodel.showing.textpage import TextPage

WRITE_FIELD = "write yours as field_of_view in mount.toml"
NO_GO_TO = ("answer_question", "check_entries")  # steps that leave go-to as it is


def show_advice(page: TextPage, advice: Advice) -> None:
    """Set the headline, how go-to stands, and the steps with the miss after each."""
    page.paragraph(advice.headline, bold=True)
    page.paragraph(now_words(advice))
    if advice.question is not None and advice.question.answer_in != "[site]":
        page.paragraph(advice.question.why)
    _show_steps(page, advice)


def now_words(advice: Advice) -> str:
    """How go-to stands; empty where the log cannot tell."""
    if advice.now_rms_arcmin is None or advice.now_chance is None:
        return ""
    assumed = f", a usual one: {WRITE_FIELD}"
    asked = assumed if advice.field_assumed else ""
    field = f"the eyepiece ({miss_words(advice.field_arcmin)} across{asked})"
    return (
        f"Typical miss now: {miss_words(advice.now_rms_arcmin)}; "
        f"{chance_words(advice.now_chance)} of targets show in {field}."
    )


def _show_steps(page: TextPage, advice: Advice) -> None:
    """Set the quick way, then the thorough one, a step each with the miss after it."""
    rows = []
    if advice.quick is not None:
        rows = _labelled("Quick", step_lines(advice.quick))
    rows += _labelled("Or" if rows else "", step_lines(advice.thorough))
    page.labelled("What to do", rows)


def _labelled(word: str, steps: list[str]) -> list[tuple[str, str]]:
    """The steps, each with its number, the first with the word for the whole way."""
    if len(steps) == 1:
        return [(word or "-", steps[0])]
    return [(f"{word} {k}".strip() if k == 1 else str(k), text) for k, text in enumerate(steps, 1)]


def step_lines(plan: Plan) -> list[str]:
    """The steps of a plan in words: what to do, how long it takes, what go-to is after it."""
    return [f"{step.text}{_after(step)}" for step in plan.steps]


def _after(step: Step) -> str:
    if step.rms_arcmin is None or step.action in NO_GO_TO:
        return ""
    shown = chance_words(step.chance_in_field)
    return (
        f" It takes {minutes_words(step.minutes)}; then go-to misses by "
        f"{miss_words(step.rms_arcmin)} ({shown} in the eyepiece)."
    )
