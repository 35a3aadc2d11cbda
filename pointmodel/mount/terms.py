"""The pointing terms: each defined once, with its effect, prior and plain wording.

Read first: `kinematics.py` for where the terms act. A correction is centred minus commanded; every
term is named by what it adds to the correction. `STANDARD` holds the six terms fitted on every
night, `FURTHER` those taken up only where the night supports them.

To add a term: write its shape, add one `Term` to `FURTHER`; the tests run over the registry.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray

Where = Literal["azimuth_axis", "altitude_axis", "geometry", "star_altitude", "readout"]


@dataclass(frozen=True)
class Circumstances:
    """Everything that shapes of terms may look at, one entry a pair (all arrays of shape (n,)).

    Readings are those of the axes; `star_alt_deg` is where the star stands (for a controller that
    already allows for refraction, its apparent place). Motions are +1 (clockwise, up), -1 or 0 (not
    logged). `hours` counts from the first pair. `expected_az_deg` is about what the axis should
    read at the star: it tells on which side of the half turn a scale error counts.
    """

    reading_az_deg: FloatArray
    reading_alt_deg: FloatArray
    star_alt_deg: FloatArray
    az_motion: FloatArray
    alt_motion: FloatArray
    hours: FloatArray
    expected_az_deg: FloatArray
    azimuth_origin_deg: float = 0.0
    pressure_hpa: float = 1010.0
    temperature_c: float = 10.0


@dataclass(frozen=True)
class Prior:
    """One guess at a further term: normal about `mean` with `sd` (its unit), prior odds `odds`."""

    mean: float
    sd: float
    odds: float


@dataclass(frozen=True)
class Term:
    """One pointing term.

    `positive` and `negative` say in words what either sign means. Below `matters` (its unit) the
    term is no cause worth naming. `shape` gives what one unit of the term adds, in arcminutes of
    axis (or star altitude), at each pair; None for the terms of the geometry, which `kinematics.py`
    treats exactly, and for slips, which are steps in the order of the log. `negative_shape`
    replaces it where a term near its negative prior acts at another place.
    """

    name: str
    unit: str
    acts: Where
    positive: str
    cause: str
    remedy: str
    negative: str = ""
    matters: float = 0.0
    sd: float = 0.0
    priors: tuple[Prior, ...] = ()
    shape: Callable[[Circumstances], FloatArray] | None = None
    negative_shape: Callable[[Circumstances], FloatArray] | None = None
    partner: str | None = None


def refraction_lift_arcmin(
    alt_deg: FloatArray, pressure_hpa: float = 1010.0, temperature_c: float = 10.0
) -> FloatArray:
    """Lift of a star by the air, arcminutes, from its true altitude in degrees.

    Saemundsson, Sky and Telescope 72 (1986) 70; as given by Meeus, Astronomical Algorithms, ch. 16.
    Below -1 degree the value at -1 degree is kept.
    """
    altitude = np.maximum(np.asarray(alt_deg, dtype=float), -1.0)
    angle = np.radians(altitude + 10.3 / (altitude + 5.11))
    lift = 1.02 / np.tan(angle) * (pressure_hpa / 1010.0) * (283.0 / (273.0 + temperature_c))
    return np.asarray(lift, dtype=float)


def _one(at: Circumstances) -> FloatArray:
    return np.ones_like(at.reading_az_deg)


def _flexure(at: Circumstances) -> FloatArray:
    return np.asarray(np.cos(np.radians(at.star_alt_deg)))


def _lift(at: Circumstances) -> FloatArray:
    return refraction_lift_arcmin(at.star_alt_deg, at.pressure_hpa, at.temperature_c)


def _lift_applied_twice(at: Circumstances) -> FloatArray:
    """The lift where the controller applied it twice: its place is not the true one.

    The commanded altitude then stands two lifts too high, so the lift is taken from there.
    """
    true_alt_deg = at.star_alt_deg - 2.0 * _lift(at) / 60.0
    return refraction_lift_arcmin(true_alt_deg, at.pressure_hpa, at.temperature_c)


def _azimuth_from_origin(at: Circumstances) -> FloatArray:
    expected = wrap_deg(at.expected_az_deg - at.azimuth_origin_deg)
    return np.asarray(expected + wrap_deg(at.reading_az_deg - at.expected_az_deg))


STANDARD: tuple[Term, ...] = (
    Term(
        "azimuth_index",
        "arcmin",
        "azimuth_axis",
        "the readout reads high in azimuth",
        "azimuth_zero",
        "zero the mount on a star (synchronise on it)",
        negative="the readout reads low in azimuth",
        matters=6.0,
        sd=75.0,
        shape=_one,
    ),
    Term(
        "altitude_index",
        "arcmin",
        "altitude_axis",
        "the readout reads high in altitude",
        "altitude_zero",
        "zero the mount on a star (synchronise on it)",
        negative="the readout reads low in altitude",
        matters=5.0,
        sd=30.0,
        shape=_one,
    ),
    Term(
        "collimation",
        "arcmin",
        "geometry",
        "the line of sight points left of square to the altitude axis",
        "collimation",
        "square the tube: shim it in its saddle",
        negative="the line of sight points right of square to the altitude axis",
        matters=4.0,
        sd=12.0,
    ),
    Term(
        "non_perpendicularity",
        "arcmin",
        "geometry",
        "the right-hand end of the altitude axis is high (seen from behind the tube)",
        "non_perpendicularity",
        "a matter for the maker or a workshop; corrections remove its effect",
        negative="the left-hand end of the altitude axis is high (seen from behind the tube)",
        matters=4.0,
        sd=8.0,
    ),
    Term(
        "tilt_north",
        "arcmin",
        "geometry",
        "the azimuth axis leans toward north",
        "not_level",
        "level the base, or realign",
        negative="the azimuth axis leans toward south",
        matters=5.0,
        sd=25.0,
    ),
    Term(
        "tilt_east",
        "arcmin",
        "geometry",
        "the azimuth axis leans toward east",
        "not_level",
        "level the base, or realign",
        negative="the azimuth axis leans toward west",
        matters=5.0,
        sd=25.0,
    ),
)

FURTHER: tuple[Term, ...] = (
    Term(
        "tube_flexure",
        "arcmin",
        "star_altitude",
        "the tube hangs low",
        "tube_flexure",
        "tighten or brace the tube and its arm; corrections remove what repeats",
        negative="the tube rides high near the horizon",
        matters=3.0,
        priors=(Prior(0.0, 10.0, 0.015), Prior(0.0, 40.0, 0.003)),
        shape=_flexure,
    ),
    Term(
        "refraction",
        "1",
        "star_altitude",
        "the controller leaves refraction out",
        "refraction",
        "set the controller's refraction switch the other way",
        negative="the controller applies refraction twice",
        matters=0.4,
        priors=(Prior(1.0, 0.15, 0.03), Prior(-1.0, 0.15, 0.01)),
        shape=_lift,
        negative_shape=_lift_applied_twice,
    ),
    Term(
        "azimuth_scale",
        "arcmin/deg",
        "azimuth_axis",
        "the azimuth readout counts more than a turn a turn",
        "azimuth_scale",
        "correct the azimuth gear ratio or steps a turn in the controller",
        negative="the azimuth readout counts less than a turn a turn",
        matters=0.03,
        priors=(Prior(0.0, 0.18, 0.006), Prior(0.0, 0.72, 0.0012)),
        shape=_azimuth_from_origin,
    ),
    Term(
        "altitude_scale",
        "arcmin/deg",
        "altitude_axis",
        "the altitude readout counts more than a turn a turn",
        "altitude_scale",
        "correct the altitude gear ratio or steps a turn in the controller",
        negative="the altitude readout counts less than a turn a turn",
        matters=0.06,
        priors=(Prior(0.0, 0.36, 0.004), Prior(0.0, 1.44, 0.0008)),
        shape=lambda at: at.reading_alt_deg,
    ),
    Term(
        "azimuth_eccentricity_sin",
        "arcmin",
        "azimuth_axis",
        "the azimuth circle's centre is off its axis (part in sin A)",
        "eccentricity",
        "centre the encoder ring or gear on its axis",
        negative="the azimuth circle's centre is off its axis (part in sin A)",
        matters=3.0,
        priors=(Prior(0.0, 10.0, 0.005), Prior(0.0, 40.0, 0.001)),
        shape=lambda at: np.asarray(np.sin(np.radians(at.reading_az_deg))),
        partner="azimuth_eccentricity_cos",
    ),
    Term(
        "azimuth_eccentricity_cos",
        "arcmin",
        "azimuth_axis",
        "the azimuth circle's centre is off its axis (part in cos A)",
        "eccentricity",
        "centre the encoder ring or gear on its axis",
        negative="the azimuth circle's centre is off its axis (part in cos A)",
        matters=3.0,
        shape=lambda at: np.asarray(np.cos(np.radians(at.reading_az_deg))),
        partner="azimuth_eccentricity_sin",
    ),
    Term(
        "azimuth_backlash",
        "arcmin",
        "azimuth_axis",
        "slack in the azimuth gear: the readout runs ahead of the tube",
        "azimuth_backlash",
        "end every centring with the same azimuth motion; adjust the gear",
        negative="slack in the azimuth gear: the readout lags behind the tube",
        matters=3.0,
        priors=(Prior(0.0, 12.0, 0.015), Prior(0.0, 48.0, 0.003)),
        shape=lambda at: 0.5 * at.az_motion,
    ),
    Term(
        "altitude_backlash",
        "arcmin",
        "altitude_axis",
        "slack in the altitude gear: the readout runs ahead of the tube",
        "altitude_backlash",
        "end every centring with the same altitude motion; adjust gear and balance",
        negative="slack in the altitude gear: the readout lags behind the tube",
        matters=3.0,
        priors=(Prior(0.0, 12.0, 0.015), Prior(0.0, 48.0, 0.003)),
        shape=lambda at: 0.5 * at.alt_motion,
    ),
    Term(
        "azimuth_drift",
        "arcmin/h",
        "azimuth_axis",
        "the azimuth readout creeps up as time goes by",
        "drift",
        "tighten the azimuth clutch; check the tracking rate",
        negative="the azimuth readout creeps down as time goes by",
        matters=3.0,
        priors=(Prior(0.0, 12.0, 0.005), Prior(0.0, 48.0, 0.001)),
        shape=lambda at: at.hours,
    ),
    Term(
        "altitude_drift",
        "arcmin/h",
        "altitude_axis",
        "the altitude readout creeps up as time goes by",
        "drift",
        "tighten the altitude clutch and balance the tube; check the tracking rate",
        negative="the altitude readout creeps down as time goes by",
        matters=3.0,
        priors=(Prior(0.0, 12.0, 0.003), Prior(0.0, 48.0, 0.0006)),
        shape=lambda at: at.hours,
    ),
    Term(
        "azimuth_slip",
        "arcmin",
        "azimuth_axis",
        "the azimuth readout jumped up between two pairs",
        "slip",
        "tighten the clutch, then zero the mount on a star again",
        negative="the azimuth readout jumped down between two pairs",
        matters=4.0,
        priors=(Prior(0.0, 25.0, 0.01),),
        partner="altitude_slip",
    ),
    Term(
        "altitude_slip",
        "arcmin",
        "altitude_axis",
        "the altitude readout jumped up between two pairs",
        "slip",
        "tighten the clutch, then zero the mount on a star again",
        negative="the altitude readout jumped down between two pairs",
        matters=4.0,
        partner="azimuth_slip",
    ),
)

READOUT: tuple[Term, ...] = (
    Term(
        "readout_tilt_north",
        "arcmin",
        "readout",
        "the frame of the readout leans toward north against the mount's own",
        "alignment",
        "none needed: it is how the controller's alignment shows its readings",
        negative="the frame of the readout leans toward south against the mount's own",
        priors=(Prior(0.0, 60.0, 1.0),),
        partner="readout_tilt_east",
    ),
    Term(
        "readout_tilt_east",
        "arcmin",
        "readout",
        "the frame of the readout leans toward east against the mount's own",
        "alignment",
        "none needed: it is how the controller's alignment shows its readings",
        negative="the frame of the readout leans toward west against the mount's own",
        partner="readout_tilt_north",
    ),
)

OF_THE_MOUNT: dict[str, Term] = {term.name: term for term in (*STANDARD, *FURTHER)}
TERMS: dict[str, Term] = OF_THE_MOUNT | {term.name: term for term in READOUT}
STANDARD_NAMES: tuple[str, ...] = tuple(term.name for term in STANDARD)
N_STANDARD = len(STANDARD)


def plain_name(name: str) -> str:
    """Return a term's name as words."""
    return name.replace("_", " ")
