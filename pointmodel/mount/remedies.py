"""The remedies: what each is called, how long it takes by torchlight, which terms it cures.

A forecast is made for each; causes and summary name them, and ask here whether one is worth it.
"""

from __future__ import annotations

from dataclasses import dataclass

from pointmodel.estimate.results import RemedyForecast

USUAL_FIELD_ARCMIN = 40.0  # taken for the eyepiece's field where that is not stated
WORTH_CHANCE, WORTH_SHARE, WORTH_SHARE_OF_HALF_FIELD = 0.02, 0.2, 0.125


@dataclass(frozen=True)
class Remedy:
    """One remedy: its code, what to do, minutes it takes, and the terms that it cures."""

    code: str
    words: str
    minutes: int
    cures: tuple[str, ...] = ()


REMEDIES = {
    remedy.code: remedy
    for remedy in (
        Remedy("none", "leave it", 0),
        Remedy("zero_on_star", "zero the mount on one star", 2),
        Remedy("realign", "align afresh on two stars", 3),
        Remedy(
            "level", "level the base, then zero on a star", 12, ("tilt_north", "tilt_east")
        ),
        Remedy(
            "square_tube", "shim the tube square in its saddle, then zero on a star", 20,
            ("collimation",),
        ),
        Remedy("apply_corrections", "send it to corrected positions", 1),
    )
}  # fmt: skip


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
