"""The pointing terms: each defined once, with all that the program knows and says of it.

Read first: `term.py` for what a term is, `kinematics.py` for where the terms act. A correction is
centred minus commanded; every term is named by what it adds to the correction. `STANDARD` holds the
six terms fitted on every night; those of `further_terms` are taken up only where the night supports
them. `SINKING` are those of ground that gives way: the six are then those of the log's end
(`estimate/moves.py`).

To add a term: one `Term` in `_FURTHER`, with its shape and its sentence of evidence; those that
terms share stand in `shapes.py` and `seen.py`.
"""

from __future__ import annotations

from pointmodel.base.registry import Registry
from pointmodel.mount.priors import (
    COMMON_ODDS,
    FLEXURE_ODDS,
    RARE_ODDS,
    REFRACTION_LEFT_OUT_ODDS,
    REFRACTION_TWICE_ODDS,
    SELDOM_ODDS,
    SINKING_SD_ARCMIN_H,
    SLIP_ODDS,
)
from pointmodel.mount.seen import (
    backlash_seen,
    collimation_seen,
    drift_seen,
    eccentricity_seen,
    flexure_seen,
    index_seen,
    lean_seen,
    non_perpendicularity_seen,
    refraction_seen,
    scale_seen,
    sinking_seen,
    slip_seen,
)
from pointmodel.mount.shapes import (
    altitude,
    azimuth_from_origin,
    cosine_of_altitude,
    cosine_of_azimuth,
    everywhere_one,
    half_altitude_motion,
    half_azimuth_motion,
    hours,
    lift,
    lift_applied_twice,
    sine_of_azimuth,
)
from pointmodel.mount.term import Prior, Term, weak

_SURVEYORS_WORD = (
    "“Collimation” is the surveyor's word here, and does not mean the mirrors: the line of sight "
    "is not square to the altitude axis. Cure: put shims under the tube in its saddle. Adjusting "
    "the mirrors changes it too."
)
_ZEROING_REMOVES = "Zeroing the mount on one star removes it."

ALWAYS_THERE = 1.0  # odds of what every model has

# Sds are of the trade: a portable mount set down with ordinary care, in the term's unit. Measured:
# with the levels of `priors.py` intervals hold on mounts three times worse as well.
STANDARD: tuple[Term, ...] = (
    Term(
        name="azimuth_index",
        spoken="azimuth zero",
        unit="arcmin",
        acts="azimuth_axis",
        positive="the readout reads high in azimuth",
        cause="azimuth_zero",
        remedy="zero the mount on a star (synchronise on it)",
        negative="the readout reads low in azimuth",
        matters=6.0,
        sd=75.0,
        shape=everywhere_one,
        title="azimuth zero off",
        seen=index_seen("azimuth"),
        cured_by="zero_on_star",
        note=_ZEROING_REMOVES,
    ),
    Term(
        name="altitude_index",
        spoken="altitude zero",
        unit="arcmin",
        acts="altitude_axis",
        positive="the readout reads high in altitude",
        cause="altitude_zero",
        remedy="zero the mount on a star (synchronise on it)",
        negative="the readout reads low in altitude",
        matters=5.0,
        sd=30.0,
        shape=everywhere_one,
        title="altitude zero off",
        seen=index_seen("altitude"),
        cured_by="zero_on_star",
        note=_ZEROING_REMOVES,
        looks_like=("tube_flexure",),
    ),
    Term(
        name="collimation",
        unit="arcmin",
        acts="geometry",
        positive="the line of sight points left of square to the altitude axis",
        cause="collimation",
        remedy="square the tube: shim it in its saddle",
        negative="the line of sight points right of square to the altitude axis",
        matters=4.0,
        sd=12.0,
        title="tube not square to its axis",
        seen=collimation_seen,
        cured_by="square_tube",
        note=_SURVEYORS_WORD,
        looks_like=("non_perpendicularity",),
    ),
    Term(
        name="non_perpendicularity",
        spoken="non-perpendicularity",
        unit="arcmin",
        acts="geometry",
        positive="the right-hand end of the altitude axis is high (seen from behind the tube)",
        cause="non_perpendicularity",
        remedy="a matter for the maker or a workshop, but corrections remove its effect",
        negative="the left-hand end of the altitude axis is high (seen from behind the tube)",
        matters=4.0,
        sd=8.0,
        title="axes not at right angles",
        seen=non_perpendicularity_seen,
        looks_like=("collimation",),
    ),
    Term(
        name="tilt_north",
        spoken="lean north",
        unit="arcmin",
        acts="geometry",
        positive="the azimuth axis leans toward north",
        cause="not_level",
        remedy="level the base, or align again",
        negative="the azimuth axis leans toward south",
        matters=5.0,
        sd=25.0,
        title="base not level",
        seen=lean_seen,
        cured_by="level",
    ),
    Term(
        name="tilt_east",
        spoken="lean east",
        unit="arcmin",
        acts="geometry",
        positive="the azimuth axis leans toward east",
        cause="not_level",
        remedy="level the base, or align again",
        negative="the azimuth axis leans toward west",
        matters=5.0,
        sd=25.0,
        title="base not level",
        seen=lean_seen,
        cured_by="level",
    ),
)

