"""A tap on the drawn eyepiece: to a nudge and back, and how two moves show turn and mirror."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pointmodel.base.angles import wrap_deg
from pointmodel.phone.eyepiece import (
    TAP_ERROR_RADII,
    TURN_STEP_DEG,
    EyepieceUnclearError,
    Orientation,
    Shift,
    Tap,
    nudge_of,
    orientation_seen,
    seen_at,
)

FIELD_ARCMIN = 48.0
quick = settings(max_examples=100, deadline=None, derandomize=True)
turns = st.floats(0.0, 360.0)
orientations = st.builds(Orientation, turns, st.booleans())
steps = st.floats(-3.0, 3.0)


def shifts(
    orientation: Orientation,
    right: float = 1.0,
    up: float = 1.0,
    start: tuple[float, float] = (0, 0),
) -> tuple[Shift, Shift]:
    """The star before and after the tube went right and up, so many radii, without error."""
    across, above = orientation.matrix.T  # what a radius on the sky is in the eyepiece
    first = np.array(start)
    second = first - right * across
    third = second - up * above
    return (
        Shift(tuple(first), tuple(second), backwards=right < 0),
        Shift(tuple(second), tuple(third), backwards=up < 0),
    )


@quick
@given(orientations, steps, steps, st.integers(-3, 3), st.integers(-3, 3))
def test_a_tap_becomes_the_nudge_that_shows_the_star_there(
    orientation: Orientation, x: float, y: float, right: int, up: int
) -> None:
    nudge = nudge_of(Tap(x, y, right, up), orientation, FIELD_ARCMIN)
    after_moves = nudge.right_arcmin - right * FIELD_ARCMIN, nudge.up_arcmin - up * FIELD_ARCMIN
    rounding_radii = 0.08 / (FIELD_ARCMIN / 2)  # half a tenth of an arcminute, both ways
    assert seen_at(*after_moves, orientation, FIELD_ARCMIN) == pytest.approx(
        (x, y), abs=rounding_radii
    )


@quick
@given(orientations)
def test_the_matrix_is_scipy_s_rotation_after_the_mirror(orientation: Orientation) -> None:
    """scipy.spatial.transform.Rotation about the line of sight, toward the eye."""
    turn = Rotation.from_euler("z", orientation.turn_deg, degrees=True).as_matrix()[:2, :2]
    mirror = np.diag([-1.0 if orientation.mirrored else 1.0, 1.0])
    np.testing.assert_allclose(orientation.matrix, turn @ mirror, atol=1e-12)


@pytest.mark.parametrize(
    ("turn_deg", "mirrored", "tapped", "right", "up"),
    [
        (0, False, (0.5, 0.25), 12.0, 6.0),  # as the eye sees the sky
        (0, True, (0.5, 0.25), -12.0, 6.0),  # a refractor's diagonal: left and right exchanged
        (180, False, (0.5, 0.25), -12.0, -6.0),  # straight through: upside down
        (90, False, (0.5, 0.25), 6.0, -12.0),  # up of the sky lies at the left
        (180, True, (0.5, 0.25), 12.0, -6.0),
    ],
)
def test_a_tap_is_read_as_the_eyepiece_stands(
    turn_deg: float, mirrored: bool, tapped: tuple[float, float], right: float, up: float
) -> None:
    nudge = nudge_of(Tap(*tapped), Orientation(turn_deg, mirrored), FIELD_ARCMIN)
    assert nudge.cells() == {"nudge_right": f"{right:.1f}", "nudge_up": f"{up:.1f}"}


def test_whole_fields_moved_before_the_tap_count_as_the_tube_went_however_the_eyepiece_stands() -> (
    None
):
    nudge = nudge_of(Tap(0.0, 0.0, -1.0, 2.0), Orientation(70.0, True), FIELD_ARCMIN)
    assert (nudge.right_arcmin, nudge.up_arcmin) == (-48.0, 96.0)


def test_a_star_in_the_middle_is_no_nudge_and_no_minus_nothing() -> None:
    nudge = nudge_of(Tap(-0.0001, -0.0), Orientation(0.0, False), FIELD_ARCMIN)
    assert (nudge.right_text, nudge.up_text) == ("0.0", "0.0")


def test_a_small_field_is_told_to_hundredths() -> None:
    assert nudge_of(Tap(0.1234, 0.0), Orientation(0.0, False), 6.0).right_text == "0.37"


@quick
@given(
    st.integers(0, 71).map(lambda n: TURN_STEP_DEG * n),
    st.booleans(),
    st.sampled_from([-1.7, -1.0, 1.0, 1.7]),
    st.sampled_from([-1.7, -1.0, 1.0, 1.7]),
)
def test_two_moves_show_turn_and_mirror_whichever_way_the_tube_went(
    turn_deg: float, mirrored: bool, right: float, up: float
) -> None:
    truth = Orientation(turn_deg, mirrored)
    assert orientation_seen(*shifts(truth, right, up)).orientation == truth


def test_a_tube_that_went_left_while_the_person_says_right_shows_the_other_mirror() -> None:
    right, up = shifts(Orientation(0.0, False))
    wrong = Shift(right.before, right.after, backwards=True)
    assert orientation_seen(wrong, up).orientation == Orientation(0.0, True)


def tapped(
    truth: Orientation, rng: np.random.Generator, lengths: tuple[float, float]
) -> tuple[Shift, Shift]:
    """Two moves as a finger taps them."""
    right, up = shifts(truth, *lengths)
    spots = [np.array(spot) for spot in (right.before, right.after, up.before, up.after)]
    spots = [tuple(spot + TAP_ERROR_RADII * rng.normal(size=2)) for spot in spots]
    return Shift(spots[0], spots[1]), Shift(spots[2], spots[3])


def test_the_stated_error_of_the_turn_is_what_taps_leave_and_the_mirror_is_never_wrong() -> None:
    rng = np.random.default_rng(8)
    pulls, refused, wrong = [], 0, 0
    for _ in range(2000):
        truth = Orientation(rng.uniform(0, 360), bool(rng.integers(2)))
        try:
            seen = orientation_seen(*tapped(truth, rng, tuple(rng.uniform(1.0, 1.6, 2))))
        except EyepieceUnclearError:
            refused += 1
            continue
        wrong += seen.orientation.mirrored != truth.mirrored
        off_deg = float(wrap_deg(seen.orientation.turn_deg - truth.turn_deg))
        pulls.append(off_deg / math.hypot(seen.turn_error_deg, TURN_STEP_DEG / math.sqrt(12)))
    assert wrong == 0
    assert refused < 60  # one in a hundred seems not to be square
    assert np.sqrt(np.mean(np.square(pulls))) == pytest.approx(1.0, abs=0.08)


@pytest.mark.parametrize(
    ("right", "up", "says"),
    [
        (Shift((0.0, 0.0), (-0.2, 0.0)), Shift((0, 0), (0, -1.0)), "moved too little"),
        (Shift((0.0, 0.0), (-1.0, 0.0)), Shift((0, 0), (0, 0)), "moved too little"),
        (Shift((0.0, 0.0), (-0.6, 0.0)), Shift((0, 0), (0, -0.6)), "moved too little"),
        (Shift((0.8, 0.0), (-0.8, 0.0)), Shift((0.8, 0), (-0.8, 0.1)), "along one line"),
        (Shift((0.8, 0.0), (-0.8, 0.0)), Shift((-0.8, 0), (0.8, 0.1)), "along one line"),
        (Shift((0.8, 0.0), (-0.8, 0.0)), Shift((0.7, 0.7), (-0.7, -0.3)), "not square"),
    ],
)
def test_moves_that_do_not_tell_are_refused_in_sentences(
    right: Shift, up: Shift, says: str
) -> None:
    with pytest.raises(EyepieceUnclearError, match=says) as refused:
        orientation_seen(right, up)
    assert str(refused.value).endswith(".")
