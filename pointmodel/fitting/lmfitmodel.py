"""A model of the sky for lmfit: its data are the logged misses, its parameters the terms.

Read `estimate/observations.py` first. Data, best fit and residuals are arcminutes on the sky:
across altitude for every pair, then in height for every pair. What is assumed of the terms enters
as further rows of the minimiser, outside the data. lmfit is imported at the top here; elsewhere
inside functions.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from lmfit import Minimizer, Model, Parameters, conf_interval
from lmfit.model import ModelResult

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.observations import Observations, linear_problem
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.mount.kinematics import slopes_of_arcs
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES

PLACES = ("az_deg", "alt_deg")
INDEPENDENT = (*PLACES, "az_motion", "alt_motion", "hours")
SHARP = {"ftol": 1e-13, "xtol": 1e-13, "gtol": 1e-13}  # exact slopes bear it


@dataclass(frozen=True, eq=False)
class MissesOfPairs:
    """The misses (2n,) that terms explain, at the pairs or at any other places of the sky.

    At the pairs the readings are known, and the miss is taken forward from them; elsewhere it is
    that of the reading which centres the star. `machine` says how other places are approached.
    """

    pairs: Observations
    places: Mapping[str, FloatArray]
    machine: MountModel

    @property
    def __name__(self) -> str:
        """What lmfit calls the model."""
        return "pointing_terms"

    @property
    def names(self) -> tuple[str, ...]:
        """The terms, in the order of the design's columns."""
        return (*STANDARD_NAMES, *(column.name for column in self.pairs.columns))

    def __call__(
        self,
        az_deg: FloatArray,
        alt_deg: FloatArray,
        az_motion: FloatArray | None = None,
        alt_motion: FloatArray | None = None,
        hours: FloatArray | None = None,
        **terms: float,
    ) -> FloatArray:
        """Return the misses (2n,), arcminutes: all across altitude, then all in height."""
        values = self.values(terms)
        given = (az_deg, alt_deg, az_motion, alt_motion, hours)
        if all(
            one is not None and np.array_equal(self.places[name], one)
            for name, one in zip(INDEPENDENT, given, strict=True)
        ):
            return self.logged - in_a_row(linear_problem(self.pairs, values).miss)
        return self._elsewhere(given, values)

    def _elsewhere(self, given: tuple[Any, ...], values: FloatArray) -> FloatArray:
        az, alt = np.broadcast_arrays(*(np.atleast_1d(np.asarray(a, float)) for a in given[:2]))
        told: dict[str, Any] = {
            name: np.broadcast_to(np.asarray(one, float), az.shape)
            for name, one in zip(INDEPENDENT[2:], given[2:], strict=True)
            if one is not None
        }
        machine = replace(self.machine, values=values, **told)
        reading_az, reading_alt, _ = readings_for(machine, az, alt)
        right = replace(machine, values=np.zeros(N_STANDARD), columns=())
        return in_a_row(linearised_at(right, az, alt, reading_az, reading_alt).miss)

    def values(self, terms: Mapping[str, float]) -> FloatArray:
        """Return the values (6 + k,) of all columns; what is not told is nothing."""
        return np.array([terms.get(name, 0.0) for name in self.names])

    @cached_property
    def logged(self) -> FloatArray:
        """The misses as logged (2n,)."""
        return in_a_row(linear_problem(self.pairs, np.zeros(len(self.names))).miss)


def in_a_row(misses: FloatArray) -> FloatArray:
    """Return misses (n, 2) as one row (2n,): all across altitude, then all in height."""
    return np.ascontiguousarray(misses.T).ravel()


@dataclass(frozen=True, eq=False)
class Pull:
    """What is assumed of free parameters: rows Lᵀ (u − m), normal with information L Lᵀ (f, f)."""

    names: tuple[str, ...]
    mean: FloatArray
    root: FloatArray

    def rows(self, values: Mapping[str, float]) -> FloatArray:
        """Return the rows (f,)."""
        off = np.array([values[name] for name in self.names]) - self.mean
        return np.asarray(self.root.T @ off)

    def slopes(self, names: list[str]) -> FloatArray:
        """Return how the rows change with these parameters, (f, k)."""
        return np.asarray(self.root.T[:, [self.names.index(name) for name in names]])


