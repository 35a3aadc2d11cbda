"""From explanations to a verdict and what to do at the controller.

Read `findings.py` and `stale.py` first.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from pointmodel.base.figures import figure
from pointmodel.base.wording import join
from pointmodel.entries.answers import BelievedSolution
from pointmodel.entries.believed import EntrySolution
from pointmodel.entries.catalogue import LEAST_ARCMIN, Entry, least_shift_min
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.entrywords import IN_MENU, MENU, worded
from pointmodel.entries.findings import Finding, same_shift
from pointmodel.entries.observed import Observed
from pointmodel.entries.odds import AGREES_ABOVE, ASKED_ABOVE, DISAGREES_BELOW, POSSIBLE_ABOVE
from pointmodel.entries.result import Verdict
from pointmodel.entries.sitewords import where_words
from pointmodel.entries.stale import StaleCommands, may_be_stale
from pointmodel.reading.sitezone import site_slip

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import Entered, MountFile
    from pointmodel.reading.nightlog import NightLog

# Choices: ages that a person can have let pass; younger ones do not show, older ones are a fault.
STALE_MIN = (0.3, 10.0)
STALE_ARCMIN = 10.0  # the sky turns about the pole: it shifts no latitude, but for noise
CHECK_AGAIN = "Then go to one star and check again."
# Minutes of sidereal time, five degrees of longitude: as far as people take a telescope without a
# new mount file (a choice). Then its site is worth a look however well another slip fits.
A_DRIVE_MIN = 20.0
ANOTHER_STAR = (
    "Go to another bright star, and note where it was sent and the true time. Then check again."
)
COMPARE_ALL = (
    "Compare the controller's date, time, time zone, summer time and site with a phone. Put right "
    "what differs."
)
SAME_WRONG_SITE = (
    "The controller holds the same site as the mount file, and that seems to be wrong: {slip}."
)
NOTE_AGAIN = (
    "Note the commanded place again at the centring, or log the time of the go-to as "
    "commanded_time. Then check again."
)
FREE: tuple[Entry, ...] = ("clock", "longitude", "latitude")


class Judged(NamedTuple):
    """The verdict and what it rests on; `proves_nothing`: no such log could show an entry."""

    verdict: Verdict
    reason: str
    proves_nothing: bool = False


def judge(
    night: NightLog,
    observed: Observed,
    findings: tuple[Finding, ...],
    *,
    best: EntrySolution,
    answer: BelievedSolution,
    stale: StaleCommands | None,
    explained: bool,
) -> Judged:
    """The verdict: what makes the log prove nothing comes first.

    `best` is the likeliest solution and `answer` that as it is told: a wrong entry that it does not
    show is not called. `explained`: the first finding leaves no misses larger than the rest.
    """
    agrees = next(finding.probability for finding in findings if finding.entry == "agrees")
    if night.mount.time_source == "controller":
        return Judged(
            "cannot_tell",
            "The log's times came from the controller itself, so they always agree with it. That "
            "proves nothing of its clock. Times from a phone or GPS would.",
            proves_nothing=True,
        )
    if night.mount.log.commanded_from == "almanac":
        return Judged(
            "cannot_tell",
            "The commanded places of this log are from an app or a table, not from the controller. "
            "They prove nothing of its clock and site.",
            proves_nothing=True,
        )
    if night.commanded_equatorial:
        return Judged(
            "cannot_tell",
            "Right ascension and declination are the same whatever the controller's clock and "
            "site. Only commanded azimuth and altitude show what it believes.",
            proves_nothing=True,
        )
    if len(observed) > 1 and best.good.sum() < 2:
        return Judged(
            "cannot_tell",
            "The commanded places fit no single time and site, so they cannot show an entry. "
            "Names or times may belong to other lines.",
        )
    if stale is not None and agrees > DISAGREES_BELOW:
        return Judged("cannot_tell", stale_words(stale))
    slip = site_slip(night.mount)
    if slip is not None and agrees >= AGREES_ABOVE:
        return Judged("cannot_tell", SAME_WRONG_SITE.format(slip=slip.text))
    if agrees >= AGREES_ABOVE and explained:
        return Judged("agrees", _agreement_words(observed))
    if agrees > DISAGREES_BELOW or _shows_nothing(observed, answer):
        reason = "The difference is too small, or these stars too few, to be sure."
        return Judged("cannot_tell", reason)
    if night.mount.is_aligned and _is_free(findings[0]):
        return Judged(
            "cannot_tell",
            "The log was made after an alignment, which may have turned the commanded places. A "
            "difference that fits no single slip proves no wrong entry.",
        )
    if not explained:
        return Judged(
            "disagrees",
            "The commanded places are those of another time or site, and no single entry explains "
            "them all.",
        )
    if findings[0].entry == "mount_file":
        return Judged(
            "disagrees", "The commanded places are those of another site than the mount file's."
        )
    return Judged("disagrees", "The commanded places are those of another time or site.")


def _agreement_words(observed: Observed) -> str:
    """Why all is right, as far as times noted so coarsely can show it."""
    told = "Every commanded place is where the true time and site put it"
    if not observed.resolution_min:
        return f"{told}."
    step_s = 60.0 * observed.resolution_min
    finely = "the minute" if step_s == 60.0 else f"{step_s:.0f} s"
    return f"{told}, as far as times noted to {finely} can show it."


def _is_free(finding: Finding) -> bool:
    """Whether it may be off by anything, so that it explains what any slip would."""
    return finding.time.shift is None or finding.place.shift is None


def _shows_nothing(observed: Observed, answer: BelievedSolution) -> bool:
    """Whether time and latitude come out right, to less than a slip that can be told from none."""
    off_min, off_arcmin = answer.sidereal_offset_min.value, 60.0 * answer.latitude_offset_deg.value
    return (
        abs(off_min) < least_shift_min(observed.resolution_min) and abs(off_arcmin) < LEAST_ARCMIN
    )


def stale_words(stale: StaleCommands) -> str:
    """What commands noted too early look like."""
    least, most = figure(stale.least_min, 1), figure(stale.most_min, 1)
    return (
        f"The commanded places are {least} to {most} min older than the times logged: they were "
        "noted before the star was centred, and the sky had turned by then. A clock that is a few "
        "minutes off cannot be told from that."
    )


def tied_with_first(findings: tuple[Finding, ...], resolution_min: float) -> tuple[Finding, ...]:
    """The findings that predict the same places as the first: no star can tell them apart."""
    first, *others = findings
    if first.entry == "agrees":
        return ()
    alike = (
        other
        for other in others
        if other.also is None
        and other.entry != "agrees"
        and same_shift(first, other, resolution_min)
    )
    free = first.entry in FREE
    near = abs(first.offset_min) < A_DRIVE_MIN
    return tuple(
        other
        for other in alike
        if other.probability > POSSIBLE_ABOVE or free or (other.entry == "mount_file" and near)
    )


def could_be_stale(
    night: NightLog, observed: Observed, answer: BelievedSolution, verdict: Verdict
) -> bool:
    """Whether commanded places noted some minutes before the centring would look the same."""
    least_min = max(STALE_MIN[0], observed.resolution_min)
    between = least_min < -answer.sidereal_offset_min.value < STALE_MIN[1]
    level = abs(60.0 * answer.latitude_offset_deg.value) < STALE_ARCMIN
    return verdict != "agrees" and between and level and may_be_stale(night, observed)


def remedy_words(
    judged: Judged,
    ranked: tuple[Finding, ...],
    right: EntryCircumstances,
    entered: Entered,
    *,
    mount: MountFile,
    question: str | None,
    explained: bool,
    stale: bool,
) -> str:
    """What to do, at the controller, with the mount file, or with the log.

    `ranked` are the first finding and those that are tied with it, or all that are possible where
    the verdict is that nothing can be told: nothing is to be set then.
    """
    first, *tied = ranked
    if judged.verdict == "agrees":
        return "Leave the controller's date, time and site as they are."
    if judged.proves_nothing:
        return "Compare date, time, zone, summer time and site with a phone."
    if judged.verdict == "cannot_tell":
        slip = site_slip(mount)
        if slip is not None and first.entry == "agrees":
            return f"{slip.order}. Compare the site in the controller with a phone too."
        if stale:
            return NOTE_AGAIN
        blamed = [entry for one in ranked for entry in (one.entry, one.also) if entry in MENU]
        looked_at = join(list(dict.fromkeys(MENU[entry] for entry in blamed if entry is not None)))
        compared = f"Compare {looked_at} with a phone. " if looked_at else ""
        return f"{compared}{ANOTHER_STAR}"
    if not explained:
        return f"{COMPARE_ALL} {CHECK_AGAIN}"
    if question is not None:
        return f"{question} {CHECK_AGAIN}"
    order = worded(first, right, entered).order
    others = [MENU[one.entry] for one in tied]
    if first.entry == "summer_time" and first.time.variant == "flag":
        others.append(MENU["time_zone"])  # an hour off, and the flag looks the same
    others = [one for one in dict.fromkeys(others) if one != MENU[first.entry]]
    if others:
        order += f" If that is right already, compare {join(others, 'or')}."
    return f"{order} {CHECK_AGAIN}"


def place_question(
    judged: Judged, ranked: tuple[Finding, ...], right: EntryCircumstances, entered: Entered
) -> str | None:
    """The question for the telescope's place, where only that tells controller from mount file."""
    if judged.verdict != "disagrees":
        return None
    first, *tied = ranked
    alike = [one for one in (first, *tied) if one is first or one.probability > ASKED_ABOVE]
    mount_file = next((one for one in alike if one.entry == "mount_file"), None)
    controller = next((one for one in alike if one.entry != "mount_file"), None)
    if (
        mount_file is None
        or controller is None
        or mount_file.also
        or controller.also == "mount_file"
    ):
        return None
    words = worded(controller, right, entered)
    if controller.entry == "summer_time" and right.summer is None:
        words = replace(words, order=f"{IN_MENU} set summer time to {words.meant}.")
    return where_words(words, mount_file, right)
