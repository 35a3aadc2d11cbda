"""Does the eyepiece stand as it is said to? The taps are held against the mount that they show.

Read `eyepiece.py` and `tapevidence.py` first. Each other way in which it may stand gives other
nudges from the same taps; the way under which the stars tell of one mount is the right one. Said
only where it is sure, as of the other hypotheses about a log (`readings/weigh.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray, IntArray
from pointmodel.base.offsets import before_step_deg, step_on_sky_deg
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.mount.terms import N_STANDARD
from pointmodel.phone.eyepiece import Orientation, nudge_texts, orientation_of, orientation_words
from pointmodel.phone.tapevidence import log_evidences, quick_log_evidences, tap_problem
from pointmodel.reading.columns import ENTRY_ID, NUDGE, TAPPED
from pointmodel.reading.mountfile import TubeSide
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.weigh import TAKEN_UP_ABOVE
from pointmodel.recording.session import Session

FEWEST_TAPS = 5
MOST_PAIRS = 16  # the last ones: enough to be sure, and a turn in the night is not outvoted
FEWEST_SINCE = 3  # taps on either side of a turn in the night
MOST_TRIED = 8
SCREENED_WITHIN = 20.0  # nats, all taps counting as good: twice what other readings of a log have
# of the field an axis, and arcminutes: what is expected of taps, moves by whole fields, go-tos
TAPPED_TO, MOVED_TO, SCATTER_ARCMIN = 0.06, 0.1, 1.0
HOW_HIGH_DEG = 45.0  # at which a way in at the tube's side looks like another; a middle of the sky
NEAR_DEG = 50.0  # turns that are one answer, found a little off
REFINED_DEG = np.arange(-20.0, 21.0, 5.0)
SURE = 0.65  # of one answer among the others, to offer it: a choice
# ln odds against "as told", all choices. Right pressed for left, or up for down, is the commonest
# slip: the picture is then exchanged, or exchanged and upside down; both make it upside down.
LOG_ODDS = {
    (True, 0): -1.5, (True, 180): -1.5, (False, 180): -2.0,
    (False, 90): -3.0, (False, 270): -3.0, (True, 90): -3.5, (True, 270): -3.5,
    **{(exchanged, turn): -4.5 for exchanged in (False, True) for turn in (45, 135, 225, 315)},
}  # fmt: skip
LOG_ODDS_SIDE = -3.5  # it is at the side of the tube, and nobody said so
LOG_ODDS_IN_THE_NIGHT = -2.5  # it was turned after some line: shared over the lines
_SIDES: tuple[TubeSide, ...] = ("back", "left", "right")

DOES_NOT_FIT = "Your taps do not fit how the eyepiece is said to stand."


@dataclass(frozen=True)
class EyepieceDoubt:
    """What is said against the eyepiece as told; `offer` is None where no other is sure.

    `cells` are those that the entries tapped with it would have, by id.
    """

    text: str
    offer: Orientation | None
    cells: dict[str, dict[str, str]]


@dataclass(frozen=True)
class TappedPairs:
    """The last pairs of a log, (n,) each; taps (n, 2) in arcminutes in the eyepiece.

    `moved_arcmin` (n, 2) is how far the tube was moved before a tap, or all of a nudge that was not
    tapped; `by_tap` (n,) says which were, with the eyepiece as it is told now.
    """

    log: NightLog
    stated: Orientation
    field_arcmin: float
    by_tap: BoolArray
    tapped_arcmin: FloatArray
    moved_arcmin: FloatArray
    entry_ids: tuple[str, ...]

    def take(self, which: IntArray) -> TappedPairs:
        """Some of the pairs alone, by place."""
        return TappedPairs(
            log=self.log.select(np.isin(np.arange(len(self.log)), which)),
            stated=self.stated,
            field_arcmin=self.field_arcmin,
            by_tap=self.by_tap[which],
            tapped_arcmin=self.tapped_arcmin[which],
            moved_arcmin=self.moved_arcmin[which],
            entry_ids=tuple(self.entry_ids[k] for k in which.tolist()),
        )

    @property
    def variance(self) -> FloatArray:
        """The noise to be expected of each pair an axis, arcmin²."""
        fields = np.abs(self.moved_arcmin).sum(axis=1) / self.field_arcmin
        moves = np.where(self.by_tap, np.round(fields), 0.0)
        spread = (TAPPED_TO**2 + moves * MOVED_TO**2) * self.field_arcmin**2
        return np.asarray(spread + SCATTER_ARCMIN**2)

    def on_the_sky(self, orientation: Orientation) -> FloatArray:
        """Where the taps stand on the sky (n, 2), right and up; nothing where there was none."""
        matrices = orientation.matrices(self.log.commanded_alt_deg)
        return np.asarray(np.einsum("nji,nj->ni", matrices, self.tapped_arcmin))


@dataclass(frozen=True)
class _Way:
    """One way in which the eyepiece may stand, from a pair on, with its ln odds."""

    orientation: Orientation
    since: int
    log_odds: float


def eyepiece_doubt(session: Session) -> EyepieceDoubt | None:
    """Return what the taps say against the eyepiece as told; None where they do not.

    Raises NotSavedError and RefusedError where the log cannot be read.
    """
    with session.turn:
        pairs = tapped_pairs(session)
        if pairs is None or session.fit is None or int(pairs.by_tap.sum()) < FEWEST_TAPS:
            return None
        terms = session.fit.solution.posterior.mean[:N_STANDARD]
    return doubt_of(pairs, terms)


def doubt_settled(session: Session, shown: Orientation) -> EyepieceDoubt | None:
    """Return what is put right where the eyepiece was shown anew; None where it may stay.

    What was shown must explain the taps before it far better than what was told of them. Raises as
    `eyepiece_doubt` does.
    """
    with session.turn:
        doubt, pairs = eyepiece_doubt(session), tapped_pairs(session)
        if doubt is None or pairs is None or session.fit is None:
            return None
        terms = session.fit.solution.posterior.mean[:N_STANDARD]
    way = _Way(shown, 0, 0.0)
    near, evidence = _weighed(pairs, [_Way(pairs.stated, 0, 0.0), way], terms)
    if len(near) < 2 or evidence[1] - evidence[0] <= TAKEN_UP_ABOVE:
        return None
    return EyepieceDoubt(doubt.text, shown, _cells(pairs, way))


def take_offer(session: Session, doubt: EyepieceDoubt) -> int:
    """Put the lines right that were tapped with the eyepiece as it was told; how many there were.

    Raises NotSavedError, RefusedError and InputError.
    """
    if doubt.offer is None:
        return 0
    with session.turn:
        cells = {**_earlier_cells(session, doubt, doubt.offer), **doubt.cells}
        return session.put_right(cells, "eyepiece", doubt.offer.answers)


def _earlier_cells(
    session: Session, doubt: EyepieceDoubt, offer: Orientation
) -> dict[str, dict[str, str]]:
    """What the entries before the last pairs would have, as far back as what is offered is better.

    Nothing where the eyepiece was right at the first of the last pairs.
    """
    pairs = _all_tapped_pairs(session)
    if pairs is None or session.fit is None:
        return {}
    terms = session.fit.solution.posterior.mean[:N_STANDARD]
    last, *earlier = _stretches(pairs)
    taps = last[pairs.by_tap[last]].tolist()
    if not taps or pairs.entry_ids[taps[0]] not in doubt.cells:
        return {}
    cells: dict[str, dict[str, str]] = {}
    as_told, way = _Way(pairs.stated, 0, 0.0), _Way(offer, 0, 0.0)
    for stretch in earlier:
        part = pairs.take(stretch)
        near, evidence = _weighed(part, [as_told, way], terms)
        if len(near) < 2 or evidence[1] <= evidence[0]:
            break
        cells |= _cells(part, way)
    return cells


def _stretches(pairs: TappedPairs) -> list[IntArray]:
    """The pairs by place in parts that are held against one mount, the last part first."""
    edges = {0, *(event.before_pair for event in pairs.log.events)}
    stretches: list[IntArray] = []
    end = len(pairs.log)
    while end > 0 or not stretches:
        begin = max(end - MOST_PAIRS, *(edge for edge in edges if edge < end or not stretches), 0)
        stretches.append(np.arange(begin, end))
        end = begin
    return stretches


def tapped_pairs(session: Session) -> TappedPairs | None:
    """Return the last pairs of a session's log; None where it holds no taps to be read anew."""
    pairs = _all_tapped_pairs(session)
    return None if pairs is None else pairs.take(_stretches(pairs)[0])


