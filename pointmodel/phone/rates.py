"""How often something may be done: a bucket that fills slowly, one for each who asks.

Whoever guesses tokens is slowed down; the right token never waits for those that are wrong, since
it draws from a bucket of its own.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

MOST_KNOWN = 256  # who asked last; the longest silent is forgotten


class Rate:
    """So many at once, then so many a second, for each name; `clock` gives seconds."""

    def __init__(self, burst: float, per_s: float, clock: Callable[[], float]) -> None:
        """Every bucket is full."""
        self._burst, self._per_s, self._clock = burst, per_s, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, name: str) -> bool:
        """Take one from a bucket; False where it is empty."""
        now = self._clock()
        left, then = self._left.pop(name, (self._burst, now))
        left = min(self._burst, left + (now - then) * self._per_s)
        allowed = left >= 1.0
        self._left[name] = (left - 1.0 if allowed else left), now
        if len(self._left) > MOST_KNOWN:
            self._left.popitem(last=False)
        return allowed
