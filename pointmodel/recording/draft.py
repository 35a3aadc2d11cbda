"""A pair in the making: what was typed so far, offered again wherever it is asked anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pointmodel.base.times import TimeTextError, parse_moment
from pointmodel.reading.columns import NUDGE, columns_of
from pointmodel.reading.mountfile import MountFile
from pointmodel.recording.entry import EnteredNudge, EnteredPlace
from pointmodel.recording.session import stamp

Entered = EnteredPlace | EnteredNudge
KEPT_WITH_IT = ("note", "az_motion", "alt_motion")


@dataclass
class Draft:
    """Texts of a pair that is not kept yet; `further` holds its note and last motions.

    `commanded_s` is when the commanded place was noted, `dated` whether that goes into the log (the
    star moved on before it was centred). `time_s` was told in place of the clock's; `time` is when
    the offered second place was centred. `pressed`: the controller was zeroed on this star once it
    was centred, which is noted after the pair.
    """

    star: str | None = None
    commanded: str | None = None
    centred: str | None = None
    further: dict[str, str] = field(default_factory=dict)
    commanded_s: float | None = None
    dated: bool = False
    time_s: float | None = None
    time: str | None = None
    pressed: bool = False

    @classmethod
    def of_struck(cls, cells: Mapping[str, str], second: str, mount: MountFile) -> Draft:
        """The pair of a line that was struck; `second` is centred, seen or nudge."""
        noted = cells.get("commanded_time") or cells.get("time")
        return cls(
            cells.get("target", ""),
            _both(cells, "commanded"),
            _both(cells, second),
            {name: cells[name] for name in KEPT_WITH_IT if name in cells},
            commanded_s=_moment_s(noted, mount),
            dated="commanded_time" in cells,
            time=cells.get("time"),
        )

    @property
    def is_begun(self) -> bool:
        """Whether anything of the pair was typed."""
        return bool(self.star or self.commanded or self.centred)

    def note_commanded(self, offered: str, now_s: float) -> None:
        """Take down the commanded place and, where it is another than before, its moment."""
        if offered != self.commanded or self.commanded_s is None:
            self.commanded_s, self.dated = now_s, False
        self.commanded = offered

    def time_text(self, second: Entered, now_s: float, mount: MountFile) -> str:
        """When the pair was centred: as told, as it was where its second place is the same, else
        now.
        """
        if self.time_s is None and self.time and second.offered == self.centred:
            return self.time
        return stamp(self.time_s or now_s, mount)

    def age_s(self, second: Entered, now_s: float, mount: MountFile) -> float:
        """How long before the centring the commanded place was noted, as far as that is known."""
        centred_s = _moment_s(self.time_text(second, now_s, mount), mount)
        if self.time_s is not None or self.commanded_s is None or centred_s is None:
            return 0.0
        return centred_s - self.commanded_s

    def cells(
        self,
        commanded: EnteredPlace | None,
        second: Entered,
        second_name: str,
        now_s: float,
        mount: MountFile,
    ) -> dict[str, str]:
        """The filled cells of the pair, by column name, now that it has both places."""
        cells = {"target": self.star or "", "time": self.time_text(second, now_s, mount)}
        if commanded is not None:
            cells |= commanded.cells("commanded")
            if self.dated and self.commanded_s is not None:
                cells["commanded_time"] = stamp(self.commanded_s, mount)
        cells |= second.cells(second_name) | self.further
        return {name: cell for name, cell in cells.items() if cell}


@dataclass
class InHand:
    """The pair that is being typed, and others put by while an earlier one is entered again.

    `is_begun`: its first question is answered.
    """

    draft: Draft = field(default_factory=Draft)
    waiting: list[Draft] = field(default_factory=list)
    is_begun: bool = False

    def next_one(self) -> None:
        """Go on with a pair that was put by, or with a new one."""
        self.draft, self.is_begun = self.waiting.pop() if self.waiting else Draft(), False


def _both(cells: Mapping[str, str], which: str) -> str | None:
    first, second = NUDGE if which == "nudge" else columns_of(which, equatorial=False)
    return f"{cells[first]}, {cells[second]}" if first in cells else None


def _moment_s(text: str | None, mount: MountFile) -> float | None:
    try:
        return parse_moment(text, mount.zone).posix_s if text else None
    except TimeTextError:
        return None
