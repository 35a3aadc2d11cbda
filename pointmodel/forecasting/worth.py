"""Whether a remedy gains enough to bother with it. Read `result.py` first."""

from __future__ import annotations

from pointmodel.forecasting.result import RemedyForecast

# choices: one target in fifty more in the eyepiece; or a fifth of the miss, if that is an eighth of
# half the field, too
WORTH_CHANCE, WORTH_SHARE, WORTH_SHARE_OF_HALF_FIELD = 0.02, 0.2, 0.125


def chance_of(forecast: RemedyForecast, half_field_arcmin: float) -> float:
    """Return the chance of the eyepiece's field, counted on draws where the field is assumed."""
    if forecast.chance_in_field is not None:
        return forecast.chance_in_field
    return float((forecast.sample_arcmin < half_field_arcmin).mean())


def worth_it(before: RemedyForecast, after: RemedyForecast, half_field_arcmin: float) -> bool:
    """Whether a remedy gains enough to bother: in chance, or plainly in the size of the miss."""
    gained = before.rms_arcmin - after.rms_arcmin
    much = gained > WORTH_SHARE * before.rms_arcmin
    plainly = gained > WORTH_SHARE_OF_HALF_FIELD * half_field_arcmin
    chance = chance_of(after, half_field_arcmin) - chance_of(before, half_field_arcmin)
    return (much and plainly) or chance > WORTH_CHANCE
