"""The conversation at the telescope: star, commanded, centred, and the one line that matters.

Read `session.py` first. What was typed for a pair that is not finished is offered again, so that a
slip costs no more than the figure it was made in.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.times import TimeTextError
from pointmodel.base.wording import join, sentence
from pointmodel.mount.events import logged_events
from pointmodel.reading.columns import NUDGE
from pointmodel.recording import controller, names
from pointmodel.recording.advice import NextStep
from pointmodel.recording.draft import Draft, as_offered
from pointmodel.recording.entry import (
    EnteredPlace,
    EntryError,
    is_one_angle,
    looks_like_figures,
    parse_place,
    take_motions,
)
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.remark import complete_pairs
from pointmodel.recording.session import Kept, RefusedError, Session, stamp
from pointmodel.recording.terminal import Terminal, undisturbed
from pointmodel.recording.words import (
    HELP,
    LEAVE,
    LEAVING,
    RECENTRE,
    WORDS,
    event_meant,
    moment_meant,
    opening_words,
)
from pointmodel.sky.sunguard import sun_notices

FAR_DEG = 10.0


class _StartOver(Exception):  # noqa: N818 (a turn of the conversation, no error)
    """The pair in hand is begun again."""


class _Leave(Exception):  # noqa: N818 (likewise)
    """The recording is over."""


class Dialogue:
    """Asks for pairs until the person has enough; `clock` gives POSIX seconds."""

    def __init__(
        self, session: Session, terminal: Terminal, clock: Callable[[], float] = time.time
    ) -> None:
        """Nothing is asked before `run`."""
        self._session, self._terminal, self._clock = session, terminal, clock
        self._draft = Draft()
        self._in_hand = False  # whether a pair has been begun
        self._next_star: str | None = None

    def run(self) -> None:
        """Ask until the person leaves; everything accepted is on the disk at any moment.

        Raises InputError for a log of right ascensions, nudges or an almanac's places: they are not
        asked for.
        """
        try:
            self._open()
        except (_Leave, KeyboardInterrupt):
            return
        while True:
            try:
                self._in_hand = False
                self._one_pair()
            except _StartOver:
                continue
            except KeyboardInterrupt:  # between two questions; within one `_raw` has it
                self._terminal.say(LEAVING)
            except _Leave:
                return

    def _open(self) -> None:
        """Say what there is, and what to beware of."""
        layout = self._session.file.layout
        if "commanded_az" not in layout.positions or NUDGE[0] in layout.positions:
            wanted = (
                "columns commanded_az and commanded_alt, centred_az and centred_alt: those are "
                "asked for here. Another file name starts such a log; programs use --pipe"
            )
            raise InputError(
                [Problem(self._session.name, layout.header_line, None, layout.header, wanted)]
            )
        now = self._clock()
        for told in opening_words(self._session, now):
            self._terminal.say(told)
        self._ask_of_the_controller()
        self._advise(self._session.advice(now))
        for notice in sun_notices(self._session.sun(now)):
            self._terminal.say(f"CAUTION: {notice.text}.", alarm=True)

    def _ask_of_the_controller(self) -> None:
        """Ask once what is not known of the controller, and keep it. Raises _Leave."""
        alignment = self._session.log.mount.alignment
        answers: dict[str, str] = {}
        with contextlib.suppress(_StartOver):  # a word that begins a pair anew ends the questions
            if alignment.stars is None and (stars := self._ask_alignment_stars()) is not None:
                answers["stars"] = controller.stars_value(stars)
            if alignment.presses is None and (presses := self._ask_presses()) is not None:
                answers["presses"] = f'"{presses}"'
        if not answers:
            return
        try:
            where = self._session.keep_answers(answers)
        except NotSavedError as error:
            self._terminal.say(f"NOT SAVED: {error}.", alarm=True)
        else:
            self._terminal.say(f"Noted in {where}.")

    def _ask_alignment_stars(self) -> tuple[str, ...] | None:
        """The stars that the controller was aligned on; None where the person does not know."""
        self._terminal.say(controller.ASK_STARS)
        while typed := self._ask(controller.STARS_PROMPT, None, names.bright_names()):
            stars = controller.stars_meant(typed)
            if stars is not None:
                mount, now = self._session.mount, self._clock()
                return tuple(names.complete(star, mount, now).name or star for star in stars)
            self._terminal.say(controller.NAMES_WANTED)
        return None

    def _ask_presses(self) -> str | None:
        """Whether the controller is told after each centring; None where that is not known."""
        self._terminal.say(controller.ASK_PRESSES)
        while typed := self._ask(controller.PRESSES_PROMPT, None):
            presses = controller.presses_meant(typed)
            if presses is None:
                self._terminal.say(controller.PRESSES_WANTED)
                continue
            if presses != "none":
                sometimes = presses == "logged"
                told = controller.SAY_WHEN if sometimes else controller.BEFORE_THE_PRESS
                self._terminal.say(told)
            return presses
        return None

    def _one_pair(self) -> None:
        """One pair from its star to its remark."""
        draft = self._draft
        ahead = self._ask_star()
        commanded = self._ask_place("Commanded az alt", draft.commanded, ahead, guarded=True)
        draft.commanded = as_offered(commanded)
        second = self._session.file.layout.second
        asked = f"Sent to {commanded}. {second.capitalize()} az alt"
        centred = self._ask_place(asked, draft.centred)
        if self._is_far(commanded, centred):
            asked = f"So far from what was commanded? {second.capitalize()} az alt"
            centred = self._ask_place(asked, as_offered(centred))
        mount = self._session.mount
        kept = self._keep(draft.cells(commanded, centred, second, self._clock(), mount))
        if kept is not None:
            self._draft = Draft()
            self._tell(kept)
            if kept.remark.fits is False and not kept.remark.asks_if_moved:
                self._terminal.say(RECENTRE)

    def _is_far(self, commanded: EnteredPlace, centred: EnteredPlace) -> bool:
        """Say so where the altitudes differ much: an azimuth alone looks like a place."""
        if abs(centred.alt_deg - commanded.alt_deg) <= FAR_DEG:
            return False
        self._terminal.say(f"That reads as azimuth and altitude {centred}.", alarm=True)
        return True

    def _tell(self, kept: Kept) -> None:
        """The line that is safe now, what it says, and what next."""
        self._terminal.say(f"Line {kept.line}. {kept.remark.told}", kept.remark.alarm)
        for notice in self._session.new_notices():
            self._terminal.say(sentence(notice.text), alarm=True)
        self._advise(kept.remark.next)

    def _advise(self, after: NextStep) -> None:
        """What to do next; its star is offered."""
        self._next_star = after.star
        if after.text:
            self._terminal.say(after.text)

    def _ask_star(self) -> str:
        """Ask for the star; figures typed in its place are the commanded ones, and returned."""
        draft, now = self._draft, self._clock()
        offered = self._next_star if draft.star is None else draft.star or None
        typed_before = None
        while True:
            number = complete_pairs(self._session.log) + 1
            typed = self._ask(f"{number}. Star", offered, names.bright_names())
            if looks_like_figures(typed):
                draft.star, self._in_hand = draft.star or "", True
                return typed
            if not typed:
                draft.star = ""
                break
            if typed == typed_before:  # twice the same: it is meant so
                draft.star = typed
                break
            named = names.complete(typed, self._session.mount, now)
            if named.name is not None and self._may_be_pointed_at(named.name, typed):
                draft.star = named.name
                break
            if named.name is None:
                choices = join(named.choices, "or")
                self._terminal.say(f"{typed}: {choices}? Again the same keeps it as it is.")
                offered = named.choices[0]
            typed_before = typed
        self._in_hand = True
        return ""

    def _may_be_pointed_at(self, name: str, typed: str) -> bool:
        """Say what was understood; refuse what stands too near the Sun."""
        now = self._clock()
        place = names.overhead(name, self._session.mount, now)
        told = "" if name == typed else f"{name}. "
        if place is not None:
            if objection := self._session.sun_objection(place.az_deg, place.alt_deg, now):
                self._terminal.say(f"REFUSED: {name} stands {objection}.", alarm=True)
                return False
            if place.alt_deg < 0.0:
                told += f"{name} is below the horizon by this clock: is it another star?"
        if told:
            self._terminal.say(told.strip())
        return True

    def _ask_place(
        self, prompt: str, offered: str | None, ahead: str = "", guarded: bool = False
    ) -> EnteredPlace:
        """Ask for azimuth and altitude until they can be read; blank begins the pair anew.

        `ahead` was typed before the question; a place is held against the Sun where it is guarded.
        """
        while True:
            typed, ahead = ahead or self._ask(prompt, offered), ""
            if not typed:
                self._terminal.say("Nothing typed, nothing kept; it waits for you.")
                raise _StartOver
            typed, motions = take_motions(typed)
            if is_one_angle(typed):
                typed = f"{typed}; {self._ask('... and altitude', None)}"
            try:
                place = parse_place(typed)
            except EntryError as error:
                self._terminal.say(f"Not understood: {error}.", alarm=True)
                continue
            objection = None
            if guarded:
                now = self._draft.time_s or self._clock()
                objection = self._session.sun_objection(place.az_deg, place.alt_deg, now)
            if objection is None:
                self._draft.further.update(motions)
                return place
            self._terminal.say(f"REFUSED: that is {objection}.", alarm=True)
            offered = None

    def _keep(self, cells: dict[str, str]) -> Kept | None:
        """Bring an entry onto the disk; where the disk is full, ask until it is safe or dropped."""
        while True:
            try:
                with undisturbed():
                    return self._session.keep(cells, self._clock())
            except RefusedError as error:
                self._terminal.say(f"REFUSED: {error}.", alarm=True)
                return None
            except NotSavedError as error:
                self._terminal.say(
                    f"NOT SAVED: {error}. The log is as it was. {error.cure}. Enter tries "
                    "again; drop gives this entry up, quit ends.",
                    alarm=True,
                )
            wish = self._raw("Try again? ").lower()
            if wish in LEAVE:
                raise _Leave
            if wish == "drop":
                return None

    def _ask(self, prompt: str, offered: str | None, known: tuple[str, ...] = ()) -> str:
        """One answer, the offered one for Enter alone; the words of `WORDS` are obeyed here.

        Raises _StartOver and _Leave.
        """
        shown = f"{prompt} [{offered}]? " if offered else f"{prompt}? "
        while True:
            typed = self._raw(shown, known)
            word, _, rest = typed.partition(" ")
            if word.lower() in WORDS or event_meant(typed, exactly=True):
                self._obey(word.lower(), rest.strip(), typed)
            else:
                return typed or offered or ""

    def _raw(self, prompt: str, known: tuple[str, ...] = ()) -> str:
        """One line as typed. Raises _Leave at its end, or where Ctrl-C comes twice."""
        for stop_at_next in (False, True):
            try:
                return self._terminal.ask(prompt, known)
            except EOFError:
                raise _Leave from None
            except KeyboardInterrupt:
                if stop_at_next:
                    raise _Leave from None
                self._terminal.say("")
                self._terminal.say(LEAVING)
        raise AssertionError("one of the two returns or raises")

    def _obey(self, word: str, rest: str, typed: str) -> None:
        """Do what a word says. Raises _StartOver where the pair in hand is to be begun again."""
        if word in LEAVE:
            raise _Leave
        if word in ("help", "?"):
            for line in HELP:
                self._terminal.say(line)
        elif word == "pause":
            self._raw("Paused; nothing is lost. Enter goes on. ")
        elif word == "undo":
            self._undo()
        elif word == "note":
            self._note(rest)
        elif word == "time":
            self._set_time(rest)
        else:
            self._event(rest if word == "event" else typed)

    def _undo(self) -> None:
        """Strike the last entry, and offer its figures again."""
        try:
            with undisturbed():
                undone = self._session.undo()
        except (NotSavedError, RefusedError) as error:
            self._terminal.say(f"NOT UNDONE: {error}.", alarm=True)
            return
        if undone is None:
            self._terminal.say("Nothing to undo: the log holds no entry.")
            return
        cells = undone.cells
        what = cells.get("event") or cells.get("target") or "the pair"
        again = ""
        if "commanded_az" in cells:
            again = " Its figures are offered again."
            self._draft = Draft.of_struck(cells, self._session.file.layout.second)
        self._terminal.say(f"Undone: {what} (line {undone.line} stays as a remark).{again}")
        raise _StartOver

    def _event(self, text: str) -> None:
        """Keep an event; the pair in hand belongs to the time before it."""
        kind = event_meant(text)
        while kind is None:
            text = self._raw(f"Which: {join(logged_events(), 'or')} (Enter: none)? ")
            if not text:
                return
            kind = event_meant(text)
        kept = self._keep({"event": kind, "time": stamp(self._clock(), self._session.mount)})
        if kept is None:
            return
        self._tell(kept)
        self._draft = Draft(self._draft.star)
        raise _StartOver

    def _note(self, text: str) -> None:
        """A note goes with the pair in hand; between pairs it is a remark of its own."""
        text = text or self._raw("Note: ")
        if not text:
            return
        if self._in_hand:
            before = self._draft.further.get("note")
            self._draft.further["note"] = f"{before}; {text}" if before else text
            self._terminal.say("Noted with this pair.")
            return
        try:
            self._session.keep_remark(f"{stamp(self._clock(), self._session.mount)} {text}")
        except NotSavedError as error:
            self._terminal.say(f"NOT SAVED: {error}.", alarm=True)
        else:
            self._terminal.say("Noted.")

    def _set_time(self, text: str) -> None:
        """Another time for the pair in hand, or the next, than that of the clock."""
        text = text or self._raw("Time of this pair (Enter: the clock's)? ")
        if not text:
            self._draft.time_s = None
            return
        try:
            self._draft.time_s = moment_meant(text, self._clock(), self._session.mount)
        except TimeTextError as error:
            self._terminal.say(f"Not understood: {error}.", alarm=True)
        else:
            self._terminal.say(f"This pair: {stamp(self._draft.time_s, self._session.mount)}.")
