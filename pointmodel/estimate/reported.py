"""From the estimator's solution to results in the user's words: terms, noise, pairs set aside.

Read `estimate/solve.py` and `results.py` first. Nothing is estimated here; values are picked, named
and brought to the units that users read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from itertools import chain
from typing import Any

import numpy as np

from pointmodel.base.angles import wrap_deg, wrapped_index_arcmin
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import degrees_minutes, figure
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.wording import join
from pointmodel.estimate.badpairs import LOG_BAD, LOG_GOOD, Explained
from pointmodel.estimate.identify import Unseen, unseen
from pointmodel.estimate.observations import Observations, linear_problem
from pointmodel.estimate.results import (
    Inseparable,
    Noise,
    PairCause,
    PairResults,
    SetAside,
    TermEstimate,
)
from pointmodel.estimate.search import SLIP_TERMS
from pointmodel.estimate.solve import Solution
from pointmodel.mount.terms import N_STANDARD, TERMS, spoken
from pointmodel.reading.nightlog import NightLog


def term_estimates(solution: Solution, log: NightLog) -> tuple[TermEstimate, ...]:
    """Return the six terms and the further ones of the final model."""
    posterior = solution.posterior
    sd = np.sqrt(np.diag(posterior.covariance))
    if solution.standard_errors is not None:
        sd[posterior.chosen] = solution.standard_errors
    found = []
    for column, status in zip(posterior.chosen, solution.statuses, strict=True):
        name = posterior.columns[column].name
        value, low, high = (
            float(a[column]) for a in (posterior.mean, posterior.low, posterior.high)
        )
        if name == "azimuth_index" and status != "fixed":
            turn = wrapped_index_arcmin(value) - value
            value, low, high = value + turn, low + turn, high + turn
        after = _slip_after_line(solution, log) if name in SLIP_TERMS else None
        found.append(
            TermEstimate(
                name=name,
                value=value,
                standard_error=float(sd[column]),
                low=low,
                high=high,
                unit=TERMS[name].unit,
                status=status,
                after_line=after,
            )
        )
    return tuple(found)


def _slip_after_line(solution: Solution, log: NightLog) -> int:
    first_after = solution.observations.slip_at
    assert first_after is not None
    return int(log.line[first_after - 1])


def noise(solution: Solution, centring_error_arcmin: float | None) -> Noise:
    """Return the noise an axis, parted into scatter and centring where the latter is stated."""
    centre, low, high = solution.posterior.sigma
    scatter = None
    if centring_error_arcmin is not None:
        scatter = float(np.median(solution.posterior.draws_sigma))
    step_arcsec = 60.0 * solution.observations.rounding.step_arcmin
    return Noise(
        sigma_arcmin=centre,
        low=low,
        high=high,
        scatter_arcmin=scatter,
        centring_arcmin=centring_error_arcmin,
        readout_step_arcsec=step_arcsec,
    )


def pair_results(solution: Solution, log: NightLog) -> PairResults:
    """Return misses before and after, leverage and probability of being bad for every pair."""
    result, scores = solution.candidate.result, solution.candidate.scores
    obs, good = solution.observations, result.hypothesis.good
    before = misses_as_logged(obs)
    step = _mean_in_design(solution) - result.problem.at
    residual = result.problem.miss - result.problem.design @ step
    residual = np.where(good[:, None], residual, scores.miss)
    band = NORMAL_95 * np.sqrt(result.variance * result.rows.rho)
    as_bad = LOG_BAD + scores.log_bad - LOG_GOOD - scores.log_good
    probability = 1.0 / (1.0 + np.exp(-np.clip(as_bad, -60.0, 60.0)))
    causes: list[PairCause | None] = [None] * len(log)
    hints: list[str | None] = [None] * len(log)
    for i in np.flatnonzero(~good):
        causes[i], hints[i] = _why_bad(solution, int(i), residual[i])
    return PairResults(
        line=log.line,
        target=log.target,
        star_az_deg=log.star_az_deg,
        star_alt_deg=log.star_alt_deg,
        before_x_arcmin=before[:, 0],
        before_y_arcmin=before[:, 1],
        residual_x_arcmin=residual[:, 0],
        residual_y_arcmin=residual[:, 1],
        band_x_arcmin=band[:, 0],
        band_y_arcmin=band[:, 1],
        leverage=np.clip(scores.leverage, 0.0, 1.0),
        set_aside=~good,
        cause=tuple(causes),
        hint=tuple(hints),
        probability_bad=probability,
    )


def misses_as_logged(obs: Observations) -> FloatArray:
    """Return how far the mount seemed to point from each star (n, 2), were it without a fault."""
    return linear_problem(obs, np.zeros(N_STANDARD + len(obs.columns))).miss


def joined(parts: Sequence[PairResults]) -> PairResults:
    """Return the pairs of several segments as one, in the log's order."""
    if len(parts) == 1:
        return parts[0]
    columns: list[Any] = []
    for field in fields(PairResults):
        several = [getattr(part, field.name) for part in parts]
        is_tuple = isinstance(several[0], tuple)
        columns.append(tuple(chain(*several)) if is_tuple else np.concatenate(several))
    return PairResults(*columns)


