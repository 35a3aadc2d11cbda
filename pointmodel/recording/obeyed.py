"""What the words do that are understood at any question: back, undo, note, time and the others.

Read `conversation.py` and `draft.py` first.
"""

from __future__ import annotations

from collections.abc import Callable

from pointmodel.base.times import TimeTextError
from pointmodel.base.wording import join
from pointmodel.mount.events import logged_events
from pointmodel.readings.logged import PRESS
from pointmodel.recording.answers import Answers
from pointmodel.recording.conversation import Back, Conversation, Leave, StartOver
from pointmodel.recording.draft import Draft, InHand
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.remark import complete_pairs, pairs_words
from pointmodel.recording.session import RefusedError, Session, Undone, stamp
from pointmodel.recording.terminal import undisturbed
from pointmodel.recording.words import (
    HELP,
    LEAVE,
    event_meant,
    first_word,
    left_words,
    moment_meant,
    undone_words,
)


class Obeyed:
    """Does what a word says, to the pair in hand or to the log."""

    def __init__(self, session: Session, hand: InHand, clock: Callable[[], float]) -> None:
        """`clock` gives POSIX seconds; `speak_with` is to be called before the first word."""
        self._session, self._hand, self._clock = session, hand, clock

    def speak_with(self, talk: Conversation, answers: Answers) -> None:
        """Where to ask and answer: a conversation obeys words, and words ask questions."""
        self._talk, self._answers = talk, answers

    def obey(self, typed: str) -> None:
        """Do what a word says.

        Raises a turn of the conversation where another question comes next.
        """
        word, rest = first_word(typed), typed.partition(" ")[2].strip()
        if word in LEAVE:
            raise Leave
        if word == "back":
            raise Back
        if word in ("help", "?"):
            for line in HELP:
                self._talk.say(line)
        elif word == "pause":
            self._talk.raw("Paused. Nothing is lost. Press Enter to go on. ")
        elif word == "undo":
            self._undo(rest)
        elif word == "redo":
            self._redo(rest)
        elif word == "drop":
            self._drop()
        elif word == "note":
            self._note(rest)
        elif word == "time":
            self._set_time(rest)
        else:
            self._event(rest if word == "event" else typed)

    def _drop(self) -> None:
        """Forget the pair in hand. Raises StartOver."""
        dropped, self._hand.draft = self._hand.draft, Draft()
        told = f"{dropped.star or 'The pair'}: forgotten."
        self._talk.say(told if dropped.is_begun else "There is nothing to forget.")
        if dropped.pressed:  # it happened all the same, on a star that is not in the log
            self._answers.keep_event(PRESS, note=f"on {dropped.star}")
        raise StartOver

    def _undo(self, which: str) -> None:
        """Strike the last entry and offer its figures again, or strike the line that is told."""
        try:
            last = self._session.last_line()
        except (NotSavedError, RefusedError) as error:
            self._talk.say(f"NOT UNDONE: {error}.", alarm=True)
            return
        if last is None:
            self._talk.say("Nothing to undo: the log holds no entry.")
            return
        line = self._line_meant(which, last.line)
        if line is None:
            return
        is_last = line == last.line
        if (
            is_last
            and self._hand.is_begun
            and self._hand.draft.is_begun
            and not self._means_the_last(last)
        ):
            return
        try:
            with undisturbed():
                undone = self._session.undo(line, last if is_last else None)
        except (NotSavedError, RefusedError) as error:
            self._talk.say(f"NOT UNDONE: {error}.", alarm=True)
            return
        assert undone is not None  # the log holds an entry
        self._tell_undone(undone, is_last)

    def _line_meant(self, which: str, last: int) -> int | None:
        """The line that stands behind a word; None where it is no number of a line."""
        which = which.lower().removeprefix("line").strip()
        if not which:
            return last
        if not which.isdecimal() or not which.isascii():
            self._talk.say("Type the number of the line: undo 7. Or undo alone for the last one.")
            return None
        return int(which)

    def _means_the_last(self, last: Undone) -> bool:
        """Ask whether the line on the disk is meant, and not the question before."""
        asked = f"Take back line {last.line}, {last.name}, which is on the disk already"
        if self._talk.agrees(asked, usual=False) is True:
            return True
        self._talk.say("Nothing is taken back. To go to the question before, type back.")
        return False

    def _tell_undone(self, undone: Undone, is_last: bool) -> None:
        """Say what was struck; of the last line the figures are offered. Raises StartOver then."""
        told, left = undone_words(undone), left_words(self._session.log)
        second = self._session.file.layout.second
        if not is_last:
            self._talk.say(f"{told} {left} redo {undone.line} brings it back.")
            return
        struck = Draft.of_struck(undone.cells, second, self._session.mount)
        if struck.centred is None:
            self._talk.say(f"{told} {left}")
            raise StartOver
        if self._hand.draft.is_begun:
            self._hand.waiting.append(self._hand.draft)
        self._hand.draft = struck
        self._talk.say(f"{told} Its figures are offered again: Enter takes each. Or type drop.")
        raise StartOver

    def _redo(self, which: str) -> None:
        """Bring a struck line back."""
        which = which.lower().removeprefix("line").strip()
        if not which.isdecimal() or not which.isascii():
            self._talk.say("Type the number of the line that is to come back: redo 7.")
            return
        try:
            with undisturbed():
                back = self._session.redo(int(which))
        except (NotSavedError, RefusedError) as error:
            self._talk.say(f"NOT BROUGHT BACK: {error}.", alarm=True)
            return
        left = pairs_words(complete_pairs(self._session.log))
        self._talk.say(f"{back.name}, line {back.line}, counts again: {left}.")

    def _event(self, text: str) -> None:
        """Keep an event; the pair in hand belongs to the time before it. May raise StartOver."""
        kind = event_meant(text)
        while kind is None:
            text = self._talk.raw(f"Type {join(logged_events(), 'or')} (Enter: none)? ")
            if not text:
                return
            kind = event_meant(text)
        if (
            kind == PRESS
            and self._hand.is_begun
            and self._hand.draft.star
            and self._pressed_in_hand()
        ):
            return
        if self._answers.keep_event(kind):
            self._hand.draft = Draft(self._hand.draft.star)
            raise StartOver

    def _pressed_in_hand(self) -> bool:
        """Whether the controller was zeroed on the star in hand: that is noted after its pair."""
        star = self._hand.draft.star
        if self._talk.agrees(f"Did you zero it on {star}, this pair", usual=True) is False:
            return False
        self._hand.draft.pressed = True
        self._talk.say(
            f"First finish {star} with what the mount read before you zeroed it. Then zero_on_star "
            "is noted. If you do not have those figures, type drop."
        )
        return True

    def _note(self, text: str) -> None:
        """A note goes with the pair in hand; between pairs it is a remark of its own."""
        text = text or self._talk.raw("Note: ")
        if not text:
            return
        if self._hand.is_begun:
            before = self._hand.draft.further.get("note")
            self._hand.draft.further["note"] = f"{before}; {text}" if before else text
            self._talk.say("Noted with this pair.")
            return
        try:
            self._session.keep_remark(f"{stamp(self._clock(), self._session.mount)} {text}")
        except NotSavedError as error:
            self._talk.say(f"NOT SAVED: {error}.", alarm=True)
        else:
            self._talk.say("Noted.")

    def _set_time(self, text: str) -> None:
        """Another time for the pair in hand, or the next, than that of the clock."""
        text = text or self._talk.raw("Time of this pair (Enter: the clock's)? ")
        if not text:
            self._hand.draft.time_s = None
            return
        try:
            self._hand.draft.time_s = moment_meant(text, self._clock(), self._session.mount)
        except TimeTextError as error:
            self._talk.say(f"Not understood. Type {error}.", alarm=True)
        else:
            self._talk.say(f"This pair: {stamp(self._hand.draft.time_s, self._session.mount)}.")
