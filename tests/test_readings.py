"""What the figures mean: each way of reading undone, presses summed, empties counted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from bench.nights import night

import pointmodel as pm
from pointmodel.base.angles import wrap_deg
from pointmodel.reading.asread import COLUMN_FINDINGS, read_as
from pointmodel.reading.mountkeys import ColumnFinding, Side
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.hypotheses import HYPOTHESES, confirmed_by
from pointmodel.readings.pressed import empty_lines
from pointmodel.readings.result import FindingName, ReadingFinding, Readings
from pointmodel.readings.screen import log_evidences, places_of_logs
from pointmodel.readings.sums import can_be_summed, steps_of, summed_after_each
from pointmodel.readings.words import asked, said

GOOD_MOUNT = dict.fromkeys(
    ("azimuth_index", "altitude_index", "collimation", "non_perpendicularity"), 0.3
) | {"tilt_north": 0.3, "tilt_east": -0.3}
WRITTEN = {
    "azimuth_counted_backwards": lambda az, alt: (-az % 360.0, alt),
    "azimuth_from_south": lambda az, alt: ((az + 180.0) % 360.0, alt),
    "zenith_distance": lambda az, alt: (az, 90.0 - alt),
    "hours_not_degrees": lambda az, alt: (az / 15.0, alt),
    "radians_not_degrees": lambda az, alt: (np.radians(az), np.radians(alt)),
    "axes_exchanged": lambda az, alt: (alt, az),
}


def made(seed: int, pairs: int = 12, **options: Any) -> NightLog:
    """A night of which nothing is said of the controller."""
    log = night(np.random.default_rng(seed), "usual", pairs, **options).log
    return replace(log, mount=pm.read_mount({}))


def written(log: NightLog, side: Side, finding: str) -> NightLog:
    """The log as somebody writes it whose figures mean something else."""
    for column in ("commanded", "centred") if side == "both" else (side,):
        az, alt = getattr(log, f"{column}_az_deg"), getattr(log, f"{column}_alt_deg")
        az, alt = WRITTEN[finding](az, alt)
        log = replace(log, **{f"{column}_az_deg": az, f"{column}_alt_deg": alt})
    return log


def corner(log: NightLog) -> NightLog:
    """Only the lines whose azimuths could stand in a column of altitudes."""
    return log.select((log.commanded_az_deg < 85.0) & (log.centred_az_deg < 85.0))


def pressed_after(log: NightLog, pressed: np.ndarray, step_deg: float = 0.0) -> NightLog:
    """What the display shows where "this is the star" is pressed after these lines."""
    off, shown = np.zeros(2), np.empty((len(log), 2))
    for k in range(len(log)):
        az, alt = log.centred_az_deg[k] - off[0], log.centred_alt_deg[k] - off[1]
        shown[k] = az, alt
        if pressed[k]:
            step = float(wrap_deg(np.array([az - log.commanded_az_deg[k]]))[0])
            off = off + np.array([step, alt - log.commanded_alt_deg[k]])
    if step_deg:
        shown = np.round(shown / step_deg) * step_deg
    return replace(log, centred_az_deg=shown[:, 0] % 360.0, centred_alt_deg=shown[:, 1])


def found(fit: pm.Fit) -> dict[str, ReadingFinding]:
    return {one.finding: one for one in fit.readings.findings}


@pytest.mark.parametrize("finding", WRITTEN)
@pytest.mark.parametrize("side", get_args(Side))
def test_figures_read_otherwise_are_those_that_were_meant(
    side: Side, finding: ColumnFinding
) -> None:
    log = made(1, 40)
    log = corner(log) if finding == "axes_exchanged" else log
    read = read_as(written(log, side, finding), side, finding)
    assert read is not None
    for name in ("commanded_az_deg", "commanded_alt_deg", "centred_az_deg", "centred_alt_deg"):
        assert np.allclose(getattr(read.log, name), getattr(log, name), atol=1e-9)


def test_the_change_of_density_is_that_of_the_figures() -> None:
    """By finite differences: how the area on the sky grows with the two figures of a line."""
    log = made(2, 6)
    for finding in ("hours_not_degrees", "radians_not_degrees", "zenith_distance"):
        as_written = written(log, "centred", finding)
        read = read_as(as_written, "centred", finding)
        assert read is not None
        step, area = 1e-6, np.ones(len(log))
        for name in ("az", "alt"):
            moved = replace(
                as_written,
                **{f"centred_{name}_deg": getattr(as_written, f"centred_{name}_deg") + step},
            )
            again = read_as(moved, "centred", finding)
            assert again is not None
            before = getattr(read.log, f"centred_{name}_deg")
            area *= np.abs(getattr(again.log, f"centred_{name}_deg") - before) / step
        area *= np.cos(np.radians(read.log.centred_alt_deg))
        area /= np.cos(np.radians(as_written.centred_alt_deg))
        assert read.log_jacobian == pytest.approx(np.log(area).sum(), abs=1e-3)


def test_figures_that_cannot_be_so_are_not_read_so() -> None:
    log = made(1)
    assert read_as(log, "centred", "hours_not_degrees") is None
    assert read_as(log, "centred", "axes_exchanged") is None


@pytest.mark.parametrize(
    ("side", "finding"),
    [("commanded" if k % 2 else "centred", finding) for k, finding in enumerate(WRITTEN)],
)
def test_one_misread_column_is_named_taken_up_and_said_first(side: Side, finding: str) -> None:
    log = made(5, 40 if finding == "axes_exchanged" else 10, terms=GOOD_MOUNT)
    log = corner(log) if finding == "axes_exchanged" else log
    fit, plain = pm.fit(written(log, side, finding)), pm.fit(log)
    assert list(found(fit)) == [finding]
    one = found(fit)[finding]
    if finding == "azimuth_from_south":  # an index of half a turn fits as well: a question
        assert fit.readings.question is not None
        assert fit.readings.question.answer_in == "[log] figures"
        return
    assert one.taken_up
    assert str(fit).startswith(one.text[:40])
    assert str(fit).count(one.text[:40]) == 1
    assert fit.noise.sigma_arcmin == pytest.approx(plain.noise.sigma_arcmin, rel=0.3)


def test_feet_wait_until_the_owner_has_confirmed_and_not_longer() -> None:
    mount = {
        "alignment": {"stars": []},
        "optics": {"field_of_view": 20},
        "entered": {"verified": True},
        "feet": {"radius": 430, "azimuths": [0, 120, 240], "screw_pitch": 1.5},
    }
    log = made(5, terms=GOOD_MOUNT | {"tilt_east": 45.0, "altitude_index": 30.0})
    backwards = written(log, "centred", "azimuth_counted_backwards")
    waiting = pm.level(pm.fit(backwards, mount=mount))
    assert waiting.verdict == "cannot_tell"
    assert 'figures = {centred = "azimuth_counted_backwards"}' in waiting.reason
    told = mount | {"log": {"figures": {"centred": "azimuth_counted_backwards"}}}
    fit = pm.fit(backwards, mount=told)
    assert found(fit)["azimuth_counted_backwards"].confirmed
    plain = pm.level(pm.fit(log, mount=mount))
    assert pm.level(fit).verdict == plain.verdict == "level"
    assert pm.level(fit).lean.amount_arcmin == pytest.approx(plain.lean.amount_arcmin, abs=0.5)


def test_what_the_owner_says_of_the_figures_is_not_weighed() -> None:
    log = made(5, terms=GOOD_MOUNT)
    as_they_are = pm.fit(written(log, "centred", "azimuth_from_south"), {"log": {"figures": {}}})
    assert as_they_are.readings.findings == ()
    with pytest.raises(pm.InputError, match="zenith_distance"):
        pm.fit(log, {"log": {"figures": {"centred": "upside_down"}}})


def test_sums_give_back_the_figures_of_a_controller_on_which_nothing_was_pressed() -> None:
    log = made(3)
    summed = summed_after_each(pressed_after(log, np.ones(len(log), dtype=bool)))
    assert summed is not None
    # but for its zeros, which are those that the last press left
    assert np.ptp(wrap_deg(summed.log.centred_az_deg - log.centred_az_deg)) < 1e-9
    assert np.ptp(summed.log.centred_alt_deg - log.centred_alt_deg) < 1e-9


def test_a_slip_of_the_pen_was_never_pressed_and_does_not_add_up() -> None:
    log = made(3)
    shown = pressed_after(log, np.ones(len(log), dtype=bool))
    alt = shown.centred_alt_deg.copy()
    alt[4] += 10.0
    summed = summed_after_each(replace(shown, centred_alt_deg=alt))
    assert summed is not None
    off = summed.log.centred_alt_deg - log.centred_alt_deg
    assert np.flatnonzero(np.abs(off - np.median(off)) > 1e-6).tolist() == [4]


def test_presses_after_each_star_are_found_and_the_lean_is_that_of_the_raw_log() -> None:
    errors = []
    for seed in range(3):
        log = made(seed, 6, terms={"tilt_north": 40.0, "tilt_east": -20.0})
        fit = pm.fit(pressed_after(log, np.ones(6, dtype=bool)))
        assert found(fit)["synced_after_each"].taken_up
        lean = [fit.terms.value[name] for name in ("tilt_north", "tilt_east")]
        raw = [pm.fit(log).terms.value[name] for name in ("tilt_north", "tilt_east")]
        errors.append(np.hypot(*np.subtract(lean, raw)))
    assert np.median(errors) < 0.5


def test_presses_after_some_stars_are_found_with_their_lines() -> None:
    pressed = np.zeros(10, dtype=bool)
    pressed[[2, 3, 6]] = True
    log = made(4, 10, terms={"tilt_north": 40.0, "tilt_east": -20.0, "collimation": 15.0})
    one = found(pm.fit(pressed_after(log, pressed)))["synced_after_some"]
    assert one.taken_up
    assert one.lines == tuple(int(line) for line in log.line[pressed])


def test_presses_that_the_owner_states_are_summed_and_those_denied_are_not() -> None:
    log = made(3)
    shown = pressed_after(log, np.ones(len(log), dtype=bool))
    stated = pm.fit(shown, {"alignment": {"presses": "each_star"}})
    assert found(stated)["synced_after_each"].confirmed
    assert stated.readings.feet_wait is None
    denied = pm.fit(shown, {"alignment": {"presses": "none"}})
    assert not {"synced_after_each", "synced_after_some"} & set(found(denied))
    aligned = pm.fit(shown, {"alignment": {"stars": ["Achernar", "Canopus"]}})
    assert not can_be_summed(aligned.as_written)
    assert "synced_after_each" not in found(aligned)


@pytest.mark.parametrize("population", ["usual", "varied", "worse"])
def test_logs_on_which_nothing_was_pressed_are_not_summed(population: str) -> None:
    for seed in range(12):
        rng = np.random.default_rng([seed, 5])
        log = night(rng, population, int(rng.integers(3, 13))).log  # type: ignore[arg-type]
        assert set(found(pm.fit(log, mount={}))) <= {"azimuth_from_south"}


def after_press(log: NightLog, by: np.ndarray, step_deg: float) -> NightLog:
    """Readings noted after the press: the commanded place on the display, steps `by` beside it."""
    shown = np.stack([log.commanded_az_deg, log.commanded_alt_deg])
    shown = np.round(shown / step_deg) * step_deg + by * step_deg
    return replace(log, centred_az_deg=shown[0] % 360.0, centred_alt_deg=shown[1])


def test_readings_noted_after_the_press_get_no_order_and_are_not_called_good() -> None:
    log = made(6, 8, terms={"tilt_north": 60.0})
    fit = pm.fit(after_press(log, np.zeros((2, 8)), 1 / 3600))
    assert found(fit)["readings_after_sync"].taken_up
    assert fit.advice.state in ("log_again", "ask")
    assert fit.causes == ()
    assert fit.advice.actions == ("log_again",)
    assert "Log again" in str(fit)
    assert "good" not in str(fit)
    assert pm.level(fit).verdict == "cannot_tell"
    document = fit.to_dict()
    assert document["forecast"] == []
    assert document["readings"]["findings"][0]["finding"] == "readings_after_sync"


def test_a_display_too_coarse_to_tell_makes_it_a_question() -> None:
    fit = pm.fit(after_press(made(6, 8), np.zeros((2, 8)), 0.1))
    assert not found(fit)["readings_after_sync"].taken_up
    assert fit.readings.question is not None
    assert fit.readings.question.answer_in == "[alignment] noted"
    assert fit.advice.state in ("log_again", "ask")
    assert str(fit).startswith("Did you note")


def test_even_many_equal_lines_of_a_coarse_display_are_but_asked_about() -> None:
    for pairs in (12, 20, 30):
        fit = pm.fit(after_press(made(6, pairs), np.zeros((2, pairs)), 0.1))
        assert not found(fit)["readings_after_sync"].taken_up
        assert fit.readings.question is not None


def test_a_display_of_three_arcminutes_is_not_proof_even_where_presses_were_logged() -> None:
    log = after_press(made(6, 20), np.zeros((2, 20)), 0.05)
    fit = pm.fit(log, {"alignment": {"presses": "logged"}})
    assert not found(fit)["readings_after_sync"].taken_up
    assert fit.readings.question is not None


def test_lines_that_are_plainly_empty_are_left_out_and_named() -> None:
    log = made(6, 9, readout_step_arcsec=1.0)
    az, alt = log.centred_az_deg.copy(), log.centred_alt_deg.copy()
    az[[2, 5]], alt[[2, 5]] = log.commanded_az_deg[[2, 5]], log.commanded_alt_deg[[2, 5]]
    fit = pm.fit(replace(log, centred_az_deg=az, centred_alt_deg=alt))
    assert found(fit)["readings_after_sync"].lines == tuple(int(n) for n in log.line[[2, 5]])
    assert (fit.pairs_read, len(fit.log)) == (9, 7)
    assert fit.readings.stops is None


def test_good_mounts_read_on_coarse_displays_are_not_taken_for_empty_logs() -> None:
    asked_about = 0
    for seed in range(60):
        rng = np.random.default_rng([seed, 6])
        step = (1.0, 36.0, 60.0)[seed % 3]
        log = night(
            rng, "usual", 8, terms=GOOD_MOUNT, sigma_arcmin=0.9, readout_step_arcsec=step
        ).log
        empties = empty_lines(log)
        margin = -99.0 if empties is None else empties.log_factor - 4.0
        assert margin < 3.0
        asked_about += margin > -3.0
    assert asked_about <= 3


@pytest.mark.parametrize("spoil", ["shifted", "random"])
def test_hopeless_logs_get_no_name_and_no_order(spoil: str, tmp_path: Path) -> None:
    for seed in range(2):
        log = made(seed, 9)
        rng = np.random.default_rng(seed)
        if spoil == "shifted":
            az, alt = np.roll(log.centred_az_deg, 1), np.roll(log.centred_alt_deg, 1)
        else:
            az, alt = rng.uniform(0.0, 360.0, 9), rng.uniform(15.0, 75.0, 9)
        fit = pm.fit(replace(log, centred_az_deg=az, centred_alt_deg=alt))
        assert list(found(fit)) == ["fits_no_mount"]
        assert fit.readings.stops.startswith(fit.summary.rstrip("…"))
        assert fit.advice.state in ("log_again", "ask")
        assert "Go-to is good" not in str(fit)
        page = fit.report(tmp_path / f"{seed}.html").read_text("utf-8")
        for told in (str(fit), page):
            assert "another star was centred" not in told  # no line of it gets a name either


@pytest.mark.parametrize(("wrong", "hopeless"), [(10, True), (8, False)])
def test_a_log_of_which_half_is_wrong_fits_no_mount(wrong: int, hopeless: bool) -> None:
    fit = pm.fit(made(0, 20, wrong_stars=wrong))
    assert fit.pair_results.set_aside.sum() == wrong
    assert (list(found(fit)) == ["fits_no_mount"]) is hopeless
    assert (fit.readings.stops is not None) is hopeless


def test_of_three_pairs_nobody_says_that_they_fit_no_mount() -> None:
    rng = np.random.default_rng(1)
    log = made(1, 3)
    az, alt = rng.uniform(0.0, 360.0, 3), rng.uniform(15.0, 75.0, 3)
    assert pm.fit(replace(log, centred_az_deg=az, centred_alt_deg=alt)).readings.stops is None


def test_loose_centring_is_a_cause_and_not_a_hopeless_log() -> None:
    for seed in range(4):
        fit = pm.fit(made(seed, 14, sigma_arcmin=4.5))
        assert fit.readings.stops is None
    stated = made(1, 14, sigma_arcmin=9.0)
    assert pm.fit(stated, {"optics": {"centring_error": 9}}).readings.stops is None


def test_a_quick_look_orders_readings_as_the_estimator_does() -> None:
    log = made(7, 8)
    backwards = written(log, "centred", "azimuth_counted_backwards")
    quick = log_evidences(places_of_logs([log, backwards]))
    assert quick[0] > quick[1] + 20.0


def test_every_finding_has_an_entry_with_a_reason_and_words() -> None:
    assert set(HYPOTHESES) == set(get_args(FindingName))
    for finding, one in HYPOTHESES.items():
        assert one.reason
        if finding != "fits_no_mount":
            assert asked(finding, ("both",)).ask.endswith("?")
            assert confirmed_by(finding, ("centred",)) in said(finding, ("centred",))
    assert set(COLUMN_FINDINGS) <= set(HYPOTHESES)


def test_unknown_gives_no_order() -> None:
    waiting = ReadingFinding(
        finding="zenith_distance", probability=0.99, taken_up=True, lines=(), text="…"
    )
    assert "Turn no foot" in (Readings(findings=(waiting,)).feet_wait or "")
    assert Readings(findings=(replace(waiting, confirmed=True),)).feet_wait is None
    assert Readings().feet_wait is None


def test_misses_as_written_go_the_short_way_round() -> None:
    log = replace(made(1, 2), commanded_az_deg=np.array([359.9, 0.1]))
    log = replace(log, centred_az_deg=np.array([0.1, 359.9]))
    assert np.allclose(steps_of(log)[:, 0], [0.2, -0.2])
