"""A fit kept on disk: its document, and the log that was fitted, from which `load_fit` fits again.

Read `documents.py` first. The estimator gives the same answer for the same log, so the log is all
that must be kept; nothing is trusted in the file that the log does not bear out.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import msgspec
import numpy as np
from msgspec import Meta

from pointmodel.base.arrays import FloatArray
from pointmodel.base.documents import json_text
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.ownfiles import refusal, write_whole
from pointmodel.base.trace import trace
from pointmodel.base.wording import join, quoted
from pointmodel.fitting.document import FIT_SCHEMAS, fit_document
from pointmodel.fitting.fit import fit
from pointmodel.fitting.labels import LabelLevel, index_of_levels, label_levels
from pointmodel.fitting.result import Fit
from pointmodel.mount.ownterms import own_terms
from pointmodel.mount.term import Term
from pointmodel.reading.files import read_bytes
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.reading.nightlog import Event, NightLog
from pointmodel.reading.whichlog import identity

if TYPE_CHECKING:
    from lmfit import Parameters

    from pointmodel.fitting.asked import AskedTerms

WANTED = "a fit saved by `pointmodel fit LOG --save FILE` or `fit.save(FILE)`"
FITTED_LOG = "fitted_log"  # the key that tells a saved fit from a mere document

# Moments of the years 1900 to 2200, as logs may hold; zones are less than a day from UTC.
_Moment = Annotated[float, Meta(ge=-2_208_988_800, le=7_289_654_400)]
_Offset = Annotated[float, Meta(gt=-86_400, lt=86_400)]
_AsNoted = Annotated[float, Meta(ge=-360, le=360)]
_Azimuth = Annotated[float, Meta(ge=0, le=360)]
_Altitude = Annotated[float, Meta(ge=-91, le=91)]
_MOTIONS = ("az_motion", "alt_motion")
_Motion = Literal[-1, 0, 1]
_Count = Annotated[int, Meta(ge=0)]
_Line = Annotated[int, Meta(ge=1, le=2**53)]


class _Columns(msgspec.Struct, forbid_unknown_fields=True):
    """The pairs, one entry each in every list; names and units as in `NightLog`."""

    line: Annotated[list[_Line], Meta(min_length=1)]
    target: list[str | None]
    commanded_az_deg: list[_Azimuth]
    commanded_alt_deg: list[_Altitude]
    centred_az_deg: list[_Azimuth]
    centred_alt_deg: list[_Altitude]
    time_s: list[_Moment | None]
    commanded_time_s: list[_Moment | None]
    az_motion: list[_Motion]
    alt_motion: list[_Motion]
    note: list[str | None]


class _Event(msgspec.Struct):
    kind: str
    line: _Line
    before_pair: _Count
    note: str | None = None
    after_struck: bool = False


class _Notice(msgspec.Struct):
    code: str
    text: str


class _FittedLog(msgspec.Struct):
    """The log that was fitted, with its mount file and the remarks on reading it."""

    source: str
    name: str
    camera: bool
    time_offset_s: _Offset | None
    columns: _Columns
    events: list[_Event]
    warnings: list[_Notice]
    mount: dict[str, Any]
    mount_source: str | None
    commanded_equatorial: bool = False
    centred_equatorial: bool = False
    noted: list[tuple[_AsNoted | None, _Altitude | None, _Moment | None]] | None = None
    nudged: bool = False
    identity: str = ""
    labels: Annotated[list[LabelLevel], Meta(min_length=1)] | None = None


class _Parameter(msgspec.Struct):
    """One lmfit parameter; an infinite bound is null."""

    name: str
    value: float
    vary: bool
    min: float | None = None
    max: float | None = None
    expr: str | None = None
    after_line: _Line | None = None


class _SavedTerms(msgspec.Struct):
    """What was asked for in place of the estimator's choice."""

    parameters: Annotated[list[_Parameter], Meta(min_length=1, max_length=200)]
    priors: bool


class _SavedFit(msgspec.Struct):
    """The part of a saved fit that is read back: remarks, log, what was asked for.

    The rest follows from the log.
    """

    schema: Literal["pointmodel.fit/1", "pointmodel.fit/2"]  # as in `FIT_SCHEMAS`
    warnings: list[_Notice]
    fitted_log: _FittedLog
    profile: dict[str, Any] | None = None
    asked: _SavedTerms | None = None
    own_terms: list[str] = []


