"""How far go-tos will land from their targets, now and after each remedy.

Read `outlook.py` and `alignment.py` first. For draws of the terms from the posterior, the miss at
targets spread evenly over the open sky; a forecast is the distribution of that, with the mount's
scatter on top. The mount is taken as it stands at the end of the log.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.alignment import Place, aligned_misses, realignment
from pointmodel.forecasting.machine import MountModel, linearised_at, readings_for
from pointmodel.forecasting.outlook import (
    MissModel,
    Outlook,
    has_open_sky,
    reading_slopes,
    square_miss,
)
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.remedies import ACTIONS, REMEDIES, Ending
from pointmodel.mount.starfix import StarFixKind
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import Solves

# of 600 draws and 160 targets, for pictures, quantiles and the chance in the field: some
# thousand misses, which know a share to one in a hundred
SAMPLED_DRAWS = 24
SAMPLED_TARGETS = 2  # every other one
STAR_DRAWS = 6  # one in six for each of some 16 stars: as many as a forecast has draws, and more
SCATTERS_A_DRAW = 4
NEAREST_DEG, FARTHEST_DEG = 10.0, 170.0  # two stars that fix a rotation at all; a choice
ZERO_ALT_DEG = np.repeat([35.0, 50.0], 8)
ZERO_AZ_DEG = np.tile(np.arange(8) * 45.0, 2)
SEED = 8
# besides rotation and altitude zero; which of the tube's terms such controllers take differs from
# maker to maker: the larger of the usual two is a choice
LEARNT_FROM_THREE_STARS = ("collimation",)
LEARNS_A_ZERO = ("altitude_zero", "full")
TILTS = ("tilt_north", "tilt_east")
# a bubble level laid on the tube tells a tenth of a degree; common practice, no source
TUBE_LEVEL_SD_ARCMIN = 6.0


@dataclass(frozen=True)
class Ground:
    """What forecasts start from: the fitted mount, the controller, and what hands leave behind.

    `solves`: what the controller works out from alignment stars; None is not known. `aligned_on`:
    where the stars of an alignment stood through which the controller drives, though the figures
    count its axes; empty where that is not known, None where it drives by its axes. `level_error`
    (d, 2): leans, arcminutes, that come of setting feet by hand, None where none are known.
    `own_lean`: mean (2,) and covariance (2, 2) of the base's lean once a wrong entry is put right.
    """

    outlook: Outlook
    solves: Solves | None = None
    aligned_on: tuple[Place, ...] | None = None
    level_error: FloatArray | None = None
    own_lean: tuple[FloatArray, FloatArray] | None = None


def forecasts(ground: Ground) -> tuple[RemedyForecast, ...]:
    """Return the forecast for each remedy, `none` first."""
    ways = {remedy.name: remedy.actions for remedy in REMEDIES.values()}
    return tuple(forecasts_after(ground, ways).values())


def forecasts_after(
    ground: Ground, ways: Mapping[str, tuple[str, ...]]
) -> dict[str, RemedyForecast]:
    """Return how far go-tos land once the actions of each way were done in turn, by its name.

    What is cured comes down to what the remedy leaves: a term to the error with which this log
    knows it, a lean to that and what hands leave at the feet, an altitude zero to what a level on
    the tube tells. How it ends is the last of the actions that zeroes, aligns or corrects.
    """
    cured_by = {name: cured(ground, actions) for name, actions in ways.items()}
    ending = {name: _ending(actions) for name, actions in ways.items()}
    zeroing = [name for name in ways if ending[name] == "zero"]
    # one call for all that end on a star: small arrays cost by the call
    zeroed_by = dict(zip(zeroing, zeroed([cured_by[name] for name in zeroing]), strict=True))
    found = {}
    for name, outlook in cured_by.items():
        if not ways[name] and ground.aligned_on is not None:
            found[name] = _through_alignment(ground)
        elif name in zeroed_by:
            found[name] = _summary(outlook, name, *zeroed_by[name])
        elif ending[name] == "realign":
            found[name] = _realigned(outlook, name, ground.solves)
        elif ending[name] == "corrections":
            found[name] = _summary(outlook, name, outlook.corrected)
        else:
            az_deg, alt_deg = outlook.targets
            as_it_is = linearised_at(outlook.model, az_deg, alt_deg, az_deg, alt_deg)
            found[name] = _summary(outlook, name, MissModel(as_it_is.miss, -as_it_is.design))
    return found


def _ending(actions: tuple[str, ...]) -> Ending:
    endings = [ACTIONS[one].ends for one in actions if ACTIONS[one].ends != "nothing"]
    return endings[-1] if endings else "nothing"


def cured(ground: Ground, actions: tuple[str, ...]) -> Outlook:
    """Return the outlook once the terms that these actions cure are down to what they leave."""
    outlook = ground.outlook
    names = {name for one in actions for name in ACTIONS[one].cures}
    if "set_entry" in actions and ground.own_lean is not None and not names.issuperset(TILTS):
        outlook = _with_own_lean(outlook, *ground.own_lean)
    if not names:
        return outlook
    outlook = without_terms(outlook, tuple(sorted(names)))
    deviation = outlook.deviation
    if names.issuperset(TILTS) and ground.level_error is not None:
        deviation = deviation.copy()
        deviation[:, [STANDARD_NAMES.index(name) for name in TILTS]] += ground.level_error
    if "start_level" in actions:
        deviation = deviation.copy()
        deviation[:, STANDARD_NAMES.index("altitude_index")] = (
            TUBE_LEVEL_SD_ARCMIN * _standard_normal(deviation.shape[0], 1)[:, 0]
        )
    return replace(outlook, deviation=deviation)


def _with_own_lean(outlook: Outlook, mean: FloatArray, covariance: FloatArray) -> Outlook:
    """Return the outlook with the base's own lean in place of the one that wrong entries feign."""
    tilts = [STANDARD_NAMES.index(name) for name in TILTS]
    values, deviation = outlook.model.values.copy(), outlook.deviation.copy()
    values[tilts] = mean
    size, basis = np.linalg.eigh(covariance)
    normal = _standard_normal(deviation.shape[0], len(TILTS))
    deviation[:, tilts] = normal @ (basis * np.sqrt(np.maximum(size, 0.0))).T
    return replace(outlook, model=outlook.model.with_values(values), deviation=deviation)


