"""An evening on the phone with everything that goes wrong: is a pair lost, does one stand twice?

python tests/bench/phone_evening.py [--pairs 200] [--seed 1]      faults at random
python tests/bench/phone_evening.py --speed [--pairs 40]          from touch to answer at 60 pairs

Chromium is driven as a person would: each pair is a touch. Between and during them the page is
reloaded, the connection is switched off and on, the laptop is killed and started again, and the
new link is opened. Every entry that the page stored is looked for in the log by its id.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import sys
import tempfile
import time
import urllib.request
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from phonelaptop import (
    FIELD_ARCMIN,
    PHONE,
    Laptop,
    LaptopApart,
    mount_toml,
    opened,
    stored,
    tap,
    waited,
)

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
GLOVE_S = 1.05  # a second touch within a second is a slip
FAULTS = {"reload": 0.10, "offline": 0.08, "kill": 0.05}  # chance at each pair
LEAN_ARCMIN, TUBE_ARCMIN, NOISE_ARCMIN = 14.0, 5.0, 0.8
PAIRS_FOR_SPEED = 60
NOTE_IDS = """
const stored = Storage.prototype.setItem;
Storage.prototype.setItem = function (key, text) {
  if (key.startsWith("pointmodel-unsent/")) { window.made(key.split("/").pop()); }
  return stored.call(this, key, text);
};
"""
NOTE_TIMES = """
let touched = 0;
addEventListener("pointerup", () => { touched = performance.now(); }, true);
addEventListener("DOMContentLoaded", () => {
  const told = document.getElementById("told");
  new MutationObserver(() => {
    if (!touched || !told.textContent.startsWith("Line ")) { return; }
    requestAnimationFrame(() => setTimeout(() => {
      if (touched) { window.took(performance.now() - touched); }
      touched = 0;
    }));
  }).observe(told, { childList: true, characterData: true, subtree: true });
});
"""


@dataclass
class Tally:
    """What was done, and what became of it."""

    touches: int = 0
    made: set[str] = field(default_factory=set)
    faults: Counter[str] = field(default_factory=Counter)
    longest_s: float = 0.0
    lost: int = 0
    twice: int = 0
    strangers: int = 0

    def __str__(self) -> str:
        """One line."""
        faults = ", ".join(f"{count} × {name}" for name, count in sorted(self.faults.items()))
        return (
            f"{self.touches} touches, {self.touches - len(self.made)} passed over; {faults}. "
            f"Longest from a new link to an answer {self.longest_s:.1f} s. "
            f"Lost {self.lost}, twice {self.twice}, in the log without a touch {self.strangers}."
        )


class Evening:
    """A person with a phone beside a leaning mount."""

    def __init__(self, browser: Any, folder: Path, seed: int) -> None:
        """Start the laptop, open the page."""
        self.rng, self.tally = np.random.default_rng(seed), Tally()
        self.laptop = LaptopApart(folder)
        (folder / "mount.toml").write_text(mount_toml(), "utf-8")
        self.laptop.start()
        self.context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
        self.context.expose_binding("made", lambda _, made: self.tally.made.add(made))
        self.context.add_init_script(NOTE_IDS)
        self.page = opened(self.context.new_page(), self.laptop)
        self.stars = {one["name"]: one for one in asked(self.laptop)["stars"]}
        self.is_killed = self.is_offline = False

    def play(self, pairs: int, faults: Mapping[str, float] = FAULTS) -> Tally:
        """Enter so many pairs with faults at random, mend all at the end, and look."""
        for _ in range(pairs):
            self.pair()
            fault = self.rng.choice([*faults, ""], p=[*faults.values(), 1 - sum(faults.values())])
            if fault:
                self.fault(str(fault))
            elif self.rng.random() < 0.4:
                self.mend()
        self.mend()
        waited(lambda: stored(self.page) == 0, 120.0)
        self.look()
        return self.tally

    def pair(self) -> None:
        """Touch where the star stands."""
        self.page.wait_for_timeout(1000 * GLOVE_S)
        star = self.page.locator("#star").inner_text()
        right, up = seen_at(self.stars.get(star, {"az_deg": 0.0, "alt_deg": 45.0}), self.rng)
        tap(self.page, right, up)
        self.tally.touches += 1

    def fault(self, name: str) -> None:
        """Something goes wrong, often while an entry is on its way."""
        time.sleep(self.rng.uniform(0.0, 0.4))
        if name == "reload" and not (self.is_killed or self.is_offline):
            self.page.reload()
        elif name == "offline" and not self.is_offline:
            self.context.set_offline(True)
            self.is_offline = True
        elif name == "kill" and not self.is_killed:
            self.laptop.kill()
            self.is_killed = True
        else:
            return
        self.tally.faults[name] += 1

    def mend(self) -> None:
        """The connection is back; the laptop records again, and its new link is opened."""
        if self.is_offline:
            self.context.set_offline(False)
            self.is_offline = False
        if self.is_killed:
            self.laptop.start()
            self.is_killed = False
            self.page.goto(self.laptop.link)
            began_s = time.monotonic()
            waited(lambda: self.page.locator("#trouble").is_hidden(), 180.0)
            self.tally.longest_s = max(self.tally.longest_s, time.monotonic() - began_s)

    def look(self) -> None:
        """Count what the log has of what was stored on the phone."""
        text = self.laptop.log.read_text("utf-8")
        found = Counter(re.findall(r"(?<![0-9a-f])[a-f][0-9a-f]{15}(?![0-9a-f])", text))
        self.tally.lost = len(self.tally.made - set(found))
        self.tally.twice = sum(count > 1 for count in found.values())
        self.tally.strangers = len(set(found) - self.tally.made)


def seen_at(star: dict[str, Any], rng: np.random.Generator) -> tuple[float, float]:
    """Where a leaning mount shows a star, radii of the field right and up."""
    az, alt = np.radians(star["az_deg"]), np.radians(star["alt_deg"])
    right = LEAN_ARCMIN * np.sin(az) * np.sin(alt) + TUBE_ARCMIN
    up = LEAN_ARCMIN * np.cos(az)
    noise = rng.normal(0.0, NOISE_ARCMIN, 2)
    return tuple(2 * (np.array([right, up]) + noise) / FIELD_ARCMIN)


def asked(laptop: Laptop, message: dict[str, Any] | None = None) -> Any:
    """What the laptop answers to the state, or to entries."""
    token = laptop.link.partition("#")[2]
    heads = {"Authorization": f"Bearer {token}", "Origin": laptop.address.rstrip("/")}
    body = None if message is None else json.dumps(message).encode()
    path = "state" if message is None else "entries"
    heads |= {} if message is None else {"Content-Type": "application/json"}
    with urllib.request.urlopen(
        urllib.request.Request(laptop.address + path, body, heads), timeout=120
    ) as answer:
        return json.load(answer)


def speed(browser: Any, folder: Path, pairs: int) -> list[float]:
    """Milliseconds from touch to the answer on the screen, from the sixtieth pair on."""
    evening = Evening(browser, folder, 1)
    names = list(evening.stars)
    for k in range(PAIRS_FOR_SPEED):
        name = names[k % len(names)]
        x, y = seen_at(evening.stars[name], evening.rng)
        entry = {"id": f"a{k:015x}", "kind": "tap", "target": name, "x": x, "y": y}
        asked(evening.laptop, {"entries": [entry]})
    took_ms: list[float] = []
    evening.context.expose_binding("took", lambda _, took: took_ms.append(took))
    evening.context.add_init_script(NOTE_TIMES)
    evening.page.reload()
    opened(evening.page, evening.laptop)
    for k in range(pairs):
        evening.pair()
        while len(took_ms) <= k:
            evening.page.wait_for_timeout(10)  # in which the page is heard
    evening.laptop.kill()
    return took_ms


def main() -> None:
    """Play the evening, or measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--speed", action="store_true")
    told = parser.parse_args()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver, tempfile.TemporaryDirectory() as folder:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        if told.speed:
            took = speed(browser, Path(folder), told.pairs or 40)
            median, most = np.percentile(took, [50, 95])
            print(f"{len(took)} pairs after {PAIRS_FOR_SPEED}: median {median:.0f} ms, ", end="")
            print(f"95 % within {most:.0f} ms")
        else:
            evening = Evening(browser, Path(folder), told.seed)
            print(evening.play(told.pairs or 200))
            evening.laptop.kill()


if __name__ == "__main__":
    main()
