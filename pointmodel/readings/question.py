"""The one thing to ask the owner, in whole plain sentences, and only where the answer matters.

Read `result.py` first. Asked is where different answers would give different advice
(`advising/advise.py` sees to that); what each would lead to is said with the question.
"""

from __future__ import annotations

from collections.abc import Mapping

from pointmodel.readings.result import Question

ALIGNED = "Before this log, did you align the controller on two or more stars?"

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


def alignment_question(if_not: str, if_so: str) -> Question:
    """Return the question whether the controller was aligned before the log.

    `if_not` and `if_so` are what would be advised, in few words, without capital or full stop.
    """
    why = (
        f"If you did not: {if_not}. If you did: turn no foot, since the alignment hides how the "
        f"base leans. Instead {if_so}."
    )
    return Question(ALIGNED, why, "[alignment] stars")


def how_to_answer(question: Question) -> str:
    """Return where and how the answer is written down, in sentences."""
    return HOW_TO_ANSWER.get(question.answer_in, f"Answer in mount.toml: {question.answer_in}.")
