"""Which star next: the one that would tell most with where it stands, or that it is enough.

Read `plan.py` first. What to do with the mount is the advice's (`advising/`), not decided here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import gain_words
from pointmodel.planning.choice import DesignProblem, choose
from pointmodel.planning.knowledge import after_fit
from pointmodel.planning.plan import FEWEST_TO_TRUST, gain_of_more, next_star_after

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit
    from pointmodel.reading.mountfile import MountFile

TO_END = "Type quit to end."


@dataclass(frozen=True)
class NextStep:
    """What to do next, in words; `star` is the star to go to, None where none is named.

    `may_stop`: more stars would gain next to nothing.
    """

    text: str = ""
    star: str | None = None
    may_stop: bool = False


NO_STEP = NextStep()


def next_step(fit: Fit, mount: MountFile, time_s: float) -> NextStep:
    """Return the next best star as the sky stands at POSIX seconds, or that one may stop.

    Where the site is unknown, a place on the open sky stands for the star.
    """
    gain = gain_of_more(fit)
    used = len(fit.log) - len(fit.set_aside)
    if used >= FEWEST_TO_TRUST and not gain.is_worth_it:
        gained = gain_words(gain.gained_arcmin)
        told = f"You can stop: two more stars would gain {gained}. {TO_END}"
        return NextStep(told, may_stop=True)
    star = next_star_after(fit, mount, time_s)
    if star is None:
        return NextStep(f"Next: centre a star {_best_place(fit)}.")
    return NextStep(f"Next: {star.target}; {star.how_to_find}.", star.target)


def first_star(mount: MountFile, time_s: float) -> NextStep:
    """Return the star to begin with, at POSIX seconds; nothing where the site is not known."""
    star = next_star_after(None, mount, time_s)
    if star is None:
        return NO_STEP
    return NextStep(f"Begin with {star.target}: {star.how_to_find}.", star.target)


def _best_place(fit: Fit) -> str:
    """Where on the open sky one more star would tell most, in words."""
    known = after_fit(fit)
    design = -known.outlook.corrected.slope
    best = choose(DesignProblem(known, design, np.ones(design.shape[0])), 1)[0]
    az_deg, alt_deg = known.outlook.targets
    return place_in_words(float(az_deg[best]), float(alt_deg[best]))
