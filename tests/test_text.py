"""The terminal text: what matters first, within its width, and nothing a terminal would obey."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from fakes import HOSTILE, make_fit
from rich.cells import cell_len

import pointmodel as pm
from pointmodel.aiming.text import aim_text
from pointmodel.base import figures
from pointmodel.diagnosis.kinds import cause_titles
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.results import Noise, TermEstimate
from pointmodel.fitting import words
from pointmodel.fitting.text import fit_text
from pointmodel.mount.terms import TERMS

NOT_A_NUMBER = re.compile(r"\b(nan|inf|none)\b", re.IGNORECASE)


def term(**changes: Any) -> TermEstimate:
    plain = TermEstimate("collimation", 11.8, 0.7, 10.3, 13.3, "arcmin", "determined")
    return replace(plain, **changes)


def test_the_summary_stands_first() -> None:
    fit = make_fit()
    first = " ".join(fit_text(fit).split("\n\n")[0].split())
    assert first == f"{fit.advice.headline} {figures.ARCMINUTE_NOTE}"


@pytest.mark.parametrize("width", [40, 60, 72, 80, 100])
@pytest.mark.parametrize("text", [None, HOSTILE, "星" * 40])
def test_no_line_is_wider_than_asked(width: int, text: str | None) -> None:
    lines = fit_text(make_fit(text=text), width=width).splitlines()
    assert max(cell_len(line) for line in lines) <= width


@pytest.mark.parametrize("text", [None, HOSTILE, "\x9b31mred", "a\x07b\rc\u202ed\ud800"])
def test_plain_text_holds_no_character_that_a_terminal_obeys(text: str | None) -> None:
    written = fit_text(make_fit(text=text))
    assert all(letter.isprintable() or letter == "\n" for letter in written)


def test_square_brackets_of_a_target_are_kept_as_written() -> None:
    assert "[bold]" in fit_text(make_fit(text="[bold]M 42[/bold]"))


def test_colour_is_used_only_where_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[" in fit_text(make_fit(), color=True)
    assert "\x1b[" not in fit_text(make_fit(), color=False)


def test_no_color_in_the_environment_overrules_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[" not in fit_text(make_fit(), color=True)


@pytest.mark.parametrize("pairs", [1, 3, 5, 20])
@pytest.mark.parametrize("field", [None, 48.0])
def test_no_figure_is_ever_shown_as_nan_or_inf(pairs: int, field: float | None) -> None:
    fit = make_fit(pairs=pairs, aside=0, field=field)
    assert not NOT_A_NUMBER.search(fit_text(fit).replace("none set aside", ""))


def test_even_unbounded_terms_are_worded() -> None:
    endless = float("inf")
    lost = term(value=float("nan"), standard_error=endless, low=-endless, high=endless)
    written = fit_text(replace(make_fit(), term_estimates=(lost,)))
    assert "unknown" in written
    assert not NOT_A_NUMBER.search(written)


def test_three_pairs_read_plainly_what_is_not_known() -> None:
    written = " ".join(fit_text(make_fit(pairs=3, aside=0), whole=True).split())
    assert "Only 3 pairs" in written
    assert "So few cannot show a bad line" in written
    assert "Not known from this night: azimuth zero, collimation, non-perp" in written
    assert "Centre one star above 60°" in written


def test_a_single_pair_is_spoken_of_in_the_singular() -> None:
    written = fit_text(make_fit(pairs=1, aside=0))
    assert "Only 1 pair." in written
    assert "1 pair read, 1 used, none set aside" in written


def test_a_good_night_is_not_called_short() -> None:
    assert "Only" not in fit_text(make_fit())


def test_an_unknown_term_shows_its_range_and_no_value() -> None:
    unknown = term(status="not_determined")
    assert words.value_words(unknown) == "—"
    assert words.term_range_words(unknown) == "10.3′ to 13.3′"


def test_a_large_azimuth_index_is_told_in_degrees_as_well() -> None:
    written = fit_text(make_fit(azimuth_index=-6263.4), whole=True)
    assert "−6263.4′ ± 0.9′" in written
    assert "reads low in azimuth, by 104°23′" in written


@pytest.mark.parametrize(
    ("value", "error", "unit", "shown"),
    [
        (11.83, 0.72, "arcmin", "11.8′ ± 0.7′"),
        (11.83, 0.14, "arcmin", "11.83′ ± 0.14′"),
        (118.3, 14.2, "arcmin", "118′ ± 14′"),
        (-0.0004, 0.3, "arcmin", "0.0′ ± 0.3′"),
        (-0.2123, 0.034, "arcmin/deg", "−0.21′/° ± 0.03′/°"),
        (1.04, 0.0, "1", "1.040 ± 0.000"),
    ],
)
def test_values_are_rounded_to_what_is_known(
    value: float, error: float, unit: str, shown: str
) -> None:
    assert words.value_words(term(value=value, standard_error=error, unit=unit)) == shown


@pytest.mark.parametrize(
    ("miss", "shown"),
    [
        (0.0, "0.0′"),
        (0.004, "under 1″"),
        (0.05, "3″"),
        (0.27, "0.3′"),
        (2.94, "2.9′"),
        (2.96, "3′"),
        (9.6, "10′"),
        (89.4, "89′"),
        (89.6, "1.5°"),
        (119.6, "2.0°"),
        (6263.4, "104°"),
    ],
)
def test_misses_are_no_finer_than_a_hand_can_use_and_turn_into_degrees(
    miss: float, shown: str
) -> None:
    assert figures.miss_words(miss) == shown


@pytest.mark.parametrize(
    ("chance", "shown"),
    [(0.0, "under 1 %"), (0.023, "2 %"), (0.97, "97 %"), (1.0, "over 99 %"), (None, "unknown")],
)
def test_a_chance_is_never_called_none_or_certain(chance: float | None, shown: str) -> None:
    assert figures.chance_words(chance) == shown


@pytest.mark.parametrize("name", sorted(TERMS))
def test_every_term_has_words_for_both_signs(name: str) -> None:
    up = words.meaning(term(name=name, value=9.0, low=8.0, high=10.0))
    down = words.meaning(term(name=name, value=-9.0, low=-10.0, high=-8.0))
    assert "negative" not in up + down
    assert up != down or "eccentricity" in name


@pytest.mark.parametrize("cause", sorted(cause_titles()))
def test_every_cause_has_plain_words_and_a_place_in_the_schema(cause: str) -> None:
    assert "_" not in words.cause_words(cause)
    listed = pm.schema("fit")["properties"]["causes"]["items"]["properties"]["cause"]["enum"]
    assert cause in listed


def test_collimation_is_never_shown_without_saying_that_mirrors_are_not_meant() -> None:
    for fit in (make_fit(), make_fit(pairs=3, aside=0)):
        assert "not about the mirrors" in " ".join(fit_text(fit).split())


def test_an_unknown_field_of_view_is_asked_for() -> None:
    written = " ".join(fit_text(make_fit(field=None)).split())
    assert "write yours as field_of_view in mount.toml" in written


def test_noise_is_parted_where_the_centring_error_is_stated() -> None:
    fit = replace(make_fit(), noise=Noise(1.1, 0.9, 1.4, 0.5, 1.0, 0.0))
    told = " ".join(words.noise_words(fit))
    assert "1.0′ is the hand at the eyepiece" in told
    assert "0.5′ the mount itself" in told
    assert "steps" not in told


def test_lines_set_aside_are_listed_with_their_reason() -> None:
    written = fit_text(make_fit())
    told = " ".join(written.split())
    assert "Line 9 (Regulus) is set aside: altitude reads 10° low." in told
    assert "set aside: a" not in fit_text(make_fit(aside=0))


def test_the_sun_is_warned_of_in_every_text() -> None:
    assert "Sun" in fit_text(make_fit())
    assert "Sun" in aim_text(aim_document())


def aim_document() -> dict[str, Any]:
    ready = {
        "target": "M 42",
        "at": "2031-05-17T20:00:00+10:00",
        "command_az_deg": 359.99999,
        "command_alt_deg": 44.51,
        "command_ra": None,
        "command_dec": None,
        "nudge": {"right_arcmin": -12.0, "up_arcmin": 3.4},
        "miss_rms_arcmin": 1.9,
        "chance_in_field": 0.998,
        "approach": {"az": "cw", "alt": "up"},
        "status": "ok",
        "reason": None,
    }
    refused = {
        "target": "Venus\x1b[31m",
        "command_az_deg": None,
        "command_alt_deg": None,
        "nudge": None,
        "status": "sun",
        "reason": "It stands 9° from the Sun.",
    }
    return {"targets": [ready, refused], "warnings": [{"code": "x", "text": "A remark."}]}


def test_corrected_positions_are_listed_and_refusals_explained() -> None:
    written = aim_text(aim_document())
    assert re.search(r"M 42 +0°00\.0′ +44°30\.6′ +12′ left, 3′ up +1\.9′ +over 99 %", written)
    assert "let the mount arrive going cw and up" in written
    assert "too near the Sun. It stands 9° from the Sun." in written
    assert "\x1b" not in written


def test_a_finding_reads_as_sentences_however_it_was_written() -> None:
    cause = Cause(
        cause="log_typo",
        verdict="likely",
        probability=0.99,
        evidence="line 9: altitude reads 10° low",
        remedy="correct the figure",
    )
    written = " ".join(fit_text(replace(make_fit(), causes=(cause,))).split())
    assert "(likely). Line 9: altitude reads 10° low. Correct the figure." in written


def test_a_term_that_may_be_nil_is_given_no_direction() -> None:
    nil = term(value=0.2, low=-6.0, high=6.4)
    assert words.meaning(nil) == "too small to tell which way"
    assert words.meaning(replace(nil, status="weak")) == "which way is not certain"
