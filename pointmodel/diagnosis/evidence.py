"""The evidence for each cause, in sentences that need no training; figures with their units.

Read `causes.py` for the verdicts. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.compass import COMPASS
from pointmodel.base.figures import figure
from pointmodel.base.times import HOUR_ANGLE_ARCMIN_PER_MINUTE
from pointmodel.base.wording import join
from pointmodel.estimate.results import SetAside
from pointmodel.estimate.sparse import Finding
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.mount.terms import TERMS
from pointmodel.reading.mountfile import MountFile

if TYPE_CHECKING:
    from pointmodel.diagnosis.skyevidence import SkyEvidence

LIKELY_ABOVE, POSSIBLE_ABOVE = 0.8, 0.05
OPEN_BEYOND = 5.0


@dataclass(frozen=True)
class Case:
    """All that the causes are drawn from: findings of the sparse layer, noise, pairs, forecasts.

    `loose_probability` is that of a noise above 4′ an axis. `reach_arcmin` says by name how large
    each of the six terms could still be, by the dense posterior: what these stars leave open. `sky`
    is what names, times and place add, where the log has them; `alignment` says how good the stars
    of an alignment were.
    """

    findings: tuple[Finding, ...]
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
    true_places: bool = False  # an almanac's commanded places, beside what the axes read

    @property
    def clock_cleared(self) -> bool:
        """Whether date, time and place are known to be right."""
        agrees = self.sky is not None and self.sky.verdict == "agrees"
        return agrees or self.true_places or self.mount.clock_cleared_by is not None


def certainty_words(probability: float) -> str:
    """Return how sure a cause is, never a bare 100 %."""
    if probability > 0.99:
        return "over 99 % sure"
    return f"{100.0 * probability:.0f} % sure"


def ruled_out_words(finding: Finding, case: Case) -> str:
    """Return what size of a fault is ruled out, and what could hide it."""
    term = TERMS[finding.terms[0]]
    if term.unit == "1":
        return "neither left out nor applied twice"
    text = f"not more than {limit_words(finding)}"
    mixed = term.name in ("collimation", "non_perpendicularity", "azimuth_index")
    if case.inseparable and mixed:
        text += ", unless azimuth zero, collimation and non-perpendicularity hide one another"
    return text


def open_arcmin(finding: Finding, case: Case) -> float | None:
    """Return how large a fault could pass unseen, where that is far more than what matters."""
    reach = [case.reach_arcmin[name] for name in finding.terms if name in case.reach_arcmin]
    size = float(np.hypot.reduce(reach)) if reach else 0.0
    return size if size > OPEN_BEYOND * TERMS[finding.terms[0]].matters else None


def limit_words(finding: Finding) -> str:
    """Return the size that 95 % of all models keep below."""
    unit = TERMS[finding.terms[0]].unit
    size = max(finding.limit, 0.1)
    suffix = {"arcmin": "′", "arcmin/h": "′ an hour", "arcmin/deg": "′ a degree"}[unit]
    return f"{figure(size, 2 if unit == 'arcmin/deg' else 1 if size < 10 else 0)}{suffix}"


def _amount(finding: Finding, index: int = 0) -> str:
    """Return the size of a term with its 95 % range, sign left to the words."""
    value, sd = abs(float(finding.value[index])), float(finding.sd[index])
    low, high = max(value - 1.96 * sd, 0.0), value + 1.96 * sd
    places = 2 if value < 1 else 1 if value < 10 else 0
    return f"{figure(value, places)}′ ({figure(low, places)}′ to {figure(high, places)}′)"


def evidence_words(finding: Finding, case: Case) -> str:
    """Return what the stars show of this fault, with its size and 95 % range."""
    name, value = finding.terms[0], float(finding.value[0])
    high = value > 0
    if name in ("azimuth_index", "altitude_index"):
        axis = name.split("_")[0]
        return (
            f"at every star the {axis} readout is {'high' if high else 'low'} by {_amount(finding)}"
        )
    if name == "tilt_north":
        return _lean_words(finding, case)
    if name == "collimation":
        side = "left" if high else "right"
        return (
            f"the line of sight points {side} of square by {_amount(finding)}: the azimuth error "
            "grows toward the zenith"
        )
    if name == "non_perpendicularity":
        side = "right" if high else "left"
        return f"the altitude axis stands {_amount(finding)} high at its {side}-hand end"
    if name == "tube_flexure":
        how = "hangs low" if high else "rides high"
        return (
            f"near the horizon the tube {how} by {_amount(finding)}, and less the higher it points"
        )
    if name == "refraction":
        how = "leaves refraction out" if high else "applies refraction twice"
        return (
            f"low stars stand as far off as if the controller {how}: {figure(abs(value), 1)} times"
        )
    return _further_words(finding, case)


def _further_words(finding: Finding, case: Case) -> str:
    name, value = finding.terms[0], float(finding.value[0])
    axis = name.split("_")[0]
    if name.endswith("_scale"):
        return (
            f"the {axis} readout counts {'too much' if value > 0 else 'too little'}: "
            f"{figure(abs(value) / 0.6, 2)} % ({figure(abs(value) * 60.0, 0)}′ in 60°)"
        )
    if "eccentricity" in name:
        size = float(np.hypot.reduce(finding.value))
        return f"the azimuth error swings by {figure(size, 0)}′ either way once a turn"
    if name.endswith("_backlash"):
        one, other = ("clockwise", "counter-clockwise") if axis == "azimuth" else ("up", "down")
        return f"centrings that ended {one} and {other} differ by {_amount(finding)} in {axis}"
    if name.endswith("_drift"):
        return (
            f"the {axis} readout creeps {'up' if value > 0 else 'down'} by "
            f"{figure(abs(value), 1)}′ an hour"
        )
    by_name = dict(zip(finding.terms, finding.value, strict=True))
    after = f"after line {case.slip_after_line}" if case.slip_after_line else "at some line"
    jumps = [f"{name.split('_')[0]} by {figure(float(jump), 1)}′" for name, jump in by_name.items()]
    return f"{after} the readout jumps: {join(jumps)}"


def _lean_words(finding: Finding, case: Case) -> str:
    north, east = (float(part) for part in finding.value)
    size = np.hypot(north, east)
    sd = float(np.sqrt(finding.sd @ finding.sd / 2.0))
    toward = float(np.degrees(np.arctan2(east, north)) % 360.0)
    word = COMPASS[int(np.floor(toward / 45.0 + 0.5)) % 8]
    places = 1 if size < 10 else 0
    what = "the sky of its alignment" if case.mount.is_aligned else "the azimuth axis"
    low, high = max(size - 1.96 * sd, 0.0), size + 1.96 * sd
    return (
        f"{what} leans {figure(size, places)}′ ({figure(low, places)}′ to {figure(high, places)}′) "
        f"toward the {word} (azimuth {toward:.0f}°)"
    )


LOOK_ALIKE = (
    ("altitude_index", "tube_flexure"),
    ("tube_flexure", "altitude_scale"),
    ("tube_flexure", "refraction"),
    ("azimuth_slip", "azimuth_drift"),
    ("azimuth_slip", "altitude_drift"),
    ("collimation", "non_perpendicularity"),
)


def look_alike_words(finding: Finding, case: Case) -> str:
    """Name what these stars cannot tell from this fault, where that is itself in play."""
    others = []
    for one, other in LOOK_ALIKE:
        for mine, its in ((one, other), (other, one)):
            rival = next((f for f in case.findings if its in f.terms), None)
            if mine in finding.terms and rival is not None:
                in_play = POSSIBLE_ABOVE < rival.probability < LIKELY_ABOVE
                others += [TERMS[its].cause.replace("_", " ")] if in_play else []
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
