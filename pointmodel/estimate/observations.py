"""Pairs as the estimator sees them: angles in radians, columns of the further terms, known noise.

Read `mount/kinematics.py` first. The linear problem at a point of the model is built by
`linear_problem`; everything after that is linear algebra in arcminutes on the sky.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.rounding import Rounding, rounding_of
from pointmodel.mount.kinematics import (
    ARCMIN_PER_RADIAN,
    Linearised,
    geometry_from_arcmin,
    linearise,
    turned_readings,
)
from pointmodel.mount.term import Circumstances, Term
from pointmodel.mount.terms import N_STANDARD, READOUT, STANDARD_NAMES, TERMS, further_terms


@dataclass(frozen=True)
class Addition:
    """One way to take up a further term (or a pair of partners) with one of its priors.

    `columns` index the further columns of the observations; `log_odds` is ln of the prior odds.
    """

    terms: tuple[str, ...]
    columns: tuple[int, ...]
    mean: float
    sd: float
    log_odds: float


@dataclass(frozen=True)
class Column:
    """One column of a further term; `negative` where it acts as near the term's negative prior.

    `own` is the term itself where it is a user's own.
    """

    name: str
    negative: bool = False
    own: Term | None = None

    @property
    def term(self) -> Term:
        """The term that this is a column of."""
        return TERMS[self.name] if self.own is None else self.own

    def shape_at(self, at: Circumstances) -> FloatArray | float:
        """Return what one unit of it adds where it acts (n,), arcminutes; of a slip in full."""
        shape = self.term.negative_shape if self.negative else self.term.shape
        return 1.0 if shape is None else shape(at)


@dataclass(frozen=True)
class Varied:
    """A further column that is one of the six terms, times a factor (n,) of the pair.

    `column` indexes the further columns, `term` the six. A factor of 0 and 1 is a step, one of
    hours a rate: so a base that moved or sinks stays exact, however large the lean.
    """

    column: int
    term: int
    factor: FloatArray


@dataclass(frozen=True)
class Observations:
    """Pairs in radians with the columns of the further terms that this log could show.

    `az_shape`, `alt_shape` and `star_shape` (n, k) hold what one unit of each further column adds
    to the azimuth axis, the altitude axis and the star's altitude, arcminutes. `rounding` is the
    known noise of figures that were read off a display. `slip_at` is the index of the first pair
    after the slip whose two columns are the last ones, None without them. `always` are terms that
    every model has: the tilts of a readout that an alignment turns back to the sky. `varied` are
    those columns by which one of the six terms differs from pair to pair.
    """

    star_az: FloatArray
    star_alt: FloatArray
    reading_az: FloatArray
    reading_alt: FloatArray
    columns: tuple[Column, ...]
    az_shape: FloatArray
    alt_shape: FloatArray
    star_shape: FloatArray
    additions: tuple[Addition, ...]
    rounding: Rounding
    slip_at: int | None = None
    always: tuple[Addition, ...] = ()
    varied: tuple[Varied, ...] = ()

    @property
    def count(self) -> int:
        """How many pairs there are."""
        return int(self.star_az.size)


def has_readout_tilts(columns: tuple[Column, ...]) -> bool:
    """Whether the first two further columns are the tilts of a readout turned by an alignment."""
    return bool(columns) and columns[0].name == READOUT[0].name


@dataclass(frozen=True)
class LinearProblem:
    """The problem linearised at one point: misses there and the design of all columns.

    `miss` (..., n, 2) and `design` (..., n, 2, 6 + k) in arcminutes on the sky.
    """

    at: FloatArray
    miss: FloatArray
    design: FloatArray


def observations(
    star_az_deg: FloatArray,
    star_alt_deg: FloatArray,
    reading_az_deg: FloatArray,
    reading_alt_deg: FloatArray,
    circumstances: Circumstances,
    *,
    has_times: bool,
    readout_turned: bool = False,
    own: tuple[Term, ...] = (),
) -> Observations:
    """Return the estimator's view of n pairs given in degrees, all arrays of shape (n,).

    `readout_turned`: the controller turns its readings back to the sky by an alignment. `own` are
    terms of the user's own.
    """
    columns, additions = _what_can_show(circumstances, has_times, own)
    always: tuple[Addition, ...] = ()
    if readout_turned:
        columns, additions, always = _with_readout_tilts(columns, additions)
    az_shape, alt_shape, star_shape = column_shapes(columns, circumstances)
    return Observations(
        star_az=np.radians(star_az_deg),
        star_alt=np.radians(star_alt_deg),
        reading_az=np.radians(reading_az_deg),
        reading_alt=np.radians(reading_alt_deg),
        columns=columns,
        az_shape=az_shape,
        alt_shape=alt_shape,
        star_shape=star_shape,
        additions=additions,
        rounding=rounding_of((star_az_deg, star_alt_deg), (reading_az_deg, reading_alt_deg)),
        always=always,
    )


def _with_readout_tilts(
    columns: tuple[Column, ...], additions: tuple[Addition, ...]
) -> tuple[tuple[Column, ...], tuple[Addition, ...], tuple[Addition, ...]]:
    """Put the two readout tilts first among the columns; they belong to every model."""
    names = tuple(term.name for term in READOUT)
    prior = READOUT[0].priors[0]
    moved = tuple(replace(a, columns=tuple(c + 2 for c in a.columns)) for a in additions)
    always = Addition(names, (0, 1), prior.mean, prior.sd, 0.0)
    return (*(Column(name) for name in names), *columns), moved, (always,)


def circular_middle_deg(difference_deg: FloatArray, alt_deg: FloatArray) -> float:
    """Return the circular median of azimuth differences (n,), weighted by cos altitude, degrees."""
    difference, weight = np.radians(difference_deg), np.cos(np.radians(alt_deg))
    centre = np.angle(np.sum(weight * np.exp(1j * difference)))
    for _ in range(3):
        about = np.angle(np.exp(1j * (difference - centre)))
        order = np.argsort(about)
        cumulative = np.cumsum(weight[order])
        centre = centre + about[order][np.searchsorted(cumulative, 0.5 * cumulative[-1])]
    return float(np.degrees(np.angle(np.exp(1j * centre))))


def column_shapes(
    columns: tuple[Column, ...], at: Circumstances
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what one unit of each column adds (..., n, k): azimuth, altitude axis, star altitude.

    A slip counts in full: the places asked for come after it.
    """
    shapes = {where: np.zeros((*at.reading_az_deg.shape, len(columns))) for where in _AXES}
    for index, column in enumerate(columns):
        if column.term.acts in shapes:
            shapes[column.term.acts][..., index] = column.shape_at(at)
    return shapes["azimuth_axis"], shapes["altitude_axis"], shapes["star_altitude"]


