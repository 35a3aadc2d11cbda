"""Terms of a user's own: checked, and completed with what the program says of a term.

Read `term.py` first. They stand in no list: only the fit that was given them has them. What it
prints of them is found by name (`TERMS.know`).
"""

from __future__ import annotations

import keyword
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import trace
from pointmodel.base.wording import one_of, quoted
from pointmodel.mount.priors import OWN_TERM_MATTERS, OWN_TERM_ODDS, OWN_TERM_SDS
from pointmodel.mount.seen import OwnSeen, nothing_seen
from pointmodel.mount.term import Circumstances, Term, weak
from pointmodel.mount.terms import TERMS, plain_name

ACTS = ("azimuth_axis", "altitude_axis", "star_altitude")
NEEDS = ("az_motion", "alt_motion", "time")
UNIT_WORDS = {"arcmin": "", "arcmin/h": " an hour", "arcmin/deg": " a degree"}
TRIED_ALT_DEG = np.linspace(-5.0, 89.5, 40)  # where stars and readings can stand


def own_terms(given: Sequence[Term] | Term | None) -> tuple[Term, ...]:
    """Return terms of a user's own, complete. Raises InputError for all that is wrong with them."""
    if given is None:
        return ()
    terms = list(given) if isinstance(given, (list, tuple)) else [given]
    problems = [problem for term in terms for problem in _problems(term)]
    names = [term.name for term in terms if isinstance(term, Term)]
    problems += [
        _problem(name, "the name twice", "a name of its own for each term")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    if problems:
        raise InputError(problems)
    complete = tuple(_complete(term) for term in terms if isinstance(term, Term))
    TERMS.know(*complete)
    return complete


def _problem(name: object, found: str, wanted: str) -> Problem:
    return Problem("<terms>", None, str(name), found, wanted)


def _problems(term: object) -> Iterator[Problem]:
    if not isinstance(term, Term):
        yield _problem("terms", quoted(term), "pm.Term(name, shape=...), or a list of them")
        return
    name = term.name
    if not isinstance(name, str) or not name.isidentifier() or keyword.iskeyword(name):
        yield _problem(name, quoted(name), "a name that Python takes for a variable: oval_ring")
        return
    if name in tuple(TERMS):
        yield _problem(name, "the name of a term that there is", "another name")
    if term.acts not in ACTS:
        yield _problem(f"{name}.acts", quoted(term.acts), one_of(ACTS))
    if term.unit not in OWN_TERM_SDS:
        yield _problem(f"{name}.unit", quoted(term.unit), one_of(tuple(OWN_TERM_SDS)))
    if term.needs is not None and term.needs not in NEEDS:
        yield _problem(f"{name}.needs", quoted(term.needs), one_of(NEEDS))
    if not isinstance(term.sd, (int, float)) or not 0.0 <= term.sd < np.inf:
        yield _problem(f"{name}.sd", quoted(term.sd), "a positive number: the size usual of it")
    if term.partner is not None:
        yield _problem(f"{name}.partner", quoted(term.partner), "no partner: tie the two by expr")
    yield from _problems_of_shape(term)


def _problems_of_shape(term: Term) -> Iterator[Problem]:
    """Try the shape over the sky, as forecasts will."""
    place, wanted = f"{term.name}.shape", "a function of pm.Circumstances that gives (n,) numbers"
    if not callable(term.shape):
        yield _problem(place, quoted(term.shape), wanted)
        return
    try:
        found = shape_of(term, _all_over_the_sky())
    except InputError as error:
        yield from error.problems
        return
    if not np.isfinite(found).all():
        yield _problem(place, "no finite number at some places of the sky", wanted)


def _all_over_the_sky() -> Circumstances:
    alt, az = (a.ravel() for a in np.meshgrid(TRIED_ALT_DEG, np.arange(0.0, 360.0, 15.0)))
    sides = np.where(np.arange(az.size) % 2, 1.0, -1.0)
    return Circumstances(
        reading_az_deg=az,
        reading_alt_deg=alt,
        star_alt_deg=alt,
        az_motion=sides,
        alt_motion=-sides,
        hours=np.linspace(0.0, 6.0, az.size),
        expected_az_deg=az,
    )


def shape_of(term: Term, at: Circumstances) -> FloatArray:
    """Return what a user's shape gives (n,). Raises InputError for what it raises, or otherwise."""
    assert term.shape is not None
    wanted = f"{at.reading_az_deg.size} numbers, one a pair"
    try:
        found = np.asarray(term.shape(at), dtype=float)
    except Exception as error:  # a user's function may raise anything
        trace()
        raise InputError(
            [_problem(f"{term.name}.shape", f"{type(error).__name__}: {error}", wanted)]
        ) from error
    if found.shape not in ((), at.reading_az_deg.shape):
        raise InputError([_problem(f"{term.name}.shape", f"shape {found.shape}", wanted)])
    return np.broadcast_to(found, at.reading_az_deg.shape)


def _complete(term: Term) -> Term:
    """Fill in what the user left out, in plain words made of the name."""
    title = term.title or plain_name(term.name)
    usual = term.sd or OWN_TERM_SDS[term.unit]
    seen = OwnSeen(title, UNIT_WORDS[term.unit]) if term.seen is nothing_seen else term.seen
    return replace(
        term,
        cause=term.cause or term.name,
        title=title,
        positive=term.positive or f"{title} is positive",
        negative=term.negative or f"{title} is negative",
        seen=seen,
        remedy=term.remedy or "corrections remove what repeats of it",
        matters=term.matters or OWN_TERM_MATTERS * usual,
        sd=usual,
        priors=term.priors or weak(usual, OWN_TERM_ODDS),
    )
