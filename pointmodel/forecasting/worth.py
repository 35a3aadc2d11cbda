"""Whether one way gains enough over another to name it: one rule, everywhere. Read `result.py`."""

from __future__ import annotations

from pointmodel.forecasting.result import RemedyForecast

GOOD_CHANCE = 0.95  # nineteen targets in twenty in the eyepiece: a go-to that is good; a choice
# choices: one target in fifty more in the eyepiece while it is not good; or a fifth of the miss, if
# that is an eighth of the field too
WORTH_CHANCE, WORTH_SHARE, WORTH_SHARE_OF_FIELD = 0.02, 0.2, 0.125


def chance_of(forecast: RemedyForecast, field_arcmin: float) -> float:
    """Return the chance of the eyepiece's field, counted on draws where the field is assumed."""
    if forecast.chance_in_field is not None:
        return forecast.chance_in_field
    return float((forecast.sample_arcmin < 0.5 * field_arcmin).mean())


def is_good(forecast: RemedyForecast, field_arcmin: float) -> bool:
    """Whether nineteen targets in twenty show in the eyepiece."""
    return chance_of(forecast, field_arcmin) >= GOOD_CHANCE


def worth_it(before: RemedyForecast, after: RemedyForecast, field_arcmin: float) -> bool:
    """Whether `after` gains enough over `before`: plainly in the size of the miss, or in chance."""
    gained = before.rms_arcmin - after.rms_arcmin
    much = gained > WORTH_SHARE * before.rms_arcmin
    if much and gained > WORTH_SHARE_OF_FIELD * field_arcmin:
        return True
    chance = chance_of(before, field_arcmin)
    return chance < GOOD_CHANCE and chance_of(after, field_arcmin) - chance > WORTH_CHANCE
