"""What Sun and Moon mean for a list of targets, in the order in which they are gone to.

Read `sunguard.py` first: what stands too near the Sun is refused before it comes here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import Notice
from pointmodel.base.wording import join
from pointmodel.sky.sunguard import KEEP_OUT_DEG, Sun, slew_passes_sun

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

GLARE_DEG = 10.0
BRIGHT = 0.3  # share of the Moon's disc that is lit
OF_ITSELF_DEG = 0.5


@dataclass(frozen=True, eq=False)
class SeenTargets:
    """Targets that can be sent, k of them, and where they truly stand in the sky, degrees, (k,)."""

    names: tuple[str, ...]
    az_deg: FloatArray
    alt_deg: FloatArray


def slew_notices(targets: SeenTargets, sun: Sun | None) -> Iterable[Notice]:
    """Warn of the ways between targets that may pass a Sun which is up or in twilight."""
    if sun is None or not sun.matters or not targets.names:
        return
    yield Notice(
        "sun_first_slew",
        f"the way to {targets.names[0]} is not checked, since nobody here knows where the "
        "telescope points now. See where the Sun is before the mount moves",
    )
    ends = list(zip(targets.names, targets.az_deg, targets.alt_deg, strict=True))
    for (here, *start), (there, *end) in pairwise(ends):
        if slew_passes_sun(sun, *start, *end):
            yield Notice(
                "sun_slew",
                f"the way from {here} to {there} may pass within {KEEP_OUT_DEG:.0f}° of the Sun. "
                "Cap the telescope and its finder until the mount stops, or go round by the far "
                "side of the sky",
            )


def moon_notices(targets: SeenTargets, mount: MountFile, time_s: float | None) -> Iterable[Notice]:
    """Remark on targets that a bright Moon outshines; nothing where time or site is unknown."""
    if time_s is None or mount.place_deg is None or not targets.names:
        return
    from pointmodel.sky.bodies import moon_lit_fraction, moon_place
    from pointmodel.sky.places import azimuth_altitude

    observer = mount.observer
    assert observer is not None  # the place is known
    moon = moon_place(time_s, observer)
    az_deg, alt_deg = azimuth_altitude(moon.ra_deg, moon.dec_deg, time_s, observer)
    lit = float(moon_lit_fraction(time_s))
    if alt_deg < 0.0 or lit < BRIGHT:
        return
    away_deg = separation_arcmin(az_deg, alt_deg, targets.az_deg, targets.alt_deg) / 60.0
    near = [
        f"{name} ({away:.0f}°)"
        for name, away in zip(targets.names, away_deg.tolist(), strict=True)
        if OF_ITSELF_DEG < away < GLARE_DEG
    ]
    if near:
        text = f"the Moon, {lit * 100:.0f} % lit, is close to {join(near)}"
        yield Notice("moon", f"{text}. Its light drowns faint things")
