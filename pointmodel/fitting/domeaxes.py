"""The dome of the sky on a user's own matplotlib axes, Cartesian or polar.

Read `prepared.py` first: places are those of its `on_dome`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.fitting import prepared

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.quiver import Quiver

Step: TypeAlias = tuple[FloatArray, FloatArray]

FAINT = "0.6"  # grey that is seen on white and on black
LETTERS_DEG = 97.0  # where the letters stand, degrees from the zenith
VIEW_DEG = 104.0


@dataclass(frozen=True)
class Dome:
    """The dome on Cartesian or polar axes; places are those of `prepared.on_dome`."""

    ax: Axes

    @property
    def is_polar(self) -> bool:
        """Whether the axes are polar ones."""
        return bool(self.ax.name == "polar")

    def at(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Places in the data coordinates of the axes."""
        return (np.arctan2(-x, y), np.hypot(x, y)) if self.is_polar else (x, y)

    def draw(self, horizon: FloatArray) -> None:
        """The rings of height, the letters, and the skyline (k, 2) where one is known."""
        if self.is_polar:
            self._polar()
        else:
            self._cartesian()
        if horizon.size:
            turn = np.linspace(0.0, 360.0, 121)
            skyline = np.interp(turn, horizon[:, 0], horizon[:, 1], period=360.0)
            self.ax.plot(*self.at(*prepared.on_dome(turn, skyline)), "--", color=FAINT, lw=0.8)

    def _polar(self) -> None:
        ax: Any = self.ax
        ax.set_theta_zero_location("N")
        ax.set_theta_direction(1)
        ax.set_rlim(0.0, 90.0)
        ax.set_rgrids([30.0, 60.0], ["60°", "30°"])
        ax.set_thetagrids([0, 90, 180, 270], ["N", "E", "S", "W"])

    def _cartesian(self) -> None:
        ax = self.ax
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set(xlim=(-VIEW_DEG, VIEW_DEG), ylim=(-VIEW_DEG, VIEW_DEG))
        turn = np.linspace(0.0, 360.0, 181)
        for alt, style in ((0.0, "-"), (30.0, ":"), (60.0, ":")):
            ring = prepared.on_dome(turn, np.full_like(turn, alt))
            ax.plot(*ring, style, color=FAINT, lw=0.8)
        for az, letter in ((0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")):
            x, y = prepared.on_dome(np.array([az]), np.array([90.0 - LETTERS_DEG]))
            ax.text(float(x[0]), float(y[0]), letter, ha="center", va="center")

    def arrows(self, at: Step, step: Step, **kwargs: Any) -> Quiver:
        """Arrows from places of the dome by steps in its degrees."""
        if self.is_polar:  # directions on the screen, lengths in parts of the circle's width
            usual: dict[str, Any] = {"angles": "uv", "scale_units": "width", "scale": 180.0}
        else:
            usual = {"angles": "xy", "scale_units": "xy", "scale": 1.0}
        return self.ax.quiver(*self.at(*at), *step, **(usual | {"width": 0.006} | kwargs))
