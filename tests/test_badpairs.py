"""Bad pairs: every slip of the pen is undone, scored and named; good pairs stay in."""

from __future__ import annotations

import re

import numpy as np
import pytest
from observed import chosen_terms, observed, seeded_night, settled, winner

import pointmodel as pm
from pointmodel.base.angles import parse_angle_deg
from pointmodel.estimate.badpairs import log_wrong_star, score_bad
from pointmodel.estimate.lostfigures import LOST_SLIPS
from pointmodel.estimate.penslips import PEN_SLIPS as UNDONE
from pointmodel.estimate.penslips import log_shares, slip_hint, undo_slips
from pointmodel.estimate.search import Candidate
from pointmodel.mount.kinematics import ARCMIN_PER_RADIAN
from pointmodel.mount.priors import WRONG_STAR_WITHIN_ARCMIN
from pointmodel.simulation.faults import PEN_SLIPS, possible_slips
from pointmodel.simulation.night import SimulatedNight

WORDS = {
    "one_degree": " 1° ",
    "ten_degrees": " 10° ",
    "altitude_sign": "the sign of the ",
    "degree_digits": "two digits of the ",
    "columns_swapped": "azimuth and altitude are swapped",
    "minute_digits": "the minutes of the ",
    "one_figure_twice": "one figure stands as azimuth and as altitude",
    "five_degrees": " 5° ",
    "hundred_degrees": " 100° ",
    "one_digit": "one digit of ",
    "line_copied": "of the line before",
    "minutes_dropped": "left out",
    "minutes_as_decimals": "as decimals",
}
SHIFTS = {"one_degree", "five_degrees", "ten_degrees", "hundred_degrees"}
# what was meant is lost: the other lines say it, not the figures
LOST = {"one_figure_twice", "one_digit", "line_copied", "minutes_dropped"}
SIDES = pytest.mark.parametrize("side", ["centred", "commanded"])
KINDS = pytest.mark.parametrize("kind", [kind for kind in PEN_SLIPS if kind not in LOST])
# a pair whose correction is 0.3° and −0.2°
STAR = [(43.27, 12.85), (125.4, 37.1), (301.7, 61.35), (4.5, 8.9)]
ROUNDING_DEG = 1e-9


def _undone(
    star: tuple[float, float], reading: tuple[float, float]
) -> list[tuple[np.ndarray, np.ndarray, str]]:
    """Star and reading (2,) after each possible slip was undone, with the slip's name."""
    undone = undo_slips(*(np.array([value]) for value in (*star, *reading)))
    found = []
    for index in np.flatnonzero(undone.possible[0]):
        stars = np.array([undone.star_az_deg[0, index], undone.star_alt_deg[0, index]])
        readings = np.array([undone.reading_az_deg[0, index], undone.reading_alt_deg[0, index]])
        found.append((stars, readings, slip_hint(int(index))))
    return found


@SIDES
@KINDS
@pytest.mark.parametrize("star", STAR)
def test_every_wrong_entry_of_every_kind_is_undone_and_named(
    star: tuple[float, float], kind: str, side: str
) -> None:
    reading = star[0] + 0.3, star[1] - 0.2
    spoilt = reading if side == "centred" else star
    for entry in possible_slips(kind, *spoilt):
        pair = (star, entry) if side == "centred" else (entry, reading)
        names = []
        for stars, readings, hint in _undone(*pair):
            right = np.concatenate([stars - star, readings - np.array(reading)])
            if kind in SHIFTS:  # told from the difference of the two sides alone
                right = readings - stars - [0.3, -0.2]
            if np.abs(right).max() < ROUNDING_DEG:
                names.append(hint)
        assert any(WORDS[kind] in name for name in names), entry
        if kind not in SHIFTS:  # a shift may be on either side: its name says so
            assert any(side in name for name in names), entry


def test_a_shift_is_named_for_the_column_and_the_way_it_went() -> None:
    star, reading = (100.0, 50.0), (100.2, 40.1)
    names = [hint for _, _, hint in _undone(star, reading)]
    assert "altitude reads 10° too low (or the commanded altitude 10° too high)" in names
    closest = min(_undone(star, reading), key=lambda found: float(np.hypot(*(found[1] - found[0]))))
    assert closest[2].startswith("altitude reads 10° too low")