_FURTHER: tuple[Term, ...] = (
    Term(
        name="tube_flexure",
        unit="arcmin",
        acts="star_altitude",
        positive="the tube hangs low",
        cause="tube_flexure",
        remedy="tighten or brace the tube and its arm. Corrections remove what repeats",
        negative="the tube rides high near the horizon",
        matters=3.0,
        priors=weak(10.0, FLEXURE_ODDS),
        shape=cosine_of_altitude,
        title="tube or arm sags",
        seen=flexure_seen,
        looks_like=("altitude_index", "altitude_scale", "refraction"),
        of_the_tube=True,
    ),
    Term(
        name="refraction",
        unit="1",
        acts="star_altitude",
        positive="the controller leaves refraction out",
        cause="refraction",
        remedy="set the controller's refraction switch the other way",
        negative="the controller applies refraction twice",
        matters=0.4,
        priors=(
            # air's pressure and temperature change the lift by a seventh at most
            Prior(1.0, 0.15, REFRACTION_LEFT_OUT_ODDS),
            Prior(-1.0, 0.15, REFRACTION_TWICE_ODDS),
        ),
        shape=lift,
        negative_shape=lift_applied_twice,
        title="the controller's refraction switch",
        seen=refraction_seen,
        looks_like=("tube_flexure",),
        of_the_tube=True,
    ),
    Term(
        name="azimuth_scale",
        unit="arcmin/deg",
        acts="azimuth_axis",
        positive="the azimuth readout counts more than a turn a turn",
        cause="azimuth_scale",
        remedy="correct the azimuth gear ratio or steps a turn in the controller",
        negative="the azimuth readout counts less than a turn a turn",
        matters=0.03,
        priors=weak(0.18, SELDOM_ODDS),  # 11′ in 60°
        shape=azimuth_from_origin,
        title="azimuth gear ratio or steps a turn",
        seen=scale_seen("azimuth"),
        of_the_tube=True,
    ),
    Term(
        name="altitude_scale",
        unit="arcmin/deg",
        acts="altitude_axis",
        positive="the altitude readout counts more than a turn a turn",
        cause="altitude_scale",
        remedy="correct the altitude gear ratio or steps a turn in the controller",
        negative="the altitude readout counts less than a turn a turn",
        matters=0.06,
        priors=weak(0.36, SELDOM_ODDS),  # 22′ in 60°
        shape=altitude,
        title="altitude gear ratio or steps a turn",
        seen=scale_seen("altitude"),
        looks_like=("tube_flexure",),
        of_the_tube=True,
    ),
    Term(
        name="azimuth_eccentricity_sin",
        unit="arcmin",
        acts="azimuth_axis",
        positive="the azimuth circle's centre is off its axis (part in sin A)",
        cause="eccentricity",
        remedy="centre the encoder ring or gear on its axis",
        negative="the azimuth circle's centre is off its axis (part in sin A)",
        matters=3.0,
        priors=weak(10.0, SELDOM_ODDS),
        shape=sine_of_azimuth,
        partner="azimuth_eccentricity_cos",
        title="encoder ring or gear off centre",
        seen=eccentricity_seen,
    ),
    Term(
        name="azimuth_eccentricity_cos",
        unit="arcmin",
        acts="azimuth_axis",
        positive="the azimuth circle's centre is off its axis (part in cos A)",
        cause="eccentricity",
        remedy="centre the encoder ring or gear on its axis",
        negative="the azimuth circle's centre is off its axis (part in cos A)",
        matters=3.0,
        shape=cosine_of_azimuth,
        partner="azimuth_eccentricity_sin",
        title="encoder ring or gear off centre",
        seen=eccentricity_seen,
    ),
    Term(
        name="azimuth_backlash",
        unit="arcmin",
        acts="azimuth_axis",
        positive="slack in the azimuth gear: the readout runs ahead of the tube",
        cause="azimuth_backlash",
        remedy="end every centring with the same azimuth motion, and adjust the gear",
        negative="slack in the azimuth gear: the readout lags behind the tube",
        matters=3.0,
        priors=weak(12.0, COMMON_ODDS),
        shape=half_azimuth_motion,
        title="slack in the azimuth gear",
        seen=backlash_seen("azimuth", "clockwise", "counter-clockwise"),
        needs="az_motion",
        of_the_tube=True,
    ),
    Term(
        name="altitude_backlash",
        unit="arcmin",
        acts="altitude_axis",
        positive="slack in the altitude gear: the readout runs ahead of the tube",
        cause="altitude_backlash",
        remedy="end every centring with the same altitude motion, and adjust gear and balance",
        negative="slack in the altitude gear: the readout lags behind the tube",
        matters=3.0,
        priors=weak(12.0, COMMON_ODDS),
        shape=half_altitude_motion,
        title="slack in the altitude gear",
        seen=backlash_seen("altitude", "up", "down"),
        needs="alt_motion",
        of_the_tube=True,
    ),
    Term(
        name="azimuth_drift",
        unit="arcmin/h",
        acts="azimuth_axis",
        positive="the azimuth readout creeps up as time goes by",
        cause="drift",
        remedy="tighten the azimuth clutch, and check the tracking rate",
        negative="the azimuth readout creeps down as time goes by",
        matters=3.0,
        priors=weak(12.0, SELDOM_ODDS),
        shape=hours,
        title="a readout that creeps with time",
        seen=drift_seen("azimuth"),
        looks_like=("azimuth_slip",),
        needs="time",
    ),
    Term(
        name="altitude_drift",
        unit="arcmin/h",
        acts="altitude_axis",
        positive="the altitude readout creeps up as time goes by",
        cause="drift",
        remedy="tighten the altitude clutch, balance the tube, and check the tracking rate",
        negative="the altitude readout creeps down as time goes by",
        matters=3.0,
        priors=weak(12.0, RARE_ODDS),
        shape=hours,
        title="a readout that creeps with time",
        seen=drift_seen("altitude"),
        looks_like=("azimuth_slip",),
        needs="time",
    ),
    Term(
        name="azimuth_slip",
        unit="arcmin",
        acts="azimuth_axis",
        positive="the azimuth readout jumped up between two pairs",
        cause="slip",
        remedy="tighten the clutch, then zero the mount on a star again",
        negative="the azimuth readout jumped down between two pairs",
        matters=4.0,
        priors=(Prior(0.0, 25.0, SLIP_ODDS),),
        partner="altitude_slip",
        title="a clutch slipped or the stand was knocked",
        seen=slip_seen,
        looks_like=("azimuth_drift", "altitude_drift"),
    ),
    Term(
        name="altitude_slip",
        unit="arcmin",
        acts="altitude_axis",
        positive="the altitude readout jumped up between two pairs",
        cause="slip",
        remedy="tighten the clutch, then zero the mount on a star again",
        negative="the altitude readout jumped down between two pairs",
        matters=4.0,
        partner="azimuth_slip",
        title="a clutch slipped or the stand was knocked",
        seen=slip_seen,
    ),
)

