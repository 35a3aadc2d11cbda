"""The parts of a log solved in turn, and parted further where something happened unlogged.

Read `segments.py` and `moves.py` first. Each part starts from what the one before it learnt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.estimate.carried import Carried
from pointmodel.estimate.moves import Looked, Move, MoveKind, fits_badly, look_for_moves
from pointmodel.estimate.observations import Observations
from pointmodel.estimate.segments import Segment, carried_into, with_terms_kept
from pointmodel.estimate.solve import Solution, solution_of, solve, solve_in_passing
from pointmodel.reading.nightlog import NightLog

MOST_MOVES = 3  # a base that moved more often is no base
IN_PASSING = 2  # pairs between two events: new zeros explain any one pair, and any two nearly


@dataclass(frozen=True)
class Happened:
    """Something that happened to the mount unlogged: after which line (None: all the time).

    `taken_up`: the results are those of the log so parted. `change` is after minus before by term,
    arcminutes; of sinking ground arcminutes an hour. `pairs_after` counts what is left to go by.
    `is_over`: a logged event came later, after which the lean is another one anyway.
    """

    kind: MoveKind
    after_line: int | None
    probability: float
    taken_up: bool
    change: Mapping[str, float]
    pairs_after: int
    is_over: bool = False


@dataclass(frozen=True, eq=False)
class Parts:
    """The segments of a log, each with its solution, and what happened without being logged."""

    segments: tuple[Segment, ...]
    solutions: tuple[Solution, ...]
    happened: tuple[Happened, ...]


def solved_in_turn(
    segments: tuple[Segment, ...],
    first: Carried | None,
    as_observed: Callable[[NightLog], Observations],
) -> Parts:
    """Return the segments solved, the first from what is carried into it, if anything."""
    parts, solutions = list(segments), list[Solution]()
    happened: list[tuple[int, Happened]] = []  # with the place of the part that it begins
    while len(solutions) < len(parts):
        part, before = parts[len(solutions)], solutions[-1] if solutions else None
        obs = as_observed(part.log)
        carried = first if before is None else carried_into(part, before)
        if before is not None:
            obs = with_terms_kept(obs, before)
        optics = part.log.mount.optics
        centring, field = optics.centring_error_arcmin, optics.field_of_view_arcmin
        in_between = before is not None and len(solutions) + 1 < len(parts)
        if in_between and carried is not None and obs.count <= IN_PASSING:
            solutions.append(solve_in_passing(obs, centring, carried, field_arcmin=field))
            continue
        solved = partial(solve, centring_error_arcmin=centring, carried=carried, field_arcmin=field)
        solution = solved(obs)
        looked = Looked()
        few = sum(one.taken_up for _, one in happened) < MOST_MOVES
        if few and (fits_badly(solution) or _slipped_though_zeroed(solution, part)):
            looked = look_for_moves(obs, solution, hours_of(part.log), part.pressed)
        if looked.candidate is not None:
            solution = solution_of(looked.candidate, solution.settings)
        if looked.obs is not None:
            solution = solved(looked.obs)
        if looked.move is not None:
            parts_it = looked.move.taken_up and looked.move.first_after is not None
            begins = len(solutions) + int(parts_it)
            happened.append((begins, _happened(looked.move, part)))
            if parts_it:
                parts[len(solutions) : len(solutions) + 1] = _parted(part, looked.move)
                continue
        solutions.append(solution)
    since = tuple(_with_what_followed(one, parts[place:]) for place, one in happened)
    return Parts(tuple(parts), tuple(solutions), since)


def _with_what_followed(one: Happened, parts: list[Segment]) -> Happened:
    """Return it with the pairs that tell of the mount as it left it; the first part begins with it.

    A zeroing after it leaves the lean as it is, a knock or a re-levelling makes it new.
    """
    if one.after_line is None or not one.taken_up:
        return one
    ends = [place for place, part in enumerate(parts) if place and part.lean_is_new]
    lasting = parts[: ends[0]] if ends else parts
    return replace(one, pairs_after=sum(len(part.log) for part in lasting), is_over=bool(ends))


def _slipped_though_zeroed(solution: Solution, part: Segment) -> bool:
    """Whether a clutch seems to have slipped where a zeroing on another star would do the same."""
    return bool(part.pressed) and solution.observations.slip_at is not None


def hours_of(log: NightLog) -> FloatArray | None:
    """Return hours since the first pair (n,), None where a time is missing."""
    if not np.isfinite(log.time_s).all():
        return None
    return np.asarray((log.time_s - log.time_s[0]) / 3600.0)


def _happened(move: Move, part: Segment) -> Happened:
    first_after = move.first_after
    return Happened(
        kind=move.kind,
        after_line=None if first_after is None else int(part.log.line[first_after - 1]),
        probability=move.probability,
        taken_up=move.taken_up,
        change=move.change,
        pairs_after=len(part.log) - (first_after or 0),
    )


def _parted(part: Segment, move: Move) -> tuple[Segment, Segment]:
    """Return the two parts that a move makes of one."""
    first_after = move.first_after or 0
    places = np.arange(len(part.log))
    earlier = replace(
        part,
        log=part.log.select(places < first_after),
        pressed=tuple(place for place in part.pressed if place < first_after),
    )
    later = Segment(
        log=part.log.select(places >= first_after),
        events=(move.kind,),
        pressed=tuple(place - first_after for place in part.pressed if place > first_after),
    )
    return earlier, later
