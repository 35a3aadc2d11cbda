"""The one thing to ask the owner, in whole plain sentences, and only where the answer matters.

Read `result.py` first. A question is asked where different answers would give different advice; a
go-to that is good needs none. What each answer would lead to is said with the question.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pointmodel.reading.mountfile import AlignmentState, Presses
from pointmodel.readings.result import Question

ALIGNED = "Before this log, did you align the controller on two or more stars?"
PRESSED = (
    "While you logged, did you tell the controller “this is the star” after you centred each star?"
)

HOW_TO_ANSWER: Mapping[str, str] = {
    "[alignment] stars": (
        "Answer in mount.toml, under [alignment]. If you did not: stars = []. If you did, name the "
        'stars: stars = ["Achernar", "Canopus"].'
    ),
    "[alignment] presses": (
        'Answer in mount.toml, under [alignment]. If you did not: presses = "none". If you did: '
        'presses = "each_star".'
    ),
    "[log] figures": (
        "Answer in mount.toml, under [log]. If the figures are as their headings say: figures = {}."
        ' If not, write what they are, such as figures = {centred = "azimuth_from_south"}.'
    ),
    "[alignment] noted": (
        'Answer in mount.toml, under [alignment]: noted = "before_press" or noted = "after_press".'
    ),
}


@dataclass(frozen=True)
class Prospects:
    """What would be advised under each answer, in few words, without capital or full stop.

    `good_now`: go-to is good as it stands. `pressed` and `not_pressed` are given only where the log
    itself does not tell whether “this is the star” was pressed after each star.
    """

    good_now: bool
    not_aligned: str
    aligned: str
    pressed: str | None = None
    not_pressed: str | None = None


def question_for(
    alignment: AlignmentState, presses: Presses | None, prospects: Prospects
) -> Question | None:
    """Return what to ask of the owner first, None where no answer would change the advice."""
    if prospects.good_now:
        return None
    if alignment == "unknown" and prospects.not_aligned != prospects.aligned:
        return Question(ALIGNED, _alignment_matters(prospects), "[alignment] stars")
    pressed_matters = prospects.pressed != prospects.not_pressed
    if presses in (None, "unknown") and pressed_matters:
        return Question(PRESSED, _presses_matter(prospects), "[alignment] presses")
    return None


def how_to_answer(question: Question) -> str:
    """Return where and how the answer is written down, in sentences."""
    return HOW_TO_ANSWER.get(question.answer_in, f"Answer in mount.toml: {question.answer_in}.")


def _alignment_matters(prospects: Prospects) -> str:
    if_not, if_so = prospects.not_aligned, prospects.aligned
    return (
        f"If you did not: {if_not}. If you did: turn no foot, since the alignment hides how the "
        f"base leans. Instead {if_so}."
    )


def _presses_matter(prospects: Prospects) -> str:
    if_not, if_so = prospects.not_pressed, prospects.pressed
    return (
        f"If you did not: {if_not}. If you did, each line starts from the star before it, and "
        f"the log must be read so: {if_so}."
    )
