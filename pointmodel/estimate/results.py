"""What a fit found, as plain immutable objects; no computing and no showing here.

Angles of position are degrees, terms and misses arcminutes on the sky. "Low" and "high" are the
ends of the 95 % interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.mount.term import Unit

Status = Literal["determined", "weak", "not_determined", "fixed"]
PairCause = Literal["wrong_star", "log_typo"]  # why a line was left out


@dataclass(frozen=True)
class TermEstimate:
    """One term: value with standard error and 95 % interval, in `unit`.

    `status` is how far the night itself determines it, "fixed" where it is held as asked;
    `after_line` is the log line after which a slip happened, None for every other term.
    """

    name: str
    value: float
    standard_error: float
    low: float
    high: float
    unit: Unit
    status: Status
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
    cause: PairCause
    miss_arcmin: float
    hint: str
    probability_bad: float


@dataclass(frozen=True)
class Inseparable:
    """Terms that this night cannot tell apart, and what would settle it, in words."""

    terms: tuple[str, ...]
    hint: str


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
    cause: tuple[PairCause | None, ...]
    hint: tuple[str | None, ...]
    probability_bad: FloatArray
