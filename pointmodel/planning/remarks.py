"""What has to be said beside the list of stars: darkness, Moon, few stars, another night, refusals.

Read `candidates.py` first. Notices have short stable codes; a reason is one sentence's worth.
"""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from itertools import pairwise
from typing import TYPE_CHECKING, Protocol

import numpy as np

from pointmodel.base.cautions import FILTERED, HOLD_THE_TUBE, MAKERS_MANUAL, SUN
from pointmodel.base.errors import Notice
from pointmodel.base.times import format_utc_offset
from pointmodel.base.wording import join
from pointmodel.planning.candidates import (
    HIGHEST_DEG,
    LOWEST_DEG,
    Candidates,
    Scene,
)
from pointmodel.planning.darkness import DARK_SUN_ALT_DEG, moon_now
from pointmodel.planning.entrycard import EntryCard
from pointmodel.sky.sunguard import KEEP_OUT_DEG, slew_passes_sun, sun_notices, too_near_sun

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit
    from pointmodel.reading.mountfile import MountFile

REFUSED_TO_MAGNITUDE = 1.6
GLARING_ALT_DEG, GLARING_LIT = 5.0, 0.3

TAKEN_AS_UTC = (
    "the time has no zone, and the mount file names none. It is taken as UTC: write time_zone "
    "under [site]"
)
IN_DOUBT = "the clocks change just then, so this local time is in doubt. Give its offset from UTC"
CAUTIONS = (
    SUN,
    "Take time and site from a phone or GPS, never from the controller itself.",
    HOLD_THE_TUBE,
    MAKERS_MANUAL,
)


class _Placed(Protocol):
    @property
    def target(self) -> str: ...
    @property
    def az_deg(self) -> float: ...
    @property
    def alt_deg(self) -> float: ...


def iso(time_s: float, zone: tzinfo | None) -> str:
    """Return POSIX seconds as ISO 8601 in a zone, UTC where it is unknown."""
    return datetime.fromtimestamp(round(time_s), zone or UTC).isoformat()


def clock_words(time_s: float, zone: tzinfo | None) -> str:
    """Return a moment as one would say it: `2031-05-17 18:05 (UTC+10:00)`."""
    local = datetime.fromtimestamp(round(time_s), zone or UTC)
    offset = local.utcoffset()
    seconds = 0.0 if offset is None else offset.total_seconds()
    name = "UTC" if zone is None else f"UTC{format_utc_offset(seconds)}"
    return f"{local:%Y-%m-%d %H:%M} ({name})"


def moved_to_darkness(dark_s: float, zone: tzinfo | None) -> Notice:
    """Return the remark that the plan is for when it gets dark."""
    text = f"it is too light for stars now. This plan is for {clock_words(dark_s, zone)}"
    return Notice("moved_to_darkness", f"{text}, when it is dark (for another time: --at TIME)")


def of_the_sky(sky: Scene, dark_s: float | None, zone: tzinfo | None) -> list[Notice]:
    """Return what to say of Sun, twilight and Moon."""
    notices = []
    if sky.sun.alt_deg >= DARK_SUN_ALT_DEG:
        up = sky.sun.alt_deg > -0.83
        light = "the Sun is up: no star can be seen" if up else "it is twilight: few stars show"
        if dark_s is None:
            until = "It does not get dark here within a year"
        else:
            until = f"It is dark enough from {clock_words(dark_s, zone)} on"
            if dark_s - sky.time_s > 86400.0:
                until = f"It does not get dark here now. {until}"
        notices.append(Notice("daylight" if up else "twilight", f"{light}. {until}"))
    notices += sun_notices(sky.sun)
    moon = moon_now(sky.moon, sky.time_s)
    if moon.alt_deg > GLARING_ALT_DEG and moon.lit > GLARING_LIT:
        where = f"the Moon ({100 * moon.lit:.0f} % lit) is up at azimuth {moon.az_deg:.0f}°"
        text = f"{where}, {moon.alt_deg:.0f}° up. Its glare hides faint stars"
        notices.append(Notice("moon", text))
    return notices


