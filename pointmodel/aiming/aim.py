"""`aim`: where to send the mount so that a target ends up in the middle of the eyepiece.

Read `targets.py` (what may be asked), `commandframe.py` (where the controller has it) and
`forecast.py` first. Each target comes back with a status, and with numbers only where they may be
used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.aiming.skycare import SeenTargets, moon_notices, slew_notices
from pointmodel.aiming.targets import (
    AZ_ALT_WANTED,
    FILE,
    Asked,
    Wanted,
    asked_moment,
    asked_targets,
    nearest_star_deg,
)
from pointmodel.base.angles import format_dm, wrap_360_deg
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.figures import miss_words
from pointmodel.base.offsets import step_on_sky_deg
from pointmodel.base.rows import ResultRows
from pointmodel.base.wording import one_after_another, quoted
from pointmodel.forecasting.forecast import misses_at_targets, sky_forecast
from pointmodel.forecasting.machine import pointing_at, readings_for
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.reading.columns import ALT_RANGE_DEG
from pointmodel.sky.sunguard import (
    KEEP_OUT_DEG,
    Sun,
    sun_at,
    sun_notices,
    sun_separation_deg,
    too_near_sun,
)

if TYPE_CHECKING:
    import pandas as pd

    from pointmodel.aiming.commandframe import CommandFrame
    from pointmodel.fitting.result import Fit

FARTHEST_STAR_DEG = 35.0  # beyond that from every star that was used, a command is a guess
READY = ("ok", "extrapolated", "zero_first")
MOST_FIELDS = 2.0  # farther than that nobody finds the star by nudging

NO_READING = "it is too near the mount's own zenith: no position of the axes points there"
PAST_ZENITH = "the altitude readout would have to show more than 90°, which no controller takes"
NO_FIELD = (
    "for the chance to be in the eyepiece, write field_of_view under [optics] in the mount file"
)
SITE_WANTED = (
    "latitude and longitude under [site] in the mount file (--mount FILE), which tell where it "
    f"stands; or {AZ_ALT_WANTED}"
)
MOON_BY_NAME = Notice(
    "moon_by_name",
    "many controllers forget how near the Moon is, up to a degree in her place: go by azimuth "
    "and altitude, or by right ascension and declination, not by name",
)


@dataclass(frozen=True)
class Nudge:
    """How far to go on from where the uncorrected command leads, arcminutes on the sky.

    Where the star stands in the frame whose middle is where the tube then looks: right toward
    increasing azimuth, up toward the zenith. A log's `nudge_right` and `nudge_up` are the same.
    """

    right_arcmin: float
    up_arcmin: float


@dataclass(frozen=True)
class AimedTarget:
    """One target: what was asked, what to command, and how far from the target that may end.

    `what` is what a name was taken for; `asked_*` where it stands in the frame of the log's
    `commanded`. The other numbers are None unless `status` is ok, extrapolated or zero_first (then
    all but the nudge are there); it may also be sun, unreachable or below_horizon, and `reason`
    then says why. Right ascension and declination
    are those to give the controller, of `equinox`; None where time or site is unknown. Approaches
    are `cw` and `up` where the log shows slack in that axis, else None.
    """

    target: str
    what: str | None
    at: str | None
    asked_az_deg: float
    asked_alt_deg: float
    status: str
    reason: str | None
    command_az_deg: float | None = None
    command_alt_deg: float | None = None
    command_ra_deg: float | None = None
    command_dec_deg: float | None = None
    equinox: str | None = None
    nudge: Nudge | None = None
    miss_rms_arcmin: float | None = None
    p95_arcmin: float | None = None
    chance_in_field: float | None = None
    approach_az: str | None = None
    approach_alt: str | None = None

    def as_row(self) -> dict[str, Any]:
        """The fields as one row of a frame, the nudge in two columns."""
        row = {field.name: getattr(self, field.name) for field in fields(self)}
        del row["nudge"]
        right, up = (None, None) if self.nudge is None else astuple(self.nudge)
        return row | {"nudge_right_arcmin": right, "nudge_up_arcmin": up}


@dataclass(frozen=True)
class AimResult:
    """Corrected positions for a list of targets, in its order."""

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    targets: ResultRows[AimedTarget]

    @property
    def frame(self) -> pd.DataFrame:
        """The targets as a frame, one row each, in their order."""
        return self.targets.frame

    def to_dict(self) -> dict[str, Any]:
        """Return the aim document: plain types only, equal to the command's JSON."""
        from pointmodel.aiming.document import aim_document

        return aim_document(self)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.aiming.text import aim_text

        return aim_text(self.to_dict())

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.aiming.card import aim_card
        from pointmodel.showing.cards import brief

        return brief(aim_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.aiming.card import aim_card
        from pointmodel.showing.cards import html

        return html(aim_card(self))


@dataclass(frozen=True, eq=False)
class _Places:
    """Where the targets stand, degrees, (k,): in the frame of commands, and truly in the sky."""

    az_deg: FloatArray
    alt_deg: FloatArray
    seen_az_deg: FloatArray
    seen_alt_deg: FloatArray


@dataclass(frozen=True, eq=False)
class _Commands:
    """The readings that centre the targets, degrees, (k,), and whether any exist."""

    az_deg: FloatArray
    alt_deg: FloatArray
    reachable: BoolArray
    ra_deg: FloatArray | None = None
    dec_deg: FloatArray | None = None


def aim(
    fit: Fit, targets: Sequence[Wanted] | Wanted, at: str | datetime | None = None
) -> AimResult:
    """Return what to command for each target so that it ends up centred.

    A target is a text "azimuth,altitude" or a pair of degrees, in the frame of the log's
    `commanded`; a star, planet or Messier object by name; or right ascension and declination (ICRS
    unless marked "of date"). Names need the site. `at` is when they are wanted, ISO 8601, without a
    zone the mount file's; left out, names are aimed at now. The mount is taken as it stood at the
    end of the log. What stands within 20° of the Sun is refused while that is up or in twilight.
    Raises InputError that lists every target which cannot be read or lacks the site, and for a
    moment that is none.

    >>> import pointmodel as pm
    >>> fit = pm.fit(pm.simulate(seed=1).log)
    >>> aim = pm.aim(fit, [(120.0, 45.0), "250.5,30"])
    >>> aim.targets.frame["status"].tolist()
    ['ok', 'ok']
    """
    asked = asked_targets(targets)
    by_name = any(one.sky is not None for one in asked)
    mount = fit.log.mount
    moment, notices = asked_moment(at, mount.zone, by_name)
    if by_name and mount.place_deg is None:
        raise InputError(
            Problem(FILE, None, None, quoted(one.name), SITE_WANTED) for one in asked if one.sky
        )
    sun = sun_at(mount.observer, moment.time_s)
    aimed: tuple[AimedTarget, ...] = ()
    if asked:
        frame, told = _frame(fit, moment.time_s, by_name)
        places = _places(asked, frame)
        aimed = _aimed(
            fit,
            asked,
            at=moment.written,
            places=places,
            commands=_commands(fit, places, frame),
            sun=sun,
        )
        ready = [k for k, target in enumerate(aimed) if target.status in READY]
        seen = SeenTargets(
            tuple(asked[k].name for k in ready),
            places.seen_az_deg[ready],
            places.seen_alt_deg[ready],
        )
        notices += (*told, *slew_notices(seen, sun), *moon_notices(seen, mount, moment.time_s))
        if any(aimed[k].what == "Moon" for k in ready):
            notices.append(MOON_BY_NAME)
    return AimResult(
        fit.inputs, (*fit.warnings, *notices, *sun_notices(sun)), ResultRows.of(AimedTarget, aimed)
    )


def _frame(
    fit: Fit, time_s: float | None, by_name: bool
) -> tuple[CommandFrame | None, tuple[Notice, ...]]:
    """The frame of commands at that moment, None where time or site is unknown; and its remarks."""
    if time_s is None or fit.log.mount.place_deg is None:
        return None, ()
    from pointmodel.aiming.belief import UNPROVEN, belief_of
    from pointmodel.aiming.commandframe import command_frame

    belief, notices = belief_of(fit.log)
    told = tuple(notice for notice in notices if by_name or notice is not UNPROVEN)
    return command_frame(fit, time_s, belief), told


def _places(asked: list[Asked], frame: CommandFrame | None) -> _Places:
    """Where the targets stand; places asked for as such are the controller's own."""
    az_deg, alt_deg = np.array([one.place_deg or (0.0, 0.0) for one in asked], dtype=float).T
    az_deg = wrap_360_deg(az_deg)
    if frame is None:
        return _Places(az_deg, alt_deg, az_deg, alt_deg)
    ra_deg, dec_deg = frame.of_date(az_deg, alt_deg)
    named = [k for k, one in enumerate(asked) if one.sky is not None]
    if named:
        from pointmodel.sky.targets import target_places

        sky = [one.sky for one in asked if one.sky is not None]
        ra_deg[named], dec_deg[named] = target_places(sky, frame.time_s, frame.observer)
        az_deg[named], alt_deg[named] = frame.commanded(ra_deg[named], dec_deg[named])
    return _Places(az_deg, alt_deg, *frame.seen(ra_deg, dec_deg))


def _commands(fit: Fit, places: _Places, frame: CommandFrame | None) -> _Commands:
    az_deg, alt_deg, reachable = readings_for(fit.model, places.az_deg, places.alt_deg)
    az_deg = wrap_360_deg(az_deg)
    if frame is None:
        return _Commands(az_deg, alt_deg, reachable)
    ra_deg, dec_deg = frame.entered(az_deg, np.clip(alt_deg, *ALT_RANGE_DEG))
    if fit.log.mount.equinox == "J2000" and not frame.old_equinox:
        from pointmodel.sky.places import catalogue_places

        ra_deg, dec_deg = catalogue_places(ra_deg, dec_deg, frame.time_s)
    return _Commands(az_deg, alt_deg, reachable, ra_deg, dec_deg)


def _aimed(
    fit: Fit,
    asked: list[Asked],
    at: str | None,
    places: _Places,
    commands: _Commands,
    sun: Sun | None,
) -> tuple[AimedTarget, ...]:
    nudges = _nudges(fit, places)
    outlook = fit.expected_at(places.az_deg, places.alt_deg)
    misses = misses_at_targets(outlook)
    rms, p95 = sky_forecast(outlook).miss_rms_arcmin, np.quantile(misses, 0.95, axis=0)
    field = fit.log.mount.optics.field_of_view_arcmin
    equinox = None if commands.ra_deg is None else fit.log.mount.equinox
    found = []
    for k, (status, reason) in enumerate(_statuses(fit, places, commands, sun)):
        one = asked[k]
        far = _too_far_to_nudge(nudges[k], field, one.sky is not None)
        if far is not None and status in READY:
            status, reason = "zero_first", one_after_another(reason, far)
        what = None if one.sky is None else one.sky.name
        aimed = AimedTarget(
            target=one.name,
            what=what,
            at=at,
            asked_az_deg=float(places.az_deg[k]),
            asked_alt_deg=float(places.alt_deg[k]),
            status=status,
            reason=reason,
        )
        if status not in READY:
            found.append(aimed)
            continue
        if field is None:
            reason = one_after_another(reason, NO_FIELD)
        found.append(
            replace(
                aimed,
                reason=reason,
                command_az_deg=float(commands.az_deg[k]),
                command_alt_deg=float(commands.alt_deg[k]),
                command_ra_deg=None if commands.ra_deg is None else float(commands.ra_deg[k]),
                command_dec_deg=None if commands.dec_deg is None else float(commands.dec_deg[k]),
                equinox=equinox,
                nudge=None if status == "zero_first" else nudges[k],
                miss_rms_arcmin=float(rms[k]),
                p95_arcmin=float(p95[k]),
                chance_in_field=_chance_in_field(misses[:, k], field),
                approach_az="cw" if fit.model.az_motion > 0 else None,
                approach_alt="up" if fit.model.alt_motion > 0 else None,
            )
        )
    return tuple(found)


def _nudges(fit: Fit, places: _Places) -> list[Nudge]:
    """From where the tube looks, once the mount reads the places themselves, to the places."""
    looks = pointing_at(fit.model, places.az_deg, places.alt_deg)
    right_deg, up_deg = step_on_sky_deg(*looks, places.az_deg, places.alt_deg)
    steps = zip((60.0 * right_deg).tolist(), (60.0 * up_deg).tolist(), strict=True)
    return [Nudge(right, up) for right, up in steps]


def _chance_in_field(misses_arcmin: FloatArray, field_arcmin: float | None) -> float | None:
    if field_arcmin is None:
        return None
    return float(np.mean(misses_arcmin <= 0.5 * field_arcmin))


def _statuses(
    fit: Fit, places: _Places, commands: _Commands, sun: Sun | None
) -> list[tuple[str, str | None]]:
    """Status and reason of each target; the reason is None where all is well."""
    pairs = fit.pair_results
    used = ~pairs.set_aside
    star_az, star_alt = pairs.star_az_deg[used], pairs.star_alt_deg[used]
    nearest = nearest_star_deg(places.az_deg, places.alt_deg, star_az, star_alt)
    near_sun = too_near_sun(sun, places.seen_az_deg, places.seen_alt_deg)
    lowest = np.maximum(fit.log.mount.open_alt_deg(places.seen_az_deg), 0.0)
    found: list[tuple[str, str | None]] = []
    for k, seen_alt_deg in enumerate(places.seen_alt_deg.tolist()):
        if near_sun[k] and sun is not None:
            away = float(sun_separation_deg(sun, places.seen_az_deg[k], seen_alt_deg))
            found.append(("sun", _sun_reason(away)))
        elif seen_alt_deg < lowest[k]:
            here, opens = format_dm(seen_alt_deg, 0), format_dm(float(lowest[k]), 0)
            below = f"its altitude is {here}, and the open sky begins at {opens} there"
            found.append(("below_horizon", below))
        elif not commands.reachable[k]:
            found.append(("unreachable", NO_READING))
        elif abs(commands.alt_deg[k]) > ALT_RANGE_DEG[1]:
            found.append(("unreachable", PAST_ZENITH))
        elif nearest[k] > FARTHEST_STAR_DEG:
            found.append(("extrapolated", f"the nearest star of the log is {nearest[k]:.0f}° away"))
        else:
            found.append(("ok", None))
    return found


def _too_far_to_nudge(nudge: Nudge, field_arcmin: float | None, by_name: bool) -> str | None:
    """Why this nudge is not given: it is more than two fields; None where it is not."""
    size_arcmin = float(np.hypot(nudge.right_arcmin, nudge.up_arcmin))
    field = field_arcmin or USUAL_FIELD_ARCMIN
    if size_arcmin <= MOST_FIELDS * field:
        return None
    assumed = "" if field_arcmin else " of 40′ (field_of_view is not in the mount file)"
    return (
        f"sent {'by name' if by_name else 'there uncorrected'} it misses by "
        f"{miss_words(size_arcmin)}, more than two fields of the "
        f"eyepiece{assumed}. Zero the controller on a bright star first. Log that star on a line "
        "with the event zero_on_star, and ask again. Sent to this azimuth and altitude it needs "
        "no nudge"
    )


def _sun_reason(away_deg: float) -> str:
    if away_deg < 1.0:
        return "no mount is sent to the Sun while it is up or in twilight"
    return f"it stands {away_deg:.0f}° from the Sun, and must be {KEEP_OUT_DEG:.0f}° from it"