def _all_tapped_pairs(session: Session) -> TappedPairs | None:
    """Return all complete pairs; None where the log holds no taps to be read anew."""
    log, stated = session.log, orientation_of(session.mount.eyepiece)
    if stated is None or not log.nudged or log.mount.alignment.presses == "each_star":
        return None
    log = log.select(log.has_both)
    cells = session.with_this_eyepiece()
    own = [cells.get(int(line), {}) for line in log.line]
    taps = [_arcmin(one.get(TAPPED, "")) for one in own]
    by_tap = np.array([tap is not None for tap in taps], dtype=bool)
    tapped = np.array([tap or (0.0, 0.0) for tap in taps]).reshape(-1, 2) * by_tap[:, None]
    pairs = TappedPairs(
        log=log,
        stated=stated,
        field_arcmin=log.mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN,
        by_tap=by_tap,
        tapped_arcmin=tapped,
        moved_arcmin=np.zeros_like(tapped),
        entry_ids=tuple(one.get(ENTRY_ID, "") for one in own),
    )
    looked = log.centred_az_deg, log.centred_alt_deg
    nudges = step_on_sky_deg(*looked, log.commanded_az_deg, log.commanded_alt_deg)
    moved = 60.0 * np.stack(nudges, axis=1) - pairs.on_the_sky(stated)
    return replace(pairs, moved_arcmin=moved)


