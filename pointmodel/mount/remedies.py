"""The remedies: what each is called, how long it takes by torchlight, which terms it cures.

A forecast is made for each; causes and summary name them, and ask here whether one is worth it.
"""

from __future__ import annotations

from dataclasses import dataclass

USUAL_FIELD_ARCMIN = 40.0  # taken for the eyepiece's field where that is not stated


@dataclass(frozen=True)
class Remedy:
    """One remedy: its code, what to do, how go-to then stands, minutes by torchlight.

    `order` and `once_done` are the words of both; `cures` names the terms that it takes away.
    """

    code: str
    order: str
    once_done: str
    minutes: int
    cures: tuple[str, ...] = ()


REMEDIES = {
    remedy.code: remedy
    for remedy in (
        Remedy(code="none", order="leave it", once_done="as it is now", minutes=0),
        Remedy(
            code="zero_on_star",
            order="zero the mount on one star",
            once_done="zeroed on one star",
            minutes=2,
        ),
        Remedy(
            code="realign",
            order="align afresh on two stars",
            once_done="aligned afresh on two good stars",
            minutes=3,
        ),
        Remedy(
            code="level",
            order="level the base, then zero on a star",
            once_done="levelled, then zeroed on a star",
            minutes=12,
            cures=("tilt_north", "tilt_east"),
        ),
        Remedy(
            code="square_tube",
            order="shim the tube square in its saddle, then zero on a star",
            once_done="tube squared, then zeroed on a star",
            minutes=20,
            cures=("collimation",),
        ),
        Remedy(
            code="apply_corrections",
            order="send it to corrected positions",
            once_done="with these corrections applied",
            minutes=1,
        ),
    )
}
