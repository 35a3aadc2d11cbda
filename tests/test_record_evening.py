"""An evening at the telescope: ten pairs on a terminal of 60 columns, with mistakes, none lost."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pexpect
import pytest
from test_record_dialogue import answer, started

from pointmodel.base.angles import format_dm
from pointmodel.reading.mountfile import MountFile, read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.recording import names

PAIRS, MISTAKES = 10, 4
WIDTH = 60
MOUNT_FILE = """
[site]
latitude = -41.3
longitude = {longitude:.3f}
utc_offset = "+00:00"
[alignment]
stars = []
presses = "none"
[optics]
field_of_view = 48
"""
COMMANDED, READS = "The controller says (azimuth altitude)", "The mount reads (azimuth altitude)"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def where_it_is_midnight() -> float:
    """The longitude at which the Sun is farthest below the horizon now, about."""
    return (360.0 - (time.time() % 86400.0) / 240.0 + 180.0) % 360.0 - 180.0


def bright_stars_up(mount: MountFile) -> list[str]:
    """Ten bright stars, at least a degree or so from any that could be taken for them."""
    found: list[str] = []
    for name in names.bright_names():
        place = names.overhead(name, mount, time.time())
        if place is not None and 15.0 < place.alt_deg < 80.0 and not _is_a_planet(name):
            found.append(name)
        if len(found) == PAIRS:
            break
    return found


def _is_a_planet(name: str) -> bool:
    return name in names.PLANETS


def as_typed(az_deg: float, alt_deg: float) -> str:
    """Degrees and minutes as one types them."""
    texts = (format_dm(angle, 0) for angle in (az_deg % 360.0, alt_deg))
    return " ".join(" ".join(re.findall(r"\d+", text)) for text in texts)


class Evening:
    """Stars, where the controller has them, and what a mount reads that is off by a little."""

    def __init__(self) -> None:
        Path("mount.toml").write_text(MOUNT_FILE.format(longitude=where_it_is_midnight()))
        self.mount = read_mount("mount.toml")
        self.stars = bright_stars_up(self.mount)
        self.terminal = started("--plain")
        self.shown = b""

    def commanded(self, star: str) -> str:
        place = names.overhead(star, self.mount, time.time())
        assert place is not None
        return as_typed(place.az_deg, place.alt_deg)

    def reads(self, star: str, slip_deg: float = 0.0) -> str:
        place = names.overhead(star, self.mount, time.time())
        assert place is not None
        return as_typed(place.az_deg + 0.4, place.alt_deg - 0.2 + slip_deg)

    def type(self, question: str, typed: str) -> None:
        self.shown += answer(self.terminal, question, typed)

    def pair(self, number: int) -> None:
        star = self.stars[number - 1]
        self.type(f"{number}. Star", star)
        self.type(COMMANDED, self.commanded(star))
        self.type(READS, self.reads(star))


def test_ten_pairs_with_four_mistakes_on_sixty_columns_lose_none() -> None:
    evening = Evening()
    stars = evening.stars
    evening.pair(1)
    # a star of another name than the one that the telescope was sent to
    evening.type("2. Star", stars[0])
    evening.type(COMMANDED, evening.commanded(stars[1]))
    evening.type("Which star is it (or type the place again)", stars[1])
    evening.type(READS, evening.reads(stars[1]))
    # minutes that are none, a word that is none, and back to the question before
    evening.type("3. Star", stars[3])
    evening.type(COMMANDED, "123 75 41 30")
    evening.type(COMMANDED, "bakc")
    evening.type("Did you mean the word back", "")
    evening.type(f"3. Star [{stars[3]}]", stars[2])
    evening.type(COMMANDED, evening.commanded(stars[2]))
    evening.type(READS, evening.reads(stars[2]))
    for number in (4, 5, 6):
        evening.pair(number)
    # a slip of the pen in a whole degree of altitude, taken back once it is told
    evening.type("7. Star", stars[6])
    evening.type(COMMANDED, evening.commanded(stars[6]))
    evening.type(READS, evening.reads(stars[6], slip_deg=3.0))
    evening.type("8. Star", "undo")
    assert b"DOES NOT FIT" in evening.shown
    evening.type(f"7. Star [{stars[6]}]", "")
    evening.type(COMMANDED, "")
    evening.type(READS, evening.reads(stars[6]))
    # the program is killed in the middle of a pair, and started again
    evening.type("8. Star", stars[7])
    evening.terminal.expect_exact(COMMANDED)
    evening.terminal.kill(9)
    evening.terminal.wait()
    evening.terminal = started("--plain")
    for number in (8, 9, 10):
        evening.pair(number)
    evening.type("11. Star", "quit")
    evening.terminal.expect(pexpect.EOF)
    log = read_log("night.csv")
    assert list(log.target) == stars
    assert log.has_both.all()
    assert abs(log.centred_alt_deg - log.commanded_alt_deg + 0.2).max() < 1.0 / 60.0 + 1e-9
    assert max(map(len, evening.shown.decode().splitlines())) <= WIDTH