class SkyModel(Model):  # type: ignore[misc]
    """An lmfit model of logged misses; `pull` adds rows for what is assumed of the terms."""

    def __init__(self, func: MissesOfPairs, pull: Pull | None, names: tuple[str, ...]) -> None:
        """Hold the function and the parameters' names."""
        super().__init__(func, independent_vars=list(INDEPENDENT), name="pointing terms")
        self.pull = pull
        self._param_names = list(names)

    def _residual(
        self, params: Parameters, data: FloatArray, weights: FloatArray, **kwargs: Any
    ) -> FloatArray:
        return self.rows(params.valuesdict(), data, weights, **kwargs)

    def rows(
        self, values: Mapping[str, float], data: FloatArray, weights: FloatArray, **places: Any
    ) -> FloatArray:
        """Return all rows that are minimised, in standard deviations."""
        rows = (data - self.func(**places, **values)) * weights
        return rows if self.pull is None else np.concatenate([rows, self.pull.rows(values)])

    def jacobian(
        self, params: Parameters, data: FloatArray, weights: FloatArray, **kwargs: Any
    ) -> FloatArray:
        """Return the exact slopes of the rows by the free terms; none may be tied."""
        del data, kwargs
        func = self.func
        problem = linear_problem(func.pairs, func.values(params.valuesdict()))
        design = slopes_of_arcs(problem.miss, problem.design)
        flat = np.concatenate([design[:, 0], design[:, 1]]) * -weights[:, None]
        varied = [name for name, p in params.items() if p.vary]
        slopes = flat[:, [func.names.index(name) for name in varied]]
        return slopes if self.pull is None else np.vstack([slopes, self.pull.slopes(varied)])


class SkyResult(ModelResult):  # type: ignore[misc]
    """The result of a fit by lmfit: `data`, `best_fit`, `residual` are those of the pairs.

    Where priors were used, chi-square, `ndata` and `nfree` count their rows as data, since that is
    what was minimised and what `conf_interval` and `emcee` explore. R² is that of the pairs alone.
    """

    def fit(self, *args: Any, **kwargs: Any) -> None:
        """Fit again; see `lmfit.model.ModelResult.fit`."""
        super().fit(*args, **kwargs)
        self.components = self.model.components
        self.residual = (self.data - self.best_fit) * self.weights

    def misfit(self, params: Parameters) -> FloatArray:
        """Return all rows that are minimised, in standard deviations: for samplers of one's own."""
        return np.asarray(self.model.rows(params.valuesdict(), *self.userargs, **self.userkws))

    def conf_interval(self, **kwargs: Any) -> Any:
        """Return intervals as lmfit's `conf_interval` finds them, also of values near nothing.

        Its first step is a fifth of the value, which leads nowhere where that is far below the
        standard error: so values are counted from three standard errors below, and back again.
        """
        if any(p.expr for p in self.params.values()) or not self.errorbars:
            return super().conf_interval(**kwargs)
        moved, params = {}, deepcopy(self.params)
        for name in self.var_names:
            one = params[name]
            moved[name] = COUNTED_FROM * one.stderr - min(one.value, 0.0)
            low, high = one.min + moved[name], one.max + moved[name]
            one.set(value=one.value + moved[name], min=low, max=high)
        counted = Minimizer(_moved_back, params, fcn_args=(self, moved), scale_covar=False)
        found = conf_interval(counted, counted.minimize(), **kwargs)
        both = found if isinstance(found, tuple) else (found,)
        for name, limits in both[0].items():
            both[0][name] = [(sigma, value - moved[name]) for sigma, value in limits]
        for traces in both[1:]:
            for trace in traces.values():
                trace.update({n: trace[n] - by for n, by in moved.items() if n in trace})
        self.ci_out = both[0]
        return found

    def eval(self, params: Parameters | None = None, **kwargs: Any) -> FloatArray:
        """Return the misses at the pairs, or at other places: `az_deg`, `alt_deg`, degrees."""
        return np.asarray(super().eval(params, **_elsewhere(kwargs)))

    def eval_uncertainty(self, *args: Any, **kwargs: Any) -> FloatArray:
        """Return the uncertainty of the misses; see `lmfit.model.ModelResult`."""
        return np.asarray(super().eval_uncertainty(*args, **_elsewhere(kwargs)))

    def plot_fit(
        self,
        ax: Any = None,
        datafmt: str = "o",
        fitfmt: str = "x",
        *,
        against: str = "alt_deg",
        **options: Any,
    ) -> Any:
        """Draw logged misses and best fit against an independent variable; return the axes."""
        ax = _axes(ax)
        for part, called in zip((0, 1), PARTS, strict=True):
            x, here = self._part(part, against)
            ax.errorbar(
                x,
                self.data[here],
                yerr=1.0 / self.weights[here],
                fmt=datafmt,
                color=f"C{part}",
                label=f"logged, {called}",
                **(options.get("data_kws") or {}),
            )
            ax.plot(
                x,
                self.best_fit[here],
                fitfmt,
                color=f"C{part}",
                label=f"best fit, {called}",
                **(options.get("fit_kws") or {}),
            )
        ax.set_ylabel(options.get("ylabel") or "miss, arcmin")
        ax.set_xlabel(options.get("xlabel") or LABELS[against])
        ax.set_title(options.get("title") or self.model.name)
        ax.legend()
        return ax

    def plot_residuals(
        self, ax: Any = None, datafmt: str = "o", *, against: str = "alt_deg", **options: Any
    ) -> Any:
        """Draw what the best fit leaves against an independent variable; return the axes."""
        ax = _axes(ax)
        ax.axhline(0.0, color="k", **(options.get("fit_kws") or {}))
        for part, called in zip((0, 1), PARTS, strict=True):
            x, here = self._part(part, against)
            ax.errorbar(
                x,
                (self.data - self.best_fit)[here],
                yerr=1.0 / self.weights[here],
                fmt=datafmt,
                color=f"C{part}",
                label=called,
                **(options.get("data_kws") or {}),
            )
        ax.set_ylabel("left, arcmin")
        ax.set_title(options.get("title") or self.model.name)
        return ax

    def plot(self, fig: Any = None, *, against: str = "alt_deg", **options: Any) -> Any:
        """Draw residuals above the fit, one figure; return the figure."""
        from matplotlib import pyplot

        fig = pyplot.figure(**(options.pop("fig_kws", None) or {})) if fig is None else fig
        above, below = fig.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": [1, 4]})
        self.plot_residuals(above, against=against, **options)
        self.plot_fit(below, against=against, **{**options, "title": " "})
        return fig

    def _part(self, part: int, against: str) -> tuple[FloatArray, slice]:
        x = np.asarray(self.userkws[against], dtype=float)
        return x, slice(part * x.size, (part + 1) * x.size)