def test_undone_figures_that_no_log_could_hold_are_not_possible() -> None:
    for stars, readings, _ in _undone((200.0, 85.0), (200.0, 84.0)):
        assert abs(stars[1]) <= 90
        assert abs(readings[1]) <= 90


def test_a_slip_that_changes_nothing_is_not_possible() -> None:
    # 33° 33′: nothing to swap in the altitudes
    changed = _undone((55.55, 33.55), (55.55, 33.55))
    assert all(
        np.abs(np.concatenate([stars, readings]) - [55.55, 33.55, 55.55, 33.55]).max() > 1e-6
        for stars, readings, _ in changed
    )
    assert not any("altitude" in hint and "digits" in hint for _, _, hint in changed)


def test_weights_of_the_slips_sum_to_about_one() -> None:
    total = np.exp(log_shares()).sum() + sum(slip.share for slip in LOST_SLIPS.values())
    assert 0.97 < total < 1.03


def test_the_simulator_has_shares_of_its_own() -> None:
    drawn = sum(share for share, _ in PEN_SLIPS.values())
    assert drawn == pytest.approx(1.0)
    assert not set(PEN_SLIPS) & {*UNDONE} - {
        "columns_swapped",
        "altitude_sign",
        "minutes_as_decimals",
    }


def test_undoing_leaves_the_figures_given_as_they_were() -> None:
    figures = [np.array([12.5, 200.1]), np.array([-3.2, 80.0]), np.array([21.5, 201.1]), None]
    figures[3] = np.array([-3.0, 81.0])
    before = [values.copy() for values in figures]  # type: ignore[union-attr]
    undo_slips(*figures)  # type: ignore[arg-type]
    for values, kept in zip(figures, before, strict=True):
        np.testing.assert_array_equal(values, kept)


def test_a_wrong_star_is_somewhere_on_the_sky_and_mostly_near() -> None:
    # density over rings: the disk and the rest of the sphere share one probability
    inside = np.exp(log_wrong_star(np.array([WRONG_STAR_WITHIN_ARCMIN - 1.0, 0.0])))
    beyond = np.exp(log_wrong_star(np.array([0.0, WRONG_STAR_WITHIN_ARCMIN + 1.0])))
    disk = np.pi * WRONG_STAR_WITHIN_ARCMIN**2
    sphere = 4 * np.pi * ARCMIN_PER_RADIAN**2
    assert inside * disk + beyond * sphere == pytest.approx(1.0)
    assert inside > 100 * beyond


def _hint(candidate: Candidate, pair: int) -> str:
    """The name of the slip that explains a pair, "wrong star" where none does."""
    assert candidate.scores.bad is not None
    row = candidate.scores.suspects.tolist().index(pair)
    best = candidate.scores.bad.best_slip[row]
    return "wrong star" if best is None else best.hint


def _set_aside(candidate: Candidate) -> list[int]:
    return np.flatnonzero(~candidate.result.hypothesis.good).tolist()


def _spoilt(made: SimulatedNight) -> list[int]:
    return np.flatnonzero(made.bad).tolist()


# nights in which some line has minutes whose digits may be swapped by half a degree
SEEDS_WITH_MINUTES_TO_SWAP = (701, 702, 703, 704, 705)


@SIDES
@pytest.mark.parametrize("kind", PEN_SLIPS)
def test_a_slip_of_the_pen_in_a_night_is_found_and_named(kind: str, side: str) -> None:
    named = []
    for seed in SEEDS_WITH_MINUTES_TO_SWAP:
        made = seeded_night(seed, "usual", 14, pen_slips=1, pen_slip_kind=kind, pen_slip_in=side)
        found = winner(observed(made))
        assert _set_aside(found) == _spoilt(made)
        hint = _hint(found, _spoilt(made)[0])
        assert hint != "wrong star"
        named.append(WORDS[kind] in hint)
    # minutes as decimals lead astray by so little that a digit may do as well
    assert sum(named) >= (3 if kind == "minutes_as_decimals" else 5)


