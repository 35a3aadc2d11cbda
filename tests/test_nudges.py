"""Nudges in place of what the mount read: how they are written, what they mean, there and back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from astropy import units as u
from astropy.coordinates import SkyCoord, SkyOffsetFrame
from logtexts import codes, log_of, problems_of

import pointmodel as pm
from pointmodel.base.angles import wrap_deg
from pointmodel.base.arrays import FloatArray
from pointmodel.base.offsets import step_on_sky_deg
from pointmodel.reading.nudges import parse_nudge_arcmin
from pointmodel.simulation.mount import pointed_deg, readings_deg
from pointmodel.simulation.night import SimulatedNight

MOUNT = {
    "site": {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"},
    "optics": {"field_of_view": 48},
}
HEADER = "commanded_az,commanded_alt,nudge_right,nudge_up"
ARCSEC_DEG = 1 / 3600


def looked_deg(
    night: SimulatedNight, az_deg: FloatArray, alt_deg: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where the made mount looks at these readings, at the end of its night."""
    at = replace(
        night.circumstances,
        **{
            name: np.broadcast_to(getattr(night.circumstances, name)[-1], az_deg.shape)
            for name in ("az_motion", "alt_motion", "hours", "slipped")
        },
    )
    return pointed_deg(az_deg, alt_deg, night.terms, at)


def stepped(az: Any, alt: Any, right_arcmin: Any, up_arcmin: Any) -> SkyCoord:
    """Where a step from there ends, by astropy's frame of offsets."""
    frame = SkyOffsetFrame(origin=SkyCoord(az, alt, unit="deg"))
    return SkyCoord(right_arcmin * u.arcmin, up_arcmin * u.arcmin, frame=frame).icrs


# How they are written ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "arcmin"),
    [
        ("12", 12.0), ("-12'", -12.0), ("−12′", -12.0), ("0.4°", 24.0), ('40"', 40 / 60),
        ("40″", 40 / 60), ("0.5 f", 24.0), ("-.25f", -12.0), ("1 field", 48.0), ("+3.5 '", 3.5),
        ("12′ left", -12.0), ("12' Right", 12.0), ("0", 0.0), ("40''", 40 / 60),
    ],
)  # fmt: skip
def test_a_nudge_is_read_as_people_write_it(text: str, arcmin: float) -> None:
    assert parse_nudge_arcmin(text, "nudge_right", False, 48.0) == pytest.approx(arcmin)


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ("10,20,a bit,3", "nudge_right", "arcminutes such as 12 or 12'"),
        ("10,20,3,", "nudge_up", "0 where the tube had not to go that way"),
        ("10,20,12 up,3", "nudge_right", "right or left in this column, not up"),
        ("10,20,-12 left,3", "nudge_right", "either a sign or the word left"),
        ("10,20,40°,3", "nudge_right", "a nudge of at most 30°"),
        ("10,20,0.5 f,3", "nudge_right", "field_of_view under .optics. in the mount file"),
        ("10,89.9,30,3", "nudge_right", "too near the zenith"),
    ],
)
def test_what_is_no_nudge_is_refused_with_its_line(row: str, column: str, wanted: str) -> None:
    (found,) = problems_of(f"{HEADER}\n100,40,1,2\n{row}\n")
    assert found[:2] == (3, column)
    with pytest.raises(pm.InputError, match=wanted):
        log_of(f"{HEADER}\n{row}\n")


@pytest.mark.parametrize("others", ["centred_az,centred_alt", "seen_az,seen_alt", "seen_ra"])
def test_a_log_holds_nudges_or_places_not_both(others: str) -> None:
    with pytest.raises(pm.InputError, match="wanted one of: centred_az and centred_alt"):
        log_of(f"{HEADER},{others}\n")


def test_one_nudge_column_asks_for_the_other() -> None:
    with pytest.raises(pm.InputError, match="wanted nudge_up too"):
        log_of("commanded_az,commanded_alt,nudge_right\n")


# What they mean ---------------------------------------------------------------------------------


