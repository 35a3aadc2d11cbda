"""What is known of a mount before more stars are centred, and what one more star would add.

Read `outlook.py` first. Everything is linear about the mount as it is best known: a star adds two
rows of the design, and the covariance of the terms after it is that of a linear update (Gelb,
Applied Optimal Estimation, 1974, section 4.2). The expected miss is its trace over the open sky.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.identify import WEAK_BELOW, WIDENED
from pointmodel.estimate.termsprior import BASE_SD
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.forecasting.outlook import Outlook, open_sky
from pointmodel.mount.priors import SCATTER_ARCMIN, SIGMA_ARCMIN
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import MountFile

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit

# One sd of the six terms of a portable mount as it is set down, arcminutes: somewhat wider than the
# estimator's own, whose scales it finds from the night.
TYPICAL_SD_ARCMIN = np.array([90.0, 45.0, 15.0, 10.0, 30.0, 30.0])
OF_THE_SET_UP = ("azimuth_index", "altitude_index", "tilt_north", "tilt_east")
LEAST_SIGMA_ARCMIN = 0.1
LEAST_GAIN_SHARE_OF_FIELD = 1.0 / 12.0  # a choice: nobody sees a smaller gain in the eyepiece
TWO_SIDED_95 = 1.96


@dataclass(frozen=True, eq=False)
class Knowledge:
    """What is known of the terms (c,) named `names`, arcminutes, about the mount `model`.

    `sky` (c, c) is the mean over the open sky of TᵀT, T a target's design: tr[sky · covariance] is
    the mean square miss of corrected go-tos. `sigma_arcmin` is the noise of a pair an axis,
    `scatter_arcmin` the mount's own part of it. `judged` (m,) are the columns whose status is told;
    `usual` and `widened` (m, m) their covariances under the priors and under priors three times
    wider.
    """

    model: MountModel
    names: tuple[str, ...]
    covariance: FloatArray
    sky: FloatArray
    sigma_arcmin: float
    scatter_arcmin: float
    judged: np.ndarray
    usual: FloatArray
    widened: FloatArray
    outlook: Outlook


def typical(mount: MountFile) -> Knowledge:
    """Return what is known of a portable mount that was just set down."""
    model = MountModel(
        np.zeros(len(STANDARD_NAMES)),
        (),
        azimuth_origin_deg=mount.azimuth_origin_deg,
        pressure_hpa=mount.pressure_hpa,
        temperature_c=mount.temperature_c,
    )
    centring = mount.optics.centring_error_arcmin
    scatter, sigma = SCATTER_ARCMIN, SIGMA_ARCMIN
    if centring is None:
        scatter = sigma  # as a fit counts it: what cannot be parted is the mount's
    else:
        sigma = float(np.hypot(scatter, centring))
    covariance = np.diag(TYPICAL_SD_ARCMIN**2)
    # six draws whose covariance is that of the estimator's own expectations
    draws = np.sqrt(len(STANDARD_NAMES)) * np.diag(BASE_SD)
    outlook = Outlook(
        model=model,
        deviation=draws,
        scatter_arcmin=np.full(len(STANDARD_NAMES), scatter),
        scatter_known=centring is not None,
        targets=open_sky(mount),
        field_of_view_arcmin=mount.optics.field_of_view_arcmin,
    )
    return Knowledge(
        model=model,
        names=STANDARD_NAMES,
        covariance=covariance,
        sky=_over_the_sky(outlook),
        sigma_arcmin=sigma,
        scatter_arcmin=scatter,
        judged=np.arange(len(STANDARD_NAMES)),
        usual=covariance,
        widened=WIDENED**2 * covariance,
        outlook=outlook,
    )


def after_fit(fit: Fit, *, set_up_anew: bool = False) -> Knowledge:
    """Return what a fit knows of its mount; `set_up_anew` where the mount was set down again since.

    Then both zeros and the lean start afresh, and the terms of tube and fork are kept.
    """
    outlook, posterior = fit.outlook, fit.solution.posterior
    result = fit.solution.candidate.result
    names = tuple(column.name for column in posterior.columns)
    centring = fit.log.mount.optics.centring_error_arcmin or 0.0
    scatter = float(np.median(outlook.scatter_arcmin))
    judged = np.asarray(posterior.chosen)
    from_pairs = result.spectrum.moments.gram / result.variance
    prior = np.diag(1.0 / _prior_sd(names, judged) ** 2)
    usual = np.asarray(np.linalg.inv(from_pairs + prior), dtype=float)
    widened = np.asarray(np.linalg.inv(from_pairs + prior / WIDENED**2), dtype=float)
    covariance = outlook.covariance
    if set_up_anew:
        renewed = _set_up_variance(names)
        covariance = covariance + np.diag(renewed)
        usual = usual + np.diag(renewed[judged])
        widened = widened + WIDENED**2 * np.diag(renewed[judged])
    return Knowledge(
        model=outlook.model,
        names=names,
        covariance=covariance,
        sky=_over_the_sky(outlook),
        sigma_arcmin=max(float(np.hypot(scatter, centring)), LEAST_SIGMA_ARCMIN),
        scatter_arcmin=scatter,
        judged=judged,
        usual=usual,
        widened=widened,
        outlook=outlook,
    )


def _prior_sd(names: tuple[str, ...], judged: np.ndarray) -> FloatArray:
    """Return prior sds (m,) of the judged columns: typical ones, then the further terms' own."""
    from pointmodel.mount.terms import TERMS

    sd = dict(zip(STANDARD_NAMES, TYPICAL_SD_ARCMIN, strict=True))
    further = {name: prior.sd for name, term in TERMS.items() for prior in term.priors[:1]}
    for name, term in TERMS.items():
        if name not in further and term.partner in further:
            further[name] = further[term.partner]
    return np.array([(sd | further)[names[column]] for column in judged])


