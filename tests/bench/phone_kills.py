"""The laptop is killed while the phone sends: `python tests/bench/phone_kills.py [--kills 30]`.

A recording in a process of its own is sent entries, several at a time, and killed at random moments
of that; then it is started again and is sent what was not answered yet. At the end every entry must
stand in the log, and none twice.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

import httpx

sys.path.insert(0, str(Path(__file__).parents[1]))

from phonefakes import entry
from phonelaptop import LaptopApart, mount_toml

STARS = ("Acrux", "Canopus", "Antares", "Achernar", "Sirius", "Spica", "Rigel", "Hadar")
AT_ONCE = 4


def made(rng: random.Random, number: int) -> dict[str, Any]:
    """One entry; every eighth is an event or a remark."""
    if number % 8 == 6:
        return entry("note", text=f"note {number}")
    if number % 8 == 7:
        return entry("event", event="clutch")
    spot = {name: round(rng.uniform(-0.9, 0.9), 3) for name in ("x", "y")}
    return entry("tap", target=STARS[number % len(STARS)], **spot)


def sent(laptop: LaptopApart, entries: list[dict[str, Any]]) -> set[str]:
    """The ids that were answered as kept or refused; none where there was no answer."""
    base, _, token = laptop.link.partition("#")
    headers = {
        "Authorization": f"Bearer {token}",
        "Origin": base.rstrip("/"),
        "Content-Type": "application/json",
    }
    try:
        answer = httpx.post(f"{base}entries", content=json.dumps({"entries": entries}).encode(),
                            headers=headers, timeout=60.0)  # fmt: skip
    except httpx.HTTPError:
        return set()
    assert answer.status_code == 200, answer.status_code
    found = answer.json()["answers"]
    return {one["id"] for one in found if one["kept"] is not None or one["refused"] is not None}


def killed_often(folder: Path, kills: int, seed: int = 3) -> tuple[Counter[str], list[str]]:
    """How often each id stands in the log after so many kills; and the ids that were sent."""
    rng = random.Random(seed)
    (folder / "mount.toml").write_text(mount_toml())
    laptop = LaptopApart(folder)
    laptop.start()
    queue: list[dict[str, Any]] = []
    ids: list[str] = []
    while kills or queue:
        while kills and len(queue) < AT_ONCE:
            queue.append(made(rng, len(ids)))
            ids.append(queue[-1]["id"])
        killer = None
        if kills and rng.random() < 0.7:
            killer = threading.Timer(rng.uniform(0.0, 0.8), laptop.kill)
            killer.start()
        done = sent(laptop, queue[:AT_ONCE])
        queue = [one for one in queue if one["id"] not in done]
        if killer is not None:
            killer.join()
            kills -= 1
            laptop.start()
    laptop.kill()
    text = (folder / "night.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("# cut off")]
    return Counter(found for line in lines for found in re.findall(r"\ba[0-9a-f]{15}\b", line)), ids


def main() -> None:
    """Kill, and say what was lost or kept twice."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=30)
    kills = parser.parse_args().kills
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        counts, ids = killed_often(Path(folder), kills)
    lost = sum(counts[one] == 0 for one in ids)
    twice = sum(counts[one] > 1 for one in ids)
    print(f"{kills} kills, {len(ids)} entries: {lost} lost, {twice} twice "
          f"({time.monotonic() - start:.0f} s)")  # fmt: skip


if __name__ == "__main__":
    main()
