"""`aim`: where to send the mount so that a target ends up in the middle of the eyepiece.

Read `mountmodel.py` and `forecast.py` first. Targets are directions in the frame of the log's
`commanded`; each comes back with a status, and with numbers only where they may be used.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from pointmodel.angles import AngleError, format_dm, parse_angle_deg, wrap_360_deg
from pointmodel.errors import InputError, Notice, Problem
from pointmodel.findings import nearest_star_deg
from pointmodel.forecast import misses_at_targets, sky_forecast
from pointmodel.mountmodel import readings_for
from pointmodel.reading.columns import ALT_RANGE_DEG, AZ_RANGE_DEG
from pointmodel.terms import BoolArray, FloatArray, wrap_deg
from pointmodel.times import TimeTextError, fixed_zone, parse_moment
from pointmodel.wording import quoted

if TYPE_CHECKING:
    from pointmodel.nightfit import Fit

Target: TypeAlias = "str | tuple[float, float]"
FARTHEST_STAR_DEG = 35.0  # beyond that from every star that was used, a command is a guess

SUN = Notice(
    "sun",
    "where the Sun stands is not worked out here, so nothing guards against it: never point at or "
    "near the Sun without a certified filter over the front of the telescope and of its finder",
)
AZ_ALT_WANTED = "azimuth and altitude in degrees, such as 123.5,45 or 123°30',45°"
NOT_YET = f"{AZ_ALT_WANTED}; a name or right ascension and declination not yet: that needs the sky"
NO_READING = "too near the mount's own zenith: no reading of the axes points there"
PAST_ZENITH = "the altitude readout would have to show more than 90°, which no controller takes"
NO_FIELD = "the chance to be in the eyepiece is unknown: field_of_view is not in the mount file"


@dataclass(frozen=True)
class Nudge:
    """How far to go on from where the uncorrected command leads, arcminutes on the sky.

    Right is toward increasing azimuth: the correction in azimuth times cos(altitude).
    """

    right_arcmin: float
    up_arcmin: float


@dataclass(frozen=True)
class AimedTarget:
    """One target: what was asked, what to command, and how far from the target that may end.

    Numbers other than those asked are None unless `status` is ok or extrapolated; it may also be
    unreachable or below_horizon, and `reason` then says why. Approaches are `cw` and `up` where
    the log shows slack in that axis, else None.
    """

    target: str
    at: str | None
    asked_az_deg: float
    asked_alt_deg: float
    status: str
    reason: str | None
    command_az_deg: float | None = None
    command_alt_deg: float | None = None
    nudge: Nudge | None = None
    miss_rms_arcmin: float | None = None
    p95_arcmin: float | None = None
    chance_in_field: float | None = None
    approach_az: str | None = None
    approach_alt: str | None = None


@dataclass(frozen=True)
class AimResult:
    """Corrected positions for a list of targets, in its order."""

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    targets: tuple[AimedTarget, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the aim document: plain types only, equal to the command's JSON."""
        from pointmodel.documents import aim_document

        return aim_document(self)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.text import aim_text

        return aim_text(self.to_dict())


def aim(
    fit: Fit, targets: Sequence[Target] | Target, at: str | datetime | None = None
) -> AimResult:
    """Return what to command for each target so that it ends up centred.

    A target is a text "azimuth,altitude" or a pair of degrees, in the frame of the log's
    `commanded`. `at` is when they are wanted, ISO 8601; without a zone, the mount file's. The mount
    is taken as it stood at the end of the log. Raises InputError that lists every target which
    cannot be read, and for a moment that is none.
    """
    from pointmodel.documents import inputs_of

    names, az_deg, alt_deg = _places(targets)
    moment, notices = _moment(at, fit)
    aimed = _aimed(fit, names, moment, az_deg, alt_deg) if names else ()
    return AimResult(inputs_of(fit), (*fit.warnings, *notices, SUN), aimed)


def _aimed(
    fit: Fit, names: list[str], at: str | None, az_deg: FloatArray, alt_deg: FloatArray
) -> tuple[AimedTarget, ...]:
    command_az, command_alt, reachable = readings_for(fit.model, az_deg, alt_deg)
    right = wrap_deg(command_az - az_deg) * 60.0 * np.cos(np.radians(alt_deg))
    up = (command_alt - alt_deg) * 60.0
    outlook = fit.expected_at(az_deg, alt_deg)
    misses = misses_at_targets(outlook)
    rms, p95 = sky_forecast(outlook).miss_rms_arcmin, np.quantile(misses, 0.95, axis=0)
    field = fit.log.mount.optics.field_of_view_arcmin
    found = []
    statuses = _statuses(fit, az_deg, alt_deg, command_alt, reachable)
    for k, (status, reason) in enumerate(statuses):
        asked = (names[k], at, float(az_deg[k]), float(alt_deg[k]), status)
        if status not in ("ok", "extrapolated"):
            found.append(AimedTarget(*asked, reason))
            continue
        if field is None:
            reason = f"{reason}; {NO_FIELD}" if reason else NO_FIELD
        one = AimedTarget(
            *asked,
            reason,
            float(command_az[k]),
            float(command_alt[k]),
            Nudge(float(right[k]), float(up[k])),
            float(rms[k]),
            float(p95[k]),
            None if field is None else float(np.mean(misses[:, k] <= 0.5 * field)),
            "cw" if fit.model.az_motion > 0 else None,
            "up" if fit.model.alt_motion > 0 else None,
        )
        found.append(one)
    return tuple(found)


