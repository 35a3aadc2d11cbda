"""What `check` finds: plain immutable objects, no judging here.

Read first: `CheckResult`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from pointmodel.base.errors import Notice
from pointmodel.base.rows import ResultRows
from pointmodel.entries.answers import BelievedSolution, Places
from pointmodel.entries.catalogue import Entry, InMountFile
from pointmodel.entries.nextstar import NextStar
from pointmodel.entries.stale import StaleCommands
from pointmodel.entries.suspects import StarCheck

if TYPE_CHECKING:
    import pandas as pd

ExplanationVerdict = Literal["likely", "possible", "ruled_out"]
Verdict = Literal["agrees", "disagrees", "cannot_tell"]


@dataclass(frozen=True)
class Worded:
    """What is held, what should be held, both in a sentence and in a few words, and the order."""

    typed: str
    meant: str
    text: str
    brief: str
    order: str


@dataclass(frozen=True)
class Explanation:
    """One entry (`also`: and a second one) that would explain the controller's places, or not.

    `typed` is what the controller then holds, `meant` what it should hold; of the entry mount_file
    what the mount file holds and should hold (`in_mount_file`: of which figures). `misfit_arcmin`
    is how far (RMS) the places are from where this would put them; `brief` a few words for lists
    and ties.
    """

    entry: Entry
    verdict: ExplanationVerdict
    probability: float
    typed: str
    meant: str
    misfit_arcmin: float
    also: Entry | None
    text: str
    brief: str
    sidereal_offset_min: float
    latitude_offset_deg: float
    in_mount_file: InMountFile | None


@dataclass(frozen=True)
class CheckResult:
    """Whether the controller's clock and site agree with the stars, and which entry is at fault.

    `explanations` stand likeliest first; `tied` names those that predict the same places as the
    first: no star can tell them apart. `could_be_stale`: commanded places noted some minutes before
    the centring would look the same. `next_star` would settle which of two answers is right; None
    where that is not the question or no bright star is up. `unknown` are names that are no known
    target, `residual_rms_arcmin` is None for a single star. `time_resolution_s` is how coarsely the
    times were written. `place_is_open`: only where the telescope stood can tell whether the
    controller or the mount file is wrong. `proves_nothing`: no such log could show a wrong entry.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    name: str
    pairs_read: int
    pairs_used: int
    unknown: tuple[str, ...]
    solutions: tuple[BelievedSolution, ...]
    residual_rms_arcmin: float | None
    places: Places
    time_resolution_s: float
    explanations: ResultRows[Explanation]
    tied: tuple[Entry, ...]
    stars: ResultRows[StarCheck]
    verdict: Verdict
    reason: str
    remedy: str
    could_be_stale: bool
    stale: StaleCommands | None
    next_star: NextStar | None
    place_is_open: bool = False
    proves_nothing: bool = False

    @property
    def frame(self) -> pd.DataFrame:
        """The explanations as a frame, likeliest first."""
        return self.explanations.frame

    def to_dict(self) -> dict[str, Any]:
        """Return the check document: plain types only, equal to the command's JSON."""
        from pointmodel.entries.document import check_document

        return check_document(self)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.entries.text import check_text

        return check_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.entries.card import check_card
        from pointmodel.showing.cards import brief

        return brief(check_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.entries.card import check_card
        from pointmodel.showing.cards import html

        return html(check_card(self))
