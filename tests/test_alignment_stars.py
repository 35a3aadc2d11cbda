"""What the names of the alignment stars say of the alignment."""

from __future__ import annotations

import re

from pointmodel.diagnosis.alignmentstars import alignment_star_words


def test_a_well_spaced_pair_is_told_with_its_angle() -> None:
    # Arcturus and Spica stand 32.7930° apart: Meeus, Astronomical Algorithms, example 17.a
    assert alignment_star_words(("Arcturus", "Spica")) == (
        "it was aligned on Arcturus and Spica, 33° apart"
    )


def test_stars_that_are_near_or_opposite_are_said_to_be_a_bad_choice() -> None:
    near = alignment_star_words(("Castor", "Pollux"))
    assert near is not None
    assert re.search("[45]° apart. They stand near each other", near)
    opposite = alignment_star_words(("Antares", "Aldebaran"))
    assert opposite is not None
    assert "nearly opposite" in opposite


def test_of_three_stars_the_best_spaced_two_are_named() -> None:
    words = alignment_star_words(("Castor", "Pollux", "Spica"))
    assert words is not None
    assert "Spica the best spaced" in words


def test_unknown_names_and_planets_say_nothing() -> None:
    assert alignment_star_words(("first", "second")) is None
    assert alignment_star_words(("Jupiter", "Spica")) is None
