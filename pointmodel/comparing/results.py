"""What a comparison of nights found, as plain immutable objects; no computing here.

Terms and misses are arcminutes. "Low" and "high" are the ends of the 95 % interval.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

Kind = Literal["mount", "setup", "changed", "cannot_tell"]


@dataclass(frozen=True)
class ComparedNight:
    """One night as its own fit saw it.

    `start` is ISO 8601 in the zone of the log, None where no time was logged. Of `pairs_read`,
    `pairs` were used. `sigma_arcmin` is the noise an axis; the RMS of misses as logged and of what
    the fit left are radial. `behind_turn_rms_arcmin` is the former without a large turn of the
    whole azimuth circle.
    """

    id: str
    start: str | None
    start_s: float | None
    pairs: int
    pairs_read: int
    sigma_arcmin: float
    before_rms_arcmin: float
    after_rms_arcmin: float
    behind_turn_rms_arcmin: float | None = None

    @property
    def logged_rms_arcmin(self) -> float:
        """The misses as logged as they are shown: without a turn of the azimuth circle."""
        behind = self.behind_turn_rms_arcmin
        return self.before_rms_arcmin if behind is None else behind


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % limits."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class NightValue:
    """A term on one night, as all nights together see it."""

    id: str
    value: float
    low: float
    high: float

    @property
    def limits(self) -> dict[str, float]:
        """The value with its limits, by name."""
        return {"value": self.value, "low": self.low, "high": self.high}


@dataclass(frozen=True)
class ComparedTerm:
    """One term over the nights.

    `kind` is mount (steady), setup (new each night), changed (steady but for one step) or
    cannot_tell, `kind_probability` that of the likeliest kind, `kinds` every kind's. `common` is
    what the nights share: the steady value, after a change the value since; of the set-up, the
    value about which nights scatter. `between_night_sd` is how much the term differs from night to
    night beside a change (posterior median, with its limits).
    """

    name: str
    unit: str
    kind: Kind
    kind_probability: float
    kinds: tuple[tuple[Kind, float], ...]
    by_night: tuple[NightValue, ...]
    common: Interval
    between_night_sd: Interval

    def as_row(self) -> dict[str, Any]:
        """What the nights share of it as one row of a frame."""
        return {
            "name": self.name,
            "kind": self.kind,
            "kind_probability": self.kind_probability,
            **asdict(self.common),
            "unit": self.unit,
            "between_night_sd": self.between_night_sd.value,
            "between_night_sd_low": self.between_night_sd.low,
            "between_night_sd_high": self.between_night_sd.high,
        }


@dataclass(frozen=True)
class TermChance:
    """Another term under which a change may be put, with its probability."""

    term: str
    probability: float


@dataclass(frozen=True)
class Change:
    """A step in a term between two nights, by their ids.

    `after` is the last night surely without it, `before` the first night surely with it;
    `difference` what it added. `probability_unchanged` is that nothing changed between the two,
    all places counted in which a change was looked for; `probability_this_term` that, something
    having changed, it was this term and not one of the `alternatives`.
    """

    after: str
    before: str
    term: str
    difference: float
    low: float
    high: float
    probability_unchanged: float
    probability_this_term: float
    alternatives: tuple[TermChance, ...]
    likely_event: str


@dataclass(frozen=True)
class CarryOver:
    """Radial RMS left at the pairs of `test` with the tube's own terms as `train` has them.

    Collimation and non-perpendicularity are those of the fit of `train` alone; both zeros and the
    tilts are refitted to the pairs of `test`, whose further terms stay its own.
    """

    train: str
    test: str
    rms_arcmin: float
