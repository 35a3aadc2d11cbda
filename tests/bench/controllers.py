"""Simulated hand controllers with a wrong entry, for the statistics of `check`.

    python -c "from bench.controllers import night; print(night(3, 'summer_time'))"

The controller computes its commanded places by ERFA's own routines from what was typed into it; it
shares nothing with `pointmodel.entries`. Sites are invented places near the cities that IANA zones
are named after; zone and summer time come from `zoneinfo`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import erfa
import numpy as np

import pointmodel as pm
from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.mount.terms import terms_of_the_mount
from pointmodel.reading.nightlog import NightLog
from pointmodel.simulation.mount import SimulatedCircumstances, readings_deg
from pointmodel.sky.stars import star_table

# zone, latitude and longitude of the city, from memory, to a degree
ZONES: tuple[tuple[str, float, float], ...] = (
    ("Australia/Hobart", -43, 147),
    ("Australia/Adelaide", -35, 139),
    ("Australia/Brisbane", -27, 153),
    ("Pacific/Auckland", -37, 175),
    ("Pacific/Fiji", -18, 178),
    ("Pacific/Honolulu", 21, -158),
    ("America/Anchorage", 61, -150),
    ("America/Los_Angeles", 34, -118),
    ("America/Denver", 40, -105),
    ("America/Chicago", 42, -88),
    ("America/New_York", 41, -74),
    ("America/St_Johns", 47.6, -52.7),
    ("America/Mexico_City", 19, -99),
    ("America/Bogota", 4.6, -74),
    ("America/Santiago", -33, -71),
    ("America/Sao_Paulo", -23, -46),
    ("America/Argentina/Buenos_Aires", -34, -58),
    ("Atlantic/Azores", 38, -28),
    ("Europe/Lisbon", 39, -9),
    ("Europe/Dublin", 53, -6),
    ("Europe/London", 51.5, 0.4),
    ("Europe/Berlin", 52, 13),
    ("Europe/Rome", 42, 12),
    ("Europe/Helsinki", 60, 25),
    ("Africa/Nairobi", -1, 37),
    ("Africa/Johannesburg", -26, 28),
    ("Africa/Casablanca", 33, -7),
    ("Asia/Kolkata", 20, 78),
    ("Asia/Kathmandu", 28, 85),
    ("Asia/Tokyo", 36, 140),
    ("Asia/Singapore", 1, 104),
    ("Asia/Tehran", 35, 51),
)
EXACT = (
    "summer_time",
    "time_zone",
    "zone_sign",
    "am_pm",
    "utc_as_local",
    "longitude_sign",
    "latitude_sign",
    "day_month_swapped",
    "longitude_minutes_as_decimals",
    "latitude_minutes_as_decimals",
    "latitude",
)
ENTRIES = ("agrees", *EXACT, "date", "clock", "longitude")
FIRST_S = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
THREE_YEARS_S = 3 * 365.25 * 86400.0
PLANETS = {"Venus": 2, "Mars": 4, "Jupiter": 5, "Saturn": 6}
LEAST_MINUTES_DEG = 0.2
TYPING_S = 2.0  # one sigma


@dataclass(frozen=True)
class Wrong:
    """What the controller holds wrong: its UTC ahead by seconds, its place off by degrees."""

    ahead_s: float = 0.0
    longitude_deg: float = 0.0
    latitude_deg: float = 0.0

    @property
    def sidereal_offset_min(self) -> float:
        """The controller's sidereal time minus the true one, minutes within half a turn."""
        offset = self.ahead_s / 60.0 * 1.00273791 + 4.0 * self.longitude_deg
        return float(wrap_deg(np.array(offset / 4.0)) * 4.0)


@dataclass(frozen=True)
class Site:
    zone: str
    latitude_deg: float
    longitude_deg: float


@dataclass(frozen=True)
class ControllerNight:
    """A log with its truth: the entry at fault, what it does, and the line with a wrong name.

    `meant` is the fault alone, `wrong` has the seconds in it by which people miss when they type.
    """

    log: NightLog
    entry: str
    site: Site
    meant: Wrong
    wrong: Wrong
    swapped_line: int | None
    swapped_for: str | None


