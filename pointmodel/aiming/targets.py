"""What is asked of `aim`: targets as people write them, and the moment.

A target is an azimuth and altitude, or something in the sky by name or place.

Read `sky/targets.py` for the names that are understood; it is imported only where one is given.
"""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from pointmodel.base.angles import AngleError, parse_angle_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.times import TimeTextError, fixed_zone, parse_moment
from pointmodel.base.wording import quoted
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN, directions
from pointmodel.reading.columns import ALT_RANGE_DEG, AZ_RANGE_DEG

if TYPE_CHECKING:
    from pointmodel.sky.targets import Target

Wanted: TypeAlias = "str | tuple[float, float]"
AZ_ALT_WANTED = "azimuth and altitude in degrees, such as 123.5,45 or 123°30',45°"
FILE = "<targets>"
ZONE_WANTED = (
    "a zone behind it, such as 2031-05-17T21:04:30+10:00, or time_zone under [site] in the mount "
    "file: a target by name needs the true time"
)
_LONGEST_TARGET = 120  # letters: no name and no two angles have half as many
_HOURS_AND_A_SIGN = re.compile(r"\s*\d{1,2}\s*:\s*\d[^,]*,\s*[+−–-]")
_WHICH_OF_TWO = (
    "to know whether this is azimuth and altitude or right ascension and declination: write "
    "5°34',22° for the former, 05:34:31 +22:00:52 (with its sign) for the latter"
)
_HOURS_FIRST = re.compile(r"\s*(\d{1,2})\s*:\s*\d[^,;]*[,;]")
_WORD = re.compile(r"[^\W\d_]{3}|\dh", re.IGNORECASE)


@dataclass(frozen=True)
class Asked:
    """One target as asked: its name as written, and a place (degrees) or what is in the sky."""

    name: str
    place_deg: tuple[float, float] | None = None
    sky: Target | None = None


def asked_targets(targets: Sequence[Wanted] | Wanted) -> list[Asked]:
    """Return the targets in their order; one alone may stand bare.

    A pair of numbers, and a text of two figures parted by a comma, are azimuth and altitude;
    anything else is looked up in the sky. Raises InputError that lists all that cannot be read.
    """
    asked, problems = [], []
    for target in _listed(targets):
        try:
            asked.append(_asked(target))
        except AngleError as error:
            problems.append(Problem(FILE, None, None, quoted(target), str(error)))
    if problems:
        raise InputError(problems)
    return asked


def _listed(targets: Any) -> list[Any]:
    """The targets as a list; one alone may stand bare."""
    if hasattr(targets, "columns") and hasattr(targets, "itertuples"):
        return _rows_of_frame(targets)
    is_pair = isinstance(targets, tuple) and len(targets) == 2
    if isinstance(targets, str) or (is_pair and isinstance(targets[0], (int, float, np.number))):
        return [targets]
    try:
        return list(targets)
    except TypeError:
        wanted = f"a list of targets: names, or {AZ_ALT_WANTED}"
        raise InputError([Problem(FILE, None, None, quoted(targets), wanted)]) from None


def _rows_of_frame(frame: Any) -> list[Any]:
    """The rows of a frame of one column (targets) or two (azimuth and altitude, degrees)."""
    rows = list(frame.itertuples(index=False, name=None))
    if len(frame.columns) == 1:
        return [row[0] for row in rows]
    if len(frame.columns) == 2:
        return rows
    found = f"a frame of {len(frame.columns)} columns"
    wanted = "a frame of one column (targets) or two (azimuth and altitude in degrees)"
    raise InputError([Problem(FILE, None, None, found, wanted)])


def _asked(target: Any) -> Asked:
    """One target. Raises AngleError with what would be right."""
    if isinstance(target, str):
        name = target.strip()
        if len(name) > _LONGEST_TARGET:
            raise AngleError(AZ_ALT_WANTED)
        if not _is_place(name):
            return Asked(name, sky=_in_the_sky(name))
        if _may_be_hours(name):
            raise AngleError(_WHICH_OF_TWO)
        return Asked(name, place_deg=_checked(*_two_angles(name)))
    try:
        az_deg, alt_deg = (float(part) for part in target)
    except (TypeError, ValueError, OverflowError):
        raise AngleError(AZ_ALT_WANTED) from None
    return Asked(f"{az_deg:g},{alt_deg:g}", place_deg=_checked(az_deg, alt_deg))


