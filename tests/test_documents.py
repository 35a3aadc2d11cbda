"""The JSON documents: plain, finite, as their schemas say, and equal to what the commands print."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.base.documents import SCHEMAS, json_text, plain
from pointmodel.fitting.document import ONLY_WHERE_ALIGNED

DATA = Path(__file__).parent.parent / "data"
NIGHTS = sorted(path.name for path in DATA.glob("*.csv"))


@pytest.fixture(scope="module")
def leaning() -> pm.Fit:
    return pm.fit(DATA / "leaning.csv")


def valid(document: dict[str, Any], name: str) -> bool:
    return jsonschema.Draft202012Validator(pm.schema(name)).is_valid(document)


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_schema_is_a_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(pm.schema(name))


def test_a_schema_that_is_not_there_is_told_with_those_that_are() -> None:
    with pytest.raises(pm.InputError, match="wanted fit, check, level, compare, plan, aim"):
        pm.schema("../fit")


@pytest.mark.parametrize("night", NIGHTS)
def test_the_document_of_a_fit_is_as_its_schema_says(night: str) -> None:
    keeps_its_schema(pm.fit(DATA / night).to_dict(), "fit")


def test_the_document_of_a_made_night_is_as_its_schema_says() -> None:
    night = pm.simulate(seed=1, pairs=8, wrong_stars=1, clutch_slip_arcmin=20)
    keeps_its_schema(night.to_dict(), "simulate")


def test_the_document_says_what_the_fit_says(leaning: pm.Fit) -> None:
    document = leaning.to_dict()
    assert document["schema"] == "pointmodel.fit/2"
    assert document["inputs"] == [str(DATA / "leaning.csv"), str(DATA / "mount.toml")]
    assert [warning["code"] for warning in document["warnings"]] == ["mount_file"]
    assert document["pairs"]["read"] == 20
    assert document["pairs"]["used"] == 18
    assert [(one["line"], one["cause"]) for one in document["pairs"]["set_aside"]] == [
        (10, "wrong_star"),
        (19, "log_typo"),
    ]
    assert [term["name"] for term in document["terms"]] == list(leaning.terms.index)
    assert [term["value"] for term in document["terms"]] == leaning.terms["value"].tolist()
    assert [one["remedy"] for one in document["forecast"]] == leaning.forecast.index.tolist()
    realign = next(one for one in document["forecast"] if one["remedy"] == "realign")
    assert list(realign) == ["remedy", *leaning.forecast.columns]
    assert len(realign["stars"]) == len(realign["bad_stars"]) == 2
    assert set(document["forecast"][0]) == set(realign) - set(ONLY_WHERE_ALIGNED)
    assert document["residuals"]["rms_arcmin"] == leaning.residual_rms_arcmin
    assert document["summary"] == leaning.summary


def test_a_document_reads_back_as_it_was(leaning: pm.Fit) -> None:
    assert json.loads(json_text(leaning.to_dict())) == leaning.to_dict()


def test_every_null_has_its_reason_beside_it() -> None:
    document = pm.fit(DATA / "leaning.csv", mount={}).to_dict()
    assert "centring_error is not stated" in document["noise"]["reason"]
    assert all("field_of_view is not stated" in one["reason"] for one in document["forecast"])
    assert document["inputs"] == [str(DATA / "leaning.csv")]


def test_a_slip_tells_the_line_after_which_it_happened() -> None:
    night = pm.simulate(seed=4, pairs=30, clutch_slip_arcmin=60.0, slip_after_pair=14)
    document = pm.fit(night.log).to_dict()
    slips = [term for term in document["terms"] if term["name"].endswith("_slip")]
    assert {term["after_line"] for term in slips} == {15}
    assert all("after_line" not in term for term in document["terms"] if term not in slips)
    keeps_its_schema(document, "fit")


def _without(key: str) -> Any:
    return lambda document: document.pop(key)


@pytest.mark.parametrize(
    "spoil",
    [
        _without("terms"),
        _without("summary"),
        lambda document: document.update(schema="pointmodel.fit/1"),
        lambda document: document["terms"][0].update(value=-10800.0),
        lambda document: document["terms"][0].update(after_line=3),
        lambda document: document["terms"][0].update(status="known"),
        lambda document: document["noise"].update(scatter_arcmin=None),
        lambda document: document["forecast"][0].update(chance_in_field=None),
        lambda document: document["forecast"][0].update(chance_in_field=1.5),
        lambda document: document["causes"][0].update(verdict="certain"),
        lambda document: document["pairs"]["set_aside"][0].update(line="10"),
    ],
)
def test_the_schema_refuses_what_no_fit_prints(leaning: pm.Fit, spoil: Any) -> None:
    document = copy.deepcopy(leaning.to_dict())
    assert valid(document, "fit")
    spoil(document)
    assert not valid(document, "fit")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), np.float64("-inf")])
def test_a_number_that_is_not_finite_is_never_printed(value: float) -> None:
    with pytest.raises(ArithmeticError, match=r"document\.terms\[1\]\.low is not a finite number"):
        json_text({"terms": [{"low": 1.0}, {"low": value}]})


def test_what_is_no_plain_type_is_refused() -> None:
    with pytest.raises(TypeError, match=r"document\.a is a ndarray"):
        plain({"a": np.zeros(2)})


def test_numbers_of_numpy_become_plain_ones() -> None:
    made = plain({"n": np.int64(3), "x": np.float64(0.5), "b": np.bool_(True), "t": (1, 2)})
    assert made == {"n": 3, "x": 0.5, "b": True, "t": [1, 2]}
    assert [type(value) for value in made.values()] == [int, float, bool, list]


def test_half_a_character_of_a_file_name_does_not_spoil_a_document() -> None:
    assert json.loads(json_text({"inputs": ["night\udce9.csv"]})) == {"inputs": ["night?.csv"]}