def offsets_s(zone: str, moment_s: float) -> tuple[float, float]:
    """Local time minus UTC, and its standard part, seconds, by the least offset of the year."""
    here = datetime.fromtimestamp(moment_s, UTC)
    year = [(here + timedelta(days=15 * k)).astimezone(ZoneInfo(zone)) for k in range(-12, 13)]
    all_s = [moment.utcoffset().total_seconds() for moment in year]  # type: ignore[union-attr]
    return all_s[12], min(all_s)


def draw_wrong(rng: np.random.Generator, entry: str, site: Site, moment_s: float) -> Wrong | None:
    """What this entry does at this site and moment; None where it cannot be wrong so."""
    total_s, standard_s = offsets_s(site.zone, moment_s)
    local = datetime.fromtimestamp(moment_s, UTC) + timedelta(seconds=total_s)
    day_s, hour_s = 86400.0, 3600.0
    if entry == "agrees":
        return Wrong()
    if entry == "summer_time":
        return Wrong(hour_s if total_s > standard_s else -hour_s)
    if entry == "time_zone":
        held = 0.0
        if rng.random() < 0.7:
            step = float(rng.choice([1.0, 1.0, 1.0, 0.5, 0.25]))
            held = standard_s + hour_s * step * float(rng.integers(1, int(8 / step) + 1)) * float(
                rng.choice([-1, 1])
            )
        off = abs(held - standard_s) / hour_s
        possible = -12 <= held / hour_s <= 14 and off not in (0.0, 1.0)
        return Wrong(standard_s - held) if possible else None
    if entry == "zone_sign":
        return Wrong(2.0 * standard_s) if standard_s else None
    if entry == "am_pm":
        return Wrong(43200.0 if local.hour < 12 else -43200.0)
    if entry == "utc_as_local":
        return Wrong(-total_s) if total_s else None
    if entry == "longitude_sign":
        far = abs(site.longitude_deg) > 0.5
        return Wrong(longitude_deg=-2.0 * site.longitude_deg) if far else None
    if entry == "latitude_sign":
        far = abs(site.latitude_deg) > 0.5
        return Wrong(latitude_deg=-2.0 * site.latitude_deg) if far else None
    if entry == "day_month_swapped":
        if local.day > 12 or local.day == local.month:
            return None
        swapped = local.replace(month=local.day, day=local.month)
        return Wrong((swapped - local).days * day_s)
    if entry in ("longitude_minutes_as_decimals", "latitude_minutes_as_decimals"):
        true = site.longitude_deg if entry[:3] == "lon" else site.latitude_deg
        degrees, minutes = divmod(round(abs(true) * 60.0), 60)
        off = float(np.copysign(degrees + minutes / 100.0, true)) - true
        if abs(off) < LEAST_MINUTES_DEG:
            return None
        return Wrong(longitude_deg=off) if entry[:3] == "lon" else Wrong(latitude_deg=off)
    sign = float(rng.choice([-1, 1]))
    if entry == "latitude":
        off = sign * float(np.exp(rng.uniform(np.log(0.2), np.log(5.0))))
        return Wrong(latitude_deg=off) if abs(site.latitude_deg + off) <= 90.0 else None
    if entry == "longitude":
        return Wrong(longitude_deg=sign * float(np.exp(rng.uniform(np.log(0.5), np.log(10.0)))))
    if entry == "clock":
        return Wrong(sign * 60.0 * float(np.exp(rng.uniform(np.log(1.5), np.log(40.0)))))
    if entry == "date":
        return Wrong(sign * day_s * float(rng.choice([1, 1, 1, 1, 2, 3, 7, 30, 31])))
    raise ValueError(entry)


