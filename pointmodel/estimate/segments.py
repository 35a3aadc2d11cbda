"""A log with events, segment by segment: what each event renews, and what is carried over it.

Read `estimate/carried.py` first. Every event renews both indices; a knock or a re-levelling renews
the lean as well. The tube's own terms stay, so each segment starts from what the earlier ones
learnt of them, much as a night starts from a mount's profile.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import BoolArray
from pointmodel.base.errors import Notice
from pointmodel.base.wording import join, line_list
from pointmodel.estimate.carried import Carried, carried_over
from pointmodel.estimate.observations import Addition, Observations
from pointmodel.estimate.solve import Solution
from pointmodel.mount.events import EVENTS, INDICES
from pointmodel.mount.priors import FRESH_SD_ARCMIN, OVER_AN_EVENT, STILL_ABOUT, STILL_THERE_ODDS
from pointmodel.mount.terms import N_STANDARD, STANDARD_NAMES, TERMS
from pointmodel.reading.nightlog import NightLog


@dataclass(frozen=True, eq=False)
class Segment:
    """The complete pairs between two events, and what happened before them.

    `pressed` are the first pairs after zeroings whose effect is known and taken out of the figures.
    """

    log: NightLog
    events: tuple[str, ...]
    pressed: tuple[int, ...] = ()

    @property
    def lean_is_new(self) -> bool:
        """Whether the lean may differ from that of the segment before."""
        return any(EVENTS[kind].renews_the_lean for kind in self.events)

    @property
    def renewed(self) -> tuple[int, ...]:
        """Places among the six terms of those that may differ from the segment before."""
        names = {*INDICES, *(name for kind in self.events for name in EVENTS[kind].renews)}
        return tuple(place for place, name in enumerate(STANDARD_NAMES) if name in names)


def segments_of(log: NightLog, pressed: BoolArray | None = None) -> tuple[Segment, ...]:
    """Return the segments of a log that hold a complete pair, in order; at least one pair is.

    `pressed` (n,) says after which pairs a zeroing was taken out of the figures.
    """
    pressed = np.zeros(len(log), dtype=bool) if pressed is None else pressed
    in_order = tuple(sorted(log.events, key=lambda event: event.before_pair))
    befores = [event.before_pair for event in in_order]
    starts = sorted({*befores, 0})
    complete, places = log.has_both, np.arange(len(log))
    found: list[Segment] = []
    events: list[str] = []
    for start, end in zip(starts, [*starts[1:], len(log)], strict=True):
        at_start = slice(bisect_left(befores, start), bisect_right(befores, start))
        events += [event.kind for event in in_order[at_start]]
        inside = complete & (places >= start) & (places < end)
        if inside.any():
            after = np.flatnonzero(pressed[inside]) + 1
            known = tuple(place for place in after.tolist() if place < inside.sum())
            # of what happened before and after, one stands for all: each log would hold all else
            near = slice(max(at_start.start - 1, 0), bisect_right(befores, end) + 1)
            one = replace(log, events=in_order[near])
            found.append(Segment(log if inside.all() else one.select(inside), tuple(events), known))
            events = []
    return tuple(found)


def carried_into(segment: Segment, before: Solution) -> Carried:
    """Return what the segment before says of the six terms of this one, and of the noise."""
    fresh = list(segment.renewed)
    posterior = before.posterior
    mean = posterior.mean[:N_STANDARD].copy()
    covariance = posterior.covariance[:N_STANDARD, :N_STANDARD].copy()
    mean[fresh] = 0.0
    covariance[fresh, :] = covariance[:, fresh] = 0.0
    covariance[fresh, fresh] = FRESH_SD_ARCMIN**2
    log_sigma = np.log(posterior.draws_sigma)
    return carried_over(
        mean, covariance, (float(log_sigma.mean()), float(log_sigma.std())), OVER_AN_EVENT
    )


def with_terms_kept(obs: Observations, before: Solution) -> Observations:
    """Return the observations with the tube's further terms expected as the segment before had."""
    kept = {}
    posterior = before.posterior
    sd = np.sqrt(np.diag(posterior.covariance))
    for place in posterior.chosen[N_STANDARD:]:
        column = posterior.columns[place]
        if TERMS[column.name].of_the_tube:
            kept[column] = (float(posterior.mean[place]), float(sd[place]))
    names = {column.name for column in kept}
    additions = [a for a in obs.additions if not names.intersection(a.terms)]
    for index, column in enumerate(obs.columns):
        if column in kept:
            usual = next(a for a in obs.additions if a.columns == (index,))
            mean, width = kept[column]
            spread = float(np.hypot(width, STILL_ABOUT * usual.sd))
            odds = float(np.log(STILL_THERE_ODDS))
            additions.append(Addition((column.name,), (index,), mean, spread, odds))
    return replace(obs, additions=tuple(additions))


def segment_notices(log: NightLog, segments: tuple[Segment, ...]) -> list[Notice]:
    """Return what there is to say of logged events in the log, by the segments that they make."""
    if len(segments) < 2:
        return []
    first = int(segments[-1].log.line[0])
    lines = [event.line for event in log.events if event.before_pair > 0]
    kinds = join(list(dict.fromkeys(kind for s in segments[1:] for kind in s.events)))
    what = kinds.replace("_", " ")
    new = "azimuth zero and altitude zero are new after it"
    if any(segment.lean_is_new for segment in segments[1:]):
        new = "both zeros and the lean are new after it"
    text = (
        f"{what[:1].upper()}{what[1:]} at {line_list(lines)}: {new}. Results are for line {first} "
        "and later ones. The earlier lines still help with the tube"
    )
    return [Notice("segments", text)]