def _mean_in_design(solution: Solution) -> FloatArray:
    """Return the posterior mean over the columns of the final linear problem."""
    posterior = solution.posterior
    mean = np.zeros_like(solution.candidate.result.mean)
    there = posterior.places < mean.size
    mean[posterior.places[there]] = posterior.mean[there]
    return mean


def _why_bad(solution: Solution, pair: int, miss: FloatArray) -> tuple[PairCause, str]:
    scores = solution.candidate.scores
    bad = scores.bad
    if bad is not None:
        place = int(np.searchsorted(scores.suspects, pair))
        slip = bad.best_slip[place]
        if slip is not None:
            return "log_typo", f"{slip.hint}: {_right_figures(slip, pair, solution.observations)}"
    size = float(np.hypot(*miss))
    return "wrong_star", f"it ended {_size(size)} from where the other stars put it"


def _right_figures(slip: Explained, pair: int, obs: Observations) -> str:
    """Return the figures that would be right, as the log has its figures written."""
    change = _change(slip, pair, obs)
    ways = [_side_words(slip.side, change, pair, obs, about=slip.about)]
    if slip.either:
        other = "commanded" if slip.side == "centred" else "centred"
        ways.append(_side_words(other, -change, pair, obs, about=slip.about))
    return f"{', or '.join(sorted(ways))} would be right"


def _logged_deg(side: str, pair: int, obs: Observations) -> FloatArray:
    sides = {"centred": (obs.reading_az, obs.reading_alt), "commanded": (obs.star_az, obs.star_alt)}
    return np.degrees([part[pair] for part in sides[side]])


def _change(slip: Explained, pair: int, obs: Observations) -> FloatArray:
    """Return by how much azimuth and altitude (2,) were to be changed, degrees."""
    return wrap_deg(np.array([slip.az_deg, slip.alt_deg]) - _logged_deg(slip.side, pair, obs))


def _side_words(
    side: str, change_deg: FloatArray, pair: int, obs: Observations, *, about: bool
) -> str:
    rounding = obs.rounding
    step = rounding.reading_step_arcmin if side == "centred" else rounding.star_step_arcmin
    right = _logged_deg(side, pair, obs) + change_deg
    changed = [
        f"{axis} {_as_logged(value, step, about=about, full_turn=axis == 'azimuth')}"
        for axis, value, by in zip(("azimuth", "altitude"), right, change_deg, strict=True)
        if abs(by) > SAME_FIGURE_DEG
    ]
    return f"{side} {join(changed)}"


SAME_FIGURE_DEG = 1e-6  # figures are nowhere written more finely
_DECIMAL_STEPS_ARCMIN = {6.0: 1, 0.6: 2, 0.06: 3, 0.006: 4}  # tenths of a degree, hundredths …


