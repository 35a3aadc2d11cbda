"""The verdict on levelling, as a plain immutable object; no computing here.

Read `level.py` for how it is reached."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from pointmodel.advising.grounds import ClearedBy
from pointmodel.advising.result import Advice
from pointmodel.base.cautions import MAKERS_MANUAL, SUN
from pointmodel.base.errors import Notice
from pointmodel.base.rows import ResultRows
from pointmodel.diagnosis.lean import (
    Lean,
    LookAlike,
)
from pointmodel.levelling.feet import FootOrder
from pointmodel.levelling.stand import Stand
from pointmodel.levelling.stars import Place
from pointmodel.readings.result import Question

if TYPE_CHECKING:
    import pandas as pd

Verdict = Literal["level", "realign", "leave", "ask", "cannot_tell"]


Why = Literal[
    "alignment_off",
    "alignment_good",
    "sinking",
    "moved_lately",
    "entries",
    "only_entries",
    "no_lean",
    "unseen",
    "too_little",
    "clock",
    "gains",
    "figures",
    "not_known",
    "good_now",
    "taken_up",
    "realign_instead",
]


CAUTIONS = (
    MAKERS_MANUAL,
    "Take the load off first: a second person or a support holds the telescope.",
    "Change one foot at a time, a little, and watch that nothing tips.",
    "Lower rather than raise: a lower stand is steadier.",
    SUN,
)


@dataclass(frozen=True)
class Gain:
    """One remedy: minutes it takes, RMS and chance in the eyepiece that it leaves."""

    remedy: str
    rms_arcmin: float
    chance_in_field: float
    minutes: int


@dataclass(frozen=True)
class LevelResult:
    """Re-level or not, and why; which foot by how much. `advice` is the one verdict on the night.

    `verdict` is level, realign, leave, ask or cannot_tell; with ask goes the `question` that must
    be answered first. `feet` holds orders only with the verdict level. The expected lean after is
    the median, from what is uncertain about the lean and from setting screws by hand
    (`hand_step_mm`); None without that verdict. `field_assumed`: the field of view is not the mount
    file's. `confirm_at`: zero on the first star; a lean that is left shows at the others.
    `one_more_star`: where a further star is wanted first, None where none is. `stand`: by screws,
    legs or plates, and where to find the low side without a compass; None unless to level.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    name: str
    pairs_used: int
    verdict: Verdict
    reason: str
    lean: Lean
    confounded_with: tuple[str, ...]
    look_alike: LookAlike | None
    clock_cleared_by: ClearedBy | None
    feet: ResultRows[FootOrder]
    screw_pitch_mm: float | None
    hand_step_mm: float | None
    expected_lean_after_arcmin: float | None
    gain: tuple[Gain, ...]
    field_of_view_arcmin: float
    field_assumed: bool
    confirm_at: tuple[Place, ...]
    one_more_star: Place | None
    cautions: tuple[str, ...]
    advice: Advice
    stand: Stand | None = None

    @property
    def question(self) -> Question | None:
        """What the owner must answer first, None where nothing."""
        return self.advice.question

    @property
    def frame(self) -> pd.DataFrame:
        """The feet as a frame, one row each; empty where none is to be turned."""
        return self.feet.frame

    def to_dict(self) -> dict[str, Any]:
        """Return the level document: plain types only, equal to the command's JSON."""
        from pointmodel.levelling.document import level_document

        return level_document(self)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.levelling.text import level_text

        return level_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.levelling.card import level_card
        from pointmodel.showing.cards import brief

        return brief(level_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.levelling.card import level_card
        from pointmodel.showing.cards import html

        return html(level_card(self))
