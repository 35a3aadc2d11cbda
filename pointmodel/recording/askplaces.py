"""The two places of a pair, or a nudge: asked once the star is centred, held against what is known.

Read `entry.py` first. What was typed before is offered again in brackets.
"""

from __future__ import annotations

from collections.abc import Callable

from pointmodel.base.compass import place_in_words
from pointmodel.reading.places import STALE_S
from pointmodel.recording import names
from pointmodel.recording.askstar import StarQuestion
from pointmodel.recording.conversation import Back, Conversation
from pointmodel.recording.draft import Draft
from pointmodel.recording.entry import (
    EnteredNudge,
    EnteredPlace,
    EntryError,
    is_one_angle,
    looks_like_figures,
    names_a_way,
    parse_nudge,
    parse_place,
    take_motions,
    take_ways,
)
from pointmodel.recording.session import Session

FAR_DEG = 10.0  # a choice: few mounts are set down with an altitude so wrong
FARTHEST_PLAIN_NUDGE = 120.0  # arcminutes: a choice; whoever goes farther says which way
ELSEWHERE_DEG = 3.0  # a choice: so far a clock is wrong by a quarter of an hour
ASKED_IN_VAIN = 2  # so often kept against the question, a star's place is not doubted again
HOLDS_CENTRED = (
    "This log holds what the mount reads with the star centred. Type that azimuth and altitude. "
    "For nudges begin another log."
)
HOLDS_COMMANDED = "This log holds the controller's places. Type azimuth and altitude."
NONE_SHOWN = "none"
COMMANDED = "The controller says (azimuth altitude)"
SECOND = {
    "centred": "The mount reads (azimuth altitude)",
    "seen": "The camera sees (azimuth altitude)",
    "nudge": "You moved the tube (12r 5u: right and up)",
}