def _is_place(text: str) -> bool:
    """Whether a text is meant as azimuth and altitude: two figures and a comma, no word.

    `5:34:31, +22:00` with its sign is a right ascension and declination, as catalogues have them.
    """
    parted = text.count(";") == 1 or text.count(",") == 1
    in_words = _WORD.search(text.replace("deg", "°")) is not None
    return parted and not in_words and not _HOURS_AND_A_SIGN.match(text)


def _may_be_hours(text: str) -> bool:
    """Whether the first of two figures is written as hours are, and could be hours."""
    match = _HOURS_FIRST.match(text)
    return match is not None and int(match[1]) < 24


def _in_the_sky(text: str) -> Target:
    from pointmodel.sky.targets import find_target

    try:
        return find_target(text, FILE)
    except InputError as error:
        wanted = error.problems[0].wanted
        raise AngleError(
            wanted if "did you mean" in wanted else f"{wanted}. Or {AZ_ALT_WANTED}"
        ) from None


def _two_angles(text: str) -> tuple[float, float]:
    """Azimuth and altitude of `az,alt`, or of `az;alt` with decimal commas."""
    separator = ";" if text.count(";") == 1 else ","
    try:
        az_deg, alt_deg = (parse_angle_deg(p, separator == ";") for p in text.split(separator))
    except AngleError as error:
        raise AngleError(f"{AZ_ALT_WANTED} ({error})") from None
    return az_deg, alt_deg


def _checked(az_deg: float, alt_deg: float) -> tuple[float, float]:
    for value, (low, high), what in (
        (az_deg, AZ_RANGE_DEG, "azimuth"),
        (alt_deg, ALT_RANGE_DEG, "altitude"),
    ):
        if not low <= value <= high:
            raise AngleError(f"{what} from {low:g} to {high:g} degrees")
    return az_deg, alt_deg


@dataclass(frozen=True)
class AskedMoment:
    """When the targets are wanted: as ISO 8601 with its zone, and POSIX seconds; None: not known.

    A moment in an unknown zone is written as if it were UTC, but its seconds are not known.
    """

    written: str | None = None
    time_s: float | None = None


def asked_moment(
    at: str | datetime | None, zone: tzinfo | None, by_name: bool
) -> tuple[AskedMoment, list[Notice]]:
    """Return the moment, and what is to be said of it; left out, it is now for targets by name.

    Without a zone of its own it is one of `zone`. Raises InputError for what is no moment, and
    where a target by name would hang on an unknown zone.
    """
    if at is None:
        if not by_name:
            return AskedMoment(), []
        now_s = time.time()
        return AskedMoment(_written(now_s, zone or UTC), now_s), []
    try:
        text = at.isoformat() if isinstance(at, datetime) else at
        moment = parse_moment(text, zone)
    except (TimeTextError, AttributeError) as error:
        wanted = str(error) if isinstance(error, TimeTextError) else "a text or a datetime"
        raise InputError([Problem("<at>", None, None, quoted(at), wanted)]) from None
    if moment.offset_s is not None:
        written = _written(moment.posix_s, fixed_zone(moment.offset_s))
        return AskedMoment(written, moment.posix_s), []
    if by_name:
        raise InputError([Problem("<at>", None, None, quoted(text), ZONE_WANTED)])
    told = f"the time {text} has no zone, and the mount file names none. It is taken as UTC"
    return AskedMoment(_written(moment.posix_s, UTC)), [Notice("time_zone", told)]


def _written(posix_s: float, zone: tzinfo) -> str:
    return datetime.fromtimestamp(posix_s, zone).isoformat(timespec="seconds")


def nearest_star_deg(
    az_deg: FloatArray, alt_deg: FloatArray, star_az_deg: FloatArray, star_alt_deg: FloatArray
) -> FloatArray:
    """Return how far each place (k,) is from the nearest star of the log, degrees."""
    places = directions(np.radians(az_deg), np.radians(alt_deg))
    stars = directions(np.radians(star_az_deg), np.radians(star_alt_deg))
    closest = np.clip((places @ stars.T).max(axis=1), -1.0, 1.0)
    return np.asarray(np.arccos(closest) * ARCMIN_PER_RADIAN / 60.0)
