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
    orientation_of,
    orientation_seen,
    orientation_words,
    tapped_text,
)
from pointmodel.reading.mountfile import Eyepiece

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
    seen = orientation.matrix @ np.array(after_moves) / (FIELD_ARCMIN / 2)
    assert seen == pytest.approx((x, y), abs=rounding_radii)


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


@pytest.mark.parametrize(("side", "toward_eye"), [("left", -1.0), ("right", 1.0)])
@pytest.mark.parametrize("alt_deg", [0.0, 20.0, 48.0, 80.0])
def test_at_the_side_of_a_reflector_the_picture_turns_with_the_tube(
    side: str, toward_eye: float, alt_deg: float
) -> None:
    """Derived anew from the two mirrors: the image of a star, seen by one whose head is upright.

    Frame: east, north, up; the tube points north and is raised about east. A concave mirror makes
    an inverted image; the flat one at 45° sends it to the eye at the side (scipy's Rotation turns).
    """
    raised = Rotation.from_euler("x", alt_deg, degrees=True)
    right, forward, up = (raised.apply(axis) for axis in np.eye(3))
    flat = forward - toward_eye * right  # normal of the mirror that sends forward to the eye
    flat = flat / np.linalg.norm(flat)
    looks = -toward_eye * right
    eye_up = np.array([0.0, 0.0, 1.0])
    eye_right = np.cross(looks, eye_up)

    def in_the_eyepiece(to_right: float, to_up: float) -> tuple[float, float]:
        image = -(to_right * right + to_up * up)
        image = image - 2.0 * (image @ flat) * flat
        return float(image @ eye_right), float(image @ eye_up)

    seen = np.array([in_the_eyepiece(1.0, 0.0), in_the_eyepiece(0.0, 1.0)]).T
    stands = Orientation(180.0, False, side)  # type: ignore[arg-type]
    np.testing.assert_allclose(seen, stands.at(alt_deg).matrix, atol=1e-12)


@quick
@given(orientations, st.sampled_from(["back", "left", "right"]), st.floats(0.0, 90.0))
def test_what_is_seen_at_one_height_is_told_of_a_level_tube_and_back(
    seen: Orientation, side: str, alt_deg: float
) -> None:
    told = seen.on_side(side, alt_deg)  # type: ignore[arg-type]
    np.testing.assert_allclose(told.at(alt_deg).matrix, seen.matrix, atol=1e-9)
    assert told.side == side
    assert told.at(alt_deg).side == "back"


def test_a_mount_file_s_eyepiece_stands_at_the_back_unless_told_and_is_written_as_it_is_read() -> (
    None
):
    assert orientation_of(None) is None
    assert orientation_of(Eyepiece(90.0, None)) is None
    assert orientation_of(Eyepiece(90.0, True)) == Orientation(90.0, True, "back")
    assert orientation_of(Eyepiece(90.0, True, "left")) == Orientation(90.0, True, "left")
    assert Orientation(90.0, True, "left").answers == {
        "turn": "90",
        "mirrored": "true",
        "side": '"left"',
    }


def test_how_an_eyepiece_stands_is_said_in_words() -> None:
    assert orientation_words(Orientation(0.0, True)) == "mirrored, and turned by 0°"
    assert orientation_words(Orientation(180.0, False, "left")) == (
        "turned by 180° with a level tube, seen from its left side"
    )


@quick
@given(orientations, steps, steps)
def test_what_the_log_keeps_of_a_tap_gives_its_nudge_again(
    orientation: Orientation, x: float, y: float
) -> None:
    tap = Tap(x, y, 1.0, 0.0)
    kept = np.array([float(part) for part in tapped_text(tap, FIELD_ARCMIN).split()])
    again = orientation.matrix.T @ kept + np.array([FIELD_ARCMIN, 0.0])
    nudge = nudge_of(tap, orientation, FIELD_ARCMIN)
    np.testing.assert_allclose(again, (nudge.right_arcmin, nudge.up_arcmin), atol=0.13)
