"""`check`: do the controller's clock and site entries agree with the stars it was sent to?

It needs commanded places, names and true times, and no centring: it can run on the first star.
Read `entries/` first; here its parts are put together and the verdict falls.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.rows import ResultRows
from pointmodel.base.times import FINEST_RESOLUTION_S
from pointmodel.base.wording import join, quoted
from pointmodel.entries.answers import (
    merged,
    places_of,
    residual_arcmin,
)
from pointmodel.entries.believed import (
    expected_miss_arcmin,
    misses_arcmin,
    predicted,
    solve,
)
from pointmodel.entries.catalogue import (
    LEAST_ARCMIN,
    latitude_candidates,
    least_shift_min,
    sidereal_candidates,
    that_show,
)
from pointmodel.entries.circumstances import EntryCircumstances, circumstances_of, clocks_change
from pointmodel.entries.columnsky import read_by_the_sky
from pointmodel.entries.entrywords import worded
from pointmodel.entries.findings import Finding, findings_of
from pointmodel.entries.judging import (
    could_be_stale,
    judge,
    place_question,
    remedy_words,
    tied_with_first,
)
from pointmodel.entries.nextstar import star_that_settles
from pointmodel.entries.observed import Observed, known_targets, moments_s, observe
from pointmodel.entries.odds import LIKELY_ABOVE, POSSIBLE_ABOVE, STALE_ABOVE, TIMES_WORSE
from pointmodel.entries.planets import log_seen_of_moving
from pointmodel.entries.result import CheckResult, Explanation, ExplanationVerdict
from pointmodel.entries.sitefile import offset_slips, with_mount_file
from pointmodel.entries.sitewords import in_mount_file
from pointmodel.entries.stale import StaleCommands, ages, may_be_stale, stale_answer
from pointmodel.entries.suspects import StarCheck, check_stars
from pointmodel.entries.typed import typed_entries, with_typed
from pointmodel.entries.weighing import Weighed, weigh
from pointmodel.reading.asread import read_so_words, told_figures, write_down_words
from pointmodel.reading.incomplete import Incomplete
from pointmodel.reading.mountfile import Entered, MountFile, MountSource, read_mount
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.reading.owncolumns import refuse_columns_beside_a_log

if TYPE_CHECKING:
    from pointmodel.reading.table import LogSource
    from pointmodel.sky.targets import Target


def check(
    log: LogSource | NightLog,
    mount: MountSource = None,
    *,
    columns: Mapping[str, str] | None = None,
    incomplete: Incomplete = "refuse",
) -> CheckResult:
    """Return whether the controller's clock and site entries agree with the stars of a log.

    `log` is whatever `read_log` takes, with `columns` and `incomplete` as there, or a NightLog;
    `mount` whatever `read_mount` takes; left
    out, the log's own mount file counts. Needs the site, the true times, and names of known stars
    or planets. Raises InputError where one of these is missing altogether, or the log cannot be
    read.

    >>> import pointmodel as pm
    >>> site = {"site": {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}}
    >>> night = pm.simulate(seed=1, mount=site, sidereal_error_min=-60)
    >>> check = pm.check(night.log)
    >>> check.verdict, check.frame.loc[0, "entry"]
    ('disagrees', 'summer_time')
    """
    night, read_so = _read_by_the_sky(_night(log, mount, columns, incomplete))
    targets = known_targets(night)
    _require(night, targets)
    observer = night.mount.observer
    assert observer is not None  # _require has seen to it
    assert night.mount.place_deg is not None
    observed = observe(night, targets, observer)
    right = circumstances_of(
        night.mount, night.mount.place_deg, float(observed.time_s.min()), night.time_offset_s
    )
    entered = night.mount.entered or Entered()
    weighed, stale = _weighed(night, observed, right, entered)
    findings = findings_of(
        weighed, 60.0 * right.latitude_deg, least_shift_min(observed.resolution_min)
    )
    best = weighed.solutions[int(weighed.of_solution.argmax())]
    answers = merged(weighed, 60.0 * right.latitude_deg)
    explanations = tuple(
        _explanation(finding, observed, weighed, right, entered) for finding in findings
    )
    explained = _explains(findings[0], explanations[0].misfit_arcmin, observed, weighed)
    judged = judge(
        night,
        observed,
        findings,
        best=best,
        answer=answers[0],
        stale=stale,
        explained=explained,
    )
    tied = tied_with_first(findings, observed.resolution_min)
    looks_stale = stale is not None or could_be_stale(night, observed, answers[0], judged.verdict)
    ranked = (findings[0], *tied)
    if judged.verdict == "cannot_tell":
        ranked = tuple(one for one in findings if one.probability > POSSIBLE_ABOVE)
    question = None
    if explained:
        question = place_question(judged, ranked, right, entered)
    remedy = remedy_words(
        judged,
        ranked,
        right,
        entered,
        mount=night.mount,
        question=question,
        explained=explained,
        stale=looks_stale,
    )
    next_star = None
    if len(answers) > 1 and judged.verdict != "agrees":
        next_star = star_that_settles(observed, weighed, observer, night.mount)
    return CheckResult(
        inputs=_inputs(night),
        warnings=(*read_so, *night.warnings, *_notices(night, observed, right)),
        name=night.mount.name or night.name,
        pairs_read=len(night),
        pairs_used=len(observed),
        unknown=_unknown(night, targets),
        solutions=answers,
        residual_rms_arcmin=residual_arcmin(best),
        places=places_of(weighed),
        time_resolution_s=night.time_resolution_s or FINEST_RESOLUTION_S,
        explanations=ResultRows.of(Explanation, explanations),
        tied=tuple(one.entry for one in tied),
        stars=ResultRows.of(StarCheck, check_stars(night, observed, best, observer)),
        verdict=judged.verdict,
        reason=judged.reason,
        remedy=remedy,
        could_be_stale=looks_stale,
        stale=stale,
        next_star=next_star,
        place_is_open=question is not None,
        proves_nothing=judged.proves_nothing,
    )


def _night(
    log: LogSource | NightLog,
    mount: MountSource,
    columns: Mapping[str, str] | None,
    incomplete: Incomplete,
) -> NightLog:
    if not isinstance(log, NightLog):
        return read_log(log, mount, columns=columns, incomplete=incomplete)
    refuse_columns_beside_a_log(columns)
    if mount is None:
        return log
    from dataclasses import replace

    return replace(log, mount=read_mount(mount))


def _read_by_the_sky(night: NightLog) -> tuple[NightLog, tuple[Notice, ...]]:
    """Return the log with its commanded places as the mount file, or else the sky, has them."""
    told, known = told_figures(night)
    if known:
        return told, tuple(Notice(finding, read_so_words(finding, side)) for finding, side in known)
    read = read_by_the_sky(night)
    if read is None:
        return night, ()
    said = read_so_words(read.finding, read.side)
    text = f"{said} If that is so, {write_down_words(read.finding, read.side)}."
    return read.log, (Notice(read.finding, text),)


def _require(night: NightLog, targets: tuple[Target | None, ...]) -> None:
    """Raise InputError with everything that is missing altogether."""
    problems = []
    mount = night.mount.source or "<mount>"
    if night.mount.place_deg is None:
        wanted = "latitude and longitude under [site]: where the telescope truly stood"
        problems.append(Problem(mount, None, "site", "no latitude and longitude", wanted))
    timed = np.isfinite(moments_s(night))
    if not timed.any():
        wanted = "the true time of at least one go-to, from a phone or GPS"
        problems.append(Problem(night.source, None, "time", "no time", wanted))
    elif not any(target is not None and told for target, told in zip(targets, timed, strict=True)):
        names = [name for name in dict.fromkeys(night.target) if name]
        found = join([quoted(name) for name in names[:3]]) if names else "no names"
        wanted = "names of stars or planets, such as Achernar, alpha Eri or Jupiter"
        problems.append(Problem(night.source, None, "target", found, wanted))
    if problems:
        raise InputError(problems)


def _weighed(
    night: NightLog, observed: Observed, right: EntryCircumstances, entered: Entered
) -> tuple[Weighed, StaleCommands | None]:
    """Weigh every combination of entries under every solution, commands noted too early too.

    Returns the ages of the commands where that is the likeliest.
    """
    typed = typed_entries(entered, right)
    least_min = least_shift_min(observed.resolution_min)
    of_time = with_mount_file(with_typed(sidereal_candidates(right), typed), right)
    of_place = with_mount_file(with_typed(latitude_candidates(right), typed), right)
    of_time = (*of_time, *offset_slips(right, night.time_offset_s))
    sidereal, latitude = that_show(of_time, least_min), that_show(of_place, LEAST_ARCMIN)
    solutions = solve(observed)
    seen = log_seen_of_moving(observed, solutions, sidereal)
    answer = None
    if may_be_stale(night, observed):
        answer = stale_answer(observed, sidereal, latitude, right.latitude_deg)
    beside = None if answer is None else (answer.solution, answer.log_weight)
    true_latitude = 60.0 * right.latitude_deg
    weighed = weigh(solutions, sidereal, latitude, true_latitude, log_seen=seen, beside=beside)
    if answer is None or weighed.of_solution[-1] < STALE_ABOVE:
        return weighed, None
    likeliest = int(weighed.probability[-1].sum(axis=1).argmax())
    return weighed, ages(answer, sidereal[likeliest].shift or 0.0)


def _explanation(
    finding: Finding,
    observed: Observed,
    weighed: Weighed,
    right: EntryCircumstances,
    entered: Entered,
) -> Explanation:
    words = worded(finding, right, entered)
    misfit_arcmin = _misfit_arcmin(finding, observed, weighed, right)
    likely = finding.probability > LIKELY_ABOVE
    likely = likely and _explains(finding, misfit_arcmin, observed, weighed)
    verdict: ExplanationVerdict = "likely" if likely else "possible"
    if finding.probability <= POSSIBLE_ABOVE:
        verdict = "ruled_out"
    return Explanation(
        entry=finding.entry,
        verdict=verdict,
        probability=finding.probability,
        typed=words.typed,
        meant=words.meant,
        misfit_arcmin=misfit_arcmin,
        also=finding.also,
        text=words.text,
        brief=words.brief,
        sidereal_offset_min=finding.offset_min,
        latitude_offset_deg=finding.latitude_off_arcmin / 60.0,
        in_mount_file=in_mount_file(finding),
    )


def _misfit_arcmin(
    finding: Finding, observed: Observed, weighed: Weighed, right: EntryCircumstances
) -> float:
    """RMS distance of the commanded places from where these entries would put them."""
    solution = weighed.solutions[finding.solution]
    latitude = 60.0 * right.latitude_deg + finding.latitude_off_arcmin
    here, *_ = predicted(
        observed, solution.mode, np.array([finding.offset_min]), np.array([latitude])
    )
    miss = misses_arcmin(observed, solution.mode, here)[0]
    good = solution.good if solution.good.any() else np.ones_like(solution.good)
    return float(np.sqrt(np.mean(miss[good] ** 2)))


def _explains(finding: Finding, misfit_arcmin: float, observed: Observed, weighed: Weighed) -> bool:
    """Whether an explanation leaves no misses that are larger than the best one's.

    The best one is the solution that needs no entry: what it leaves, but no less than the noise.
    """
    solution = weighed.solutions[finding.solution]
    left = residual_arcmin(solution) or 0.0
    return misfit_arcmin < TIMES_WORSE * max(left, expected_miss_arcmin(observed))


def _unknown(night: NightLog, targets: tuple[Target | None, ...]) -> tuple[str, ...]:
    pairs = zip(night.target, targets, strict=True)
    return tuple(dict.fromkeys(name for name, target in pairs if name and target is None))


def _inputs(night: NightLog) -> tuple[str, ...]:
    sources = (night.source, night.mount.source)
    return tuple(str(s) for s in sources if s is not None and not str(s).startswith("<"))


def _notices(night: NightLog, observed: Observed, right: EntryCircumstances) -> tuple[Notice, ...]:
    """What to know beside the verdict."""
    mount: MountFile = night.mount
    found = []
    if right.offset_from != "zone":
        known = "the log's times" if right.offset_from == "log" else "the longitude"
        text = (
            f"the mount file names no time zone. The offset from UTC is taken from {known}, and "
            "nobody knows whether summer time counts. Write time_zone under [site]"
        )
        found.append(Notice("zone_unknown", text))
    first, last = float(observed.time_s.min()), float(observed.time_s.max())
    if clocks_change(mount, min(right.moment_s, first) - 43200.0, last):
        text = (
            "the clocks change on this night. The controller goes on with what was typed, so type "
            "time and summer time as they were at one moment"
        )
        found.append(Notice("clock_change", text))
    if mount.time_source == "controller":
        found.append(
            Notice("time_source", "times taken from the controller prove nothing of its clock")
        )
    return tuple(found)
