"""Standard input, output and errors, whatever the caller made of them."""

from __future__ import annotations

import errno
import io
import os
import sys

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over, trace

STDIN, STDOUT = "-", "standard output"


def make_ready() -> None:
    """Make the standard streams fit to use. Raises InputError where there is no output to print on.

    Letters that the terminal's encoding does not know come out as question marks.
    """
    _keep_their_numbers()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    if sys.stdout is None:
        raise no_output()


def no_output() -> InputError:
    """The error of a command that cannot print."""
    wanted = "it open, a terminal or a file: the results are printed there"
    return InputError([Problem(STDOUT, None, None, "a closed stream", wanted)])


def no_input(wanted: str) -> InputError:
    """The error of a command that has nothing to read from."""
    return InputError([Problem(STDIN, None, None, "a standard input that is closed", wanted)])


def is_closed_output(error: OSError) -> bool:
    """Whether an error says that standard output is no stream that can be written to."""
    return error.errno == errno.EBADF and error.filename is None


def let_go_of_output() -> None:
    """Forget what could not be printed: the interpreter would try, and complain, once more."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except (OSError, ValueError):
        trace()
        with passing_over(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)


def _keep_their_numbers() -> None:
    """Take the numbers of closed streams, so that no file opened later is printed into."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            trace()
            os.open(os.devnull, os.O_RDWR)  # the lowest free number, which is this one
