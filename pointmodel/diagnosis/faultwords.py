"""What is said of an alignment that went wrong, in whole sentences.

Read `alignmentfault.py` first. Nothing is judged here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.figures import figure
from pointmodel.base.wording import join

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault

ORDINALS = ("first", "second", "third", "fourth", "fifth")


def fault_words(fault: AlignmentFault) -> str:
    """Return what went wrong when the controller was aligned, one sentence."""
    if fault.place is None or fault.off_deg is None:
        az_deg, alt_deg = fault.about_deg
        return (
            f"The alignment is turned by {figure(fault.turned_deg, 1)}° about azimuth "
            f"{figure(az_deg, 0)}°, {figure(alt_deg, 0)}° up. One of its stars was another star or "
            "was badly centred, or the stand was moved after it."
        )
    which = f"The {_ordinal(fault.place)} alignment star"
    off = f"{figure(fault.off_deg, 1)}°"
    if fault.kind == "one_star" and fault.instead:
        another = join(fault.instead, "or")
        return f"{which} was another star ({another}), or {fault.stated} was badly centred."
    if fault.kind in ("badly_centred", "one_star"):
        return f"{which}, {fault.stated}, was badly centred: it was off by about {off} or more."
    if len(fault.instead) == 1:
        return f"{which} was another star: {fault.instead[0]}, {off} from {fault.stated}."
    return f"{which} was not {fault.stated} but another star: {join(fault.instead, 'or')}."


def realign_words(stars: tuple[str, str] | None) -> str:
    """Return what to do about it; `stars` are the two to align on, where they are known by name."""
    if stars is None:
        return "Align again on two stars that you are sure of, and centre both with high power."
    first, second = stars
    return f"Align again on {first}, then {second}, and centre both with high power."


def _ordinal(place: int) -> str:
    return ORDINALS[place] if place < len(ORDINALS) else f"{place + 1}th"