_AXES = ("azimuth_axis", "altitude_axis", "star_altitude")


def can_show(term: Term, at: Circumstances, has_times: bool) -> bool:
    """Return whether a log has what it takes to show a further term."""
    if term.shape is None:
        return False
    if term.needs == "time":
        return has_times and bool(np.ptp(at.hours) > 0)
    if term.needs is None:
        return True
    motion = at.az_motion if term.needs == "az_motion" else at.alt_motion
    return bool(np.any(motion > 0) and np.any(motion < 0))


def _what_can_show(
    at: Circumstances, has_times: bool, own: tuple[Term, ...]
) -> tuple[tuple[Column, ...], tuple[Addition, ...]]:
    columns: list[Column] = []
    additions: list[Addition] = []
    for term in (*further_terms(), *own):
        if not can_show(term, at, has_times):
            continue
        first = len(columns)
        columns.append(Column(term.name, own=term if term in own else None))
        names = (term.name,) if term.partner is None else (term.name, term.partner)
        for prior in term.priors:
            places = (first,) if term.partner is None else (first, first + 1)
            if prior.mean < 0:
                columns.append(replace(columns[first], negative=True))
                places = (len(columns) - 1,)
            log_odds = float(np.log(prior.odds))
            additions.append(Addition(names, places, prior.mean, prior.sd, log_odds))
    return tuple(columns), tuple(additions)


