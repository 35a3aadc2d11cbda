"""What a person with a small mount can do: the noise above which no model fits.

Below these limits loose centring is a cause like others; above them the figures are no mount's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pointmodel.estimate.search import Candidate
from pointmodel.estimate.solve import Solution
from pointmodel.mount.priors import LOOSEST_SIGMA_ARCMIN
from pointmodel.reading.mountfile import MountFile

SHARE_OF_FIELD = 0.1  # low power: stars are centred to a tenth of the field (of the trade)
TIMES_STATED = 2.0  # a stated centring error may be this much too small
SURELY_SHARE = 0.9  # of the limit that the noise's own lower limit must exceed, a choice
MOST_BAD = 0.45  # who mistakes more of the lines mistook the sky, a choice
MOST_BAD_OF_FEW, FEW_GOOD = 0.34, 6  # fewer good pairs than terms are fitted by anything
PLAIN_SHARE_OF_LIMIT, PLAIN_BAD = 0.5, 0.2
FEW_PAIRS, LARGE_TERM_ARCMIN = 5, 120.0  # few pairs are fitted by terms that no mount has


def human_sigma_arcmin(mount: MountFile) -> float:
    """Return the largest noise an axis that a person's centring explains, arcminutes."""
    field = mount.optics.field_of_view_arcmin or 0.0
    stated = mount.optics.centring_error_arcmin or 0.0
    return max(LOOSEST_SIGMA_ARCMIN, SHARE_OF_FIELD * field, TIMES_STATED * stated)


def too_loose(sigma_arcmin: float, low_arcmin: float, mount: MountFile) -> bool:
    """Whether a noise an axis, with its lower limit, is more than a person's centring explains."""
    limit = human_sigma_arcmin(mount)
    return sigma_arcmin > limit and low_arcmin > SURELY_SHARE * limit


def sigma_of(candidate: Candidate) -> float:
    """Return the noise an axis of the end of a search, rounding apart, arcminutes."""
    return float(candidate.result.weight @ candidate.result.noise.sigma)


def share_bad(candidates: list[Candidate]) -> float:
    """Return the share of pairs that are bad in all parts of a log together."""
    return float(np.mean(np.concatenate([~one.result.hypothesis.good for one in candidates])))


def fits_a_human(candidates: list[Candidate], mount: MountFile) -> bool:
    """Whether the parts of a log are fitted as closely as a person centres, few pairs bad."""
    close = max(sigma_of(one) for one in candidates) < human_sigma_arcmin(mount)
    return close and not too_many_bad(candidates)


def too_many_bad(candidates: list[Candidate]) -> bool:
    """Whether more pairs are bad than anybody mistakes, or too few good ones are left to tell."""
    good = sum(int(one.result.hypothesis.good.sum()) for one in candidates)
    return share_bad(candidates) > (MOST_BAD_OF_FEW if good < FEW_GOOD else MOST_BAD)


def plainly_good(solutions: Sequence[Solution], mount: MountFile) -> bool:
    """Whether every part of a log fits so well as it stands that no other reading is called for."""
    return all(_plainly_good(solution, mount) for solution in solutions)


def _plainly_good(solution: Solution, mount: MountFile) -> bool:
    candidate = solution.candidate
    if sigma_of(candidate) > PLAIN_SHARE_OF_LIMIT * human_sigma_arcmin(mount):
        return False
    if share_bad([candidate]) > PLAIN_BAD:
        return False
    few = solution.observations.count < FEW_PAIRS
    return not few or bool(np.abs(solution.posterior.mean[1:6]).max() < LARGE_TERM_ARCMIN)