def _moved_back(params: Parameters, result: SkyResult, moved: Mapping[str, float]) -> FloatArray:
    """Return the rows of parameters that are counted from elsewhere."""
    values = {name: value - moved.get(name, 0.0) for name, value in params.valuesdict().items()}
    return np.asarray(result.model.rows(values, *result.userargs, **result.userkws))


COUNTED_FROM = 3.0  # standard errors
PARTS = ("across altitude", "in height")
LABELS = {
    "az_deg": "azimuth, degrees",
    "alt_deg": "altitude, degrees",
    "az_motion": "last motion in azimuth",
    "alt_motion": "last motion in altitude",
    "hours": "hours since the first pair",
}


def _axes(ax: Any) -> Any:
    if ax is not None:
        return ax
    from matplotlib import pyplot

    return pyplot.gca()


def _elsewhere(kwargs: dict[str, Any]) -> dict[str, Any]:
    """Where other places are asked for, what is not told of them is as at the end of the log."""
    if not set(PLACES).intersection(kwargs):
        return kwargs
    return {**dict.fromkeys(INDEPENDENT[2:]), **kwargs}


def fitted(model: SkyModel, params: Parameters, sd_arcmin: FloatArray) -> SkyResult:
    """Return the fit of the model from these parameters, rows weighted by 1 / `sd_arcmin` (2n,).

    Standard errors are those of the stated noise: they are not scaled by chi-square. Raises what
    lmfit raises.
    """
    func, weights = model.func, 1.0 / sd_arcmin
    exact = not any(p.expr for p in params.values())
    options: dict[str, Any] = {"Dfun": model.jacobian} if exact else {}
    if exact and not any(np.isfinite([p.min, p.max]).any() for p in params.values() if p.vary):
        options |= SHARP  # at a bound steps grow ever smaller, and no end is sharp
    if exact:
        params = _polished(model, params, weights)
    result = SkyResult(model, params, scale_covar=False, fcn_kws=dict(func.places), **options)
    result.fit(data=func.logged, weights=weights)
    result.kws = {}  # what is minimised next may hold or tie other terms
    return result


def _polished(model: SkyModel, params: Parameters, weights: FloatArray) -> Parameters:
    """Return a start moved by Gauss and Newton's steps while these make chi-square smaller.

    The minimiser ends where chi-square gains no more, and that is a millionth of a standard error
    before the optimum: rounding hides the rest from sums of squares, not from slopes.
    """
    data, places = model.func.logged, dict(model.func.places)
    best, moved = params, deepcopy(params)
    chi_square = np.inf
    for _ in range(MOST_STEPS):
        rows = model.rows(moved.valuesdict(), data, weights, **places)
        if not rows @ rows <= chi_square * (1.0 + ROUNDING):
            return best
        best, chi_square = deepcopy(moved), float(rows @ rows)
        varied = [name for name, p in moved.items() if p.vary]
        steps = np.linalg.lstsq(model.jacobian(moved, data, weights), -rows, rcond=None)[0]
        for name, step in zip(varied, steps.tolist(), strict=True):
            one = moved[name]
            if not one.min < one.value + step < one.max:
                return best
            one.value += step
        if np.abs(steps).max(initial=0.0) < SETTLED_ARCMIN:
            return moved
    return best


MOST_STEPS = 8
SETTLED_ARCMIN = 1e-9
ROUNDING = 1e-12
