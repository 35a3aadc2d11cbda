"""What the names, times and place of a log add to the diagnosis.

Read `check.py` and `leanapart.py` first. Here the verdict on the controller's entries becomes
evidence for causes: which entry is wrong, whether it explains the lean, whether the commands were
stale or of an old equinox.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.figures import miss_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.diagnosis.leanapart import (
    EntryOffsets,
    LeanApart,
    believed_turn,
    lean_apart,
    log_odds_of_feigned,
)
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN, azimuth_altitude, directions
from pointmodel.mount.terms import TERMS

if TYPE_CHECKING:
    from pointmodel.entries.result import CheckResult
    from pointmodel.entries.result import Verdict as SkyVerdict
    from pointmodel.estimate.posterior import Posterior
    from pointmodel.estimate.results import PairResults, SetAside
    from pointmodel.reading.nightlog import NightLog

SDS_IN_AN_INTERVAL = 2.0 * NORMAL_95
SUSPECTED_ABOVE = 0.01
# A choice, as `check` asks above it: what the controller believes is known only against a right
# site, so no lean is told from a wrong entry's until the mount file is cleared.
DOUBTED_ABOVE = 0.1
ONE_SOLUTION_ABOVE = 0.95


COULD_BE_STALE = (
    "commanded places noted some minutes before the centring would look the same: the sky had "
    "turned by then"
)
STALE_REMEDY = (
    "note the commanded place again at the centring, or log the time of the go-to as commanded_time"
)
OLD_EQUINOX = (
    "the commanded places are those of the year 2000, not of today. That looks like a lean of "
    "some {shift:.0f}′ which turns with the sky"
)
OLD_EQUINOX_REMEDY = (
    "set the controller to coordinates of date (often called epoch of date, or now), or enter "
    "right ascension and declination of date"
)
PRECESSION_ARCMIN_A_YEAR = 0.838  # 50.29″: Lieske et al. 1977, general precession
JULIAN_YEAR_S, J2000_S = 31557600.0, 946728000.0


@dataclass(frozen=True)
class Suspect:
    """A cause that shows in the commanded places: how probable it is, what to say and to do."""

    cause: str
    probability: float
    text: str
    remedy: str


@dataclass(frozen=True)
class SkyEvidence:
    """What `check` found, as evidence.

    `agreement` says how well clock and place are known to be right, where they are. Where they are
    known to be wrong `offsets` is what the controller believes less what is true, and `apart` the
    lean without what that makes of it. `place_is_open`: only where the telescope truly stood can
    tell a wrong controller from a wrong mount file; `blames_mount_file`: it is the latter.
    """

    verdict: SkyVerdict
    suspects: tuple[Suspect, ...]
    remedy: str
    agreement: str
    offsets: EntryOffsets | None
    apart: LeanApart | None
    place_is_open: bool = False
    blames_mount_file: bool = False

    @property
    def doubts_mount_file(self) -> bool:
        """Whether the stars speak of a wrong site in the mount file."""
        return any(one.cause == "mount_file" for one in self.suspects)

    @property
    def correction(self) -> str | None:
        """What to put right in the controller, None where nothing is known to be wrong."""
        return self.remedy if self.verdict == "disagrees" else None


def sky_evidence(log: NightLog, posterior: Posterior) -> SkyEvidence | None:
    """Return what the sky says of the controller's entries, None where the log cannot tell."""
    from pointmodel.entries.check import check
    from pointmodel.entries.observed import known_targets

    if not any(known_targets(log)):
        return None
    checked = check(log)
    wrong = checked.verdict == "disagrees"
    feigned = wrong and log.clock_cleared_by != "camera"  # else the places fitted are true ones
    offsets = _offsets(checked, log.mount.place_deg) if feigned else None
    apart = None
    if offsets is not None:
        apart = lean_apart(posterior, offsets, TERMS["tilt_north"].matters)
    doubt = _mount_file_probability(checked, posterior, apart)
    if doubt > DOUBTED_ABOVE:
        offsets, apart = None, None
    return SkyEvidence(
        verdict=checked.verdict,
        suspects=(
            *(_wrong_entries(checked, doubt) if wrong else ()),
            *_noted_amiss(checked, log),
        ),
        remedy=checked.remedy,
        agreement=_agreement(checked) if checked.verdict == "agrees" else "",
        offsets=offsets,
        apart=apart,
        place_is_open=checked.place_is_open,
        blames_mount_file=wrong and checked.explanations[0].entry == "mount_file",
    )


def _wrong_entries(checked: CheckResult, doubt: float) -> tuple[Suspect, ...]:
    """Return one suspect a cause: the likeliest of its entries speaks for all.

    `doubt` is how probable it is that the mount file is wrong, once the lean has been looked at.
    """
    stars_alone = _of_mount_file(checked)
    found: dict[str, Suspect] = {}
    for one in checked.explanations:
        in_file = "mount_file" in (one.entry, one.also)
        share = doubt / stars_alone if in_file else (1.0 - doubt) / max(1.0 - stars_alone, 1e-12)
        probability = one.probability * share
        if one.entry == "agrees" or probability < SUSPECTED_ABOVE:
            continue
        cause = "latitude" if one.entry.startswith("latitude") else "clock_or_longitude"
        if one.entry == "mount_file":
            cause = "mount_file"
        known = found.get(cause)
        found[cause] = Suspect(
            cause=cause,
            probability=probability + (known.probability if known else 0.0),
            text=known.text if known else one.text,
            remedy=checked.remedy,
        )
    return tuple(found.values())


