"""The terms over the nights on a user's own matplotlib axes.

matplotlib is imported only where something is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.wording import one_of, quoted
from pointmodel.comparing import tables as comparewords
from pointmodel.showing.axes import axes_to_draw_on, entitled, line_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from pointmodel.comparing.compare import CompareResult
    from pointmodel.comparing.results import ComparedTerm

MOST_NAMED_NIGHTS = 12
SIDE_BY_SIDE = 0.5  # of the way to the next night: the bars of the terms stand beside one another


def plot_terms(
    result: CompareResult, ax: Axes | None, terms: Sequence[str] | None, **kwargs: Any
) -> Axes:
    """Draw values and 95 % ranges of terms, night by night; see `CompareResult.plot_terms`."""
    shown = _chosen(result, terms)
    ax = axes_to_draw_on(ax)
    count = len(result.nights)
    aside = np.linspace(-0.5, 0.5, max(len(shown), 2)) * SIDE_BY_SIDE
    for k, term in enumerate(shown):
        limits = np.array([(one.value, one.low, one.high) for one in term.by_night])
        value, low, high = limits.T
        usual = {"marker": "o", "linestyle": "none", "label": comparewords.TITLE[term.name]}
        style = line_style(kwargs, **usual)
        bars = np.stack([value - low, high - value])
        ax.errorbar(np.arange(count) + aside[k], value, yerr=bars, **style)
    _mark_changes(ax, result)
    ax.axhline(0.0, color="0.6", lw=0.8)
    places = np.unique(np.linspace(0, count - 1, min(count, MOST_NAMED_NIGHTS)).round().astype(int))
    names = [result.nights[place].id for place in places]
    ax.set_xticks(places, names, rotation=30, ha="right")
    ax.set_ylabel("arcminutes")
    ax.legend()
    entitled(ax, "The terms, night by night")
    return ax


def _chosen(result: CompareResult, terms: Sequence[str] | None) -> list[ComparedTerm]:
    """The terms by their names; left out: all but those that are set down anyhow each night."""
    if terms is None:
        return [one for one in result.terms if not comparewords.is_anyhow(one.between_night_sd)]
    known = {term.name: term for term in result.terms}
    asked = [terms] if isinstance(terms, str) else list(terms)
    problems = [
        Problem("<terms>", None, None, quoted(name), one_of(list(known)))
        for name in asked
        if name not in known
    ]
    if problems:
        raise InputError(problems)
    return [known[name] for name in asked]


def _mark_changes(ax: Axes, result: CompareResult) -> None:
    """A dashed line between the two nights of each change."""
    ids = [night.id for night in result.nights]
    for change in result.changes:
        middle = 0.5 * (ids.index(change.after) + ids.index(change.before))
        ax.axvline(middle, color="0.6", ls="--")
