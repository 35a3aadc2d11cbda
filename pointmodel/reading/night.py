"""What a night's log holds: the pairs as arrays, the events between them, and the mount file.

`nightlog.py` reads it from files, frames and dicts of columns.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import Notice
from pointmodel.base.offsets import step_on_sky_deg
from pointmodel.base.times import fixed_zone, time_resolution_s
from pointmodel.reading.columns import (
    ALT_MOTIONS,
    AZ_MOTIONS,
    CENTRED,
    COMMANDED,
    NUDGE,
    SEEN,
)
from pointmodel.reading.mountfile import MountFile

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Event:
    """Something that happened to the mount: its kind, its line, and the first pair after it.

    `before_pair` is an index into the pairs, their number where no pair follows. `note` is what
    stands beside it: the note of its line, and the target of a line that holds an event alone.
    `after_struck`: between the pair above and it stands a pair that was taken back.
    """

    kind: str
    line: int
    before_pair: int
    note: str | None = None
    after_struck: bool = False


@dataclass(frozen=True, eq=False)
class NightLog:
    """A log, checked: arrays of shape (n,) with one entry a pair, read-only, azimuths in [0, 360).

    `line` counts from 1 (file: as an editor does; frame: row position). `centred_*` are nan where
    nothing was centred; in a camera log (`camera`) they hold `seen_*`, and the mount read
    `commanded_*`. So they do in a log of nudges (`nudged`), with this difference: where the tube
    looked is not measured there but follows from the commanded place and the nudge. Times are
    POSIX seconds, nan where not logged; `time_offset_s` is how far from UTC they were written.
    Motions are +1 (clockwise, up), -1 (counter-clockwise, down), 0 where not logged.

    Commanded places belong to `time_s`: where the log tells that they were noted at another moment
    and the latitude is known they were carried to it. `noted` (n, 3) then keeps azimuth, altitude
    and moment as they stood in the log, and `commanded_time_s` is `time_s`. What was written in
    right ascension and declination is flagged `*_equatorial` (`reading/places.py` says what is
    assumed of it). `figures_summed` (n,), where readings are sums over the lines before, says by
    what the rounding of a single line's figures is multiplied (variance). `labels` (n,) is the
    index of the frame that the log came from, None where it came from elsewhere. `file_identity`
    tells the file apart from others (`reading/whichlog.py`), and is empty where there is none.
    """

    source: str
    name: str
    line: NDArray[np.int64]
    target: tuple[str | None, ...]
    commanded_az_deg: FloatArray
    commanded_alt_deg: FloatArray
    centred_az_deg: FloatArray
    centred_alt_deg: FloatArray
    camera: bool
    time_s: FloatArray
    commanded_time_s: FloatArray
    az_motion: FloatArray
    alt_motion: FloatArray
    events: tuple[Event, ...]
    note: tuple[str | None, ...]
    mount: MountFile
    warnings: tuple[Notice, ...]
    time_offset_s: float | None = None
    commanded_equatorial: bool = False
    centred_equatorial: bool = False
    noted: FloatArray | None = None
    nudged: bool = False
    figures_summed: FloatArray | None = None
    labels: Any = None
    file_identity: str = ""

    def __post_init__(self) -> None:
        """Hold copies of the arrays that nobody can write to."""
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                value = value.copy()
                value.setflags(write=False)
                object.__setattr__(self, field.name, value)

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Pickles forget that arrays are read-only."""
        self.__dict__.update(state)
        self.__post_init__()

    def __len__(self) -> int:
        """Number of pairs, complete or not."""
        return len(self.line)

    @property
    def star_az_deg(self) -> FloatArray:
        """Azimuth of the star: as commanded, or as a camera saw it."""
        return self.centred_az_deg if self.camera else self.commanded_az_deg

    @property
    def star_alt_deg(self) -> FloatArray:
        """Altitude of the star: as commanded, or as a camera saw it."""
        return self.centred_alt_deg if self.camera else self.commanded_alt_deg

    @property
    def reading_az_deg(self) -> FloatArray:
        """Azimuth that the mount read while it pointed at the star."""
        return self.commanded_az_deg if self.camera else self.centred_az_deg

    @property
    def reading_alt_deg(self) -> FloatArray:
        """Altitude that the mount read while it pointed at the star."""
        return self.commanded_alt_deg if self.camera else self.centred_alt_deg

    @property
    def noted_places(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Commanded azimuth, altitude (degrees) and the moment they belong to (POSIX s), (n,) each.

        As noted, before any was carried forward: this is what the controller said at that moment.
        """
        if self.noted is not None:
            az_deg, alt_deg, noted_s = self.noted.T
            return az_deg, alt_deg, noted_s
        told = np.isfinite(self.commanded_time_s)
        noted_s = np.where(told, self.commanded_time_s, self.time_s)
        return self.commanded_az_deg, self.commanded_alt_deg, noted_s

    @property
    def time_resolution_s(self) -> float | None:
        """How finely the moments of the commanded places were written, seconds; None without any.

        A person's `21:04` is a minute long: its true second is anywhere in it, or about it.
        """
        return time_resolution_s(self.noted_places[2])

    @property
    def shows_entries(self) -> bool:
        """Whether the commanded places are what the controller made of its clock and site.

        Right ascensions are not, nor is what an almanac says.
        """
        return not (self.commanded_equatorial or self.mount.log.commanded_from == "almanac")

    @property
    def clock_cleared_by(self) -> Literal["alignment", "almanac", "camera", "verified"] | None:
        """What clears date, time and place of looking like a lean; None: nothing that is known yet.

        What a camera saw is the true sky, and what an almanac says are true places: beside what the
        axes read they leave no room for the controller's clock. A nudge starts where the controller
        put the star, and right ascensions were made by its clock: there they clear nothing.
        """
        cleared = self.mount.clock_cleared_by
        if cleared == "alignment":
            return cleared
        if self.camera and not self.nudged:
            return "camera" if self.shows_entries else cleared
        if self.mount.log.commanded_from != "almanac":
            return cleared
        axes = self.mount.readout != "sky" and not (self.camera or self.centred_equatorial)
        return "almanac" if axes else cleared

    @property
    def has_both(self) -> BoolArray:
        """Which pairs are complete, (n,)."""
        return np.isfinite(self.centred_az_deg) & np.isfinite(self.centred_alt_deg)

    @property
    def pairs(self) -> pd.DataFrame:
        """The pairs as a new frame, index `line`, columns as in a log; `read_log` reads it.

        Places are azimuths and altitudes however they were written. Times carry the zone that they
        were logged in, the mount file's where it names one.
        """
        from pointmodel.reading.frames import frame_of_columns

        az_words = {value: word for word, value in AZ_MOTIONS.items()}
        alt_words = {value: word for word, value in ALT_MOTIONS.items()}
        columns: dict[str, Any] = {
            "target": list(self.target),
            COMMANDED[0]: self.commanded_az_deg,
            COMMANDED[1]: self.commanded_alt_deg,
            **self._second_columns(),
            "az_motion": [az_words.get(motion) for motion in self.az_motion.tolist()],
            "alt_motion": [alt_words.get(motion) for motion in self.alt_motion.tolist()],
            "event": self._events_by_pair(),
            "note": list(self.note),
        }
        moments = {"time": self.time_s, "commanded_time": self.commanded_time_s}
        zone = self.mount.zone or fixed_zone(self.time_offset_s or 0.0)
        return frame_of_columns(self.line, columns, moments, zone)

    @property
    def frame(self) -> pd.DataFrame:
        """The same as `pairs`."""
        return self.pairs

    def _second_columns(self) -> dict[str, FloatArray]:
        """The columns beside the commanded ones; nudges in arcminutes."""
        if not self.nudged:
            names = SEEN if self.camera else CENTRED
            return {names[0]: self.centred_az_deg, names[1]: self.centred_alt_deg}
        looked = self.centred_az_deg, self.centred_alt_deg
        nudge = step_on_sky_deg(*looked, self.commanded_az_deg, self.commanded_alt_deg)
        return {name: step_deg * 60.0 for name, step_deg in zip(NUDGE, nudge, strict=True)}

    def _events_by_pair(self) -> list[str | None]:
        """What happened before each pair, several events parted by +."""
        kinds: list[list[str]] = [[] for _ in range(len(self) + 1)]
        for event in self.events:
            kinds[event.before_pair].append(event.kind)
        return ["+".join(happened) or None for happened in kinds[: len(self)]]

    def with_readings(self, az_deg: FloatArray, alt_deg: FloatArray) -> NightLog:
        """The log with other figures, (n,) each, for what the mount read; stars stay as they are.

        Where those are the commanded ones, what the controller said is kept in `noted`.
        """
        if not self.camera:
            return replace(self, centred_az_deg=az_deg, centred_alt_deg=alt_deg)
        noted = np.stack(self.noted_places, axis=1)
        return replace(self, commanded_az_deg=az_deg, commanded_alt_deg=alt_deg, noted=noted)

    def select(self, mask: ArrayLike) -> NightLog:
        """A log with some of the pairs, `mask` (n,) of bools; every event stays, in its place."""
        chosen = np.asarray(mask, dtype=bool)
        if chosen.shape != (len(self),):
            raise ValueError(f"a mask of shape ({len(self)},) is wanted, not {chosen.shape}")
        kept_before = np.concatenate(([0], np.cumsum(chosen)))
        events = tuple(
            replace(event, before_pair=int(kept_before[event.before_pair])) for event in self.events
        )
        parts: dict[str, Any] = {"events": events}
        for name in ("target", "note"):
            parts[name] = tuple(np.array(getattr(self, name), dtype=object)[chosen].tolist())
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                parts[field.name] = value[chosen]
        if self.labels is not None:
            parts["labels"] = self.labels[chosen]
        return replace(self, **parts)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.reading.card import log_card
        from pointmodel.showing.cards import brief

        return brief(log_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.reading.card import log_card
        from pointmodel.showing.cards import html

        return html(log_card(self))
