"""From what people call a target to where it stands.

Read first: `find_target` for the names that are understood, then `target_places`. The spelling of
names is forgiving (case, accents, blanks, hyphens); a misspelt one is answered with what was
probably meant, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal, cast

import numpy as np
from numpy.typing import ArrayLike

from pointmodel.base.angles import AngleError
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import join, quoted
from pointmodel.sky.bodies import PLANETS, Body, body_place
from pointmodel.sky.names import (
    LONGEST_TARGET,
    bayer_in_words,
    near_names,
    parse_designation,
    squeezed,
)
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import apparent_places
from pointmodel.sky.radec import RaDec, parse_radec
from pointmodel.sky.stars import MessierObject, messier_objects, star_table

Kind = Literal["star", "planet", "moon", "sun", "deep_sky", "radec"]
_OTHER_WORDS = {"sol": "Sun", "thesun": "Sun", "luna": "Moon", "themoon": "Moon"}
_NUMBERED = re.compile(r"(messier|m|ngc|ic|hip|hipparcos)0*(\d{1,6})")
_KINDS = (
    "a star (Achernar, alpha Eri, HIP 7588), a planet, Sun or Moon, or M 42, NGC 253 and the like. "
    "Or right ascension and declination such as 05:34:31 +22:00:52"
)


@dataclass(frozen=True)
class Target:
    """Something to point at; `name` is how it is shown.

    Places are ICRS, epoch J2000, degrees (of date where `of_date`); None for Sun, Moon and planets,
    which move. Motions in milliarcseconds a year (cos(declination) in that of right ascension).
    `colour_index` is B−V. `also` says what else it is called, or what it is.
    """

    name: str
    kind: Kind
    ra_deg: float | None = None
    dec_deg: float | None = None
    of_date: bool = False
    pm_ra_mas_yr: float = 0.0
    pm_dec_mas_yr: float = 0.0
    parallax_mas: float = 0.0
    magnitude: float | None = None
    colour_index: float | None = None
    hip: int | None = None
    also: str = ""


class _NotFoundError(ValueError):
    """No such target; the message says what would be right."""


def find_target(text: str, file: str = "<target>", line: int | None = None) -> Target:
    """The target of a name, number or place.

    Stars by proper name (`Achernar`), by Bayer's letter as it is usually written (`alpha Eri`,
    `α Eri`, `alf Eri`, `Alpha Eridani`), by Flamsteed's number (`58 Ori`) or `HIP 7588`; planets,
    Sun and Moon; Messier objects by number or name; NGC and IC numbers where pyongc (the extra
    `deepsky`) is installed; right ascension and declination (ICRS unless marked "of date"). Raises
    InputError, with what was probably meant, at `file` and `line`.
    """
    try:
        return _resolve(text)
    except _NotFoundError as error:
        raise InputError([Problem(file, line, "target", quoted(text), str(error))]) from None


def look_up(text: str) -> Target | None:
    """As `find_target`, but None where the text is no known target: logs hold free names too."""
    try:
        return _resolve(text)
    except _NotFoundError:
        return None


def did_you_mean(text: str, at_most: int = 3) -> tuple[str, ...]:
    """Names of targets that are spelt nearly so, the likeliest first."""
    return near_names(text, _names_by_key(), at_most)


def star_target(row: int) -> Target:
    """The star in a row of `star_table`."""
    table = star_table()
    colour = float(table.colour_index[row])
    names = (
        f"{table.bayer[row] or table.flamsteed[row]} {table.constellation[row]}",
        f"HIP {table.hip[row]}",
    )
    return Target(
        table.label[row],
        "star",
        float(table.ra_deg[row]),
        float(table.dec_deg[row]),
        pm_ra_mas_yr=float(table.pm_ra_mas_yr[row]),
        pm_dec_mas_yr=float(table.pm_dec_mas_yr[row]),
        parallax_mas=float(table.parallax_mas[row]),
        magnitude=float(table.magnitude[row]),
        colour_index=colour if np.isfinite(colour) else None,
        hip=int(table.hip[row]),
        also=", ".join(names if table.bayer[row] or table.flamsteed[row] else names[1:]),
    )


def target_places(
    targets: Sequence[Target], time_s: ArrayLike, observer: Observer | None = None
) -> tuple[FloatArray, FloatArray]:
    """Right ascension in [0, 360) and declination of date, degrees, (n,) each, of n targets.

    `time_s` is one moment or n, POSIX seconds. Sun, Moon and planets are seen from the observer's
    site where one is given.
    """
    times = np.broadcast_to(np.asarray(time_s, dtype=float), (len(targets),))
    ra_deg, dec_deg = np.empty(len(targets)), np.empty(len(targets))
    fixed = [k for k, target in enumerate(targets) if target.ra_deg is not None]
    if fixed:
        ra_deg[fixed], dec_deg[fixed] = _fixed_places([targets[k] for k in fixed], times[fixed])
    for name in {target.name for target in targets if target.ra_deg is None}:
        rows = [k for k, target in enumerate(targets) if target.name == name]
        place = body_place(cast(Body, name), times[rows], observer)
        ra_deg[rows], dec_deg[rows] = place.ra_deg, place.dec_deg
    return ra_deg, dec_deg


def _fixed_places(targets: Sequence[Target], time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places of date of targets with a place of their own."""
    held = np.array([(t.ra_deg, t.dec_deg) for t in targets], dtype=float)
    moving = np.array([(t.pm_ra_mas_yr, t.pm_dec_mas_yr, t.parallax_mas) for t in targets])
    ra_deg, dec_deg = apparent_places(
        held[:, 0],
        held[:, 1],
        time_s,
        pm_ra_mas_yr=moving[:, 0],
        pm_dec_mas_yr=moving[:, 1],
        parallax_mas=moving[:, 2],
    )
    of_date = np.array([target.of_date for target in targets])
    return np.where(of_date, held[:, 0], ra_deg), np.where(of_date, held[:, 1], dec_deg)