READOUT: tuple[Term, ...] = (
    Term(
        name="readout_tilt_north",
        unit="arcmin",
        acts="readout",
        positive="the frame of the readout leans toward north against the mount's own",
        cause="alignment",
        remedy="none needed: it is how the controller's alignment shows its readings",
        negative="the frame of the readout leans toward south against the mount's own",
        priors=(Prior(0.0, 60.0, ALWAYS_THERE),),
        partner="readout_tilt_east",
        title="the controller's alignment",
        seen=lean_seen,
    ),
    Term(
        name="readout_tilt_east",
        unit="arcmin",
        acts="readout",
        positive="the frame of the readout leans toward east against the mount's own",
        cause="alignment",
        remedy="none needed: it is how the controller's alignment shows its readings",
        negative="the frame of the readout leans toward west against the mount's own",
        partner="readout_tilt_north",
        title="the controller's alignment",
        seen=lean_seen,
    ),
)

SINKING: tuple[Term, ...] = (
    Term(
        name="tilt_north_drift",
        spoken="lean drift north",
        unit="arcmin/h",
        acts="base",
        positive="the base leans further toward north as time goes by",
        negative="the base leans further toward south as time goes by",
        cause="sinking",
        title="the ground gives way",
        seen=sinking_seen,
        remedy="put a board under each foot, wait five minutes, then log again",
        matters=10.0,
        priors=(Prior(0.0, SINKING_SD_ARCMIN_H, 1.0),),
        partner="tilt_east_drift",
    ),
    Term(
        name="tilt_east_drift",
        spoken="lean drift east",
        unit="arcmin/h",
        acts="base",
        positive="the base leans further toward east as time goes by",
        negative="the base leans further toward west as time goes by",
        cause="sinking",
        title="the ground gives way",
        seen=sinking_seen,
        remedy="put a board under each foot, wait five minutes, then log again",
        matters=10.0,
        partner="tilt_north_drift",
    ),
)

