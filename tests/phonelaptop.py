"""A laptop that records for the phone: within the tests, or a process that can be killed.

And what a person does on its page: open it, touch the eyepiece.
"""

from __future__ import annotations

import csv
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

LONGEST_START_S, LONGEST_WAIT_S = 60.0, 30.0
FIELD_ARCMIN = 48.0
PHONE = {"width": 390, "height": 844}
# the usual port may be another session's on this machine
RUN = (
    "import pointmodel.phone.serving as serving; serving.PORT = {port}\n"
    "from pointmodel.cli import main; main()"
)
STEADY = "[eyepiece]\nturn = 0\nmirrored = false\n"


def mount_toml(eyepiece: str = STEADY, site: bool = True) -> str:
    """A mount file of a place where it is the middle of the night now."""
    hour = datetime.now(UTC).hour + datetime.now(UTC).minute / 60
    longitude_deg = (-15.0 * hour + 180.0) % 360.0 - 180.0
    where = f"[site]\nlatitude = -35.0\nlongitude = {longitude_deg:.2f}\n" if site else ""
    told = '[alignment]\nstars = []\npresses = "none"\n'
    return f"{where}[optics]\nfield_of_view = {FIELD_ARCMIN:g}\n{told}{eyepiece}"


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


@dataclass
class Laptop:
    """A folder with the log that is recorded; `link` is what opens the page."""

    folder: Path
    port: int = field(default_factory=free_port)
    link: str = ""

    @property
    def log(self) -> Path:
        """The log."""
        return self.folder / "night.csv"

    @property
    def address(self) -> str:
        """What the page stands at, without its token."""
        return f"http://127.0.0.1:{self.port}/"

    def rows(self) -> list[dict[str, str]]:
        """The lines of the log that count, by column."""
        if not self.log.exists():
            return []
        lines = self.log.read_text("utf-8").splitlines()
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))

    def remarks(self) -> list[str]:
        """The log's remarks, struck lines among them."""
        return [line for line in self.log.read_text("utf-8").splitlines() if line.startswith("#")]


@dataclass
class LaptopHere(Laptop):
    """A session that is served within this process: there at once."""

    told: list[str] = field(default_factory=list)
    session: Any = None
    _ends: ExitStack = field(default_factory=ExitStack)

    def start(self) -> None:
        """Serve until stopped."""
        from pointmodel.phone import serving
        from pointmodel.phone.door import PhoneDoor
        from pointmodel.recording.logfile import open_log
        from pointmodel.recording.session import Session, mount_for

        file = open_log(str(self.log))
        self._ends.callback(file.close)
        session = Session(file, str(self.log), mount_for(str(self.log), None), time.time())
        self.session = session
        usual, serving.PORT = serving.PORT, self.port
        served = serving.Serving(
            PhoneDoor(session, lambda text, alarm: self.told.append(text)), serving.LOCAL
        )
        serving.PORT = usual
        served.start()
        self._ends.callback(served.stop)
        self.link = served.link
        waited(lambda: listens(self.port))

    def stop(self) -> None:
        """Serve no more."""
        self._ends.close()


@dataclass
class LaptopApart(Laptop):
    """`pointmodel record night.csv --phone`, a process: it can be killed and started again."""

    _process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Record until killed; returns with the link."""
        code = RUN.format(port=self.port)
        with (self.folder / "said.txt").open("w", encoding="utf-8") as said:
            self._process = subprocess.Popen(
                [sys.executable, "-c", code, "record", str(self.log), "--phone", "--plain"],
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=subprocess.STDOUT,
                env={**os.environ, "PYTHONUNBUFFERED": "1"},
            )
        self.link = waited(self._printed_link, LONGEST_START_S)
        assert self.link.startswith(self.address)
        waited(lambda: listens(self.port))

    def kill(self) -> None:
        """Pull the plug."""
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait()
            self._process = None

    def _printed_link(self) -> str:
        assert self._process is not None
        said = (self.folder / "said.txt").read_text("utf-8")
        assert self._process.poll() is None, said
        found = re.search(r"http://\S+#\S+(?=\n)", said)
        return found[0] if found else ""


def listens(port: int) -> bool:
    """Whether somebody answers at a port of this machine."""
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


def waited(found: Callable[[], Any], longest_s: float = LONGEST_WAIT_S) -> Any:
    """What is found at last. Raises AssertionError after so long."""
    end = time.monotonic() + longest_s
    while time.monotonic() < end:
        if result := found():
            return result
        time.sleep(0.02)
    raise AssertionError(f"not within {longest_s} s: {found}")


def opened(page: Any, laptop: Laptop) -> Any:
    """The page after it has heard from the laptop."""
    page.goto(laptop.link)
    waited(lambda: "in night.csv" in page.locator("#pairs").inner_text())
    return page


def tap(page: Any, x: float, y: float) -> None:
    """Touch the eyepiece at a place in radii of its circle, y up."""
    centre, radius = circle(page)
    page.touchscreen.tap(centre[0] + x * radius, centre[1] - y * radius)


def circle(page: Any, pad: str = "#pad") -> tuple[tuple[float, float], float]:
    """Where the drawn eyepiece is on the screen: its middle and its radius, pixels."""
    edge = f"document.querySelector('{pad} .edge').getBoundingClientRect()"
    box = waited(lambda: page.evaluate(f"(b => b.width && [b.x, b.y, b.width, b.height])({edge})"))
    return (box[0] + box[2] / 2, box[1] + box[3] / 2), box[2] / 2


def unsent(page: Any) -> int:
    """How many entries the page says are not sent yet."""
    if not page.locator("#unsent").is_visible():
        return 0
    return int(re.match(r"\d+", page.locator("#unsent").inner_text())[0])


def stored(page: Any) -> int:
    """How many entries the phone still has in its store."""
    keys = "Object.keys(localStorage).filter(key => key.startsWith('pointmodel-unsent/')).length"
    return int(page.evaluate(keys))
