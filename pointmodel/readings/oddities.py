"""Logs that no mount could have made: mirrored, swapped, or counted from another side.

Only a fit that came out hopeless is asked; then each misreading of the figures is undone in turn,
and one that fits far better is named. Nothing is corrected silently.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.errors import Notice
from pointmodel.estimate.evaluation import settings_for
from pointmodel.estimate.observations import Observations
from pointmodel.estimate.search import Candidate
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.starts import best_candidates
from pointmodel.reading.nightlog import NightLog

HOPELESS_SIGMA_ARCMIN = 8.0
HOPELESS_SHARE_BAD = 0.3
LARGE_TERM_ARCMIN = 90.0
FEWEST_PAIRS = 4
FEWEST_TO_SWAP = 6
CLEARLY_BETTER_NATS = 10.0
MOST_PAIRS_ASKED = 200


@dataclass(frozen=True)
class Misreading:
    """One way in which a whole column can be misread, and how it is undone."""

    code: str
    text: str
    undo: Callable[[NightLog], NightLog]


def _zenith_distance(alt_deg: np.ndarray) -> np.ndarray:
    return np.asarray(90.0 - alt_deg)


def _swap_columns(log: NightLog, side: str) -> NightLog:
    az, alt = getattr(log, f"{side}_az_deg"), getattr(log, f"{side}_alt_deg")
    return replace(log, **{f"{side}_az_deg": np.mod(alt, 360.0), f"{side}_alt_deg": az})


MISREADINGS: tuple[Misreading, ...] = (
    Misreading(
        "azimuth_mirrored",
        "the log fits far better if one azimuth column counts anticlockwise (from north through "
        "west): turn it round (360° minus the figure) and fit again",
        lambda log: replace(log, centred_az_deg=np.mod(-log.centred_az_deg, 360.0)),
    ),
    Misreading(
        "zenith_distance",
        "the log fits far better if one altitude column counts from the zenith: enter 90° minus "
        "the figure and fit again",
        lambda log: replace(log, centred_alt_deg=_zenith_distance(log.centred_alt_deg)),
    ),
    Misreading(
        "columns_swapped",
        "the log fits far better with centred azimuth and altitude exchanged in every line: check "
        "the header of the log",
        lambda log: _swap_columns(log, "centred"),
    ),
    Misreading(
        "columns_swapped",
        "the log fits far better with commanded azimuth and altitude exchanged in every line: "
        "check the header of the log",
        lambda log: _swap_columns(log, "commanded"),
    ),
)

SIDES_SWAPPED = Misreading(
    "sides_swapped",
    "the log fits better with commanded and centred exchanged in every line: check which is which",
    lambda log: replace(
        log,
        commanded_az_deg=log.centred_az_deg,
        commanded_alt_deg=log.centred_alt_deg,
        centred_az_deg=log.commanded_az_deg,
        centred_alt_deg=log.commanded_alt_deg,
    ),
)


def oddities(
    log: NightLog, solution: Solution, as_observed: Callable[[NightLog], Observations]
) -> list[Notice]:
    """Return what a whole-log misreading of the figures would explain, most telling first."""
    notices = _few_pairs(log, solution)
    if len(log) >= FEWEST_PAIRS and _hopeless(log, solution):
        explained = _explanation(log, solution, as_observed, MISREADINGS)
        notices.append(explained or Notice("hopeless", _HOPELESS))
    elif len(log) >= FEWEST_TO_SWAP and _large(solution):
        swapped = _explanation(log, solution, as_observed, (SIDES_SWAPPED,))
        notices.extend([swapped] if swapped else [])
    if _from_south(solution):
        notices.append(Notice("azimuth_from_south", _FROM_SOUTH))
    return notices


_HOPELESS = (
    "no pointing model fits these pairs: were several stars mistaken, the columns misread, or the "
    "base moved all the time?"
)
_FROM_SOUTH = (
    "the azimuth index is within 2° of half a turn: does one of the two azimuth columns count from "
    "south? The fit allows for it; the directions of the lean are those of `commanded`"
)


def _few_pairs(log: NightLog, solution: Solution) -> list[Notice]:
    used = int(solution.candidate.result.hypothesis.good.sum())
    if used <= 3:
        word = "one pair" if used == 1 else f"{used} pairs"
        text = (
            f"{word} cannot show the noise or a wrong star: both are taken on experience; "
            "centre more stars, at least five, to be sure"
        )
        return [Notice("few_pairs", text)]
    if len(log) == 4:
        text = "four pairs can show that one is bad, but hardly which: centre one or two more stars"
        return [Notice("few_pairs", text)]
    return []


def _hopeless(log: NightLog, solution: Solution) -> bool:
    good = solution.candidate.result.hypothesis.good
    loose = solution.posterior.sigma[0] > HOPELESS_SIGMA_ARCMIN
    return bool(loose or np.mean(~good) > HOPELESS_SHARE_BAD)


def _large(solution: Solution) -> bool:
    return bool(np.abs(solution.posterior.mean[1:6]).max() > LARGE_TERM_ARCMIN)


def _from_south(solution: Solution) -> bool:
    index_deg = solution.posterior.mean[0] / 60.0
    return bool(abs(abs((index_deg + 180.0) % 360.0 - 180.0) - 180.0) < 2.0)


def _explanation(
    log: NightLog,
    solution: Solution,
    as_observed: Callable[[NightLog], Observations],
    misreadings: tuple[Misreading, ...],
) -> Notice | None:
    asked = log
    before = solution.candidate
    if len(log) > MOST_PAIRS_ASKED:
        asked = log.select(np.arange(len(log)) % (len(log) // MOST_PAIRS_ASKED) == 0)
        before = _candidate(asked, as_observed)
    found = []
    for misreading in misreadings:
        undone = misreading.undo(asked)
        if np.abs(undone.star_alt_deg).max() > 90 or np.abs(undone.reading_alt_deg).max() > 90:
            continue
        gain = _candidate(undone, as_observed).log_total - before.log_total
        found.append((gain, misreading))
    gain, best = max(found, key=lambda pair: pair[0], default=(0.0, None))
    if best is None or gain < CLEARLY_BETTER_NATS:
        return None
    return Notice(best.code, best.text)


def _candidate(log: NightLog, as_observed: Callable[[NightLog], Observations]) -> Candidate:
    obs = as_observed(log)
    return best_candidates(obs, settings_for(log.mount.optics.centring_error_arcmin, obs))[0]
