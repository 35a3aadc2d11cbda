"""`simulate`: a made-up night with known terms and faults, to try the program on.

The arguments are checked here, all of them, before anything is drawn; `simulation/draw.py` draws
the night through the chain of rotations in `simulation/mount.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.simulation.checks import Checks
from pointmodel.simulation.draw import NoSlipError, draw_night
from pointmodel.simulation.faults import PEN_SLIPS
from pointmodel.simulation.mount import UnreachableError
from pointmodel.simulation.night import (
    MOTIONS,
    MOUNT_CLASSES,
    PEN_SLIP_PLACES,
    Motions,
    MountClass,
    NightOptions,
    PenSlipPlace,
    SimulatedNight,
)

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

MOST_PAIRS = 200_000
START = "2031-05-17T20:00:00+10:00"


def simulate(
    *,
    seed: int = 0,
    pairs: int = 12,
    terms: Mapping[str, float] | None = None,
    mount_class: MountClass = "usual",
    sigma_arcmin: float | None = None,
    mount_share: float | None = None,
    readout_step_arcsec: float | None = None,
    wrong_stars: int = 0,
    pen_slips: int = 0,
    pen_slip_kind: str | None = None,
    pen_slip_in: PenSlipPlace = "centred",
    clutch_slip_arcmin: float = 0.0,
    slip_after_pair: int | None = None,
    low_alt_deg: float = 15.0,
    high_alt_deg: float = 80.0,
    start: str = START,
    minutes_between: float = 3.0,
    motions: Motions = "mixed",
    sidereal_error_min: float = 0.0,
    latitude_error_deg: float = 0.0,
    mount: str | Path | dict[str, Any] | MountFile | None = None,
) -> SimulatedNight:
    """Make a night's log with known truth; the same arguments always give the same night.

    `terms` (by name, in the unit of `terms_of_the_mount()`) override those drawn for `mount_class`:
    "usual"; "varied" (spread, noise and readout step differ from mount to mount); "worse" (three
    times the usual); "perfect" (all zero). Further terms (flexure, refraction, scales,
    eccentricity, backlash, drift, slips) are zero unless given. `sigma_arcmin` is the noise an
    axis on the sky, of which `mount_share` (0 to 1) is the mount's scatter and √(1 − share²) the
    person's centring error; with `readout_step_arcsec` (0: none) these three go by the class where
    left out.

    Faults: `wrong_stars` lines with a star 0.7° to 8° away centred; `pen_slips` lines with a slip
    of the pen of one kind of `PEN_SLIPS` (or any) in the centred or the commanded figures;
    `clutch_slip_arcmin` a step of the azimuth readout after `slip_after_pair` pairs (left out:
    half the night), which also places slips given as terms.

    Stars stand evenly in solid angle between the two altitudes, above the horizon of `mount`
    (path, dict or MountFile). Where that knows its site they are bright stars by name, and the
    controller may be wrong by `sidereal_error_min` and `latitude_error_deg` (believed minus true).
    `start` is ISO 8601 with a zone; `motions` at the end of a centring go both ways, one way or
    unlogged.

    Raises `InputError` that lists everything wrong with the arguments.

    >>> import pointmodel as pm
    >>> night = pm.simulate(seed=1, pairs=8, terms={"collimation": 9.0}, wrong_stars=1)
    >>> night.terms["collimation"], len(night.log), int(night.bad.sum())
    (9.0, 8, 1)
    """
    checks = Checks()
    start_s, utc_offset_s = checks.moment("start", start)
    options = NightOptions(
        pairs=checks.whole("pairs", pairs, 1, MOST_PAIRS),
        terms=checks.terms(terms, clutch_slip_arcmin),
        mount_class=checks.choice("mount_class", mount_class, MOUNT_CLASSES),
        sigma_arcmin=checks.maybe("sigma_arcmin", sigma_arcmin, 0.0, 600.0),
        mount_share=checks.maybe("mount_share", mount_share, 0.0, 1.0),
        readout_step_arcsec=checks.maybe("readout_step_arcsec", readout_step_arcsec, 0.0, 3600.0),
        wrong_stars=checks.whole("wrong_stars", wrong_stars, 0, MOST_PAIRS),
        pen_slips=checks.whole("pen_slips", pen_slips, 0, MOST_PAIRS),
        pen_slip_kind=None
        if pen_slip_kind is None
        else checks.choice("pen_slip_kind", pen_slip_kind, tuple(PEN_SLIPS)),
        pen_slip_in=checks.choice("pen_slip_in", pen_slip_in, PEN_SLIP_PLACES),
        slip_after_pair=None
        if slip_after_pair is None
        else checks.whole("slip_after_pair", slip_after_pair, 1, MOST_PAIRS),
        low_alt_deg=checks.number("low_alt_deg", low_alt_deg, 0.0, 89.0),
        high_alt_deg=checks.number("high_alt_deg", high_alt_deg, 1.0, 90.0),
        start_s=start_s,
        utc_offset_s=utc_offset_s,
        minutes_between=checks.number("minutes_between", minutes_between, 0.0, 1440.0),
        motions=checks.choice("motions", motions, MOTIONS),
        sidereal_error_min=checks.number("sidereal_error_min", sidereal_error_min, -720.0, 720.0),
        latitude_error_deg=checks.number("latitude_error_deg", latitude_error_deg, -180.0, 180.0),
        mount=_mount(mount),
    )
    seed = checks.whole("seed", seed, 0, 2**63 - 1)
    checks.together(options)
    checks.finish()
    return _draw(seed, options, checks)


def _mount(mount: str | Path | dict[str, Any] | MountFile | None) -> MountFile | None:
    if mount is None:
        return None
    from pointmodel.reading.mountfile import read_mount

    return read_mount(mount)


def _draw(seed: int, options: NightOptions, checks: Checks) -> SimulatedNight:
    """Draw the night; what only shows while drawing is told as an error of the arguments."""
    highest, lower = f"{options.high_alt_deg:g}", "a lower altitude, or smaller terms"
    try:
        night = draw_night(np.random.default_rng(seed), options, seed)
    except UnreachableError as error:
        out_of_reach = int(error.which.sum())
        checks.wrong("high_alt_deg", f"{highest}, with {out_of_reach} stars out of reach", lower)
    except NoSlipError as error:
        found = f"{options.pen_slips}, where {error.found} lines can hold such a slip"
        checks.wrong("pen_slips", found, "fewer, another pen_slip_kind or another seed")
    checks.finish()
    if (np.abs(night.centred_alt_deg) > 90.0).any():
        checks.wrong("high_alt_deg", f"{highest}, with readouts past 90° of altitude", lower)
    checks.finish()
    return night
