"""Two-star alignment against scipy's Rotation.align_vectors with an infinite first weight."""

from __future__ import annotations

import numpy as np
import pytest
from bench.nights import even_targets, night
from scipy.spatial.transform import Rotation

import pointmodel as pm
from pointmodel.forecasting.alignment import aligned_misses, realignment, two_star_rotation
from pointmodel.forecasting.outlook import at_targets

RADIANS = 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_the_first_star_is_exact_and_the_second_fixes_the_turn_about_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    vectors = rng.standard_normal((2, 2, 3))
    stars, readings = vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)
    ours = two_star_rotation(stars[None], readings[None])[0]
    theirs, _ = Rotation.align_vectors(readings, stars, weights=[np.inf, 1.0])
    np.testing.assert_allclose(ours, theirs.as_matrix(), atol=RADIANS)
    np.testing.assert_allclose(ours @ stars[0], readings[0], atol=RADIANS)


def _perfect(**terms: float) -> pm.Fit:
    made = night(
        np.random.default_rng(1), "perfect", 30, terms=terms, sigma_arcmin=1e-6,
        readout_step_arcsec=0.0,
    )  # fmt: skip
    return pm.fit(made.log)


def test_aligning_afresh_cures_whatever_is_a_rotation() -> None:
    fit = _perfect(azimuth_index=4000.0, tilt_north=50.0, tilt_east=-80.0)
    best = realignment(fit.outlook).best.misses.central
    assert np.hypot(best[:, 0], best[:, 1]).max() < 0.2


def test_thirty_minutes_of_altitude_index_stay_some_forty_after_an_alignment() -> None:
    # common experience of such mounts, as derived on the project's own pages; no outside source
    fit = _perfect(altitude_index=30.0)
    found = realignment(fit.outlook)
    sizes = [np.sqrt(np.mean((p.misses.central**2).sum(axis=1))) for p in (found.best, found.bad)]
    assert 20.0 < sizes[0] < 60.0
    assert sizes[0] < sizes[1]


def test_the_slopes_are_those_of_the_misses() -> None:
    made = night(np.random.default_rng(3), "usual", 24)
    outlook = at_targets(pm.fit(made.log).outlook, *even_targets(20))
    pair = np.array([[(260.0, 55.0), (335.0, 25.0)]])
    _, slopes = aligned_misses(outlook, pair, *outlook.targets)
    for column in range(6):
        ends = []
        for step in (-1.0, 1.0):
            values = outlook.model.values.copy()
            values[column] += step
            from dataclasses import replace

            moved = replace(outlook, model=outlook.model.with_values(values))
            ends.append(aligned_misses(moved, pair, *outlook.targets)[0])
        np.testing.assert_allclose(slopes[..., column], (ends[1] - ends[0]) / 2.0, atol=5e-3)
