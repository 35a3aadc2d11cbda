"""How far go-tos will land from their targets, now and after each remedy.

Read `outlook.py` and `alignment.py` first. For draws of the terms from the posterior, the miss at
targets spread evenly over the open sky; a forecast is the distribution of that, with the mount's
scatter on top. The mount is taken as it stands at the end of the log.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.forecasting.alignment import Place, aligned_misses, realignment
from pointmodel.forecasting.machine import linearised_at, readings_for
from pointmodel.forecasting.outlook import (
    MissModel,
    Outlook,
    expected_squares,
    has_open_sky,
    mean_squares,
    reading_slopes,
)
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.remedies import REMEDIES, Remedy
from pointmodel.mount.starfix import StarFixKind
from pointmodel.mount.terms import STANDARD_NAMES
from pointmodel.reading.mountfile import Solves

# of 600 draws and 160 targets, for pictures, quantiles and the chance in the field: some
# thousand misses, which know a share to one in a hundred
SAMPLED_DRAWS = 24
SAMPLED_TARGETS = STAR_DRAWS = 2  # every other one
SCATTERS_A_DRAW = 4
NEAREST_DEG, FARTHEST_DEG = 10.0, 170.0  # two stars that fix a rotation at all; a choice
ZERO_ALT_DEG = (35.0, 50.0)
ZERO_AZ_DEG = tuple(np.arange(8) * 45.0)
SEED = 8
# besides rotation and altitude zero; which of the tube's terms such controllers take differs from
# maker to maker: the larger of the usual two is a choice
LEARNT_FROM_THREE_STARS = ("collimation",)


def forecasts(
    outlook: Outlook,
    solves: Solves | None = None,
    aligned_on: tuple[Place, ...] | None = None,
) -> tuple[RemedyForecast, ...]:
    """Return the forecast for each remedy, `none` first.

    `solves`: what the controller works out from alignment stars; None is not known. `aligned_on`:
    where the stars of an alignment stood through which the controller drives, though the figures
    count its axes; empty where that is not known, None where it drives by its axes.
    """
    found = [_forecast(outlook, remedy, solves) for remedy in REMEDIES.values()]
    if aligned_on is not None:
        found[0] = _through_alignment(outlook, solves, aligned_on)
    return tuple(found)


def _through_alignment(
    outlook: Outlook, solves: Solves | None, aligned_on: tuple[Place, ...]
) -> RemedyForecast:
    """Return how go-tos land now, driven by an alignment on two places; a middling pair if none."""
    kind: StarFixKind = "altitude_zero" if solves in ("altitude_zero", "full") else "rotation"
    if len(aligned_on) < 2 or not NEAREST_DEG < _apart_deg(*aligned_on[:2]) < FARTHEST_DEG:
        return _summary(outlook, "none", realignment(outlook, kind).median.misses)
    pair = np.array([aligned_on[:2]])
    central, slope = aligned_misses(outlook, pair, *outlook.targets, kind)
    return _summary(outlook, "none", MissModel(central[0], slope[0]))


def _apart_deg(one: Place, other: Place) -> float:
    return float(separation_arcmin(*one, *other)) / 60.0


def _forecast(outlook: Outlook, remedy: Remedy, solves: Solves | None) -> RemedyForecast:
    """Return what one remedy leaves: its cured terms taken out, then how it ends."""
    if remedy.ends == "zero":
        return _summary(outlook, remedy.name, *zeroed(outlook, remedy.cures))
    if remedy.cures:
        outlook = without_terms(outlook, remedy.cures)
    if remedy.ends == "realign":
        return _realigned(outlook, remedy.name, solves)
    if remedy.ends == "corrections":
        return _summary(outlook, remedy.name, outlook.corrected)
    az_deg, alt_deg = outlook.targets
    as_it_is = linearised_at(outlook.model, az_deg, alt_deg, az_deg, alt_deg)
    return _summary(outlook, remedy.name, MissModel(as_it_is.miss, -as_it_is.design))


def _realigned(outlook: Outlook, name: str, solves: Solves | None) -> RemedyForecast:
    """Return the forecast of aligning afresh, for what the controller works out from its stars.

    Where that is not known the figures are those of a rotation alone, and beside them stands what
    the same two stars would leave if the controller also worked out an altitude zero.
    """
    kind: StarFixKind = "altitude_zero" if solves in ("altitude_zero", "full") else "rotation"
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
    pair = np.array([found.stars])
    central, slope = aligned_misses(outlook, pair, *outlook.targets, "altitude_zero")
    other = _rms(outlook, MissModel(central[0], slope[0]))
    return replace(found, with_altitude_zero_rms_arcmin=other)


def without_terms(outlook: Outlook, names: tuple[str, ...]) -> Outlook:
    """Return the outlook with the best values of some of the six terms taken out."""
    values = outlook.model.values.copy()
    values[[STANDARD_NAMES.index(name) for name in names]] = 0.0
    return replace(outlook, model=outlook.model.with_values(values))


def _rms(outlook: Outlook, misses: MissModel) -> float:
    squares = misses.mean_square(outlook.deviation) + 2.0 * outlook.scatter_arcmin**2
    return float(np.sqrt(np.median(squares)))


def zeroed(outlook: Outlook, cured: tuple[str, ...]) -> tuple[MissModel, FloatArray]:
    """Return the misses after curing some terms, then zeroing both indices at a star.

    A cured term comes down to the error with which this log knows it.
    Of 16 stars the one is taken whose expected miss is the median: neither lucky nor unlucky; with
    it come the mean square misses of every other draw, the median over the stars. A star's readings
    give two offsets that the controller adds to every command; at the targets they are applied to
    first order about their mean over the stars.
    """
    model = without_terms(outlook, cured).model
    star_az, star_alt = zeroing_stars(outlook.targets)
    reading_az, reading_alt, _ = readings_for(model, star_az, star_alt)
    offset_az = np.radians(reading_az - star_az)
    middle_az = np.angle(np.exp(1j * offset_az).sum())
    offset_alt = reading_alt - star_alt
    excess = np.stack(
        [
            np.angle(np.exp(1j * (offset_az - middle_az))) * ARCMIN_PER_RADIAN,
            (offset_alt - offset_alt.mean()) * 60.0,
        ],
        axis=-1,
    )
    az_deg, alt_deg = outlook.targets
    shifted_az = np.mod(az_deg + np.degrees(middle_az), 360.0)
    # one call for stars and targets: small arrays cost by the call
    both = linearised_at(
        model,
        np.concatenate([star_az, az_deg]),
        np.concatenate([star_alt, alt_deg]),
        np.concatenate([reading_az, shifted_az]),
        np.concatenate([reading_alt, alt_deg + offset_alt.mean()]),
    )
    stars = star_az.size
    offset_slope = reading_slopes(both.design[:stars])
    miss, design = both.miss[stars:], both.design[stars:]
    some = slice(None, None, 4)
    central, slope = _after_offsets(miss[some], design[some], excess, offset_slope)
    size = expected_squares(central, slope, outlook.covariance)
    by_star = np.sort(mean_squares(central, slope, outlook.deviation[::STAR_DRAWS]), axis=0)
    squares = 0.5 * (by_star[(len(size) - 1) // 2] + by_star[len(size) // 2])
    one = np.argsort(size)[[len(size) // 2]]
    central, slope = _after_offsets(miss, design, excess[one], offset_slope[one])
    return MissModel(central[0], slope[0]), squares


def _after_offsets(
    miss: FloatArray, design: FloatArray, excess: FloatArray, offset_slope: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return misses (s, k, 2) and slopes (s, k, 2, c) once each star's offsets are added."""
    indices = design[..., :2]
    central = miss + (indices @ excess[:, None, :, None])[..., 0]
    return central, indices @ offset_slope[:, None] - design


def zeroing_stars(targets: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and altitudes (s,) of stars to zero on: those with open sky about them."""
    star_az, star_alt = (part.ravel() for part in np.meshgrid(ZERO_AZ_DEG, ZERO_ALT_DEG))
    is_open = has_open_sky(targets, star_az, star_alt)
    return (star_az[is_open], star_alt[is_open]) if is_open.any() else (star_az, star_alt)


def _summary(
    outlook: Outlook, remedy: str, misses: MissModel, squares: FloatArray | None = None
) -> RemedyForecast:
    scatter = outlook.scatter_arcmin if squares is None else outlook.scatter_arcmin[::STAR_DRAWS]
    from_terms = misses.mean_square(outlook.deviation) if squares is None else squares
    rms = np.sort(np.sqrt(from_terms + 2.0 * scatter**2))
    low = _point(rms, 0.025)
    if not outlook.scatter_known:
        low = _point(np.sort(np.sqrt(from_terms)), 0.025)
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
