"""What nights share, against one joint fit of all of them by lmfit through the simulator's mount.

The joint fit knows nothing of priors, grids or linear algebra: collimation and non-perpendicularity
are common to the nights, four terms are each night's own, and the residuals are taken forward
through the chain of rotations in `simulation/mount.py`.
"""

from __future__ import annotations

import lmfit
import numpy as np
import pytest
from bench.compare_figures import Plan, season

import pointmodel as pm
from pointmodel.base.angles import wrap_deg
from pointmodel.simulation.mount import pointed_deg
from pointmodel.simulation.night import SimulatedNight

OWN = ("azimuth_index", "altitude_index", "tilt_north", "tilt_east")
SHARED = ("collimation", "non_perpendicularity")


def joint_fit(nights: list[SimulatedNight]) -> lmfit.minimizer.MinimizerResult:
    parameters = lmfit.Parameters()
    for name in SHARED:
        parameters.add(name, value=0.0)
    for k, one in enumerate(nights):
        off_deg = np.median(wrap_deg(one.centred_az_deg - one.commanded_az_deg))
        for name in OWN:
            parameters.add(f"{name}_{k}", value=60.0 * off_deg if name == OWN[0] else 0.0)

    def residuals(values: lmfit.Parameters) -> np.ndarray:
        told = values.valuesdict()
        parts = []
        for k, one in enumerate(nights):
            terms = dict.fromkeys(one.terms, 0.0) | {name: told[name] for name in SHARED}
            terms |= {name: told[f"{name}_{k}"] for name in OWN}
            az, alt = pointed_deg(one.centred_az_deg, one.centred_alt_deg, terms, one.circumstances)
            across = wrap_deg(az - one.commanded_az_deg) * np.cos(np.radians(alt))
            parts += [60.0 * across, 60.0 * (alt - one.commanded_alt_deg)]
        return np.concatenate(parts)

    return lmfit.minimize(residuals, parameters)


@pytest.fixture(scope="module")
def both() -> tuple[lmfit.minimizer.MinimizerResult, pm.nightcompare.CompareResult]:
    nights = season(Plan(nights=3, pairs=30), 11).nights
    return joint_fit(nights), pm.compare([one.log for one in nights])


@pytest.mark.parametrize("name", SHARED)
def test_the_tubes_terms_and_their_errors_are_those_of_the_joint_fit(both, name: str) -> None:
    joint, compared = both
    term = next(term for term in compared.terms if term.name == name)
    assert term.kind == "mount"
    theirs = joint.params[name]
    error = (term.common.high - term.common.low) / 3.92
    assert term.common.value == pytest.approx(theirs.value, abs=0.5 * theirs.stderr)
    assert error == pytest.approx(theirs.stderr, rel=0.3)


@pytest.mark.parametrize("name", OWN)
def test_each_nights_own_terms_are_those_of_the_joint_fit(both, name: str) -> None:
    joint, compared = both
    term = next(term for term in compared.terms if term.name == name)
    for k, night in enumerate(term.by_night):
        theirs = joint.params[f"{name}_{k}"]
        off = (night.value - theirs.value + 10800.0) % 21600.0 - 10800.0
        assert abs(off) < 0.6 * theirs.stderr


def test_the_profile_expects_of_the_tube_what_the_joint_fit_found(both) -> None:
    joint, compared = both
    profile = compared.profile
    places = [profile.terms.index(name) for name in SHARED]
    covariance = profile.covariance[np.ix_(places, places)]
    theirs = np.array([joint.params[name].value for name in SHARED])
    sds = [joint.params[name].stderr for name in SHARED]
    between = joint.params[SHARED[0]].correl[SHARED[1]] * sds[0] * sds[1]
    found = np.sqrt(np.diag(covariance))
    assert np.abs(profile.mean[places] - theirs).max() < 0.6 * max(sds)
    assert found == pytest.approx(sds, rel=0.5)
    assert covariance[0, 1] / found.prod() == pytest.approx(between / np.prod(sds), abs=0.1)