class PlaceQuestions:
    """Asks for the commanded place, then for the second place of the log or a nudge."""

    def __init__(
        self,
        talk: Conversation,
        session: Session,
        stars: StarQuestion,
        clock: Callable[[], float],
    ) -> None:
        """`clock` gives POSIX seconds."""
        self._talk, self._session, self._stars, self._clock = talk, session, stars, clock
        self._kept_elsewhere = 0

    def commanded(self, draft: Draft, ahead: str = "") -> EnteredPlace | None:
        """The place that the controller has for the star; None where it shows none.

        `ahead` was typed before the question. Raises a turn of the conversation.
        """
        while True:
            typed, ahead = ahead or self._talk.ask(COMMANDED, draft.commanded), ""
            if typed.lower() == NONE_SHOWN:
                if self._can_do_without(draft):
                    draft.commanded, draft.commanded_s = NONE_SHOWN, None
                    return None
                continue
            place = self._place(typed, draft)
            if place is None:
                continue
            draft.note_commanded(place.offered, self._clock())
            at_s = draft.time_s or draft.commanded_s or self._clock()
            if objection := self._session.sun_objection(place.az_deg, place.alt_deg, at_s):
                self._talk.say(f"REFUSED: that is {objection}.", alarm=True)
                draft.commanded = None
                continue
            ahead = self._doubted(draft, place, at_s)
            if not ahead:
                return place

    def second(self, draft: Draft, commanded: EnteredPlace | None) -> EnteredPlace | EnteredNudge:
        """The second place of the pair, or the nudge. Raises a turn of the conversation."""
        name, offered = self._session.file.layout.second, draft.centred
        if commanded is None and self._session.may_choose_columns:
            name = "nudge"  # who sees no place of the star seldom sees one of the mount
        if commanded is not None:
            self._talk.say(f"Sent to {commanded}.")
        prompt = SECOND[name]
        while True:
            typed = self._talk.ask(prompt, offered)
            found = self._second(typed, name, draft)
            if found is None:
                continue
            again = self._if_far(found, commanded, typed, offered)
            if again is None:
                return found
            offered = again

    def as_of_the_centring(
        self, draft: Draft, commanded: EnteredPlace, second: EnteredPlace | EnteredNudge
    ) -> EnteredPlace:
        """The commanded place to keep, where it may be older than the centring.

        Where site and star are known its moment goes into the log, and the reader carries it on as
        the sky turns; else it is asked anew. Raises a turn of the conversation.
        """
        mount = self._session.mount
        if draft.age_s(second, self._clock(), mount) <= STALE_S:
            return commanded
        site = mount.site
        if site is not None and site.latitude_deg is not None and names.knows(draft.star or ""):
            draft.dated = True
            return commanded
        draft.dated = False
        self._talk.say("The sky has turned since you typed the controller's place.")
        while True:
            typed = self._talk.ask("Now it says (azimuth altitude)", commanded.offered)
            place = self._place(typed, draft)
            if place is not None:
                return place

    def _place(self, typed: str, draft: Draft) -> EnteredPlace | None:
        """Read a place, or say why it is none; last motions go into the draft."""
        if not typed:
            self._talk.say("Type two angles, such as 123 45 41 30. Or type back.")
            return None
        text, motions = take_motions(typed)
        if is_one_angle(text):
            text = f"{text}; {self._talk.ask('... and the altitude')}"
        try:
            place = parse_place(text)
        except EntryError as error:
            self._say_why_not(typed, error)
            return None
        draft.further.update(motions)
        return place

    def _say_why_not(self, typed: str, error: EntryError) -> None:
        """Say what would be right, unless it was a slip of a word. Raises a turn."""
        if self._talk.obeyed_instead(typed):
            return
        told = f"Not understood: {error}."
        if names.complete(typed, self._session.mount, self._clock()).found != "unknown":
            told += " To change the star, type back."
        self._talk.say(told, alarm=True)

    def _second(self, typed: str, name: str, draft: Draft) -> EnteredPlace | EnteredNudge | None:
        """Read the second place or a nudge, whichever the log is for, or say what is wrong."""
        may_choose = self._session.may_choose_columns
        if names_a_way(typed) and name != "nudge" and not may_choose:
            self._talk.say(HOLDS_CENTRED, alarm=True)
            return None
        if names_a_way(typed) or (name == "nudge" and not (may_choose and _is_place(typed))):
            return self._nudge(typed, draft)
        return self._place(typed, draft)

    def _nudge(self, typed: str, draft: Draft) -> EnteredNudge | None:
        steps, rest = take_ways(typed) if names_a_way(typed) else (typed, "")
        field_arcmin = self._session.mount.optics.field_of_view_arcmin
        try:
            nudge = parse_nudge(steps, field_arcmin)
        except EntryError as error:
            self._say_why_not(typed, error)
            return None
        draft.further.update(take_motions(rest)[1])
        return nudge

    def _if_far(
        self,
        found: EnteredPlace | EnteredNudge,
        commanded: EnteredPlace | None,
        typed: str,
        offered: str | None,
    ) -> str | None:
        """What to offer where a place is far from the commanded one; None where it is not.

        The same typed or taken again is meant so. Two small figures are probably a nudge.
        """
        if commanded is None or isinstance(found, EnteredNudge) or typed == offered:
            return None
        if abs(found.alt_deg - commanded.alt_deg) <= FAR_DEG:
            return None
        self._talk.say(
            f"That reads as azimuth and altitude {found}. It is far from {commanded}.",
            alarm=True,
        )
        if not self._session.may_choose_columns:
            return found.offered
        if _is_place(typed):
            return found.offered
        nudge = parse_nudge(typed, None)
        self._talk.say(f"If it is how far you moved the tube, {nudge}, press Enter.")
        return nudge.with_ways

    def _can_do_without(self, draft: Draft) -> bool:
        """Whether the star's own place can stand for the commanded one."""
        if not self._session.may_choose_columns:
            told = HOLDS_COMMANDED
        elif self._session.mount.place_deg is None:
            told = (
                "Then the site must be known: latitude and longitude under [site] in mount.toml. "
                "Without it type azimuth and altitude here."
            )
        elif not names.knows(draft.star or ""):
            told = "Then the star must be one that I know. Type back and name it."
        else:
            return True
        self._talk.say(told, alarm=True)
        return False

    def _doubted(self, draft: Draft, place: EnteredPlace, at_s: float) -> str:
        """Ask where the named star stands nowhere near; figures typed then are returned.

        A name typed then is the star's. Raises a turn of the conversation.
        """
        mount = self._session.mount
        there = names.overhead(draft.star or "", mount, at_s, self._session.belief)
        if there is None or self._kept_elsewhere >= ASKED_IN_VAIN or mount.log.figures is not None:
            return ""
        apart = names.apart_deg(there, place.az_deg, place.alt_deg)
        near = names.star_near(place.az_deg, place.alt_deg, mount, at_s)
        if apart <= ELSEWHERE_DEG and not (near and near[1] < 0.2 * apart and apart > 1.0):
            return ""
        where = (
            "below the horizon"
            if there.alt_deg < 0.0
            else place_in_words(there.az_deg, there.alt_deg)
        )
        told = f"{draft.star} stands {where}, {apart:.0f}° from the place you typed."
        if near is not None:
            told += f" {near[0]} stands close to that place."
        self._talk.say(told, alarm=True)
        offered = draft.star if near is None else near[0]
        typed = self._talk.ask("Which star is it (or type the place again)", offered)
        if looks_like_figures(typed):
            return typed
        name = typed if typed == draft.star else self._stars.understood(typed, draft.star)[0]
        if name is None:
            raise Back
        self._kept_elsewhere += int(name == draft.star)
        draft.star = name
        return ""


def _is_place(typed: str) -> bool:
    """Whether a text can only be a place."""
    try:
        nudge = parse_nudge(typed, None)
    except EntryError:
        return True
    return max(abs(nudge.right_arcmin), abs(nudge.up_arcmin)) > FARTHEST_PLAIN_NUDGE