def _mount_file_probability(
    checked: CheckResult, posterior: Posterior, apart: LeanApart | None
) -> float:
    """Return how probable it is that the mount file's site is wrong: by the stars, and the lean.

    Stars alone cannot tell a wrong controller from a wrong mount file, but only the first makes a
    level base seem to lean.
    """
    by_stars = _of_mount_file(checked)
    if apart is None or not by_stars:
        return by_stars
    odds = np.log(by_stars) - np.log(max(1.0 - by_stars, 1e-12))
    odds -= log_odds_of_feigned(posterior, apart)
    return float(1.0 / (1.0 + np.exp(-np.clip(odds, -60.0, 60.0))))


def _of_mount_file(checked: CheckResult) -> float:
    named = (one for one in checked.explanations if "mount_file" in (one.entry, one.also))
    return min(sum(one.probability for one in named), 1.0)


def _noted_amiss(checked: CheckResult, log: NightLog) -> tuple[Suspect, ...]:
    """Return commands noted before the centring, and places of an old equinox, as suspects."""
    from pointmodel.entries.judging import stale_words

    found = []
    if checked.stale is not None:
        found.append(Suspect("stale_command", 0.9, stale_words(checked.stale), STALE_REMEDY))
    elif checked.could_be_stale:
        found.append(Suspect("stale_command", 0.3, COULD_BE_STALE, STALE_REMEDY))
    if checked.places == "old_equinox":
        years = (float(np.nanmin(log.time_s)) - J2000_S) / JULIAN_YEAR_S
        text = OLD_EQUINOX.format(shift=abs(years) * PRECESSION_ARCMIN_A_YEAR)
        found.append(Suspect("old_equinox", 0.9, text, OLD_EQUINOX_REMEDY))
    return tuple(found)


def _agreement(checked: CheckResult) -> str:
    best = checked.solutions[0]
    sidereal, latitude = best.sidereal_offset_min, best.latitude_offset_deg
    seconds = 60.0 * max(abs(sidereal.low), abs(sidereal.high))
    arcmin = 60.0 * max(abs(latitude.low), abs(latitude.high))
    return (
        f"the controller's clock is right to {max(seconds, 1.0):.0f} s and its latitude to "
        f"{miss_words(max(arcmin, 0.1))}"
    )


def _offsets(checked: CheckResult, place_deg: tuple[float, float] | None) -> EntryOffsets | None:
    """Return what the controller believes, where one solution stands."""
    if place_deg is None or checked.solutions[0].weight < ONE_SOLUTION_ABOVE:
        return None
    sidereal = checked.solutions[0].sidereal_offset_min
    latitude = checked.solutions[0].latitude_offset_deg
    return EntryOffsets(
        place_deg[0],
        sidereal.value,
        (sidereal.high - sidereal.low) / SDS_IN_AN_INTERVAL,
        latitude.value,
        (latitude.high - latitude.low) / SDS_IN_AN_INTERVAL,
    )


def with_probable_stars(
    aside: tuple[SetAside, ...], pairs: PairResults, log: NightLog, sky: SkyEvidence | None
) -> tuple[SetAside, ...]:
    """Return the pairs set aside, wrong stars with the star that was probably centred.

    `pairs` and `log` are those of the whole fit. Nothing is added where no star stands there.
    """
    return tuple(
        _with_probable_star(pair, pairs, log, sky) if pair.cause == "wrong_star" else pair
        for pair in aside
    )


def _with_probable_star(
    pair: SetAside, pairs: PairResults, log: NightLog, sky: SkyEvidence | None
) -> SetAside:
    from pointmodel.entries.probable import probable_star_words
    from pointmodel.sky.targets import look_up

    k = int(np.flatnonzero(pairs.line == pair.line)[0])
    if not np.isfinite(log.time_s[k]):
        return pair
    at = moved(
        float(pairs.star_az_deg[k]),
        float(pairs.star_alt_deg[k]),
        float(pairs.residual_x_arcmin[k]),
        float(pairs.residual_y_arcmin[k]),
    )
    if sky is not None and sky.offsets is not None:
        turn = believed_turn(
            sky.offsets.latitude_deg,
            np.array([sky.offsets.sidereal_min]),
            np.array([sky.offsets.latitude_offset_deg]),
        )[0]
        at = at @ turn
    azimuth, altitude = (float(np.degrees(angle)) for angle in azimuth_altitude(at))
    named = look_up(pair.target) if pair.target else None
    words = probable_star_words(azimuth, altitude, named, float(log.time_s[k]), log.mount)
    if words is None:
        return pair
    return replace(pair, hint=f"{pair.hint}. It was probably {words}")


def moved(az_deg: float, alt_deg: float, x_arcmin: float, y_arcmin: float) -> FloatArray:
    """Return the direction (3,) that lies x across altitude and y up from a place, as an arc."""
    az, alt = np.radians(az_deg), np.radians(alt_deg)
    across = np.array([-np.sin(az), np.cos(az), 0.0])
    up = np.array([-np.sin(alt) * np.cos(az), -np.sin(alt) * np.sin(az), np.cos(alt)])
    size = np.hypot(x_arcmin, y_arcmin)
    arc = size / ARCMIN_PER_RADIAN
    way = (x_arcmin * across + y_arcmin * up) / max(size, 1e-12)
    return np.asarray(np.cos(arc) * directions(az, alt) + np.sin(arc) * way)
