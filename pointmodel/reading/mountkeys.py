"""Every table and key of the mount file: the field it fills and what it may hold.

To add a key: one `Key` here, one field in `mountfile.py`, one line in `templates/mount.toml`.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Literal, NamedTuple, get_args

from msgspec import Meta

from pointmodel.base.angles import parse_angle_deg
from pointmodel.base.times import (
    DATE_ORDERS,
    MOMENT_WANTED,
    OFFSET_WANTED,
    TimeTextError,
    format_utc_offset,
    parse_clock_s,
    parse_date,
    parse_moment,
    parse_utc_offset_s,
    parse_zone_name,
)
from pointmodel.base.wording import join, one_of

Side = Literal["commanded", "centred", "both"]
ColumnFinding = Literal[
    "columns_exchanged",
    "azimuth_counted_backwards",
    "azimuth_from_south",
    "zenith_distance",
    "hours_not_degrees",
    "radians_not_degrees",
    "axes_exchanged",
]


class Key(NamedTuple):
    """One key: the field it fills, the type and limits of its value, and both in words.

    `read` turns what people write into that type and raises ValueError with better words; `write`
    turns the field back into what the file holds.
    """

    field: str
    kind: Any
    wanted: str
    read: Callable[[Any], Any] | None = None
    write: Callable[[Any], Any] | None = None


def _number(field: str, low: float, high: float, unit: str) -> Key:
    kind = Annotated[float, Meta(ge=low, le=high)]
    return Key(field, kind, f"a number from {low:g} to {high:g} ({unit})")


def _positive(field: str, high: float, unit: str) -> Key:
    kind = Annotated[float, Meta(gt=0, le=high)]
    return Key(field, kind, f"a number above 0, up to {high:g} ({unit})")


def _word(field: str, *words: str) -> Key:
    wanted = join([f'"{word}"' for word in words], "or")
    return Key(field, Literal[words], wanted)


def _flag(field: str) -> Key:
    return Key(field, bool, "true or false")


def _angle(sides: str) -> Callable[[Any], Any]:
    """Read degrees from a number or a text with degrees and minutes."""

    def read(value: Any) -> Any:
        if isinstance(value, str):
            return parse_angle_deg(value, decimal_comma=True, sides=sides)
        return value

    return read


def _latitude(value: Any) -> Any:
    """North latitude. Raises ValueError for what can only be a longitude."""
    degrees = _angle("NS")(value)
    if isinstance(degrees, (int, float)) and 90.0 < abs(degrees) <= 360.0:
        raise ValueError(
            "degrees from -90 to 90: are latitude and longitude exchanged? Latitude is the one "
            "from south to north"
        )
    return degrees


def _longitude(value: Any) -> Any:
    """East longitude in (-180, 180] from one counted up to 360."""
    degrees = _angle("EW")(value)
    if isinstance(degrees, (int, float)) and 180.0 < degrees <= 360.0:
        return degrees - 360.0
    return degrees


def _offset(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise TimeTextError(OFFSET_WANTED)
    return parse_utc_offset_s(value)


def _zone(value: Any) -> Any:
    return parse_zone_name(value) if isinstance(value, str) else value


def _typed(check: Callable[[str], object]) -> Callable[[Any], Any]:
    """Keep an entry as the text that was typed, once `check` finds that it can be read at all."""

    def read(value: Any) -> Any:
        if isinstance(value, (datetime.date, datetime.time)):
            value = value.isoformat()
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            value = str(value)
        if isinstance(value, str):
            check(value)
        return value

    return read


def _check_latitude(text: str) -> None:
    if abs(parse_angle_deg(text, decimal_comma=True, sides="NS")) > 90.0:
        raise ValueError("a latitude from -90 to 90 degrees")


def _check_longitude(text: str) -> None:
    if not -180.0 <= parse_angle_deg(text, decimal_comma=True, sides="EW") <= 360.0:
        raise ValueError("a longitude from -180 to 360 degrees")


def _check_date(text: str) -> None:
    for order in DATE_ORDERS:
        try:
            parse_date(text, order)
        except TimeTextError:
            continue
        return
    raise TimeTextError("a date as typed, such as 05/17 or 2031-05-17")


def _check_entered_at(text: str) -> None:
    if parse_moment(text).offset_s is None:
        raise TimeTextError(f"a moment with its zone: {MOMENT_WANTED}")


def _evening(value: Any) -> Any:
    """The date of an evening as year-month-day."""
    if isinstance(value, datetime.date):
        value = value.isoformat()
    if isinstance(value, str):
        parse_date(value, "year-month-day")
    return value


def _listed(values: Sequence[Any]) -> list[Any]:
    return [list(value) if isinstance(value, tuple) else value for value in values]


_LATITUDE = "degrees from -90 to 90, south negative, or text such as 41 18 S"
_LONGITUDE = "degrees from -180 to 360, east positive, or text such as 146 12 E"
_TEXT = Annotated[str, Meta(min_length=1)]
_AZIMUTH = Annotated[float, Meta(ge=-360, le=360)]
_OPEN_ALTITUDE = Annotated[float, Meta(ge=-10, le=90)]

TABLES: dict[str, dict[str, Key]] = {
    "mount": {
        "name": Key("name", str, "a name in quotes"),
        "readout": _word("readout", "axes", "sky"),
        "azimuth_origin": _number("azimuth_origin_deg", -360, 360, "degrees"),
        "equinox": _word("equinox", "date", "J2000"),
    },
    "alignment": {
        "stars": Key(
            "stars",
            tuple[_TEXT, ...],
            'a list of names such as ["Achernar", "Canopus"], [] for none',
            write=list,
        ),
        "solves": _word("solves", "rotation", "altitude_zero", "full", "unknown"),
        "presses": _word("presses", "none", "each_star", "logged", "unknown"),
        "noted": _word("noted", "before_press", "after_press"),
    },
    "log": {
        "commanded_from": _word("commanded_from", "controller", "almanac"),
        "date": Key("date", str, "the date of the evening, such as 2031-05-17", _evening),
        "figures": Key(
            "figures",
            tuple[tuple[Side, ColumnFinding], ...],
            'what a column truly holds, such as {centred = "zenith_distance"}: '
            f"one of {one_of(get_args(ColumnFinding))}",
            lambda value: list(value.items()) if isinstance(value, Mapping) else value,
            dict,
        ),
    },
    "site": {
        "latitude": Key(
            "latitude_deg", Annotated[float, Meta(ge=-90, le=90)], _LATITUDE, _latitude
        ),
        "longitude": Key(
            "longitude_deg", Annotated[float, Meta(ge=-180, le=180)], _LONGITUDE, _longitude
        ),
        "elevation": _number("elevation_m", -500, 9000, "m"),
        "time_zone": Key("time_zone", str, 'a zone name such as "Australia/Hobart"', _zone),
        "utc_offset": Key("utc_offset_s", float, OFFSET_WANTED, _offset, format_utc_offset),
    },
    "entered": {
        "latitude": Key("latitude", str, "the latitude as typed", _typed(_check_latitude)),
        "longitude": Key("longitude", str, "the longitude as typed", _typed(_check_longitude)),
        "date": Key("date", str, "the date as typed, such as 05/17", _typed(_check_date)),
        "date_order": _word("date_order", *DATE_ORDERS),
        "time": Key("time", str, "the time as typed, such as 21:00:00", _typed(parse_clock_s)),
        "entered_at": Key("entered_at", str, MOMENT_WANTED, _typed(_check_entered_at)),
        "utc_offset": Key("utc_offset", str, OFFSET_WANTED, _typed(parse_utc_offset_s)),
        "summer_time": _flag("summer_time"),
        "verified": _flag("verified"),
    },
    "optics": {
        "field_of_view": _positive("field_of_view_arcmin", 1200, "arcmin"),
        "centring_error": _number("centring_error_arcmin", 0, 600, "arcmin"),
    },
    "feet": {
        "radius": _positive("radius_mm", 10000, "mm"),
        "azimuths": Key(
            "azimuths_deg",
            Annotated[tuple[_AZIMUTH, ...], Meta(min_length=3)],
            "a list of three or more azimuths in degrees, such as [0, 120, 240]",
            write=_listed,
        ),
        "screw_pitch": _positive("screw_pitch_mm", 20, "mm a turn"),
        "legs": _flag("legs"),
        "screw_travel": _positive("screw_travel_mm", 200, "mm each way"),
    },
    "eyepiece": {
        "turn": _number("turn_deg", -360, 360, "degrees"),
        "mirrored": _flag("mirrored"),
        "side": _word("side", "back", "left", "right"),
    },
    "horizon": {
        "profile": Key(
            "horizon",
            tuple[tuple[_AZIMUTH, _OPEN_ALTITUDE], ...],
            "pairs of azimuth (to 360) and lowest open altitude (-10 to 90), degrees, such as "
            "[[0, 12], [90, 35]]",
            write=_listed,
        ),
    },
    "weather": {
        "pressure": _number("pressure_hpa", 300, 1100, "hPa, at the station"),
        "temperature": _number("temperature_c", -60, 60, "°C"),
    },
    "time": {"source": _word("time_source", "phone", "gps", "watch", "controller")},
}
