"""Nights compared: kinds, changes, names and order, what is refused, the document, the profile."""

from __future__ import annotations

import json
import pickle
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.compare_figures import Plan, season
from bench.nights import night
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.comparing.carry_over import ALL_PAIRS_UP_TO
from pointmodel.comparing.season import TERMS_FREED
from pointmodel.comparing.words import change_words, summary_words
from pointmodel.mount.terms import STANDARD_NAMES

STEP = Plan(nights=4, pairs=24, steps={"collimation": 30.0})


def logs_of(plan: Plan, seed: int) -> list[pm.NightLog]:
    return [
        replace(one.log, name=f"evening-{k}", source=f"evening-{k}.csv")
        for k, one in enumerate(season(plan, seed).nights)
    ]


@pytest.fixture(scope="module")
def stepped() -> pm.nightcompare.CompareResult:
    return pm.compare(logs_of(STEP, 1))


@pytest.fixture(scope="module")
def steady() -> pm.nightcompare.CompareResult:
    return pm.compare(logs_of(Plan(nights=5), 4))


def term_of(result: pm.nightcompare.CompareResult, name: str) -> Any:
    return next(term for term in result.terms if term.name == name)


def test_a_step_is_found_dated_sized_and_put_under_its_term(
    stepped: pm.nightcompare.CompareResult,
) -> None:
    made = season(STEP, 1)
    (change,) = stepped.changes
    assert change.term == "collimation"
    assert change.after == f"evening-{made.place - 1}"
    assert change.before == f"evening-{made.place}"
    truth = made.nights[-1].terms["collimation"] - made.nights[0].terms["collimation"]
    assert abs(truth) == pytest.approx(30.0)
    assert change.low < truth < change.high
    assert change.probability_unchanged < 0.01
    assert change.probability_this_term > 0.95
    assert [one.term for one in change.alternatives] == ["non_perpendicularity"]
    shares = change.probability_this_term + change.alternatives[0].probability
    assert shares == pytest.approx(1.0)
    assert term_of(stepped, "collimation").kind == "changed"


def test_the_common_value_of_a_term_that_changed_is_that_since(
    stepped: pm.nightcompare.CompareResult,
) -> None:
    term = term_of(stepped, "collimation")
    truth = season(STEP, 1).nights[-1].terms["collimation"]
    assert term.common.low < truth < term.common.high
    assert term.by_night[-1].value == pytest.approx(term.common.value, abs=1.5)
    assert abs(term.by_night[0].value - term.common.value) > 20.0


def test_terms_of_tube_and_set_up_are_told_apart(steady: pm.nightcompare.CompareResult) -> None:
    assert [term.kind for term in steady.terms] == ["setup", "setup", "mount", "mount", "setup",
                                                    "setup"]  # fmt: skip
    assert steady.changes == ()
    assert "No change is seen over 5 nights" in steady.summary
    for term in steady.terms:
        assert term.kind_probability == max(dict(term.kinds).values())
        for one in term.by_night:
            assert one.low < one.value < one.high
        spread = term.between_night_sd
        assert 0.0 < spread.low < spread.value < spread.high


def test_both_tilts_have_one_kind_and_one_spread(steady: pm.nightcompare.CompareResult) -> None:
    north, east = (term_of(steady, name) for name in ("tilt_north", "tilt_east"))
    assert (north.kind, north.kinds, north.between_night_sd) == (
        east.kind, east.kinds, east.between_night_sd,
    )  # fmt: skip


def test_azimuth_indices_stay_within_half_a_turn() -> None:
    azimuths = (10790.0, -10790.0, 10700.0, -10750.0)
    nights = [
        night(np.random.default_rng(k), "usual", 10, terms={"azimuth_index": azimuth}).log
        for k, azimuth in enumerate(azimuths)
    ]
    term = term_of(pm.compare(nights), "azimuth_index")
    for one, azimuth in zip(term.by_night, azimuths, strict=True):
        assert -10800.0 < one.value <= 10800.0
        off = (one.value - azimuth + 10800.0) % 21600.0 - 10800.0
        assert abs(off) < 40.0
    assert abs(term.common.value) > 10600.0
    assert term.between_night_sd.value < 200.0


