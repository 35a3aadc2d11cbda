"""The evidence for each cause, in sentences that need no training; figures with their units.

Read `causes.py` for the verdicts that these go with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.figures import figure
from pointmodel.base.times import HOUR_ANGLE_ARCMIN_PER_MINUTE
from pointmodel.base.wording import join
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import SetAside
from pointmodel.estimate.sparse import FaultFinding
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount.priors import LIKELY_ABOVE, POSSIBLE_ABOVE
from pointmodel.mount.seen import Seen
from pointmodel.mount.terms import TERMS, plain_name
from pointmodel.reading.mountfile import MountFile

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault
    from pointmodel.diagnosis.skyevidence import SkyEvidence

OPEN_BEYOND = 5.0  # times what matters: what could still be so large is said to be open; a choice
SHOWN_UP_TO = 0.99  # beyond, a figure would say more than a night can know


@dataclass(frozen=True)
class Case:
    """All that the causes are drawn from: findings of the sparse layer, noise, pairs, forecasts.

    `loose_probability` is that of a noise above 4′ an axis. `reach_arcmin` says by name how large
    each of the six terms could still be, by the dense posterior: what these stars leave open. `sky`
    is what names, times and place add, where the log has them; `alignment` says how good the stars
    of an alignment were, `fault` what went wrong with it, `realign_on` which two stars would suit;
    `feet_wait` why no foot may be turned yet. `happened` is what happened to the mount meanwhile,
    unlogged.
    """

    findings: tuple[FaultFinding, ...]
    loose_probability: float
    sigma_arcmin: float
    set_aside: tuple[SetAside, ...]
    forecasts: tuple[RemedyForecast, ...]
    mount: MountFile
    slip_after_line: int | None
    inseparable: bool
    reach_arcmin: Mapping[str, float]
    pairs_used: int
    sky: SkyEvidence | None = None
    alignment: str | None = None
    true_places: bool = False  # of the stars: by an almanac beside what the axes read, by a camera
    happened: tuple[Happened, ...] = ()
    feet_wait: str | None = None
    fault: AlignmentFault | None = None
    realign_on: tuple[str, str] | None = None

    @property
    def clock_cleared(self) -> bool:
        """Whether date, time and place are known to be right."""
        agrees = self.sky is not None and self.sky.verdict == "agrees"
        return agrees or self.true_places or self.mount.clock_cleared_by is not None


def certainty_words(probability: float) -> str:
    """Return how sure a cause is, never a bare 100 %."""
    if probability > SHOWN_UP_TO:
        return "over 99 % sure"
    return f"{100.0 * probability:.0f} % sure"


def ruled_out_words(finding: FaultFinding, case: Case) -> str:
    """Return what size of a fault is ruled out, and what could hide it."""
    term = TERMS[finding.terms[0]]
    if term.unit == "1":
        return "neither left out nor applied twice"
    text = f"not more than {limit_words(finding)}"
    mixed = term.name in ("collimation", "non_perpendicularity", "azimuth_index")
    if case.inseparable and mixed:
        text += ", unless azimuth zero, collimation and non-perpendicularity hide one another"
    return text


def open_arcmin(finding: FaultFinding, case: Case) -> float | None:
    """Return how large a fault could pass unseen, where that is far more than what matters."""
    reach = [case.reach_arcmin[name] for name in finding.terms if name in case.reach_arcmin]
    size = float(np.hypot.reduce(reach)) if reach else 0.0
    return size if size > OPEN_BEYOND * TERMS[finding.terms[0]].matters else None


def limit_words(finding: FaultFinding) -> str:
    """Return the size that 95 % of all models keep below."""
    unit = TERMS[finding.terms[0]].unit
    size = max(finding.limit, 0.1)
    suffix = {"arcmin": "′", "arcmin/h": "′ an hour", "arcmin/deg": "′ a degree"}[unit]
    return f"{figure(size, 2 if unit == 'arcmin/deg' else 1 if size < 10 else 0)}{suffix}"


def evidence_words(finding: FaultFinding, case: Case) -> str:
    """Return what the stars show of this fault, with its size and 95 % range."""
    seen = Seen(
        terms=finding.terms,
        value=finding.value,
        sd=finding.sd,
        after_line=case.slip_after_line,
        aligned=case.mount.lean_is_hidden,
    )
    return TERMS[finding.terms[0]].seen(seen)


def look_alike_words(finding: FaultFinding, case: Case) -> str:
    """Name what these stars cannot tell from this fault, where that is itself in play."""
    alike = {name for mine in finding.terms for name in TERMS[mine].looks_like}
    others = [
        plain_name(TERMS[rival.terms[0]].cause)
        for rival in case.findings
        if alike.intersection(rival.terms) and POSSIBLE_ABOVE < rival.probability < LIKELY_ABOVE
    ]
    if not others:
        return ""
    return f"; or {join(list(dict.fromkeys(others)), 'or')}: these stars cannot quite tell"


def clock_words(east: float, place: tuple[float, float] | None) -> str:
    """Return which clock or longitude looks like a lean toward east, arcminutes.

    To first order tilt_east = −δ cos φ for a sidereal time too large by δ (clock fast, or longitude
    too far east) at latitude φ.
    """
    if place is None or abs(place[0]) > 85.0:
        return "a wrong clock or longitude would look the same as this lean"
    minutes = -east / (HOUR_ANGLE_ARCMIN_PER_MINUTE * np.cos(np.radians(place[0])))
    way = ("fast", "east") if minutes > 0 else ("slow", "west")
    degrees = abs(minutes) * HOUR_ANGLE_ARCMIN_PER_MINUTE / 60.0
    return (
        f"a clock {figure(abs(minutes), 1)} min {way[0]}, or a longitude {figure(degrees, 2)}° "
        f"too far {way[1]}, would look the same as this lean"
    )