def _set_up_variance(names: tuple[str, ...]) -> FloatArray:
    typical_sd = dict(zip(STANDARD_NAMES, TYPICAL_SD_ARCMIN, strict=True))
    return np.array([typical_sd[n] ** 2 if n in OF_THE_SET_UP else 0.0 for n in names])


def _over_the_sky(outlook: Outlook) -> FloatArray:
    slope = outlook.corrected.slope
    flat = slope.reshape(-1, slope.shape[-1])
    return np.asarray(flat.T @ flat / slope.shape[0])


def design_at(knowledge: Knowledge, az_deg: FloatArray, alt_deg: FloatArray) -> FloatArray:
    """Return the design (k, 2, c) of one pair at each place (k,), degrees."""
    model = knowledge.model
    reading_az, reading_alt, _ = readings_for(model, az_deg, alt_deg)
    return linearised_at(model, az_deg, alt_deg, reading_az, reading_alt).design


def updated(covariance: FloatArray, rows: FloatArray, variance: float) -> FloatArray:
    """Return the covariance (c, c) after the stars whose rows (r, c) are given, r two a star."""
    crossed = rows @ covariance
    spread = crossed @ rows.T + variance * np.eye(rows.shape[0])
    return np.asarray(covariance - crossed.T @ np.linalg.solve(spread, crossed))


def rms_arcmin(knowledge: Knowledge, covariance: FloatArray) -> float:
    """Return the expected RMS miss of corrected go-tos, the mount's scatter included."""
    from_terms = max(float(np.sum(knowledge.sky * covariance)), 0.0)
    return float(np.sqrt(from_terms + 2.0 * knowledge.scatter_arcmin**2))


def least_gain_arcmin(mount: MountFile) -> float:
    """Return the least gain in the miss of corrected go-tos that is worth two more stars."""
    field = mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN
    return LEAST_GAIN_SHARE_OF_FIELD * field


def settled_between(knowledge: Knowledge, before: FloatArray, after: FloatArray) -> tuple[str, ...]:
    """Return the terms that may be large by one covariance (c, c), and not by the later one.

    Large is what matters (`mount/terms.py`); what may be is the far end of the 95 % interval. Of
    refraction, left out or applied twice, there is nothing between.
    """
    from pointmodel.mount.terms import TERMS

    value = np.abs(knowledge.model.values)
    far, near = (value + TWO_SIDED_95 * np.sqrt(np.diag(held)) for held in (before, after))
    matters = np.array([TERMS[name].matters for name in knowledge.names])
    sizes = np.array([TERMS[name].unit != "1" for name in knowledge.names])
    settled = sizes & (far > matters) & (near <= matters)
    return tuple(name for name, is_so in zip(knowledge.names, settled, strict=True) if is_so)


def not_determined(knowledge: Knowledge, rows: FloatArray) -> tuple[str, ...]:
    """Return the names of the terms that stay unknown with the stars of these rows (r, c).

    The rule of `estimate/identify.py`: by how much the sd grows under priors three times wider.
    """
    judged, variance = knowledge.judged, knowledge.sigma_arcmin**2
    now, wider = (
        np.sqrt(np.diag(updated(held, rows[:, judged], variance)))
        for held in (knowledge.usual, knowledge.widened)
    )
    unknown = wider >= WEAK_BELOW * now
    return tuple(knowledge.names[c] for c, is_so in zip(judged, unknown, strict=True) if is_so)