def _arcmin(text: str) -> tuple[float, float] | None:
    """Where a star was tapped, as a log keeps it; None for what was written by somebody else."""
    try:
        x, y = (float(part) for part in text.split())
    except ValueError:
        return None
    return (x, y) if np.isfinite([x, y]).all() else None


def doubt_of(pairs: TappedPairs, terms: FloatArray) -> EyepieceDoubt | None:
    """Return what taps say against the eyepiece as told; `terms` (6,) are those fitted so far."""
    ways = [_Way(pairs.stated, 0, 0.0), *_other_ways(pairs)]
    near, evidence = _weighed(pairs, ways, terms)
    others = evidence[1:]
    if not others.size or np.logaddexp.reduce(others) - evidence[0] <= TAKEN_UP_ABOVE:
        return None
    best = near[1 + int(others.argmax())]
    alike = np.array([_is_alike(way, best) for way in near[1:]])
    share = np.exp(np.logaddexp.reduce(others[alike]) - np.logaddexp.reduce(others))
    if share < SURE:
        text = f"{DOES_NOT_FIT} Show it again which way is up: press right, then up."
        return EyepieceDoubt(text, None, {})
    best = _refined(pairs, best, terms)
    return EyepieceDoubt(_words(pairs, best), best.orientation, _cells(pairs, best))


def _other_ways(pairs: TappedPairs) -> Iterator[_Way]:
    """The other ways in which the eyepiece may stand; of some only in a part of the night."""
    stated = pairs.stated
    others = [
        (stated.turned(turn, exchanged), odds) for (exchanged, turn), odds in LOG_ODDS.items()
    ]
    seen = stated.at(HOW_HIGH_DEG)
    sides = [seen.on_side(side, HOW_HIGH_DEG) for side in _SIDES if side != stated.side]
    for orientation, odds in [*others, *((side, LOG_ODDS_SIDE) for side in sides)]:
        yield _Way(orientation, 0, odds)
    taps = np.flatnonzero(pairs.by_tap)
    cuts = taps[FEWEST_SINCE : taps.size - FEWEST_SINCE + 1].tolist()
    for cut in cuts:
        for orientation, odds in others:
            yield _Way(orientation, cut, odds + LOG_ODDS_IN_THE_NIGHT - float(np.log(len(cuts))))


