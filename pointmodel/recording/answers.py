"""An entry brought onto the disk, come what may, and what is said of it.

Read `session.py` first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pointmodel.advising.result import Advice
from pointmodel.base.wording import sentence
from pointmodel.recording.advicewords import advice_lines
from pointmodel.recording.conversation import Conversation, Leave
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.nextstep import NextStep
from pointmodel.recording.session import Kept, RefusedError, Session, stamp
from pointmodel.recording.terminal import undisturbed
from pointmodel.recording.words import LEAVE


class Answers:
    """Keeps entries and says what follows; `next_star` is the one that was proposed last."""

    def __init__(self, talk: Conversation, session: Session, clock: Callable[[], float]) -> None:
        """`clock` gives POSIX seconds."""
        self._talk, self._session, self._clock = talk, session, clock
        self.next_star: str | None = None
        self._headline = ""
        self._steps_told: tuple[str, ...] | None = None

    def keep(self, make: Callable[[], Mapping[str, str] | None]) -> Kept | None:
        """Bring an entry onto the disk; where the disk is full, ask until it is safe or dropped.

        `make` gives its cells, or None for nothing to keep, while nobody else changes the log; it
        asks nothing: other doors wait for it.
        """
        while True:
            try:
                with self._session.turn, undisturbed():
                    cells = make()
                    return None if cells is None else self._session.keep(cells, self._clock())
            except RefusedError as error:
                self._talk.say(f"REFUSED: {error}.", alarm=True)
                return None
            except NotSavedError as error:
                self._talk.say(
                    f"NOT SAVED: {error}. The log is as it was. {error.cure}. Then press Enter to "
                    "try again. Type drop to give this entry up, quit to end.",
                    alarm=True,
                )
            wish = self._talk.raw("Try again? ").lower()
            if wish in LEAVE:
                raise Leave
            if wish == "drop":
                return None

    def keep_event(self, kind: str, note: str = "") -> bool:
        """Keep an event as of now, and say what it changes; False where it is not kept."""
        cells = {"event": kind, "time": stamp(self._clock(), self._session.mount), "note": note}
        kept = self.keep(lambda: {name: cell for name, cell in cells.items() if cell})
        if kept is not None:
            self.tell(kept)
        return kept is not None

    def tell(self, kept: Kept) -> None:
        """The line that is safe now, what it says, and what next."""
        self._talk.say(kept.told, kept.remark.alarm)
        for notice in self._session.new_notices():
            self._talk.say(sentence(notice.text), alarm=True)
        self.advise(kept.remark.advice, kept.remark.next)

    def advise(self, advice: Advice | None, after: NextStep) -> None:
        """The advice where it is news, with its steps where one may stop; the star that is next."""
        if advice is not None and after.may_stop and advice.actions != self._steps_told:
            self._headline, self._steps_told = advice.headline, advice.actions
            for line in advice_lines(advice):
                self._talk.say(line)
        elif advice is not None and advice.headline != self._headline:
            self._headline = advice.headline
            self._talk.say(advice.headline)
        self.next_star = after.star
        if after.text:
            self._talk.say(after.text)
