"""Numbers made ready to be drawn, whatever draws them: small pure functions, nothing drawn here.

The dome stands as it looks to someone lying on their back, feet to the south: north up, east left,
zenith in the middle; its unit is a degree of height, x to the right, y up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.results import PairResults
from pointmodel.fitting.turn import logged_misses
from pointmodel.forecasting.result import RemedyForecast

Stage = Literal["logged", "left"]

LONGEST_ARROW_DEG = 24.0  # of the dome: longer arrows run into one another
# round sizes for a key
KEY_SIZES_ARCMIN = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 3000, 6000)
HILL_BINS = 48
SMOOTHING = (0.25, 0.5, 0.25)  # of neighbouring bins: a thousand draws make a ragged hill
WIDEST_DECADES = 4.0  # of a scale of misses: more squeezes what matters
LEAST_MISS_ARCMIN = 0.01


@dataclass(frozen=True, eq=False)
class SkyMisses:
    """Misses at the stars (n,), arcminutes right and up, and the turn that was left out, degrees.

    `turn_deg` is None where none was.
    """

    az_deg: FloatArray
    alt_deg: FloatArray
    x_arcmin: FloatArray
    y_arcmin: FloatArray
    turn_deg: float | None

    @property
    def size_arcmin(self) -> FloatArray:
        """How large each miss is (n,)."""
        return np.hypot(self.x_arcmin, self.y_arcmin)


def sky_misses(pairs: PairResults, stage: Stage) -> SkyMisses:
    """Return the misses as logged, a large turn of the circle left out, or what the fit leaves."""
    if stage == "logged":
        logged = logged_misses(pairs)
        x, y, turn = logged.x_arcmin, logged.y_arcmin, logged.turn_deg
    else:
        x, y, turn = pairs.residual_x_arcmin, pairs.residual_y_arcmin, None
    return SkyMisses(pairs.star_az_deg, pairs.star_alt_deg, x, y, turn)


def on_dome(az_deg: FloatArray, alt_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where directions (k,) lie on the dome."""
    angle, from_zenith = np.radians(az_deg), 90.0 - np.asarray(alt_deg, dtype=float)
    return -from_zenith * np.sin(angle), from_zenith * np.cos(angle)


def moved_on_dome(
    az_deg: FloatArray, right: FloatArray, up: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return how steps (k,) on the sky point on the dome: right is clockwise, up to the zenith."""
    angle = np.radians(az_deg)
    return -right * np.cos(angle) + up * np.sin(angle), -right * np.sin(angle) - up * np.cos(angle)


def key_sizes_arcmin(longest_arcmin: float) -> tuple[float, ...]:
    """Return round sizes for a key up to the longest, the largest last; at least one."""
    return tuple(s for s in KEY_SIZES_ARCMIN if s <= longest_arcmin) or KEY_SIZES_ARCMIN[:1]


def drawn_forecasts(forecasts: Sequence[RemedyForecast]) -> list[RemedyForecast]:
    """Return the forecasts that have anything to draw."""
    return [one for one in forecasts if np.isfinite(one.sample_arcmin).any()]


def miss_limits(forecasts: Sequence[RemedyForecast]) -> tuple[float, float]:
    """Return the ends of a scale of misses, arcminutes: all but the rarest of every remedy's."""
    if not forecasts:
        return 0.1, 100.0
    ends = np.array([np.nanpercentile(one.sample_arcmin, (1.0, 99.5)) for one in forecasts])
    high = max(1.2 * float(ends[:, 1].max()), 0.2)
    return max(float(ends[:, 0].min()), high / 10.0**WIDEST_DECADES, LEAST_MISS_ARCMIN), high


def hill(sample_arcmin: FloatArray, limits: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Return misses (48,) and how often they come (48,), 1 at the most, on a logarithmic scale.

    What lies beyond the limits counts at their ends.
    """
    edges = np.geomspace(*limits, HILL_BINS + 1)
    known = sample_arcmin[np.isfinite(sample_arcmin)]
    count, _ = np.histogram(np.clip(known, *limits), edges)
    smooth = np.convolve(count, SMOOTHING, "same")
    return np.sqrt(edges[1:] * edges[:-1]), smooth / max(float(smooth.max()), 1e-9)
