"""What is known of a log's figures: the state of the controller, what was found, what to ask.

No computing here. Unknown never gives an order: `feet_wait` says why no foot may be turned yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pointmodel.reading.mountfile import AlignmentState, Presses
from pointmodel.reading.mountkeys import Side

FindingName = Literal[
    "synced_after_each",
    "synced_after_some",
    "readings_after_sync",
    "columns_exchanged",
    "azimuth_counted_backwards",
    "azimuth_from_south",
    "zenith_distance",
    "hours_not_degrees",
    "radians_not_degrees",
    "axes_exchanged",
    "fits_no_mount",
]


@dataclass(frozen=True)
class ReadingFinding:
    """One thing found about what the figures mean, in whole sentences (`text`).

    `taken_up`: the fit is of the log read so; `confirmed`: the mount file says that it is so.
    `lines` are the log's lines it is about, empty where it is about all of them; `side` is the
    heading it is about; `confirm` is what the owner writes down if it is so.
    """

    finding: FindingName
    probability: float
    taken_up: bool
    lines: tuple[int, ...]
    text: str
    confirmed: bool = False
    side: Side = "both"
    confirm: str = ""

    @property
    def leaves_the_lean(self) -> bool:
        """Whether the lean is the same either way: it stands in the frame of `commanded`."""
        return self.finding == "azimuth_from_south" and self.side == "centred"

    @property
    def empties_the_log(self) -> bool:
        """Whether nothing of the mount is left in the figures."""
        after_press = self.finding == "readings_after_sync" and self.taken_up and not self.lines
        return after_press or self.finding == "fits_no_mount"


@dataclass(frozen=True)
class Question:
    """The one thing to ask the owner: the question, why it matters, the key that holds the answer.

    `answer_in` names table and key of the mount file, such as "[alignment] stars".
    """

    ask: str
    why: str
    answer_in: str


@dataclass(frozen=True)
class Readings:
    """What the figures of a log mean, as far as it is known.

    `time_resolution_s` is how finely times were written, None without times. `question` is asked
    only where different answers would give different advice.
    """

    alignment: AlignmentState = "unknown"
    presses: Presses = "unknown"
    commanded_from: Literal["controller", "almanac", "unknown"] = "unknown"
    time_resolution_s: float | None = None
    findings: tuple[ReadingFinding, ...] = ()
    question: Question | None = None

    @property
    def fits_no_mount(self) -> bool:
        """Whether no model fits: then nothing is ordered."""
        return any(one.finding == "fits_no_mount" for one in self.findings)

    @property
    def says_nothing(self) -> ReadingFinding | None:
        """The finding for which these figures say nothing of the mount; None where they do.

        Either no mount could have made them, or too few lines were noted before the press. Then
        nothing is ordered and nothing called good.
        """
        return next((one for one in self.findings if one.empties_the_log), None)

    @property
    def stops(self) -> str | None:
        """What is said in place of any remedy, forecast or verdict; None where the fit may speak.

        The figures say nothing of the mount, or it is not known whether they do.
        """
        if self.says_nothing is not None:
            return self.says_nothing.text
        unsure = [one for one in self.findings if one.finding == "readings_after_sync"]
        waits = any(not one.taken_up for one in unsure)
        return f"{self.question.ask} {self.question.why}" if waits and self.question else None

    @property
    def feet_wait(self) -> str | None:
        """Why no foot may be turned before the owner has answered; None where nothing stands so."""
        if self.stops is not None:
            return self.stops
        waiting = [one for one in self.findings if not (one.confirmed or one.leaves_the_lean)]
        if not waiting:
            return None
        wait = "Turn no foot before it is sure how to read the figures."
        if not waiting[0].confirm:
            return f"{wait} Answer the question about them first."
        return f"{wait} If they are read rightly here, {waiting[0].confirm}. Then ask again."

    @property
    def taken_up(self) -> tuple[ReadingFinding, ...]:
        """The findings that the fit rests on; feet wait until the owner has confirmed them."""
        return tuple(one for one in self.findings if one.taken_up)
