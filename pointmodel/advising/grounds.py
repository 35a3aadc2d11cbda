"""What the verdict rests on, and what stands against turning a foot.

Read `diagnosis/lean.py` first. No remedy is weighed here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from pointmodel.diagnosis.happened import of_the_mount
from pointmodel.diagnosis.lean import Lean
from pointmodel.diagnosis.result import Cause
from pointmodel.estimate.inturn import Happened
from pointmodel.forecasting.forecast import Ground, forecasts_after
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount.remedies import REMEDIES, TARGETS_AN_EVENING, USUAL_FIELD_ARCMIN
from pointmodel.reading.mountfile import MountFile
from pointmodel.readings.result import Readings

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault
    from pointmodel.diagnosis.skyevidence import SkyEvidence
    from pointmodel.estimate.posterior import Posterior
    from pointmodel.forecasting.realignstars import NamedPair

# what stands against turning a foot, whatever it might gain
Against = Literal[
    "figures",
    "taken_up",
    "hidden",
    "sinking",
    "moved_lately",
    "entries",
    "only_entries",
    "no_lean",
    "unseen",
]
ClearedBy = Literal["check", "verified", "alignment", "almanac", "camera"]

UNSEEN_ABOVE_ARCMIN = 10.0  # a lean that could be so large is not known to be none; a choice
FEWEST_AFTER_MOVE = 4  # stars since the base last moved, that its lean now may order feet
OWN_LEAN_BELOW = 0.2  # the chance of a lean besides the feigned one below which there is none


@dataclass(frozen=True, kw_only=True)
class Grounds:
    """What the verdict rests on: the posterior, forecasts and causes, what figures and sky say.

    `lines_set_aside` are lines of the log; `happened` what happened to the mount meanwhile,
    unlogged; `cleared` what clears the controller's clock and place, None where nothing does;
    `fault` what went wrong with an alignment; `realign_on` finds two stars to align on by name;
    `level_order` words the feet; `pressed_each_line`: the controller was told “this is the star”
    after every line; `targets` are those of the evening.
    """

    mount: MountFile
    posterior: Posterior
    lean: Lean
    ground: Ground
    forecasts: tuple[RemedyForecast, ...]
    causes: tuple[Cause, ...]
    lines_set_aside: tuple[int, ...]
    pairs_used: int
    happened: tuple[Happened, ...]
    readings: Readings
    sky: SkyEvidence | None
    cleared: ClearedBy | None
    fault: AlignmentFault | None
    realign_on: Callable[[], NamedPair | None]
    level_order: Callable[[], str]
    pressed_each_line: bool = False
    targets: int = TARGETS_AN_EVENING

    @property
    def now(self) -> RemedyForecast:
        """How go-to stands as it is."""
        return self.forecasts[0]

    def forecast_of(self, remedy: str) -> RemedyForecast:
        """Return the forecast of one row of the table."""
        return next(one for one in self.forecasts if one.remedy == remedy)

    def forecasts_after(
        self, ways: Iterable[tuple[str, ...]]
    ) -> dict[tuple[str, ...], RemedyForecast]:
        """Return how go-to stands once the actions of each way were done: each worked out once."""
        asked = tuple(ways)
        missing = {" ".join(way): way for way in asked if way not in self._after}
        made = forecasts_after(self.ground, missing)
        self._after.update({missing[name]: forecast for name, forecast in made.items()})
        return {way: self._after[way] for way in asked}

    @cached_property
    def _after(self) -> dict[tuple[str, ...], RemedyForecast]:
        return {remedy.actions: self.forecast_of(remedy.name) for remedy in REMEDIES.values()}

    @property
    def field_arcmin(self) -> float:
        """The eyepiece's field, a usual one where it is not stated."""
        return self.mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN

    @property
    def likely(self) -> frozenset[str]:
        """The causes that are likely."""
        return frozenset(one.cause for one in self.causes if one.verdict == "likely")

    @property
    def last_move(self) -> Happened | None:
        """What last happened to the mount unlogged, None where nothing did, or it is over."""
        return last_move(self.happened)


def last_move(happened: tuple[Happened, ...]) -> Happened | None:
    """Return what last happened to the mount unlogged, None where nothing did, or it is over."""
    moves = [one for one in of_the_mount(happened) if one.taken_up and not one.is_over]
    return moves[-1] if moves else None


def against_levelling(grounds: Grounds) -> Against | None:
    """Return what forbids turning a foot, None where nothing does but too small a gain.

    Figures that are not known to mean what they say, and a log in which an alignment hides the
    lean, say nothing of the tripod; nor does one during which the base moved but for its end.
    """
    mount, lean, sky = grounds.mount, grounds.lean, grounds.sky
    if grounds.readings.stops is not None:
        return "figures"
    if mount.drives_by_alignment:
        return "taken_up"
    if mount.lean_is_hidden:
        return "hidden"
    if grounds.readings.feet_wait is not None:
        return "figures"
    moved = grounds.last_move
    if moved is not None and moved.kind == "sinking":
        return "sinking"
    if moved is not None and moved.pairs_after < FEWEST_AFTER_MOVE:
        return "moved_lately"
    if sky is not None and sky.verdict == "disagrees" and grounds.cleared != "camera":
        upright = sky.apart is not None and sky.apart.probability < OWN_LEAN_BELOW
        return "only_entries" if upright else "entries"
    if not lean.is_real:
        return "no_lean" if lean.high <= UNSEEN_ABOVE_ARCMIN else "unseen"
    return None
