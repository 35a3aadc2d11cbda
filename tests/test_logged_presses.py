"""A logged zeroing on the star above loses nothing: what it did to the readings is known."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from bench.move_figures import pressed_after
from bench.nights import night

import pointmodel as pm
from pointmodel.reading.nightlog import NightLog, read_log
from pointmodel.readings.logged import logged_presses, without_presses

NO_ALIGNMENT = {"alignment": {"stars": [], "presses": "logged"}}
HEADER = "target,commanded_az,commanded_alt,centred_az,centred_alt,event,note\n"


def plain_log(seed: int, pairs: int = 9, **options: object) -> NightLog:
    return night(np.random.default_rng(seed), "usual", pairs, **options).log  # type: ignore[arg-type]


def values(fit: pm.Fit) -> np.ndarray:
    return np.array([term.value for term in fit.term_estimates])


@pytest.mark.parametrize("lines", [(3,), (0, 1, 2, 3, 4, 5, 6, 7, 8), (2, 5)])
def test_presses_on_the_star_above_are_taken_out_exactly(lines: tuple[int, ...]) -> None:
    plain = plain_log(1)
    log = pressed_after(plain, lines)
    assert np.flatnonzero(logged_presses(log)).tolist() == list(lines)
    back = without_presses(log, logged_presses(log))
    for name in ("centred_az_deg", "centred_alt_deg"):
        off = getattr(back, name) - getattr(plain, name)
        # all by the same: the readout of the end
        assert np.ptp((off + 180.0) % 360.0) == pytest.approx(0.0, abs=1e-9)
    assert back.centred_alt_deg[-1] == pytest.approx(
        log.centred_alt_deg[-1] - (0 if 8 not in lines else off_of_last(log)), abs=1e-9
    )
    assert not back.events


def off_of_last(log: NightLog) -> float:
    return float(log.centred_alt_deg[-1] - log.commanded_alt_deg[-1])


def test_a_fit_of_a_pressed_log_is_that_of_the_plain_one_with_the_zeros_of_its_end() -> None:
    plain, log = plain_log(2), pressed_after(plain_log(2), (0, 1, 2, 3, 4, 5, 6))
    one, other = pm.fit(plain), pm.fit(log)
    assert len(other.segments) == 1
    assert values(other)[2:] == pytest.approx(values(one)[2:], abs=0.1)
    az_deg, alt_deg = np.array([40.0, 200.0]), np.array([30.0, 60.0])
    shift = log.centred_alt_deg[-1] - plain.centred_alt_deg[-1]
    assert other.aim(az_deg, alt_deg)[1] == pytest.approx(
        one.aim(az_deg, alt_deg)[1] + shift, abs=0.002
    )


def test_level_answers_on_a_pressed_log_as_on_the_plain_one() -> None:
    lean = {"tilt_north": 40.0, "tilt_east": 25.0}
    for seed in range(6):
        plain = plain_log(seed, 8, terms=lean)
        log = pressed_after(plain, tuple(range(8)))
        answers = [pm.level(pm.fit(one, mount=NO_ALIGNMENT), "check") for one in (plain, log)]
        # where the zeros happen to be right an alignment does as well, and the feet may stay
        assert {answer.verdict for answer in answers} <= {"level", "realign"}
        assert answers[1].lean.amount_arcmin == pytest.approx(
            answers[0].lean.amount_arcmin, abs=0.3
        )


def test_a_wrong_star_or_a_poor_centring_that_was_pressed_does_no_harm() -> None:
    made = night(np.random.default_rng(4), "usual", 10, wrong_stars=1)
    (wrong,) = np.flatnonzero(made.bad).tolist()
    fit = pm.fit(pressed_after(made.log, tuple(range(10))))
    assert [aside.line for aside in fit.set_aside] == [int(made.line[wrong])]
    assert values(fit)[4:6] == pytest.approx(values(pm.fit(made.log))[4:6], abs=0.3)


@pytest.mark.parametrize(
    ("column", "slip_deg"), [("centred_alt_deg", 1.0), ("centred_az_deg", 10.0)]
)
def test_a_slip_of_the_pen_in_a_pressed_line_is_undone_before_summing(
    column: str, slip_deg: float
) -> None:
    """The slip was in the log alone; the press took the true miss."""
    log = pressed_after(plain_log(5, 10), tuple(range(10)))
    figures = getattr(log, column).copy()
    figures[4] += slip_deg
    fit = pm.fit(replace(log, **{column: figures % 360.0}))
    assert [aside.line for aside in fit.set_aside] == [int(log.line[4])]
    assert fit.set_aside[0].cause == "log_typo"
    assert len(fit.segments) == 1
    assert values(fit)[4:6] == pytest.approx(values(pm.fit(plain_log(5, 10)))[4:6], abs=1.5)


def test_a_zeroing_on_another_star_is_found_and_said() -> None:
    log = pressed_after(plain_log(6, 12), (5,))
    later = np.arange(12) >= 6
    elsewhere = replace(
        log,
        centred_az_deg=log.centred_az_deg + np.where(later, 0.7, 0.0),
        centred_alt_deg=log.centred_alt_deg - np.where(later, 0.4, 0.0),
    )
    fit = pm.fit(elsewhere)
    (notice,) = [n for n in fit.warnings if n.code == "zeroed_elsewhere"]
    assert f"after line {log.line[5]} was not on the star of that line" in notice.text
    assert [len(part) for part, _ in fit.segments] == [6, 6]


def read(*lines: str) -> NightLog:
    return read_log(io.StringIO(HEADER + "\n".join(lines) + "\n"), NO_ALIGNMENT)


VEGA, DENEB = "Vega,100,40,100.5,40.2,,", "Deneb,150,50,150.2,50.1,,"


def test_a_zeroing_is_on_the_star_above_unless_something_says_otherwise() -> None:
    """Its own line may name another; it may never have been centred; the mount may have moved."""
    assert logged_presses(read(VEGA, ",,,,,zero_on_star,", DENEB)).tolist() == [True, False]
    assert logged_presses(read(VEGA, ",,,,,zero_on_star,on Vega", DENEB))[0]
    assert logged_presses(read(VEGA, ",,,,,zero_on_star,a bit low", DENEB))[0]
    assert not logged_presses(read(VEGA, ",,,,,zero_on_star,on Altair", DENEB)).any()
    assert not logged_presses(read(VEGA, "Altair,,,,,zero_on_star,", DENEB)).any()
    assert not logged_presses(read(VEGA, "Altair,90,30,,,,", ",,,,,zero_on_star,", DENEB)).any()
    assert not logged_presses(read(VEGA, ",,,,,bump + zero_on_star,", DENEB)).any()
    assert not logged_presses(read(",,,,,zero_on_star,", VEGA, DENEB)).any()


def test_a_zeroing_on_a_star_whose_line_was_taken_back_is_not_on_the_star_above() -> None:
    struck = "# undone: Altair,90,30,90.4,30.1,,"
    assert not logged_presses(read(VEGA, struck, ",,,,,zero_on_star,", DENEB)).any()
    assert logged_presses(read(struck, VEGA, ",,,,,zero_on_star,", DENEB))[0]
    taken_back = "# undone: ,,,,,zero_on_star,"
    assert logged_presses(read(VEGA, taken_back, ",,,,,zero_on_star,", DENEB))[0]


def test_after_an_alignment_on_two_stars_a_zeroing_parts_the_log_as_before() -> None:
    log = pressed_after(plain_log(7), (4,))
    fit = pm.fit(log, mount={"alignment": {"stars": ["Vega", "Deneb"]}})
    assert len(fit.segments) == 2