def _weighed(
    pairs: TappedPairs, ways: list[_Way], terms: FloatArray
) -> tuple[list[_Way], FloatArray]:
    """The first way and those that come near it, with ln evidence and odds together."""
    log = pairs.log
    nudges_deg = _nudges_arcmin(pairs, ways) / 60.0
    looked = before_step_deg(
        log.commanded_az_deg, log.commanded_alt_deg, nudges_deg[..., 0], nudges_deg[..., 1]
    )
    possible = np.asarray(np.isfinite(looked[0]).all(axis=1))
    stars = np.radians(np.where(possible[:, None], np.stack(looked), 0.0))
    readings = np.radians(np.stack([log.commanded_az_deg, log.commanded_alt_deg]))
    problem = tap_problem(stars, readings, terms, pairs.variance, pairs.field_arcmin)
    odds = np.array([way.log_odds for way in ways])
    quick = np.where(possible, quick_log_evidences(problem) + odds, -np.inf)
    best = 1 + np.argsort(-quick[1:])[:MOST_TRIED]
    near: IntArray = np.concatenate([[0], best[quick[best] > quick[0] - SCREENED_WITHIN]])
    if near.size == 1:
        return ways[:1], quick[:1]
    return [ways[k] for k in near], log_evidences(problem.take(near)) + odds[near]


def _nudges_arcmin(pairs: TappedPairs, ways: list[_Way]) -> FloatArray:
    """The nudges (h, n, 2) with the eyepiece standing in each of the ways."""
    places = {orientation: k for k, orientation in enumerate({w.orientation: 0 for w in ways})}
    skies = np.stack([pairs.on_the_sky(orientation) for orientation in places])
    seen = skies[[places[way.orientation] for way in ways]]
    turned = np.arange(pairs.by_tap.size) >= np.array([way.since for way in ways])[:, None]
    before = pairs.on_the_sky(pairs.stated)
    return np.asarray(pairs.moved_arcmin + np.where(turned[..., None], seen, before))


def _is_alike(one: _Way, other: _Way) -> bool:
    """Whether two ways are one answer, found a little off."""
    a, b = one.orientation, other.orientation
    apart = abs((a.at(HOW_HIGH_DEG).turn_deg - b.at(HOW_HIGH_DEG).turn_deg + 180.0) % 360.0 - 180.0)
    same = a.mirrored == b.mirrored and a.side == b.side
    return same and apart < NEAR_DEG and (one.since == 0) == (other.since == 0)


def _refined(pairs: TappedPairs, way: _Way, terms: FloatArray) -> _Way:
    """The same with the turn that fits best, in steps of five degrees.

    Where it is exchanged or upside down, the turn is known from the two presses.
    """
    same_side = way.orientation.side == pairs.stated.side
    if same_side and (way.orientation.turn_deg - pairs.stated.turn_deg) % 180.0 == 0.0:
        return way
    ways = [replace(way, orientation=way.orientation.turned(by)) for by in REFINED_DEG.tolist()]
    near, evidence = _weighed(pairs, ways, terms)
    return near[int(evidence.argmax())]


def _cells(pairs: TappedPairs, way: _Way) -> dict[str, dict[str, str]]:
    """The nudges of the entries that were tapped so, by id, as the log writes them."""
    nudges = _nudges_arcmin(pairs, [way])[0]
    changed = pairs.by_tap & (np.arange(pairs.by_tap.size) >= way.since)
    return {
        pairs.entry_ids[k]: dict(
            zip(NUDGE, nudge_texts(nudges[k].tolist(), pairs.field_arcmin), strict=True)
        )
        for k in np.flatnonzero(changed).tolist()
        if pairs.entry_ids[k]
    }


def _words(pairs: TappedPairs, way: _Way) -> str:
    """What is said, and offered, of an eyepiece that stands otherwise."""
    offer, stated = way.orientation, pairs.stated
    if offer.side != stated.side:
        place = {
            "back": "at the back end",
            "left": "on its left side",
            "right": "on its right side",
        }
        seen = f"They do where one looks into the tube {place[offer.side]}, seen from behind it."
    elif offer == stated.turned(0.0, exchanged=True):
        seen = "They do with left and right exchanged in the eyepiece."
    elif offer == stated.turned(180.0):
        seen = "They do with the picture upside down."
    else:
        seen = f"They do with the picture {orientation_words(offer)}."
    if way.since:
        line = int(pairs.log.line[way.since])
        return f"{DOES_NOT_FIT} From line {line} on: {seen} Was the eyepiece turned then?"
    return f"{DOES_NOT_FIT} {seen}"
