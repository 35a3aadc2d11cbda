"""One question, one answer: what is shown in brackets, the words obeyed at any question, Ctrl-C.

The dialogue says what the words do; a question never hears of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pointmodel.recording.terminal import Terminal
from pointmodel.recording.words import LEAVING, is_word, word_meant

Obey = Callable[[str], None]
"""Does what a typed word says; may raise a turn of the conversation."""


class StartOver(Exception):  # noqa: N818 (a turn of the conversation, no error)
    """The pair in hand is begun again."""


class Back(Exception):  # noqa: N818 (a turn of the conversation, no error)
    """The question before is asked again."""


class Leave(Exception):  # noqa: N818 (a turn of the conversation, no error)
    """The recording is over; `wished`: the person said so, else nothing more can be typed."""

    def __init__(self, wished: bool = True) -> None:
        """Hold why."""
        super().__init__()
        self.wished = wished


@dataclass
class StandingQuestion:
    """A question that stands, and what is taken for Enter alone."""

    prompt: str
    offered: str | None

    @property
    def shown(self) -> str:
        """As it is asked, the offered answer in brackets."""
        return f"{self.prompt} [{self.offered}]? " if self.offered else f"{self.prompt}? "


class Conversation:
    """Asks on a terminal; what is typed is obeyed where it is a word, else it is the answer."""

    def __init__(self, terminal: Terminal, obey: Obey) -> None:
        """Nothing is asked yet."""
        self._terminal, self._obey = terminal, obey
        self._standing: StandingQuestion | None = None

    def say(self, text: str, alarm: bool = False) -> None:
        """Say a paragraph."""
        self._terminal.say(text, alarm)

    def ask(self, prompt: str, offered: str | None = None, known: tuple[str, ...] = ()) -> str:
        """One answer; for Enter alone the offered one, which is shown in brackets.

        Raises a turn of the conversation.
        """
        question = StandingQuestion(prompt, offered)
        while True:
            self._standing = question
            try:
                typed = self.raw(question.shown, known)
            finally:
                self._standing = None
            if not is_word(typed):
                return typed or question.offered or ""
            self._obey(typed)

    def asked_otherwise(self, prompt: str, instead: str, offered: str | None) -> str:
        """Put the question that stands in other words where it has this prompt; as it is shown.

        Empty where that question does not stand.
        """
        standing = self._standing
        if standing is None or standing.prompt != prompt:
            return ""
        standing.prompt, standing.offered = instead, offered
        return standing.shown

    def agrees(self, question: str, usual: bool) -> bool | str:
        """Whether the answer is yes, `usual` for Enter alone; what else was typed as it stands.

        Raises a turn of the conversation.
        """
        shown = f"{question}? [{'Y/n' if usual else 'y/N'}] "
        while True:
            typed = self.raw(shown)
            if is_word(typed):
                self._obey(typed)
                continue
            if not typed:
                return usual
            said = typed.strip(".!").lower()
            return said in _YES if said in (*_YES, *_NO) else typed

    def obeyed_instead(self, typed: str) -> bool:
        """Whether what is no answer was a slip of a word, which is then obeyed.

        Raises a turn of the conversation.
        """
        word = word_meant(typed)
        if word is None or self.agrees(f"Did you mean the word {word}", usual=True) is not True:
            return False
        self._obey(word)
        return True

    def raw(self, prompt: str, known: tuple[str, ...] = ()) -> str:
        """One line as typed. Raises Leave at its end, or where Ctrl-C comes twice."""
        for stop_at_next in (False, True):
            try:
                return self._terminal.ask(prompt, known)
            except EOFError:
                raise Leave(wished=False) from None
            except KeyboardInterrupt:
                if stop_at_next:
                    raise Leave from None
                self._terminal.say("")
                self._terminal.say(LEAVING)
        raise AssertionError("one of the two returns or raises")


_YES, _NO = ("y", "yes"), ("n", "no")
