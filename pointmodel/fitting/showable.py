"""What text, pictures and pages read of a fit: its attributes, and nothing of how they came about.

Read `results.py` first. `fit.Fit` has all of these; so has the made-up fit of the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from pointmodel.advising.result import Advice
from pointmodel.base.errors import Notice
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.results import Inseparable, Noise, PairResults, SetAside, TermEstimate
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.levelling.result import LevelResult
from pointmodel.readings.result import Readings

if TYPE_CHECKING:
    from pointmodel.estimate.inturn import Happened
    from pointmodel.fitting.breakdown import Breakdown
    from pointmodel.fitting.landings import Landing


class ShowableOptics(Protocol):
    """The eyepiece, as the mount file states it."""

    @property
    def field_of_view_arcmin(self) -> float | None:
        """True field, arcminutes across."""

    @property
    def centring_error_arcmin(self) -> float | None:
        """How well stars were centred, one sigma an axis, where that is stated."""


class ShowableAlignment(Protocol):
    """What the controller was aligned on before the log."""

    @property
    def state(self) -> str:
        """unknown, none, one_star or two_or_more."""


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

    @property
    def alignment(self) -> ShowableAlignment:
        """What the controller was aligned on."""

    @property
    def readout(self) -> str | None:
        """Whether figures count the axes or stand on the sky; None where that is not stated."""

    @property
    def zone(self) -> tzinfo | None:
        """The zone of the site, None where it is not stated."""


class ShowableEvent(Protocol):
    """Something that happened in the course of a log."""

    @property
    def kind(self) -> str:
        """Name of the event, as in `mount/events.py`."""

    @property
    def before_pair(self) -> int:
        """Index of the first pair after it."""


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
    def line(self) -> NDArray[np.int64]:
        """Lines of the log, increasing, shape (n,)."""

    @property
    def time_offset_s(self) -> float | None:
        """How far from UTC the times were written, seconds; None where not known."""

    @property
    def commanded_az_deg(self) -> NDArray[np.float64]:
        """Azimuths commanded, degrees, shape (n,)."""

    @property
    def commanded_alt_deg(self) -> NDArray[np.float64]:
        """Altitudes commanded, degrees, shape (n,)."""

    @property
    def centred_az_deg(self) -> NDArray[np.float64]:
        """Azimuths with the star centred, degrees, shape (n,)."""

    @property
    def centred_alt_deg(self) -> NDArray[np.float64]:
        """Altitudes with the star centred, degrees, shape (n,)."""

    @property
    def az_motion(self) -> NDArray[np.float64]:
        """Last motions in azimuth: +1 clockwise, -1 counter-clockwise, 0 not logged, (n,)."""

    @property
    def alt_motion(self) -> NDArray[np.float64]:
        """Last motions in altitude: +1 up, -1 down, 0 not logged, (n,)."""

    @property
    def note(self) -> tuple[str | None, ...]:
        """The owner's notes, (n,)."""

    @property
    def events(self) -> Sequence[ShowableEvent]:
        """What happened between pairs."""

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
    def as_written(self) -> Log:
        """The log as it was written, whatever its figures were taken to mean."""

    @property
    def happened(self) -> Sequence[Happened]:
        """What happened to the mount and nobody logged."""

    @property
    def breakdown(self) -> Breakdown:
        """The fit taken apart: shares of the terms, parts of the log, what stays open."""

    @property
    def landings(self) -> tuple[Landing, ...]:
        """Where the log's stars land in the eyepiece, as logged and after the steps advised."""

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