def of_the_stars(
    found: Candidates, order: list[int], count: int, planned: tuple[_Placed, ...], sky: Scene
) -> list[Notice]:
    """Return what to say of too few stars, of slews past the Sun and of stars easily confused."""
    notices = []
    if len(order) < count:
        only = f"only {len(order)} star{'s' if len(order) > 1 else ''}"
        notices.append(
            Notice(
                "few_stars", f"{count} stars were asked for, but {only} can be used at that time"
            )
        )
    unsafe = [
        f"from {one.target} to {other.target}"
        for one, other in pairwise(planned)
        if slew_passes_sun(sky.sun, one.az_deg, one.alt_deg, other.az_deg, other.alt_deg)
    ]
    if unsafe:
        text = f"the way {join(unsafe)} may pass within {KEEP_OUT_DEG:.0f}° of the Sun"
        notices.append(Notice("sun_slew", f"{text}. Cap the telescope, or go round by hand"))
    setting = [sky.label(int(found.star[k])) for k in order if not found.stays[k]]
    if setting:
        notices.append(
            Notice(
                "setting", f"centre {join(setting)} early, before it sets or goes behind something"
            )
        )
    return notices


def of_the_fit(after: Fit | None, anew: bool, mount: MountFile) -> list[Notice]:
    """Return what to say of a fit that the plan goes on from."""
    if after is None:
        return []
    if anew:
        text = (
            "the log is of another night. What it says of tube and fork still counts; azimuth "
            "zero, altitude zero and lean are taken as new"
        )
        return [Notice("another_night", text)]
    if not np.isfinite(after.log.time_s).any():
        text = (
            "the log has no times and is taken as tonight's. If the mount was set down again "
            "since, its azimuth zero and lean are new"
        )
        return [Notice("no_times", text)]
    return []


def of_the_card(card: EntryCard, said: list[Notice]) -> list[Notice]:
    """Return what to say of the zone, beside what was said already."""
    notices = []
    if not card.zone_known and "zone" not in [notice.code for notice in said]:
        text = "the mount file names no time zone, so times are in UTC. Add time_zone under [site]"
        notices.append(Notice("zone", text))
    if card.clocks_change is not None:
        text = f"the clocks change at {card.clocks_change:%H:%M}. From then on another offset holds"
        notices.append(Notice("clocks_change", text))
    return notices


def refused(sky: Scene, found: Candidates) -> list[tuple[str, str]]:
    """Return the Sun, while it matters, and bright stars that one might think of, with reasons."""
    refusals = []
    if sky.sun.matters:
        near = f"never {FILTERED}. Nothing within {KEEP_OUT_DEG:.0f}° of it is used either"
        refusals.append(("Sun", near))
    usable = set(found.star.tolist())
    for star in np.flatnonzero(sky.magnitude <= REFUSED_TO_MAGNITUDE).tolist():
        if star not in usable:
            refusals.append((sky.label(star), _reason(sky, star)))
    return refusals


def _reason(sky: Scene, star: int) -> str:
    az_deg, alt_deg = sky.az_deg[star], float(sky.alt_deg[star])
    if bool(too_near_sun(sky.sun, az_deg, alt_deg)):
        return f"within {KEEP_OUT_DEG:.0f}° of the Sun"
    open_alt = float(sky.mount.open_alt_deg(az_deg))
    if alt_deg < open_alt:
        return f"{alt_deg:.0f}° up, behind your horizon ({open_alt:.0f}° there)"
    if alt_deg < LOWEST_DEG:
        return f"too low: {alt_deg:.0f}° up"
    return f"too near the zenith: {alt_deg:.0f}° up ({HIGHEST_DEG:.0f}° is the most)"