def _through_alignment(ground: Ground) -> RemedyForecast:
    """Return how go-tos land now, driven by an alignment on two places; a middling pair if none."""
    outlook, aligned_on = ground.outlook, ground.aligned_on or ()
    kind: StarFixKind = "altitude_zero" if ground.solves in LEARNS_A_ZERO else "rotation"
    if len(aligned_on) < 2 or not NEAREST_DEG < _apart_deg(*aligned_on[:2]) < FARTHEST_DEG:
        return _summary(outlook, "none", realignment(outlook, kind).median.misses)
    pair = np.array([aligned_on[:2]])
    central, slope = aligned_misses(outlook, pair, *outlook.targets, kind)
    return _summary(outlook, "none", MissModel(central[0], slope[0]))


def _apart_deg(one: Place, other: Place) -> float:
    return float(separation_arcmin(*one, *other)) / 60.0


def _realigned(outlook: Outlook, name: str, solves: Solves | None) -> RemedyForecast:
    """Return the forecast of aligning afresh, for what the controller works out from its stars.

    Where that is not known the figures are those of a rotation alone, and beside them stands what
    the same two stars would leave if the controller also worked out an altitude zero.
    """
    kind: StarFixKind = "altitude_zero" if solves in LEARNS_A_ZERO else "rotation"
    if solves == "full":
        outlook = without_terms(outlook, LEARNT_FROM_THREE_STARS)
    choices = realignment(outlook, kind)
    found = replace(
        _summary(outlook, name, choices.best.misses),
        stars=(choices.best.first, choices.best.second),
        median_pair_rms_arcmin=_rms(outlook, choices.median.misses),
        bad_pair_rms_arcmin=_rms(outlook, choices.bad.misses),
        bad_stars=(choices.bad.first, choices.bad.second),
    )
    if solves not in (None, "unknown"):
        return found
    return replace(found, with_altitude_zero_rms_arcmin=_rms(outlook, choices.with_zero))


