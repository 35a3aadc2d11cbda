"""The one advice: what comes first, how remedies chain, that all who show it say the same."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.advice_figures import anyhow
from bench.evening_kinds import evening
from bench.evening_orders import answer, answer_to
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.advising import words
from pointmodel.advising.ladder import Ladder
from pointmodel.diagnosis.evidence import size_of
from pointmodel.fitting.page import report_html
from pointmodel.fitting.text import fit_text
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import is_good, worth_it
from pointmodel.mount.remedies import ACTIONS, REMEDIES, minutes_for

DATA = Path(__file__).parent.parent / "data"
LEANING = {"tilt_north": 15.0, "tilt_east": 42.0, "altitude_index": -9.0}
TOLD: dict[str, Any] = {
    "alignment": {"stars": []},
    "entered": {"verified": True},
    "optics": {"field_of_view": 48},
    "feet": {"radius": 430, "azimuths": [0, 120, 240]},
}


@cache
def demonstration() -> pm.Fit:
    return pm.fit(pm.read_log(DATA / "leaning.csv"))


@cache
def simulated(pairs: int = 14, seed: int = 3, **terms: float) -> pm.Fit:
    made = pm.simulate(seed=seed, pairs=pairs, mount_class="perfect", terms=dict(terms))
    return pm.fit(made.log, mount=TOLD)


def test_the_demonstration_night_is_told_one_thing_quick_and_thorough() -> None:
    advice = demonstration().advice
    assert advice.state == "mend"
    assert advice.quick is not None
    assert advice.quick.actions == ("realign",)
    assert advice.actions == ("level", "zero_on_star")
    assert advice.headline.startswith("Align on Arcturus and Acrux (3 min): 42′ → 12′.")


def test_the_miss_after_a_step_is_that_of_it_and_all_before_it() -> None:
    fit = demonstration()
    level, zero = fit.advice.steps
    table = {one.remedy: one for one in fit.forecasts}
    assert zero.rms_arcmin == table["level"].rms_arcmin  # the row is: levelled and zeroed
    assert zero.rms_arcmin is not None
    assert level.rms_arcmin is not None
    assert zero.rms_arcmin < level.rms_arcmin < table["none"].rms_arcmin


def test_level_shows_the_same_advice_and_levels_exactly_where_a_step_does() -> None:
    for terms in (LEANING, {"altitude_index": 40.0}, {"tilt_east": 3.0}):
        fit = simulated(**terms)
        result = pm.level(fit)
        assert result.advice == fit.advice
        assert (result.verdict == "level") == ("level" in fit.advice.actions)


def test_what_the_document_says_is_what_the_text_says() -> None:
    fit = demonstration()
    document = fit.to_dict()
    keeps_its_schema(document, "fit")
    assert document["summary"] == document["advice"]["headline"] == fit.summary
    assert document["advice"] == pm.level(fit).to_dict()["advice"]
    told = " ".join(fit_text(fit).split())
    for step in document["advice"]["steps"]:
        assert step["text"].split(":")[0] in told
    assert json.dumps(document["advice"])  # plain types alone


def test_no_step_that_makes_go_to_worse_is_printed_alone() -> None:
    for seed in range(4):
        for kind in ("plain", "zeroed"):
            advice = answer(evening(kind, seed)).fit.advice  # type: ignore[union-attr]
            for plan in (advice.thorough, advice.quick):
                if plan is None or plan.rms_arcmin is None:
                    continue
                assert plan.rms_arcmin <= advice.now_rms_arcmin


def _forecast(rms: float, chance: float) -> RemedyForecast:
    return RemedyForecast(
        remedy="none",
        rms_arcmin=rms,
        rms_low_arcmin=rms,
        rms_high_arcmin=rms,
        median_arcmin=rms,
        p95_arcmin=rms,
        chance_in_field=chance,
        sample_arcmin=np.array([rms]),
    )


def test_one_rule_says_whether_a_way_is_worth_it() -> None:
    field = 48.0
    good, better = _forecast(10.0, 0.97), _forecast(5.0, 0.99)
    assert is_good(good, field)
    assert not worth_it(good, better, field)  # 5′ is less than an eighth of 48′
    assert worth_it(_forecast(12.0, 0.97), better, field)
    assert not worth_it(_forecast(100.0, 0.1), _forecast(90.0, 0.11), field)  # less than a fifth
    assert worth_it(_forecast(26.0, 0.5), _forecast(24.0, 0.6), field)  # one target in ten more


def test_minutes_are_counted_once_by_hand_and_for_every_target_of_corrections() -> None:
    assert minutes_for(("level", "zero_on_star")) == 12.0
    assert minutes_for(("apply_corrections",), targets=30) == pytest.approx(10.0)
    assert minutes_for(("recentre_lines",), lines=3) == 6.0
    assert REMEDIES["square_tube"].minutes == 22


def test_many_targets_make_corrections_dear() -> None:
    # non-perpendicularity: nothing by hand cures it
    few = simulated(non_perpendicularity=40.0, altitude_index=30.0)
    assert "apply_corrections" in few.advice.actions
    lean = simulated(tilt_north=40.0, tilt_east=10.0, altitude_index=40.0)
    assert lean.advice.quick is not None
    assert lean.advice.quick.actions == ("apply_corrections",)
    many = replace(lean, targets=90)
    assert many.advice.quick is None or many.advice.quick.actions != ("apply_corrections",)


def test_corrections_wait_for_a_zero_where_two_fields_are_missed() -> None:
    far = simulated(non_perpendicularity=40.0, altitude_index=200.0)
    assert far.advice.actions == ("zero_on_star", "apply_corrections")
    assert "zero_on_star in its column event" in far.advice.steps[1].text


def test_a_mount_set_down_anyhow_is_levelled_squared_zeroed_and_logged_again() -> None:
    one = anyhow(3)
    said = answer_to(one.text, {**one.told, "entered": {"verified": True}})
    advice = said.fit.advice  # type: ignore[union-attr]
    assert advice.actions == ("level", "square_tube", "zero_on_star", "log_again")
    assert advice.thorough.rms_arcmin < 10.0  # of some thousands
    assert "corrected positions" not in advice.headline


def test_a_way_has_at_most_three_actions_and_ends_with_what_undoing_asks_for() -> None:
    one = anyhow(3)
    fit = answer_to(one.text, {**one.told, "entered": {"verified": True}}).fit
    assert fit is not None
    for first in ((), ("steady_base",)):
        for way in Ladder(fit.grounds(), True, False, first).by_hand:
            assert len(first) + len(way) <= 3
            assert len(way) <= 1 or way[-1] == "zero_on_star"  # nobody aligned it before
            if any(ACTIONS[name].voids for name in way):
                assert ACTIONS[way[-1]].ends in ("zero", "realign")


def test_a_lean_that_a_wrong_clock_could_feign_is_compared_first() -> None:
    fit = pm.fit(simulated(**LEANING).log, mount={**TOLD, "entered": {}})
    assert "check_entries" in fit.advice.actions
    assert "level" not in fit.advice.actions
    assert pm.level(fit).verdict == "cannot_tell"


def test_an_unknown_alignment_is_asked_about_and_nothing_else_is_ordered() -> None:
    told = {key: value for key, value in TOLD.items() if key != "alignment"}
    advice = pm.fit(simulated(**LEANING).log, mount=told).advice
    assert (advice.state, advice.actions) == ("ask", ("answer_question",))
    assert advice.question is not None
    assert advice.headline == advice.question.ask
    assert advice.quick is None


@pytest.mark.parametrize(("readout", "state"), [("sky", "mend"), ("axes", "ask")])
def test_nothing_is_asked_where_every_answer_leads_to_the_same_advice(
    readout: str, state: str
) -> None:
    """Where the display shows places of the sky they can be corrected, aligned or not."""
    told = {key: value for key, value in TOLD.items() if key != "alignment"}
    told["mount"] = {"readout": readout}
    log = simulated(non_perpendicularity=40.0, altitude_index=3.0).log
    advice = pm.fit(log, mount=told).advice
    assert advice.state == state
    assert (advice.question is None) == (state == "mend")


def test_a_knocked_base_is_steadied_before_anything_else() -> None:
    advice = answer(evening("knocked", 1, lines=(12, 12))).fit.advice  # type: ignore[union-attr]
    assert advice.actions[0] == "steady_base"
    assert advice.headline.startswith("Something moved after line ")


def test_a_wrong_entry_is_put_right_and_the_mount_zeroed_or_aligned_after_it() -> None:
    found = [answer(evening("wrong_entry", seed)).fit.advice for seed in (1, 3, 4)]  # type: ignore[union-attr]
    for advice in found:
        assert advice.actions[0] == "set_entry"
        assert advice.steps[0].rms_arcmin is None  # before the zero nothing is known
        assert ACTIONS[advice.actions[1]].ends in ("zero", "realign")
        # the headline says what the steps say
        other = {"zero_on_star": "align", "realign": "zero on"}[advice.actions[1]]
        assert other not in advice.headline


def test_causes_name_the_step_that_cures_them() -> None:
    causes = {cause.cause: cause for cause in demonstration().causes}
    assert causes["not_level"].remedy == "level the base (step 1)"
    assert causes["azimuth_zero"].remedy == "zero on a star (step 2)"


def test_sizes_in_causes_are_those_of_the_table_of_terms() -> None:
    """No sentence names a size of a term outside the interval that the table shows."""
    for kind in ("plain", "zeroed", "nudges", "plain_good"):
        for seed in range(6):
            fit = answer(evening(kind, seed)).fit
            if fit is None or fit.readings.stops or fit._case.own_lean:
                continue
            table = {term.name: term for term in fit.term_estimates}
            for finding in fit.sparse_findings:
                if len(finding.terms) == 1 and finding.terms[0] in table:
                    size, row = size_of(finding, fit._case), table[finding.terms[0]]
                    assert (size.value, size.low, size.high) == (row.value, row.low, row.high)
            lean = next((c for c in fit.causes if c.cause == "not_level"), None)
            if lean is not None:
                assert lean.size == fit.lean.amount_arcmin == pm.level(fit).lean.amount_arcmin


def test_nothing_is_ruled_out_whose_interval_reaches_beyond_what_matters() -> None:
    for seed in range(6):
        fit = answer(evening("plain", seed, lines=(4, 4))).fit
        if fit is None:
            continue
        matters = {"altitude_zero": 5.0, "collimation": 4.0, "non_perpendicularity": 4.0}
        for cause in fit.causes:
            if cause.verdict == "ruled_out" and cause.cause in matters and cause.low is not None:
                assert max(abs(cause.low), abs(cause.high or 0.0)) <= matters[cause.cause]
            if cause.verdict == "open":
                assert "these stars leave up to" in cause.evidence or "could be" in cause.evidence


def test_with_few_stars_what_is_open_is_said_in_one_line() -> None:
    fit = pm.fit(simulated(pairs=3, **LEANING).log, mount=TOLD)
    told = " ".join(fit_text(fit).split())
    assert told.count("No sign of these, but these stars cannot rule them out") == 1
    assert told.count("leave up to") == 0


def test_the_combination_that_is_known_is_said_as_such() -> None:
    fit = pm.fit(pm.read_log(DATA / "four-stars.csv"))
    evidence = next(c.evidence for c in fit.causes if c.cause == "azimuth_zero")
    assert re.match(r"45° up the azimuth readout is low by \d+′ \(\d+′ to \d+′\)", evidence)


def test_a_usual_night_is_sixty_lines_and_the_first_screen_decides(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(DATA.parent)
    lines = fit_text(pm.fit(pm.read_log("data/leaning.csv")), width=80).rstrip().split("\n")
    assert len(lines) <= 60
    screen = "\n".join(lines[:24])
    assert "42′" in screen  # how bad
    assert "Level the base: foot 1 lower" in screen  # what to do
    assert "1.2′" in screen  # how good then


def test_the_page_shows_the_headline_and_orders_nothing_in_bold_that_worsens() -> None:
    page = report_html(demonstration())
    assert demonstration().advice.headline in page.replace("\u00a0", " ")
    assert "alone it gains nothing" not in page


def test_a_good_go_to_needs_nothing() -> None:
    advice = pm.fit(pm.read_log(DATA / "healthy.csv")).advice
    assert (advice.state, advice.steps, advice.quick) == ("good", (), None)


@pytest.mark.parametrize(
    ("text", "cut"),
    [
        ("Short. And more.", "Short. And more."),
        ("A first sentence. L" + "o" * 150 + "ng.", "A first sentence."),
        ("One. Two three.", "One. Two three."),
    ],
)
def test_a_headline_is_cut_at_a_sentence(text: str, cut: str) -> None:
    assert words.cut(text) == cut
    assert len(words.cut("word " * 80)) <= words.LONGEST_HEADLINE
