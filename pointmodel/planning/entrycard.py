"""The entry card: site and time as a controller asks for them, for one moment.

Read `times.py` first. Summer time is by the rules of the IANA data base on that date.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo

from pointmodel.reading.mountfile import MountFile

CHANGE_WITHIN_H = 12


@dataclass(frozen=True)
class EntryCard:
    """What to type in: degrees (north and east positive), seconds from UTC, the local moment.

    `zone_name` is None where only an offset is known; then `summer_time` is None too and
    `standard_offset_s` all there is to enter. `zone_known` False: nothing tells the zone, and the
    moment is shown in UTC. `clocks_change` is the moment within twelve hours at which the clocks
    change, by the clock as it stands until then; None where they do not.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    zone_name: str | None
    zone_known: bool
    local: datetime
    utc_offset_s: float
    standard_offset_s: float
    summer_time: bool | None
    clocks_change: datetime | None


def entry_card(mount: MountFile, time_s: float, zone: tzinfo | None) -> EntryCard:
    """Return the card for a mount file whose site is known, at POSIX seconds.

    `zone` is the mount file's, else that of the moment as it was written; None: unknown.
    """
    assert mount.place_deg is not None
    assert mount.site is not None
    local = datetime.fromtimestamp(round(time_s), zone or UTC)
    offset_s = _offset_s(local)
    standard_s, summer = offset_s, None
    if mount.site.time_zone is not None:
        standard_s = _standard_offset_s(local)
        summer = offset_s > standard_s
    latitude_deg, longitude_deg = mount.place_deg
    return EntryCard(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=mount.site.elevation_m,
        zone_name=mount.site.time_zone,
        zone_known=zone is not None,
        local=local,
        utc_offset_s=offset_s,
        standard_offset_s=standard_s,
        summer_time=summer,
        clocks_change=_clocks_change(local),
    )


def _offset_s(moment: datetime) -> float:
    offset = moment.utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def _standard_offset_s(local: datetime) -> float:
    """Return the zone's offset without summer time.

    The smallest of half a year either way, where the zone keeps summer time at all: some zones
    (Ireland's) are written down as having a winter time instead.
    """
    now = local.astimezone(UTC)
    months = [(now + timedelta(days=30.4 * k)).astimezone(local.tzinfo) for k in range(-6, 7)]
    if not any(moment.dst() for moment in months):
        return _offset_s(local)
    return min(_offset_s(moment) for moment in (local, *months))


def _clocks_change(local: datetime) -> datetime | None:
    """Return when the clocks change within twelve hours, by the clock as it stands before."""
    minutes = 60 * CHANGE_WITHIN_H
    if _offset_after(local, minutes) == _offset_s(local):
        return None
    before, after = 0, minutes
    while after - before > 1:
        middle = (before + after) // 2
        if _offset_after(local, middle) == _offset_s(local):
            before = middle
        else:
            after = middle
    whole = local.replace(second=0, microsecond=0)
    same_clock = timezone(timedelta(seconds=_offset_s(local)))
    return (whole.astimezone(UTC) + timedelta(minutes=after)).astimezone(same_clock)


def _offset_after(local: datetime, minutes: int) -> float:
    later = local.replace(second=0, microsecond=0).astimezone(UTC) + timedelta(minutes=minutes)
    return _offset_s(later.astimezone(local.tzinfo))
