"""Fit a frame with column names of your own, and draw the night into one figure.

    python data/examples/fit_a_frame.py [FOLDER]

The figure goes to FOLDER, by default `reports`. Any frame will do: here the demonstration night is
given the column names that somebody else might have used.
"""

import sys
from pathlib import Path

import pandas as pd
from matplotlib.figure import Figure

import pointmodel as pm

DATA = Path(__file__).parents[1]
OWN_NAMES = {
    "star": "target",
    "utc": "time",
    "goto az": "commanded_az",
    "goto alt": "commanded_alt",
    "read az": "centred_az",
    "read alt": "centred_alt",
}


def own_frame() -> pd.DataFrame:
    """A frame as you may have it: own names, own index, and a value that is missing."""
    log = pm.read_log(DATA / "leaning.csv").frame
    frame = log.rename(columns={known: own for own, known in OWN_NAMES.items()})
    frame.index = pd.Index([f"shot {k}" for k in range(len(frame))])
    frame.loc["shot 5", "read alt"] = float("nan")
    return frame


def main(folder: Path) -> None:
    """Fit, tell, draw."""
    frame = own_frame()
    fit = pm.fit(frame, mount=DATA / "mount.toml", columns=OWN_NAMES, incomplete="skip")
    print(repr(fit))
    for notice in fit.warnings:
        print("-", notice.text)

    # residuals stand under the frame's own labels
    worst = fit.pairs.loc[~fit.pairs["set_aside"], "residual_y_arcmin"].abs().idxmax()
    print(f"Worst left over in height: {worst}, {frame.loc[worst, 'star']}")
    print(fit.forecast["rms_arcmin"].round(1).to_string())

    figure = Figure(figsize=(12, 10), layout="constrained")
    axes = figure.subplots(2, 2)
    fit.plot_sky(axes[0, 0])
    fit.plot_residuals(axes[0, 1], against="altitude")
    fit.plot_eyepiece(axes[1, 0])
    fit.plot_forecast(axes[1, 1])
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "fit-a-frame.png"
    figure.savefig(path)
    print(f"Figure: {path}")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "reports"))