def _as_logged(value_deg: float, step_arcmin: float, *, about: bool, full_turn: bool) -> str:
    """Return an angle in decimals of a degree where the log has those, else in minutes."""
    value_deg = value_deg % 360.0 if full_turn else value_deg
    decimals = _DECIMAL_STEPS_ARCMIN.get(round(step_arcmin, 6))
    word = "about " if about else ""
    if decimals is None:
        return word + degrees_minutes(value_deg, 0 if about else 1, full_turn)
    return f"{word}{figure(value_deg, min(decimals, 2) if about else decimals)}°"


def _size(miss_arcmin: float) -> str:
    return f"{miss_arcmin / 60.0:.1f}°" if miss_arcmin >= 60.0 else f"{miss_arcmin:.0f}′"


def set_aside(pairs: PairResults) -> tuple[SetAside, ...]:
    """Return the pairs that were left out, each with its reason."""
    size = np.hypot(pairs.residual_x_arcmin, pairs.residual_y_arcmin)
    return tuple(
        SetAside(
            line=int(pairs.line[i]),
            target=pairs.target[i],
            cause=pairs.cause[i] or "wrong_star",
            miss_arcmin=float(size[i]),
            hint=pairs.hint[i] or "",
            probability_bad=float(pairs.probability_bad[i]),
        )
        for i in np.flatnonzero(pairs.set_aside)
    )


def radial_rms(x: FloatArray, y: FloatArray, mask: BoolArray) -> float:
    """Return √mean(x² + y²) over the pairs of the mask."""
    return float(np.sqrt(np.mean(x[mask] ** 2 + y[mask] ** 2)))


def inseparable(
    solution: Solution, targets: tuple[FloatArray, FloatArray], target_design: FloatArray
) -> tuple[Inseparable, ...]:
    """Return the combinations of terms that this night cannot tell apart, least known first.

    `targets` are azimuths and altitudes (k,) of the open sky, `target_design` (k, 2, c) the design
    there over the posterior's columns: the target that would tell most is named in the hint.
    """
    found = unseen(solution.candidate.result, target_design[..., solution.posterior.chosen])
    if len(found) > MOST_COMBINATIONS:
        return (_too_few(found, solution),)
    together: dict[tuple[str, ...], list[int]] = {}  # the stars that would settle it, by names
    for one in found:
        together.setdefault(_names(one.columns, solution), []).append(one.star)
    return tuple(_combination(names, stars, targets) for names, stars in together.items())


MOST_COMBINATIONS = 2


def _names(columns: tuple[int, ...], solution: Solution) -> tuple[str, ...]:
    posterior = solution.posterior
    listed = [posterior.columns[posterior.chosen[c]].name for c in columns]
    return tuple(dict.fromkeys(listed))


def _combination(
    names: tuple[str, ...], stars: list[int], targets: tuple[FloatArray, FloatArray]
) -> Inseparable:
    places = [place_in_words(float(targets[0][k]), float(targets[1][k])) for k in stars]
    place = " and one ".join(places)
    words = [spoken(name) for name in names]
    if len(names) > 1:
        return Inseparable(
            names,
            f"of {join(words)} only the combined effect is known. A star {place} would tell them "
            "apart",
        )
    return Inseparable(names, f"these stars do not show {words[0]}. A star {place} would")


def _too_few(found: tuple[Unseen, ...], solution: Solution) -> Inseparable:
    columns = tuple(sorted({c for one in found for c in one.columns}))
    names = _names(columns, solution)
    missing = -(-len(found) // 2)
    stars = "one more star" if missing == 1 else f"{missing} more stars"
    words = join([spoken(name) for name in names])
    return Inseparable(
        names,
        f"too few stars to tell {words} apart. {stars[:1].upper()}{stars[1:]}, low and high, well "
        "around the sky, would begin to",
    )
