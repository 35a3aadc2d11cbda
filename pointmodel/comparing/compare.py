"""`compare`: nights side by side: what is the mount's own, what is new each night, what changed.

Read `comparing/__init__.py` for the way from nights to verdicts. Each night is fitted as the single
fit does it; the comparison weighs what the nights' pairs say, not what the fits assumed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from pointmodel.base.angles import wrapped_index_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.rows import ResultRows
from pointmodel.comparing.blocks import BLOCK_OF_TERM, BLOCKS
from pointmodel.comparing.carry_over import carry_over
from pointmodel.comparing.changes import changes_of
from pointmodel.comparing.evidence import Conclusions, assumptions_of, conclusions, nights_of
from pointmodel.comparing.pooling import noise_of_one_more_night
from pointmodel.comparing.posterior import SeasonPosterior, weigh
from pointmodel.comparing.results import (
    CarryOver,
    Change,
    ComparedNight,
    ComparedTerm,
    Interval,
    Kind,
    NightValue,
)
from pointmodel.comparing.season import (
    in_order,
    named,
    season_notices,
    summaries_of,
    without_copies,
)
from pointmodel.comparing.spread import between_night_sd
from pointmodel.comparing.summary import NightSummary
from pointmodel.comparing.words import habit_words, summary_words
from pointmodel.estimate.posterior import mixture_limits
from pointmodel.estimate.profile import Profile
from pointmodel.mount.priors import EVENS
from pointmodel.mount.terms import N_STANDARD, STANDARD, STANDARD_NAMES
from pointmodel.showing.progress import Progress

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from pointmodel.fitting.result import Fit
    from pointmodel.reading.mountfile import MountSource
    from pointmodel.reading.nightlog import NightLog
    from pointmodel.reading.table import LogSource
    from pointmodel.showing.pages import Scheme

NightSource: TypeAlias = "NightLog | Fit | LogSource"
_AZIMUTH = STANDARD_NAMES.index("azimuth_index")


@dataclass(frozen=True)
class CompareResult:
    """Nights in order, the six terms over them, what changed, and what to expect of one more night.

    `summary` is one sentence, what matters first; `habits` what the nights say of levelling,
    zeroing and centring. `is_aligned`: some logs were made after an alignment, so that zeros and
    tilts are those of alignments. The two tilts are one vector and share kind and spread.
    """

    inputs: tuple[str, ...]
    warnings: tuple[Notice, ...]
    nights: ResultRows[ComparedNight]
    terms: ResultRows[ComparedTerm]
    changes: ResultRows[Change]
    carry_over: tuple[CarryOver, ...]
    profile: Profile
    summary: str
    habits: tuple[str, ...]
    is_aligned: bool

    @property
    def frame(self) -> pd.DataFrame:
        """The terms night by night as a frame, index = term and night."""
        from pointmodel.base.rows import frame_of_rows

        rows = [
            {"term": term.name, "night": night.id, **night.limits, "unit": term.unit}
            for term in self.terms
            for night in term.by_night
        ]
        return frame_of_rows(rows).set_index(["term", "night"])

    def to_dict(self) -> dict[str, Any]:
        """Return the compare document: plain types only, equal to the command's JSON."""
        from pointmodel.comparing.document import compare_document

        return compare_document(self)

    def plot_terms(
        self, ax: Axes | None = None, terms: Sequence[str] | None = None, **kwargs: Any
    ) -> Axes:
        """Draw terms with their 95 % ranges night by night, arcminutes; return the axes.

        `terms` are their names; left out, all but those that are set down anyhow each night. A
        dashed line marks a change. Keyword arguments go to `errorbar`.
        """
        from pointmodel.comparing.plotting import plot_terms

        return plot_terms(self, ax, terms, **kwargs)

    def report(self, path: str | Path, scheme: Scheme = "auto") -> Path:
        """Write the page; returns its path. Replaces only a page of its own making.

        `scheme` is what it opens in: day, dark, red, or auto.
        """
        from pointmodel.comparing.page import write_compare_page

        return write_compare_page(self, Path(path), scheme)

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.comparing.text import compare_text

        return compare_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.comparing.card import compare_card
        from pointmodel.showing.cards import brief

        return brief(compare_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.comparing.card import compare_html

        return compare_html(self)


def compare(
    logs: Iterable[NightSource] | str,
    mount: MountSource = None,
    *,
    workers: int = 1,
    progress: Progress = None,
) -> CompareResult:
    """Compare two nights or more of one mount: logs, paths, frames or fits.

    A text is a path, a folder (every log in it and below) or a pattern such as "2031-*.csv". Nights
    stand in the order of their starts where all are known, else as given. `mount` goes with every
    log; left out, each has the mount file beside it. `workers` processes fit the nights (a script
    that asks for more than one needs the usual `if __name__ == "__main__":`); `progress` is called
    after each; True shows a bar on a terminal too, which a notebook shows by itself (False: none).
    A log that cannot be used is told in the warnings and left out. Raises InputError
    where fewer than two are left.

    >>> import pointmodel as pm
    >>> logs = [pm.simulate(seed=k, pairs=6, terms={"collimation": 9.0}).log for k in range(3)]
    >>> nights = pm.compare(logs)
    >>> nights.terms.frame.set_index("name").loc["collimation", "kind"]
    'mount'
    >>> fit = pm.fit(logs[0], prior=nights.profile)
    """
    given, problems = summaries_of(logs, mount, workers, progress)
    summaries, copies = without_copies(given)
    if len(summaries) < 2:
        found = "one usable night" if summaries else "no usable night"
        if copies:
            found = f"one night {len(given)} times ({copies[0].text})"
        wanted = "two nights of one mount or more"
        raise InputError([*problems, Problem("<compare>", None, None, found, wanted)])
    return _compared(in_order(summaries), problems, copies)


def _compared(
    summaries: Sequence[NightSummary], problems: Sequence[Problem], copies: Sequence[Notice]
) -> CompareResult:
    ids = named(summaries)
    nights = nights_of(summaries)
    weighed = weigh(nights)
    follows = conclusions(nights, assumptions_of(weighed.options, weighed.picks))
    spreads = [between_night_sd(nights, weighed, block) for block in range(len(BLOCKS))]
    shown = tuple(_night(summary, name) for summary, name in zip(summaries, ids, strict=True))
    terms = _terms(weighed, follows, spreads, ids, nights.azimuth_arcmin)
    changes = changes_of(nights, weighed, ids)
    return CompareResult(
        inputs=tuple(dict.fromkeys(path for summary in summaries for path in summary.inputs)),
        warnings=(*copies, *season_notices(summaries, ids, problems)),
        nights=ResultRows.of(ComparedNight, shown),
        terms=ResultRows.of(ComparedTerm, terms),
        changes=ResultRows.of(Change, changes),
        carry_over=carry_over(summaries, ids),
        profile=_profile(weighed, follows, summaries, nights.azimuth_arcmin),
        summary=summary_words(shown, terms, changes),
        habits=habit_words(summaries, terms),
        is_aligned=any(summary.is_aligned for summary in summaries),
    )


def _night(summary: NightSummary, name: str) -> ComparedNight:
    return ComparedNight(
        id=name,
        start=summary.start,
        start_s=summary.start_s,
        pairs=summary.pairs,
        pairs_read=summary.pairs_read,
        sigma_arcmin=summary.sigma_arcmin,
        before_rms_arcmin=summary.before_rms_arcmin,
        behind_turn_rms_arcmin=summary.behind_turn_rms_arcmin,
        after_rms_arcmin=summary.after_rms_arcmin,
    )


def _terms(
    weighed: SeasonPosterior,
    follows: Conclusions,
    spreads: Sequence[Interval],
    ids: Sequence[str],
    azimuth_arcmin: float,
) -> tuple[ComparedTerm, ...]:
    """Return the six terms, each night's value mixed over the best assumptions."""
    weight = weighed.weight
    count, nights = weight.size, len(ids)
    flat_mean, flat_sd = (
        part.reshape(count, nights * N_STANDARD) for part in (follows.night_mean, follows.night_sd)
    )
    low, high = mixture_limits(weight, flat_mean, flat_sd)
    by_night = np.stack([weight @ flat_mean, low, high], axis=-1).reshape(nights, N_STANDARD, 3)
    common = _common(weighed, follows)
    by_night[:, _AZIMUTH] += azimuth_arcmin
    common[_AZIMUTH] += azimuth_arcmin
    found = []
    for place, term in enumerate(STANDARD):
        block = int(BLOCK_OF_TERM[place])
        probability = weighed.kind_probabilities(block)
        likeliest = max(probability, key=lambda kind: probability[kind])
        kind: Kind = likeliest if probability[likeliest] > EVENS else "cannot_tell"
        values = [_turned(row, place) for row in by_night[:, place]]
        found.append(
            ComparedTerm(
                name=term.name,
                unit=term.unit,
                kind=kind,
                kind_probability=probability[likeliest],
                kinds=tuple(probability.items()),
                by_night=tuple(
                    NightValue(name, *row) for name, row in zip(ids, values, strict=True)
                ),
                common=Interval(*_turned(common[place], place)),
                between_night_sd=spreads[block],
            )
        )
    return tuple(found)


def _common(weighed: SeasonPosterior, follows: Conclusions) -> FloatArray:
    """Return value and limits (6, 3) of what the nights share, since the last step."""
    shared = np.hstack([np.eye(N_STANDARD), np.eye(N_STANDARD)])
    mean = follows.common_mean @ shared.T
    variance = np.diagonal(shared @ follows.common_covariance @ shared.T, axis1=1, axis2=2)
    low, high = mixture_limits(weighed.weight, mean, np.sqrt(variance))
    return np.stack([weighed.weight @ mean, low, high], axis=-1)


def _turned(interval: FloatArray, place: int) -> tuple[float, float, float]:
    """Return value and limits, an azimuth index on the turn of (−10800, 10800]."""
    value, low, high = interval.tolist()
    turn = wrapped_index_arcmin(value) - value if place == _AZIMUTH else 0.0
    return value + turn, low + turn, high + turn


def _profile(
    weighed: SeasonPosterior,
    follows: Conclusions,
    summaries: Sequence[NightSummary],
    azimuth_arcmin: float,
) -> Profile:
    """Return what one more night will look like, mixed over the best assumptions."""
    weight = weighed.weight
    mean = weight @ follows.next_mean
    about = follows.next_mean - mean
    covariance = np.tensordot(weight, follows.next_covariance, 1) + (about.T * weight) @ about
    mean[_AZIMUTH] = wrapped_index_arcmin(float(mean[_AZIMUTH]) + azimuth_arcmin)
    return Profile(
        STANDARD_NAMES,
        mean,
        0.5 * (covariance + covariance.T),
        *noise_of_one_more_night(summaries),
        len(summaries),
    )
