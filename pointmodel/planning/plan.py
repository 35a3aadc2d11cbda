"""`plan`: which stars to centre, in which order, so that the fit is good soonest.

Read `planning/__init__.py` first. `plan` is for an evening; `next_star_after` and `gain_of_more`
answer the same questions between two stars, for a fit that is kept current.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import InputError, Notice
from pointmodel.base.rows import ResultRows
from pointmodel.planning import choice, remarks
from pointmodel.planning.asked import count_of, moment_of, night_of, no_star, observer_over
from pointmodel.planning.candidates import Candidates, Scene, candidates, scene
from pointmodel.planning.darkness import MoonNow, moon_now, next_dark_s
from pointmodel.planning.entrycard import EntryCard, entry_card
from pointmodel.planning.finding import how_to_know
from pointmodel.planning.knowledge import (
    Knowledge,
    after_fit,
    design_at,
    least_gain_arcmin,
    not_determined,
    rms_arcmin,
    settled_between,
    typical,
)
from pointmodel.planning.pairs import AlignmentChoice, best_pairs
from pointmodel.planning.results import (
    ExpectedMiss,
    MissGain,
    PlannedStar,
    RefusedStar,
    SkyPicture,
    sky_picture,
)
from pointmodel.reading.mountfile import MountFile, MountSource
from pointmodel.reading.sitezone import site_notices
from pointmodel.sky.targets import look_up

if TYPE_CHECKING:
    import pandas as pd

    from pointmodel.fitting.result import Fit
    from pointmodel.showing.pages import Scheme

# a choice: eight stars tell what matters of most mounts, in half an hour
USUAL_STARS = 8
BEYOND = 2  # how many more stars are looked ahead to when asked whether to stop
CENTRED_ALREADY = 100.0  # handicap
FEWEST_TO_TRUST = 6  # fewer can hardly show a wrong star
ANOTHER_NIGHT_S = 12 * 3600.0


@dataclass(frozen=True)
class PlanResult:
    """Which stars to centre, what is expected of them, and what to type into the controller.

    `at` is ISO 8601 with its offset, `time_s` the same as POSIX seconds. `dark_from` is when it is
    next dark enough (ISO 8601), None where it is so at `at` or not within a year. `now` is the
    miss before these stars: of a mount just set down, or of the fit (`after`, its log's name).
    `sigma_arcmin` is the noise of a pair an axis that was reckoned with, `scatter_arcmin` the
    mount's own part of it, which every miss includes. `stop_after` is the number
    of planned stars (0: none) after which two more would gain next to nothing; None where all are
    worth it.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    mount: MountFile
    after: str | None
    at: str
    time_s: float
    sun_alt_deg: float
    dark_from: str | None
    stars: ResultRows[PlannedStar]
    alignment_pairs: tuple[AlignmentChoice, ...]
    now_rms_arcmin: float
    expected: tuple[ExpectedMiss, ...]
    more: MissGain
    stop_after: int | None
    refused: tuple[RefusedStar, ...]
    sigma_arcmin: float
    scatter_arcmin: float
    moon: MoonNow
    entry_card: EntryCard
    picture: SkyPicture
    cautions: tuple[str, ...]

    @property
    def frame(self) -> pd.DataFrame:
        """The stars as a frame, one row each, in the order to centre them."""
        return self.stars.frame

    def to_dict(self) -> dict[str, Any]:
        """Return the plan document: plain types only, equal to the command's JSON."""
        from pointmodel.planning.document import plan_document

        return plan_document(self)

    def sheet(self, path: str | Path, scheme: Scheme = "auto") -> Path:
        """Write the sheet to print; returns its path. Replaces only a page of its own making.

        `scheme` is what it opens in on a screen: day, dark, red, or auto.
        """
        from pointmodel.planning.sheet import write_sheet

        return write_sheet(self, Path(path), scheme)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.planning.text import plan_text

        return plan_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.planning.card import plan_card
        from pointmodel.showing.cards import brief

        return brief(plan_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.planning.card import plan_card
        from pointmodel.showing.cards import html

        return html(plan_card(self))


def plan(
    mount: MountSource = None,
    at: str | datetime | None = None,
    stars: int | None = None,
    after: Fit | None = None,
) -> PlanResult:
    """Return which stars to centre, and in which order, over the mount file's site.

    `at` is ISO 8601 text or a datetime (without a zone: the mount file's, else UTC); left out: now
    or, while the Sun is up, when it is next dark. `after` is a fit: then the stars are the next
    ones, and `mount` may be left out. Raises InputError where the site is not known, `at` is no
    moment, `stars` (left out: 8) is not 1 to 30, or no star can be seen above the horizon profile.

    >>> import pointmodel as pm
    >>> site = {"site": {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}}
    >>> plan = pm.plan(site, at="2031-05-17T20:00+10:00", stars=3)
    >>> plan.frame["order"].tolist()
    [1, 2, 3]
    """
    night = night_of(mount, after)
    observer = observer_over(night)
    count = count_of(USUAL_STARS if stars is None else stars)
    moment, notices = moment_of(at, night, observer)
    sky = scene(night, observer, moment.time_s)
    found = candidates(sky)
    if found.star.size == 0:
        raise InputError([no_star(night)])
    anew = _set_up_anew(after, moment.time_s)
    known = typical(night) if after is None else after_fit(after, set_up_anew=anew)
    problem = choice.DesignProblem(
        known,
        design_at(known, found.az_deg, found.alt_deg),
        choice.shared_handicap(found.handicap, count),
    )
    chosen = choice.choose(problem, count)
    order = choice.in_order(problem, chosen, found.hard_to_find)
    expected = _expected(problem, order)
    planned = _planned(sky, found, problem, order, expected)
    dark = next_dark_s(observer, moment.time_s)
    notices += remarks.of_the_sky(sky, dark, moment.zone)
    notices += remarks.of_the_stars(found, order, count, planned, sky)
    notices += remarks.of_the_fit(after, anew, night)
    card = entry_card(night, moment.time_s, moment.zone)
    notices += remarks.of_the_card(card, notices)
    notices = [*site_notices(night), *notices]
    names = tuple(sky.label(int(k)) for k in found.star)
    more = _more(problem, order, night)
    now_rms_arcmin = rms_arcmin(known, known.covariance)
    return PlanResult(
        inputs=_inputs(night, after),
        warnings=tuple(notices),
        mount=night,
        after=None if after is None else after.log.name,
        at=moment.text,
        time_s=moment.time_s,
        sun_alt_deg=sky.sun.alt_deg,
        dark_from=remarks.iso(dark, moment.zone)
        if dark is not None and dark > moment.time_s
        else None,
        stars=ResultRows.of(PlannedStar, planned),
        alignment_pairs=best_pairs(known, found, names),
        now_rms_arcmin=now_rms_arcmin,
        expected=expected,
        more=more,
        stop_after=_stop_after(problem, order, night, more, _pairs_used(after)),
        refused=tuple(RefusedStar(*one) for one in remarks.refused(sky, found)),
        sigma_arcmin=known.sigma_arcmin,
        scatter_arcmin=known.scatter_arcmin,
        moon=moon_now(sky.moon, moment.time_s),
        entry_card=card,
        picture=sky_picture(sky),
        cautions=remarks.CAUTIONS,
    )


def next_star_after(fit: Fit | None, mount: MountFile, time_s: float) -> PlannedStar | None:
    """Return the star that betters a fit most, at POSIX seconds; None: no site, or none is up.

    Without a fit it is the first star of a mount that was just set down. For use between two stars
    of one night: the mount is taken not to have been moved since. A star that was centred since the
    last event is named again only where no other will do.
    """
    observer = mount.observer
    if observer is None:
        return None
    sky = scene(mount, observer, time_s)
    found = candidates(sky)
    if found.star.size == 0:
        return None
    known = typical(mount) if fit is None else after_fit(fit)
    handicap = found.handicap
    if fit is not None:
        handicap = handicap * np.where(_centred(fit, sky, found), CENTRED_ALREADY, 1.0)
    problem = choice.DesignProblem(known, design_at(known, found.az_deg, found.alt_deg), handicap)
    order = choice.in_order(problem, choice.choose(problem, 1), found.hard_to_find)
    return _planned(sky, found, problem, order, _expected(problem, order))[0]


def _centred(fit: Fit, sky: Scene, found: Candidates) -> BoolArray:
    """Which candidates were centred since the last event, by name, (k,)."""
    named = (look_up(name) for name in fit.last_segment.target if name)
    done = {target.name for target in named if target is not None}
    return np.array([sky.label(int(star)) in done for star in found.star], dtype=bool)


def gain_of_more(fit: Fit) -> MissGain:
    """Return the miss of corrected go-tos now and after two more stars, the best on the open sky.

    Needs neither site nor time: the stars are taken to stand wherever they tell most. Whoever asks
    whether to stop asks this, between two stars and in a plan.
    """
    known = after_fit(fit)
    design = -known.outlook.corrected.slope
    problem = choice.DesignProblem(known, design, np.ones(design.shape[0]))
    best = choice.choose(problem, BEYOND)
    return _gain(known, (known.covariance, problem.covariance(best)), fit.log.mount)


def _gain(
    known: Knowledge, before_and_after: tuple[FloatArray, FloatArray], mount: MountFile
) -> MissGain:
    """What stars gain that lead from one covariance to the other."""
    now, later = (rms_arcmin(known, covariance) for covariance in before_and_after)
    settles = settled_between(known, *before_and_after)
    return MissGain(now, min(now, later), least_gain_arcmin(mount), settles)


def _planned(
    sky: Scene,
    found: Candidates,
    problem: choice.DesignProblem,
    order: list[int],
    expected: tuple[ExpectedMiss, ...],
) -> tuple[PlannedStar, ...]:
    unknown = [
        set(not_determined(problem.knowledge, problem.rows([]))),
        *(set(step.not_determined) for step in expected),
    ]
    planned = []
    for place, k in enumerate(order):
        star = int(found.star[k])
        settled = unknown[place] - unknown[place + 1]
        names = problem.knowledge.names
        planned.append(
            PlannedStar(
                order=place + 1,
                target=sky.label(star),
                az_deg=float(found.az_deg[k]),
                alt_deg=float(found.alt_deg[k]),
                magnitude=float(found.magnitude[k]),
                how_to_know=how_to_know(sky, star, found.confusable[k]),
                confusable=found.confusable[k],
                sun_separation_deg=float(found.sun_separation_deg[k]),
                settles=tuple(name for name in names if name in settled),
            )
        )
    return tuple(planned)


def _expected(problem: choice.DesignProblem, order: list[int]) -> tuple[ExpectedMiss, ...]:
    steps = []
    for used in range(1, len(order) + 1):
        first = order[:used]
        steps.append(
            ExpectedMiss(
                used,
                rms_arcmin(problem.knowledge, problem.covariance(first)),
                not_determined(problem.knowledge, problem.rows(first)),
            )
        )
    return tuple(steps)


def _more(problem: choice.DesignProblem, order: list[int], mount: MountFile) -> MissGain:
    """Return what two more stars would gain after all that are planned, the same ones if need be.

    Where none is left, a star that was used is centred again.
    """
    longer = list(order)
    for _ in range(BEYOND):
        left = problem.left(longer)
        left[longer] = np.where(len(longer) < left.size, np.inf, left[longer])
        longer.append(int(left.argmin()))
    held = problem.covariance(order), problem.covariance(longer)
    return _gain(problem.knowledge, held, mount)


def _stop_after(
    problem: choice.DesignProblem,
    order: list[int],
    mount: MountFile,
    more: MissGain,
    before: int,
) -> int | None:
    """Return after how many planned stars two more gain next to nothing; None: not yet.

    `before` is how many pairs the fit had; with six pairs in all a wrong star can be seen.
    """
    held = [problem.covariance(order[:used]) for used in range(len(order) + 1)]
    for used in range(max(FEWEST_TO_TRUST - before, 0), len(order) + 1):
        if used == len(order):
            return None if more.is_worth_it else used
        if used + BEYOND > len(order):
            continue
        if not _gain(problem.knowledge, (held[used], held[used + BEYOND]), mount).is_worth_it:
            return used
    return None


def _pairs_used(after: Fit | None) -> int:
    return 0 if after is None else len(after.log) - len(after.set_aside)


def _set_up_anew(after: Fit | None, time_s: float) -> bool:
    """Whether the log is of another night, so that the mount was probably set down again."""
    if after is None:
        return False
    times = after.log.time_s[np.isfinite(after.log.time_s)]
    return bool(times.size) and abs(time_s - float(times.max())) > ANOTHER_NIGHT_S


def _inputs(mount: MountFile, after: Fit | None) -> tuple[str, ...]:
    sources = [] if after is None else [after.log.source]
    sources.append(mount.source or "")
    return tuple(source for source in sources if source and not source.startswith("<"))
