"""A fit kept on disk and brought back: equal, never in the place of a user's file."""

from __future__ import annotations

import io
import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.nights import night
from schemas import keeps_its_schema

import pointmodel as pm

DATA = Path(__file__).parent.parent / "data"
CAMERA = """\
target,time,commanded_az,commanded_alt,seen_az,seen_alt,event
a,,10,20,10.1,20.1,
b,,100,40,100.1,40.0,bump
c,,200,60,200.2,60.1,
d,,300,30,300.1,30.2,
e,,250,50,250.1,50.1,
f,,50,70,50.2,70.1,
,,,,,,power_cycle
"""


@pytest.fixture(scope="module")
def leaning() -> pm.Fit:
    return pm.fit(DATA / "leaning.csv")


@pytest.fixture
def saved(leaning: pm.Fit, tmp_path: Path) -> Path:
    return leaning.save(tmp_path / "night.json")


def assert_equal(one: pm.Fit, other: pm.Fit) -> None:
    assert one.to_dict() == other.to_dict()
    assert str(one) == str(other)
    np.testing.assert_array_equal(one.solution.posterior.draws, other.solution.posterior.draws)
    np.testing.assert_array_equal(
        one.pair_results.residual_x_arcmin, other.pair_results.residual_x_arcmin
    )
    assert one.log.mount == other.log.mount
    assert one.log.time_offset_s == other.log.time_offset_s
    assert one.log.events == other.log.events
    np.testing.assert_array_equal(one.log.time_s, other.log.time_s)


def test_a_saved_fit_comes_back_equal(leaning: pm.Fit, saved: Path) -> None:
    assert_equal(pm.load_fit(saved), leaning)


def test_a_part_of_a_camera_log_without_times_comes_back_equal(tmp_path: Path) -> None:
    fit = pm.fit(io.StringIO(CAMERA), {"site": {"latitude": -41.3, "time_zone": "Etc/GMT-10"}})
    # made without noise: figures in steps of a whole degree that agree exactly
    assert {notice.code for notice in fit.warnings} == {"segments", "exact_figures"}
    assert_equal(pm.load_fit(fit.save(str(tmp_path / "camera.json"))), fit)


def test_a_saved_fit_is_a_fit_document_too(leaning: pm.Fit, saved: Path) -> None:
    document = json.loads(saved.read_text(encoding="utf-8"))
    keeps_its_schema(document, "fit")
    assert {key: document[key] for key in leaning.to_dict()} == leaning.to_dict()


def test_saving_again_replaces_the_fit_and_leaves_nothing_beside_it(
    leaning: pm.Fit, saved: Path
) -> None:
    saved.write_text(json.dumps({**json.loads(saved.read_text()), "summary": "of an earlier run"}))
    assert leaning.save(saved) == saved
    assert json.loads(saved.read_text())["summary"] == leaning.summary
    assert pm.load_fit(saved).to_dict() == leaning.to_dict()
    assert os.listdir(saved.parent) == [saved.name]


def test_folders_are_made_for_a_saved_fit(leaning: pm.Fit, tmp_path: Path) -> None:
    assert leaning.save(tmp_path / "deep" / "down" / "night.json").is_file()


@pytest.mark.parametrize("content", ["target,time\n", "{}", '{"schema": "pointmodel.fit/1"}', ""])
def test_what_is_no_saved_fit_is_never_replaced(
    leaning: pm.Fit, tmp_path: Path, content: str
) -> None:
    path = tmp_path / "mine"
    path.write_text(content)
    with pytest.raises(pm.InputError, match="read a file that is no saved fit"):
        leaning.save(path)
    assert path.read_text() == content
    assert os.listdir(tmp_path) == ["mine"]


def test_neither_a_folder_nor_a_link_to_nowhere_is_replaced(
    leaning: pm.Fit, tmp_path: Path
) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for path in (tmp_path, tmp_path / "link"):
        with pytest.raises(pm.InputError, match="something that is not a file"):
            leaning.save(path)