def _resolve(text: str) -> Target:
    """The target of a text. Raises _NotFoundError."""
    key = squeezed(text)
    if not key or len(text) > LONGEST_TARGET:
        raise _NotFoundError(_KINDS)
    if (found := _targets_by_key().get(key)) is not None:
        return found
    if (numbered := _NUMBERED.fullmatch(key)) is not None:
        return _numbered(numbered[1], int(numbered[2]))
    row = _rows_by_label().get(" ".join(text.split()))  # I Car is another star than i Car
    row = _stars_by_designation().get(parse_designation(key) or "") if row is None else row
    if row is not None:
        return star_target(row)
    try:
        place = parse_radec(text)
    except AngleError as error:
        raise _NotFoundError(str(error)) from None
    if place is not None:
        return _place_target(text, place)
    if key in ("earth", "pluto"):
        raise _NotFoundError(f"one of the planets {join(PLANETS)}")
    meant = did_you_mean(text)
    raise _NotFoundError(f"a known target: did you mean {join(meant, 'or')}?" if meant else _KINDS)


def _place_target(text: str, place: RaDec) -> Target:
    shown = " ".join(text.split())
    return Target(shown, "radec", place.ra_deg, place.dec_deg, of_date=place.of_date)


def _numbered(catalogue: str, number: int) -> Target:
    """An object of a numbered catalogue. Raises _NotFoundError."""
    if catalogue in ("m", "messier"):
        if not 1 <= number <= len(messier_objects()):
            raise _NotFoundError(f"a Messier number from 1 to {len(messier_objects())}")
        return _messier_target(messier_objects()[number - 1])
    if catalogue in ("hip", "hipparcos"):
        rows = np.flatnonzero(star_table().hip == number)
        if not rows.size:
            held = f"one of the {len(star_table())} bundled stars (all to magnitude 4.5)"
            raise _NotFoundError(f"the number of {held}, or right ascension and declination")
        return star_target(int(rows[0]))
    return _deep_sky_target(f"{catalogue.upper()} {number}")


