"""The phone's door to a session: what the page sends is kept, refused or taken back, and answered.

Read `messages.py` first. There is no server here: messages in, plain answers out. An entry that was
kept already, before a lost connection or a restart, is found by its id in the log and answered as
kept; it is never written again.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pointmodel.base.errors import InputError
from pointmodel.base.trace import trace
from pointmodel.base.wording import sentence
from pointmodel.phone import messages as sent
from pointmodel.phone.askedonce import settle_controller, settle_eyepiece, settle_site
from pointmodel.phone.eyepiece import EyepieceUnclearError
from pointmodel.phone.pairs import is_below, pair_cells
from pointmodel.phone.view import View
from pointmodel.phone.words import NOT_FOUND, OTHER_LOG, TAKE_IT_BACK, on_the_page
from pointmodel.reading.columns import ENTRY_ID
from pointmodel.recording.entry import EntryError
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.session import RefusedError, Session, stamp
from pointmodel.recording.words import BELOW_HORIZON, left_words, undone_words

PATIENCE_S = 5.0  # less than half of what the page waits

Tell = Callable[[str, bool], None]
"""Tells the terminal what came from the phone: a paragraph, and whether it is an alarm."""


@dataclass(frozen=True)
class Answer:
    """What came of one entry: the line it is kept in, or why it is refused.

    Neither: the disk did not take it, so that it is worth sending once more.
    """

    line: int | None = None
    told: str = ""
    alarm: bool = False
    refused: str | None = None


class PhoneDoor:
    """Messages in, answers out; `clock` gives POSIX seconds, `tell` is heard by the terminal."""

    def __init__(
        self, session: Session, tell: Tell, clock: Callable[[], float] = time.time
    ) -> None:
        """Nothing is done before the first message."""
        self._session, self._tell, self._clock = session, tell, clock
        self._view = View(session, clock)
        self._is_closed = False

    def close(self) -> None:
        """Keep nothing from here on: the recording ends, and its log is let go of."""
        with self._session.turn:
            self._is_closed = True

    def state(self, since: str = "") -> dict[str, Any] | None:
        """What the page shows; None where that is what it shows already."""
        return self._view.state(since)

    def entries(self, body: bytes) -> dict[str, Any]:
        """Keep entries in turn; the answers, and the state after them. Raises NoMessageError.

        What cannot be done before the page loses patience is left for its next message.
        """
        told = sent.read_message(body, sent.SentEntries)
        ours = told.log_key in (None, self._view.log_key)
        until = self._clock() + PATIENCE_S
        answers = []
        for entry in told.entries:
            answers.append(_document(entry, self._answer(entry, ours)))
            if self._clock() > until:
                break
        return {"answers": answers, "state": self._view.state()}

    def eyepiece(self, body: bytes) -> dict[str, Any]:
        """Take in how the eyepiece stands, or its field. Raises NoMessageError."""
        told = sent.read_message(body, sent.SentEyepiece)
        return self._settled(lambda: settle_eyepiece(self._session, told, self._clock()))

    def site(self, body: bytes) -> dict[str, Any]:
        """Take in where the telescope stands. Raises NoMessageError."""
        told = sent.read_message(body, sent.SentSite)
        return self._settled(lambda: settle_site(self._session, told))

    def controller(self, body: bytes) -> dict[str, Any]:
        """Take in what the controller was told. Raises NoMessageError."""
        told = sent.read_message(body, sent.SentController)
        return self._settled(lambda: settle_controller(self._session, told, self._clock()))

    def _settled(self, settle: Callable[[], str]) -> dict[str, Any]:
        """The answer to what is asked once: what was taken in, or why it was not."""
        told, refused = "", None
        try:
            with self._session.turn:
                self._refuse_once_closed()
                told = settle()
        except NotSavedError as error:
            refused = _not_saved(error)
        except InputError as error:
            refused = sentence("; ".join(problem.wanted for problem in error.problems))
        except (RefusedError, EyepieceUnclearError) as error:
            refused = sentence(str(error))
        if told:
            self._tell(f"From the phone: {told}", False)
        return {"told": told, "refused": refused, "state": self._view.state()}

    def _answer(self, entry: sent.AnyEntry, ours: bool) -> Answer:
        """What comes of one entry, whatever goes wrong with it."""
        if not ours:
            return Answer(refused=OTHER_LOG, alarm=True)
        try:
            with self._session.turn:
                self._refuse_once_closed()
                answer = self._kept_already(entry) or self._kept(entry)
        except NotSavedError as error:
            answer = Answer(told=_not_saved(error), alarm=True)
        except (RefusedError, EntryError) as error:
            answer = Answer(refused=f"REFUSED: {sentence(str(error))}", alarm=True)
        except Exception as error:  # as in the session: entering must go on
            trace()
            why = f"Not kept (internal error: {type(error).__name__}: {error})."
            answer = Answer(refused=why, alarm=True)
        if said := answer.refused or answer.told:
            self._tell(f"From the phone: {said}", answer.alarm)
        return answer

    def _refuse_once_closed(self) -> None:
        """Raise NotSavedError where the recording has ended: another one may have the log."""
        if self._is_closed:
            raise NotSavedError("the recording has ended", "Start it again, and scan the new code")

    def _kept_already(self, entry: sent.AnyEntry) -> Answer | None:
        """The answer to an entry that was sent before; None where it is new."""
        if isinstance(entry, sent.SentUndo):
            return None
        line = self._session.line_of(entry.id)
        return None if line is None else Answer(line)

    def _kept(self, entry: sent.AnyEntry) -> Answer:
        """Do what an entry says. Raises RefusedError, NotSavedError and EntryError."""
        now_s = self._clock()
        at_s = now_s - entry.age_s
        if isinstance(entry, sent.SentUndo):
            return self._undone(entry)
        if isinstance(entry, sent.SentNote | sent.SentMissing):
            return self._noted(entry, at_s)
        if isinstance(entry, sent.SentEvent):
            cells = {"event": entry.event, "note": entry.note}
        else:
            cells = pair_cells(self._session, entry, at_s)
        cells |= {"time": stamp(at_s, self._session.mount), ENTRY_ID: entry.id}
        filled = {name: cell for name, cell in cells.items() if cell}
        kept = self._session.keep(filled, now_s, in_time=True)
        notices = [sentence(notice.text) for notice in self._session.new_notices()]
        if not isinstance(entry, sent.SentEvent) and is_below(self._session, cells["target"], at_s):
            notices.insert(0, f"{cells['target']} {BELOW_HORIZON} {TAKE_IT_BACK}")
        alarm = kept.remark.alarm or bool(notices)
        return Answer(kept.line, on_the_page(" ".join([kept.told, *notices])), alarm)

    def _noted(self, entry: sent.SentNote | sent.SentMissing, at_s: float) -> Answer:
        """Keep a remark, with the entry's id at its end."""
        if isinstance(entry, sent.SentMissing):
            said, told = f"cannot find {entry.target}", f"{entry.target} {NOT_FOUND}"
        else:
            said, told = entry.text, "Noted."
        text = f"{stamp(at_s, self._session.mount)} {said} [{entry.id}]"
        return Answer(self._session.keep_remark(text).line, told)

    def _undone(self, entry: sent.SentUndo) -> Answer:
        """Take an entry back; one that was taken back already is answered so."""
        line = entry.line if entry.entry_id is None else self._session.line_of(entry.entry_id)
        if line is None:
            raise RefusedError("there is no such entry in the log")
        if entry.entry_id is None and not self._session.holds(line, entry.what or ""):
            raise RefusedError(f"line {line} is not {entry.what} any more: press “Undo” again")
        if self._session.is_struck(line):
            return Answer(line, f"Line {line} was taken back already.")
        undone = self._session.undo(line)
        if undone is None:
            raise RefusedError("the log holds no entry")
        return Answer(line, f"{undone_words(undone)} {left_words(self._session.log)}")


def _not_saved(error: NotSavedError) -> str:
    return f"NOT SAVED: {error}. The log is as it was. {error.cure}."


def _document(entry: sent.AnyEntry, answer: Answer) -> dict[str, Any]:
    return {
        "id": entry.id,
        "kept": answer.line,
        "refused": answer.refused,
        "told": answer.told,
        "alarm": answer.alarm,
    }
