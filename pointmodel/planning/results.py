"""What a plan holds, as plain immutable objects; nothing is worked out here.

Angles of position are degrees, misses arcminutes on the sky.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pointmodel.planning.candidates import Confusable, Scene
from pointmodel.planning.finding import where_to_look

FAINTEST_DRAWN = 3.0


@dataclass(frozen=True)
class PlannedStar:
    """One star to centre: degrees, where it is seen (lifted by the air) at the plan's moment.

    `how_to_know` says what it looks like; `settles` are the terms that were unknown before this
    star and are known with it.
    """

    order: int
    target: str
    az_deg: float
    alt_deg: float
    magnitude: float
    how_to_know: str
    confusable: tuple[Confusable, ...]
    sun_separation_deg: float
    settles: tuple[str, ...]

    @property
    def how_to_find(self) -> str:
        """Where to look, and what it looks like."""
        return f"{where_to_look(self.az_deg, self.alt_deg)}; {self.how_to_know}"

    def as_row(self) -> dict[str, Any]:
        """The star as one row of a frame, lists as words."""
        return {
            "order": self.order,
            "target": self.target,
            "az_deg": self.az_deg,
            "alt_deg": self.alt_deg,
            "magnitude": self.magnitude,
            "how_to_find": self.how_to_find,
            "confusable": ", ".join(other.target for other in self.confusable),
            "sun_separation_deg": self.sun_separation_deg,
            "settles": ", ".join(self.settles),
        }


@dataclass(frozen=True)
class ExpectedMiss:
    """RMS miss of corrected go-tos after so many stars of the plan, and what is unknown still."""

    after_stars: int
    rms_arcmin: float
    not_determined: tuple[str, ...]


@dataclass(frozen=True)
class RefusedStar:
    """A bright star (or the Sun) that is not to be used, and why."""

    target: str
    reason: str


@dataclass(frozen=True)
class SkyPicture:
    """What else is in the sky, to draw: azimuths and altitudes in degrees.

    `stars` with their magnitudes, down to 3; `bodies` are Moon and naked-eye planets by name.
    """

    stars: tuple[tuple[float, float, float], ...]
    bodies: tuple[tuple[str, float, float], ...]


def sky_picture(sky: Scene) -> SkyPicture:
    """Return what is to be drawn of a scene."""
    drawn = sky.magnitude <= FAINTEST_DRAWN
    columns = (sky.az_deg[drawn], sky.alt_deg[drawn], sky.magnitude[drawn])
    stars = tuple(zip(*(column.tolist() for column in columns), strict=True))
    moon = (("Moon", *sky.moon),) if sky.moon[1] > 0.0 else ()
    return SkyPicture(stars, (*sky.planets, *moon))


@dataclass(frozen=True)
class MissGain:
    """RMS miss of corrected go-tos now and after two more well-placed stars, arcminutes.

    `least_arcmin` is the least gain to stay for, `settles` names the terms of which those stars
    could say that they are too small to matter, which is open yet.
    """

    now_rms_arcmin: float
    after_two_more_rms_arcmin: float
    least_arcmin: float
    settles: tuple[str, ...] = ()

    @property
    def gained_arcmin(self) -> float:
        """By how much two more stars would better it."""
        return max(self.now_rms_arcmin - self.after_two_more_rms_arcmin, 0.0)

    @property
    def is_worth_it(self) -> bool:
        """Whether two more stars gain enough to stay for them, or settle what is open."""
        return self.gained_arcmin >= self.least_arcmin or bool(self.settles)
