"""Priors or plain least squares? What the 95 % ranges do from 4 to 40 stars.

    python data/examples/priors_and_plain.py [FOLDER] [--nights N]

Every night is simulated, so its truth is known. Each is fitted three ways: by the estimator (which
weighs noise, bad lines and further terms), by lmfit with the same priors, and by lmfit as plain
least squares, noise from the residuals. Shown is how wide the ranges are, and how often they hold
the truth. The figure goes to FOLDER, by default `reports`.
"""

import argparse
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

import pointmodel as pm

STARS = (4, 6, 8, 12, 16, 24, 40)
TERMS = ("collimation", "tilt_east")
STYLES = ("o-", "s--", "^:")  # two of the three lie on one another
WAYS = {
    "estimator": {},
    "lmfit, with priors": {"params": pm.parameters(), "priors": True},
    "lmfit, plain": {"params": pm.parameters(), "priors": False},
}


def ranges(stars: int, seed: int, way: dict) -> np.ndarray:
    """Low and high of each of `TERMS`, (2, 2), minus the truth, on one simulated night."""
    night = pm.simulate(seed=seed, pairs=stars)
    terms = pm.fit(night.log, **way).terms.loc[list(TERMS)]
    truth = np.array([night.terms[name] for name in TERMS])
    return terms[["low", "high"]].to_numpy() - truth[:, None]


def measured(nights: int) -> dict[str, np.ndarray]:
    """By way: ranges minus truth, (stars, nights, terms, 2)."""
    return {
        name: np.array(
            [[ranges(stars, 1000 * stars + k, way) for k in range(nights)] for stars in STARS]
        )
        for name, way in WAYS.items()
    }


def main(folder: Path, nights: int) -> None:
    """Simulate, fit, tell and draw."""
    found = measured(nights)
    figure = Figure(figsize=(11, 8), layout="constrained")
    axes = figure.subplots(2, len(TERMS), sharex=True)
    for (name, limits), style in zip(found.items(), STYLES, strict=True):
        half = 0.5 * np.median(limits[..., 1] - limits[..., 0], axis=1)
        holds = np.mean((limits[..., 0] <= 0.0) & (limits[..., 1] >= 0.0), axis=1)
        for k, term in enumerate(TERMS):
            axes[0, k].plot(STARS, half[:, k], style, label=name)
            axes[1, k].plot(STARS, 100.0 * holds[:, k], style, label=name)
            told = ", ".join(
                f"{stars}: ±{size:.1f}′ holds {100 * share:.0f} %"
                for stars, size, share in zip(STARS, half[:, k], holds[:, k], strict=True)
            )
            print(f"{name}, {term}, by stars: {told}")
    for k, term in enumerate(TERMS):
        axes[0, k].set(title=term, yscale="log", ylabel="half of the 95 % range, arcminutes")
        axes[0, k].yaxis.set_major_formatter("{x:g}")
        axes[0, k].yaxis.set_minor_formatter("{x:g}")
        axes[1, k].axhline(95.0, color="0.6", ls="--")
        axes[1, k].set(xlabel="stars", ylabel="ranges that hold the truth, %", ylim=(80, 101))
    axes[0, 0].legend()
    figure.suptitle(f"What ranges do from {STARS[0]} to {STARS[-1]} stars, {nights} nights each")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "priors-and-plain.svg"
    figure.savefig(path, metadata={"Date": None})
    print(f"Figure: {path}")


if __name__ == "__main__":
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("folder", nargs="?", type=Path, default=Path("reports"))
    given.add_argument("--nights", type=int, default=100, help="nights for each number of stars")
    told = given.parse_args()
    main(told.folder, told.nights)
