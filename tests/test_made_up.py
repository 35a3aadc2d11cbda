"""A made-up term, remedy, event and slip of the pen go the whole way by being registered alone.

log → fit → text → page → JSON (valid against its schema) → save and load → simulate. The sentence
of evidence that is printed is the term's own.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from unittest.mock import patch

import jsonschema
import numpy as np
import pandas as pd
import pytest

import pointmodel as pm
from pointmodel.estimate.penslips import PEN_SLIPS, PenSlip
from pointmodel.estimate.segments import segments_of
from pointmodel.fitting.schemas import LISTS
from pointmodel.mount.events import EVENTS, EventKind
from pointmodel.mount.remedies import ACTIONS, REMEDIES, Action, Remedy
from pointmodel.mount.seen import Seen
from pointmodel.mount.term import Circumstances, Prior, Term
from pointmodel.mount.terms import TERMS
from pointmodel.recording.words import event_meant
from pointmodel.simulation import faults as simulated
from pointmodel.simulation.mount import READOUT_EFFECTS, ReadoutEffect


def _twice_a_turn(at: Circumstances) -> np.ndarray:
    return np.sin(2.0 * np.radians(at.reading_az_deg))


def _seen(seen: Seen) -> str:
    return f"the made-up ring swings twice a turn by {seen.amount}"


OVAL_RING = Term(
    name="oval_ring",
    unit="arcmin",
    acts="azimuth_axis",
    cause="oval_ring",
    title="a ring that is oval",
    positive="the ring is oval one way",
    negative="the ring is oval the other way",
    seen=_seen,
    remedy="turn a new ring",
    cured_by="new_ring",
    matters=3.0,
    priors=(Prior(0.0, 15.0, 0.02),),
    shape=_twice_a_turn,
)
FIT_RING = Action(
    name="fit_ring",
    order="fit a made-up ring",
    minutes=43.0,
    cures=("oval_ring",),
    voids=True,
)
NEW_RING = Remedy(
    name="new_ring",
    once_done="made-up ring fitted",
    actions=("fit_ring", "zero_on_star"),
)
# the pen writes a figure for another: a 4 of the tens is read as a 1
FOUR_FOR_ONE = PenSlip(
    name="four_for_one",
    share=0.05,
    hint="a made-up slip: 1 for 4 in the tens of {side} altitude",
    undo=lambda az, alt: (az, np.where(np.floor(alt / 10.0) == 1.0, alt + 30.0, alt)),
)


def _one_for_four(az_deg: float, alt_deg: float) -> Iterator[tuple[float, float]]:
    if 40.0 <= alt_deg < 50.0:
        yield az_deg, alt_deg - 30.0


# somebody leans on the tube: the made-up event renews the collimation besides the zeros
LEANT_ON = EventKind(name="leant_on", renews=("collimation",), also_said=("elbow",))
EFFECT = ReadoutEffect("oval_ring", "azimuth", lambda az, *_: np.sin(2.0 * np.radians(az)))
MOUNT = {"alignment": {"stars": []}, "entered": {"verified": True}, "optics": {"field_of_view": 48}}


@pytest.fixture(scope="module", autouse=True)
def _registered() -> Iterator[None]:
    drawn = patch.dict(simulated.PEN_SLIPS, {"one_for_four": (0.05, _one_for_four)})
    with (
        TERMS.holding(OVAL_RING),
        ACTIONS.holding(FIT_RING),
        REMEDIES.holding(NEW_RING),
        READOUT_EFFECTS.holding(EFFECT),
        PEN_SLIPS.holding(FOUR_FOR_ONE),
        EVENTS.holding(LEANT_ON),
        drawn,
    ):
        yield


@pytest.fixture(scope="module")
def made(_registered: None) -> pm.Fit:
    night = pm.simulate(
        pairs=20, seed=3, terms={"oval_ring": 14.0}, sigma_arcmin=0.8, readout_step_arcsec=1.0
    )
    return pm.fit(replace(night.log, mount=pm.read_mount(MOUNT)))


def test_it_is_simulated_and_found_at_its_size(made: pm.Fit) -> None:
    found = {term.name: term for term in made.term_estimates}["oval_ring"]
    assert abs(found.value - 14.0) < 3.0 * found.standard_error
    assert found.standard_error < 1.0


def test_the_evidence_that_is_printed_is_its_own(made: pm.Fit, tmp_path: Path) -> None:
    cause = {cause.cause: cause for cause in made.causes}["oval_ring"]
    assert cause.verdict == "likely"
    assert cause.evidence.startswith("the made-up ring swings twice a turn by 1")
    page = made.report(tmp_path / "page.html").read_text("utf-8")
    for told in (" ".join(str(made).split()), page):
        assert "made-up ring swings twice a turn" in told
        assert "a ring that is oval" in told.lower()
        assert "made-up ring fitted" in told


def test_its_remedy_is_forecast_and_named(made: pm.Fit) -> None:
    assert "new_ring" in made.forecast.index
    cause = {cause.cause: cause for cause in made.causes}["oval_ring"]
    assert "fit_ring" in made.advice.actions
    step = made.advice.actions.index("fit_ring") + 1
    assert cause.remedy == f"fit a made-up ring (step {step})"
    assert "fit a made-up ring, then zero on a star (" in made.summary.lower()


def test_a_made_up_slip_is_simulated_undone_and_named_in_its_own_words() -> None:
    night = pm.simulate(
        pairs=16,
        seed=14,
        pen_slips=1,
        pen_slip_kind="one_for_four",
        sigma_arcmin=0.8,
        low_alt_deg=15.0,
        high_alt_deg=80.0,
    )
    fit = pm.fit(replace(night.log, mount=pm.read_mount(MOUNT)))
    (aside,) = fit.set_aside
    assert aside.cause == "log_typo"
    assert aside.hint.startswith("a made-up slip: 1 for 4 in the tens of centred altitude")
    assert "made-up slip" in " ".join(str(fit).split())


def _leant_on_after(nine: pm.Fit) -> pd.DataFrame:
    """The pairs of a night, the tube 25′ farther out of square from the tenth pair on."""
    frame = nine.log.pairs
    alt = np.radians(frame["commanded_alt"].to_numpy()[9:])
    frame.loc[frame.index[9:], "centred_az"] += 25.0 / 60.0 / np.cos(alt)
    frame["event"] = frame["event"].astype(object)
    frame.loc[frame.index[9], "event"] = "leant_on"
    return frame


def test_a_made_up_event_is_read_renews_what_it_says_and_is_named() -> None:
    night = pm.simulate(pairs=20, seed=5, sigma_arcmin=0.8, readout_step_arcsec=1.0)
    before = pm.fit(replace(night.log, mount=pm.read_mount(MOUNT)))
    after = pm.fit(_leant_on_after(before), mount=MOUNT)
    names = [part.renewed for part in segments_of(after.log)]
    assert names[1] == (0, 1, 2)
    changed = after.terms.loc["collimation", "value"] - before.terms.loc["collimation", "value"]
    assert abs(changed) == pytest.approx(25.0, abs=8.0)
    assert after.terms.loc["tilt_north", "value"] == pytest.approx(
        before.terms.loc["tilt_north", "value"], abs=3.0
    )
    assert "Leant on at line" in " ".join(str(after).split())
    assert event_meant("elbow") == "leant_on"


def test_its_document_is_valid_and_saved_and_loaded_again(made: pm.Fit, tmp_path: Path) -> None:
    jsonschema.validate(made.to_dict(), pm.schema("fit"))
    again = pm.load_fit(made.save(tmp_path / "night.json"))
    assert again.to_dict()["terms"] == made.to_dict()["terms"]


def test_aiming_allows_for_it(made: pm.Fit) -> None:
    az_deg, _ = made.aim([30.0, 120.0, 210.0, 300.0], [20.0] * 4)
    swing = np.asarray(az_deg) - np.array([30.0, 120.0, 210.0, 300.0])
    swing = (swing - swing.mean()) * 60.0
    assert swing[0] - swing[1] + swing[2] - swing[3] == pytest.approx(4 * 14 * 0.866, abs=6.0)


@pytest.mark.parametrize("name", ["fit", "level", "check", "record"])
def test_the_lists_in_the_schemas_are_those_of_the_registries(name: str) -> None:
    shipped = files("pointmodel").joinpath("schemas", f"{name}.json").read_text("utf-8")
    of_users = {term.name for term in TERMS.known}  # other tests have had terms of their own
    made_up = {"oval_ring", "new_ring", "fit_ring", *of_users}
    for marked in _marked(json.loads(shipped)):
        now = [entry for entry in LISTS[marked["$comment"]]() if entry not in made_up]
        assert set(marked["enum"]) == set(now), marked["$comment"]


def _marked(part: object) -> Iterator[dict]:
    if isinstance(part, dict):
        if part.get("$comment") in LISTS:
            yield part
        for value in part.values():
            yield from _marked(value)
    elif isinstance(part, list):
        for value in part:
            yield from _marked(value)
