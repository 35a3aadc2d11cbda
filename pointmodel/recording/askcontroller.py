"""What is asked once of the controller, at the start of a recording: its alignment, its presses.

Read `controller.py` first: what the answers mean, and where they are kept.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from pointmodel.base.wording import join
from pointmodel.reading.mountfile import Alignment
from pointmodel.recording import controller, names
from pointmodel.recording.conversation import Back, Conversation, StartOver
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.session import Session


class ControllerQuestions:
    """Asks what is not known of the controller, and keeps it; `clock` gives POSIX seconds."""

    def __init__(self, talk: Conversation, session: Session, clock: Callable[[], float]) -> None:
        """Nothing is asked yet."""
        self._talk, self._session, self._clock = talk, session, clock

    def ask(self) -> None:
        """Ask once what is not known, and keep it. Raises Leave."""
        answers: dict[str, str] = {}
        with contextlib.suppress(StartOver):  # a word that begins a pair anew ends the questions
            if self._known_now.stars is None and (stars := self._alignment_stars()) is not None:
                answers["stars"] = controller.stars_value(stars)
            if self._known_now.presses is None and (presses := self._presses()) is not None:
                answers["presses"] = f'"{presses}"'
        if not answers:
            return
        try:
            where = self._session.keep_answers("alignment", answers)
        except NotSavedError as error:
            self._talk.say(f"NOT SAVED: {error}.", alarm=True)
        else:
            self._talk.say(f"Noted in {where}.")

    @property
    def _known_now(self) -> Alignment:
        """What is known by now: the phone may have answered since."""
        return self._session.log.mount.alignment

    def _ask(self, prompt: str, known: tuple[str, ...] = ()) -> str:
        """One answer; there is no question before these. Raises StartOver and Leave."""
        while True:
            try:
                return self._talk.ask(prompt, None, known)
            except Back:
                self._talk.say("Answer, or press Enter if you do not know.")

    def _alignment_stars(self) -> tuple[str, ...] | None:
        """The stars that the controller was aligned on; None where the person does not know."""
        self._talk.say(controller.ASK_STARS)
        while typed := self._ask(controller.STARS_PROMPT, names.bright_names()):
            if controller.is_not_known(typed):
                return None
            stars = controller.stars_meant(typed)
            if stars is None:
                self._talk.say(controller.NAMES_WANTED)
            elif (known := self._known(stars)) is not None:
                return known
        return None

    def _known(self, stars: tuple[str, ...]) -> tuple[str, ...] | None:
        """The stars by their names; None where one is unknown and not meant so."""
        mount, now = self._session.mount, self._clock()
        named = [names.complete(star, mount, now) for star in stars]
        for one in named:
            if one.found == "one":
                continue
            if one.choices:
                self._talk.say(f"{one.name}: did you mean {join(one.choices, 'or')}?")
            asked = f"{one.name} is not a star I know: keep it all the same"
            if self._talk.agrees(asked, usual=False) is not True:
                return None
        return tuple(one.name for one in named)

    def _presses(self) -> str | None:
        """Whether the controller is told after each centring; None where that is not known."""
        self._talk.say(controller.ASK_PRESSES)
        while typed := self._ask(controller.PRESSES_PROMPT):
            if controller.is_not_known(typed):
                return None
            presses = controller.presses_meant(typed)
            if presses is None:
                self._talk.say(controller.PRESSES_WANTED)
                continue
            if presses != "none":
                sometimes = presses == "logged"
                self._talk.say(controller.SAY_WHEN if sometimes else controller.BEFORE_THE_PRESS)
            return presses
        return None
