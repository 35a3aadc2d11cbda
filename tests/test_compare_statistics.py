"""What comparing nights promises, on some tens of seasons; `bench/compare_figures.py` takes more.

Tolerances: about three standard errors of so many seasons below what is promised.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from bench import compare_figures as figures
from bench.figures import over_nights

from pointmodel.mount.terms import STANDARD_NAMES

SEASONS = 24


def outcomes(name: str) -> list[figures.Outcome]:
    return over_nights(partial(figures.one_season, figures.PLANS[name]), SEASONS)


@pytest.mark.parametrize(
    ("name", "most_held"), [("tripod, nothing changed", 0.985), ("pier, six nights", 0.998)]
)
def test_kinds_are_found_and_no_change_that_is_not_there(name: str, most_held: float) -> None:
    """On a pier nights are more alike than is assumed of any: intervals there are a little wide."""
    found = outcomes(name)
    right = figures.wanted_kinds(figures.PLANS[name])
    for term in STANDARD_NAMES:
        assert np.mean([one.kinds[term] == right[term] for one in found]) >= 0.90
    assert sum(len(one.changes) for one in found) <= 2
    assert 0.90 <= np.mean([one.held for one in found]) <= most_held


def test_a_step_of_the_tube_is_seen_and_dated() -> None:
    found = outcomes("tripod, 10′ of collimation")
    assert np.mean([one.dated() for one in found]) >= 0.90
    assert 0.90 <= np.mean([one.held for one in found]) <= 0.985


@pytest.mark.parametrize("term", figures.TUBE)
def test_with_24_pairs_a_night_a_step_is_mostly_laid_on_the_right_term(term: str) -> None:
    found = outcomes(f"24 pairs, 10′ of {term.replace('non_perp', 'non-perp')}")
    assert np.mean([any(c.term == term for c in one.changes) for one in found]) >= 0.70
