"""The Sun guard: where the Sun stands, and what is too near it to point at or to sweep across.

Everything here rests on the tool's own time and site, never on the controller's. A telescope or
finder without a certified filter over its front blinds at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import (
    direction_vectors,
    directions_deg,
    separation_arcmin,
    wrap_360_deg,
    wrap_deg,
)
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.cautions import FILTERED
from pointmodel.base.errors import Notice

if TYPE_CHECKING:
    from pointmodel.sky.observer import Observer

KEEP_OUT_DEG = 20.0  # common practice, no source
TWILIGHT_SUN_ALT_DEG = -18.0  # end of astronomical twilight
_STEP_DEG = 0.25

GIVE_SITE = "Give a time, and latitude and longitude under [site] in the mount file."
_UNKNOWN = Notice(
    "sun",
    "where the Sun stands is not known here, so nothing guards against it. "
    f"{GIVE_SITE} Never point at or near the Sun {FILTERED}",
)


@dataclass(frozen=True)
class Sun:
    """Where the Sun stands over a site, degrees; the air's lift (0.6° at most) is left out."""

    az_deg: float
    alt_deg: float

    @property
    def matters(self) -> bool:
        """Whether it is up or in twilight: then it must be kept away from."""
        return self.alt_deg > TWILIGHT_SUN_ALT_DEG


def sun_at(observer: Observer | None, time_s: float | None) -> Sun | None:
    """Return the Sun over an observer at POSIX seconds; None where either is unknown."""
    if time_s is None or not np.isfinite(time_s) or observer is None:
        return None
    from pointmodel.sky.bodies import sun_place
    from pointmodel.sky.places import azimuth_altitude

    place = sun_place(time_s, observer)
    az_deg, alt_deg = azimuth_altitude(place.ra_deg, place.dec_deg, time_s, observer)
    return Sun(float(az_deg), float(alt_deg))


def sun_separation_deg(sun: Sun, az_deg: ArrayLike, alt_deg: ArrayLike) -> FloatArray:
    """Return how far directions of any shape stand from the Sun, degrees on the sky."""
    return separation_arcmin(sun.az_deg, sun.alt_deg, az_deg, alt_deg) / 60.0


def too_near_sun(sun: Sun | None, az_deg: ArrayLike, alt_deg: ArrayLike) -> BoolArray:
    """Return which directions stand within 20° of a Sun that is up or in twilight, shape as given.

    All False where the Sun is not known: then `sun_notices` warns instead.
    """
    if sun is None or not sun.matters:
        return np.zeros(np.broadcast(az_deg, alt_deg).shape, dtype=bool)
    return np.asarray(sun_separation_deg(sun, az_deg, alt_deg) < KEEP_OUT_DEG)


def slew_passes_sun(
    sun: Sun | None,
    from_az_deg: float,
    from_alt_deg: float,
    to_az_deg: float,
    to_alt_deg: float,
) -> bool:
    """Return whether a slew between two directions may pass within 20° of a Sun that matters.

    How a mount slews is its own affair. Tried are both axes arriving at once (a straight line in
    azimuth and altitude), both at one speed until the nearer arrives, and the great circle, the
    short way round in azimuth. Ends count.
    """
    if sun is None or not sun.matters:
        return False
    turn = float(wrap_deg(np.asarray(to_az_deg - from_az_deg)))
    climb = to_alt_deg - from_alt_deg
    steps = 2 + int(max(abs(turn), abs(climb)) / _STEP_DEG)
    share = np.linspace(0.0, 1.0, steps)
    reach = share * max(abs(turn), abs(climb))
    paths = [
        (from_az_deg + share * turn, from_alt_deg + share * climb),
        (
            from_az_deg + np.sign(turn) * np.minimum(reach, abs(turn)),
            from_alt_deg + np.sign(climb) * np.minimum(reach, abs(climb)),
        ),
        _great_circle(from_az_deg, from_alt_deg, to_az_deg, to_alt_deg, share),
    ]
    return any(bool(too_near_sun(sun, az_deg, alt_deg).any()) for az_deg, alt_deg in paths)


def _great_circle(
    from_az_deg: float,
    from_alt_deg: float,
    to_az_deg: float,
    to_alt_deg: float,
    share: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Directions (n,) along the chord between two directions, as far as it has any."""
    ends = direction_vectors([from_az_deg, to_az_deg], [from_alt_deg, to_alt_deg])
    chord = np.outer(1.0 - share, ends[0]) + np.outer(share, ends[1])
    along = np.linalg.norm(chord, axis=1) > 1e-9
    return directions_deg(chord[along])


def sun_notices(sun: Sun | None) -> tuple[Notice, ...]:
    """Return what has to be said of the Sun: a warning where it is unknown, up or in twilight."""
    if sun is None:
        return (_UNKNOWN,)
    if not sun.matters:
        return ()
    azimuth = f"azimuth {float(wrap_360_deg(round(sun.az_deg))):.0f}°"
    if sun.alt_deg >= 0.0:
        place = f"the Sun is up, at {azimuth}, {sun.alt_deg:.0f}° above the horizon"
    else:
        place = f"it is twilight: the Sun is {-sun.alt_deg:.0f}° below the horizon at {azimuth}"
    text = (
        f"{place}. It and everything within {KEEP_OUT_DEG:.0f}° of it are refused. Never point at "
        f"or near the Sun {FILTERED}"
    )
    return (Notice("sun", text),)
