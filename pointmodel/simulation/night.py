"""One simulated night: what it is drawn from, and the night held together with its truth.

`draw.py` draws it, `files.py` writes it; `../simulate.py` is the door for users.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.arrays import FloatArray
from pointmodel.simulation.faults import Fault
from pointmodel.simulation.mount import SimulatedCircumstances

if TYPE_CHECKING:
    import pandas as pd

    from pointmodel.reading.mountfile import MountFile
    from pointmodel.reading.nightlog import NightLog

MountClass = Literal["usual", "varied", "worse", "perfect"]
PenSlipPlace = Literal["centred", "commanded"]
Motions = Literal["mixed", "same", "unlogged"]
MOUNT_CLASSES: tuple[MountClass, ...] = get_args(MountClass)
PEN_SLIP_PLACES: tuple[PenSlipPlace, ...] = get_args(PenSlipPlace)
MOTIONS: tuple[Motions, ...] = get_args(Motions)
FIRST_LINE = 2  # the header is line 1


@dataclass(frozen=True)
class NightOptions:
    """What a night is drawn from; `simulate` documents each. Values are taken as checked.

    `start_s` is POSIX seconds, `utc_offset_s` the zone in which times are written.
    """

    pairs: int = 12
    terms: Mapping[str, float] = field(default_factory=dict)
    mount_class: MountClass = "usual"
    sigma_arcmin: float | None = None
    mount_share: float | None = None
    readout_step_arcsec: float | None = None
    wrong_stars: int = 0
    pen_slips: int = 0
    pen_slip_kind: str | None = None
    pen_slip_in: PenSlipPlace = "centred"
    slip_after_pair: int | None = None
    low_alt_deg: float = 15.0
    high_alt_deg: float = 80.0
    start_s: float = 1936951200.0
    utc_offset_s: int = 36000
    minutes_between: float = 3.0
    motions: Motions = "mixed"
    sidereal_error_min: float = 0.0
    latitude_error_deg: float = 0.0
    mount: MountFile | None = None


@dataclass(frozen=True, eq=False)
class SimulatedNight:
    """A made-up night and the truth about it; arrays of shape (n,), in the log's order.

    `commanded_*` and `centred_*` are the log's figures, rounded and with their faults; `star_*` is
    where the named star truly stood, in the frame of commands. `terms` holds every term by name
    (unit as in `terms_of_the_mount()`). `scatter_arcmin` (the mount's) and `centring_arcmin` (the
    person's) are per axis and make up `sigma_arcmin`. `cause` says per pair why it is bad, else
    None.
    """

    seed: int | None
    options: NightOptions
    terms: Mapping[str, float]
    sigma_arcmin: float
    scatter_arcmin: float
    centring_arcmin: float
    readout_step_arcsec: float
    slip_after_pair: int
    target: tuple[str, ...]
    star_az_deg: FloatArray
    star_alt_deg: FloatArray
    commanded_az_deg: FloatArray
    commanded_alt_deg: FloatArray
    centred_az_deg: FloatArray
    centred_alt_deg: FloatArray
    circumstances: SimulatedCircumstances
    time_s: FloatArray
    cause: tuple[str | None, ...]
    faults: tuple[Fault, ...]

    @property
    def line(self) -> NDArray[np.int64]:
        """Line of each pair in the log file, the header being line 1."""
        return np.arange(self.time_s.size, dtype=np.int64) + FIRST_LINE

    @property
    def bad(self) -> NDArray[np.bool_]:
        """Whether each pair is bad, (n,)."""
        return np.array([cause is not None for cause in self.cause])

    @cached_property
    def log(self) -> NightLog:
        """The night as `read_log` would give it."""
        from pointmodel.simulation.files import night_log

        return night_log(self)

    @property
    def frame(self) -> pd.DataFrame:
        """The log as a frame, index `line`; `pm.fit` takes it."""
        return self.log.pairs

    def to_csv_text(self) -> str:
        """The log as the text of a CSV file."""
        from pointmodel.simulation.files import csv_text

        return csv_text(self)

    @property
    def truth(self) -> dict[str, Any]:
        """The truth as a document of plain types (see `to_dict`)."""
        return self.to_dict()

    def to_dict(self, files: tuple[str, ...] = ()) -> dict[str, Any]:
        """The JSON document of `pointmodel simulate`; `files` are those already written."""
        from pointmodel.simulation.files import truth_document

        return truth_document(self, files)

    def write(self, path: str | Path) -> tuple[str, str]:
        """Write the log and, beside it, `<stem>.truth.json`; return both paths.

        Raises `InputError` where either file exists already or cannot be made; nothing is
        replaced.
        """
        from pointmodel.simulation.files import write_night

        return write_night(self, path)

    def __str__(self) -> str:
        """The night in a few lines of text."""
        from pointmodel.simulation.files import night_text

        return night_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.showing.cards import brief
        from pointmodel.simulation.card import night_card

        return brief(night_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.showing.cards import html
        from pointmodel.simulation.card import night_card

        return html(night_card(self))
