"""The mount file: what is known of the mount, its site, its optics and what was typed into it.

Read first: `MountFile`; `reading/mountkeys.py` lists the keys of `mount.toml` with their limits.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Mapping
from datetime import tzinfo
from pathlib import Path
from typing import Any, Literal, TypeAlias

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.times import TimeTextError, fixed_zone, named_zone, parse_date
from pointmodel.base.wording import join, nearest, quoted
from pointmodel.reading.files import decode_text, read_bytes
from pointmodel.reading.mountkeys import TABLES, ColumnFinding, Key, Side
from pointmodel.reading.toml import TomlText, parse_toml
from pointmodel.sky.observer import Observer

MountSource: TypeAlias = "str | Path | Mapping[str, Any] | MountFile | None"
_USUAL_PRESSURE_HPA = 1010.0
_USUAL_TEMPERATURE_C = 10.0


class Site(msgspec.Struct, frozen=True):
    """Where the telescope stands; north and east positive. None: not told."""

    latitude_deg: float | None = None
    longitude_deg: float | None = None
    elevation_m: float | None = None
    time_zone: str | None = None
    utc_offset_s: float | None = None


Solves = Literal["rotation", "altitude_zero", "full", "unknown"]
Presses = Literal["none", "each_star", "logged", "unknown"]
NotedWhen = Literal["before_press", "after_press"]
AlignmentState = Literal["unknown", "none", "one_star", "two_or_more"]


class Alignment(msgspec.Struct, frozen=True):
    """What the controller was aligned on before the log, and what was pressed while logging.

    `stars` is None where that is not known, and empty where nothing was pressed since power-up.
    `solves`: what the controller works out from its alignment stars. `presses`: whether "this is
    the star" was pressed after centring while logging; `noted`: whether the centred figures were
    noted before that or after. None: not told.
    """

    stars: tuple[str, ...] | None = None
    solves: Solves | None = None
    presses: Presses | None = None
    noted: NotedWhen | None = None

    @property
    def state(self) -> AlignmentState:
        """What is known of the alignment: unknown, none, one_star or two_or_more."""
        if self.stars is None:
            return "unknown"
        return ("none", "one_star", "two_or_more")[min(len(self.stars), 2)]


class LogKeys(msgspec.Struct, frozen=True):
    """What the log's figures are; None: not told.

    `figures` is the owner's answer to what was asked of a log: which of `commanded`, `centred` or
    `both` is to be read as what (the name of a finding).
    """

    commanded_from: Literal["controller", "almanac"] | None = None
    date: str | None = None
    figures: tuple[tuple[Side, ColumnFinding], ...] | None = None


class Entered(msgspec.Struct, frozen=True):
    """What was typed into the controller, as typed; None: not told."""

    latitude: str | None = None
    longitude: str | None = None
    date: str | None = None
    date_order: Literal["month-day", "day-month", "year-month-day"] | None = None
    time: str | None = None
    entered_at: str | None = None
    utc_offset: str | None = None
    summer_time: bool | None = None
    verified: bool = False


class Optics(msgspec.Struct, frozen=True):
    """True field of the eyepiece, and one sigma an axis of the centring; None: not told."""

    field_of_view_arcmin: float | None = None
    centring_error_arcmin: float | None = None


class Feet(msgspec.Struct, frozen=True):
    """Distance of the feet from the azimuth axis, their true azimuths, and how they are set.

    `legs`: the legs slide; `screw_travel_mm` is how far a levelling screw goes either way. None:
    not told.
    """

    radius_mm: float
    azimuths_deg: tuple[float, ...]
    screw_pitch_mm: float | None = None
    legs: bool | None = None
    screw_travel_mm: float | None = None


TubeSide = Literal["back", "left", "right"]


class Eyepiece(msgspec.Struct, frozen=True):
    """How up and right of the sky stand in the eyepiece; None: not told.

    `side`: where on the tube one looks in, seen from behind it. At its left or right side the
    picture turns as the tube goes up, and `turn_deg` is that of a level tube.
    """

    turn_deg: float | None = None
    mirrored: bool | None = None
    side: TubeSide | None = None


class Weather(msgspec.Struct, frozen=True):
    """Pressure at the station and temperature; None: not told."""

    pressure_hpa: float | None = None
    temperature_c: float | None = None


class MountFile(msgspec.Struct, frozen=True):
    """A mount file, checked. `horizon` holds (azimuth, lowest open altitude) in degrees.

    `readout`: whether the figures count what the axes turn, or the controller turns them to the sky
    by its alignment; None: not told.
    """

    name: str | None = None
    readout: Literal["axes", "sky"] | None = None
    azimuth_origin_deg: float = 0.0
    equinox: Literal["date", "J2000"] = "date"
    alignment: Alignment = Alignment()
    log: LogKeys = LogKeys()
    site: Site | None = None
    entered: Entered | None = None
    optics: Optics = Optics()
    feet: Feet | None = None
    eyepiece: Eyepiece | None = None
    horizon: tuple[tuple[float, float], ...] = ()
    weather: Weather | None = None
    time_source: Literal["phone", "gps", "watch", "controller"] | None = None
    source: str | None = None

    @property
    def is_aligned(self) -> bool:
        """Whether the controller was aligned on two stars or more before the log."""
        return self.alignment.state == "two_or_more"

    @property
    def lean_is_hidden(self) -> bool:
        """Whether the log cannot show how the base leans: an alignment may have taken it up.

        It has, where the controller was aligned on two stars or more and shows places on the sky;
        only figures that are known to be those of the axes still hold the lean.
        """
        return self.is_aligned and self.readout != "axes"

    @property
    def drives_by_alignment(self) -> bool:
        """Whether go-tos go through an alignment that the log's figures do not.

        The figures count the axes and show how the base leans; go-tos land as the alignment has it.
        """
        return self.is_aligned and self.readout == "axes"

    @property
    def clock_cleared_by(self) -> Literal["alignment", "verified"] | None:
        """What clears date, time and place of looking like a lean: an alignment, a phone, nothing.

        An alignment takes up whatever they are wrong by.
        """
        if self.lean_is_hidden:
            return "alignment"
        return "verified" if self.entered is not None and self.entered.verified else None

    @property
    def place_deg(self) -> tuple[float, float] | None:
        """Latitude and east longitude, degrees; None unless both are known."""
        if self.site is None or self.site.latitude_deg is None or self.site.longitude_deg is None:
            return None
        return self.site.latitude_deg, self.site.longitude_deg

    @property
    def observer(self) -> Observer | None:
        """The observer at the site; None unless latitude and longitude are known."""
        if self.place_deg is None or self.site is None:
            return None
        return Observer(*self.place_deg, self.site.elevation_m or 0.0)

    @property
    def zone(self) -> tzinfo | None:
        """Zone of times that are logged without one; None where the file does not tell."""
        if self.site is None:
            return None
        if self.site.time_zone is not None:
            return named_zone(self.site.time_zone)
        return None if self.site.utc_offset_s is None else fixed_zone(self.site.utc_offset_s)

    @property
    def pressure_hpa(self) -> float:
        """Pressure at the station: as told, else from the site's elevation, else 1010 hPa.

        Standard atmosphere below 11 km: U.S. Standard Atmosphere, 1976, eq. 33a.
        """
        if self.weather is not None and self.weather.pressure_hpa is not None:
            return self.weather.pressure_hpa
        if self.site is None or self.site.elevation_m is None:
            return _USUAL_PRESSURE_HPA
        return float(1013.25 * (1.0 - 0.0065 * self.site.elevation_m / 288.15) ** 5.25588)

    @property
    def temperature_c(self) -> float:
        """Temperature as told, else 10 °C."""
        if self.weather is not None and self.weather.temperature_c is not None:
            return self.weather.temperature_c
        return _USUAL_TEMPERATURE_C

    def open_alt_deg(self, az_deg: ArrayLike) -> FloatArray:
        """Lowest open altitude toward each azimuth, degrees, shape as given.

        Straight lines between the points of the horizon profile, around the circle; 0 without one.
        """
        azimuth = np.mod(np.asarray(az_deg, dtype=float), 360.0)
        if not self.horizon:
            return np.zeros_like(azimuth)
        points = [(az if az == 360.0 else az % 360.0, alt) for az, alt in self.horizon]
        points.sort(key=lambda point: point[0])  # two at one azimuth, a step, keep their order
        turns = [(az + turn, alt) for turn in (-360.0, 0.0, 360.0) for az, alt in points]
        known_az, known_alt = np.array(sorted(turns, key=lambda point: point[0])).T
        return np.asarray(np.interp(azimuth, known_az, known_alt))

    def to_dict(self) -> dict[str, dict[str, Any]]:
        """The file's tables as plain types, without what was not told; `read_mount` reads them."""
        tables = {}
        for table, keys in TABLES.items():
            holder = getattr(self, table) if table in _TABLE_TYPES else self
            unsaid = (None,) if table in _TABLE_TYPES else (None, ())  # no alignment stars is said
            values = {
                name: value if key.write is None else key.write(value)
                for name, key in keys.items()
                if (value := getattr(holder, key.field, None)) not in unsaid
            }
            if values:
                tables[table] = values
        return tables


