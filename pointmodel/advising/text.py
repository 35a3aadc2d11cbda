"""The advice in a terminal: the first screen of `fit`, and of every command that shows it.

Read `result.py` first. Nothing is decided or computed here.
"""

from __future__ import annotations

from pointmodel.advising.result import Advice, Plan
from pointmodel.advising.words import minutes_words
from pointmodel.base.figures import chance_words, miss_words
from pointmodel.showing.textpage import TextPage

STEPS_HEAD = ("What to do", "Takes", "Then misses by", "In eyepiece")
NO_GO_TO = ("answer_question", "check_entries")  # steps that leave go-to as it is


def show_advice(page: TextPage, advice: Advice) -> None:
    """Set the headline, how go-to stands, and the steps with the miss after each."""
    page.paragraph(advice.headline, bold=True)
    page.paragraph(now_words(advice))
    if advice.question is not None and advice.question.answer_in != "[site]":
        page.paragraph(advice.question.why)
    if advice.quick is not None:
        _show_plan(page, "The quick way", advice.quick)
        _show_plan(page, "The thorough way", advice.thorough)
    else:
        _show_plan(page, "What to do", advice.thorough)


def now_words(advice: Advice) -> str:
    """How go-to stands; empty where the log cannot tell."""
    if advice.now_rms_arcmin is None or advice.now_chance is None:
        return ""
    assumed = ", a usual one: write yours as field_of_view in mount.toml"
    asked = assumed if advice.field_assumed else ""
    field = f"the eyepiece ({miss_words(advice.field_arcmin)} across{asked})"
    return (
        f"Now go-to typically misses by {miss_words(advice.now_rms_arcmin)}, and "
        f"{chance_words(advice.now_chance)} of targets show in {field}."
    )


def _show_plan(page: TextPage, title: str, plan: Plan) -> None:
    several = len(plan.steps) > 1
    if all(step.rms_arcmin is None or step.action in NO_GO_TO for step in plan.steps):
        page.bullets(title, (step.text for step in plan.steps))
        return
    rows = [
        (
            f"{k}. {step.text}" if several else step.text,
            minutes_words(step.minutes),
            "not known yet" if step.rms_arcmin is None else miss_words(step.rms_arcmin),
            "—" if step.chance_in_field is None else chance_words(step.chance_in_field),
        )
        for k, step in enumerate(plan.steps, 1)
    ]
    page.table(title, STEPS_HEAD, rows, right=3)
