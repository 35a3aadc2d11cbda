"""Simulated evenings with a controller and a person, and what the advice on them is worth.

    one = evening("synced_each", seed=3)      # a kind of evening_kinds.KINDS; fields of Script too
    fit = pm.fit(one.log)                     # one.text, one.mount: the files that the owner has
    one.machine.levelled(20, -5).zeroed().miss_arcmin(), one.terms, one.plain_log       # the truth

    python tests/bench/evenings.py                        # every figure, 100 evenings a kind
    python tests/bench/evenings.py first_advice knocks --nights 30

`evening_machine.py` is telescope and controller, `evening_play.py` plays an evening and writes it
down, `evening_kinds.py` lists the kinds, `evening_orders.py` does what the program orders,
`evening_figures.py` holds the figures.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.evening_figures import FIGURES
from bench.evening_kinds import KINDS, evening
from bench.evening_orders import answer, outcome

__all__ = ["FIGURES", "KINDS", "answer", "evening", "outcome"]


def main() -> None:
    """Print the figures that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("figures", nargs="*", choices=[[], *FIGURES], default=[])
    parser.add_argument("--nights", type=int, default=100)
    asked = parser.parse_args()
    for name in asked.figures or FIGURES:
        print(f"\n{name}: {(FIGURES[name].__doc__ or '').splitlines()[0]}")
        for line in FIGURES[name](asked.nights):
            print(line, flush=True)


if __name__ == "__main__":
    main()
