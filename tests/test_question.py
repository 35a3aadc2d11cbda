"""What is asked of the owner, and when nothing is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pointmodel.reading.mountkeys import TABLES
from pointmodel.readings.question import HOW_TO_ANSWER, Prospects, how_to_answer, question_for

LEANING = Prospects(
    good_now=False,
    not_aligned="level the base, then zero on a star",
    aligned="align again on two stars",
)


def test_an_unknown_alignment_is_asked_about_with_what_each_answer_would_change() -> None:
    asked = question_for("unknown", None, LEANING)
    assert asked is not None
    assert asked.ask == "Before this log, did you align the controller on two or more stars?"
    assert "If you did not: level the base, then zero on a star." in asked.why
    assert "If you did: turn no foot" in asked.why
    assert asked.answer_in == "[alignment] stars"
    assert "stars = []" in how_to_answer(asked)


def test_a_good_go_to_is_just_good() -> None:
    assert question_for("unknown", None, replace(LEANING, good_now=True)) is None


def test_nothing_is_asked_where_both_answers_lead_to_the_same() -> None:
    same = Prospects(good_now=False, not_aligned="square_tube", aligned="square_tube")
    assert question_for("unknown", None, same) is None


@pytest.mark.parametrize("state", ["none", "one_star", "two_or_more"])
def test_what_the_owner_has_said_is_not_asked_again(state: str) -> None:
    assert question_for(state, None, LEANING) is None  # type: ignore[arg-type]


def test_presses_are_asked_about_only_where_the_log_does_not_tell() -> None:
    untold = replace(LEANING, not_pressed="zero_on_star", pressed="level")
    asked = question_for("none", None, untold)
    assert asked is not None
    assert asked.answer_in == "[alignment] presses"
    assert question_for("none", "unknown", untold) == asked
    assert question_for("none", "none", untold) is None
    assert question_for("none", None, replace(untold, pressed="zero_on_star")) is None


def test_every_answer_has_a_key_of_the_mount_file_to_go_into() -> None:
    for place in HOW_TO_ANSWER:
        table, key = place.strip("[").split("] ")
        assert key in TABLES[table]
