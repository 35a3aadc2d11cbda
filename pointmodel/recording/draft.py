"""A pair in the making: what was typed so far, offered again wherever it is asked anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pointmodel.reading.mountfile import MountFile
from pointmodel.recording.entry import EnteredPlace
from pointmodel.recording.session import stamp

KEPT_WITH_IT = ("note", "az_motion", "alt_motion")


@dataclass
class Draft:
    """Texts of a pair that is not kept yet; `further` holds its note and last motions.

    `time_s` was told in place of the clock's; `time` is when the offered place was centred.
    """

    star: str | None = None
    commanded: str | None = None
    centred: str | None = None
    further: dict[str, str] = field(default_factory=dict)
    time_s: float | None = None
    time: str | None = None

    @classmethod
    def of_struck(cls, cells: Mapping[str, str], second: str) -> Draft:
        """The pair of a line that was struck; `second` is centred or seen."""
        return cls(
            cells.get("target", ""),
            _both(cells, "commanded"),
            _both(cells, second),
            {name: cells[name] for name in KEPT_WITH_IT if name in cells},
            time=cells.get("time"),
        )

    def cells(
        self,
        commanded: EnteredPlace,
        centred: EnteredPlace,
        second: str,
        now_s: float,
        mount: MountFile,
    ) -> dict[str, str]:
        """The filled cells of the pair, by column name, now that it has both places.

        Its time is as told, as it was where a struck pair's place is the same, else now.
        """
        time = stamp(self.time_s or now_s, mount)
        if self.time_s is None and self.time and as_offered(centred) == self.centred:
            time = self.time
        cells = {
            "target": self.star or "",
            "time": time,
            "commanded_az": commanded.az_text,
            "commanded_alt": commanded.alt_text,
            f"{second}_az": centred.az_text,
            f"{second}_alt": centred.alt_text,
            **self.further,
        }
        return {name: cell for name, cell in cells.items() if cell}


def as_offered(place: EnteredPlace) -> str:
    """A place as it is offered again: as typed, its two angles parted by a comma."""
    return f"{place.az_text}, {place.alt_text}"


def _both(cells: Mapping[str, str], which: str) -> str | None:
    if f"{which}_az" not in cells:
        return None
    return f"{cells[f'{which}_az']}, {cells[f'{which}_alt']}"
