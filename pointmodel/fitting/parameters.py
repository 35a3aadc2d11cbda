"""What a user asks of a fit in lmfit's own words: which terms to hold, bound, tie or free.

Read `mount/terms.py` first. Nothing is fitted here: parameters are made and checked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from copy import deepcopy
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import nearest, quoted
from pointmodel.estimate.fromlog import circumstances_of, has_times
from pointmodel.estimate.observations import can_show
from pointmodel.mount.ownterms import own_terms
from pointmodel.mount.term import Term
from pointmodel.mount.terms import READOUT, SINKING, STANDARD_NAMES, TERMS
from pointmodel.reading.nightlog import NightLog

if TYPE_CHECKING:
    from lmfit import Parameters

SLIPS = ("azimuth_slip", "altitude_slip")
_READOUT = tuple(term.name for term in READOUT)
_SINKING = tuple(term.name for term in SINKING)


def parameters(terms: Sequence[Term] | Term | None = None) -> Parameters:
    """Return every term as an `lmfit.Parameters`, to hold, bound, tie or free, for `pm.fit`.

    The six standard terms vary; further ones, those of your own in `terms` among them, are held at
    0. Names are those of `fit.terms`. Values are arcminutes, but: drifts arcminutes an hour, scales
    arcminutes a degree, refraction 1 where the controller leaves it out and −1 where it applies it
    twice. A slip needs the log line after which it happened, as `user_data`.

    >>> import pointmodel as pm
    >>> asked = pm.parameters()
    >>> asked["collimation"].set(value=0, vary=False)
    >>> asked["tilt_east"].set(min=-60, max=60)
    >>> asked["tube_flexure"].set(vary=True)
    >>> [name for name, one in asked.items() if one.vary][:3]
    ['azimuth_index', 'altitude_index', 'non_perpendicularity']
    """
    from lmfit import Parameters

    made = Parameters()
    for name in (*TERMS, *(term.name for term in own_terms(terms))):
        made.add(name, value=0.0, vary=name in STANDARD_NAMES)
    return made


def checked(given: object, own: tuple[Term, ...], log: NightLog) -> Parameters:
    """Return a copy of a user's parameters. Raises InputError for all that cannot be fitted."""
    from lmfit import Parameters

    if not isinstance(given, Parameters):
        raise InputError([_problem("params", quoted(given), "what pm.parameters() returns")])
    asked = deepcopy(given)
    problems = [*_unknown(asked, own), *_no_numbers(asked), *_not_shown(asked, own, log)]
    if not problems and not any(p.vary and not p.expr for p in asked.values()):
        problems = [_problem("params", "nothing that may vary", "at least one free term")]
    if problems:
        raise InputError(problems)
    return asked


def _problem(name: str, found: str, wanted: str) -> Problem:
    return Problem("<params>", None, name, found, wanted)


def is_term(name: str, own: tuple[Term, ...]) -> bool:
    """Whether a parameter is a term; others serve to tie terms to."""
    return name in tuple(TERMS) or name in {term.name for term in own}


def _unknown(asked: Parameters, own: tuple[Term, ...]) -> Iterator[Problem]:
    """What is no term must be used in a tie."""
    used = set(re.findall(r"\w+", " ".join(p.expr or "" for p in asked.values())))
    names = (*TERMS, *(term.name for term in own))
    for name in asked:
        if is_term(name, own) or name in used:
            continue
        near = nearest(name, names)
        hint = f"{near}" if near else "the name of a term (pm.parameters() has them all)"
        yield _problem(name, "a name that is no term, and in no expr", hint)


def _no_numbers(asked: Parameters) -> Iterator[Problem]:
    for name, one in asked.items():
        if not np.isfinite(one.value):
            yield _problem(name, f"the value {one.value}", "a number")


def _not_shown(asked: Parameters, own: tuple[Term, ...], log: NightLog) -> Iterator[Problem]:
    """Terms that are asked for, but of which a log like this says nothing."""
    at, timed = circumstances_of(log), has_times(log)
    known = {**TERMS, **{term.name: term for term in own}}
    for name in asked:
        if name not in known or not is_asked(asked, name):
            continue
        term = known[name]
        if name in _READOUT:
            if not (log.mount.is_aligned and log.mount.readout == "sky"):
                wanted = 'a mount file with readout = "sky" and the stars of an alignment'
                yield _problem(name, "a term of a readout that an alignment turned", wanted)
        elif name in _SINKING:
            if not (timed and np.ptp(at.hours) > 0.0):
                yield _problem(name, "a term that grows with time", "a log with times")
        elif name not in STANDARD_NAMES and name not in SLIPS and not can_show(term, at, timed):
            yield _problem(name, "a term that this log cannot show", _NEEDED[term.needs])


_NEEDED = {
    None: "a term with a shape",
    "time": "a log with times, or the term held at 0",
    "az_motion": "az_motion cw and ccw in the log, or the term held at 0",
    "alt_motion": "alt_motion up and down in the log, or the term held at 0",
}


def is_asked(asked: Parameters, name: str) -> bool:
    """Whether a term is in the model: it may vary, is tied, or is held at something."""
    if name not in asked:
        return False
    one = asked[name]
    return bool(one.vary or one.expr or one.value != 0.0)
