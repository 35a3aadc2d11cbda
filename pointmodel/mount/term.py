"""One pointing term, and what its shape may look at.

Read `terms.py` for the registry of them, `kinematics.py` for where they act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.priors import WIDE_TWIN_ODDS, WIDE_TWIN_TIMES
from pointmodel.mount.seen import SeenWords, nothing_seen

Unit = Literal["arcmin", "arcmin/h", "arcmin/deg", "1"]
Needs = Literal["az_motion", "alt_motion", "time"]
Where = Literal["azimuth_axis", "altitude_axis", "geometry", "star_altitude", "readout", "base"]


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


def weak(sd: float, odds: float) -> tuple[Prior, ...]:
    """Return the priors of a further term about zero: the usual one, and a rarer, wider twin."""
    return Prior(0.0, sd, odds), Prior(0.0, WIDE_TWIN_TIMES * sd, WIDE_TWIN_ODDS * odds)


@dataclass(frozen=True, kw_only=True)
class Term:
    """One pointing term: all that the program knows and says of it.

    `acts`: where it acts. `positive` and `negative` say in words what either sign means; `seen`
    makes the sentence of evidence, `title` is its cause in plain words, `note` what to know beside
    its value. Below `matters` (its unit) the term is no cause worth naming. `remedy` is what to do,
    in words; `cured_by` the name of the remedy that takes it away, where one does. `looks_like`
    names terms that few stars cannot tell from it. `spoken` is what it is called in a sentence,
    where that is not its name with blanks.

    `shape` gives what one unit of the term adds, in arcminutes of axis (or star altitude), at each
    pair; None for the terms of the geometry, which `kinematics.py` treats exactly, and for slips,
    which are steps in the order of the log. `negative_shape` replaces it where a term near its
    negative prior acts at another place. `needs` is what a log must have beside the places.
    `of_the_tube`: it stays what it was over an event and from night to night.

    A term of a user's own needs a name and a shape, and where it acts if not on the azimuth axis;
    `sd` is the size that is usual of it (`ownterms.py` fills in the rest):

    >>> import numpy as np, pointmodel as pm
    >>> def twice_a_turn(at):
    ...     return np.sin(2 * np.radians(at.reading_az_deg))
    >>> pm.Term("oval_ring", shape=twice_a_turn).acts
    'azimuth_axis'
    """

    name: str = field(kw_only=False)
    unit: Unit = "arcmin"
    acts: Where = "azimuth_axis"
    cause: str = ""
    title: str = ""
    spoken: str = ""
    positive: str = ""
    negative: str = ""
    seen: SeenWords = nothing_seen
    remedy: str = ""
    cured_by: str | None = None
    note: str = ""
    looks_like: tuple[str, ...] = ()
    matters: float = 0.0
    sd: float = 0.0
    priors: tuple[Prior, ...] = ()
    shape: Callable[[Circumstances], FloatArray] | None = None
    negative_shape: Callable[[Circumstances], FloatArray] | None = None
    partner: str | None = None
    needs: Needs | None = None
    of_the_tube: bool = False


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
