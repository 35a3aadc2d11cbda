"""A term of a user's own: searched for or asked for, fitted, forecast, aimed with, kept."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bench.nights import night
from schemas import keeps_its_schema

import pointmodel as pm
from pointmodel.mount.ownterms import own_terms
from pointmodel.mount.seen import Seen
from pointmodel.mount.terms import TERMS, further_terms

MOUNT = {"alignment": {"stars": []}, "optics": {"field_of_view": 48}}
SIZE = 14.0


def twice_a_turn(at: pm.Circumstances) -> np.ndarray:
    """A ring that is oval, by the azimuth reading."""
    return np.sin(2.0 * np.radians(at.reading_az_deg))


RING = pm.Term("wavy_ring", shape=twice_a_turn)


@pytest.fixture(scope="module")
def frame() -> pd.DataFrame:
    frame = night(np.random.default_rng(3), "usual", 24).log.pairs
    frame["centred_az"] += SIZE / 60.0 * np.sin(2.0 * np.radians(frame["centred_az"]))
    return frame


@pytest.fixture(scope="module")
def fit(frame: pd.DataFrame) -> pm.Fit:
    return pm.fit(frame, mount=MOUNT, terms=RING)


def test_it_is_searched_for_as_the_others_are(fit: pm.Fit, frame: pd.DataFrame) -> None:
    row = fit.terms.loc["wavy_ring"]
    assert abs(row["value"] - SIZE) < 3.0 * row["standard_error"]
    assert fit.noise.sigma_arcmin < 0.7 * pm.fit(frame, mount=MOUNT).noise.sigma_arcmin


def test_it_is_asked_for_alone(frame: pd.DataFrame) -> None:
    asked = pm.parameters(RING)
    assert not asked["wavy_ring"].vary
    asked["wavy_ring"].set(vary=True)
    fit = pm.fit(frame, params=asked, terms=[RING], priors=False)
    assert list(fit.terms.index)[-1] == "wavy_ring"
    assert fit.terms.loc["wavy_ring", "value"] == pytest.approx(SIZE, abs=2.0)


def test_it_is_told_in_plain_words_and_its_document_is_valid(fit: pm.Fit) -> None:
    cause = next(one for one in fit.causes if one.cause == "wavy_ring")
    assert cause.verdict == "likely"
    assert cause.evidence.startswith("the log shows wavy ring of 1")
    assert "wavy ring" in " ".join(str(fit).split()).lower()
    keeps_its_schema(fit.to_dict(), "fit")


@pytest.mark.parametrize(
    ("unit", "told"), [("arcmin", ""), ("arcmin/h", " an hour"), ("arcmin/deg", " a degree")]
)
def test_its_size_is_told_in_its_unit(unit: str, told: str) -> None:
    (term,) = own_terms(pm.Term("creep", shape=lambda at: at.hours, unit=unit))
    told_of = Seen(terms=("creep",), value=np.array([3.0]), low=2.0, high=4.0)
    assert term.seen(told_of) == f"the log shows creep of {told_of.amount}{told}"


def test_go_tos_and_forecasts_allow_for_it(fit: pm.Fit, frame: pd.DataFrame) -> None:
    az = np.array([45.0, 135.0, 225.0, 315.0])
    command, _ = fit.aim(az, np.full(4, 30.0))
    swing = 60.0 * (command - az)
    assert swing[0] - swing[1] + swing[2] - swing[3] == pytest.approx(4 * SIZE, abs=8.0)
    without = pm.fit(frame, mount=MOUNT).forecast.loc["apply_corrections", "rms_arcmin"]
    assert fit.forecast.loc["apply_corrections", "rms_arcmin"] < 0.5 * without


def test_nobody_elses_fit_has_it(fit: pm.Fit, frame: pd.DataFrame) -> None:
    assert "wavy_ring" in fit.terms.index
    assert "wavy_ring" not in [term.name for term in further_terms()]
    assert "wavy_ring" not in tuple(TERMS)
    assert "wavy_ring" not in pm.fit(frame, mount=MOUNT).terms.index


def test_two_terms_of_one_name_keep_their_own_shapes(fit: pm.Fit, frame: pd.DataFrame) -> None:
    before = fit.aim(45.0, 30.0)
    other = pm.Term("wavy_ring", shape=lambda at: np.cos(2.0 * np.radians(at.reading_az_deg)))
    pm.fit(frame, mount=MOUNT, terms=other)
    assert pm.fit(frame, mount=MOUNT, terms=RING).aim(45.0, 30.0) == before
    assert fit.aim(45.0, 30.0) == before


def test_it_is_saved_by_name_and_loaded_with_the_term_again(fit: pm.Fit, tmp_path: Path) -> None:
    path = fit.save(tmp_path / "night.json")
    with pytest.raises(pm.InputError, match=r'"wavy_ring"; wanted the same terms again'):
        pm.load_fit(path)
    assert pm.load_fit(path, terms=RING).to_dict()["terms"] == fit.to_dict()["terms"]


def test_it_comes_back_from_another_process(fit: pm.Fit) -> None:
    data = pickle.dumps(fit)
    TERMS._known.clear()
    again = pickle.loads(data)
    assert again.to_dict() == fit.to_dict()
    assert "wavy ring" in str(again).lower()


WRONG = {
    "no term": (3, r"pm\.Term\(name, shape=\.\.\.\)"),
    "no name": (pm.Term("two words", shape=twice_a_turn), "a name that Python takes"),
    "no shape": (pm.Term("flat"), "a function of pm.Circumstances"),
    "a shape that fails": (pm.Term("bad", shape=lambda at: 1 / 0), "ZeroDivisionError"),
    "a shape of another size": (pm.Term("odd", shape=lambda at: [1.0, 2.0]), "shape \\(2,\\)"),
    "no number": (pm.Term("nan", shape=lambda at: np.nan), "no finite number"),
    "a name that there is": (pm.Term("collimation", shape=twice_a_turn), "another name"),
    "nowhere": (pm.Term("lost", shape=twice_a_turn, acts="moon"), "azimuth_axis, altitude_axis"),
    "twice": ([RING, RING], "a name of its own"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_no_term_is_refused_by_name(frame: pd.DataFrame, what: str) -> None:
    given, said = WRONG[what]
    with pytest.raises(pm.InputError, match=said):
        pm.fit(frame, terms=given)