_TABLE_TYPES = {
    "alignment": Alignment,
    "log": LogKeys,
    "site": Site,
    "entered": Entered,
    "optics": Optics,
    "feet": Feet,
    "eyepiece": Eyepiece,
    "weather": Weather,
}
_NEEDED = {"feet": ("radius", "azimuths")}


def read_mount(source: MountSource) -> MountFile:
    """Read and check a mount file.

    `source` is the path of a `mount.toml`, its tables as a dict, a MountFile (returned as it is) or
    None (everything at its default). Raises InputError with every problem found.

    >>> import pointmodel as pm
    >>> pm.read_mount({"site": {"latitude": "41 18 S", "longitude": "146 12 E"}}).place_deg
    (-41.3, 146.2)
    """
    if source is None:
        return MountFile()
    if isinstance(source, MountFile):
        return source
    if isinstance(source, Mapping):
        return _from_tables(TomlText("<dict>", dict(source)))
    if not isinstance(source, (str, os.PathLike)):
        wanted = "the path of a mount.toml, a dict or a MountFile"
        raise InputError([Problem("<mount>", None, None, quoted(source), wanted)])
    path = Path(source)
    text, _ = decode_text(read_bytes(path, "the path of a mount.toml"), str(path))
    return _from_tables(parse_toml(text, str(path)))


