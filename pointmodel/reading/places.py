"""The places of a log's lines: read as they were written, and brought to azimuth and altitude.

Read first: `read_place`, then `places_in_azimuth`. The sky is imported only
where a log is written in right ascension and declination, or has places to carry.

What is assumed of an equatorial readout: the controller's clock and site are right. Then right
ascension and declination, turned at the true time over the true site, give its axis readings back.
Where they are wrong, all places of the log are turned alike, which looks like a lean; and no clock
can be judged from a log written so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pointmodel.base.angles import wrap_360_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import Notice
from pointmodel.base.times import SIDEREAL_DEG_PER_S
from pointmodel.base.wording import join, line_list, quoted
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.columns import (
    AZ_RANGE_DEG,
    EQUINOXES,
    READ_ALT_RANGE_DEG,
    LineTimes,
    Reader,
    columns_of,
)

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

STALE_S = 20.0  # by then the sky has turned five minutes of arc
ARCMIN_A_MINUTE = SIDEREAL_DEG_PER_S * 3600.0
SITE_WANTED = "latitude and longitude under [site] in the mount file (--mount FILE)"
ZONE_WANTED = "a zone behind the time, such as +10:00, or time_zone under [site] in the mount file"


@dataclass(frozen=True, eq=False)
class Place:
    """One place of each row, as written: degrees, (n,), nan where there is none.

    `first_deg` and `second_deg` are azimuth and altitude, or right ascension and declination where
    `equatorial`. `given` says on which rows the place is whole; both are bools of shape (n,).
    `equinox_of_date` is set where it is known which equinox the place has, whatever the log says.
    """

    name: str
    first_deg: FloatArray
    second_deg: FloatArray
    given: BoolArray
    equatorial: BoolArray
    equinox_of_date: bool | None = None


def read_place(reader: Reader, name: str) -> Place:
    """Read a place of every row; half places are problems. Azimuth and altitude go first."""
    horizontal, equatorial = columns_of(name, False), columns_of(name, True)
    az_deg = reader.angles_deg(horizontal[0], AZ_RANGE_DEG)
    alt_deg = reader.angles_deg(horizontal[1], READ_ALT_RANGE_DEG)
    _refuse_a_sky_below(reader, horizontal[1], alt_deg)
    given = reader.filled(horizontal[0]) & reader.filled(horizontal[1])
    in_radec = np.zeros_like(given)
    if any(column in reader.positions for column in equatorial):
        from pointmodel.sky.radec import parse_declination_deg, parse_right_ascension_deg

        ra_deg = reader.parsed_deg(equatorial[0], parse_right_ascension_deg)
        dec_deg = reader.parsed_deg(equatorial[1], parse_declination_deg)
        in_radec = reader.filled(equatorial[0]) & reader.filled(equatorial[1]) & ~given
        az_deg, alt_deg = np.where(in_radec, (ra_deg, dec_deg), (az_deg, alt_deg))
    return Place(name, az_deg, alt_deg, given | in_radec, in_radec)


def _refuse_a_sky_below(reader: Reader, column: str, alt_deg: FloatArray) -> None:
    """Complain where every altitude of a column is below the horizon: no star was ever there."""
    told = alt_deg[np.isfinite(alt_deg)]
    if told.size and (told < 0.0).all():
        found = "an altitude below 0" if told.size == 1 else f"{told.size} altitudes, all below 0"
        wanted = "altitudes above the horizon: is the sign wrong, or is this another column?"
        reader.complain_of_header(column, found, wanted)


def complain_of_halves(reader: Reader, name: str) -> None:
    """Complain of rows where a place has one figure of two."""
    for columns in (columns_of(name, False), columns_of(name, True)):
        filled = [reader.filled(column) for column in columns]
        for row in np.flatnonzero(filled[0] != filled[1]).tolist():
            given, missing = columns if filled[0][row] else columns[::-1]
            reader.complain(row, missing, "nothing", f"a figure, since {given} has one")


def equinoxes_of_date(reader: Reader, mount: MountFile) -> BoolArray:
    """Which rows hold places of date, (n,): by the column `equinox`, else by the mount file."""
    told = reader.choices("equinox", EQUINOXES)
    usual = EQUINOXES["date" if mount.equinox == "date" else "j2000"]
    return np.asarray(np.where(told == 0.0, usual, told) == EQUINOXES["date"])


def check_equatorial(
    reader: Reader, places: Sequence[Place], time: LineTimes, mount: MountFile
) -> None:
    """Complain where right ascension and declination lack the time or the site that they need."""
    needed = np.any([place.equatorial for place in places], axis=0)
    if not needed.any():
        return
    used = [place.name for place in places if place.equatorial.any()]
    if mount.place_deg is None:
        wanted = f"{SITE_WANTED}: right ascension and declination need them"
        reader.complain_of_header(columns_of(used[0], True)[0], f"{join(used)} in ra, dec", wanted)
    timed = reader.filled("time")
    for row in np.flatnonzero(needed & ~timed).tolist():
        wanted = "the time of the centring: right ascension and declination need it"
        reader.complain(row, "time", "nothing", wanted)
    without_zone = np.isin(reader.table.lines, time.lines_without_zone)
    for row in np.flatnonzero(needed & timed & without_zone).tolist():
        reader.complain(row, "time", quoted(reader.cells("time")[row].strip()), ZONE_WANTED)


def check_zones(reader: Reader, time: LineTimes, commanded_time: LineTimes) -> None:
    """Complain where of the two moments of a row one has a zone and the other has none."""
    both = reader.filled("time") & reader.filled("commanded_time")
    bare = {
        "time": np.isin(reader.table.lines, time.lines_without_zone),
        "commanded_time": np.isin(reader.table.lines, commanded_time.lines_without_zone),
    }
    alone = bare["time"] != bare["commanded_time"]
    for name, without in bare.items():
        for row in np.flatnonzero(both & alone & without).tolist():
            reader.complain(row, name, quoted(reader.cells(name)[row].strip()), ZONE_WANTED)


@dataclass(frozen=True, eq=False)
class PlacesInAzimuth:
    """Commanded and second places of all rows, azimuths in [0, 360) and altitudes, (2, n), degrees.

    `commanded_time_s` (n,) are the moments that commanded ones belong to, nan where not told, and
    `ages_s` (n,) how long before the pair they were noted, 0 where that is not known or does not
    matter. Where any was carried to the moment of its pair, `noted` (n, 3) holds azimuths,
    altitudes and POSIX seconds as they stood, else it is None.
    """

    commanded_deg: FloatArray
    second_deg: FloatArray
    commanded_time_s: FloatArray
    ages_s: FloatArray
    noted: FloatArray | None


def places_in_azimuth(
    commanded: Place,
    second: Place,
    of_date: BoolArray,
    time: LineTimes,
    commanded_time: LineTimes,
    mount: MountFile,
) -> PlacesInAzimuth:
    """Bring the places of all rows to azimuth and altitude at the moment of their pair.

    Of a line with one place in right ascension and declination and the other in azimuth and
    altitude, the first is lifted by the air, since the second is of the apparent sky. Where both
    are equatorial neither is. What was not centred goes by the other lines.
    """
    apparent = second.given & ~second.equatorial
    beside_apparent = np.where(second.given, apparent, apparent.any())
    told = (of_date, time.posix_s, mount)
    commanded_deg = np.stack(_azimuth_altitude(commanded, beside_apparent, *told))
    second_deg = np.stack(_azimuth_altitude(second, ~commanded.equatorial, *told))
    noted_s = commanded_time.posix_s.copy()
    ageless = commanded.equatorial & np.isfinite(noted_s)
    noted_s[ageless] = time.posix_s[ageless]
    ages_s = np.where(commanded.given & np.isfinite(noted_s), time.posix_s - noted_s, 0.0)
    ages_s[np.isnan(ages_s)] = 0.0
    old = ages_s != 0.0
    latitude_deg = None if mount.site is None else mount.site.latitude_deg
    if latitude_deg is None or not old.any():
        return PlacesInAzimuth(commanded_deg, second_deg, noted_s, ages_s, None)
    noted = np.stack([*commanded_deg, np.where(np.isnan(noted_s), time.posix_s, noted_s)], axis=1)
    az_deg, alt_deg = commanded_deg[:, old]
    commanded_deg[:, old] = carried_forward(az_deg, alt_deg, ages_s[old], latitude_deg)
    noted_s[old] = time.posix_s[old]
    return PlacesInAzimuth(commanded_deg, second_deg, noted_s, ages_s, noted)


def _azimuth_altitude(
    place: Place, lifted: BoolArray, of_date: BoolArray, time_s: FloatArray, mount: MountFile
) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees (n,), of a place; nan where there is none.

    Right ascension and declination (ICRS where not `of_date`) are turned at their row's time, by
    geometry alone; the air's lift is added where `lifted`.
    """
    az_deg, alt_deg = wrap_360_deg(place.first_deg), place.second_deg.copy()
    rows = place.equatorial
    if not rows.any():
        return az_deg, alt_deg
    from pointmodel.sky.places import apparent_places, azimuth_altitude

    observer = mount.observer
    assert observer is not None  # checked before
    if place.equinox_of_date is not None:
        of_date = np.full_like(of_date, place.equinox_of_date)
    moments, old = time_s[rows], ~of_date[rows]
    ra_deg, dec_deg = place.first_deg[rows], place.second_deg[rows]
    ra_deg[old], dec_deg[old] = apparent_places(ra_deg[old], dec_deg[old], moments[old])
    az, alt = azimuth_altitude(ra_deg, dec_deg, moments, observer)
    lift = refraction_lift_arcmin(alt, mount.pressure_hpa, mount.temperature_c) / 60.0
    az_deg[rows], alt_deg[rows] = az, alt + np.where(lifted[rows], lift, 0.0)
    return az_deg, alt_deg