@SIDES
@pytest.mark.parametrize("kind", PEN_SLIPS)
def test_the_figure_that_would_be_right_is_told(kind: str, side: str) -> None:
    made = seeded_night(706, "usual", 14, pen_slips=1, pen_slip_kind=kind, pen_slip_in=side)
    right = seeded_night(706, "usual", 14)
    results = pm.fit(made.log).pair_results
    pair = _spoilt(made)[0]
    hint = results.hint[pair]
    assert results.cause[pair] == "log_typo"
    assert hint is not None
    assert hint.endswith("would be right")
    about = "about" in hint
    told = [parse_angle_deg(text) for text in re.findall(r"−?\d+°\d+(?:\.\d)?′", hint)]
    meant = [getattr(right, f"{side}_{part}_deg")[pair] for part in ("az", "alt")]
    wrong = [getattr(made, f"{side}_{part}_deg")[pair] for part in ("az", "alt")]
    for before, after in zip(wrong, meant, strict=True):
        if before != after:
            # three sigma of the noise where the other lines alone say it, in azimuth 1/cos 80°
            within = 0.3 if about else 1e-3
            assert min(abs(after - one) for one in told) < within, hint


def test_figures_are_told_as_the_log_has_them() -> None:
    made = seeded_night(
        707, "usual", 14, pen_slips=1, pen_slip_kind="five_degrees", readout_step_arcsec=36.0
    )
    hint = pm.fit(made.log).pair_results.hint[_spoilt(made)[0]]
    assert hint is not None
    assert re.search(r"\d+\.\d\d°", hint), hint


def test_wrong_stars_are_found_even_where_they_are_a_quarter_of_the_log() -> None:
    for seed in range(10):
        made = seeded_night(800 + seed, "usual", 16, wrong_stars=4)
        assert _set_aside(winner(observed(made))) == _spoilt(made)


def test_a_wrong_star_is_not_called_a_slip_of_the_pen() -> None:
    hints = []
    for seed in range(20):
        made = seeded_night(900 + seed, "usual", 12, wrong_stars=1)
        hints.append(_hint(winner(observed(made)), _spoilt(made)[0]))
    # now and then a star stands by chance where a slip would lead
    assert hints.count("wrong star") >= 19


def test_wrong_stars_and_slips_together_are_told_apart() -> None:
    for seed in range(5):
        made = seeded_night(
            950 + seed, "usual", 20, wrong_stars=2, pen_slips=2, pen_slip_kind="altitude_sign"
        )
        found = winner(observed(made))
        assert _set_aside(found) == _spoilt(made)
        for pair, cause in enumerate(made.cause):
            if cause is not None:
                assert ("sign of" in _hint(found, pair)) == (cause == "log_typo")


def test_good_pairs_stay_in() -> None:
    lost = 0
    for seed in range(40):
        found = winner(observed(seeded_night(1000 + seed, "usual", 12)))
        lost += len(_set_aside(found))
        assert not chosen_terms(found) & {"azimuth_slip"}
    assert lost <= 1


def test_three_pairs_are_never_untangled_and_half_a_log_always_stays() -> None:
    three = winner(observed(seeded_night(1100, "usual", 3, wrong_stars=1)))
    assert _set_aside(three) == []
    for seed in range(6):
        made = seeded_night(1110 + seed, "usual", 8, wrong_stars=6)
        assert len(_set_aside(winner(observed(made)))) <= 4


def test_a_pair_that_fits_scores_as_slip_hardly_at_all() -> None:
    made = seeded_night(1200, "usual", 12)
    result = settled(observed(made))
    everyone = np.arange(12)
    scores = score_bad(result.hypothesis.obs, everyone, np.zeros((12, 2)), result.predictor())
    # a good pair's density with a noise of an arcminute is near exp(−2)
    assert (scores.log_density < -4).all()
    assert np.isfinite(scores.log_density).all()
    assert ((scores.slip_share >= 0) & (scores.slip_share <= 1)).all()
