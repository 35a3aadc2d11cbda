"""A mount's profile: read and refused, and what it does for the next night's fit."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench.nights import actual_miss_arcmin, even_targets, night
from bench.segment_figures import model_miss_arcmin

import pointmodel as pm
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.observations import linear_problem
from pointmodel.estimate.profile import Profile, profile_text, read_profile
from pointmodel.forecasting.machine import readings_for
from pointmodel.mount.terms import STANDARD_NAMES

ANYHOW_SD = np.array([3000.0, 15.0, 1.0, 1.0, 12.0, 12.0])
TUBE = {"collimation": 14.0, "non_perpendicularity": -7.0}


def profile(**changed: float) -> Profile:
    """A mount whose tube is known to 1′ and whose azimuth zero is anything."""
    mean = dict.fromkeys(STANDARD_NAMES, 0.0) | TUBE | changed
    return Profile(STANDARD_NAMES, np.array([mean[n] for n in STANDARD_NAMES]),
                   np.diag(ANYHOW_SD**2), float(np.log(0.9)), 0.25, 5)  # fmt: skip


def new_night(seed: int, pairs: int, **terms: float) -> Any:
    rng = np.random.default_rng(seed)
    drawn = {
        "azimuth_index": rng.uniform(-10000.0, 10000.0),
        "altitude_index": rng.normal(0.0, 15.0),
        "tilt_north": rng.normal(0.0, 12.0),
        "tilt_east": rng.normal(0.0, 12.0),
    }
    return night(rng, "usual", pairs, terms=drawn | TUBE | terms, sigma_arcmin=1.0)


def told_everything(made: Any) -> np.ndarray:
    """Terms by least squares with the very prior the night was drawn from, and the true noise."""
    obs, told = observations_of(made.log), profile()
    at = np.zeros(6 + len(obs.columns))
    at[0] = 60.0 * np.degrees(np.angle(np.exp(1j * (obs.reading_az - obs.star_az)).sum()))
    mean, precision = told.mean.copy(), np.diag(1.0 / ANYHOW_SD**2)
    mean[0], precision[0, 0] = at[0], 1e-8
    for _ in range(6):
        there = linear_problem(obs, at)
        design = there.design[..., :6].reshape(-1, 6)
        pull = design.T @ (there.miss.ravel() + design @ (at[:6] - mean))
        at[:6] = mean + np.linalg.solve(design.T @ design + precision, pull)
    return at[:6]


def misses(pairs: int, first_seed: int, nights: int = 25, **terms: float) -> list[float]:
    """RMS misses with the profile, without, and by `told_everything`, arcminutes."""
    found = []
    for seed in range(first_seed, first_seed + nights):
        made = new_night(seed, pairs, **terms)
        fits = [pm.fit(made.log, prior=profile()), pm.fit(made.log)]
        best = replace(fits[0].model, values=told_everything(made), columns=())
        command = readings_for(best, *even_targets())[:2]
        oracle = np.sqrt(np.mean(actual_miss_arcmin(made, *even_targets(), *command) ** 2))
        found.append([*(model_miss_arcmin(fit, made) for fit in fits), oracle])
    with_it, without, oracle = np.sqrt(np.mean(np.square(found), axis=0)).tolist()
    return [with_it, without, oracle]


def test_two_or_three_stars_with_a_profile_go_nearly_as_far_as_knowing_all_that_is_steady() -> None:
    for pairs, gained in ((2, 0.9), (3, 0.7)):
        with_it, without, oracle = misses(pairs, 1000, 60)
        assert with_it < gained * without
        assert with_it < 1.3 * oracle  # 1.05 and 1.15 over 60 nights


def test_many_stars_do_no_worse_with_a_profile_also_of_a_tube_that_was_moved() -> None:
    with_it, without, _ = misses(8, 3000, 15)
    assert with_it < 1.03 * without
    with_it, without, _ = misses(8, 4000, 15, collimation=TUBE["collimation"] + 15.0)
    assert with_it < 1.1 * without


def test_a_moved_tube_is_noticed_said_and_overridden() -> None:
    made = new_night(5, 10, collimation=TUBE["collimation"] + 40.0)
    fit = pm.fit(made.log, prior=profile())
    said = {notice.code: notice.text for notice in fit.warnings}
    assert said["profile_contradicted"].startswith("collimation differs from the profile by ")
    collimation = next(term for term in fit.term_estimates if term.name == "collimation")
    assert collimation.low < made.terms["collimation"] < collimation.high


def test_a_night_that_bears_the_profile_out_says_only_that_it_was_used() -> None:
    codes = [n.code for n in pm.fit(new_night(6, 10).log, prior=profile()).warnings]
    assert codes == ["profile"]


def test_with_two_pairs_the_tubes_terms_are_carried_over_untested_and_that_is_said() -> None:
    fit = pm.fit(new_night(7, 2).log, prior=profile())
    said = {notice.code: notice.text for notice in fit.warnings}
    assert "This night does not test them" in said["carried_over"]
    collimation = next(term for term in fit.term_estimates if term.name == "collimation")
    assert collimation.status != "not_determined"
    assert collimation.value == pytest.approx(TUBE["collimation"], abs=1.5)


def test_intervals_hold_with_a_profile_when_nothing_moved() -> None:
    held = []
    for seed in range(40):
        rng = np.random.default_rng(8000 + seed)
        tube = {name: value + rng.normal(0.0, 1.0) for name, value in TUBE.items()}
        made = new_night(8000 + seed, 4, **tube)
        terms = pm.fit(made.log, prior=profile()).term_estimates[1:6]
        held += [term.low < made.terms[term.name] < term.high for term in terms]
    assert 0.91 < np.mean(held) < 0.985


def test_a_profile_goes_to_a_file_and_back(tmp_path: Path) -> None:
    path = tmp_path / "mount-profile.json"
    path.write_text(profile_text(profile()), encoding="utf-8")
    back = read_profile(path)
    assert back is not None
    np.testing.assert_array_equal(back.covariance, profile().covariance)
    assert back.to_dict() == profile().to_dict()
    made = new_night(9, 3)
    kept = pm.fit(made.log, prior=path)
    assert kept.to_dict() == pm.fit(made.log, prior=profile().to_dict()).to_dict()
    again = pm.load_fit(kept.save(tmp_path / "fit.json"))
    assert again.to_dict() == kept.to_dict()


def without(key: str) -> dict[str, Any]:
    tables = profile().to_dict()
    del tables[key]
    return tables


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        (without("mean"), "a part missing or misshapen"),
        (profile().to_dict() | {"terms": ["a", "b"]}, "the terms azimuth_index, altitude_index"),
        (profile().to_dict() | {"mean": [1.0]}, "another length than terms"),
        (profile().to_dict() | {"mean": [float("nan")] * 6}, "figures that no mount can have"),
        (profile().to_dict() | {"covariance": (-np.eye(6)).tolist()}, "a covariance that none"),
        (profile().to_dict() | {"nights": 0}, "a number of nights that none can be"),
    ],
)
def test_what_is_no_profile_is_refused_with_what_is_wrong(
    tables: dict[str, Any], told: str
) -> None:
    with pytest.raises(pm.InputError, match=told):
        read_profile(tables)


def test_files_that_are_no_profile_are_told_by_name(tmp_path: Path) -> None:
    path = tmp_path / "other.json"
    for text, told in (("{", "not JSON"), (json.dumps({"schema": "x"}), "not a profile")):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(pm.InputError, match=told):
            read_profile(path)
    with pytest.raises(pm.InputError, match="no file of that name"):
        read_profile(tmp_path / "missing.json")
    with pytest.raises(pm.InputError, match="as `pointmodel compare"):
        read_profile(5)  # type: ignore[arg-type]


def test_terms_of_a_profile_may_stand_in_any_order() -> None:
    tables = profile(altitude_index=3.0).to_dict()
    order = [5, 4, 3, 2, 1, 0]
    turned = {
        "terms": [tables["terms"][k] for k in order],
        "mean": [tables["mean"][k] for k in order],
        "covariance": np.array(tables["covariance"])[np.ix_(order, order)].tolist(),
    }
    back = read_profile(tables | turned)
    assert back is not None
    assert back.to_dict() == tables
