"""Ctrl-C ends a command at once and without a word, whatever the interpreter is doing just then.

Python answers Ctrl-C with KeyboardInterrupt, wherever it happens to be. While a command runs that
is caught; while its modules are still being imported, or the interpreter is ending, nobody is there
to catch it, and a traceback would be shown. There a handler ends the process instead. In a notebook
or another's program nothing is changed.

This module is the first to be imported, and imports next to nothing: until then Ctrl-C is Python's.
"""

import os
import signal
import sys

INTERRUPTED = 130  # 128 and the number of the signal: as shells say it
_NAME = "pointmodel"


def end_quietly_where_a_command() -> None:
    """From here on Ctrl-C ends this process, if it is the command line's and nobody ignores it."""
    if _is_the_command() and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _end)


def raise_from_here() -> None:
    """From here on Ctrl-C is KeyboardInterrupt, for those who have something to put in order."""
    if signal.getsignal(signal.SIGINT) is _end:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def _end(*_: object) -> None:
    os._exit(INTERRUPTED)


def _is_the_command() -> bool:
    """Whether this is `pointmodel …` or `python -m pointmodel …`, its package just being found."""
    if not sys.argv:
        return False
    if sys.argv[0] == "-m":  # after it, or several options in one such as -um, comes the name
        options = sys.orig_argv[1:-1]
        at = next((k for k, o in enumerate(options) if o[:1] == "-" and o[-1:] == "m"), None)
        return at is not None and sys.orig_argv[at + 2] == _NAME
    return os.path.splitext(os.path.basename(sys.argv[0]))[0] == _NAME
