"""The geometry against a rigid-body engine: the mount is built of bodies and hinges, then posed.

MuJoCo (https://mujoco.org) computes where a body's site stands from the hinges' angles; only its
forward kinematics is used.
"""

from __future__ import annotations

import mujoco
import numpy as np
import pytest

from pointmodel.base.arrays import FloatArray
from pointmodel.mount.kinematics import (
    axes_from_sky,
    directions,
    geometry_from_arcmin,
    sky_from_axes,
)

ARCSEC_PER_RADIAN = 3600.0 * 180.0 / np.pi
CLOSE_ARCSEC = 1e-9  # the engine counts in double precision

# x east, y north, z up. The base leans about a level axis, the azimuth hinge turns clockwise, the
# altitude hinge's right-hand end is high, the site lies left of square to that hinge.
MOUNT = """
<mujoco>
  <compiler angle="radian"/>
  <worldbody>
    <body name="base" quat="{lean}">
      <body name="fork">
        <joint name="azimuth" type="hinge" axis="0 0 -1"/>
        <geom size="0.1" mass="1"/>
        <body name="tube" quat="{tip}">
          <joint name="altitude" type="hinge" axis="1 0 0"/>
          <geom size="0.1" mass="1"/>
          <site name="sight" pos="{sight}"/>
        </body>
      </body>
    </body>
  </worldbody>
</mujoco>
"""

MOUNTS_ARCMIN = [
    (0.0, 0.0, 0.0, 0.0),
    (30.0, 0.0, 0.0, 0.0),
    (0.0, -20.0, 0.0, 0.0),
    (0.0, 0.0, 60.0, 0.0),
    (0.0, 0.0, 0.0, -90.0),
    (12.0, -8.0, 25.0, -25.0),
    (-600.0, 400.0, 420.0, 420.0),
    (300.0, 300.0, -540.0, 100.0),
]


def _figures(values: FloatArray) -> str:
    return " ".join(f"{value:.17g}" for value in values)


class _Mount:
    """A mount with these terms, standing in the engine."""

    def __init__(
        self, collimation: float, non_perpendicularity: float, tilt_north: float, tilt_east: float
    ) -> None:
        arcmin = np.pi / 10800.0
        half_lean = 0.5 * np.hypot(tilt_north, tilt_east) * arcmin
        toward = np.arctan2(tilt_east, tilt_north)
        sine = np.sin(half_lean)
        lean = np.array([np.cos(half_lean), -sine * np.cos(toward), sine * np.sin(toward), 0.0])
        half_tip = 0.5 * non_perpendicularity * arcmin
        tip = np.array([np.cos(half_tip), 0.0, -np.sin(half_tip), 0.0])
        sight = np.array([-np.sin(collimation * arcmin), np.cos(collimation * arcmin), 0.0])
        text = MOUNT.format(lean=_figures(lean), tip=_figures(tip), sight=_figures(sight))
        self.model = mujoco.MjModel.from_xml_string(text)
        self.data = mujoco.MjData(self.model)

    def looks_at(self, az: float, alt: float) -> FloatArray:
        """Unit vector north, east, up with the hinges at these angles, radians."""
        self.data.joint("azimuth").qpos[0] = az
        self.data.joint("altitude").qpos[0] = alt
        mujoco.mj_kinematics(self.model, self.data)
        east, north, up = self.data.site("sight").xpos
        return np.array([north, east, up])


def _apart_arcsec(one: FloatArray, other: FloatArray) -> float:
    return float(np.linalg.norm(np.cross(one, other)) * ARCSEC_PER_RADIAN)


@pytest.mark.parametrize("terms_arcmin", MOUNTS_ARCMIN)
def test_the_tube_looks_where_the_engine_puts_it(terms_arcmin: tuple[float, ...]) -> None:
    mount, geometry = _Mount(*terms_arcmin), geometry_from_arcmin(*terms_arcmin)
    random = np.random.default_rng(7)
    for _ in range(200):
        az, alt = random.uniform(0, 2 * np.pi), random.uniform(-0.3, np.pi + 0.3)
        ours = sky_from_axes(np.array(az), np.array(alt), geometry)
        assert _apart_arcsec(ours, mount.looks_at(az, alt)) < CLOSE_ARCSEC
        assert ours @ mount.looks_at(az, alt) > 0


@pytest.mark.parametrize("terms_arcmin", MOUNTS_ARCMIN)
def test_the_engine_posed_at_our_axis_angles_looks_at_the_star(
    terms_arcmin: tuple[float, ...],
) -> None:
    mount, geometry = _Mount(*terms_arcmin), geometry_from_arcmin(*terms_arcmin)
    random = np.random.default_rng(8)
    for _ in range(200):
        # the lean and the unreachable circle of the worst mount leave the sky below 60° free
        star = directions(random.uniform(0, 2 * np.pi), np.radians(random.uniform(0, 60)))
        az, alt, reachable = axes_from_sky(star, geometry)
        assert reachable
        assert _apart_arcsec(mount.looks_at(float(az), float(alt)), star) < CLOSE_ARCSEC
