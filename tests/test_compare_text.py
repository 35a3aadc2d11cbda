"""The comparison as text: what changed and what to do first, within its width, in plain words."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from comparefakes import make_change, make_comparison
from fakes import HOSTILE
from rich.cells import cell_len

from pointmodel.base.figures import ARCMINUTE_NOTE
from pointmodel.comparing.compare import CompareResult
from pointmodel.comparing.results import NightValue, TermChance
from pointmodel.comparing.tables import day_words, value_cell
from pointmodel.comparing.text import compare_text


def told(result: CompareResult, **how: Any) -> str:
    return " ".join(compare_text(result, **how).split())


def changed(nights: int = 5, before: int = 4, **change: Any) -> CompareResult:
    season = make_comparison(nights, before)
    ids = [night.id for night in season.nights]
    return replace(season, changes=(make_change(ids, before, **change),))


def test_the_sentence_stands_first_and_what_to_do_next() -> None:
    result = make_comparison()
    first, second = compare_text(result).split("\n\n")[:2]
    assert " ".join(first.split()) == f"{result.summary} {ARCMINUTE_NOTE}"
    assert second.startswith("WHAT TO DO\n")


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize("text", [None, HOSTILE, "星" * 30])
def test_no_line_is_wider_than_asked(width: int, text: str | None) -> None:
    lines = compare_text(make_comparison(text=text), width=width).splitlines()
    assert max(cell_len(line) for line in lines) <= width


@pytest.mark.parametrize("text", [HOSTILE, "\x9b31mred", "a\x07b\rc\u202ed\ud800"])
def test_plain_text_holds_no_character_that_a_terminal_obeys(text: str) -> None:
    written = compare_text(make_comparison(text=text))
    assert all(letter.isprintable() or letter == "\n" for letter in written)


def test_colour_is_used_only_where_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[" in compare_text(make_comparison(), color=True)
    assert "\x1b[" not in compare_text(make_comparison())


def test_a_change_says_how_far_when_why_and_how_sure() -> None:
    words = told(make_comparison())
    assert "Collimation +12.0′ (9.1′ to 14.9′), between night 3 (2032-01-26) and night 4" in words
    assert "Tube reseated in its saddle, or mirrors adjusted?" in words
    assert "The chance that nothing changed is under 1 %. This allows for having looked at" in words
    assert "If something did, it was collimation (93 %) or non-perpendicularity (7 %)." in words


def test_only_fits_since_the_newest_change_are_said_to_hold() -> None:
    season = make_comparison(9, 4)
    ids = [night.id for night in season.nights]
    twice = replace(season, changes=(make_change(ids, 7), make_change(ids, 4)))
    assert f"What was fitted before night 7 ({ids[6]}) no longer holds" in told(twice)
    assert "no longer holds" not in told(make_comparison(changed_before=None))


def test_where_it_is_not_told_which_term_moved_what_would_tell_is_said_instead_of_a_cure() -> None:
    rivals = (TermChance("non_perpendicularity", 0.4),)
    unsure = told(changed(probability_this_term=0.6, alternatives=rivals))
    assert (
        "It was collimation or non-perpendicularity. To tell them apart, centre stars near"
        in unsure
    )
    assert "Seat the tube" not in unsure
    assert "Seat the tube in its saddle the same way" in told(make_comparison())


def test_a_term_that_cannot_be_told_says_what_it_may_be_and_what_would_tell() -> None:
    words = told(make_comparison(2, None, kinds={"collimation": "cannot_tell"}))
    assert "Not known: the mount's own 33 %, new each night 33 % or changed 33 %." in words
    assert "Not known from these nights: collimation. More nights, or more pairs a night" in words


def test_terms_new_each_night_are_said_to_differ_and_steady_ones_have_a_value() -> None:
    words = told(make_comparison())
    assert "Non-perpendicularity 95 % It is the same on all nights: −4′ (−9′ to 1′)." in words
    assert "Altitude zero 95 % It differs by about 14′ from night to night." in words
    assert "Azimuth zero 95 % The mount faces a new way each night." in words


def test_what_changed_is_told_before_what_is_steady_and_what_is_new() -> None:
    words = told(make_comparison())
    table = words[words.index("THE TERMS OVER THE NIGHTS") :]
    places = [table.index(n) for n in ("Collimation", "Non-perpendicularity", "Altitude zero")]
    assert places == sorted(places)


def test_both_directions_of_the_lean_share_a_line_where_they_read_the_same() -> None:
    assert "Lean, north and east" in told(make_comparison())
    result = make_comparison(kinds={"tilt_north": "mount", "tilt_east": "mount"})
    words = told(result)
    assert "Lean north" in words
    assert "Lean east" in words


def test_a_change_of_the_lean_is_told_for_both_directions() -> None:
    season = make_comparison(5, None, kinds={"tilt_north": "changed", "tilt_east": "changed"})
    ids = [night.id for night in season.nights]
    moved = make_change(ids, 3, term="tilt_east", alternatives=(), probability_this_term=1.0)
    words = told(replace(season, changes=(moved,)))
    assert "It moved by +12.0′ ± 1.5′ between nights 2 and 3" in words
    assert "It moved with the rest of the lean between nights 2 and 3" in words
    assert "Look at the feet" in words


def test_a_changed_term_without_a_date_says_so() -> None:
    words = told(replace(make_comparison(), changes=()))
    assert "It moved, but these nights do not tell when." in words


def test_aligned_logs_are_told_of_their_alignment_and_not_to_zero_on_a_star() -> None:
    words = told(make_comparison(5, None, is_aligned=True))
    assert "New with each alignment: azimuth zero, altitude zero and lean." in words
    assert "Zero on a star" not in words


def test_where_nothing_is_new_each_night_nothing_is_asked_to_be_measured_anew() -> None:
    steady = dict.fromkeys(("azimuth_index", "altitude_index", "tilt_north", "tilt_east"), "mount")
    assert "New each night" not in told(make_comparison(kinds=steady))


def test_every_night_has_its_line_with_pairs_noise_and_misses() -> None:
    result = make_comparison()
    night = result.nights[1]
    words = told(replace(result, nights=tuple(
        replace(n, sigma_arcmin=1.04, before_rms_arcmin=1200.0, after_rms_arcmin=1.32)
        for n in result.nights
    )))  # fmt: skip
    assert f"2 {night.id} 13 of 14 1.0′ 20° 1.3′" in words
    assert f"1 {result.nights[0].id} 14 1.0′ 20° 1.3′" in words


def test_starts_are_listed_only_where_names_do_not_hold_the_dates() -> None:
    assert "2032-01-12 19:10" not in told(make_comparison())
    assert "garden0 2032-01-12 19:10" in told(make_comparison(text="garden"))


def test_many_nights_are_told_by_their_extremes() -> None:
    words = told(make_comparison(300, 100))
    assert "NIGHT BY NIGHT" not in words
    assert "300 nights, 2032-01-12 to" in words
    assert len(compare_text(make_comparison(300, 100)).splitlines()) < 50


def test_carry_over_is_parted_by_the_change() -> None:
    words = told(make_comparison())
    assert (
        "miss by 1.2′ to 1.3′ if nothing changed between the two nights. Across a change" in words
    )
    steady = told(make_comparison(changed_before=None))
    assert "miss by 1.2′ to 1.3′." in steady


def test_carry_over_is_left_out_where_there_are_many_nights() -> None:
    few = make_comparison()
    many = replace(make_comparison(60, 31), carry_over=few.carry_over)
    assert "miss by" not in told(many)


def test_the_next_night_is_offered_the_profile_on_the_narrowest_page_too() -> None:
    for width in (40, 100):
        words = told(make_comparison(), width=width)
        assert "--profile-out mount-profile.json" in words
        assert "pointmodel fit LOG --prior mount-profile.json" in words


def test_an_azimuth_is_told_in_degrees_and_a_small_term_in_minutes() -> None:
    assert value_cell(NightValue("a", 5211.0, 5206.0, 5215.0)) == ("86°51′", "86°46′ to 86°55′")
    assert value_cell(NightValue("a", -4.76, -8.5, -1.22)) == ("−4.8′", "−8.5′ to −1.2′")


def test_dates_are_short_within_a_year_and_name_it_beyond() -> None:
    assert day_words("2032-02-03T19:45:00+00:00", True) == "3 Feb"
    assert day_words("2032-02-03T19:45:00+00:00", False) == "Feb 2032"
    assert day_words(None, True) == ""


def test_no_figure_is_ever_shown_as_nan_or_inf() -> None:
    lost = float("nan")
    season = make_comparison()
    nights = tuple(replace(night, sigma_arcmin=lost) for night in season.nights)
    words = told(replace(season, nights=nights))
    assert "unknown" in words
    assert not re.search(r"\b(nan|inf|None)\b", words)
