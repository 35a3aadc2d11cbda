"""Every prior width, probability and odds of a mount and its log, each with its reason.

The reason is one of three. *Measured*: the figure was set on nights simulated by `tests/bench`, so
that intervals hold and faults are named. *Of the trade*: it is common knowledge of portable mounts,
without a source. *A choice*: figures near it would do as well. What is said of one entry of a
registry alone stands with that entry: the width of a term in `terms.py`, with its odds from here;
the shares of slips of the pen in `estimate/penslips.py`, those of the controller's entries in
`entries/catalogue.py`.

Widths are standard deviations, arcminutes unless their name says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# --- when a probability becomes a word ---------------------------------------------------------

# A choice: one verdict in five called likely may be wrong, and of two causes that stars can hardly
# tell apart neither is called so.
LIKELY_ABOVE = 0.8
# A choice: what has less than one chance in twenty is ruled out beyond the size that is named.
POSSIBLE_ABOVE = 0.05
# A choice, measured to call no mount with a fault healthy that the stars would have shown.
HEALTHY_BELOW = 0.3
# A choice that needs no figure: more likely than not.
EVENS = 0.5

# --- the noise an axis, centring included ------------------------------------------------------

# Of the trade: stars are centred to about an arcminute; a factor 2.2 either way is one sd.
# Measured: wide enough not to fight a hundred pairs.
SIGMA_ARCMIN, LOG_SIGMA_SD = 1.3, 0.8
# Of the trade: the mount's own scatter, where the centring error is stated apart.
SCATTER_ARCMIN, LOG_SCATTER_SD = 0.8, 0.8
# Of the trade: without a reticle one centres to a fortieth of the field of view.
CENTRED_TO = 1.0 / 40.0
# Of the trade: centred in a finder, or at the lowest power without care. Measured, with the shares
# below: three stars centred to 5′ on a mount set down carelessly have intervals that hold.
CARELESS_SIGMA_ARCMIN, CARELESS_LOG_SD = 4.5, 0.6
# Of the trade, four times what is usual: looser than that no person centres at a usual power.
LOOSEST_SIGMA_ARCMIN = 6.0
# A choice: on one night in ten the noise is alike from star to star (a stand that settles, a person
# who tires), with a correlation of a half from one to the next. Measured: intervals then hold.
PROBABILITY_NOISE_ALIKE, NOISE_ALIKE = 0.1, 0.5
# A choice: what the noise was on other nights or before an event it mostly is again.
SAME_NOISE_AGAIN = 0.9

# --- the six terms of one night ----------------------------------------------------------------

# The mount's class is unknown: its terms have the sds of `terms.py`, or some times those.
# Measured: on mounts three times worse than usual intervals hold as well.
LEVELS = (0.8, 2.0, 5.0)
PROBABILITY_OF_LEVEL = (0.35, 0.35, 0.3)
# Measured: a group of terms is of its mount's level, or of one beside it.
KEEPS_LEVEL = 0.75
# A choice: whoever leaves a tripod degrees off level seldom centres to an arcminute. Measured:
# ordinary nights grow no wider by it.
CARELESS_AT_LEVEL = (0.01, 0.05, 0.4)
# Of the trade: beyond ten degrees the azimuth was not set at all, and may be anything.
FREE_AZIMUTH_BEYOND_ARCMIN = 600.0
FREE_AZIMUTH_SD_ARCMIN = 1e4
# A choice: the widening of a plug-in prior is that of Student's t with so many degrees of freedom.
PLUG_IN_FREEDOM = 4.0

# --- further terms -----------------------------------------------------------------------------

# Of the trade: one tube in eight sags by what shows; gears are slack on a mount in thirty; circles
# and rates are seldom wrong, gear ratios and altitude drives hardly ever. Measured: with an eighth
# of the odds for flexure the altitude zero of a tube that sags by 8′ held in .71 of nights of 12
# stars, with these in .89, and nights without a further term miss by 1 % more.
FLEXURE_ODDS = 0.12
COMMON_ODDS, SELDOM_ODDS, RARE_ODDS = 0.03, 0.01, 0.004
# Of the trade: a switch for refraction is left off oftener than it is on twice.
REFRACTION_LEFT_OUT_ODDS, REFRACTION_TWICE_ODDS = 0.06, 0.02
# Of the trade: a clutch slips on one night in fifty, at any line.
SLIP_ODDS = 0.02
# Measured: without a wide twin a large fault drags in a second term that is not there.
WIDE_TWIN_TIMES, WIDE_TWIN_ODDS = 4.0, 0.2
# A choice: where noise is arcseconds a term of a few sigma is as likely as its wide twin is not.
SMALL_TERM_SIGMAS, SMALL_TERM_ODDS = 3.0, 0.5
# A choice: of a user's own term no more is expected than of slack gears, in arcminutes, arcminutes
# an hour, arcminutes a degree; who adds a term expects it as often as a tube that hangs.
OWN_TERM_SDS = {"arcmin": 12.0, "arcmin/h": 12.0, "arcmin/deg": 0.2}
OWN_TERM_ODDS = COMMON_ODDS
# A choice: from a quarter of what is usual of it on, an own term is worth naming as a cause.
OWN_TERM_MATTERS = 0.25
# A choice: most figures with few decimals were read off a display that has no more.
PROBABILITY_EXACT = 0.1

# --- bad pairs ---------------------------------------------------------------------------------

# Of the trade: one line in 25 of a beginner's log is another star or a slip of the pen, half each.
PROBABILITY_BAD = 0.04
WRONG_STAR_OF_BAD = 0.5
# Of the trade: the star centred by mistake is in the finder's field, ten degrees at most.
WRONG_STAR_WITHIN_ARCMIN, PROBABILITY_WITHIN = 600.0, 0.95

# --- is a fault there at all? (the diagnosis) --------------------------------------------------

# A choice: what is no fault is an arcminute, well below what matters.
SPIKE_SD_ARCMIN = 1.2


@dataclass(frozen=True)
class Slab:
    """How large a fault is where it is there, and how probable that it is."""

    sd_arcmin: float
    probability: float


# Of the trade, somewhat wider than the sds of `terms.py`: a fault is more than what is usual.
# Zeros and lean are new each night, as likely off as not; the tube's terms last.
AZIMUTH_ZERO_SLAB = Slab(90.0, 0.5)
ALTITUDE_ZERO_SLAB = Slab(60.0, 0.5)
COLLIMATION_SLAB = Slab(15.0, 0.4)
NON_PERPENDICULARITY_SLAB = Slab(12.0, 0.4)
LEAN_SLAB = Slab(30.0, 0.5)

# --- carried over from other nights, or over an event ------------------------------------------


@dataclass(frozen=True)
class Loosening:
    """One way in which tonight may differ: sds added to what was carried over, and its odds."""

    name: str
    odds: float
    sd_arcmin: Mapping[str, float] = field(default_factory=dict)
    azimuth_is_new: bool = False


# Of the trade: a tube taken out of its saddle and put back, an altitude axis that was disturbed.
TUBE_RESEATED = {"collimation": 22.0}
AXIS_DISTURBED = {"non_perpendicularity": 15.0}
# Of the trade: legs and zeros of a mount that was put up anew without care.
SET_UP_ANYHOW = {"altitude_index": 60.0, "tilt_north": 60.0, "tilt_east": 60.0}
# Of the trade: most nights are as the others were, or have a new azimuth zero. Measured: three
# pairs then go as far as six, and a contradiction of 40′ is overridden at three. What is left of
# one (.03) is for knowing nothing.
NIGHT_TO_NIGHT = (
    Loosening("as_it_was", 0.60),
    Loosening("azimuth_free", 0.22, azimuth_is_new=True),
    Loosening("collimation", 0.05, TUBE_RESEATED),
    Loosening("collimation", 0.02, TUBE_RESEATED, azimuth_is_new=True),
    Loosening("non_perpendicularity", 0.02, AXIS_DISTURBED),
    Loosening("non_perpendicularity", 0.01, AXIS_DISTURBED, azimuth_is_new=True),
    Loosening("set_up", 0.05, SET_UP_ANYHOW, azimuth_is_new=True),
)
# Of the trade: a knock seldom moves the tube in its saddle. Every event renews the azimuth zero.
OVER_AN_EVENT = (
    Loosening("as_it_was", 0.90, azimuth_is_new=True),
    Loosening("collimation", 0.04, TUBE_RESEATED, azimuth_is_new=True),
    Loosening("non_perpendicularity", 0.02, AXIS_DISTURBED, azimuth_is_new=True),
)
# A choice: zeros after an event are as on a new night, which widens by itself where they are not.
FRESH_SD_ARCMIN = 60.0
# Of the trade: what sagged or was slack before an event still is, nearly by as much.
STILL_THERE_ODDS, STILL_ABOUT = 20.0, 0.1

# --- what happened while it was logged, and nobody wrote down ----------------------------------

# Odds in a log that fits badly. Of the trade: a leg is kicked far oftener than a tube slides in its
# saddle or a foot sinks. Measured: knocks of 25′ are found at their line in eight stars, and of
# nights that stood still none in a thousand is said to have moved.
LOG_ODDS_MOVED, LOG_ODDS_TUBE_SHIFTED, LOG_ODDS_SINKING = -1.0, -3.0, -4.0
# Of the trade: one logged zeroing in ten was not on the star of the line above.
PROBABILITY_ZEROED_ELSEWHERE = 0.1
# Of the trade: a knock turns the base by a degree, or hardly; a leg gives way as unevenly as
# tripods are set up; a tube slides by what its dovetail has of play.
MOVED_INDEX_SD_ARCMIN, MOVED_TILT_SD_ARCMIN, SHIFTED_COLLIMATION_SD_ARCMIN = 60.0, 25.0, 30.0
# Of the trade: in soft ground a foot sinks so that the lean changes by a degree an hour at most.
SINKING_SD_ARCMIN_H = 30.0

# --- from night to night -----------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class ByNight:
    """What is assumed of a term over several nights.

    Sds of the value common to all nights and of a step between two; pairs (sd, probability) of how
    nights differ where the term is steady and where it is the set-up's; the odds that it is the
    mount's own, the set-up's, or changed once.
    """

    common_sd: float
    step_sd: float
    steady: tuple[tuple[float, float], ...]
    scatter: tuple[tuple[float, float], ...]
    mount_odds: float
    setup_odds: float
    changed_odds: float


# A choice: a step is of the size given, or three times that.
STEP_TIMES = ((1.0, 0.7), (3.0, 0.3))
# Of the trade: what is the mount's own is the same to a third of an arcminute, what a saddle holds
# sometimes only to one.
_HELD_BY_THE_BASE = ((0.3, 1.0),)
_HELD_BY_A_SADDLE = ((0.3, 0.8), (1.0, 0.2))

# Of the trade: zeros and lean are new each night unless the mount stands on a pier; the tube's
# terms are its own. Measured: of four nights with 12 pairs kinds come out right in 97 of 100, a
# step of 10′ is seen in 98, false changes are told on one season in fifty.
AZIMUTH_INDEX_BY_NIGHT = ByNight(
    common_sd=FREE_AZIMUTH_SD_ARCMIN,
    step_sd=60.0,
    steady=_HELD_BY_THE_BASE,
    scatter=((8.0, 0.25), (30.0, 0.3), (120.0, 0.3), (1000.0, 0.08), (6000.0, 0.07)),
    mount_odds=0.10,
    setup_odds=0.85,
    changed_odds=0.05,
)
ALTITUDE_INDEX_BY_NIGHT = ByNight(
    common_sd=60.0,
    step_sd=30.0,
    steady=_HELD_BY_THE_BASE,
    scatter=((5.0, 0.25), (15.0, 0.35), (40.0, 0.3), (100.0, 0.1)),
    mount_odds=0.25,
    setup_odds=0.60,
    changed_odds=0.15,
)
COLLIMATION_BY_NIGHT = ByNight(
    common_sd=25.0,
    step_sd=12.0,
    steady=_HELD_BY_A_SADDLE,
    scatter=((3.0, 0.3), (8.0, 0.35), (20.0, 0.25), (50.0, 0.1)),
    mount_odds=0.60,
    setup_odds=0.10,
    changed_odds=0.30,
)
NON_PERPENDICULARITY_BY_NIGHT = ByNight(
    common_sd=16.0,
    step_sd=8.0,
    steady=_HELD_BY_A_SADDLE,
    scatter=((3.0, 0.35), (8.0, 0.35), (20.0, 0.2), (40.0, 0.1)),
    mount_odds=0.70,
    setup_odds=0.10,
    changed_odds=0.20,
)
TILT_BY_NIGHT = ByNight(
    common_sd=40.0,
    step_sd=25.0,
    steady=_HELD_BY_THE_BASE,
    scatter=((4.0, 0.2), (12.0, 0.35), (30.0, 0.35), (80.0, 0.1)),
    mount_odds=0.10,
    setup_odds=0.85,
    changed_odds=0.05,
)
# Of the trade: seeing and tiredness let the noise differ by a seventh from night to night.
LEAST_LOG_SIGMA_BETWEEN = 0.15

# --- alignments on two stars or more -------------------------------------------------------------

# A choice: one alignment in ten goes wrong, as often by another star as by careless centring, and a
# stand is knocked after it less often than that.
ALIGNED_RIGHT, ALIGNED_ON_ANOTHER, ALIGNED_BADLY, KNOCKED_SINCE = 0.90, 0.045, 0.035, 0.02
# A choice: ln of how much less likely a star one magnitude fainter is taken for the one meant.
DIMMER_BY = 0.7
# Of the trade: an alignment star is centred like any other.
ALIGNMENT_CENTRED_TO_ARCMIN = 2.5
# Of the trade: badly means in a low-power eyepiece, or in a finder.
ALIGNMENT_BADLY_TO_ARCMIN = (20.0, 90.0)
# Of the trade: minutes from a log's first star back to the first alignment star, and from one of
# those to the next. A wrong clock of the controller moves the former.
ALIGNED_BEFORE_MIN, ALIGNED_BEFORE_SD_MIN = -10.0, 12.0
BETWEEN_ALIGNMENT_STARS_MIN, BETWEEN_ALIGNMENT_STARS_SD_MIN = 2.0, 2.0
# A choice: a knock about north and east (a leg that gave way) and about the zenith.
KNOCK_SDS_ARCMIN = (60.0, 60.0, 300.0)
# A choice: controllers that work out a rotation and nothing else are the commoner ones.
ROTATION_ALONE = 0.65
# A choice: of two stars most meet the first exactly, some the last, some both alike.
FIRST_EXACT, LAST_EXACT, BOTH_ALIKE = 0.6, 0.2, 0.2
# Measured: altitude index, collimation, non-perpendicularity and tilts of usual mounts, of mounts
# three times worse, and of a choice of mounts set down anyhow, with how many there are of each.
ALIGNED_MOUNT_SDS = (
    (30.0, 12.0, 8.0, 25.0, 25.0),
    (90.0, 36.0, 24.0, 75.0, 75.0),
    (400.0, 60.0, 25.0, 150.0, 150.0),
)
ALIGNED_MOUNT_ODDS = (0.6, 0.3, 0.1)
