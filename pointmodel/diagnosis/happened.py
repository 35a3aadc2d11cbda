"""What happened during the log and nobody wrote down, in words: a knock, soft ground.

Read `estimate/moves.py` first. Nothing is judged here; how sure it is stands with the finding.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from pointmodel.base.errors import Notice
from pointmodel.base.figures import miss_words
from pointmodel.base.wording import join
from pointmodel.diagnosis.evidence import certainty_words
from pointmodel.estimate.inturn import Happened
from pointmodel.mount.terms import SINKING, TERMS

AGAIN = "; then log again"
STEADY = (
    "steady the base: tighten the leg clamps and the head, and keep feet and cables away from the "
    f"legs{AGAIN}"
)
TIGHTEN = f"tighten the tube in its saddle and both clutches{AGAIN}"
BOARD = f"put a board under each foot, wait five minutes{AGAIN}"
REMEDIES_BY_KIND = {"moved": STEADY, "tube_shifted": TIGHTEN, "sinking": BOARD}
TILTS, DRIFTS = ("tilt_north", "tilt_east"), tuple(term.name for term in SINKING)


def of_the_mount(happened: Sequence[Happened]) -> list[Happened]:
    """Return what happened to the mount itself: all but zeroings on another star."""
    return [one for one in happened if one.kind in REMEDIES_BY_KIND]


def order_of(one: Happened) -> str:
    """Return what to do about it; the log is begun again only where it stands as it left it."""
    order = REMEDIES_BY_KIND[one.kind]
    return order.removesuffix(AGAIN) if one.is_over else order


def what_happened(one: Happened) -> str:
    """Return it as the beginning of a sentence: `something moved after line 12`."""
    if one.kind == "sinking":
        return "the ground gives way under the feet"
    what = "the tube slid in its saddle" if one.kind == "tube_shifted" else "something moved"
    return f"{what} after line {one.after_line}"


def happened_evidence(one: Happened) -> str:
    """Return what the stars show of it, how sure that is, and which part of the log counts."""
    found = f"{what_happened(one)}: {_changed(one)} ({certainty_words(one.probability)})"
    if not one.taken_up:
        return f"perhaps {found}. The results are those of a mount that stood still"
    if one.kind == "sinking":
        return f"{found}. Results are for the end of the log"
    if one.is_over:
        return f"{found}. Results are for the log after a later event"
    pairs = f"the {one.pairs_after} pairs" if one.pairs_after > 1 else "the one pair"
    return f"{found}. Results are for {pairs} after it"


def _changed(one: Happened) -> str:
    if one.kind == "sinking":
        return f"the lean of the base changes by {miss_words(_length(one.change, DRIFTS))} an hour"
    if one.kind == "moved":
        first = f"the lean changed by {miss_words(_length(one.change, TILTS))}"
    else:
        first = f"the collimation changed by {miss_words(abs(one.change['collimation']))}"
    more = [
        f"the {name.split('_')[0]} zero by {miss_words(abs(one.change[name]))}"
        for name in ("azimuth_index", "altitude_index")
        if abs(one.change[name]) > TERMS[name].matters
    ]
    return join([first, *more])


def _length(change: Mapping[str, float], names: tuple[str, ...]) -> float:
    return float(np.hypot.reduce([change.get(name, 0.0) for name in names]))


def happened_notices(happened: Sequence[Happened]) -> list[Notice]:
    """Return what there is to say of zeroings that were not on the star of the line above."""
    return [
        Notice(
            "zeroed_elsewhere",
            f"the zeroing after line {one.after_line} was not on the star of that line "
            f"({certainty_words(one.probability)}). The lines after it have zeros of their own. "
            "Write in its note on which star it was",
        )
        for one in happened
        if one.kind == "zeroed_elsewhere" and one.taken_up
    ]
