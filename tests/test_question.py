"""What is asked of the owner, and where the answer goes. When it is asked: `test_advising.py`."""

from __future__ import annotations

from pointmodel.reading.mountkeys import TABLES
from pointmodel.readings.question import HOW_TO_ANSWER, alignment_question, how_to_answer


def test_an_unknown_alignment_is_asked_about_with_what_each_answer_would_change() -> None:
    asked = alignment_question("level the base, then zero on a star", "align again on two stars")
    assert asked.ask == "Before this log, did you align the controller on two or more stars?"
    assert "If you did not: level the base, then zero on a star." in asked.why
    assert "If you did: turn no foot" in asked.why
    assert asked.why.endswith("Instead align again on two stars.")
    assert asked.answer_in == "[alignment] stars"
    assert "stars = []" in how_to_answer(asked)


def test_every_answer_has_a_key_of_the_mount_file_to_go_into() -> None:
    for place in HOW_TO_ANSWER:
        table, key = place.strip("[").split("] ")
        assert key in TABLES[table]
