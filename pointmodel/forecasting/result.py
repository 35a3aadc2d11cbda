"""How far go-tos land from the target after each remedy: what a forecast holds, no computing."""

from __future__ import annotations

from dataclasses import dataclass

from pointmodel.base.arrays import FloatArray


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
class SkyForecast:
    """Expected miss (RMS, arcminutes) of corrected go-tos over the open sky, each (k,)."""

    az_deg: FloatArray
    alt_deg: FloatArray
    miss_rms_arcmin: FloatArray
