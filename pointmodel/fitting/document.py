"""The document of `pointmodel fit`: what a fit looks like to other programs."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from pointmodel.advising.document import advice_document
from pointmodel.base.documents import as_dict, head
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.results import Noise, TermEstimate
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.readings.result import Readings

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit


FIT_SCHEMA = "pointmodel.fit/2"
FIT_SCHEMAS = ("pointmodel.fit/1", FIT_SCHEMA)  # a saved fit of any of these is read


ONLY_WHERE_ALIGNED = (
    "stars",
    "median_pair_rms_arcmin",
    "bad_pair_rms_arcmin",
    "bad_stars",
    "with_altitude_zero_rms_arcmin",
)


NO_TIMES = "the log has no times"


NO_FIELD = "field_of_view is not stated in the mount file"


NO_CENTRING = "centring_error is not stated in the mount file: all of sigma is counted as scatter"


def fit_document(fit: Fit) -> dict[str, Any]:
    """Return the document of `pointmodel fit`: plain types only, units in the keys."""
    aside = [
        {
            "line": pair.line,
            "target": pair.target,
            "cause": pair.cause,
            "miss_arcmin": pair.miss_arcmin,
            "hint": pair.hint,
            "probability_bad": pair.probability_bad,
        }
        for pair in fit.set_aside
    ]
    document = {
        **head(FIT_SCHEMA, fit.inputs, fit.warnings),
        "pairs": {
            "read": fit.pairs_read,
            "used": fit.pairs_used,
            "set_aside": aside,
        },
        "noise": _noise(fit.noise),
        "terms": [_term(term) for term in fit.term_estimates],
        "inseparable": [{"terms": one.terms, "hint": one.hint} for one in fit.inseparable],
        "residuals": {
            "rms_arcmin": fit.residual_rms_arcmin,
            "before_rms_arcmin": fit.before_rms_arcmin,
        },
        "forecast": [] if fit.readings.stops else [_forecast(one) for one in fit.forecasts],
        "causes": [_cause(cause) for cause in fit.causes],
        "readings": _readings(fit.readings),
        "advice": advice_document(fit.advice),
        "summary": fit.advice.headline,
    }
    return as_dict(document)


def _fields(one: Noise | TermEstimate | Cause | RemedyForecast) -> dict[str, Any]:
    """Return the fields by name, as they are: asdict would copy all that is in them."""
    return {field.name: getattr(one, field.name) for field in fields(one)}


def _readings(readings: Readings) -> dict[str, Any]:
    """What the figures mean; the one question stands with the advice."""
    found = asdict(readings)
    del found["question"]
    for one in found["findings"]:
        del one["confirm"]  # it stands in the text
    if readings.time_resolution_s is None:
        found["reason"] = NO_TIMES
    return found


def _noise(noise: Noise) -> dict[str, Any]:
    found = _fields(noise)
    if noise.scatter_arcmin is None or noise.centring_arcmin is None:
        found["reason"] = NO_CENTRING
    return found


def _term(term: TermEstimate) -> dict[str, Any]:
    found = _fields(term)
    if term.after_line is None:
        del found["after_line"]  # slips alone have a place in the log
    return found


def _cause(cause: Cause) -> dict[str, Any]:
    found = _fields(cause)
    if cause.after_line is None:
        del found["after_line"]  # only what happened at one moment has a place in the log
    return found


def _forecast(forecast: RemedyForecast) -> dict[str, Any]:
    found = _fields(forecast)
    del found["sample_arcmin"]  # for pictures
    for name in ("stars", "bad_stars"):
        found[name] = [{"az_deg": az, "alt_deg": alt} for az, alt in found[name]]
    for name in ONLY_WHERE_ALIGNED:
        if found[name] is None or found[name] == []:
            del found[name]
    if forecast.chance_in_field is None:
        found["reason"] = NO_FIELD
    return found