def test_a_re_levelled_base_on_a_pier_is_told_as_that() -> None:
    made = season(Plan(nights=6, pier=True), 3).nights
    logs = [one.log for one in made[:3]]
    rng = np.random.default_rng(9)
    for k, one in enumerate(made[3:]):
        terms = {name: one.terms[name] for name in STANDARD_NAMES}
        terms["tilt_east"] += 40.0
        start_s = one.options.start_s
        logs.append(night(rng, "usual", 12, terms=terms, start_s=start_s + k).log)
    (change,) = pm.compare(logs).changes
    assert (change.after, change.before) == ("night-3", "night-4")
    assert change.term == "tilt_east"
    assert change.low < 40.0 < change.high
    assert change.alternatives == ()
    assert "levelled again" in change.likely_event


def test_nights_stand_in_the_order_of_their_starts() -> None:
    logs = logs_of(Plan(nights=3, pairs=6), 2)
    forward, backward = pm.compare(logs), pm.compare(logs[::-1])
    assert [one.id for one in forward.nights] == ["evening-0", "evening-1", "evening-2"]
    assert forward.to_dict() == backward.to_dict()


def test_nights_without_times_stand_as_given_and_it_is_said() -> None:
    logs = logs_of(Plan(nights=3, pairs=6), 2)
    logs[1] = replace(logs[1], time_s=np.full(6, np.nan))
    result = pm.compare(logs[::-1])
    assert [one.id for one in result.nights] == ["evening-2", "evening-1", "evening-0"]
    assert result.nights[1].start is None
    assert "order" in {notice.code for notice in result.warnings}
    document = result.to_dict()
    assert document["nights"][1]["start_reason"] == "the log has no times"
    keeps_its_schema(document, "compare")


def test_names_are_the_files_made_unlike(tmp_path: Path) -> None:
    made = season(Plan(nights=3, pairs=6), 2).nights
    paths = []
    for folder, one in zip(("first", "second", "."), made, strict=True):
        (tmp_path / folder).mkdir(exist_ok=True)
        path = tmp_path / folder / ("night.csv" if folder != "." else "other.csv")
        path.write_text(one.to_csv_text(), encoding="utf-8")
        paths.append(str(path))
    result = pm.compare([*paths, made[0].log.pairs])
    names = [one.id for one in result.nights]
    assert sorted(names) == ["first/night", "night-2", "other", "second/night"]


def test_fits_logs_frames_and_paths_give_the_same(tmp_path: Path) -> None:
    logs = logs_of(Plan(nights=2, pairs=8), 5)
    as_fits = pm.compare([pm.fit(log) for log in logs])
    assert as_fits.to_dict() == pm.compare(logs).to_dict()
    frames = pm.compare([log.pairs for log in logs])
    assert [one.id for one in frames.nights] == ["night-1", "night-2"]
    assert frames.terms[2].common == as_fits.terms[2].common


def test_a_folder_and_a_pattern_stand_for_their_logs_each_once(tmp_path: Path) -> None:
    for k, one in enumerate(season(Plan(nights=3, pairs=6), 2).nights):
        (tmp_path / f"n{k}.csv").write_text(one.to_csv_text(), encoding="utf-8")
    (tmp_path / "n0.truth.json").write_text("{}", encoding="utf-8")
    (tmp_path / ".hidden.csv").write_text("no log", encoding="utf-8")
    folder = pm.compare(str(tmp_path))
    assert [one.id for one in folder.nights] == ["n0", "n1", "n2"]
    assert folder.warnings == ()
    pattern = pm.compare([str(tmp_path / "n[01].csv"), tmp_path / "n1.csv", tmp_path])
    assert [one.id for one in pattern.nights] == ["n0", "n1", "n2"]


def test_a_log_that_cannot_be_used_is_told_and_left_out(tmp_path: Path) -> None:
    for k, one in enumerate(season(Plan(nights=2, pairs=6), 2).nights):
        (tmp_path / f"n{k}.csv").write_text(one.to_csv_text(), encoding="utf-8")
    (tmp_path / "bad.csv").write_text("commanded_az,commanded_alt\n1,2\n", encoding="utf-8")
    result = pm.compare(tmp_path)
    assert len(result.nights) == 2
    (notice,) = result.warnings
    assert notice.code == "skipped"
    assert "bad.csv" in notice.text


@pytest.mark.parametrize(
    ("logs", "told"),
    [
        ([], "read no usable night; wanted two nights of one mount or more"),
        ("no-such-folder/*.csv", "read no log; wanted a folder or pattern with logs in it"),
        (["no-such.csv", "nor-this.csv"], "nor-this.csv: read no file of that name"),
        (7, "read 7; wanted a list of logs"),
        ([3, 4], "read 3; wanted the path of a log"),
    ],
)
def test_what_cannot_be_compared_is_refused(logs: Any, told: str) -> None:
    with pytest.raises(pm.InputError, match=told.replace("*", r"\*")):
        pm.compare(logs)