def without_terms(outlook: Outlook, names: tuple[str, ...]) -> Outlook:
    """Return the outlook with the best values of some terms taken out; those it lacks are nil."""
    values = outlook.model.values.copy()
    known = (*STANDARD_NAMES, *(column.name for column in outlook.model.columns))
    values[[known.index(name) for name in names if name in known]] = 0.0
    return replace(outlook, model=outlook.model.with_values(values))


def _rms(outlook: Outlook, misses: MissModel) -> float:
    squares = misses.mean_square(outlook.deviation) + 2.0 * outlook.scatter_arcmin**2
    return float(np.sqrt(np.median(squares)))


def zeroed(outlooks: Sequence[Outlook]) -> list[tuple[MissModel, FloatArray]]:
    """Return of each outlook the misses after zeroing both indices at a star; one sky for all.

    Of 16 stars the one is taken whose expected miss is the median: neither lucky nor unlucky. With
    it come the mean square misses (s, d) of all stars for every other draw: nobody knows on which
    star it will be, and that is part of what is uncertain. A star's readings
    give two offsets that the controller adds to every command; at the targets they are applied to
    first order about their mean over the stars.
    """
    if not outlooks:
        return []
    model = outlooks[0].model.with_values(np.stack([one.model.values for one in outlooks]))
    miss, design, excess, offset_slope = _zeroed_at(model, outlooks[0].targets)
    of_stars = square_miss(*_after_offsets(miss[:, ::4], design[:, ::4], excess, offset_slope))
    some = np.stack([one.deviation[::STAR_DRAWS] for one in outlooks])
    squares = of_stars.drawn(some[:, None])
    size = of_stars.expected(np.stack([one.covariance for one in outlooks])[:, None])
    middling = np.arange(len(outlooks)), np.argsort(size, axis=1)[:, size.shape[1] // 2]
    central, slope = _after_offsets(
        miss, design, excess[middling][:, None], offset_slope[middling][:, None]
    )
    return [
        (MissModel(*one), square)
        for *one, square in zip(central[:, 0], slope[:, 0], squares, strict=True)
    ]


def _zeroed_at(
    model: MountModel, targets: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return misses (m, k, 2) and design (m, k, 2, c) at the targets once m mounts are zeroed.

    That is with the mean of the offsets of all stars. By how much each star's lie beside it, (m, s,
    2), arcminutes, and how these move with each column, (m, s, 2, c), come with them.
    """
    az_deg, alt_deg = targets
    star_az, star_alt = zeroing_stars(targets)
    reading_az, reading_alt, _ = readings_for(model, star_az, star_alt)
    offset_az = np.radians(reading_az - star_az)
    middle_az = np.angle(np.exp(1j * offset_az).sum(axis=1, keepdims=True))
    offset_alt = reading_alt - star_alt
    middle_alt = offset_alt.mean(axis=1, keepdims=True)
    aside_az = np.angle(np.exp(1j * (offset_az - middle_az))) * ARCMIN_PER_RADIAN
    excess = np.stack([aside_az, (offset_alt - middle_alt) * 60.0], axis=-1)
    shifted_az = np.mod(az_deg + np.degrees(middle_az), 360.0)
    # one call for stars and targets: small arrays cost by the call
    both = linearised_at(
        model,
        np.concatenate([star_az, az_deg]),
        np.concatenate([star_alt, alt_deg]),
        np.concatenate([reading_az, shifted_az], axis=1),
        np.concatenate([reading_alt, alt_deg + middle_alt], axis=1),
    )
    stars = star_az.size
    offset_slope = reading_slopes(both.design[:, :stars])
    return both.miss[:, stars:], both.design[:, stars:], excess, offset_slope


def _after_offsets(
    miss: FloatArray, design: FloatArray, excess: FloatArray, offset_slope: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return misses (m, s, k, 2) and slopes (m, s, k, 2, c) once each star's offsets are added."""
    count, stars, targets = *excess.shape[:2], miss.shape[1]
    # rows of all targets at once: many small products cost by the product
    indices = design[..., :2].reshape(count, 1, 2 * targets, 2)
    central = (indices @ excess[..., None]).reshape(count, stars, targets, 2)
    slope = (indices @ offset_slope).reshape(count, stars, targets, 2, -1)
    return miss[:, None] + central, slope - design[:, None]


def zeroing_stars(targets: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and altitudes (s,) of stars to zero on: those with open sky about them."""
    is_open = has_open_sky(targets, ZERO_AZ_DEG, ZERO_ALT_DEG)
    if not is_open.any():
        return ZERO_AZ_DEG, ZERO_ALT_DEG
    return ZERO_AZ_DEG[is_open], ZERO_ALT_DEG[is_open]


def _summary(
    outlook: Outlook, remedy: str, misses: MissModel, squares: FloatArray | None = None
) -> RemedyForecast:
    scatter = outlook.scatter_arcmin if squares is None else outlook.scatter_arcmin[::STAR_DRAWS]
    from_terms = misses.mean_square(outlook.deviation) if squares is None else squares
    rms = np.sort(np.sqrt(from_terms + 2.0 * scatter**2), axis=None)
    low = _point(rms, 0.025)
    if not outlook.scatter_known:
        low = _point(np.sort(np.sqrt(from_terms), axis=None), 0.025)
    sample = np.sort(_sample(outlook, misses))
    field = outlook.field_of_view_arcmin
    inside = None if field is None else float(np.searchsorted(sample, 0.5 * field) / sample.size)
    return RemedyForecast(
        remedy=remedy,
        rms_arcmin=_point(rms, 0.5),
        rms_low_arcmin=low,
        rms_high_arcmin=_point(rms, 0.975),
        median_arcmin=_point(sample, 0.5),
        p95_arcmin=_point(sample, 0.95),
        chance_in_field=inside,
        sample_arcmin=sample[:: max(1, sample.size // 2000)],
    )


def _point(ordered: FloatArray, share: float) -> float:
    return float(ordered[min(int(share * ordered.size), ordered.size - 1)])


def _sample(outlook: Outlook, misses: MissModel) -> FloatArray:
    """Return misses drawn over draws and targets, scatter included (m,), arcminutes."""
    step = max(1, outlook.deviation.shape[0] // SAMPLED_DRAWS)
    deviation = outlook.deviation[::step]
    slope, central = misses.slope[::SAMPLED_TARGETS], misses.central[::SAMPLED_TARGETS]
    miss = deviation @ slope.reshape(-1, slope.shape[-1]).T
    miss += central.ravel()
    miss += outlook.scatter_arcmin[::step, None] * _standard_normal(*miss.shape)
    miss *= miss
    return np.sqrt(miss[:, ::2] + miss[:, 1::2]).ravel()


@cache
def _standard_normal(rows: int, columns: int) -> FloatArray:
    """Return the same standard normal numbers at every call: forecasts can be repeated."""
    return np.random.default_rng(SEED).standard_normal((rows, columns))


def sky_forecast(outlook: Outlook) -> SkyForecast:
    """Return the expected miss at each target with corrections applied, scatter included."""
    slope = outlook.corrected.slope
    square = ((slope @ outlook.covariance) * slope).sum(axis=(1, 2))
    scatter = float(np.mean(outlook.scatter_arcmin**2))
    az_deg, alt_deg = outlook.targets
    return SkyForecast(az_deg, alt_deg, np.sqrt(square + 2.0 * scatter))


def misses_at_targets(outlook: Outlook) -> FloatArray:
    """Return misses (m, k), arcminutes, drawn for each target with corrections applied.

    Scatter is included; every target is drawn with the same numbers, so that targets compare well.
    """
    slope = outlook.corrected.slope
    flat = slope.reshape(-1, slope.shape[-1])
    from_terms = (outlook.deviation @ flat.T).reshape(-1, slope.shape[0], 2)
    scatter = _standard_normal(2 * SCATTERS_A_DRAW, outlook.deviation.shape[0])
    scatter = (scatter * outlook.scatter_arcmin).reshape(SCATTERS_A_DRAW, 2, -1)
    drawn = from_terms + scatter.transpose(0, 2, 1)[:, :, None]
    return np.hypot(drawn[..., 0], drawn[..., 1]).reshape(-1, slope.shape[0])