def places_deg(
    moment_s: FloatArray, names: list[str], j2000: bool
) -> tuple[FloatArray, FloatArray]:
    """Right ascension and declination (n, m) in which a controller works, of m names at n moments.

    Apparent places of date by ERFA atciq, planets by plan94 as seen from the Earth's middle.
    """
    tt = (2440587.5 - 2400000.5) + (np.asarray(moment_s)[:, None] + 69.184) / 86400.0
    icrs_ra, icrs_dec, *motion = _catalogue(tuple(names))
    icrs = (
        np.broadcast_to(icrs_ra, (tt.size, len(names))).copy(),
        np.broadcast_to(icrs_dec, (tt.size, len(names))).copy(),
    )
    for k, name in enumerate(names):
        if name in PLANETS:
            icrs[0][:, k], icrs[1][:, k] = erfa.c2s(_planet_au(name, tt[:, 0]))
    if j2000:
        return icrs
    frame, origins = erfa.apci13(2400000.5, tt)
    ra, dec = erfa.atciq(*icrs, *motion, 0.0, frame)
    return ra - origins, dec


@cache
def _catalogue(names: tuple[str, ...]) -> tuple[FloatArray, ...]:
    """Place, motions (radians a year, that of right ascension without the cosine), parallax."""
    table = star_table()
    rows = [table.label.index(name) if name not in PLANETS else -1 for name in names]
    dec = np.radians(table.dec_deg[rows])
    moving = np.where(np.array(rows) < 0, 0.0, 1.0)
    return (
        np.radians(table.ra_deg[rows]),
        dec,
        moving * np.radians(table.pm_ra_mas_yr[rows] / 3.6e6) / np.cos(dec),
        moving * np.radians(table.pm_dec_mas_yr[rows] / 3.6e6),
        moving * table.parallax_mas[rows] / 1000.0,
    )


def _planet_au(name: str, tt: FloatArray) -> FloatArray:
    """A planet from the Earth's middle as its light arrives, (n, 3) au."""
    earth = erfa.epv00(2400000.5, tt)[0]["p"]
    late = np.zeros_like(tt)
    for _ in range(2):
        vector = erfa.plan94(2400000.5, tt - late, PLANETS[name])["p"] - earth
        late = erfa.pm(vector) * 499.0047838 / 86400.0
    return np.asarray(vector)


def horizon_deg(
    moment_s: FloatArray,
    site: Site,
    ra: FloatArray,
    dec: FloatArray,
    wrong: Wrong,
    refracted: bool,
) -> tuple[FloatArray, FloatArray]:
    """Where the controller with these entries puts places (n, m) at true moments (n,)."""
    believed_s = moment_s + wrong.ahead_s
    ut1, tt = 2440587.5 + believed_s / 86400.0, 2440587.5 + (believed_s + 69.184) / 86400.0
    sidereal = erfa.gst06a(2400000.5, ut1 - 2400000.5, 2400000.5, tt - 2400000.5)
    sidereal = sidereal + np.radians(site.longitude_deg + wrong.longitude_deg)
    latitude = np.radians(site.latitude_deg + wrong.latitude_deg)
    az, alt = erfa.hd2ae(sidereal[:, None] - ra, dec, latitude)
    if refracted:
        constants = erfa.refco(1010.0, 10.0, 0.5, 0.55)
        tangent = np.tan(np.pi / 2 - np.maximum(alt, np.radians(3.0)))
        alt = alt + constants[0] * tangent + constants[1] * tangent**3
    return np.degrees(az), np.degrees(alt)


def night(
    seed: int,
    entry: str,
    *,
    stars: int = 4,
    swap_name: bool = False,
    planets: bool = False,
    centred: bool | None = None,
    j2000: bool | None = None,
) -> ControllerNight:
    """A log of some stars from a controller with this entry wrong, everything else drawn.

    `swap_name` writes another star's name on one line; `planets` lets them be among the targets.
    """
    rng = np.random.default_rng([seed, ENTRIES.index(entry), stars, swap_name])
    while True:
        made = _try_night(rng, entry, stars, swap_name, planets, centred, j2000)
        if made is not None:
            return made