def _statuses(
    fit: Fit,
    az_deg: FloatArray,
    alt_deg: FloatArray,
    command_alt_deg: FloatArray,
    reachable: BoolArray,
) -> list[tuple[str, str | None]]:
    """Status and reason of each target; the reason is None where all is well."""
    pairs = fit.pair_results
    used = ~pairs.set_aside
    star_az, star_alt = pairs.star_az_deg[used], pairs.star_alt_deg[used]
    nearest = nearest_star_deg(az_deg, alt_deg, star_az, star_alt)
    lowest = np.maximum(fit.log.mount.open_alt_deg(az_deg), 0.0)
    found: list[tuple[str, str | None]] = []
    for k in range(az_deg.size):
        if alt_deg[k] < lowest[k]:
            here, opens = format_dm(float(alt_deg[k]), 0), format_dm(float(lowest[k]), 0)
            below = f"its altitude is {here}, and the open sky begins at {opens} there"
            found.append(("below_horizon", below))
        elif not reachable[k]:
            found.append(("unreachable", NO_READING))
        elif abs(command_alt_deg[k]) > ALT_RANGE_DEG[1]:
            found.append(("unreachable", PAST_ZENITH))
        elif nearest[k] > FARTHEST_STAR_DEG:
            found.append(("extrapolated", f"the nearest star of the log is {nearest[k]:.0f}° away"))
        else:
            found.append(("ok", None))
    return found


def _places(targets: Sequence[Target] | Target) -> tuple[list[str], FloatArray, FloatArray]:
    """Names, azimuths in [0, 360) and altitudes (k,) of targets."""
    names, az_deg, alt_deg = [], [], []
    problems = []
    for target in _listed(targets):
        try:
            name, az, alt = _place(target)
        except AngleError as error:
            problems.append(Problem("<targets>", None, None, quoted(target), str(error)))
        else:
            names.append(name)
            az_deg.append(az)
            alt_deg.append(alt)
    if problems:
        raise InputError(problems)
    return names, wrap_360_deg(np.array(az_deg, float)), np.array(alt_deg, float)


def _listed(targets: Any) -> list[Any]:
    """The targets as a list; one alone may stand bare."""
    is_pair = isinstance(targets, tuple) and len(targets) == 2
    if isinstance(targets, str) or (is_pair and isinstance(targets[0], (int, float, np.number))):
        return [targets]
    try:
        return list(targets)
    except TypeError:
        wanted = f"a list of targets: {AZ_ALT_WANTED}"
        raise InputError([Problem("<targets>", None, None, quoted(targets), wanted)]) from None


def _place(target: Any) -> tuple[str, float, float]:
    """Name, azimuth and altitude of one target. Raises AngleError with what would be right."""
    if isinstance(target, str):
        name = target.strip()
        az, alt = _from_text(name)
    else:
        try:
            az, alt = (float(part) for part in target)
        except (TypeError, ValueError):
            raise AngleError(AZ_ALT_WANTED) from None
        name = f"{az:g},{alt:g}"
    for value, (low, high), what in (
        (az, AZ_RANGE_DEG, "azimuth"),
        (alt, ALT_RANGE_DEG, "altitude"),
    ):
        if not low <= value <= high:
            raise AngleError(f"{what} from {low:g} to {high:g} degrees")
    return name, az, alt


def _from_text(text: str) -> tuple[float, float]:
    """Azimuth and altitude of `az,alt`, or of `az;alt` with decimal commas."""
    separator = ";" if ";" in text else ","
    parts = text.split(separator)
    if len(parts) != 2 or re.search(r"[^\W\d_]{3}|\dh", text.replace("deg", "°")):
        raise AngleError(NOT_YET)
    try:
        az, alt = (parse_angle_deg(part, separator == ";") for part in parts)
    except AngleError as error:
        raise AngleError(f"{AZ_ALT_WANTED} ({error})") from None
    return az, alt


def _moment(at: str | datetime | None, fit: Fit) -> tuple[str | None, list[Notice]]:
    """The moment as ISO 8601 with its zone, and what is to be said of it."""
    if at is None:
        return None, []
    try:
        text = at.isoformat() if isinstance(at, datetime) else at
        moment = parse_moment(text, fit.log.mount.zone)
    except (TimeTextError, AttributeError) as error:
        wanted = str(error) if isinstance(error, TimeTextError) else "a text or a datetime"
        raise InputError([Problem("<at>", None, None, quoted(at), wanted)]) from None
    zone = UTC if moment.offset_s is None else fixed_zone(moment.offset_s)
    written = datetime.fromtimestamp(moment.posix_s, zone).isoformat(timespec="seconds")
    if moment.offset_s is not None:
        return written, []
    text = f"the moment {text} has no zone, and the mount file names none: taken as UTC"
    return written, [Notice("time_zone", text)]
