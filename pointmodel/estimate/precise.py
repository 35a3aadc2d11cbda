"""A second look at logs that are finer than portable mounts are.

Read `search.py` first. Two expectations of the usual night are in the way there: that every figure
was rounded by a display, and that a further term worth having is arcminutes large. Both are asked
again only where the pairs agree so well that it matters: other nights pay nothing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pointmodel.base.errors import Notice
from pointmodel.base.figures import figure
from pointmodel.estimate.evaluation import Evaluation, Settings
from pointmodel.estimate.observations import Addition, Observations
from pointmodel.estimate.rounding import FEWEST_TO_PART
from pointmodel.estimate.search import Candidate, refine
from pointmodel.mount.priors import PROBABILITY_EXACT, SMALL_TERM_ODDS, SMALL_TERM_SIGMAS
from pointmodel.mount.terms import N_STANDARD

LOG_ODDS_EXACT = float(np.log(PROBABILITY_EXACT / (1.0 - PROBABILITY_EXACT)))
# rounding alone leaves its own variance; half of that is hardly chance from some five pairs on
LEFT_OF_ROUNDING = 0.5
FINE_SIGMA_ARCMIN = 0.3  # finer than anyone centres by eye: an instrument's log
FEWEST_FOR_SMALL_TERMS = 12  # pairs: fewer do not show a term of a few sigma
SMALLER_THAN_USUAL = 0.1  # a prior ten times too wide costs ln 10 = 2.3 of a term's evidence


def may_be_exact(candidate: Candidate) -> bool:
    """Whether the pairs agree better than the rounding of the coarser figures would let them."""
    result = candidate.result
    good = result.hypothesis.good
    rounding = result.hypothesis.obs.rounding
    coarser = float(rounding.coarser[good].mean())
    if coarser == 0.0 or good.size < FEWEST_TO_PART:
        return False
    return variance_left(result) < LEFT_OF_ROUNDING * coarser


def variance_left(result: Evaluation) -> float:
    """Return the mean square of what is left at the good pairs, arcmin² an axis.

    A degree of freedom is taken for each direction that the pairs determine; a regularised fit has
    Σ λ / (λ + v) of them (Hastie et al., Elements of Statistical Learning, section 3.4.1).
    """
    step = result.mean - result.problem.at
    left = (result.problem.miss - result.problem.design @ step)[result.hypothesis.good]
    eigenvalues = result.spectrum.eigenvalues[0]
    fitted = float((eigenvalues / (eigenvalues + result.variance)).sum())
    return float((left**2).sum() / max(left.size - fitted, 1.0))


def with_exact_figures(obs: Observations) -> Observations:
    """Return the observations with the coarser figures taken as labels: what they say, exactly."""
    return replace(obs, rounding=obs.rounding.without_coarser())


def exact_figures_notices(obs: Observations) -> list[Notice]:
    """Return what is to be said where figures with few decimals were taken as exact."""
    step = obs.rounding.exact_step_arcmin
    if not step:
        return []
    text = (
        f"some figures of this log go in steps of {figure(step)}′. They are taken as exact, since "
        "the others agree with them far better than rounding would allow"
    )
    return [Notice("exact_figures", text)]


def with_small_terms(candidate: Candidate, settings: Settings) -> Candidate:
    """Search on from here for terms of a few sigma, where those are far below the usual widths."""
    result = candidate.result
    obs = result.hypothesis.obs
    small = _small_terms(result)
    if not small:
        return candidate
    wider = replace(result.hypothesis, obs=replace(obs, additions=(*obs.additions, *small)))
    return refine(wider, settings, flips=True, variance=result.variance)


def _small_terms(result: Evaluation) -> tuple[Addition, ...]:
    """Return a narrow twin of each further term whose usual width is far above the noise."""
    sigma = float(np.sqrt(result.variance))
    if sigma > FINE_SIGMA_ARCMIN or result.hypothesis.obs.count < FEWEST_FOR_SMALL_TERMS:
        return ()
    design = result.problem.design[result.hypothesis.good][..., N_STANDARD:]
    reach = np.sqrt((design**2).sum(axis=1).mean(axis=0))
    found: dict[tuple[int, ...], Addition] = {}
    for addition in result.hypothesis.obs.additions:
        size = float(reach[list(addition.columns)].max())
        if addition.mean or size == 0.0 or addition.columns in found:
            continue
        sd = SMALL_TERM_SIGMAS * sigma / size
        if sd < SMALLER_THAN_USUAL * addition.sd:
            log_odds = addition.log_odds + float(np.log(SMALL_TERM_ODDS))
            found[addition.columns] = replace(addition, sd=sd, log_odds=log_odds)
    return tuple(found.values())
