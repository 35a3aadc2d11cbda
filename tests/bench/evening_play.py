"""One simulated evening, played: stars, mount, controller, and a person who centres and writes.

Read `evenings.py` first, then `Script` (what may go on), `Evening` (what comes of it), `play`. The
order is the evening's: set-up, alignment, line after line, then what the person wrote of it.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from bench.controllers import (
    FIRST_S,
    THREE_YEARS_S,
    Site,
    Wrong,
    draw_wrong,
    horizon_deg,
    places_deg,
)
from bench.evening_machine import Controller, Machine, vectors

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.reading.nightlog import NightLog
from pointmodel.simulation.draw import draw_terms
from pointmodel.simulation.files import figure_text
from pointmodel.simulation.mount import UnreachableError, beside, place_deg
from pointmodel.sky.stars import star_table

# invented places near the cities that the zones are named after: one south and east, two north
SITES = (
    Site("Australia/Hobart", -42.31, 146.42),
    Site("Europe/Berlin", 52.87, 12.63),
    Site("America/Denver", 38.64, -105.27),
)
LOWEST_DEG, HIGHEST_DEG = 15.0, 78.0
BRIGHT, LISTED = 2.6, 3.5  # magnitudes: of stars to log, of stars that may be taken for another
NEAR_DEG = 15.0
STEPS_ARCSEC = (1.0, 36.0, 60.0)
RADIUS_MM, FEET_DEG = 430.0, (0.0, 120.0, 240.0)
FIELD_ARCMIN = 48.0
LABEL_DEG, OFFSET_ARCSEC = 0.1, 0.1


@dataclass(frozen=True)
class Script:
    """What goes on in an evening; the defaults are an honest log of a usual mount.

    `silent`: tables of the mount file that the person left out. `columns`: which figures are
    written as what (a finding's name). `terms` override those of the population. A move comes after
    pair `move_after` (drawn where None). `place_range_deg` bounds the azimuths of the stars.
    """

    lines: tuple[int, int] = (6, 12)
    population: str = "usual"
    terms: Mapping[str, float] = field(default_factory=dict)
    sigma_arcmin: float = 1.0
    mount_share: float = 0.6
    step_arcsec: float | None = None
    minutes_between: float | None = None
    aligned_on: int = 0
    second_star: str = "right"  # | wrong | badly_centred
    shows: str = "axes"
    solves: str = "rotation"
    solves_said: bool = True
    silent: tuple[str, ...] = ()
    press: str = "none"  # | each | some
    press_logged: bool = False
    noted_after: str | None = None  # | exact | jitter
    columns: tuple[tuple[str, str], ...] = ()
    move: str | None = None  # | knock | sinking | tube
    move_after: int | None = None
    times: str = "seconds"  # | cut | rounded | none
    names: bool = True
    entry: str = "agrees"
    mount_slip: str | None = None  # | longitude_sign | latitude_sign | exchanged
    hopeless: str | None = None  # | wrong_stars | shifted | random
    form: str = "centred"  # | nudges | labels | label_nudges
    centring_said: bool = False
    site: int | None = None
    az_range_deg: tuple[float, float] = (0.0, 360.0)


@dataclass(frozen=True, eq=False)
class Played:
    """The evening as it truly was, before anybody wrote: places (n, 2) in degrees.

    `star` is where the stars stood, `commanded` where the controller put them, `reading` the
    mount's own readings with each star centred, `landed` where each go-to ended, `felt` where the
    person took the star to be, `terms` the mount at each line. `unpressed` is what
    the display would have shown had nothing been pressed while logging, `shown` what it showed, and
    `noted` what the person read off.
    """

    site: Site
    wrong: Wrong
    entry: str
    names: tuple[str, ...]
    time_s: FloatArray
    star: FloatArray
    commanded: FloatArray
    reading: FloatArray
    landed: FloatArray
    felt: FloatArray
    terms: tuple[dict[str, float], ...]
    unpressed: FloatArray
    shown: FloatArray
    noted: FloatArray
    pressed: tuple[bool, ...]
    moved_after: int | None
    aligned_on: tuple[str, ...]
    taken_for: str | None  # the star that truly was centred in place of the second one
    step_arcsec: float
    machine: Machine  # at the end of the log


@dataclass(frozen=True, eq=False)
class Evening:
    """A log as a person wrote it, the mount file that this person has, and the truth.

    `plain_text` is the log that the same evening would have given to somebody who pressed nothing
    and wrote columns as README says; `told` is the mount file with every question answered rightly.
    """

    kind: str
    seed: int
    script: Script
    text: str
    plain_text: str
    mount: dict[str, Any]
    told: dict[str, Any]
    played: Played

    @property
    def machine(self) -> Machine:
        """Mount and controller as they stand at the end of the log."""
        return self.played.machine

    @property
    def terms(self) -> Mapping[str, float]:
        """The mount's true terms at the end of the log, arcminutes."""
        return self.played.machine.terms

    @cached_property
    def log(self) -> NightLog:
        """The log, read with the person's own mount file."""
        return read_text(self.text, self.mount)

    @cached_property
    def answered_log(self) -> NightLog:
        """The log, read with a mount file in which all questions are answered."""
        return read_text(self.text, self.told)

    @cached_property
    def plain_log(self) -> NightLog:
        """The same evening logged with nothing pressed and nothing exchanged."""
        mount = {**self.told, "alignment": {"stars": []}}
        return read_text(self.plain_text, {k: v for k, v in mount.items() if k != "log"})


def read_text(text: str, mount: Any) -> NightLog:
    """A log read from memory."""
    return pm.read_log(io.StringIO(text), mount)


def play(kind: str, seed: int, script: Script, rng: np.random.Generator) -> Evening:
    """Play the script until stars and mount allow it, and write it down."""
    while True:
        try:
            played = _played(script, rng)
        except UnreachableError:
            continue
        if played is not None:
            break
    told = _mount_file(script, played)
    mount = {name: table for name, table in told.items() if name not in script.silent}
    mount["log"] = {"commanded_from": "controller"}  # nobody has asked about the columns yet
    if script.mount_slip is not None:
        mount["site"] = _slipped(told["site"], script.mount_slip)
    if not script.solves_said and "alignment" in mount:
        mount["alignment"] = {k: v for k, v in mount["alignment"].items() if k != "solves"}
    honest = replace(script, columns=(), hopeless=None, press="none", noted_after=None)
    return Evening(
        kind=kind,
        seed=seed,
        script=script,
        text=_written(script, played, played.noted, rng),
        plain_text=_written(honest, played, played.unpressed, rng),
        mount=mount,
        told=told,
        played=played,
    )


# ---------------------------------------------------------------- the evening itself


def _played(script: Script, rng: np.random.Generator) -> Played | None:
    site = SITES[int(rng.integers(len(SITES))) if script.site is None else script.site]
    count = int(rng.integers(script.lines[0], script.lines[1] + 1))
    start_s = _start_s(rng, site)
    wrong = draw_wrong(rng, script.entry, site, start_s)
    if wrong is None:
        return None
    wrong = replace(wrong, ahead_s=wrong.ahead_s + float(rng.normal(0.0, 1.0)))  # typed by hand
    minutes = rng.uniform(2.0, 5.0) if script.minutes_between is None else script.minutes_between
    gaps_s = 60.0 * minutes * rng.uniform(2 / 3, 4 / 3, count)
    time_s = np.round(start_s + np.cumsum(gaps_s))
    sky = _stars(rng, script, site, wrong, time_s)
    if sky is None:
        return None
    names, star, commanded = sky
    terms, moved_after = _terms_by_line(rng, script, time_s)
    step = script.step_arcsec
    step = float(rng.choice(STEPS_ARCSEC)) if step is None else step
    begun = _set_up(rng, script, site, wrong, terms[0], time_s[0])
    if begun is None:
        return None
    controller, aligned_on, taken_for = begun
    share = script.mount_share
    scatter = share * script.sigma_arcmin
    centring = float(np.sqrt(1.0 - share**2)) * script.sigma_arcmin
    machines = [Machine(one, controller, scatter) for one in terms]
    by_hand = rng.normal(0.0, centring, (count, 2))
    off = rng.normal(0.0, scatter, (count, 2)) + by_hand
    met = np.array([_beside(star[k], off[k]) for k in range(count)])
    felt = np.array([_beside(star[k], by_hand[k]) for k in range(count)])
    reading = np.array([machines[k].reads(met[k]) for k in range(count)])
    sent = controller.drives_to(_rounded(commanded, step))
    landed = np.array(
        [_beside(machines[k].looks_at(sent[k]), rng.normal(0.0, scatter, 2)) for k in range(count)]
    )
    shown, noted, pressed, controller = _logged(rng, script, controller, commanded, reading, step)
    return Played(
        site=site,
        wrong=wrong,
        entry=script.entry,
        names=names,
        time_s=time_s,
        star=star,
        commanded=commanded,
        reading=reading,
        landed=landed,
        felt=felt,
        terms=tuple(terms),
        unpressed=machines[0].controller.shown(reading),
        shown=shown,
        noted=noted,
        pressed=pressed,
        moved_after=moved_after,
        aligned_on=aligned_on,
        taken_for=taken_for,
        step_arcsec=step,
        machine=Machine(terms[-1], controller, scatter),
    )


def _start_s(rng: np.random.Generator, site: Site) -> float:
    """An evening of three years, between 19 and 25 hours of local sun time."""
    day_s = FIRST_S + float(rng.integers(0, int(THREE_YEARS_S / 86400.0))) * 86400.0
    return day_s + 3600.0 * (float(rng.uniform(19.0, 25.0)) - site.longitude_deg / 15.0)


def _stars(
    rng: np.random.Generator, script: Script, site: Site, wrong: Wrong, time_s: FloatArray
) -> tuple[tuple[str, ...], FloatArray, FloatArray] | None:
    """Bright stars, none twice while others are left: names, true places, the controller's."""
    names = _names(BRIGHT)
    true, held = _on_the_sky(names, site, wrong, time_s)
    low, high = script.az_range_deg
    usable = (true[..., 1] > LOWEST_DEG) & (true[..., 1] < HIGHEST_DEG) & (held[..., 1] > 5.0)
    usable &= (true[..., 0] >= low) & (true[..., 0] <= high)
    usable &= (held[..., 0] >= low) & (held[..., 0] <= high)
    used = np.zeros(len(names))
    picked = []
    for row in range(time_s.size):
        if not usable[row].any():
            return None
        order = np.where(usable[row], used + rng.random(len(names)), np.inf)
        picked.append(int(np.argmin(order)))
        used[picked[-1]] += 1.0
    if len(set(picked)) < min(4, time_s.size):
        return None
    rows = np.arange(time_s.size)
    return tuple(names[k] for k in picked), true[rows, picked], held[rows, picked]


def _names(faintest: float) -> list[str]:
    table = star_table()
    named = np.array([name != "" for name in table.name])
    return [table.label[k] for k in np.flatnonzero((table.magnitude < faintest) & named)]


def _on_the_sky(
    names: Sequence[str], site: Site, wrong: Wrong, time_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Places (n, m, 2) of m stars at n moments: true ones and those of the controller."""
    sky = places_deg(time_s, list(names), False)
    true = horizon_deg(time_s, site, *sky, Wrong(), False)
    believed = places_deg(time_s + wrong.ahead_s, list(names), False)
    held = horizon_deg(time_s, site, *believed, wrong, False)
    true_deg, held_deg = (np.stack(one, axis=-1) for one in (true, held))
    true_deg[..., 0] %= 360.0
    held_deg[..., 0] %= 360.0
    return true_deg, held_deg


def _beside(place: FloatArray, off_arcmin: FloatArray) -> FloatArray:
    """A place (2,) with an offset on the sky, across altitude and up."""
    x, y = np.radians(np.asarray(off_arcmin) / 60.0)
    sight = beside(np.asarray(place[0]), np.asarray(place[1]), x, y)
    return np.array(place_deg(sight))


def _rounded(places_deg: FloatArray, step_arcsec: float) -> FloatArray:
    step_deg = step_arcsec / 3600.0
    return np.asarray(np.round(places_deg / step_deg) * step_deg)


def _terms_by_line(
    rng: np.random.Generator, script: Script, time_s: FloatArray
) -> tuple[list[dict[str, float]], int | None]:
    """The mount's terms at each line, and the pair (counted from 1) after which it moved."""
    count = time_s.size
    base = {**draw_terms(rng, script.population), **script.terms}  # type: ignore[arg-type]
    turn, size = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(25.0, 60.0)
    north, east = float(np.cos(turn)), float(np.sin(turn))
    if script.move is None:
        return [dict(base) for _ in range(count)], None
    if script.move == "sinking":
        hours = (time_s - time_s[0]) / 3600.0
        sunk = [60.0 * float(hour) for hour in hours]  # 60′ an hour
        return [_moved(base, tilt_north=north * size, tilt_east=east * size) for size in sunk], None
    after = script.move_after or int(rng.integers(2, count - 1))
    if script.move == "knock":
        changed = _moved(
            base,
            tilt_north=north * size,
            tilt_east=east * size,
            azimuth_index=float(rng.normal(0.0, 20.0)),
        )
    else:
        signs = rng.choice([-1.0, 1.0], 2)
        shift = rng.uniform(25.0, 60.0, 2) * signs
        changed = _moved(base, collimation=float(shift[0]), altitude_index=float(shift[1]))
    return [dict(base)] * after + [changed] * (count - after), after


def _moved(base: Mapping[str, float], **changes: float) -> dict[str, float]:
    return {**base, **{name: base[name] + change for name, change in changes.items()}}


def _set_up(
    rng: np.random.Generator,
    script: Script,
    site: Site,
    wrong: Wrong,
    terms: Mapping[str, float],
    first_s: float,
) -> tuple[Controller, tuple[str, ...], str | None] | None:
    """Power-up, and what was pressed before the log: the controller, on which stars, and truly."""
    controller = Controller(site, wrong, script.shows, script.solves)
    if script.aligned_on == 0:
        return controller, (), None
    before_s = np.array([first_s - 240.0, first_s - 120.0])[: script.aligned_on]
    names = _names(BRIGHT)
    true, held = _on_the_sky(names, site, wrong, before_s)
    chosen = _alignment_stars(rng, true, held)
    if chosen is None:
        return None
    rows = np.arange(script.aligned_on)
    chosen = chosen[: script.aligned_on]
    stars, commanded = true[rows, chosen], held[rows, chosen]
    said, truly = tuple(names[k] for k in chosen), None
    if script.second_star == "wrong":
        taken = _star_near(rng, said, site, before_s, stars)
        if taken is None:
            return None
        truly, stars[1] = taken
    elif script.second_star == "badly_centred":
        turn, far = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(60.0, 150.0)
        stars[1] = _beside(stars[1], far * np.array([np.cos(turn), np.sin(turn)]))
    machine = Machine(terms, controller)
    off = rng.normal(0.0, script.sigma_arcmin, (script.aligned_on, 2))
    reading = np.array([machine.reads(_beside(*one)) for one in zip(stars, off, strict=True)])
    if script.aligned_on == 1:
        return controller.pressed(commanded[0], reading[0]), said, truly
    return controller.aligned(commanded, reading), said, truly


def _alignment_stars(
    rng: np.random.Generator, true: FloatArray, held: FloatArray
) -> FloatArray | None:
    """Two stars 60° to 120° apart at 20° to 65°, of those up at both moments; None if none is."""
    last = true.shape[0] - 1
    good = ((true[..., 1] > 20.0) & (true[..., 1] < 65.0) & (held[..., 1] > 5.0)).all(axis=0)
    candidates = rng.permutation(np.flatnonzero(good))
    for one in candidates:
        apart = np.degrees(np.arccos(np.clip(vectors(true[last]) @ vectors(true[0, one]), -1, 1)))
        for other in candidates:
            if 60.0 < apart[other] < 120.0:
                return np.array([one, other])
    return None


def _star_near(
    rng: np.random.Generator,
    said: tuple[str, ...],
    site: Site,
    before_s: FloatArray,
    stars: FloatArray,
) -> tuple[str, FloatArray] | None:
    """Another listed star near the second alignment star: its name and true place."""
    table = star_table()
    names = [table.label[k] for k in np.flatnonzero(table.magnitude < LISTED)]
    true, _ = _on_the_sky(names, site, Wrong(), before_s)
    apart = np.degrees(np.arccos(np.clip(vectors(true[1]) @ vectors(stars[1]), -1.0, 1.0)))
    near = (apart < NEAR_DEG) & (apart > 1.0) & (true[1, :, 1] > 12.0)
    near &= np.array([name not in said for name in names])
    if not near.any():
        return None
    k = int(rng.choice(np.flatnonzero(near)))
    return names[k], true[1, k]


def _logged(
    rng: np.random.Generator,
    script: Script,
    controller: Controller,
    commanded: FloatArray,
    reading: FloatArray,
    step_arcsec: float,
) -> tuple[FloatArray, FloatArray, tuple[bool, ...], Controller]:
    """Line after line: what was shown, what was noted, what was pressed; the controller after."""
    count = len(commanded)
    pressed = {
        "none": np.zeros(count, dtype=bool),
        "each": np.ones(count, dtype=bool),
        "some": rng.permutation(np.arange(count) < max(2, round(0.4 * count))),
    }[script.press]
    shown, noted = np.empty((count, 2)), np.empty((count, 2))
    for k in range(count):
        shown[k] = noted[k] = controller.shown(reading[k])
        if not pressed[k]:
            continue
        controller = controller.pressed(commanded[k], reading[k])
        if script.noted_after is not None:
            noted[k] = controller.shown(reading[k])
        if script.noted_after == "jitter":
            by = rng.choice([-1.0, 0.0, 1.0], 2, p=[0.25, 0.5, 0.25])
            noted[k] = _rounded(noted[k], step_arcsec) + by * step_arcsec / 3600.0
    return shown, noted, tuple(bool(one) for one in pressed), controller


# ---------------------------------------------------------------- what is written of it

_AS_WRITTEN = {
    "azimuth_counted_backwards": lambda az, alt: ((360.0 - az) % 360.0, alt),
    "azimuth_from_south": lambda az, alt: ((az + 180.0) % 360.0, alt),
    "zenith_distance": lambda az, alt: (az, 90.0 - alt),
    "hours_not_degrees": lambda az, alt: (az / 15.0, alt),
    "radians_not_degrees": lambda az, alt: (np.radians(az), np.radians(alt)),
    "axes_exchanged": lambda az, alt: (alt, az),
}


def _written(script: Script, played: Played, noted: FloatArray, rng: np.random.Generator) -> str:
    """The log as text: header, then a line a star."""
    cells: dict[str, list[str]] = {}
    count = played.time_s.size
    if script.names:
        cells["target"] = list(played.names)
    if script.times != "none":
        cells["time"] = [_time_text(t, played.site.zone, script.times) for t in played.time_s]
    cells |= _figures(script, played, noted, rng)
    trailing = ""
    if script.press_logged and script.press != "none":
        before = [False, *played.pressed[:-1]]
        cells["event"] = ["zero_on_star" if one else "" for one in before]
        if played.pressed[-1] and played.site.latitude_deg > 0:  # northern people finish the page
            trailing = "," * (len(cells) - 1) + "zero_on_star\n"
    rows = zip(*cells.values(), strict=True)
    assert all(len(column) == count for column in cells.values()) or script.hopeless == "shifted"
    return "\n".join([",".join(cells), *(",".join(row) for row in rows)]) + "\n" + trailing


def _figures(
    script: Script, played: Played, noted: FloatArray, rng: np.random.Generator
) -> dict[str, list[str]]:
    if script.form == "nudges":
        return _nudges(played.commanded, played, played.step_arcsec, "{:.1f}", 60.0)
    if script.form in ("labels", "label_nudges"):
        return _labelled(script, played)
    commanded, noted = played.commanded, _spoiled(script, noted, rng)
    pairs = {"commanded": commanded, "centred": noted}
    exchanged = ("both", "columns_exchanged") in script.columns
    steps = dict.fromkeys(pairs, played.step_arcsec)
    for which, finding in script.columns:
        if finding == "columns_exchanged":
            continue
        for name in ("commanded", "centred") if which == "both" else (which,):
            az, alt = _AS_WRITTEN[finding](pairs[name][:, 0] % 360.0, pairs[name][:, 1])
            pairs[name] = np.stack([az, alt], axis=-1)
            if finding in ("radians_not_degrees", "hours_not_degrees"):
                steps[name] = -1.0  # decimals of their own
    names = ("centred", "commanded") if exchanged else ("commanded", "centred")
    cells = {}
    for name, source in zip(names, ("commanded", "centred"), strict=True):
        for k, axis in enumerate(("az", "alt")):
            column = pairs[source][:, k]
            cells[f"{name}_{axis}"] = [_figure(one, steps[source], axis) for one in column]
    if script.hopeless == "shifted":
        for axis in ("az", "alt"):
            figures = cells[f"centred_{axis}"]
            cells[f"centred_{axis}"] = figures[1:] + figures[:1]
    return cells


def _spoiled(script: Script, noted: FloatArray, rng: np.random.Generator) -> FloatArray:
    """What hopeless people note: wrong stars on every line, or figures from anywhere."""
    count = len(noted)
    if script.hopeless == "wrong_stars":
        turn, far = rng.uniform(0.0, 2.0 * np.pi, count), rng.uniform(60.0, 600.0, count)
        off = far[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        noted = np.array([_beside(*one) for one in zip(noted, off, strict=True)])
    elif script.hopeless == "random":
        az = rng.uniform(0.0, 360.0, count)
        noted = np.stack([az, np.degrees(np.arcsin(rng.uniform(0.26, 0.98, count)))], axis=-1)
    return noted


def _figure(value: float, step_arcsec: float, axis: str) -> str:
    if step_arcsec < 0.0:
        return f"{value:.5f}"
    text = figure_text(float(_rounded(np.array(value), step_arcsec)), step_arcsec)
    return text.replace("360", "0", 1) if axis == "az" and text.startswith("360") else text


def _nudge_arcmin(seen: FloatArray, star: FloatArray) -> FloatArray:
    """Right and up (n, 2), arcminutes: the stars in frames centred where the tube looked.

    Right is longitude, up latitude of a frame whose equator runs through `seen` square to the
    direction of the zenith.
    """
    az, alt = np.radians(seen).T
    ahead = vectors(seen)
    right = np.stack([-np.sin(az), np.cos(az), np.zeros_like(az)], axis=-1)
    up = np.stack([-np.sin(alt) * np.cos(az), -np.sin(alt) * np.sin(az), np.cos(alt)], axis=-1)
    sight = vectors(star)
    parts = [np.sum(sight * axis, axis=-1) for axis in (ahead, right, up)]
    along = np.degrees(np.arctan2(parts[1], parts[0]))
    return 60.0 * np.stack([along, np.degrees(np.arcsin(parts[2]))], axis=-1)


def _nudges(
    commanded: FloatArray, played: Played, step_arcsec: float, form: str, unit: float
) -> dict[str, list[str]]:
    """Columns of a nudge log: from where the go-to landed to the star, as the person centred it."""
    nudge = _nudge_arcmin(played.landed, played.felt) * 60.0 / unit
    cells = {
        f"commanded_{axis}": [_figure(one, step_arcsec, axis) for one in commanded[:, k]]
        for k, axis in enumerate(("az", "alt"))
    }
    cells["nudge_right"] = [form.format(one) for one in nudge[:, 0]]
    cells["nudge_up"] = [form.format(one) for one in nudge[:, 1]]
    return cells


def _labelled(script: Script, played: Played) -> dict[str, list[str]]:
    """A professional's list: commanded to a tenth of a degree, offsets to a tenth of an arcsecond.

    As nudges, or as centred figures that are the printed label plus the offset in each axis.
    """
    label = np.round(played.commanded / LABEL_DEG) * LABEL_DEG
    if script.form == "label_nudges":
        return _nudges(label, played, 3600.0 * LABEL_DEG, '{:.1f}"', 1.0)
    off = played.noted - played.commanded
    off[:, 0] = (off[:, 0] + 180.0) % 360.0 - 180.0
    step_deg = OFFSET_ARCSEC / 3600.0
    centred = label + np.round(off / step_deg) * step_deg
    return {
        f"{name}_{axis}": [f"{one:.{digits}f}" for one in column[:, k]]
        for name, column, digits in (("commanded", label, 1), ("centred", centred, 6))
        for k, axis in enumerate(("az", "alt"))
    }


def _time_text(time_s: float, zone: str, form: str) -> str:
    """ISO 8601 with the site's zone; minutes cut or rounded where people leave the seconds out."""
    if form == "rounded":
        time_s += 30.0
    moment = datetime.fromtimestamp(float(time_s), UTC).astimezone(ZoneInfo(zone))
    return moment.isoformat(timespec="seconds" if form == "seconds" else "minutes")


def _mount_file(script: Script, played: Played) -> dict[str, Any]:
    """The mount file of somebody who answered every question rightly."""
    alignment: dict[str, Any] = {"stars": list(played.aligned_on)}
    alignment["presses"] = {"none": "none", "each": "each_star", "some": "unknown"}[script.press]
    if script.press_logged:
        alignment["presses"] = "logged"
    if script.noted_after is not None:
        alignment["noted"] = "after_press"
    if script.aligned_on > 1:
        alignment["solves"] = script.solves
    optics: dict[str, float] = {"field_of_view": FIELD_ARCMIN}
    if script.centring_said:
        share = script.mount_share
        optics["centring_error"] = float(np.sqrt(1.0 - share**2)) * script.sigma_arcmin
    site, of_log = played.site, {"commanded_from": "controller"}
    return {
        "mount": {"readout": script.shows},
        "alignment": alignment,
        "log": of_log | ({"figures": dict(script.columns)} if script.columns else {}),
        "site": {
            "latitude": site.latitude_deg,
            "longitude": site.longitude_deg,
            "time_zone": site.zone,
        },
        "optics": optics,
        "feet": {"radius": RADIUS_MM, "azimuths": list(FEET_DEG), "screw_pitch": 1.5},
    }


def _slipped(site: Mapping[str, Any], slip: str) -> dict[str, Any]:
    """The site as somebody wrote it who lost a sign or exchanged two lines."""
    latitude, longitude = site["latitude"], site["longitude"]
    wrong = {
        "longitude_sign": (latitude, -longitude),
        "latitude_sign": (-latitude, longitude),
        "exchanged": (longitude, latitude),
    }[slip]
    return {**site, "latitude": wrong[0], "longitude": wrong[1]}
