"""What the controller should have been told: place, date, clock, zone and summer time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from functools import partial
from typing import TYPE_CHECKING, Literal

from pointmodel.base.times import fixed_zone, named_zone, parse_moment

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

HOUR_S, DEGREES_AN_HOUR = 3600.0, 15.0
_MONTHS_AROUND = range(-6, 7)


@dataclass(frozen=True)
class EntryCircumstances:
    """The right entries at the moment of typing.

    `offset_s` is local time minus UTC then, `standard_s` without summer time. `summer`: whether
    summer time is in force, None where no zone's rules are known; `has_summer`: whether that zone
    has it at all. `offset_from`: what the offset is known from.
    """

    latitude_deg: float
    longitude_deg: float
    moment_s: float
    offset_s: float
    standard_s: float
    summer: bool | None
    has_summer: bool
    zone_name: str | None
    offset_from: Literal["zone", "log", "longitude"]

    @property
    def local(self) -> datetime:
        """Local time at the moment of typing."""
        return datetime.fromtimestamp(self.moment_s, fixed_zone(self.offset_s))


def circumstances_of(
    mount: MountFile, place_deg: tuple[float, float], first_s: float, log_offset_s: float | None
) -> EntryCircumstances:
    """The right entries at the moment of typing, else at the log's first moment, POSIX seconds.

    Without a zone in the mount file the log's own offset counts, else the one of the longitude.
    """
    entered_at = None if mount.entered is None else mount.entered.entered_at
    moment_s = first_s if entered_at is None else parse_moment(entered_at).posix_s
    name = None if mount.site is None else mount.site.time_zone
    known = partial(
        EntryCircumstances, latitude_deg=place_deg[0], longitude_deg=place_deg[1], moment_s=moment_s
    )
    if name is not None:
        offset_s, standard_s, has_summer = zone_rule(named_zone(name), moment_s)
        return known(
            offset_s=offset_s,
            standard_s=standard_s,
            summer=offset_s > standard_s,
            has_summer=has_summer,
            zone_name=name,
            offset_from="zone",
        )
    # without a zone's rules whether summer time is in force is not known
    fixed = partial(known, summer=None, has_summer=True, zone_name=None)
    fixed_s = None if mount.site is None else mount.site.utc_offset_s
    if fixed_s is not None:
        return fixed(offset_s=fixed_s, standard_s=fixed_s, offset_from="zone")
    if log_offset_s is not None:
        return fixed(offset_s=log_offset_s, standard_s=log_offset_s, offset_from="log")
    solar_s = HOUR_S * round(place_deg[1] / DEGREES_AN_HOUR)
    return fixed(offset_s=solar_s, standard_s=solar_s, offset_from="longitude")


def zone_rule(zone: tzinfo, moment_s: float) -> tuple[float, float, bool]:
    """Offset from UTC and standard offset, seconds, and whether the zone has summer time that year.

    The least offset of a year is its standard one: some zones' rules call winter the exception.
    """
    here = datetime.fromtimestamp(moment_s, UTC)
    around = [(here + timedelta(days=30.5 * k)).astimezone(zone) for k in _MONTHS_AROUND]
    offset_s = _offset_s(here.astimezone(zone))
    if not any(moment.dst() for moment in around):
        return offset_s, offset_s, False
    return offset_s, min(offset_s, *map(_offset_s, around)), True


def clocks_change(mount: MountFile, from_s: float, to_s: float) -> bool:
    """Whether the site's clocks change between two moments, POSIX seconds."""
    zone = mount.zone
    if zone is None:
        return False
    offsets = {_offset_s(datetime.fromtimestamp(moment, zone)) for moment in (from_s, to_s)}
    return len(offsets) > 1


def _offset_s(moment: datetime) -> float:
    offset = moment.utcoffset()
    return 0.0 if offset is None else offset.total_seconds()