def test_the_star_stands_so_far_from_where_the_tube_looked() -> None:
    log = log_of(f"{HEADER}\n123.5,45,12',-0.5f\n10,70,-2°,1°\n200,30,,\n", MOUNT)
    assert log.camera
    assert log.nudged
    assert log.has_both.tolist() == [True, True, False]
    there = stepped(log.star_az_deg[:2], log.star_alt_deg[:2], [12, -120], [-24, 60])
    star = SkyCoord(log.commanded_az_deg[:2], log.commanded_alt_deg[:2], unit="deg")
    assert there.separation(star).max().to_value(u.deg) < 1e-3 * ARCSEC_DEG
    np.testing.assert_array_equal(log.reading_az_deg, log.commanded_az_deg)


def test_the_pairs_of_a_nudge_log_are_nudges_again() -> None:
    log = log_of(f"{HEADER}\n123.5,45,12',-0.5f\n10,70,-2°,1°\n200,30,,\n", MOUNT)
    np.testing.assert_allclose(log.pairs["nudge_right"], [12, -120, np.nan])
    again = pm.read_log(log.pairs, MOUNT)
    assert again.nudged
    np.testing.assert_allclose(again.star_alt_deg, log.star_alt_deg)


def test_a_saved_fit_keeps_that_they_were_nudges(tmp_path: Path) -> None:
    fit = pm.fit(log_of(nudge_text(pm.simulate(seed=8, pairs=8)), MOUNT))
    again = pm.load_fit(fit.save(tmp_path / "night.json"))
    assert again.log.nudged
    np.testing.assert_array_equal(again.terms["value"], fit.terms["value"])


# There and back ---------------------------------------------------------------------------------


def nudge_text(night: SimulatedNight, decimals: int = 2) -> str:
    """A simulated night as it is logged by nudges: sent by name, then nudged to the star."""
    log = night.log
    at = night.circumstances
    looked = pointed_deg(log.commanded_az_deg, log.commanded_alt_deg, night.terms, at)
    frame = SkyOffsetFrame(origin=SkyCoord(*looked, unit="deg"))
    step = SkyCoord(log.commanded_az_deg, log.commanded_alt_deg, unit="deg").transform_to(frame)
    rows = zip(
        log.target,
        log.pairs["time"].map(lambda moment: moment.isoformat()),
        log.commanded_az_deg,
        log.commanded_alt_deg,
        step.lon.wrap_at("180d").to_value(u.arcmin),
        step.lat.to_value(u.arcmin),
        strict=True,
    )
    lines = [
        f"{name},{time},{az:.6f},{alt:.6f},{right:.{decimals}f},{up:.{decimals}f}"
        for name, time, az, alt, right, up in rows
    ]
    return "\n".join([f"target,time,{HEADER}", *lines, ""])


SHARP: dict[str, Any] = {"sigma_arcmin": 0.02, "readout_step_arcsec": 0.0, "mount": MOUNT}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_nudge_log_gives_the_terms_of_the_axis_log(seed: int) -> None:
    night = pm.simulate(seed=seed, pairs=14, mount_class="usual", **SHARP)
    axes = pm.fit(night.log).terms["value"][:6]
    log = log_of(nudge_text(night), MOUNT)
    nudges = pm.fit(log).terms["value"][:6]
    true = np.array([night.terms[name] for name in axes.index])
    np.testing.assert_allclose(nudges, true, atol=0.06)  # nudges to .01′ and σ .02′
    np.testing.assert_allclose(nudges, axes, atol=0.08)
    assert codes(log) == ["nudges"]


@pytest.mark.parametrize("extra", [{}, {"tube_flexure": 8.0}, {"collimation": 35.0}])
def test_the_nudge_that_aim_gives_lands_on_the_star(extra: dict[str, float]) -> None:
    night = pm.simulate(seed=4, pairs=30, terms={"altitude_index": 12.0, **extra}, **SHARP)
    fit = pm.fit(night.log)
    names = ["Antares", "Canopus", "Spica", "Acrux", "Regulus"]
    aimed = pm.aim(fit, names, at="2031-05-17T22:00+10:00").targets
    ready = [target for target in aimed if target.nudge is not None]
    assert len(ready) >= 3
    az_deg, alt_deg = np.array([(t.asked_az_deg, t.asked_alt_deg) for t in ready]).T
    looked = looked_deg(night, az_deg, alt_deg)  # sent by name the mount reads the star's place
    nudges = np.array([(t.nudge.right_arcmin, t.nudge.up_arcmin) for t in ready]).T
    assert np.hypot(*nudges).max() > 10
    there = stepped(*looked, *nudges)
    star = SkyCoord(az_deg, alt_deg, unit="deg")
    assert there.separation(star).max().to_value(u.arcmin) < 0.15


