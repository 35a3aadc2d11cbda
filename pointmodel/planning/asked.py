"""What a plan is asked for: site, moment and number of stars, each checked.

Read `times.py` and `mountfile.py` first. Every error here is the user's to mend, and says how.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.times import TimeTextError, fixed_zone, parse_moment
from pointmodel.base.wording import quoted
from pointmodel.planning import remarks
from pointmodel.planning.darkness import next_dark_s
from pointmodel.reading.mountfile import MountFile, MountSource, read_mount
from pointmodel.sky.observer import Observer

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit

MOST_STARS = 30
LONGEST_MOVE_S = 24 * 3600.0  # where the night is farther off, there is none


@dataclass(frozen=True)
class PlannedMoment:
    """The plan's moment: POSIX seconds, as ISO 8601, and the zone to show times in, if known."""

    time_s: float
    text: str
    zone: tzinfo | None


def moment_of(
    at: str | datetime | None, mount: MountFile, observer: Observer
) -> tuple[PlannedMoment, list[Notice]]:
    """Return the moment that is meant. Raises InputError for a text that is none."""
    zone = mount.zone
    if at is None:
        now_s = float(np.floor(time.time()))
        dark_s = next_dark_s(observer, now_s)
        if dark_s is None or dark_s == now_s or dark_s - now_s > LONGEST_MOVE_S:
            return PlannedMoment(now_s, remarks.iso(now_s, zone), zone), []
        notice = remarks.moved_to_darkness(dark_s, zone)
        return PlannedMoment(dark_s, remarks.iso(dark_s, zone), zone), [notice]
    text = at.isoformat() if isinstance(at, datetime) else at
    try:
        if not isinstance(text, str):
            raise TimeTextError("date and time as ISO 8601 text, or a datetime")
        moment = parse_moment(text, zone)
    except TimeTextError as error:
        raise InputError([Problem("<at>", None, None, quoted(at), str(error))]) from None
    notices = []
    if moment.offset_s is None:
        notices.append(Notice("zone", remarks.TAKEN_AS_UTC))
    if moment.in_doubt:
        notices.append(Notice("zone", remarks.IN_DOUBT))
    if zone is None and moment.offset_s is not None:
        zone = fixed_zone(moment.offset_s)
    return PlannedMoment(moment.posix_s, remarks.iso(moment.posix_s, zone), zone), notices


def night_of(mount: MountSource, after: Fit | None) -> MountFile:
    """Return the mount file that is meant: the fit's where none is named. Raises InputError."""
    from pointmodel.fitting.result import Fit

    if after is not None and not isinstance(after, Fit):
        wanted = "a fit, as pm.fit gives it, or None"
        raise InputError([Problem("<after>", None, None, quoted(after), wanted)])
    if mount is None and after is not None:
        return after.log.mount
    return read_mount(mount)


def observer_over(mount: MountFile) -> Observer:
    """Return the observer at the mount file's site. Raises InputError where it is not known."""
    observer = mount.observer
    if observer is None:
        site = mount.site
        missing = [
            name
            for name, value in (
                ("latitude", site and site.latitude_deg),
                ("longitude", site and site.longitude_deg),
            )
            if value is None
        ]
        found = f"no {' and no '.join(missing)} under [site]"
        raise InputError([Problem(mount.source or "<mount>", None, "site", found, _SITE_WANTED)])
    return observer


_SITE_WANTED = (
    "the site in mount.toml, such as [site] latitude = -41.3, longitude = 146.2 (degrees, south "
    'and west negative), time_zone = "Australia/Hobart", which tells which stars are up'
)


def count_of(stars: Any) -> int:
    """Return the number of stars that is meant. Raises InputError for anything but 1 to 30."""
    whole = isinstance(stars, (int, np.integer)) and not isinstance(stars, bool)
    if not whole or not 1 <= stars <= MOST_STARS:
        wanted = f"a whole number of stars, 1 to {MOST_STARS}"
        raise InputError([Problem("<stars>", None, None, quoted(stars), wanted)])
    return int(stars)


def no_star(mount: MountFile) -> Problem:
    """Return what is wrong where no star can be asked for."""
    file = mount.source or "<mount>"
    if mount.horizon:
        found = "a horizon profile with no bright star above it at that moment"
        wanted = "lowest open altitudes, degrees, that leave some sky, or another time (--at)"
        return Problem(file, None, "horizon.profile", found, wanted)
    found = "no bright star between 10° and 80°, clear of the Sun"
    return Problem(file, None, "site", found, "another time (--at)")
