"""The evidence for each cause, in sentences that need no training; figures with their units.

Read `causes.py` for the verdicts that these go with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.figures import figure, miss_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.base.times import HOUR_ANGLE_ARCMIN_PER_MINUTE
from pointmodel.base.wording import join
from pointmodel.diagnosis.lean import TILTS, Lean
from pointmodel.diagnosis.result import Verdict
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import SetAside, TermEstimate
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
class Size:
    """How large a fault is, with its 95 % limits, in `unit`."""

    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True)
class Case:
    """All that the causes are drawn from: findings of the sparse layer, noise, pairs, forecasts.

    `loose_probability` is that of a noise above 4′ an axis, `sigma_high_arcmin` the upper limit of
    that noise. `table` holds the terms as the table shows them, by name, `lean` the lean; sizes and
    limits are theirs. `together` is azimuth zero, collimation and non-perpendicularity as one, at
    45° up with limits, where only that is known; `own_lean` says that the lean is the base's own,
    without what a wrong entry adds. `sky` is what names, times and place add, where the log has
    them; `alignment` says how good the stars of an alignment were, `fault` what went wrong with it,
    `realign_on` which two stars would suit; `feet_wait` why no foot may be turned yet. `happened`
    is what happened to the mount meanwhile, unlogged.
    """

    findings: tuple[FaultFinding, ...]
    loose_probability: float
    sigma_arcmin: float
    sigma_high_arcmin: float
    set_aside: tuple[SetAside, ...]
    forecasts: tuple[RemedyForecast, ...]
    mount: MountFile
    slip_after_line: int | None
    inseparable: bool
    table: Mapping[str, TermEstimate]
    lean: Lean
    pairs_used: int
    together: tuple[float, float, float] | None = None
    own_lean: bool = False
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


def size_of(finding: FaultFinding, case: Case) -> Size:
    """Return how large a fault is by the table of terms; by the sparse layer if it is not there.

    The table is wider: it knows that terms stand in for one another.
    """
    first = TERMS[finding.terms[0]]
    if finding.terms == TILTS:
        return Size(case.lean.amount_arcmin, case.lean.low, case.lean.high, first.unit)
    rows = [case.table[name] for name in finding.terms if name in case.table]
    if len(rows) == 1 and len(finding.terms) == 1:
        return Size(rows[0].value, rows[0].low, rows[0].high, first.unit)
    vector = np.array([row.value for row in rows]) if rows else finding.value
    if len(vector) == 1:
        value, spread = float(vector[0]), NORMAL_95 * float(finding.sd[0])
        return Size(value, value - spread, value + spread, first.unit)
    value = float(np.hypot.reduce(vector))
    errors = [row.standard_error for row in rows] if rows else finding.sd
    spread = NORMAL_95 * float(np.sqrt(np.mean(np.square(errors))))
    return Size(value, max(value - spread, 0.0), value + spread, first.unit)


def in_table(finding: FaultFinding, case: Case) -> bool:
    """Whether the table of terms has it."""
    return any(name in case.table for name in finding.terms)


def reach_of(finding: FaultFinding, case: Case) -> float:
    """Return how large a fault could still be, in its unit: the far end of the table's interval.

    Of a term that the table does not have, what 95 % of the models with it keep below.
    """
    if not in_table(finding, case):
        return finding.limit
    size = size_of(finding, case)
    return max(abs(size.low), abs(size.high))


def is_ruled_out(finding: FaultFinding, case: Case) -> bool:
    """Whether all that a fault could still be is less than what matters."""
    term = TERMS[finding.terms[0]]
    # left out, once or twice: there is nothing between
    return term.unit == "1" or reach_of(finding, case) <= term.matters


def far_open(finding: FaultFinding, case: Case) -> bool:
    """Whether far more than what matters could pass unseen."""
    if not in_table(finding, case):
        return False
    return reach_of(finding, case) > OPEN_BEYOND * TERMS[finding.terms[0]].matters


def held_words(finding: FaultFinding, case: Case) -> str | None:
    """Return what is said of a fault whose terms stand at a value as asked, None where one is free.

    The log was not asked of it.
    """
    rows = [case.table.get(name) for name in finding.terms]
    if not all(row is not None and row.status == "fixed" for row in rows):
        return None
    size = size_of(finding, case)
    value = miss_words(abs(size.value)) if size.unit == "arcmin" else f"{abs(size.value):g}"
    return f"held at {value} as asked; the log was not asked"


def unseen_words(finding: FaultFinding, case: Case, verdict: Verdict) -> str:
    """Return what is said of a fault of which there is no sign."""
    held = held_words(finding, case)
    if held is not None:
        return held
    if TERMS[finding.terms[0]].unit == "1":
        return "refraction is allowed for once, as it should be"
    most = limit_words(reach_of(finding, case), TERMS[finding.terms[0]].unit)
    if verdict == "open":
        return f"no sign of it; these stars leave up to {most}"
    return f"not more than {most}"


def limit_words(size: float, unit: str) -> str:
    """Return the size that a fault keeps below, rounded up."""
    if unit == "arcmin/deg":
        return f"{figure(np.ceil(100.0 * size) / 100.0, 2)}′ a degree"
    each = " an hour" if unit == "arcmin/h" else ""
    return f"{miss_words(max(size, 0.1))}{each}"


def evidence_words(finding: FaultFinding, case: Case) -> str:
    """Return what the stars show of this fault, with its size and 95 % range."""
    size = size_of(finding, case)
    rows = [case.table.get(name) for name in finding.terms]
    value = np.array([
        part if row is None else row.value
        for row, part in zip(rows, finding.value.tolist(), strict=True)
    ])  # fmt: skip
    if finding.terms == TILTS and case.own_lean:
        value = finding.value
    seen = Seen(
        terms=finding.terms,
        value=value,
        low=size.low,
        high=size.high,
        after_line=case.slip_after_line,
        aligned=case.mount.lean_is_hidden,
        together=case.together if finding.terms == ("azimuth_index",) else None,
        apart=case.own_lean,
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
    return f". Or it is {join(list(dict.fromkeys(others)), 'or')}: these stars cannot quite tell"


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