def _from_tables(toml: TomlText) -> MountFile:
    """Check every table and key, then build the MountFile or raise all problems at once."""
    problems: list[Problem] = []
    fields: dict[str, Any] = {}
    for table, content in toml.tables.items():
        line = toml.line(str(table))
        if table not in TABLES:
            problems.append(_unknown_table(toml.file, line, table))
        elif not isinstance(content, Mapping):
            wanted = f"a table [{table}] with the keys {join(list(TABLES[table]))}"
            problems.append(Problem(toml.file, line, str(table), quoted(content), wanted))
        else:
            values, found = _read_table(toml, table, content)
            problems.extend(found)
            if found:
                continue
            if table not in _TABLE_TYPES:
                fields.update(values)
            elif values:
                fields[table] = _TABLE_TYPES[table](**values)
    if problems:
        raise InputError(problems)
    return MountFile(**fields, source=toml.file)


def _read_table(
    toml: TomlText, table: str, content: Mapping[Any, Any]
) -> tuple[dict[str, Any], list[Problem]]:
    """Values of one table by field name, and its problems."""
    keys = TABLES[table]
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for name, written in content.items():
        line = toml.line(table, str(name))
        if name not in keys:
            problems.append(_unknown_key(toml.file, line, table, name))
            continue
        try:
            values[keys[name].field] = _value(keys[name], written)
        except ValueError as error:  # of the readers; msgspec's ValidationError is one
            unsaid = isinstance(error, (msgspec.ValidationError, UnicodeError))
            wanted = keys[name].wanted if unsaid else str(error)
            problems.append(Problem(toml.file, line, f"{table}.{name}", quoted(written), wanted))
    if not problems:
        problems.extend(_table_problems(toml, table, content))
    return values, problems


def _value(key: Key, written: Any) -> Any:
    """One value, read and within its limits. Raises ValueError."""
    plain = _plain(written)
    if key.read is not None:
        plain = key.read(plain)
    value = msgspec.convert(plain, key.kind)
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(key.wanted)
    return value


def _plain(value: Any) -> Any:
    """Python's own numbers and lists in place of numpy's, which dicts from notebooks hold."""
    if isinstance(value, (np.generic, np.ndarray)):
        return value.tolist()
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    return value


def _table_problems(toml: TomlText, table: str, content: Mapping[Any, Any]) -> Iterator[Problem]:
    """Problems of keys taken together: what is missing, and what contradicts."""
    missing = [name for name in _NEEDED.get(table, ()) if name not in content]
    if content and missing:
        found = f"[{table}] without {join(missing)}"
        yield Problem(toml.file, toml.line(table), table, found, f"{join(missing)} too")
    if "time_zone" in content and "utc_offset" in content:
        line = toml.line(table, "utc_offset")
        found = "time_zone and utc_offset"
        yield Problem(toml.file, line, f"{table}.utc_offset", found, "one of the two")
    if "date" in content and "date_order" in content:
        try:
            parse_date(str(content["date"]), content["date_order"])
        except TimeTextError as error:
            line = toml.line(table, "date")
            yield Problem(
                toml.file, line, f"{table}.date", quoted(str(content["date"])), str(error)
            )


def _unknown_table(file: str, line: int | None, table: object) -> Problem:
    homes = [home for home, keys in TABLES.items() if table in keys]
    if homes:
        return Problem(file, line, str(table), quoted(table), f"{table} under [{homes[0]}]")
    meant = nearest(str(table).lower(), TABLES)
    wanted = f"[{meant}]; " if meant else ""
    found = f"[{table}]"
    return Problem(file, line, None, found, f"{wanted}the tables are {join(list(TABLES))}")


def _unknown_key(file: str, line: int | None, table: str, name: object) -> Problem:
    keys = TABLES[table]
    meant = nearest(str(name).lower(), keys)
    homes = [home for home, others in TABLES.items() if name in others]
    if meant:
        wanted = f"{meant}; "
    elif homes:
        wanted = f"{name} under [{homes[0]}]; "
    else:
        wanted = ""
    wanted += f"the keys of [{table}] are {join(list(keys))}"
    return Problem(file, line, f"{table}.{name}", quoted(str(name)), wanted)
