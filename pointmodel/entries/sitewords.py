"""The mount file's own slip in words: what its site holds, what it should hold, what to look up.

Read `sitefile.py` and `findings.py` first.
"""

from __future__ import annotations

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.times import format_utc_offset
from pointmodel.entries.catalogue import InMountFile
from pointmodel.entries.circumstances import EntryCircumstances
from pointmodel.entries.findings import Finding
from pointmodel.entries.notation import two_angles
from pointmodel.entries.observed import MINUTES_A_DEGREE
from pointmodel.entries.result import Worded
from pointmodel.reading.mountfile import Site
from pointmodel.reading.sitezone import place_words, site_lines, site_order


def mount_file_worded(finding: Finding, right: EntryCircumstances) -> Worded:
    """The mount file's own slip: the controller is right, and what differs is its site."""
    if finding.time.entry == "mount_file" and finding.time.field == "zone":
        return _offset_worded(finding, right)
    place = place_if_controller_is_right(finding, right)
    stated = (right.latitude_deg, right.longitude_deg)
    names = [
        (name, sides, *angles)
        for name, sides, part, angles in zip(
            ("latitude", "longitude"),
            ("NS", "EW"),
            (finding.place, finding.time),
            zip(stated, place, strict=True),
            strict=True,
        )
        if part.entry == "mount_file"
    ]
    pairs = [two_angles(None, held, true, sides) for _, sides, held, true in names]
    held, should = (
        " and ".join(f"{name[0]} {pair[k]}" for name, pair in zip(names, pairs, strict=True))
        for k in (0, 1)
    )
    variant = next(c.variant for c in (finding.time, finding.place) if c.entry == "mount_file")
    how = {
        "sign": ", on the wrong side",
        "exchanged": ", which are exchanged",
        "decimals": ", where minutes were typed as decimals",
        "minutes": ", where decimals were typed as minutes",
    }.get(variant, "")
    site = Site(latitude_deg=stated[0], longitude_deg=stated[1])
    return Worded(
        typed=held,
        meant=should,
        text=f"The mount file holds {held}{how}. It should be {should}.",
        brief=f"the mount file's {held}",
        order=f"{site_order(site, *place)}.",
    )


def _offset_worded(finding: Finding, right: EntryCircumstances) -> Worded:
    """The mount file's offset from UTC, by which the log's times were read."""
    held, should = (format_utc_offset(s) for s in (right.offset_s, finding.time.held))
    day = right.local.date().isoformat()
    return Worded(
        typed=held,
        meant=should,
        text=(
            f"The mount file holds utc_offset {held}. It should be {should}, if clocks at the "
            f"site said so on {day}."
        ),
        brief=f"the mount file's utc_offset {held}",
        order=(
            f"Look up on a phone how far from UTC clocks at the site were on {day}. If it was "
            f"{should}, write {_offset_line(finding)} under [site] in the mount file."
        ),
    )


def _offset_line(finding: Finding) -> str:
    return f'utc_offset = "{format_utc_offset(finding.time.held)}"'


def place_if_controller_is_right(
    finding: Finding, right: EntryCircumstances
) -> tuple[float, float]:
    """Latitude and longitude that an explanation gives the telescope, were the controller right."""
    latitude_deg = right.latitude_deg + finding.latitude_off_arcmin / 60.0
    longitude_deg = right.longitude_deg
    if finding.time.field == "longitude":
        longitude_deg += finding.offset_min / MINUTES_A_DEGREE
    exact = finding.time.shift is not None and finding.place.shift is not None
    digits = 6 if exact else 2  # of what the stars alone say, no more than an arcminute or so
    latitude_deg = float(np.clip(latitude_deg, -90.0, 90.0))
    return round(latitude_deg, digits), round(float(wrap_deg(longitude_deg)), digits)


def in_mount_file(finding: Finding) -> InMountFile | None:
    """Which figures of the mount file's site an explanation calls wrong; None for none."""
    if finding.time.entry == "mount_file" and finding.time.field == "zone":
        return "utc_offset"
    latitude, longitude = (c.entry == "mount_file" for c in (finding.place, finding.time))
    if latitude and longitude:
        return "latitude and longitude"
    return "latitude" if latitude else "longitude" if longitude else None


def where_words(controller: Worded, mount_file: Finding, right: EntryCircumstances) -> str:
    """What to look up where only that can tell which is wrong: the place, or how far from UTC."""
    order = f"{controller.order[0].lower()}{controller.order[1:]}"
    if mount_file.time.field == "zone":
        held, should = (format_utc_offset(s) for s in (right.offset_s, mount_file.time.held))
        return (
            "Look up on a phone how far from UTC clocks at the site were on "
            f"{right.local.date().isoformat()}. If it was {held}, the mount file is right: {order} "
            f"If it was {should}, the controller is right: write {_offset_line(mount_file)} under "
            "[site] in the mount file."
        )
    stated = place_words(right.latitude_deg, right.longitude_deg)
    other = place_if_controller_is_right(mount_file, right)
    site = Site(latitude_deg=right.latitude_deg, longitude_deg=right.longitude_deg)
    return (
        f"Look up on a phone's map where the telescope stood. If it was at {stated}, the mount "
        f"file is right: {order} If it was at {place_words(*other)}, the controller is right: "
        f"write {site_lines(site, *other)} under [site] in the mount file."
    )