def test_one_night_is_refused() -> None:
    with pytest.raises(pm.InputError, match="read one usable night; wanted two nights"):
        pm.compare(logs_of(Plan(nights=2, pairs=6), 2)[:1])


def test_a_frame_alone_is_refused_as_no_list() -> None:
    frame = logs_of(Plan(nights=2, pairs=6), 2)[0].pairs
    with pytest.raises(pm.InputError, match="wanted a list of logs"):
        pm.compare(frame)


def test_nothing_given_is_modified() -> None:
    frames = [log.pairs for log in logs_of(Plan(nights=2, pairs=6), 2)]
    before = [frame.copy() for frame in frames]
    pm.compare(frames)
    assert all(a.equals(b) for a, b in zip(frames, before, strict=True))


@pytest.mark.parametrize("name", ["stepped", "steady"])
def test_the_document_is_as_its_schema_says(name: str, request: pytest.FixtureRequest) -> None:
    result = request.getfixturevalue(name)
    document = result.to_dict()
    keeps_its_schema(document, "compare")
    assert json.loads(json.dumps(document)) == document
    assert document["schema"] == "pointmodel.compare/1"
    assert [term["name"] for term in document["terms"]] == list(STANDARD_NAMES)
    assert len(document["changes"]) == len(result.changes)


def test_a_result_can_be_sent_to_another_process(stepped: pm.nightcompare.CompareResult) -> None:
    assert pickle.loads(pickle.dumps(stepped)).to_dict() == stepped.to_dict()


def test_the_terms_of_another_night_leave_more_where_the_tube_moved_between(
    stepped: pm.nightcompare.CompareResult,
) -> None:
    place = season(STEP, 1).place
    ids = [one.id for one in stepped.nights]
    across = [ids.index(c.train) < place <= ids.index(c.test) for c in stepped.carry_over]
    left = np.array([c.rms_arcmin for c in stepped.carry_over])
    assert len(left) == 4 * 3
    assert left[across].min() > 2.5
    within = [
        (ids.index(c.train) < place) == (ids.index(c.test) < place) for c in stepped.carry_over
    ]
    assert left[within].max() < 2.5


def test_a_nights_own_terms_leave_what_its_fit_does() -> None:
    """Carried to itself a night keeps its misses: it is compared with a twin of its own."""
    log = logs_of(Plan(nights=2, pairs=20), 6)[0]
    twin = replace(log, name="twin", source="twin.csv", time_s=log.time_s + 86400.0)
    result = pm.compare([log, twin])
    for one in result.carry_over:
        assert one.rms_arcmin == pytest.approx(result.nights[0].after_rms_arcmin, rel=0.03)


def test_of_many_nights_only_neighbours_are_tested_on_each_other() -> None:
    result = pm.compare(logs_of(Plan(nights=ALL_PAIRS_UP_TO + 1, pairs=6), 1))
    assert len(result.carry_over) == 2 * ALL_PAIRS_UP_TO


def test_the_profile_is_what_one_more_night_will_be(
    steady: pm.nightcompare.CompareResult,
) -> None:
    profile = steady.profile
    assert profile.nights == 5
    assert profile.terms == STANDARD_NAMES
    assert np.linalg.eigvalsh(profile.covariance).min() > 0.0
    sd = np.sqrt(np.diag(profile.covariance))
    assert sd[0] > 500.0
    assert sd[3] < 5.0
    along = np.array([0.0, 0.0, 1.0, 1.0, 0.0, 0.0])
    assert along @ profile.covariance @ along < 0.5 * (sd[2] ** 2 + sd[3] ** 2)
    assert 0.5 < np.exp(profile.log_sigma_mean) < 1.6
    assert 0.1 < profile.log_sigma_sd < 0.6
    fit = pm.fit(logs_of(Plan(nights=5), 4)[0], prior=profile)
    assert "profile" in {notice.code for notice in fit.warnings}


def test_the_comparison_does_not_count_a_profile_twice() -> None:
    logs = logs_of(Plan(nights=2, pairs=10), 8)
    profile = pm.compare(logs).profile
    plain = pm.compare(logs).terms[2]
    started = pm.compare([pm.fit(log, prior=profile) for log in logs]).terms[2]
    width, wider = (term.common.high - term.common.low for term in (started, plain))
    assert width == pytest.approx(wider, rel=0.25)


