"""Fit a season of logs on the workers of dask, and compare the nights.

    python data/examples/season_over_dask.py [FOLDER OF LOGS]

Fits are plain functions on plain data, so `pm.fit` maps over a bag as it is, on the cores of this
machine or on a cluster. For archives of thousands of nights `summary_of_source` in place of
`pm.fit` sends back a night summed up, and memory stays bounded.
"""

import sys
from pathlib import Path

import dask.bag

import pointmodel as pm
from pointmodel.comparing.season import summary_of_source

SEASON = Path(__file__).parents[1] / "season"


def main(folder: Path) -> None:
    """Fit every log of a folder, compare the nights, and keep what the next one starts from."""
    paths = sorted(str(path) for path in folder.glob("*.csv"))
    bag = dask.bag.from_sequence(paths, npartitions=2)

    fits = bag.map(pm.fit).compute(scheduler="processes", num_workers=2)
    comparison = pm.compare(fits)
    print(comparison.summary)
    print(comparison.terms.frame[["name", "kind", "value", "low", "high"]].round(1).to_string())

    summaries = bag.map(summary_of_source).compute(scheduler="processes", num_workers=2)
    print(f"{len(summaries)} nights, noise by night (arcminutes, each axis):")
    print(", ".join(f"{night.sigma_arcmin:.2f}" for night in summaries))

    # the next night starts from what the season knows: three stars go further
    next_night = pm.read_log(paths[-1])
    three = next_night.select([k < 3 for k in range(len(next_night))])
    for name, prior in (("alone", None), ("with the season", comparison.profile)):
        error = pm.fit(three, prior=prior).terms.loc["collimation", "standard_error"]
        print(f"Three stars {name}: collimation to {error:.1f}′")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else SEASON)
