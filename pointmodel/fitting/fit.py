"""From a log to a `Fit`: read, its figures weighed, its parts solved in turn.

Read `result.py` for what a `Fit` answers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.advising.advise import advise
from pointmodel.base.errors import FRAME, InputError, Notice, Problem
from pointmodel.base.wording import quoted
from pointmodel.diagnosis.happened import happened_notices
from pointmodel.estimate.few import few_pairs_notices
from pointmodel.estimate.fromlog import observations_of
from pointmodel.estimate.inturn import Parts, solved_in_turn
from pointmodel.estimate.nightprior import carried_from, profile_notices
from pointmodel.estimate.precise import exact_figures_notices
from pointmodel.estimate.profile import ProfileSource, read_profile
from pointmodel.estimate.segments import segment_notices
from pointmodel.estimate.solve import Solution
from pointmodel.fitting.result import Fit
from pointmodel.levelling.level import level_verdict
from pointmodel.levelling.result import LevelResult
from pointmodel.mount.ownterms import own_terms
from pointmodel.mount.term import Term
from pointmodel.reading.incomplete import (
    Incomplete,
    checked_incomplete,
    left_out_notice,
    refusals,
)
from pointmodel.reading.nightlog import NightLog, read_pairs
from pointmodel.reading.owncolumns import refuse_columns_beside_a_log
from pointmodel.reading.table import LogSource
from pointmodel.readings.nomount import with_no_mount
from pointmodel.readings.parts import parts_put_right, pressed_lines
from pointmodel.readings.weigh import as_told, weighed

if TYPE_CHECKING:
    from lmfit import Parameters

    from pointmodel.fitting.asked import AskedTerms
    from pointmodel.reading.mountfile import MountSource


def level(fit: Fit, clock_cleared_by: str | None = None) -> LevelResult:
    """Return whether to level the base, realign or leave it, and which foot to turn by how much.

    `clock_cleared_by` "check" says that the controller's clock and place were found to agree with
    the stars; left out, the log itself is asked where it has names, times and place, and the mount
    file. Raises InputError for any other word, and for what is no fit.

    >>> import pointmodel as pm
    >>> mount = {"feet": {"radius": 430, "azimuths": [0, 120, 240]}, "alignment": {"stars": []}}
    >>> mount["entered"] = {"verified": True}
    >>> night = pm.simulate(seed=1, mount=mount, terms={"tilt_east": 40.0})
    >>> level = pm.level(pm.fit(night.log))
    >>> level.verdict, len(level.feet.frame)
    ('level', 3)
    """
    if not isinstance(fit, Fit):
        raise InputError([Problem("<fit>", None, None, quoted(fit), "what pm.fit(log) returns")])
    if clock_cleared_by is None:
        return fit.levelling
    grounds = fit.grounds(clock_cleared_by)
    return level_verdict(fit.setting, grounds, advise(grounds))


def fit(
    log: NightLog | LogSource,
    mount: MountSource = None,
    prior: ProfileSource = None,
    *,
    columns: Mapping[str, str] | None = None,
    incomplete: Incomplete = "refuse",
    params: Parameters | None = None,
    priors: bool = True,
    terms: Sequence[Term] | Term | None = None,
) -> Fit:
    """Fit a night: its log (or a path, or a frame of pairs) and the mount file that goes with it.

    `log` is a path, a NightLog, a frame or a dict of columns, with the columns of a log or, with
    `columns`, your own: `columns={"my az": "commanded_az", ...}`. A frame's index is kept in
    `fit.pairs`; its rows that lack a figure are refused by row, or with `incomplete="skip"` left
    out and told of. `prior` is a profile of this mount from other nights (`compare(...).profile`,
    or its file): the fit starts from it as far as the night bears it out.

    `params`, from `pm.parameters()`, say which terms to hold, bound, tie or free: these and no
    others are then fitted, by lmfit, to the pairs that the estimator found good. Without `priors`
    the pairs alone speak (plain least squares; of the six terms where `params` is left out).
    `terms` are terms of your own (`pm.Term`): searched for as the others are, or fitted where
    `params` asks.

    Raises InputError where log, mount file, profile, parameters or terms cannot be used, or no pair
    is complete.

    >>> import pointmodel as pm
    >>> frame = pm.simulate(seed=1, pairs=10).frame
    >>> mine = frame.rename(columns={"centred_az": "read az", "centred_alt": "read alt"})
    >>> fit = pm.fit(mine, columns={"read az": "centred_az", "read alt": "centred_alt"})
    >>> len(fit.pairs), fit.terms.loc["collimation", "unit"]
    (10, 'arcmin')

    The tube taken as square, and none but the pairs to speak:

    >>> asked = pm.parameters()
    >>> asked["collimation"].set(value=0, vary=False)
    >>> pm.fit(frame, params=asked, priors=False).terms.loc["collimation", "status"]
    'fixed'
    """
    own = own_terms(terms)
    asked = _asked(params, priors, own)
    as_observed = partial(observations_of, own=own)
    whole = _night(log, mount, columns, incomplete)
    profile = read_profile(prior)
    carried = None if profile is None else carried_from(profile)
    told = as_told(_complete(whole), pressed_lines(whole))
    logged = parts_put_right(told.log, told.pressed)
    parts = solved_in_turn(logged, carried, as_observed)
    meaning = weighed(told, parts)
    night = meaning.log
    if night is not told.log:
        logged = parts_put_right(night, meaning.pressed)
        parts = solved_in_turn(logged, carried, as_observed)
    solutions, last = parts.solutions, parts.segments[-1].log
    notices = [*whole.warnings, *segment_notices(night, logged)]
    notices += happened_notices(parts.happened)
    if whole.mount.lean_is_hidden:
        notices.append(Notice("aligned", _ALIGNED))
    if whole.mount.drives_by_alignment:
        notices.append(Notice("aligned_axes", _ALIGNED_AXES))
    notices += profile_notices(profile, solutions[-1], last)
    notices += exact_figures_notices(solutions[-1].observations)
    notices += few_pairs_notices(len(last), solutions[-1])
    held, asked = _as_asked(parts, asked)
    made = Fit(
        log=night,
        segments=held,
        profile=profile,
        warnings=tuple(notices),
        parts=parts.segments,
        happened=parts.happened,
        as_written=told.as_written,
        figures=meaning.readings(),
        own=own,
        asked=asked,
    )
    return replace(made, figures=with_no_mount(made.figures, solutions, night, made.stale))


def _night(
    log: NightLog | LogSource,
    mount: MountSource,
    columns: Mapping[str, str] | None,
    incomplete: Incomplete,
) -> NightLog:
    """Return the log to fit. Raises InputError as `fit` does."""
    if not isinstance(log, NightLog):
        return read_pairs(log, mount, columns=columns, incomplete=incomplete)
    refuse_columns_beside_a_log(columns)
    lacking = log.line[~log.has_both].tolist() if log.source == FRAME else []
    if checked_incomplete(incomplete) == "skip":
        told = left_out_notice(lacking)
        log = replace(log, warnings=(*log.warnings, *told))
    elif 0 < len(lacking) < len(log):
        raise InputError(refusals(lacking, FRAME))
    if mount is None:
        return log
    from pointmodel.reading.mountfile import read_mount

    return replace(log, mount=read_mount(mount))


def _asked(params: Parameters | None, priors: bool, own: tuple[Term, ...]) -> AskedTerms | None:
    """What to fit where it is not for the estimator to choose."""
    if params is None and priors is True:
        return None
    from pointmodel.fitting.asked import AskedTerms
    from pointmodel.fitting.parameters import parameters

    if not isinstance(priors, (bool, np.bool_)):
        raise InputError([Problem("<params>", None, "priors", quoted(priors), "True or False")])
    return AskedTerms(parameters(own) if params is None else params, bool(priors), own)


def _as_asked(
    parts: Parts, asked: AskedTerms | None
) -> tuple[tuple[tuple[NightLog, Solution], ...], AskedTerms | None]:
    """Return each part of the log with its solution, fitted as asked where something was."""
    pairs = list(zip((part.log for part in parts.segments), parts.solutions, strict=True))
    if asked is None:
        return tuple(pairs), None
    from pointmodel.fitting.asked import as_asked

    results = [as_asked(solution, log, asked) for log, solution in pairs]
    made = replace(asked, result=results[-1][1])
    return tuple((log, one) for (log, _), (one, _) in zip(pairs, results, strict=True)), made


def _complete(log: NightLog) -> NightLog:
    """Return the complete pairs of a log. Raises InputError where there is none."""
    complete = log.has_both
    if not complete.any():
        raise InputError([
            Problem(
                log.source,
                None,
                None,
                f"{len(log)} lines with a commanded place, none with a centred one",
                "at least one usable pair: commanded and centred azimuth and altitude",
            )
        ])  # fmt: skip
    return log if complete.all() else log.select(complete)


_ALIGNED_AXES = (
    "the figures count the axes, but go-tos go through the controller's alignment, which makes up "
    "for azimuth zero and lean. Do not send it to corrected positions (pointmodel aim)"
)
_ALIGNED = (
    "the controller was aligned before this log. Azimuth zero and lean below are errors of that "
    "alignment, not of the tripod. Do not level by them"
)