def save_fit(fit: Fit, path: str | Path) -> Path:
    """Write the fit document, with the log in it, to `path`, whole or not at all; return the path.

    Missing folders are made. Raises InputError where something stands there that is no saved fit,
    or that of another log, where the system refuses, or where ties rest on functions of the user's
    own. Of terms of one's own the names are kept: `load_fit` is given them again.
    """
    path = Path(path)
    if os.path.lexists(path):
        _refuse_what_is_not_ours(path, identity(fit.as_written))
    besides: dict[str, Any] = {} if fit.profile is None else {"profile": fit.profile.to_dict()}
    if fit.asked is not None:
        besides["asked"] = _asked_tables(fit.asked, path)
    if fit.own:
        besides["own_terms"] = [term.name for term in fit.own]
    text = json_text({**fit_document(fit), FITTED_LOG: _log_tables(fit), **besides})
    return write_whole(path, text.encode())


def load_fit(path: str | Path, terms: Sequence[Term] | Term | None = None) -> Fit:
    """Read a fit that was saved and fit its log again: equal in everything to the one saved.

    A fit with terms of your own is given them again in `terms`: a file holds no functions. Raises
    InputError for a file that is no such thing, and where such terms are missing.

    >>> import pointmodel as pm, tempfile
    >>> fit = pm.fit(pm.simulate(seed=1, pairs=6).log)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept = pm.load_fit(fit.save(f"{folder}/night.json"))
    >>> kept.to_dict() == fit.to_dict()
    True
    """
    if not isinstance(path, (str, os.PathLike)):
        raise InputError([Problem("<fit>", None, None, f"a {type(path).__name__}", "a path")])
    data = read_bytes(Path(path), WANTED)
    try:
        saved = msgspec.json.decode(data, type=_SavedFit)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise refusal(Path(path), _what_it_is(data, error), WANTED) from None
    log = _night_log(saved.fitted_log, Path(path))
    own = own_terms(terms)
    missing = [name for name in saved.own_terms if name not in {term.name for term in own}]
    if missing:
        found = f"a fit with terms of your own: {join([quoted(name) for name in missing])}"
        raise refusal(Path(path), found, "the same terms again: pm.load_fit(path, terms=[...])")
    asked = saved.asked
    made = fit(
        log,
        prior=saved.profile,
        params=None if asked is None else _parameters(asked, Path(path)),
        priors=asked is None or asked.priors,
        terms=own,
    )
    return replace(made, warnings=_notices(saved.warnings))


def _asked_tables(asked: AskedTerms, path: Path) -> dict[str, Any]:
    """What was asked for as plain types; it must be readable without functions of the user's."""
    kept = [
        {
            "name": name,
            "value": float(one.value),
            "vary": bool(one.vary),
            "min": float(one.min) if np.isfinite(one.min) else None,
            "max": float(one.max) if np.isfinite(one.max) else None,
            "expr": one.expr,
            "after_line": one.user_data if isinstance(one.user_data, int) else None,
        }
        for name, one in asked.parameters.items()
    ]
    tables = {"parameters": kept, "priors": asked.priors}
    _parameters(msgspec.convert(tables, _SavedTerms), path)
    return tables


def _parameters(asked: _SavedTerms, path: Path) -> Parameters:
    """Return the parameters again. Raises InputError where a tie means nothing without the user."""
    from lmfit import Parameters

    made = Parameters()
    try:
        made.add_many(*(
            (one.name, one.value, one.vary, one.min, one.max) for one in asked.parameters
        ))  # fmt: skip
        for one in asked.parameters:
            made[one.name].user_data = one.after_line
            if one.expr is not None:
                made[one.name].expr = one.expr
        made.update_constraints()
    except Exception as error:  # lmfit and its interpreter raise what they like
        trace()
        wanted = "ties that rest on parameters and usual functions alone"
        raise refusal(path, f"parameters that lmfit does not take ({error})", wanted) from None
    return made


def _log_tables(fit: Fit) -> dict[str, Any]:
    """The log as plain types, nan as null; as written, so that its figures are weighed anew."""
    log = fit.as_written
    columns = {name: getattr(log, name) for name in _Columns.__struct_fields__}
    return {
        "source": log.source,
        "identity": identity(log),
        "name": log.name,
        "camera": log.camera,
        "time_offset_s": log.time_offset_s,
        "columns": {name: _listed(name, column) for name, column in columns.items()},
        "events": [
            {
                "kind": event.kind,
                "line": event.line,
                "before_pair": event.before_pair,
                "note": event.note,
                "after_struck": event.after_struck,
            }
            for event in log.events
        ],
        "warnings": [{"code": notice.code, "text": notice.text} for notice in log.warnings],
        "mount": log.mount.to_dict(),
        "mount_source": log.mount.source,
        "commanded_equatorial": log.commanded_equatorial,
        "centred_equatorial": log.centred_equatorial,
        "noted": None if log.noted is None else [_listed("noted", row) for row in log.noted],
        "nudged": log.nudged,
        "labels": label_levels(log.labels),
    }


