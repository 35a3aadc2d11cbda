"""How soon a tap is answered, at so many pairs: `python tests/bench/phone_speed.py [--pairs 60]`.

Taps of a simulated mount go through a real server on this computer; measured is from the first byte
sent to the last one received, which is the line on the disk, the fit, the advice and the state.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from pathlib import Path

import httpx
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from phonefakes import phone_beside, taps_of_a_mount

from pointmodel.phone.network import LOCAL
from pointmodel.phone.serving import Serving

MEASURED = 20


def answer_times_ms(pairs: int, seed: int = 5) -> list[tuple[float, float]]:
    """How long the last twenty taps of a log of so many pairs took to be answered.

    By the clock, and of a processor's time: that counts on a machine that is busy with other work.
    """
    found = []
    with phone_beside() as phone:
        serving = Serving(phone.door, LOCAL)
        serving.start()
        base, _, token = serving.link.partition("#")
        headers = {"Authorization": f"Bearer {token}", "Origin": base.rstrip("/")}
        with httpx.Client(base_url=base, headers=headers, timeout=60.0) as page:
            page.get("state")
            for tap in taps_of_a_mount(phone, pairs, seed):
                start, begun = time.perf_counter(), time.process_time()
                answer = page.post("entries", content=json.dumps({"entries": [tap]}),
                                   headers={"Content-Type": "application/json"})  # fmt: skip
                lasted = time.perf_counter() - start, time.process_time() - begun
                found.append((1e3 * lasted[0], 1e3 * lasted[1]))
                assert answer.json()["answers"][0]["kept"]
        serving.stop()
    return found[-MEASURED:]


def main() -> None:
    """Print medians and the slowest of twenty."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--pairs", type=int, default=60)
    pairs = parser.parse_args().pairs
    os.chdir(tempfile.mkdtemp())
    wall, cpu = np.array(answer_times_ms(pairs)).T
    slow_ms = np.quantile(wall, 0.95)
    print(
        f"{pairs} pairs: {MEASURED} taps answered in {np.median(wall):.0f} ms at the median, "
        f"{slow_ms:.0f} ms at 95 %, at best {wall.min():.0f} ms; of a processor "
        f"{np.median(cpu):.0f} ms; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )


if __name__ == "__main__":
    main()
