"""A phone for the tests: its session, its door, and what its page would send."""

from __future__ import annotations

import itertools
import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from pointmodel.phone.door import PhoneDoor
from pointmodel.planning.upnow import stars_up
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.recording.logfile import open_log
from pointmodel.recording.session import Session

SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
TOLD = {
    "site": SITE,
    "alignment": {"stars": [], "presses": "none"},
    "optics": {"field_of_view": 48},
    "eyepiece": {"turn": 0, "mirrored": False},
}
NIGHT_S = datetime.fromisoformat("2031-05-17T21:04:30+10:00").timestamp()
NOON_S = datetime.fromisoformat("2031-05-17T12:00:00+10:00").timestamp()


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self, now_s: float = NIGHT_S) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


class Phone:
    """A page's part: entries with ids of their own; what the terminal hears is in `heard`."""

    def __init__(self, session: Session, clock: Clock) -> None:
        self.session, self.clock = session, clock
        self.heard: list[str] = []
        self.door = PhoneDoor(session, lambda text, alarm: self.heard.append(text), clock)

    def send(self, *entries: dict[str, Any], **further: Any) -> list[dict[str, Any]]:
        """The answers to entries."""
        body = {"entries": list(entries), **further}
        answers: list[dict[str, Any]] = self.door.entries(json.dumps(body).encode())["answers"]
        return answers

    def tap(self, target: str, x: float = 0.2, y: float = -0.3, **further: Any) -> dict[str, Any]:
        """The answer to a tap."""
        return self.send(entry("tap", target=target, x=x, y=y, **further))[0]

    @property
    def state(self) -> dict[str, Any]:
        """What the page shows."""
        shown = self.door.state()
        assert shown is not None
        return shown


def entry(kind: str, **further: Any) -> dict[str, Any]:
    """An entry of the page's."""
    made = {"id": new_id(), "kind": kind, "age_s": 0.0}
    return {**made, **further}


def new_id() -> str:
    """An id as the page makes it."""
    return f"a{secrets.token_hex(8)[1:]}"


@contextmanager
def phone_beside(
    path: str | Path = "night.csv", mount: Any = TOLD, clock: Clock | None = None
) -> Iterator[Phone]:
    """A phone at a recording; the log is closed at the end."""
    clock = clock or Clock()
    file = open_log(path)
    try:
        told = mount if isinstance(mount, MountFile) else read_mount(mount)
        yield Phone(Session(file, str(path), told, clock()), clock)
    finally:
        file.close()


def taps_of_a_mount(phone: Phone, pairs: int, seed: int = 5) -> Iterator[dict[str, Any]]:
    """Taps of a mount that stands a little off, on the stars that are up, three minutes apart."""
    rng = np.random.default_rng(seed)
    for number in range(pairs):
        up = stars_up(phone.session.mount, phone.clock(), 60)
        star = up[number % len(up)]
        az = np.radians(star.az_deg)
        right = 5.0 + 4.0 * np.sin(az) * np.sin(np.radians(star.alt_deg))
        above = -7.0 + 4.0 * np.cos(az)
        x, y = (np.array([right, above]) + rng.normal(0.0, 0.8, 2)) / 24.0
        yield entry("tap", target=star.target, x=round(float(x), 3), y=round(float(y), 3))
        phone.clock.now_s += 180.0


def lines_of(path: str | Path = "night.csv") -> list[str]:
    """The lines of a log that are no remarks, without the header."""
    lines = Path(path).read_text(encoding="utf-8").splitlines()
    whole = [line for line in lines if line and not line.startswith("#")]
    return list(itertools.islice(whole, 1, None))
