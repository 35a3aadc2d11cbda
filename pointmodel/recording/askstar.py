"""Which star: a few letters do, several that begin so are listed, a free name is asked about.

Read `names.py` first. Nothing that is one of the conversation's own words becomes a name.
"""

from __future__ import annotations

from collections.abc import Callable

from pointmodel.base.compass import place_in_words
from pointmodel.recording import names
from pointmodel.recording.conversation import Conversation
from pointmodel.recording.entry import looks_like_figures
from pointmodel.recording.session import Session
from pointmodel.recording.words import BELOW_HORIZON


class StarQuestion:
    """Asks for a star until it is one that may be pointed at, or none is wished for."""

    def __init__(
        self,
        talk: Conversation,
        session: Session,
        clock: Callable[[], float],
    ) -> None:
        """`clock` gives POSIX seconds."""
        self._talk, self._session, self._clock = talk, session, clock

    def ask(self, prompt: str, offered: str | None) -> tuple[str, str]:
        """The star's name, and figures that were typed in its place; either may be empty.

        Raises a turn of the conversation.
        """
        while True:
            typed = self._talk.ask(prompt, offered, names.bright_names())
            if looks_like_figures(typed):
                return "", typed
            if not typed:
                return "", ""
            name, offered = self.understood(typed, offered)
            if name is not None:
                return name, ""

    def understood(self, typed: str, proposed: str | None = None) -> tuple[str | None, str | None]:
        """The star that a text stands for; where there is none, None and what to offer instead.

        Of the `proposed` star it was said already where it stands. Raises a turn of the
        conversation.
        """
        named = names.complete(typed, self._session.mount, self._clock())
        if named.found == "several":
            return self._one_of(named, proposed)
        if named.found == "unknown":
            return self._free(named)
        if not self._may_be_pointed_at(named.name, is_news=named.name != proposed):
            return None, None
        return named.name, None

    def _one_of(
        self, named: names.NamedStar, proposed: str | None
    ) -> tuple[str | None, str | None]:
        """Let one of several be chosen by its number or more letters; the proposed one is first."""
        self._talk.say(f"Several stars begin with {named.name}:")
        choices = list(named.choices)
        if proposed is not None and names.begins_with(proposed, named.name):
            choices = [proposed, *(name for name in choices if name != proposed)]
        for number, name in enumerate(choices, start=1):
            self._talk.say(f"{number}: {name}{self._where(name)}")
        while True:
            typed = self._talk.ask("Type its number, or more letters", "1")
            if typed in (numbers := [str(k) for k in range(1, len(choices) + 1)]):
                return self.understood(choices[numbers.index(typed)])
            if not looks_like_figures(typed):
                return self.understood(typed)
            self._talk.say(f"First choose the star: type 1 to {len(choices)}.")

    def _free(self, named: names.NamedStar) -> tuple[str | None, str | None]:
        """Keep a name that is none of a star only where the person says so."""
        if self._talk.obeyed_instead(named.name):
            return None, None
        offered = named.choices[0] if named.choices else None
        if offered is not None:
            self._talk.say(f"Did you mean {offered}? Then press Enter twice.")
        while True:
            keep = self._talk.agrees("Not a star I know: keep as a free name", usual=False)
            if isinstance(keep, bool):
                return (named.name, None) if keep else (None, offered)
            if not looks_like_figures(keep):
                return self.understood(keep)
            self._talk.say(f"First the name: type y to keep {named.name}, or n.")

    def _where(self, name: str) -> str:
        place = names.overhead(name, self._session.mount, self._clock())
        if place is None:
            return ""
        if place.alt_deg < 0.0:
            return ", below the horizon now"
        return f", {place_in_words(place.az_deg, place.alt_deg)}"

    def _may_be_pointed_at(self, name: str, is_news: bool) -> bool:
        """Say what was understood, where that is news; refuse what stands too near the Sun."""
        now = self._clock()
        place = names.overhead(name, self._session.mount, now)
        if place is not None:
            if objection := self._session.sun_objection(place.az_deg, place.alt_deg, now):
                self._talk.say(f"REFUSED: {name} stands {objection}.", alarm=True)
                return False
            if place.alt_deg < 0.0:
                self._talk.say(f"{name} {BELOW_HORIZON} Type back to change it.", alarm=True)
                return True
        if is_news:
            self._talk.say(f"{name}{self._where(name)}.")
        return True
