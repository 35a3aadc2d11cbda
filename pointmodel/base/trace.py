"""Errors that are dealt with where they happen leave a trace for those who ask for one."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager


def debugging() -> bool:
    """Whether POINTMODEL_DEBUG is set in the environment."""
    return bool(os.environ.get("POINTMODEL_DEBUG"))


def trace() -> None:
    """Print the error now being handled, with its traceback, on standard error if debugging.

    For handlers that go on without the user hearing of the error.
    """
    if debugging():
        import traceback

        traceback.print_exc()


@contextmanager
def passing_over(*errors: type[BaseException]) -> Iterator[None]:
    """Go on after the block where one of these errors ends it: it changes nothing that matters."""
    try:
        yield
    except errors:
        trace()