def carried_forward(
    az_deg: FloatArray, alt_deg: FloatArray, seconds: FloatArray, latitude_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Azimuth in [0, 360) and altitude, degrees, to which the sky has carried places (n,).

    The turn is about the pole of the true latitude. A controller that was told a wrong longitude,
    date or clock turns its sky about the same pole, so those cost nothing; a latitude wrong by a
    degree costs half an arcminute for each two minutes. The Moon's own motion, as much a minute, is
    left out, and so is the change of the air's lift on the way.
    """
    from pointmodel.sky.places import horizontal_places, hour_angles_and_declinations

    hour, dec = hour_angles_and_declinations(az_deg, alt_deg, latitude_deg)
    return horizontal_places(hour + seconds * SIDEREAL_DEG_PER_S, dec, latitude_deg)


def age_notices(
    places: PlacesInAzimuth, is_pair: BoolArray, lines: NDArray[np.int64]
) -> list[Notice]:
    """What to say of commanded places noted before the moment of their pair, rows (n,)."""
    ages_s = np.where(is_pair, places.ages_s, 0.0)
    old, stale = ages_s != 0.0, np.abs(ages_s) > STALE_S
    notices = []
    if places.noted is not None and old.any():
        text = (
            f"`commanded` was noted up to {_span(ages_s)} off the pair's time "
            f"({line_list(lines[old].tolist())}). It is carried to that time as the sky turns"
        )
        notices.append(Notice("carried_forward", text))
    elif stale.any():
        text = (
            f"`commanded` was noted up to {_span(ages_s)} off the pair's time "
            f"({line_list(lines[stale].tolist())}), and the sky turns {ARCMIN_A_MINUTE:.0f}′ a "
            "minute. Write latitude under [site] in the mount file to have that allowed for"
        )
        notices.append(Notice("stale_command", text))
    if (later := ages_s < -STALE_S).any():
        where = line_list(lines[later].tolist())
        text = f"commanded_time is later than time on {where}. Are the two swapped?"
        notices.append(Notice("commanded_later", text))
    return notices


def _span(seconds: FloatArray) -> str:
    longest = float(np.abs(seconds).max())
    if longest < 90.0:
        return f"{longest:.0f} s"
    return f"{longest / 60.0:.1f} min" if longest < 7200.0 else f"{longest / 3600.0:.1f} h"