def with_slip(obs: Observations, first_after: int) -> Observations:
    """Return the observations with the two columns of a slip before pair `first_after`."""
    step = (np.arange(obs.count) >= first_after).astype(float)[:, None]
    zero = np.zeros_like(step)
    return replace(
        obs,
        columns=(*obs.columns, Column("azimuth_slip"), Column("altitude_slip")),
        az_shape=np.hstack([obs.az_shape, step, zero]),
        alt_shape=np.hstack([obs.alt_shape, zero, step]),
        star_shape=np.hstack([obs.star_shape, zero, zero]),
        slip_at=first_after,
    )


def with_varied(
    obs: Observations,
    varied: Sequence[tuple[str, str, FloatArray]],
    additions: tuple[Addition, ...],
) -> Observations:
    """Return the observations with columns by which terms of the six differ from pair to pair.

    `varied` holds for each new column its name, the term of the six and its factor (n,);
    `additions`, in every model from now on, count their columns from the first new one.
    """
    first = len(obs.columns)
    nothing = np.zeros((obs.count, len(varied)))
    columns = tuple(
        Varied(first + place, STANDARD_NAMES.index(term), factor)
        for place, (_, term, factor) in enumerate(varied)
    )
    moved = tuple(replace(a, columns=tuple(first + c for c in a.columns)) for a in additions)
    return replace(
        obs,
        columns=(*obs.columns, *(Column(name) for name, _, _ in varied)),
        az_shape=np.hstack([obs.az_shape, nothing]),
        alt_shape=np.hstack([obs.alt_shape, nothing]),
        star_shape=np.hstack([obs.star_shape, nothing]),
        always=(*obs.always, *moved),
        varied=(*obs.varied, *columns),
    )


def by_term(values: FloatArray) -> FloatArray:
    """Return values (c,) as they are, those of m mounts (m, c) as (c, m, 1), to go with places."""
    return values if values.ndim == 1 else values.T[..., None]


def six_terms(obs: Observations, at: FloatArray) -> FloatArray:
    """Return the six terms as each pair has them, (6, n), or (6,) where they are the same.

    Of m mounts, `at` (m, 6 + k), they are (6, m, 1).
    """
    six = by_term(at)[:N_STANDARD]
    if obs.varied:
        six = np.tile(six[:, None], obs.count)
        for one in obs.varied:
            six[one.term] += one.factor * at[N_STANDARD + one.column]
    return six


def linear_problem(obs: Observations, at: FloatArray) -> LinearProblem:
    """Return the problem linearised at `at` (6 + k,), the terms in arcminutes (or their unit).

    Of m mounts at once, `at` (m, 6 + k), readings and shapes being (m, n) and (m, n, k), miss and
    design are (m, n, 2) and (m, n, 2, 6 + k).
    """
    further = at[..., N_STANDARD:, None]
    six = six_terms(obs, at)
    reading_az, reading_alt, turn = obs.reading_az, obs.reading_alt, None
    if has_readout_tilts(obs.columns):
        turn = turned_readings(reading_az, reading_alt, by_term(at)[N_STANDARD : N_STANDARD + 2])
        reading_az, reading_alt = turn.az, turn.alt
    az_axis = reading_az - (six[0] + (obs.az_shape @ further)[..., 0]) / ARCMIN_PER_RADIAN
    alt_axis = reading_alt - (six[1] + (obs.alt_shape @ further)[..., 0]) / ARCMIN_PER_RADIAN
    star_alt = obs.star_alt + (obs.star_shape @ further)[..., 0] / ARCMIN_PER_RADIAN
    geometry = geometry_from_arcmin(six[2], six[3], six[4], six[5])
    flat: Linearised = linearise(obs.star_az, star_alt, az_axis, alt_axis, geometry)
    if not obs.columns:
        return LinearProblem(at, flat.miss, flat.design)
    design = np.empty((*flat.miss.shape, at.shape[-1]))
    design[..., :N_STANDARD] = flat.design
    design[..., N_STANDARD:] = (
        flat.design[..., 0:1] * obs.az_shape[..., None, :]
        + flat.design[..., 1:2] * obs.alt_shape[..., None, :]
    )
    design[..., 1, N_STANDARD:] += obs.star_shape
    for one in obs.varied:
        design[..., N_STANDARD + one.column] = flat.design[..., one.term] * one.factor[:, None]
    if turn is not None:
        design[..., N_STANDARD : N_STANDARD + 2] = -(flat.design[..., :2] @ turn.slopes)
    return LinearProblem(at, flat.miss, design)