def _listed(name: str, column: Any) -> list[Any]:
    if isinstance(column, tuple):
        return list(column)
    if name in _MOTIONS:
        return [int(value) for value in column.tolist()]
    return [None if value != value else value for value in column.tolist()]


def _night_log(saved: _FittedLog, path: Path) -> NightLog:
    """The log of a saved fit. Raises InputError where its parts do not belong together."""
    columns = msgspec.structs.asdict(saved.columns)
    pairs = len(saved.columns.line)
    uneven = [name for name, column in columns.items() if len(column) != pairs]
    if uneven:
        found = f"{len(columns[uneven[0]])} entries in {uneven[0]} where line has {pairs}"
        raise refusal(path, found, WANTED)
    if saved.noted is not None and len(saved.noted) != pairs:
        raise refusal(path, f"{len(saved.noted)} noted places where line has {pairs}", WANTED)
    if any(event.before_pair > pairs for event in saved.events):
        raise refusal(path, f"an event after pair {pairs}, the last", WANTED)
    arrays: dict[str, Any] = {
        name: _floats(column)
        for name, column in columns.items()
        if name not in ("line", "target", "note")
    }
    return NightLog(
        source=saved.source,
        name=saved.name,
        line=np.array(saved.columns.line, dtype=np.int64),
        target=tuple(saved.columns.target),
        note=tuple(saved.columns.note),
        camera=saved.camera,
        events=tuple(
            Event(event.kind, event.line, event.before_pair, event.note, event.after_struck)
            for event in saved.events
        ),
        mount=_mount(saved, path),
        warnings=_notices(saved.warnings),
        time_offset_s=saved.time_offset_s,
        commanded_equatorial=saved.commanded_equatorial,
        centred_equatorial=saved.centred_equatorial,
        noted=None if saved.noted is None else np.array(saved.noted, dtype=float),
        nudged=saved.nudged,
        labels=_labels(saved, path),
        file_identity=saved.identity,
        **arrays,
    )


def _labels(saved: _FittedLog, path: Path) -> Any:
    """The index of the frame that was fitted; None where it was none."""
    if any(len(level.labels) != len(saved.columns.line) for level in saved.labels or ()):
        raise refusal(path, "labels that are not one a pair", WANTED)
    try:
        return index_of_levels(saved.labels)
    except ValueError as error:
        raise refusal(path, f"labels that are no moments ({error})", WANTED) from None


def _mount(saved: _FittedLog, path: Path) -> MountFile:
    try:
        mount = read_mount(saved.mount)
    except InputError as error:
        raise InputError(
            Problem(str(path), None, problem.column, problem.found, problem.wanted)
            for problem in error.problems
        ) from None
    return msgspec.structs.replace(mount, source=saved.mount_source)


def _floats(column: list[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in column], dtype=float)


def _notices(saved: list[_Notice]) -> tuple[Notice, ...]:
    return tuple(Notice(notice.code, notice.text) for notice in saved)


def _refuse_what_is_not_ours(path: Path, log: str) -> None:
    wanted = "another name for the saved fit, or what is there moved out of the way"
    if not path.is_file():
        raise refusal(path, "something that is not a file", wanted)
    data = read_bytes(path, wanted)
    if not _is_saved_fit(data):
        raise refusal(path, "a file that is no saved fit", wanted)
    if _log_of(data, path) != log:
        raise refusal(path, "the saved fit of another log, or one of an earlier version", wanted)


def _log_of(data: bytes, path: Path) -> str | None:
    """Which log a saved fit is of; None where that is not to be found out."""
    try:
        saved = msgspec.json.decode(data, type=_SavedFit)
        return identity(_night_log(saved.fitted_log, path))
    except (msgspec.MsgspecError, InputError, RecursionError):
        trace()
        return None


def _is_saved_fit(data: bytes) -> bool:
    try:
        found = msgspec.json.decode(data)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        trace()
        return False
    return isinstance(found, dict) and found.get("schema") in FIT_SCHEMAS and FITTED_LOG in found


def _what_it_is(data: bytes, error: Exception) -> str:
    """What a file that is no saved fit seems to be."""
    try:
        found = msgspec.json.decode(data)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        trace()
        return "a file that is not JSON"
    schema = found.get("schema") if isinstance(found, dict) else None
    if schema not in FIT_SCHEMAS:
        return "JSON that is not a fit" if schema is None else f"a document {schema}"
    if FITTED_LOG not in found:
        return "the document of a fit without its log, as --json prints it"
    return f"a saved fit that was changed or cut short ({error})"
