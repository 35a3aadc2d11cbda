"""What is known of a log's figures: the state of the controller, what was found, what to ask.

No computing here. Unknown never gives an order: `feet_wait` says why no foot may be turned yet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pointmodel.reading.mountfile import AlignmentState, Presses

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

    `taken_up`: the fit is of the log read so. `lines` are the log's lines it is about, empty where
    it is about all of them.
    """

    finding: FindingName
    probability: float
    taken_up: bool
    lines: tuple[int, ...]
    text: str


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
    def taken_up(self) -> tuple[ReadingFinding, ...]:
        """The findings that the fit rests on; feet wait until the owner has confirmed them."""
        return tuple(one for one in self.findings if one.taken_up)
