"""How good a choice the stars of an alignment were, by their names alone.

Two stars near each other, or nearly opposite, fix the turn about the first one badly.
"""

from __future__ import annotations

from itertools import combinations

from pointmodel.base.angles import separation_arcmin
from pointmodel.base.wording import join
from pointmodel.sky.targets import Target, look_up

NEAR_DEG, OPPOSITE_DEG = 30.0, 150.0


def alignment_star_words(names: tuple[str, ...]) -> str | None:
    """Return how far apart the stars stand, and whether that is too near; None for unknown names.

    The names are those of the mount file's [alignment]; planets, which move, are passed over.
    """
    known = [(name, star) for name in names if (star := look_up(name)) and star.ra_deg is not None]
    if len(known) < 2:
        return None
    pairs = [
        (apart_deg(one[1], other[1]), f"{one[0]} and {other[0]}")
        for one, other in combinations(known, 2)
    ]
    # of three or more the controller has the best spaced two
    apart, pair = min(pairs, key=lambda found: abs(found[0] - 90.0))
    text = f"it was aligned on {join([name for name, _ in known])}"
    if len(known) > 2:
        text += f", {pair} the best spaced"
    text += f", {apart:.0f}° apart"
    if NEAR_DEG <= apart <= OPPOSITE_DEG:
        return text
    how = "near each other" if apart < NEAR_DEG else "nearly opposite each other"
    return f"{text}. They stand {how}, so the turn about the first is badly fixed"


def apart_deg(one: Target, other: Target) -> float:
    """Return the angle between two fixed targets, degrees."""
    assert one.ra_deg is not None
    assert other.ra_deg is not None
    places = (one.ra_deg, one.dec_deg, other.ra_deg, other.dec_deg)
    return float(separation_arcmin(*(float(place or 0.0) for place in places))) / 60.0
