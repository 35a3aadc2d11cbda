"""Frames in and out: own names, own index, missing values, units."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import pointmodel as pm
from pointmodel.base.rows import ResultRows

DATA = Path(__file__).parents[1] / "data"
OWN = {
    "cmd az": "commanded_az",
    "cmd alt": "commanded_alt",
    "obs az": "centred_az",
    "obs alt": "centred_alt",
    "star": "target",
    "utc": "time",
}
AT = "2031-05-19T22:00+10:00"


@pytest.fixture
def pairs() -> pd.DataFrame:
    """Ten pairs as a log has them."""
    return pm.simulate(seed=4, pairs=10).frame[[*OWN.values()]].reset_index(drop=True)


@pytest.fixture
def own(pairs: pd.DataFrame) -> pd.DataFrame:
    """The same in the words of somebody else, and more that means nothing to a log."""
    frame = pairs.rename(columns={known: mine for mine, known in OWN.items()})
    return frame.assign(times=1.0, temperature=12.5, **{"Commanded Alt": "not an angle"})


def terms_of(fit: pm.Fit) -> list[float]:
    values: list[float] = fit.terms["value"].tolist()
    return values


def test_columns_of_one_s_own_are_read_by_their_mapping(
    pairs: pd.DataFrame, own: pd.DataFrame
) -> None:
    before = own.drop(columns="Commanded Alt")
    own = before.copy()
    fit = pm.fit(own, columns=OWN)
    assert terms_of(fit) == terms_of(pm.fit(pairs))
    assert fit.log.target == tuple(pairs["target"])
    assert not fit.warnings
    pd.testing.assert_frame_equal(own, before)


def test_a_mapping_works_for_files_too(own: pd.DataFrame, tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    own.drop(columns="Commanded Alt").to_csv(path, index=False)
    log = pm.read_log(path, columns=OWN)
    assert len(log) == 10


def test_two_columns_for_one_thing_are_refused(own: pd.DataFrame) -> None:
    with pytest.raises(pm.InputError, match=r'"commanded_alt" twice|"Commanded Alt" twice'):
        pm.fit(own, columns=OWN)


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"cmd azz": "commanded_az"}, 'read "cmd azz"; wanted .*cmd az'),
        ({"cmd az": "comanded_az"}, 'column cmd az: read "comanded_az"; wanted commanded_az'),
        ({"commanded_az": "cmd az"}, r"your own name first: \{'cmd az': 'commanded_az'\}"),
        (["cmd az"], "wanted a mapping of your own column names"),
    ],
)
def test_a_mapping_that_makes_no_sense_is_refused(
    own: pd.DataFrame, columns: Any, message: str
) -> None:
    with pytest.raises(pm.InputError, match=message):
        pm.fit(own, columns=columns)


def test_a_log_that_is_read_already_takes_no_mapping(pairs: pd.DataFrame) -> None:
    with pytest.raises(pm.InputError, match="columns told to read_log"):
        pm.fit(pm.read_log(pairs), columns=OWN)


def test_messages_speak_of_the_user_s_own_columns_and_rows(own: pd.DataFrame) -> None:
    own = own.drop(columns="Commanded Alt").astype({"obs alt": object})
    own.index = pd.Index([f"shot {k}" for k in range(10)])
    own.loc["shot 3", "obs alt"] = "high"
    with pytest.raises(pm.InputError) as caught:
        pm.fit(own, columns=OWN)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("<frame>", 4, "obs alt")
    assert '<frame>, line 4 (index "shot 3"), column obs alt: read "high"' in str(problem)
    assert pickle.loads(pickle.dumps(caught.value)).problems == (problem,)


def test_a_dict_of_columns_is_a_log(pairs: pd.DataFrame) -> None:
    columns = {name: pairs[name].tolist() for name in pairs}
    fit = pm.fit(columns)
    assert terms_of(fit) == terms_of(pm.fit(pairs))
    assert terms_of(pm.fit({k: np.array(v, dtype=object) for k, v in columns.items()})) == terms_of(
        fit
    )
    assert pm.read_log(columns).source == "<frame>"


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"commanded_az": [1.0, 2.0], "commanded_alt": [3.0]}, "as many values in every column"),
        ({"commanded_az": 1.0}, "column commanded_az: read 1.0; wanted a list"),
        ({"commanded_az": "123"}, 'column commanded_az: read "123"; wanted a list'),
        ({}, "read no columns; wanted columns target, commanded_az"),
    ],
)
def test_a_dict_that_is_no_log_is_refused(columns: Any, message: str) -> None:
    with pytest.raises(pm.InputError, match=message):
        pm.fit(columns)


def indices() -> dict[str, pd.Index]:
    moments = pd.date_range("2031-05-17T20:00", periods=10, freq="4min", tz="Australia/Hobart")
    return {
        "counted": pd.RangeIndex(10),
        "texts": pd.Index(list("abcdefghij"), name="shot"),
        "numbers": pd.Index(np.arange(50, 0, -5), name="id"),
        "moments": pd.DatetimeIndex(moments, name="when"),
        "two levels": pd.MultiIndex.from_product([["x", "y"], range(5)], names=["run", "k"]),
    }


def assert_same_labels(found: pd.Index, wanted: pd.Index) -> None:
    assert found.equals(wanted)
    assert list(found.names) == list(wanted.names)


@pytest.mark.parametrize("name", indices())
def test_a_frame_s_own_index_is_kept(pairs: pd.DataFrame, name: str, tmp_path: Path) -> None:
    pairs.index = indices()[name]
    fit = pm.fit(pairs)
    assert_same_labels(fit.pairs.index, pairs.index)
    assert fit.pairs["line"].tolist() == list(range(1, 11))
    assert (fit.pairs["star_az_deg"] - pairs["commanded_az"]).abs().max() < 1e-9  # by label
    kept = pm.load_fit(fit.save(tmp_path / "night.json"))
    assert_same_labels(kept.pairs.index, pairs.index)
    assert kept.to_dict() == fit.to_dict()
    sent = pickle.loads(pickle.dumps(fit))
    assert_same_labels(sent.pairs.index, pairs.index)


def test_rows_of_a_file_are_called_by_their_lines() -> None:
    fit = pm.fit(DATA / "leaning.csv")
    assert fit.pairs.index.name == "line"
    assert fit.pairs.index[0] == 2


@pytest.mark.parametrize("gone", [["centred_az", "centred_alt"], ["centred_alt"], ["commanded_az"]])
@pytest.mark.parametrize("missing", [np.nan, None, pd.NA])
def test_a_row_that_lacks_a_value_is_refused_or_left_out(
    pairs: pd.DataFrame, gone: list[str], missing: Any
) -> None:
    pairs.index = pd.Index(list("abcdefghij"))
    whole = pm.fit(pairs.drop(index=["c", "h"]))
    broken = pairs.astype(dict.fromkeys(gone, object))
    broken.loc[["c", "h"], gone] = missing
    with pytest.raises(pm.InputError) as caught:
        pm.fit(broken)
    assert {problem.line for problem in caught.value.problems} == {3, 8}
    assert '(index "c")' in str(caught.value)
    fit = pm.fit(broken, incomplete="skip")
    assert terms_of(fit) == terms_of(whole)
    assert fit.pairs.index.tolist() == list("abdefgij")
    (told,) = [notice.text for notice in fit.warnings if notice.code == "left_out"]
    assert 'lines 3 and 8 (index "c" and "h")' in told
    assert "left out" in str(fit)


def test_a_row_without_anything_is_refused_or_left_out_too(pairs: pd.DataFrame) -> None:
    pairs = pairs.astype(object)
    pairs.iloc[4] = None
    with pytest.raises(pm.InputError, match="line 5: read a missing value; wanted a figure there"):
        pm.fit(pairs)
    assert len(pm.fit(pairs, incomplete="skip").pairs) == 9


def test_lines_of_a_file_on_which_nothing_was_centred_are_no_fault(tmp_path: Path) -> None:
    text = pm.simulate(seed=4, pairs=8).to_csv_text().splitlines()
    header = text[0].split(",")
    cells = text[3].split(",")
    for name in ("centred_az", "centred_alt"):
        cells[header.index(name)] = ""
    path = tmp_path / "night.csv"
    path.write_text("\n".join([*text[:3], ",".join(cells), *text[4:]]), encoding="utf-8")
    assert len(pm.fit(path).pairs) == 7
    told = [notice.text for notice in pm.fit(path, incomplete="skip").warnings]
    assert any("line 4" in text and "left out" in text for text in told)


def test_an_event_beside_missing_figures_is_kept(pairs: pd.DataFrame) -> None:
    pairs["event"] = [None] * 5 + ["bump"] + [None] * 4
    pairs.loc[5, ["centred_alt"]] = np.nan
    log = pm.read_log(pairs, incomplete="skip")
    assert [event.kind for event in log.events] == ["bump"]
    assert len(log) == 9


def test_a_log_read_from_a_frame_is_treated_as_the_frame_is(pairs: pd.DataFrame) -> None:
    pairs.loc[2, ["centred_az", "centred_alt"]] = np.nan
    log = pm.read_log(pairs)
    assert len(log) == 10
    with pytest.raises(pm.InputError, match=r'line 3: read a missing value.*incomplete="skip"'):
        pm.fit(log)
    fit = pm.fit(log, incomplete="skip")
    assert fit.pairs.index.tolist() == [0, 1, 3, 4, 5, 6, 7, 8, 9]
    assert any("line 3" in notice.text for notice in fit.warnings)


def test_what_to_do_with_missing_values_is_one_of_two_words(pairs: pd.DataFrame) -> None:
    with pytest.raises(pm.InputError, match='wanted "refuse" or "skip" for incomplete'):
        pm.fit(pairs, incomplete="drop")  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def results() -> dict[str, Any]:
    fit = pm.fit(DATA / "leaning.csv")
    return {
        "level": pm.level(fit),
        "check": pm.check(DATA / "healthy.csv"),
        "aim": pm.aim(fit, ["Antares", "M 7", "Sirius", "123.5,45"], at=AT),
        "plan": pm.plan(DATA / "mount.toml", at=AT, stars=4),
        "compare": pm.compare(DATA / "season"),
        "log": fit.log,
        "simulated": pm.simulate(seed=1),
    }


@pytest.mark.parametrize("name", ["level", "check", "aim", "plan", "compare", "log", "simulated"])
def test_every_result_of_rows_is_a_frame_with_units(results: dict[str, Any], name: str) -> None:
    frame = results[name].frame
    assert isinstance(frame, pd.DataFrame)
    assert len(frame)
    units = frame.attrs["units"]
    for column in frame.columns:
        if str(column).endswith(("_deg", "_arcmin", "_mm", "_min")):
            assert units[column] == str(column).rpartition("_")[2]
            assert frame[column].dtype == float


@pytest.mark.parametrize(
    ("name", "rows"),
    [("level", "feet"), ("check", "explanations"), ("aim", "targets"), ("plan", "stars")],
)
def test_rows_are_a_tuple_and_a_frame(results: dict[str, Any], name: str, rows: str) -> None:
    table = getattr(results[name], rows)
    assert isinstance(table, tuple)
    pd.testing.assert_frame_equal(table.frame, results[name].frame)
    assert len(table.frame) == len(table)
    sent = pickle.loads(pickle.dumps(table))
    assert sent == table
    pd.testing.assert_frame_equal(sent.frame, table.frame)
    assert "<table" in table._repr_html_()


def test_rows_hold_what_the_document_holds(results: dict[str, Any]) -> None:
    aimed, document = results["aim"].frame, results["aim"].to_dict()["targets"]
    assert aimed["command_az_deg"].tolist()[:2] == [t["command_az_deg"] for t in document][:2]
    assert aimed["nudge_up_arcmin"][0] == document[0]["nudge"]["up_arcmin"]
    assert np.isnan(aimed.loc[aimed["target"] == "Sirius", "nudge_up_arcmin"]).all()
    compared = results["compare"]
    by_night = compared.to_dict()["terms"][2]["by_night"]
    values = compared.frame.loc["collimation"]
    assert values.index.tolist() == [night["id"] for night in by_night]
    assert values["value"].tolist() == [night["value"] for night in by_night]
    assert compared.terms.frame["kind"].tolist() == [term.kind for term in compared.terms]
    assert len(compared.nights.frame) == 5
    assert len(compared.changes.frame) == 1


def test_no_foot_to_turn_is_an_empty_frame_with_the_same_columns(results: dict[str, Any]) -> None:
    none = pm.level(pm.fit(DATA / "healthy.csv")).frame
    assert len(none) == 0
    assert none.columns.tolist() == results["level"].frame.columns.tolist()


def test_frames_of_a_fit_say_their_units() -> None:
    fit = pm.fit(DATA / "leaning.csv")
    assert fit.pairs.attrs["units"]["residual_x_arcmin"] == "arcmin"
    assert fit.pairs.attrs["units"]["star_alt_deg"] == "deg"
    assert fit.terms.attrs["units"]["value"] == "see column unit"
    assert fit.forecast.attrs["units"]["rms_arcmin"] == "arcmin"
    assert fit.forecast.attrs["units"]["chance_in_field"] == "1"


def test_a_frame_is_new_each_time(results: dict[str, Any]) -> None:
    frame = results["aim"].frame
    frame.loc[0, "target"] = "other"
    assert results["aim"].frame["target"][0] == "Antares"
    assert isinstance(results["aim"].targets, ResultRows)


def test_a_frame_in_other_words_is_told_how_to_say_which_column_is_which(
    own: pd.DataFrame,
) -> None:
    own = own[["cmd az", "cmd alt", "obs az"]]
    with pytest.raises(pm.InputError, match=r"columns=\{'cmd az': 'commanded_az', \.\.\.\}"):
        pm.fit(own)
    own = own.rename(columns={"cmd az": "commanded_az"})
    with pytest.raises(pm.InputError, match="columns commanded_alt; if yours have other names"):
        pm.fit(own)


def test_names_of_columns_in_the_place_of_the_mount_are_noticed(own: pd.DataFrame) -> None:
    with pytest.raises(pm.InputError, match=r"wanted columns=\{\.\.\.\} for the names"):
        pm.fit(own, OWN)


def test_check_takes_a_frame_in_other_words_too() -> None:
    frame = pm.read_log(DATA / "healthy.csv").frame
    own = frame.rename(columns={known: mine for mine, known in OWN.items()})
    found = pm.check(own, DATA / "mount.toml", columns=OWN)
    assert found.to_dict()["verdict"] == "agrees"
    with pytest.raises(pm.InputError, match="columns told to read_log"):
        pm.check(pm.read_log(frame), columns=OWN)


def test_aim_takes_targets_from_a_frame(pairs: pd.DataFrame) -> None:
    fit = pm.fit(pairs)
    places = pairs[["commanded_az", "commanded_alt"]].head(3)
    aimed = pm.aim(fit, places).frame
    np.testing.assert_allclose(aimed["asked_alt_deg"], places["commanded_alt"])
    one = pm.aim(fit, pd.DataFrame({"where": ["120,45"]})).frame
    assert one["asked_az_deg"].tolist() == [120.0]
    with pytest.raises(pm.InputError, match="a frame of one column"):
        pm.aim(fit, pairs)


def test_causes_and_lines_set_aside_are_frames_too() -> None:
    fit = pm.fit(DATA / "leaning.csv")
    assert fit.causes.frame["cause"].tolist() == [cause.cause for cause in fit.causes]
    assert fit.set_aside.frame["line"].tolist() == [10, 19]
    assert fit.set_aside.frame.attrs["units"]["miss_arcmin"] == "arcmin"
    assert pm.fit(DATA / "healthy.csv").set_aside.frame.columns[0] == "line"
