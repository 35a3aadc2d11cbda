"""Whether an alignment was made on another star than stated, or on one that was badly centred.

Read `alignedlog.py` first. With names, times and site each star to magnitude 3.5 within 15° of a
stated one is tried in its stead: the mistake turns every later go-to by one rotation, and the log
must show exactly that one. Without them only the rotation itself can be told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from typing import Literal

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import BoolArray, FloatArray
from pointmodel.diagnosis.alignedlog import (
    MOUNT,
    AlignedLog,
    Stories,
    log_evidence,
)
from pointmodel.diagnosis.alignmenttales import (
    Tale,
    directions_of,
    expected_numbers,
    tales_of,
    targets_about,
)
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.priors import (
    ALIGNMENT_CENTRED_TO_ARCMIN,
    BOTH_ALIKE,
    FIRST_EXACT,
    LAST_EXACT,
    LIKELY_ABOVE,
    ROTATION_ALONE,
)
from pointmodel.mount.starfix import StarFixKind, least_squares_rotation
from pointmodel.reading.mountfile import Solves
from pointmodel.reading.nightlog import NightLog
from pointmodel.sky.observer import Observer
from pointmodel.sky.targets import Target, look_up

MOST_PAIRS = 60
KIND_ODDS: dict[Solves, dict[StarFixKind, float]] = {
    "rotation": {"rotation": 1.0},
    "altitude_zero": {"altitude_zero": 1.0},
    "full": {"altitude_zero": 1.0},
    "unknown": {"rotation": ROTATION_ALONE, "altitude_zero": 1.0 - ROTATION_ALONE},
}
# of two stars the first or the last is met exactly, or both alike
ORDERS_OF_TWO = {(0, 1): FIRST_EXACT, (1, 0): LAST_EXACT, (0, 1, 0, 1): BOTH_ALIKE}
NAMED_TOGETHER_ABOVE = 0.1
# measured: right alignments of usual mounts turned the sky by less than 1.8°, nineteen in twenty of
# mounts three times worse by less than 3.4°
TURNED_ABOVE_DEG = 3.0
# less than that a tube far off square leaves as well, where other stars were used than are stated
BLAMED_ABOVE_DEG = 0.6
# where it is not told that the figures are places on the sky, a base that leans turns them as well;
# larger leans hardly stand unnoticed: a choice
MORE_THAN_A_LEAN_DEG = 3.0
# what a story may leave, an axis; of a large turn a few parts in a hundred, since the numbers
# that are not known act on it to second order: choices
FITS_WITHIN_SIGMAS, FITS_WITHIN_ARCMIN = 3.0, 5.0
FITS_WITHIN_SHARE, FITS_AT_MOST_ARCMIN = 0.05, 20.0

FaultKind = Literal["wrong_star", "badly_centred", "one_star", "turned"]


@dataclass(frozen=True)
class AlignmentFault:
    """What went wrong when the controller was aligned; `probability` that it did.

    `kind`: another star was centred, or a star badly; "one_star": one of the two, on a star that is
    known; "turned": the sky is turned, and it is not known by what.

    `place` counts the stated stars from 0, and `stated` is that star's name; `instead` are the
    stars that may have been centred, likeliest first, and `off_deg` how far the first of them, or
    the badly centred star, was off. The whole sky is turned by `turned_deg` about azimuth and
    altitude `about_deg`. Without names `kind` is "turned".
    """

    kind: FaultKind
    probability: float
    place: int | None
    stated: str | None
    instead: tuple[str, ...]
    off_deg: float | None
    turned_deg: float
    about_deg: tuple[float, float]


def alignment_fault(
    log: NightLog, good: BoolArray, sigmas_arcmin: FloatArray
) -> AlignmentFault | None:
    """Return what went wrong with the alignment before a log, None where nothing is seen to be.

    `good` (n,) are the pairs that the fit rests on; `sigmas_arcmin` equally probable sizes of the
    noise an axis. The log's figures are places on the sky, as the controller shows them.
    """
    use = good & log.has_both
    if log.events:
        use = use & (np.arange(len(log)) < log.events[0].before_pair)
    rows = np.flatnonzero(use)
    if rows.size < 2:
        return None
    rows = rows[np.linspace(0, rows.size - 1, min(rows.size, MOST_PAIRS)).astype(int)]
    sky = direction_vectors(log.star_az_deg[rows], log.star_alt_deg[rows])
    shown = direction_vectors(log.reading_az_deg[rows], log.reading_alt_deg[rows])
    turned_deg, about_deg = _turn_of(sky, shown)
    if log.mount.readout is None and turned_deg < MORE_THAN_A_LEAN_DEG:
        return None
    named = _stated(log)
    observer = log.mount.observer
    if named is None or observer is None or not np.isfinite(log.time_s[rows[0]]):
        if turned_deg < TURNED_ABOVE_DEG:
            return None
        return _turned(LIKELY_ABOVE, turned_deg, about_deg)
    pairs = AlignedLog(sky, shown, observer.latitude_deg, sigmas_arcmin)
    solves = log.mount.alignment.solves or "unknown"
    weighed = _weighed(pairs, named, solves, observer, float(log.time_s[rows[0]]))
    return _verdict(weighed, turned_deg, about_deg)


def _stated(log: NightLog) -> tuple[Target, ...] | None:
    """Return the alignment stars, None unless there are two or more and all are known."""
    names = log.mount.alignment.stars or ()
    known = [star for name in names if (star := look_up(name)) is not None]
    return tuple(known) if 2 <= len(known) == len(names) else None


def _turn_of(sky: FloatArray, shown: FloatArray) -> tuple[float, tuple[float, float]]:
    """Return angle and axis (azimuth, altitude up to 90°), degrees, of the turn sky → shown."""
    rotation = least_squares_rotation(sky[None], shown[None])[0]
    axis = np.array([
        rotation[2, 1] - rotation[1, 2],
        rotation[0, 2] - rotation[2, 0],
        rotation[1, 0] - rotation[0, 1],
    ])  # fmt: skip
    angle = float(np.arctan2(np.linalg.norm(axis), np.trace(rotation) - 1.0))
    axis = axis if axis[2] >= 0.0 else -axis
    about = float(np.degrees(np.arctan2(axis[1], axis[0]))) % 360.0
    height = float(np.degrees(np.arctan2(axis[2], np.hypot(axis[0], axis[1]))))
    return float(np.degrees(angle)), (about, height)


@dataclass(frozen=True, eq=False)
class _Weighed:
    """Tales (m,) with their probabilities and how far off each one's star was, degrees.

    `fits` says of each whether it leaves no more than a person and a mount would.

    `targets` are the stated stars, `stars` of them, and then the others.
    """

    targets: tuple[Target, ...]
    stars: int
    tales: tuple[Tale, ...]
    probability: FloatArray
    off_deg: FloatArray
    fits: BoolArray


def _weighed(
    pairs: AlignedLog,
    stated: tuple[Target, ...],
    solves: Solves,
    observer: Observer,
    time_s: float,
) -> _Weighed:
    """Return how probable each tale is, over all kinds of controllers that are possible."""
    targets = targets_about(stated, time_s)
    at = directions_of(targets, observer, time_s)
    tales = tuple(tales_of(targets, at, len(stated)))
    held = at[: len(stated)]
    centred = np.repeat(held[None], len(tales), axis=0)
    for k, tale in enumerate(tales):
        if tale.instead is not None:
            centred[k, tale.place or 0] = at[tale.instead]
    centring = max(ALIGNMENT_CENTRED_TO_ARCMIN, float(np.median(pairs.sigmas_arcmin)))
    mean, sd = expected_numbers(tales, len(stated), centring)
    found = []
    for kind, order, odds in _controllers(solves, len(stated)):
        stories = Stories(
            stated=np.repeat(held[None], len(tales), 0),
            centred=centred,
            kind=kind,
            order=order,
            mean=mean,
            sd=sd,
        )
        evidence, numbers, left = log_evidence(pairs, stories)
        found.append((evidence + np.log(odds), numbers, np.sqrt((left**2).mean(axis=(1, 2)))))
    ours = np.stack([evidence for evidence, _, _ in found])
    total = np.logaddexp.reduce(ours, axis=0) + np.log([tale.prior for tale in tales])
    share = np.exp(total - total.max())
    best = ours.argmax(axis=0)
    off = np.array([
        _off_deg(tale, found[best[k]][1][k], held, centred[k]) for k, tale in enumerate(tales)
    ])  # fmt: skip
    of_the_turn = FITS_WITHIN_SHARE * 60.0 * _turn_of(pairs.sky, pairs.shown)[0]
    most = max(
        FITS_WITHIN_ARCMIN,
        FITS_WITHIN_SIGMAS * float(np.median(pairs.sigmas_arcmin)),
        min(of_the_turn, FITS_AT_MOST_ARCMIN),
    )
    fits = np.array([found[best[k]][2][k] < most for k in range(len(tales))])
    return _Weighed(
        targets=targets,
        stars=len(stated),
        tales=tales,
        probability=share / share.sum(),
        off_deg=off,
        fits=fits,
    )


def _controllers(
    solves: Solves, stars: int
) -> Iterator[tuple[StarFixKind, tuple[int, ...], float]]:
    """Yield the kinds of controllers that are possible, each with its probability.

    Of more than two stars a controller uses all, or any two of them.
    """
    orders: dict[tuple[int, ...], float] = dict(ORDERS_OF_TWO)
    if stars > 2:
        pairs = list(permutations(range(stars), 2))
        orders = {tuple(range(stars)): 0.5, **dict.fromkeys(pairs, 0.5 / len(pairs))}
    for kind, odds in KIND_ODDS[solves].items():
        if kind == "altitude_zero" and stars == 2:
            yield kind, (0, 1), odds
            continue
        for order, share in orders.items():
            yield kind, order, odds * share


def _off_deg(tale: Tale, numbers: FloatArray, held: FloatArray, centred: FloatArray) -> float:
    """Return how far off the star of a tale was, degrees; nan where none was."""
    if tale.place is None:
        return float("nan")
    if tale.instead is not None:
        chord = float(np.linalg.norm(held[tale.place] - centred[tale.place]))
        return float(np.degrees(2.0 * np.arcsin(min(0.5 * chord, 1.0))))
    first = MOUNT + 2 * tale.place
    return float(np.degrees(np.hypot(*numbers[first : first + 2]) / ARCMIN_PER_RADIAN))


def _verdict(
    weighed: _Weighed, turned_deg: float, about_deg: tuple[float, float]
) -> AlignmentFault | None:
    """Return the fault that stands out, at whatever fineness the log can tell it."""
    probability, tales = weighed.probability, weighed.tales
    wrong = 1.0 - float(probability[0])
    if wrong < LIKELY_ABOVE or not weighed.fits[int(probability.argmax())]:
        return None
    kinds: tuple[tuple[FaultKind, list[bool]], ...] = (
        ("wrong_star", [tale.instead is not None for tale in tales]),
        ("badly_centred", [tale.badly_arcmin is not None for tale in tales]),
        ("one_star", [tale.place is not None for tale in tales]),
    )
    for kind, belongs in kinds:
        for place in range(weighed.stars):
            mine = np.array(belongs) & np.array([tale.place == place for tale in tales])
            share = float(probability[mine].sum())
            if share <= LIKELY_ABOVE:
                continue
            order = [int(k) for k in np.argsort(-probability) if mine[k]]
            if tales[order[0]].instead is None and weighed.off_deg[order[0]] < BLAMED_ABOVE_DEG:
                return None
            named = [
                weighed.targets[instead].name
                for k in order
                if (instead := tales[k].instead) is not None
                and probability[k] > NAMED_TOGETHER_ABOVE * share
            ]
            return AlignmentFault(
                kind=kind,
                probability=share,
                place=place,
                stated=weighed.targets[place].name,
                instead=tuple(named),
                off_deg=float(weighed.off_deg[order[0]]),
                turned_deg=turned_deg,
                about_deg=about_deg,
            )
    return _turned(wrong, turned_deg, about_deg) if turned_deg > BLAMED_ABOVE_DEG else None


def _turned(
    probability: float, turned_deg: float, about_deg: tuple[float, float]
) -> AlignmentFault:
    """Return the fault of which only the turn of the whole sky is known."""
    return AlignmentFault(
        kind="turned",
        probability=probability,
        place=None,
        stated=None,
        instead=(),
        off_deg=None,
        turned_deg=turned_deg,
        about_deg=about_deg,
    )
