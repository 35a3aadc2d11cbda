"""The stars that may be gone to now, each with where to look: for who wishes for another one.

Read `candidates.py` and `finding.py` first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.planning.candidates import candidates, scene
from pointmodel.planning.finding import how_to_know, where_to_look
from pointmodel.reading.mountfile import MountFile


@dataclass(frozen=True)
class StarUp:
    """A star that may be gone to: degrees, where it is seen; `how_to_know`: what it looks like."""

    target: str
    az_deg: float
    alt_deg: float
    magnitude: float
    how_to_know: str

    @property
    def how_to_find(self) -> str:
        """Where to look, and what it looks like."""
        return f"{where_to_look(self.az_deg, self.alt_deg)}; {self.how_to_know}"


def stars_up(mount: MountFile, time_s: float, most: int) -> tuple[StarUp, ...]:
    """Return the stars that may be asked for at POSIX seconds, the brightest first, `most` at most.

    None where the site is not known. Of a Sun that is up or in twilight they stand clear.
    """
    observer = mount.observer
    if observer is None:
        return ()
    sky = scene(mount, observer, time_s)
    found = candidates(sky)
    brightest = np.argsort(found.magnitude, kind="stable")[:most]
    return tuple(
        StarUp(
            target=sky.label(int(found.star[k])),
            az_deg=float(found.az_deg[k]),
            alt_deg=float(found.alt_deg[k]),
            magnitude=float(found.magnitude[k]),
            how_to_know=how_to_know(sky, int(found.star[k]), found.confusable[k]),
        )
        for k in brightest
    )
