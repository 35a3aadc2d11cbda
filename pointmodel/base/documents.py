"""The JSON documents: what a fit and a verdict on levelling look like to other programs.

Read `results.py` first. Documents are plain Python types; every number in them is finite, or null
with a `reason` beside it. The JSON Schema of each ships in `schemas/`. How a fit is kept on disk
and brought back is the matter of `savedfit.py`.
"""

from __future__ import annotations

import math
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.wording import one_of, quoted
from pointmodel.estimate.results import Noise, RemedyForecast, TermEstimate

if TYPE_CHECKING:
    from pathlib import Path

    from pointmodel.diagnosis.lean import Lean
    from pointmodel.fitting.fit import Fit
    from pointmodel.levelling.feet import FootOrder
    from pointmodel.levelling.level import LevelResult

FIT_SCHEMA = "pointmodel.fit/1"
LEVEL_SCHEMA = "pointmodel.level/1"
NEW_SCHEMA = "pointmodel.new/1"
SCHEMAS = ("fit", "check", "level", "compare", "plan", "aim", "record", "simulate", "new")

ONLY_WHERE_ALIGNED = (
    "stars",
    "median_pair_rms_arcmin",
    "bad_pair_rms_arcmin",
    "bad_stars",
    "with_altitude_zero_rms_arcmin",
)
NO_FIELD = "field_of_view is not stated in the mount file"
NO_CENTRING = "centring_error is not stated in the mount file: all of sigma is counted as scatter"
NO_LEAN = "no lean is seen, so it has no direction"
NO_PITCH = "screw_pitch is not stated in the mount file"
NO_FEET = "the feet are not stated in the mount file"
NO_TRIPOD = "the log was made after an alignment: it says nothing of the tripod"
ALL_KNOWN = "the lean is known well enough"
NO_LATITUDE = "clock and place are cleared, or the site's latitude is not known or too near a pole"


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
        **head(FIT_SCHEMA, inputs_of(fit), fit.warnings),
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
        "forecast": [_forecast(forecast) for forecast in fit.forecasts],
        "causes": [asdict(cause) for cause in fit.causes],
        "summary": fit.summary,
    }
    return as_dict(document)


def level_document(result: LevelResult) -> dict[str, Any]:
    """Return the document of `pointmodel level`: plain types only, units in the keys."""
    aligned = result.expected_lean_after_arcmin is None
    no_feet = NO_TRIPOD if aligned else NO_FEET
    document = {
        **head(LEVEL_SCHEMA, result.inputs, result.warnings),
        "verdict": result.verdict,
        "reason": result.reason,
        "lean": _lean(result.lean),
        "confounded_with": result.confounded_with,
        **or_why("look_alike", result.look_alike and asdict(result.look_alike), NO_LATITUDE),
        "clock_cleared_by": result.clock_cleared_by,
        "feet": [_foot(order) for order in result.feet],
        **or_why("hand_step_mm", result.hand_step_mm, no_feet),
        **or_why("expected_lean_after_arcmin", result.expected_lean_after_arcmin, NO_TRIPOD),
        "gain": [asdict(gain) for gain in result.gain],
        "field_of_view_arcmin": result.field_of_view_arcmin,
        "field_assumed": result.field_assumed,
        "confirm_at": [_place(place) for place in result.confirm_at],
        **or_why("one_more_star", result.one_more_star and _place(result.one_more_star), ALL_KNOWN),
        "cautions": result.cautions,
    }
    if not result.feet:
        document["feet_reason"] = no_feet
    return as_dict(document)


def new_document(paths: tuple[Path, ...]) -> dict[str, Any]:
    """Return the document of `pointmodel new`: the files that were written."""
    return as_dict({**head(NEW_SCHEMA, (), ()), "files": [str(path) for path in paths]})


def inputs_of(fit: Fit) -> tuple[str, ...]:
    """Return the paths that a fit was made from: the log's, the mount file's; "-" for stdin.

    What came from memory (a frame, a dict) has no path and is left out.
    """
    sources = (fit.log.source, fit.log.mount.source)
    return tuple(str(s) for s in sources if s is not None and not str(s).startswith("<"))


def json_text(document: dict[str, Any]) -> str:
    """Return a document as JSON text, indented, ending in a line feed.

    Raises ArithmeticError for a number that is not finite: this program's fault, never the user's.
    """
    encoded = msgspec.json.encode(plain(document))
    return msgspec.json.format(encoded, indent=1).decode() + "\n"


def schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a command's document, by the command's name.

    Raises InputError for a command that has none.
    """
    from importlib.resources import files

    if name not in SCHEMAS:
        raise InputError([Problem("<schema>", None, None, quoted(name), one_of(SCHEMAS))])
    text = files("pointmodel").joinpath("schemas", f"{name}.json").read_bytes()
    found: dict[str, Any] = msgspec.json.decode(text)
    return found


def plain(value: Any, place: str = "document") -> Any:
    """Return a value made of dicts, lists, texts, numbers, truth values and None, and nothing else.

    Texts lose halves of characters that no encoding can hold (file names may have them). Raises
    ArithmeticError for numbers that are not finite, TypeError for any other type.
    """
    if value is None or isinstance(value, (bool, int)):
        return value
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, np.generic):
        return plain(value.item(), place)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ArithmeticError(f"{place} is not a finite number")
        return value
    if isinstance(value, dict):
        return {str(key): plain(part, f"{place}.{key}") for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(part, f"{place}[{k}]") for k, part in enumerate(value)]
    raise TypeError(f"{place} is a {type(value).__name__}, which no document holds")


def as_dict(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document as plain types; raises as `plain` does."""
    made: dict[str, Any] = plain(document)
    return made


def head(name: str, inputs: tuple[str, ...], warnings: tuple[Notice, ...]) -> dict[str, Any]:
    """What all documents begin with."""
    return {
        "schema": name,
        "inputs": inputs,
        "warnings": [{"code": notice.code, "text": notice.text} for notice in warnings],
    }


def or_why(key: str, value: Any, why: str) -> dict[str, Any]:
    """Return a value under its key, with the reason beside it where there is none."""
    return {key: value} if value is not None else {key: None, f"{key}_reason": why}


def _place(place: tuple[float, float]) -> dict[str, float]:
    return {"az_deg": place[0], "alt_deg": place[1]}


def _lean(lean: Lean) -> dict[str, Any]:
    found = asdict(lean)
    if lean.toward_az_deg is None:
        found["reason"] = NO_LEAN
    return found


def _foot(order: FootOrder) -> dict[str, Any]:
    found = asdict(order)
    if order.uncertainty_turns is None:
        found["reason"] = NO_PITCH
    return found


def _noise(noise: Noise) -> dict[str, Any]:
    found = asdict(noise)
    if noise.scatter_arcmin is None or noise.centring_arcmin is None:
        found["reason"] = NO_CENTRING
    return found


def _term(term: TermEstimate) -> dict[str, Any]:
    found = asdict(term)
    if term.after_line is None:
        del found["after_line"]  # slips alone have a place in the log
    return found


def _forecast(forecast: RemedyForecast) -> dict[str, Any]:
    found = {field.name: getattr(forecast, field.name) for field in fields(forecast)}
    del found["sample_arcmin"]  # for pictures
    for name in ("stars", "bad_stars"):
        found[name] = [{"az_deg": az, "alt_deg": alt} for az, alt in found[name]]
    for name in ONLY_WHERE_ALIGNED:
        if found[name] is None or found[name] == []:
            del found[name]
    if forecast.chance_in_field is None:
        found["reason"] = NO_FIELD
    return found
