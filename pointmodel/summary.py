"""The one sentence that comes first, and the causes that stand on single lines of the log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.results import Cause, SetAside
from pointmodel.wording import line_list

if TYPE_CHECKING:
    from pointmodel.nightfit import Fit

NEGLIGIBLE_GAIN = 0.15
REMEDY_FOR = {
    "wrong_star": "centre that star again, sure of its name, or strike the line out",
    "log_typo": "correct the figure if it is certain, or strike the line out",
}


def causes(set_aside: tuple[SetAside, ...]) -> tuple[Cause, ...]:
    """Return the causes that single lines show: a wrong star, a slip of the pen."""
    return tuple(
        Cause(
            pair.cause,
            "likely" if pair.probability_bad > 0.8 else "possible",
            f"line {pair.line}: {pair.hint} (probability {pair.probability_bad:.2f})",
            REMEDY_FOR[pair.cause],
        )
        for pair in set_aside
    )


def summary(fit: Fit) -> str:
    """Return one sentence: how go-to is now, and what would make it better."""
    by_remedy = {forecast.remedy: forecast for forecast in fit.forecasts}
    now, after = by_remedy["none"].rms_arcmin, by_remedy["apply_corrections"].rms_arcmin
    zeroed = by_remedy["zero_on_star"].rms_arcmin
    field = fit.log.mount.optics.field_of_view_arcmin
    if now - after < NEGLIGIBLE_GAIN * now or (field is not None and now < field / 8.0):
        text = f"Go-to is good: it misses by {arcmin(now)} (RMS), and nothing need be done"
    else:
        text = f"Go-to misses by {arcmin(now)} (RMS); {_first_step(now, zeroed, after)}"
    aside = [pair.line for pair in fit.set_aside]
    if aside:
        text += f"; set aside: {line_list(aside)}"
    return text + "."


def _first_step(now: float, zeroed: float, after: float) -> str:
    corrected = f"with corrections applied {arcmin(after)}"
    if zeroed < now * (1.0 - NEGLIGIBLE_GAIN):
        return f"zeroing on a star brings it to {arcmin(zeroed)}, {corrected}"
    return corrected


def arcmin(value: float) -> str:
    """Return a miss rounded to what matters, degrees where minutes would be hundreds."""
    if value >= 120.0:
        return f"{value / 60.0:.1f}°"
    return f"{value:.0f}′" if value >= 9.95 else f"{value:.1f}′"
