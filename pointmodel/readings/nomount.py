"""Figures that no mount could have made: nothing is ordered, and that is said first.

Asked last, of the log as it is read and after everything else was weighed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from pointmodel.estimate.solve import Solution
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.limits import too_loose, too_many_bad
from pointmodel.readings.result import ReadingFinding, Readings
from pointmodel.readings.words import no_mount_words

FEWEST_PAIRS = 4  # three pairs are fitted by anything


def with_no_mount(
    readings: Readings, solutions: Sequence[Solution], log: NightLog, explained: Callable[[], bool]
) -> Readings:
    """Return the readings with the finding that no model fits, where that is so.

    `explained`, asked only then, says whether something else is known to be behind it.
    """
    sigma_arcmin = max(float(one.posterior.sigma[0]) for one in solutions)
    loose = any(too_loose(*one.posterior.sigma[:2], mount=log.mount) for one in solutions)
    hopeless = loose or too_many_bad([one.candidate for one in solutions])
    if len(log) < FEWEST_PAIRS or not hopeless or explained():
        return readings
    finding = ReadingFinding(
        finding="fits_no_mount",
        probability=1.0,
        taken_up=False,
        lines=(),
        text=no_mount_words(sigma_arcmin, log.nudged),
    )
    return replace(readings, findings=(*readings.findings, finding), question=None)