def test_right_and_left_exchanged_fit_no_mount_and_this_is_what_to_look_at() -> None:
    terms = {"azimuth_index": 14, "altitude_index": -8, "tilt_north": 25, "tilt_east": -18}
    night = pm.simulate(seed=21, pairs=9, mount=MOUNT, terms=terms)
    frame = log_of(nudge_text(night), MOUNT).pairs
    told = MOUNT | {"alignment": {"stars": [], "presses": "none"}}
    fit = pm.fit(frame.assign(nudge_right=-frame["nudge_right"]), mount=told)
    asked = "Were right and left, or up and down, exchanged in the nudges?"
    assert asked in " ".join(str(fit).split())
    assert pm.level(fit).verdict != "level"


def pressed_night(seed: int, pairs: int) -> pd.DataFrame:
    """A night of nudges on which "this is the star" was pressed after each centring."""
    terms = {"tilt_north": 30.0, "tilt_east": -20.0}
    night = pm.simulate(seed=seed, pairs=pairs, terms=terms, **SHARP)
    frame, rng = night.log.pairs, np.random.default_rng(seed)
    behind_deg = np.zeros(2)  # by how much the axes read more than the display since the last press
    nudges = []
    for k in range(pairs):
        place = frame[["commanded_az", "commanded_alt"]].to_numpy()[k : k + 1].T
        at = replace(
            night.circumstances,
            **{
                name: getattr(night.circumstances, name)[k : k + 1]
                for name in ("az_motion", "alt_motion", "hours", "slipped")
            },
        )
        looked = pointed_deg(*(place + behind_deg[:, None]), night.terms, at)
        off_arcmin = rng.normal(0.0, 1.0, 2)
        step = np.array(step_on_sky_deg(*looked, *place))[:, 0] * 60.0
        nudges.append(np.round(step + off_arcmin))
        axes = readings_deg(*place, night.terms, at, *off_arcmin)
        behind_deg = wrap_deg(np.array(axes)[:, 0] - place[:, 0])
    right, up = np.array(nudges).T
    return frame.drop(columns=["centred_az", "centred_alt"]).assign(nudge_right=right, nudge_up=up)


@pytest.mark.parametrize("presses", ["unknown", "each_star"])
@pytest.mark.parametrize("pairs", [4, 9])
def test_presses_after_each_nudge_are_found_and_undone(pairs: int, presses: str) -> None:
    told = MOUNT | {"alignment": {"stars": [], "presses": presses}}
    for seed in range(3):
        fit = pm.fit(pressed_night(seed, pairs), mount=told)
        assert [one.finding for one in fit.readings.taken_up] == ["synced_after_each"]
        assert fit.sky_evidence is not None
        assert fit.sky_evidence.verdict == "agrees"  # the stars were where the controller put them
        if pairs > 4:
            lean = fit.terms.loc[["tilt_north", "tilt_east"], "value"] - [30.0, -20.0]
            assert np.hypot(*lean) < 2.5


def test_where_nothing_was_pressed_no_presses_are_found() -> None:
    told = MOUNT | {"alignment": {"stars": [], "presses": "unknown"}}
    for seed in range(4):
        night = pm.simulate(seed=seed, pairs=8, mount=MOUNT, readout_step_arcsec=0.0)
        assert pm.fit(log_of(nudge_text(night, 0), told)).readings.taken_up == ()


def test_the_clock_of_a_nudge_log_is_checked_by_its_commanded_places() -> None:
    for error_min, verdict in ((0.0, "agrees"), (4.0, "disagrees")):
        night = pm.simulate(seed=5, pairs=10, mount=MOUNT, sidereal_error_min=error_min)
        log = log_of(nudge_text(night), MOUNT)
        assert pm.check(log).verdict == verdict
        evidence = pm.fit(log).sky_evidence
        assert evidence is not None
        assert evidence.verdict == verdict


def test_of_taps_nobody_is_warned_that_their_way_may_be_the_wrong_one() -> None:
    head = "commanded_az,commanded_alt,nudge_right,nudge_up,tapped\n"
    tapped = "10,40,-3.5,4,3.5 4\n"
    assert codes(log_of(f"{head}{tapped}20,50,0,0,\n")) == []
    assert codes(log_of(f"{head}{tapped}20,50,2,0,\n")) == ["nudges"]
