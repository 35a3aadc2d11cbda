"""What a fit found, as plain immutable objects; no computing and no showing here.

Angles of position are degrees, terms and misses arcminutes on the sky. "Low" and "high" are the
ends of the 95 % interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import BoolArray, FloatArray


@dataclass(frozen=True)
class TermEstimate:
    """One term: value with standard error and 95 % interval, in `unit`.

    `status` is determined, weak or not_determined; `after_line` is the log line after which a slip
    happened, None for every other term.
    """

    name: str
    value: float
    standard_error: float
    low: float
    high: float
    unit: str
    status: str
    after_line: int | None = None


@dataclass(frozen=True)
class Noise:
    """Noise an axis, arcminutes; `scatter_arcmin`, `centring_arcmin` None where not separable."""

    sigma_arcmin: float
    low: float
    high: float
    scatter_arcmin: float | None
    centring_arcmin: float | None
    readout_step_arcsec: float


@dataclass(frozen=True)
class SetAside:
    """One line of the log that was left out of the fit, and why."""

    line: int
    target: str | None
    cause: str
    miss_arcmin: float
    hint: str
    probability_bad: float


@dataclass(frozen=True)
class Inseparable:
    """Terms that this night cannot tell apart, and what would settle it, in words."""

    terms: tuple[str, ...]
    hint: str


@dataclass(frozen=True)
class RemedyForecast:
    """How far go-tos land from the target after a remedy, over the open sky, arcminutes.

    `chance_in_field` is None where the eyepiece's field is unknown. `sample_arcmin` (m,) are misses
    drawn from the forecast, for pictures. Only for `realign`: `stars`, the best two stars as
    azimuth and altitude in degrees, the RMS with a middling pair and with a bad one, and that bad
    pair; and, where it is not known what the controller works out from its stars, the RMS if it
    also works out an altitude zero.
    """

    remedy: str
    rms_arcmin: float
    rms_low_arcmin: float
    rms_high_arcmin: float
    median_arcmin: float
    p95_arcmin: float
    chance_in_field: float | None
    sample_arcmin: FloatArray
    stars: tuple[tuple[float, float], ...] = ()
    median_pair_rms_arcmin: float | None = None
    bad_pair_rms_arcmin: float | None = None
    bad_stars: tuple[tuple[float, float], ...] = ()
    with_altitude_zero_rms_arcmin: float | None = None


@dataclass(frozen=True)
class PairResults:
    """What the fit says of each pair it was given; arrays of shape (n,), in the log's order.

    `before_*` are the misses as logged (from the star to where the readout stood once it was
    centred: the correction), `residual_*` what is left of them after the model: x across altitude,
    y in altitude, both on the sky. For pairs that were set aside the residual is the one that the
    rest of the log predicts. `band_*` is half the width of the 95 % band of residuals.
    """

    line: NDArray[np.int64]
    target: tuple[str | None, ...]
    star_az_deg: FloatArray
    star_alt_deg: FloatArray
    before_x_arcmin: FloatArray
    before_y_arcmin: FloatArray
    residual_x_arcmin: FloatArray
    residual_y_arcmin: FloatArray
    band_x_arcmin: FloatArray
    band_y_arcmin: FloatArray
    leverage: FloatArray
    set_aside: BoolArray
    cause: tuple[str | None, ...]
    hint: tuple[str | None, ...]
    probability_bad: FloatArray


@dataclass(frozen=True)
class SkyForecast:
    """Expected miss (RMS, arcminutes) of corrected go-tos over the open sky, each (k,)."""

    az_deg: FloatArray
    alt_deg: FloatArray
    miss_rms_arcmin: FloatArray


@dataclass(frozen=True)
class Cause:
    """One finding: what, how sure (likely, possible, ruled_out), the evidence and what to do."""

    cause: str
    verdict: str
    evidence: str
    remedy: str
