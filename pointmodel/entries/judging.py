"""From explanations to a verdict and what to do at the controller.

Read `findings.py` and `stale.py` first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from pointmodel.base.figures import figure
from pointmodel.base.wording import join
from pointmodel.entries.answers import BelievedSolution
from pointmodel.entries.believed import Solution
from pointmodel.entries.catalogue import LEAST_ARCMIN, Entry, least_shift_min
from pointmodel.entries.findings import Finding, same_shift
from pointmodel.entries.observed import Observed
from pointmodel.entries.stale import StaleCommands, may_be_stale
from pointmodel.entries.weighing import POSSIBLE_ABOVE
from pointmodel.entries.words import MENU, Worded

if TYPE_CHECKING:
    from pointmodel.reading.nightlog import NightLog

Verdict = Literal["agrees", "disagrees", "cannot_tell"]
AGREES_ABOVE, DISAGREES_BELOW = 0.5, 0.05
STALE_MIN, STALE_ARCMIN = (0.3, 10.0), 10.0
FREE: tuple[Entry, ...] = ("clock", "longitude", "latitude")


class Judged(NamedTuple):
    """The verdict and what it rests on; `proves_nothing`: no such log could show an entry."""

    verdict: Verdict
    reason: str
    proves_nothing: bool = False


def judge(
    night: NightLog,
    observed: Observed,
    best: Solution,
    findings: tuple[Finding, ...],
    stale: StaleCommands | None,
    answer: BelievedSolution,
) -> Judged:
    """The verdict: what makes the log prove nothing comes first.

    `answer` is the likeliest one as it is told: a wrong entry that it does not show is not called.
    """
    agrees = next(finding.probability for finding in findings if finding.entry == "agrees")
    if night.mount.time_source == "controller":
        return Judged(
            "cannot_tell",
            "The log's times came from the controller itself, so they agree with it whatever it "
            "holds: this proves nothing of its clock. Times from a phone or GPS would.",
            proves_nothing=True,
        )
    if night.mount.log.commanded_from == "almanac":
        return Judged(
            "cannot_tell",
            "The commanded places of this log are an almanac's (an app's or a table's), not the "
            "controller's: they prove nothing of its clock and place.",
            proves_nothing=True,
        )
    if night.commanded_equatorial:
        return Judged(
            "cannot_tell",
            "Right ascension and declination are the same whatever the controller's clock and "
            "place: only commanded azimuth and altitude show what it believes.",
            proves_nothing=True,
        )
    if len(observed) > 1 and best.good.sum() < 2:
        return Judged(
            "cannot_tell",
            "The commanded places fit no single time and place, so they cannot show an entry: "
            "names or times may belong to other lines.",
        )
    if stale is not None and agrees > DISAGREES_BELOW:
        return Judged("cannot_tell", stale_words(stale))
    if agrees >= AGREES_ABOVE:
        return Judged("agrees", "Every commanded place is where the true time and site put it.")
    if agrees > DISAGREES_BELOW or _shows_nothing(observed, answer):
        reason = "The difference is too small, or these stars too few, to be sure."
        return Judged("cannot_tell", reason)
    if night.mount.is_aligned and findings[0].entry in FREE:
        return Judged(
            "cannot_tell",
            "The log was made after an alignment, which may have turned the commanded places: a "
            "difference that fits no single slip proves no wrong entry.",
        )
    return Judged("disagrees", "The commanded places are those of another time or place.")


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


def tied_with_first(findings: tuple[Finding, ...]) -> tuple[Entry, ...]:
    """The entries that predict the same places as the first: no star can tell them apart."""
    first, *others = findings
    if first.entry == "agrees" or first.also is not None:
        return ()
    alike = (
        other
        for other in others
        if other.also is None and other.entry != "agrees" and same_shift(first, other)
    )
    return tuple(
        other.entry for other in alike if other.probability > POSSIBLE_ABOVE or first.entry in FREE
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
    first: Finding,
    words: Worded,
    tied: tuple[Entry, ...],
    stale: bool,
) -> str:
    """What to do, at the controller or with the log."""
    if judged.verdict == "agrees":
        return "Leave the controller's date, time and place as they are."
    if judged.proves_nothing:
        return "Compare date, time, zone, summer time and place with a phone."
    if first.entry == "agrees":
        if stale:
            return (
                "Note the commanded place again at the centring, or log the moment of the go-to "
                "as commanded_time; then check again."
            )
        return "Go to another bright star, note where it was sent and the true time; check again."
    order = f"{_order(first.entry, words)}"
    if first.also is not None:
        order += f" Compare {MENU[first.also]} too."
    others = list(dict.fromkeys(MENU[entry] for entry in tied if MENU[entry] != MENU[first.entry]))
    if others:
        order += f" If that is right already, compare {join(others, 'or')}."
    return f"{order} Then go to one star and check again."


def _order(entry: Entry, words: Worded) -> str:
    if entry in ("clock", "utc_as_local", "am_pm"):
        form = {
            "clock": "local time",
            "utc_as_local": "local time, not UTC",
            "am_pm": "local time, with am or pm as it is",
        }[entry]
        return f"In the controller's menu set the time anew from a phone: {form}."
    return f"In the controller's menu set {MENU[entry]} to {words.meant}."
