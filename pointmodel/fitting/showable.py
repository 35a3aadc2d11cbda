"""What text, pictures and pages read of a fit: its attributes, and nothing of how they came about.

Read `results.py` first. `fit.Fit` has all of these; so has the made-up fit of the tests.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pointmodel.advising.result import Advice
from pointmodel.base.errors import Notice
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.results import Inseparable, Noise, PairResults, SetAside, TermEstimate
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.levelling.result import LevelResult
from pointmodel.readings.result import Readings


class ShowableOptics(Protocol):
    """The eyepiece, as the mount file states it."""

    @property
    def field_of_view_arcmin(self) -> float | None:
        """True field, arcminutes across."""


class Mount(Protocol):
    """The part of a mount file that is shown."""

    @property
    def name(self) -> str | None:
        """What the owner calls the mount."""

    @property
    def optics(self) -> ShowableOptics:
        """The eyepiece used."""

    @property
    def horizon(self) -> tuple[tuple[float, float], ...]:
        """Azimuth and lowest open altitude, degrees; empty where nothing is in the way."""


class Log(Protocol):
    """The part of a log that is shown."""

    @property
    def name(self) -> str:
        """File stem of the log."""

    @property
    def source(self) -> str:
        """Path of the log as given."""

    @property
    def time_s(self) -> NDArray[np.float64]:
        """Moments of centring, POSIX seconds UTC, nan where not logged; shape (n,)."""

    @property
    def mount(self) -> Mount:
        """The mount file that went with the log."""


class Showable(Protocol):
    """A fit as showing sees it; see `results.py` for units and shapes."""

    @property
    def log(self) -> Log:
        """The log that was fitted."""

    @property
    def term_estimates(self) -> tuple[TermEstimate, ...]:
        """Every fitted term."""

    @property
    def noise(self) -> Noise:
        """Noise an axis."""

    @property
    def set_aside(self) -> tuple[SetAside, ...]:
        """Lines left out of the fit."""

    @property
    def inseparable(self) -> tuple[Inseparable, ...]:
        """Terms that the night cannot tell apart."""

    @property
    def pair_results(self) -> PairResults:
        """One entry a pair of the log."""

    @property
    def pairs_read(self) -> int:
        """Pairs read, those set aside among them."""

    @property
    def residual_rms_arcmin(self) -> float:
        """Radial RMS of what is left after the model."""

    @property
    def before_rms_arcmin(self) -> float:
        """Radial RMS of the misses as logged."""

    @property
    def forecasts(self) -> tuple[RemedyForecast, ...]:
        """How far go-tos will land from their targets, a remedy each."""

    @property
    def sky_forecast(self) -> SkyForecast:
        """Expected miss over the open sky, corrections applied."""

    @property
    def causes(self) -> tuple[Cause, ...]:
        """Findings, best supported first."""

    @property
    def levelling(self) -> LevelResult:
        """Whether to level the base, and which foot by how much."""

    @property
    def advice(self) -> Advice:
        """The one verdict: what to do, and what go-to is after each step."""

    @property
    def readings(self) -> Readings:
        """What the log's figures mean."""

    @property
    def warnings(self) -> tuple[Notice, ...]:
        """Remarks on input and result."""