TERMS: Registry[Term] = Registry((*STANDARD, *_FURTHER, *READOUT, *SINKING))
STANDARD_NAMES: tuple[str, ...] = tuple(term.name for term in STANDARD)
N_STANDARD = len(STANDARD)


def further_terms() -> tuple[Term, ...]:
    """Return the terms that are taken up only where the night supports them."""
    return tuple(
        term
        for term in TERMS.values()
        if term.name not in STANDARD_NAMES and term.acts not in ("readout", "base")
    )


def terms_of_the_mount() -> dict[str, Term]:
    """Return the terms of the mount itself by name: none of a turned readout or of soft ground."""
    return {term.name: term for term in (*STANDARD, *further_terms())}


def plain_name(name: str) -> str:
    """Return a name as words: of a cause, an event, a term that nobody calls otherwise."""
    return name.replace("non_perpendicularity", "non-perpendicularity").replace("_", " ")


def spoken(name: str) -> str:
    """Return what a term is called in a sentence."""
    return TERMS[name].spoken or plain_name(name)


def spoken_together(name: str) -> str:
    """Return what a term and its partner are called as one: both tilts are the lean."""
    told = spoken(name)
    of_two = told.endswith((" north", " east", " sin", " cos"))
    return told.rsplit(" ", 1)[0] if of_two else told
