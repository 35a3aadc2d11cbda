"""How often the doctor of alignments is right, on the simulated evenings of `alignments.py`.

    python tests/bench/alignment_figures.py --nights 200

Each line is one kind of controller and mount; of each kind evenings with a wrong alignment star, a
badly centred one, a stand that was knocked after a right alignment, and nothing wrong.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.alignments import What, evening
from bench.figures import over_nights

import pointmodel as pm

VARIANTS: dict[str, dict[str, Any]] = {
    "6 lines": {"pairs": 6},
    "12 lines": {"pairs": 12},
    "also an altitude zero": {"kind": "altitude_zero"},
    "both stars met alike": {"order": "even"},
    "kind said": {"solves": "rotation"},
    "mount three times worse": {"population": "worse"},
}
WHATS: tuple[What, ...] = ("wrong_star", "badly_centred", "knocked", "right")


def one_diagnosis(what: What, options: dict[str, Any], seed: int) -> str:
    """What is said of one evening: right, another name, something vaguer, or nothing."""
    made = evening(seed, what, **options)
    fault = pm.fit(made.log).alignment_fault
    if fault is None:
        return "nothing said"
    if fault.kind == "one_star":
        return "the star at fault named" if fault.place == made.place else "another place named"
    if fault.kind != what:
        return "only that the sky is turned" if fault.kind == "turned" else f"called {fault.kind}"
    if fault.place != made.place:
        return "another place named"
    if what != "wrong_star":
        return "named"
    if fault.instead[0] == made.instead:
        return "named"
    return "among those named" if made.instead in fault.instead else "another star named"


def diagnoses(nights: int) -> Iterator[str]:
    """Return a line for each variant and each thing that went wrong."""
    for name, options in VARIANTS.items():
        for what in WHATS:
            found = Counter(over_nights(partial(one_diagnosis, what, options), nights))
            shares = "  ".join(f"{said} {n / nights:.3f}" for said, n in found.most_common())
            yield f"{name:24} {what:14} {shares}"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--nights", type=int, default=100)
    for line in diagnoses(parser.parse_args().nights):
        print(line, flush=True)


if __name__ == "__main__":
    main()
