"""What so few pairs cannot show, said beside the fit."""

from __future__ import annotations

from pointmodel.base.errors import Notice
from pointmodel.estimate.solve import Solution

FEW_PAIRS, ONE_CAN_BE_BAD = 3, 4


def few_pairs_notices(pairs: int, solution: Solution) -> list[Notice]:
    """Return what there is to say of a log's last part with so few `pairs` read."""
    used = int(solution.candidate.result.hypothesis.good.sum())
    if used <= FEW_PAIRS:
        word = "one pair" if used == 1 else f"{used} pairs"
        text = (
            f"{word} cannot show a wrong star, nor how well you centre. Usual values stand in "
            "for both. Centre at least five stars to be sure"
        )
        return [Notice("few_pairs", text)]
    if pairs == ONE_CAN_BE_BAD:
        text = "four pairs can show that one is bad, but hardly which. Centre one or two more stars"
        return [Notice("few_pairs", text)]
    return []
