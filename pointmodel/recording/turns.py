"""One session, several doors: whoever reads or changes it does so while nobody else does.

The terminal and the phone are threads of one program. A turn may be taken again by who has it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

_P = ParamSpec("_P")
_R = TypeVar("_R")
_S = TypeVar("_S", bound="TakesTurns")


class TakesTurns(Protocol):
    """What several threads use in turn: `turn` is held by one of them; `version` counts changes."""

    turn: AbstractContextManager[Any]
    version: int


def in_turn(method: Callable[Concatenate[_S, _P], _R]) -> Callable[Concatenate[_S, _P], _R]:
    """Make a method wait for its turn."""

    @functools.wraps(method)
    def taken(self: _S, /, *args: _P.args, **kwargs: _P.kwargs) -> _R:
        with self.turn:
            return method(self, *args, **kwargs)

    return taken


def a_change(method: Callable[Concatenate[_S, _P], _R]) -> Callable[Concatenate[_S, _P], _R]:
    """Make a method wait for its turn, and count it as a change, whatever came of it."""

    @functools.wraps(method)
    def taken(self: _S, /, *args: _P.args, **kwargs: _P.kwargs) -> _R:
        with self.turn:
            try:
                return method(self, *args, **kwargs)
            finally:
                self.version += 1

    return taken