def _try_night(
    rng: np.random.Generator,
    entry: str,
    stars: int,
    swap_name: bool,
    planets: bool,
    centred: bool | None,
    j2000: bool | None,
) -> ControllerNight | None:
    zone, latitude, longitude = ZONES[int(rng.integers(len(ZONES)))]
    site = Site(
        zone, latitude + float(rng.uniform(-0.7, 0.7)), longitude + float(rng.uniform(-0.7, 0.7))
    )
    day_s = FIRST_S + float(rng.integers(0, int(THREE_YEARS_S / 86400.0))) * 86400.0
    start_s = day_s + 3600.0 * (float(rng.uniform(18.0, 30.0)) - site.longitude_deg / 15.0)
    moment_s = np.round(start_s + np.cumsum(rng.uniform(90.0, 300.0, stars)))
    wrong = draw_wrong(rng, entry, site, start_s)
    if wrong is None:
        return None
    meant, typing_s = wrong, float(rng.normal(0.0, TYPING_S))
    wrong = Wrong(meant.ahead_s + typing_s, meant.longitude_deg, meant.latitude_deg)
    step = float(rng.choice([1.0, 6.0, 36.0, 60.0]))
    refracted = bool(rng.random() < 0.4)
    old = bool(rng.random() < 0.1) if j2000 is None else j2000
    table = star_table()
    bright = np.flatnonzero((table.magnitude < 2.6) & np.array([n != "" for n in table.name]))
    names = [table.label[k] for k in bright] + (list(PLANETS) if planets else [])
    # planets move with the controller's own date
    held = places_deg(moment_s + wrong.ahead_s, names, old)
    true = places_deg(moment_s, names, False)
    _, true_alt = horizon_deg(moment_s, site, *true, Wrong(), False)
    az, alt = horizon_deg(moment_s, site, *held, wrong, refracted)
    usable = (true_alt > 12.0) & (true_alt < 82.0) & (alt > 5.0)
    picked: list[int] = []
    for row in range(stars):
        order = [k for k in rng.permutation(len(names)) if usable[row, k] and k not in picked]
        if not order:
            return None
        picked.append(int(order[0]))
    rows = np.arange(stars)
    az, alt = az[rows, picked], alt[rows, picked]
    az, alt = (np.round(part * 3600.0 / step) * step / 3600.0 for part in (az, alt))
    target = [names[k] for k in picked]
    swapped_line, swapped_for = None, None
    if swap_name:
        line = int(rng.integers(stars))
        others = [k for k in range(len(bright)) if usable[line, k] and k not in picked]
        if not others:
            return None
        swapped_line, swapped_for = line + 2, target[line]
        target[line] = names[int(rng.choice(others))]
    with_centred = bool(rng.random() < 0.5) if centred is None else centred
    log = _log(rng, site, moment_s, target, az, alt, with_centred)
    return ControllerNight(log, entry, site, meant, wrong, swapped_line, swapped_for)


def _log(
    rng: np.random.Generator,
    site: Site,
    moment_s: FloatArray,
    target: list[str],
    az_deg: FloatArray,
    alt_deg: FloatArray,
    centred: bool,
) -> NightLog:
    """The log as it would be read, with the mount file's site."""
    n = moment_s.size
    centred_az, centred_alt = np.full(n, np.nan), np.full(n, np.nan)
    if centred:
        terms = dict.fromkeys(terms_of_the_mount(), 0.0) | {
            "azimuth_index": float(rng.normal(0.0, 60.0)),
            "altitude_index": float(rng.normal(0.0, 30.0)),
            "tilt_north": float(rng.normal(0.0, 25.0)),
        }
        still = SimulatedCircumstances(
            az_motion=np.zeros(n), alt_motion=np.zeros(n), hours=np.zeros(n), slipped=np.zeros(n)
        )
        centred_az, centred_alt = readings_deg(az_deg, alt_deg, terms, still)
        centred_az = np.mod(centred_az, 360.0)
    mount = {
        "site": {
            "latitude": site.latitude_deg,
            "longitude": site.longitude_deg,
            "time_zone": site.zone,
        }
    }
    return NightLog(
        source="<simulated>",
        name="simulated",
        line=np.arange(n) + 2,
        target=tuple(target),
        commanded_az_deg=np.mod(az_deg, 360.0),
        commanded_alt_deg=alt_deg,
        centred_az_deg=centred_az,
        centred_alt_deg=centred_alt,
        camera=False,
        time_s=moment_s,
        commanded_time_s=np.full(n, np.nan) if centred and rng.random() < 0.5 else moment_s,
        az_motion=np.zeros(n),
        alt_motion=np.zeros(n),
        events=(),
        note=(None,) * n,
        mount=pm.read_mount(mount),
        warnings=(),
    )