def _messier_target(item: MessierObject) -> Target:
    called = ", ".join(part for part in (*item.names[:1], item.designation, item.type) if part)
    return Target(
        f"M {item.number}",
        "deep_sky",
        item.ra_deg,
        item.dec_deg,
        magnitude=item.magnitude,
        also=called,
    )


def _deep_sky_target(name: str) -> Target:
    """An NGC or IC object, from the optional package pyongc. Raises _NotFoundError."""
    try:
        from pyongc import exceptions, ongc
    except ImportError:
        wanted = 'pip install "pointmodel[deepsky]" for NGC and IC numbers'
        raise _NotFoundError(f"{wanted}, or right ascension and declination") from None
    try:
        item = ongc.Dso(name.replace(" ", ""))
    except (exceptions.UnknownIdentifier, exceptions.ObjectNotFound):
        raise _NotFoundError("a number that is in the NGC or IC") from None
    if item.rad_coords is None:
        raise _NotFoundError("another object: this one has no known place")
    ra_deg, dec_deg = (float(angle) for angle in np.degrees(item.rad_coords))
    visual = item.magnitudes[1] if item.magnitudes[1] is not None else item.magnitudes[0]
    called = ", ".join([*(item.identifiers[3] or [])[:1], str(item.type).lower()])
    magnitude = None if visual is None else float(visual)
    return Target(name, "deep_sky", ra_deg, dec_deg, magnitude=magnitude, also=called)


@cache
def _targets_by_key() -> dict[str, Target]:
    """Targets by squeezed name: bodies, stars' names, names and NGC numbers of Messier's."""
    found = {squeezed(planet): Target(planet, "planet") for planet in PLANETS}
    found |= {"sun": Target("Sun", "sun"), "moon": Target("Moon", "moon")}
    found |= {word: found[squeezed(name)] for word, name in _OTHER_WORDS.items()}
    for item in messier_objects():
        for name in (item.designation, *item.names):
            if name:
                found.setdefault(squeezed(name), _messier_target(item))
    table = star_table()
    names = [(table.name[row], row) for row in range(len(table))]
    names += [(other, row) for row in range(len(table)) for other in table.other_names[row]]
    for name, row in names:
        if name:
            found.setdefault(squeezed(name), star_target(row))
    return found


@cache
def _rows_by_label() -> dict[str, int]:
    return {label: row for row, label in enumerate(star_table().label)}


@cache
def _stars_by_designation() -> dict[str, int]:
    """Rows by `parse_designation`'s key; without its index a letter is that of the brightest."""
    table = star_table()
    rows: dict[str, int] = {}
    for row in range(len(table)):
        constellation = table.constellation[row].casefold()
        bayer, flamsteed = table.bayer[row].casefold(), table.flamsteed[row]
        for mark in (bayer, bayer.rstrip("123456789"), flamsteed):
            if mark:
                rows.setdefault(f"{mark} {constellation}", row)
    for key, row in list(rows.items()):
        if key.startswith("ο"):  # omicron is often typed as the Latin letter
            rows.setdefault(f"o{key[1:]}", row)
    return rows


@cache
def _names_by_key() -> dict[str, str]:
    """Names to suggest, by squeezed spelling: proper names first, then Bayer's in full."""
    table = star_table()
    names = [*PLANETS, "Sun", "Moon", *(name for name in table.name if name)]
    names += [other for others in table.other_names for other in others]
    names += [name for item in messier_objects() for name in item.names]
    spelt = {squeezed(name): name for name in reversed(names)}
    for bayer, constellation in zip(table.bayer, table.constellation, strict=True):
        for words in bayer_in_words(bayer, constellation) if bayer else ():
            spelt.setdefault(squeezed(words), words)
    return spelt
