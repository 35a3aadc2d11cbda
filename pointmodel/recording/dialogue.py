"""The conversation at the telescope: star, both places once it is centred, the line that matters.

Read `session.py` first, then `conversation.py`, `askstar.py` and `askplaces.py`. What was typed for
a pair that is not finished is offered again, so that a slip costs no more than the figure it was
made in.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from pointmodel.base.errors import InputError, Problem
from pointmodel.reading.columns import COMMANDED
from pointmodel.readings.logged import PRESS
from pointmodel.recording.answers import Answers
from pointmodel.recording.askcontroller import ControllerQuestions
from pointmodel.recording.askplaces import NONE_SHOWN, PlaceQuestions
from pointmodel.recording.askstar import StarQuestion
from pointmodel.recording.conversation import (
    Back,
    Conversation,
    Leave,
    StartOver,
)
from pointmodel.recording.draft import Entered, InHand
from pointmodel.recording.entry import EnteredNudge, EnteredPlace
from pointmodel.recording.firstpair import suit_columns
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.obeyed import Obeyed
from pointmodel.recording.remark import complete_pairs
from pointmodel.recording.session import RefusedError, Session
from pointmodel.recording.terminal import Terminal
from pointmodel.recording.words import (
    FIRST_QUESTION,
    LEAVING,
    NO_COMMANDED,
    NO_READOUT,
    RECENTRE,
    opening_words,
)
from pointmodel.sky.sunguard import sun_notices

EQUATORIAL_WANTED = (
    "columns commanded_az and commanded_alt, with centred_az and centred_alt or with nudge_right "
    "and nudge_up: those are asked for here. Another file name starts such a log; programs use "
    "--pipe"
)


COLUMNS_CHOSEN = (
    "Meanwhile the first pair came from the phone, and this log now holds what that one does. Type "
    "this pair again."
)


class Dialogue:
    """Asks for pairs until the person has enough; `clock` gives POSIX seconds."""

    def __init__(
        self, session: Session, terminal: Terminal, clock: Callable[[], float] = time.time
    ) -> None:
        """Nothing is asked before `run`."""
        self._session, self._terminal, self._clock = session, terminal, clock
        self._hand = InHand()
        obeyed = Obeyed(session, self._hand, clock)
        self._talk = Conversation(terminal, obeyed.obey)
        self._answers = Answers(self._talk, session, clock)
        obeyed.speak_with(self._talk, self._answers)
        self._stars = StarQuestion(self._talk, session, clock)
        self._places = PlaceQuestions(self._talk, session, self._stars, clock)
        self._star_asked = ""  # the question that stands, or stood last
        self._shows_none = False  # the controller shows no place, as was said at the last pair

    def run(self) -> bool:
        """Ask until the person leaves; everything accepted is on the disk at any moment.

        False where they did not: the input is at its end. Raises InputError for a log of right
        ascensions: they are not asked for.
        """
        try:
            self._converse()
        except Leave as leave:
            return leave.wished
        except KeyboardInterrupt:
            return True
        raise AssertionError("one leaves")

    def heard(self, text: str, alarm: bool) -> None:
        """Say what came through another door; the next star is the one that was proposed there."""
        last = self._session.last  # other threads change it
        if last is not None:
            self._answers.next_star = last.remark.next.star
        before, self._star_asked = self._star_asked, self._star_prompt
        instead = self._talk.asked_otherwise(before, self._star_asked, self._star_offered)
        self._terminal.interject(text, alarm, instead)

    @property
    def _star_prompt(self) -> str:
        """How the next star is asked for."""
        return f"{complete_pairs(self._session.log) + 1}. Star"

    @property
    def _star_offered(self) -> str | None:
        """The star that Enter takes: the one in hand, else the one that was proposed."""
        star = self._hand.draft.star
        return self._answers.next_star if star is None else star or None

    def _converse(self) -> None:
        """One question after another. Raises Leave, and KeyboardInterrupt before the first."""
        self._open()
        while True:
            try:
                self._hand.is_begun = False
                self._one_pair()
            except StartOver:
                continue
            except KeyboardInterrupt:  # between two questions; within one it is the conversation's
                self._talk.say(LEAVING)

    def _open(self) -> None:
        """Say what there is, and what to beware of."""
        layout, now = self._session.file.layout, self._clock()
        if any(name.endswith(("_ra", "_dec")) for name in layout.positions):
            found = layout.header_line, None, layout.header
            raise InputError([Problem(self._session.name, *found, EQUATORIAL_WANTED)])
        for told in opening_words(self._session, now):
            self._talk.say(told)
        ControllerQuestions(self._talk, self._session, self._clock).ask()
        for notice in sun_notices(self._session.sun(now)):
            self._talk.say(f"CAUTION: {notice.text}.", alarm=True)
        self._answers.advise(self._session.advice, self._session.next_step(now))

    def _one_pair(self) -> None:
        """One pair from its star to its remark; `back` goes to the question before."""
        ahead, commanded, step = "", None, 0
        last = 2
        while step <= last:
            try:
                if step == 0:
                    ahead = self._ask_star()
                elif step == 1:
                    commanded, ahead = self._ask_commanded(ahead), ""
                else:
                    self._finish(commanded)
                step += 1
            except Back:
                if step == 0:
                    self._talk.say(FIRST_QUESTION)
                step = max(step - 1, 0) if self._asks_commanded else 0

    @property
    def _asks_commanded(self) -> bool:
        """Whether the log holds commanded places."""
        return COMMANDED[0] in self._session.file.layout.positions

    def _ask_star(self) -> str:
        """Ask for the star; figures typed in its place are the commanded ones, and returned."""
        draft = self._hand.draft
        self._star_asked = self._star_prompt
        star, figures = self._stars.ask(self._star_asked, self._star_offered)
        draft.star = (draft.star or "") if figures else star
        self._hand.is_begun = True
        if not (figures or draft.commanded or draft.centred):
            self._talk.say(f"Send the telescope to {star or 'it'} and centre it.")
        return figures

    def _ask_commanded(self, ahead: str) -> EnteredPlace | None:
        """The commanded place; where the last pair had none, Enter says so again."""
        if not self._asks_commanded:
            return None
        if self._shows_none and self._hand.draft.commanded is None:
            self._hand.draft.commanded = NONE_SHOWN
        if not len(self._session.log):
            self._talk.say(NO_COMMANDED)
        return self._places.commanded(self._hand.draft, ahead)

    def _finish(self, commanded: EnteredPlace | None) -> None:
        """The second place; then the pair is kept and judged. Raises a turn of the conversation."""
        draft, session = self._hand.draft, self._session
        if session.may_choose_columns:
            self._talk.say(NO_READOUT)
        second = self._places.second(draft, commanded)
        if commanded is not None:
            commanded = self._places.as_of_the_centring(draft, commanded, second)
        now_s = self._clock()

        def cells() -> Mapping[str, str] | None:
            if not self._columns_suit(commanded, second):
                return None
            name = session.file.layout.second
            return draft.cells(commanded, second, name, now_s, session.mount)

        kept = self._answers.keep(cells)
        if kept is None:
            return
        self._shows_none = commanded is None
        self._hand.next_one()
        self._answers.tell(kept)
        if kept.remark.is_doubtful and not kept.remark.asks_if_moved:
            self._talk.say(RECENTRE)
        if draft.pressed:
            self._answers.keep_event(PRESS)
        if self._hand.draft.is_begun:
            self._talk.say(f"Now go on with {self._hand.draft.star or 'the pair'} as before.")

    def _columns_suit(self, commanded: EnteredPlace | None, second: Entered) -> bool:
        """See that the log has the columns of its first pair.

        False where the disk is full, or a pair from another door was the first.
        """
        try:
            suit_columns(
                self._session,
                nudged=isinstance(second, EnteredNudge),
                commanded=commanded is not None,
            )
        except (NotSavedError, RefusedError) as error:
            self._talk.say(f"NOT SAVED: {error}. Mend that, then type it again.", alarm=True)
            return False
        nudged = isinstance(second, EnteredNudge)
        holds_nudges = self._session.file.layout.second == "nudge"
        if nudged != holds_nudges or self._asks_commanded != (commanded is not None):
            self._talk.say(COLUMNS_CHOSEN, alarm=True)
            return False
        return True
