"""The feet's rises against rigid bodies: a plane by singular values, and a physics engine.

MuJoCo (https://mujoco.org) builds the base of a body with a sliding screw a foot. In one test it
only says where the ends stand; in the other the base settles on leaning ground under gravity.
One millimetre in a metre is 3.4377′, as tables for setting up machines and instruments have it.
"""

from __future__ import annotations

import mujoco
import numpy as np
import pytest
from bench.levelling_figures import WAYS, lean_left_arcmin, plane_normal

from pointmodel.base.arrays import FloatArray
from pointmodel.levelling.feet import foot_orders, rises_mm
from pointmodel.reading.mountfile import Feet

ARCMIN = np.pi / 10800.0
EXACT_ARCMIN = 1e-7
SETTLED_ARCMIN = 0.5  # the engine's contacts yield by some .05 mm under uneven loads
TRIPODS = [(0.0, 120.0, 240.0), (17.0, 110.0, 260.0), (45.0, 135.0, 225.0, 315.0)]
LEANS_ARCMIN = [(0.0, 0.0), (30.0, 0.0), (0.0, -12.0), (26.68, 73.30), (-300.0, 480.0)]

WORLD = """
<mujoco>
  <option timestep="0.001" integrator="implicitfast"/>
  <worldbody>
    {ground}
    <body name="base" pos="0 0 {height}">
      {free}
      <geom type="cylinder" size="0.1 0.01" mass="20" contype="0" conaffinity="0"/>
      {feet}
    </body>
  </worldbody>
</mujoco>
"""
# x east, y north; each screw runs along the base's own axis
SLIDING = (
    '<body name="foot{k}" pos="{x} {y} 0"><joint name="screw{k}" type="slide" axis="0 0 -1"/>'
    '<geom size=".01" mass=".1"/><site name="end{k}"/></body>'
)
FIXED = (
    '<geom name="foot{k}" pos="{x} {y} {z}" size=".02" mass=".1" condim="4" friction="2 .1 .1"'
    ' solref=".002 1" solimp=".999 .9999 .0001"/>'
)


def _feet_text(pattern: str, radius_m: float, azimuths_deg: FloatArray, rises_m: FloatArray) -> str:
    angle = np.radians(azimuths_deg)
    return "".join(
        pattern.format(k=k, x=radius_m * np.sin(a), y=radius_m * np.cos(a), z=-rise)
        for k, (a, rise) in enumerate(zip(angle, rises_m, strict=True))
    )


def _leaning(north_arcmin: float, east_arcmin: float) -> FloatArray:
    """The direction (north, east, up) of what leans so."""
    lean = np.hypot(north_arcmin, east_arcmin) * ARCMIN
    toward = np.arctan2(east_arcmin, north_arcmin)
    return np.array([np.sin(lean) * np.cos(toward), np.sin(lean) * np.sin(toward), np.cos(lean)])


def _apart_arcmin(one: FloatArray, other: FloatArray) -> float:
    return float(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other) / ARCMIN)


def test_a_millimetre_in_a_metre_is_3_4377_arcminutes() -> None:
    rises = rises_mm(1000.0, np.array([0.0, 90.0]), 3.4377, 0.0)
    assert rises == pytest.approx([1.0, 0.0], abs=2e-5)


@pytest.mark.parametrize("azimuths", TRIPODS)
@pytest.mark.parametrize("lean", LEANS_ARCMIN)
@pytest.mark.parametrize("way", WAYS)
def test_the_plane_through_the_feet_then_leaves_no_lean(
    azimuths: tuple[float, ...], lean: tuple[float, float], way: str
) -> None:
    orders = foot_orders(Feet(430.0, azimuths, 1.5), np.array(lean), np.zeros((1, 2)))
    turned = np.array([getattr(order, f"{way}_mm") for order in orders])
    assert lean_left_arcmin(430.0, np.array(azimuths), turned, *lean) < EXACT_ARCMIN


@pytest.mark.parametrize("azimuths", TRIPODS)
@pytest.mark.parametrize("lean", LEANS_ARCMIN)
def test_the_ends_of_the_screws_lie_in_the_engine_as_the_ground_leans(
    azimuths: tuple[float, ...], lean: tuple[float, float]
) -> None:
    foot = np.array(azimuths)
    body = _feet_text(SLIDING, 0.43, foot, np.zeros(foot.size))
    model = mujoco.MjModel.from_xml_string(WORLD.format(ground="", free="", feet=body, height=1))
    data = mujoco.MjData(model)
    for k, rise in enumerate(rises_mm(430.0, foot, *lean)):
        data.joint(f"screw{k}").qpos[0] = rise / 1000.0
    mujoco.mj_kinematics(model, data)
    ends = np.array([data.site(f"end{k}").xpos[[1, 0, 2]] for k in range(foot.size)])
    assert _apart_arcmin(plane_normal(ends), _leaning(*lean)) < EXACT_ARCMIN


@pytest.mark.parametrize("azimuths", TRIPODS[:2])
@pytest.mark.parametrize("way", WAYS)
def test_a_base_that_settles_on_leaning_ground_stands_upright(
    azimuths: tuple[float, ...], way: str
) -> None:
    lean = (26.68, 73.30)
    orders = foot_orders(Feet(430.0, azimuths), np.array(lean), np.zeros((1, 2)))
    turned = np.array([getattr(order, f"{way}_mm") for order in orders]) / 1000.0
    assert _settled_lean_arcmin(azimuths, turned, lean) < SETTLED_ARCMIN
    untouched = _settled_lean_arcmin(azimuths, 0.0 * turned, lean)
    assert untouched == pytest.approx(np.hypot(*lean), abs=SETTLED_ARCMIN)
    wrong_way = _settled_lean_arcmin(azimuths, -turned, lean)
    assert wrong_way == pytest.approx(2 * np.hypot(*lean), abs=SETTLED_ARCMIN)


def _settled_lean_arcmin(
    azimuths: tuple[float, ...], turned_m: FloatArray, lean: tuple[float, float]
) -> float:
    """How far the base's axis stands from the zenith once it came to rest, arcminutes."""
    up = _leaning(*lean)
    ground = f'<geom type="plane" size="5 5 .1" zaxis="{up[1]} {up[0]} {up[2]}" condim="4"/>'
    body = _feet_text(FIXED, 0.43, np.array(azimuths), turned_m)
    world = WORLD.format(ground=ground, free="<freejoint/>", feet=body, height=0.05)
    model = mujoco.MjModel.from_xml_string(world)
    data = mujoco.MjData(model)
    mujoco.mj_step(model, data, 2000)
    assert np.abs(data.qvel).max() < 1e-3
    east, north, height = data.body("base").xmat.reshape(3, 3)[:, 2]
    return _apart_arcmin(np.array([north, east, height]), np.array([0.0, 0.0, 1.0]))