def test_logs_made_after_an_alignment_are_compared_with_a_warning() -> None:
    logs = [
        pm.fit(log, mount={"alignment": {"stars": ["Achernar", "Canopus"]}})
        for log in logs_of(Plan(nights=3, pairs=8), 3)
    ]
    result = pm.compare(logs)
    assert result.is_aligned
    assert "aligned" in {notice.code for notice in result.warnings}
    assert not [words for words in result.habits if "You level" in words]


def test_a_term_held_in_a_night_s_own_fit_is_free_in_the_comparison_and_that_is_said() -> None:
    logs = logs_of(Plan(nights=2), 1)
    held = pm.parameters()
    held["collimation"].set(value=0.0, vary=False)
    result = pm.compare([pm.fit(logs[0], params=held), logs[1]])
    told = [notice.text for notice in result.warnings if notice.code == "terms_freed"]
    assert told == [f"evening-0: {TERMS_FREED}"]
    assert result.terms == pm.compare(logs).terms


def test_mount_files_of_different_mounts_are_remarked_on() -> None:
    logs = logs_of(Plan(nights=2, pairs=6), 3)
    fits = [
        pm.fit(log, mount={"mount": {"name": name}}) for log, name in zip(logs, "AB", strict=True)
    ]
    notices = {notice.code: notice.text for notice in pm.compare(fits).warnings}
    assert "different mounts (A and B)" in notices["other_mounts"]


def test_habits_tell_how_the_base_is_levelled_and_stars_are_centred(
    steady: pm.nightcompare.CompareResult,
) -> None:
    spread = term_of(steady, "tilt_north").between_night_sd
    assert any(
        f"Your base is usually {spread.value:.0f}′ off level in each direction" in words
        for words in steady.habits
    )
    assert any("One centring is off by about" in words for words in steady.habits)


def test_the_sentence_names_event_size_and_nights(stepped: pm.nightcompare.CompareResult) -> None:
    assert stepped.summary.startswith("Collimation moved by 3")
    assert "′ ± " in stepped.summary
    assert stepped.summary.endswith(
        "night. Was the tube taken out of its saddle, or were the mirrors adjusted?"
    )


def test_a_change_that_may_be_of_either_term_is_told_with_both_chances(
    stepped: pm.nightcompare.CompareResult,
) -> None:
    (change,) = stepped.changes
    rival = replace(change.alternatives[0], probability=0.4)
    unsure = replace(change, probability_this_term=0.6, alternatives=(rival,))
    told = change_words(unsure, [one.id for one in stepped.nights])
    assert "Something in the tube or fork moved by about 3" in told
    assert "collimation (60 %) or non-perpendicularity (40 %)" in told
    assert summary_words(stepped.nights, stepped.terms, (unsure, change)).endswith("below.")


def test_the_same_nights_give_the_same_answer(steady: pm.nightcompare.CompareResult) -> None:
    assert pm.compare(logs_of(Plan(nights=5), 4)).to_dict() == steady.to_dict()


@pytest.mark.parametrize("pairs", [1, 2, 3])
def test_nights_of_very_few_pairs_can_be_compared(pairs: int) -> None:
    result = pm.compare(logs_of(Plan(nights=3, pairs=pairs), 1))
    keeps_its_schema(result.to_dict(), "compare")
    assert result.changes == ()
    assert bool(result.carry_over) == (pairs >= 3)


def test_a_log_given_twice_under_two_names_is_said_and_used_once(tmp_path: Path) -> None:
    for k, one in enumerate(logs_of(Plan(nights=3, pairs=8), 2)):
        one.pairs.to_csv(tmp_path / f"evening-{k}.csv")
    text = (tmp_path / "evening-1.csv").read_text(encoding="utf-8")
    (tmp_path / "copy.csv").write_text(text.replace(",", ";"), encoding="utf-8")
    result = pm.compare(str(tmp_path))
    assert len(result.nights) == 3
    (told,) = [notice.text for notice in result.warnings if notice.code == "same_log"]
    assert told.endswith("evening-1.csv hold the same pairs. This night is used once")
    assert "copy.csv and " in told
    with pytest.raises(pm.InputError, match=r"one night 2 times .*copy\.csv and .*csv hold"):
        pm.compare([tmp_path / "copy.csv", tmp_path / "evening-1.csv"])
