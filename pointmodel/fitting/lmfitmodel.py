"""The final model run through lmfit, for intervals, ties and plots of one's own.

The same residuals as the estimator's, in standard deviations, with the priors as further rows;
parameters are named by term. lmfit is imported here and only here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from lmfit import Model, Parameters
from lmfit.model import ModelResult

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.observations import linear_problem
from pointmodel.estimate.solve import Solution


def lmfit_result(solution: Solution) -> ModelResult:
    """Return the lmfit result of the final model: chosen terms, good pairs, priors as rows.

    The data are zeros: the model function returns misses and prior pulls over their standard
    deviations, so `weights` is not used and chi-square is lmfit's own.
    """
    result = solution.candidate.result
    hypothesis, columns = result.hypothesis, result.hypothesis.columns
    posterior = solution.posterior
    names = [posterior.columns[c].name for c in posterior.chosen]
    root, centre = prior_root(solution)
    row_sd = np.sqrt(result.variance * result.rows.rho[hypothesis.good])

    def misfit(x: FloatArray, **values: Any) -> FloatArray:
        del x
        terms = np.array([values[name] for name in names])
        at = np.zeros_like(hypothesis.at)
        at[columns] = terms
        miss = linear_problem(hypothesis.obs, at).miss[hypothesis.good] / row_sd
        pull = np.linalg.solve(root, terms - centre)
        return np.concatenate([miss.ravel(), pull])

    parameters = Parameters()
    start = posterior.mean[posterior.chosen]
    for name, value in zip(names, start, strict=True):
        parameters.add(name, value=float(value))
    rows = 2 * int(hypothesis.good.sum()) + len(names)
    model = Model(misfit, independent_vars=["x"])
    nothing = np.zeros(rows)
    return model.fit(nothing, parameters, x=nothing, scale_covar=False)


def prior_root(solution: Solution) -> tuple[FloatArray, FloatArray]:
    """Return a root R (p, p) of the prior's covariance R Rᵀ and its mean (p,), final model."""
    result = solution.candidate.result
    spread = result.spread
    root = np.diag(spread) if spread.ndim == 1 else spread
    return root, result.rows.prior_mean[result.hypothesis.columns]