def test_a_place_that_cannot_be_written_to_is_told(leaning: pm.Fit, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(pm.InputError, match="wanted a place to write to"):
        leaning.save(tmp_path / "file" / "night.json")


def test_a_saved_fit_is_kept_whole_when_writing_fails(
    leaning: pm.Fit, saved: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = saved.read_bytes()

    def refuse(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", refuse)
    with pytest.raises(pm.InputError, match="read No space left on device"):
        leaning.save(saved)
    assert saved.read_bytes() == before
    assert os.listdir(saved.parent) == [saved.name]


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("target,time\n", "a file that is not JSON"),
        ("[1]", "JSON that is not a fit"),
        ('{"schema": "pointmodel.aim/1"}', "a document pointmodel.aim/1"),
        ('{"schema": "pointmodel.fit/1"}', "the document of a fit without its log"),
        ('{"schema": "pointmodel.fit/1", "fitted_log": {}}', "changed or cut short"),
        ("[" * 100_000, "a file that is not JSON"),
        (b"\xff\xfe\x00", "a file that is not JSON"),
    ],
)
def test_what_is_no_saved_fit_is_told_for_what_it_is(
    tmp_path: Path, content: str | bytes, found: str
) -> None:
    path = tmp_path / "some.json"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(pm.InputError, match=f"read .*{found}.*wanted a fit saved by"):
        pm.load_fit(path)


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        (lambda log: log["columns"]["target"].pop(), "19 entries in target where line has 20"),
        (lambda log: log["columns"]["commanded_alt_deg"].__setitem__(3, 95.0), "<= 91"),
        (lambda log: log["columns"]["centred_az_deg"].__setitem__(3, None), "got `null`"),
        (lambda log: log["columns"]["az_motion"].__setitem__(0, 2), "Invalid enum value 2"),
        (
            lambda log: log["events"].append({"kind": "bump", "line": 9, "before_pair": 21}),
            "an event after pair 20",
        ),
        (lambda log: log["mount"].update(feet={"radius": 0}), "column feet.radius"),
    ],
)
def test_a_saved_log_that_was_changed_by_hand_is_refused(
    saved: Path, changed: Any, found: str
) -> None:
    document = json.loads(saved.read_text(encoding="utf-8"))
    changed(document["fitted_log"])
    saved.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(pm.InputError, match=found) as caught:
        pm.load_fit(saved)
    assert {problem.file for problem in caught.value.problems} == {str(saved)}


@pytest.mark.parametrize(("path", "found"), [("no such.json", "no file"), (3, "read a int")])
def test_what_cannot_be_opened_is_told(path: Any, found: str) -> None:
    with pytest.raises(pm.InputError, match=found):
        pm.load_fit(path)


def test_fits_saved_by_earlier_versions_are_still_read() -> None:
    """Kept by a version whose documents were pointmodel.fit/1: the same night, the same terms."""
    kept = Path(__file__).parent / "saved" / "fit_1.json"
    document = json.loads(kept.read_text())
    assert document["schema"] == "pointmodel.fit/1"
    fit = pm.load_fit(kept)
    assert fit.to_dict()["schema"] == "pointmodel.fit/2"
    for term in document["terms"]:
        assert fit.terms.value[term["name"]] == pytest.approx(term["value"], abs=0.5)


def test_a_fit_of_figures_read_otherwise_is_kept_as_written(tmp_path: Path) -> None:
    log = night(np.random.default_rng(5), "usual", 10).log
    backwards = replace(log, centred_az_deg=-log.centred_az_deg % 360.0)
    fit = pm.fit(backwards)
    back = pm.load_fit(fit.save(tmp_path / "fit.json"))
    assert back.readings == fit.readings
    assert back.readings.taken_up
    assert np.array_equal(back.as_written.centred_az_deg, backwards.centred_az_deg)
