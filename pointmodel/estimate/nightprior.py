"""What a profile of other nights brings to a fit, and what is to be said where the night differs.

Read `profile.py` and `estimate/carried.py` first.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.errors import Notice
from pointmodel.base.figures import figure
from pointmodel.estimate.carried import Carried, carried_over
from pointmodel.estimate.posterior import FORGOTTEN
from pointmodel.estimate.profile import Profile
from pointmodel.estimate.solve import Solution
from pointmodel.mount.priors import EVENS
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.nightlog import NightLog

FEWEST_TO_TEST = 4
_MOVED = {
    "collimation": "Was the tube taken out of its saddle?",
    "non_perpendicularity": "Was the altitude axis or the fork arm disturbed?",
}


def carried_from(profile: Profile) -> Carried:
    """Return what a profile says of tonight, with the ways in which tonight may differ."""
    return carried_over(
        profile.mean, profile.covariance, (profile.log_sigma_mean, profile.log_sigma_sd)
    )


def profile_notices(profile: Profile | None, solution: Solution, log: NightLog) -> list[Notice]:
    """Return how far the night bears the profile out; nothing to say without one."""
    if profile is None:
        return []
    nights = "one night" if profile.nights == 1 else f"{profile.nights} nights"
    notices = [Notice("profile", f"the fit starts from a profile of {nights} of this mount")]
    alternatives = solution.posterior.alternatives
    for name, question in _MOVED.items():
        if alternatives.get(name, 0.0) > EVENS:
            notices.append(_moved(name, question, profile, solution))
    if alternatives.get(FORGOTTEN, 0.0) > EVENS:
        text = "this night contradicts the profile in several terms, so the profile is not used"
        notices.append(Notice("profile_contradicted", text))
    if alternatives.get("set_up", 0.0) > EVENS:
        text = (
            "the mount stands otherwise than on the nights of the profile. Zeros and lean are "
            "taken from this night alone"
        )
        notices.append(Notice("profile_set_up", text))
    if len(log) < FEWEST_TO_TEST:
        text = (
            "with fewer than four pairs collimation and non-perpendicularity are taken from the "
            "other nights. This night does not test them"
        )
        notices.append(Notice("carried_over", text))
    return notices


def _moved(name: str, question: str, profile: Profile, solution: Solution) -> Notice:
    place = STANDARD_NAMES.index(name)
    posterior = solution.posterior
    change = float(posterior.mean[place] - profile.mean[place])
    error = float(np.sqrt(posterior.covariance[place, place] + profile.covariance[place, place]))
    text = (
        f"{name.replace('_', '-')} differs from the profile by {figure(change)}′ ± "
        f"{figure(error)}′. {question} This night's value is used"
    )
    return Notice("profile_contradicted", text)
