"""Connections with bounds: how many, how long, how soon a request must have come.

uvicorn waits for as long as a stranger takes to finish the head of a request, and answers what is
no HTTP with a text. Here such a connection is closed in time, and what is no request is answered as
all else that is not the page's: 403, without a word.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

LONGEST_HEAD = 16 * 1024  # bytes
HEAD_WITHIN_S = 10.0
LONGEST_S = 120.0  # then the phone opens another one
MOST_OF_ONE = 32  # a browser opens six
MOST = 512
_TURNED_AWAY = b"HTTP/1.1 403 Forbidden\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"


class CarefulProtocol(H11Protocol):
    """One connection of uvicorn's, within these bounds."""

    _timers: tuple[asyncio.TimerHandle, ...] = ()

    def connection_made(self, transport: Any) -> None:
        """Take the connection, or end it where there are too many."""
        super().connection_made(transport)
        others = [one for one in self.connections if isinstance(one, CarefulProtocol)]
        of_one = sum(self._peer(one) == self._peer(self) for one in others)
        if of_one > MOST_OF_ONE or len(others) > MOST:
            transport.abort()
            return
        self._timers = (
            self.loop.call_later(HEAD_WITHIN_S, self._end_if_idle),
            self.loop.call_later(LONGEST_S, self._end),
        )

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        for timer in self._timers:
            timer.cancel()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """Answer what is no request, and end the connection."""
        if self.cycle is None or self.cycle.response_complete:
            self.transport.write(_TURNED_AWAY)
        self.transport.close()

    @staticmethod
    def _peer(one: H11Protocol) -> str:
        return one.client[0] if one.client else ""

    def _end_if_idle(self) -> None:
        """End a connection on which no request has come."""
        if self.cycle is None:
            self.transport.abort()

    def _end(self) -> None:
        """End a connection that is old: at once, or after the answer that is being worked out."""
        if self.cycle is None or self.cycle.response_complete:
            self.transport.abort()
        else:
            self.cycle.keep_alive = False
            self._timers = (self.loop.call_later(HEAD_WITHIN_S, self.transport.abort),)
