"""The terminal of someone whose eyes are used to the dark: plain lines, dim red if it can.

No full-screen tricks, so that it works over a slow remote shell and on a telephone.
"""

from __future__ import annotations

import contextlib
import signal
import sys
import textwrap
import threading
from collections.abc import Iterator, Sequence
from importlib import import_module
from types import ModuleType
from typing import TextIO

from pointmodel.base.figures import clean
from pointmodel.base.trace import passing_over

_DIM, _BRIGHT, _RESET = "\x1b[2;31m", "\x1b[0;31m", "\x1b[0m"


class Terminal:
    """Says lines and asks questions on a stream; everything typed comes from standard input."""

    def __init__(self, out: TextIO, width: int, color: bool) -> None:
        """`width` in columns; `color` only where the stream is a terminal that knows it."""
        self._out, self._width, self._color = out, width, color
        both = sys.stdin.isatty() and out.isatty() and out is sys.stdout
        self._readline = _line_editor() if both else None
        self._edits = both
        self._names: Sequence[str] = ()
        self._asked = ""  # the question that stands
        self._writing = threading.RLock()
        if self._readline is not None:
            self._readline.set_completer(self._completed)
            self._readline.set_completer_delims("")
            self._readline.parse_and_bind("tab: complete")

    def say(self, text: str, alarm: bool = False) -> None:
        """Print a paragraph, brighter where it is an alarm."""
        lines = textwrap.wrap(clean(text), self._width, break_on_hyphens=False) or [""]
        start, end = self._colours(alarm)
        with self._writing:
            self._out.write("".join(f"{start}{line}{end}\n" for line in lines))
            self._out.flush()

    def show(self, lines: Sequence[str]) -> None:
        """Print lines as they are, whole, in no colour: a code for a camera, a link."""
        with self._writing:
            self._out.write("".join(f"{line}\n" for line in lines))
            self._out.flush()

    def interject(self, text: str, alarm: bool = False, instead: str = "") -> None:
        """Print a paragraph from another thread; a question that stands is shown again below it.

        `instead`: the words in which it is asked now.
        """
        with self._writing:
            if self._asked and instead:
                self._asked = clean(instead)
            if self._asked:
                self._out.write("\n")
            self.say(text, alarm)
            if self._asked:
                typed = self._readline.get_line_buffer() if self._readline else ""
                self._out.write(f"{self._colours(False)[0]}{self._asked}{typed}")
                self._out.flush()

    def ask(self, prompt: str, names: Sequence[str] = ()) -> str:
        """Return what is typed, blanks around it cut off; `names` complete on the tab key.

        Raises EOFError at the end of input, KeyboardInterrupt on Ctrl-C.
        """
        self._names = names
        start, end = self._colours(False)
        prompt = self._asked = clean(prompt)
        try:
            if self._edits:
                mark = f"\x01{start}\x02" if start and self._readline else start
                return input(f"{mark}{prompt}").strip()
            self._out.write(prompt)
            self._out.flush()
            line = sys.stdin.readline()
            if not sys.stdin.isatty():
                self._out.write("\n")  # the line feed that a person's Enter would have shown
            if not line:
                raise EOFError
            return line.strip()
        finally:
            self._asked = ""
            self._out.write(end)
            self._out.flush()

    def _colours(self, alarm: bool) -> tuple[str, str]:
        if not self._color:
            return "", ""
        return (_BRIGHT if alarm else _DIM), _RESET

    def _completed(self, text: str, state: int) -> str | None:
        found = [name for name in self._names if name.lower().startswith(text.lower())]
        return found[state] if text and state < len(found) else None


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """While an entry is on its way to the disk and its answer, Ctrl-C does nothing."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _line_editor() -> ModuleType | None:
    """The library that lets `input` edit lines, where the system has it."""
    with passing_over(ImportError):
        return import_module("readline")
    return None
