"""Angles as people write them, and directions on the sphere."""

from __future__ import annotations

import contextlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pointmodel.base.angles import (
    AngleError,
    direction_vectors,
    directions_deg,
    format_dm,
    format_dms,
    parse_angle_deg,
    parse_angles_deg,
    separation_arcmin,
    wrap_360_deg,
)

THREE_FIGURES = 123 + 45 / 60 + 30 / 3600
REPEATABLE = settings(derandomize=True, max_examples=100, deadline=None)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("123.76", 123.76),
        (" 12 ", 12.0),
        ("+.5", 0.5),
        ("5.", 5.0),
        ("1.2E1", 12.0),
        ("−12.5", -12.5),
        ("123 45.5", 123 + 45.5 / 60),
        ("123:45:30", THREE_FIGURES),
        ("123 45 30", THREE_FIGURES),
        ("123°45'30\"", THREE_FIGURES),
        ("123° 45′ 30″", THREE_FIGURES),
        ("123º45’30”", THREE_FIGURES),
        ("123°45'30''", THREE_FIGURES),
        ("123d45m30s", THREE_FIGURES),
        ("123deg", 123.0),
        ("123°", 123.0),
        ("123°45'", 123.75),
        ("123°45", 123.75),
        ("123\u00a045.0", 123.75),
        ("-0°30'", -0.5),
        ("−0 30", -0.5),
        ("– 0:00:36", -0.01),
    ],
)
def test_an_angle_is_read_as_people_write_it(text: str, degrees: float) -> None:
    assert parse_angle_deg(text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "sides", "degrees"),
    [
        ("41 18 S", "NS", -41.3),
        ("41°18′N", "NS", 41.3),
        ("S41°18'", "NS", -41.3),
        ("146 12 E", "EW", 146.2),
        ("146.2W", "EW", -146.2),
        ("-41.3", "NS", -41.3),
    ],
)
def test_a_letter_stands_for_the_sign_where_it_is_allowed(
    text: str, sides: str, degrees: float
) -> None:
    assert parse_angle_deg(text, sides=sides) == pytest.approx(degrees, abs=1e-12)


def test_a_decimal_comma_is_read_only_where_it_is_announced() -> None:
    assert parse_angle_deg("12,5", decimal_comma=True) == 12.5
    assert parse_angle_deg("12 30,6", decimal_comma=True) == pytest.approx(12.51)
    assert parse_angle_deg("12.5", decimal_comma=True) == 12.5
    with pytest.raises(AngleError, match=r"a decimal point: 12\.5"):
        parse_angle_deg("12,5")


@pytest.mark.parametrize(
    ("text", "sides", "message"),
    [
        ("45.6.7", "", "one decimal point"),
        ("4O.2", "", r"digits only: 40\.2\?"),
        ("l2 30", "", r"digits only: 12 30\?"),
        ("12 60", "", "minutes below 60"),
        ("12 30 60", "", "seconds below 60"),
        ("12 -30", "", "a sign in front only"),
        ("12-30", "", "a sign in front only"),
        ("12.5 30", "", "fraction in the last figure only"),
        ("12 30.5 30", "", "fraction in the last figure only"),
        ("5h34.5m", "", "hours are for right ascension"),
        ("41 18 S", "", "without the letter S"),
        ("41 18 E", "NS", "one letter, N or S"),
        ("N41 18 S", "NS", "one letter, N or S"),
        ("-41 18 S", "NS", "either a sign or the letter S"),
        ("41 18 s", "NS", "a capital N or S"),
        ("12:45:", "", "degrees such as"),
        ("12°.5", "", r"^12\.5° or 12°05\? A point"),
        ("-12° .25", "", r"^-12\.25° or -12°25\?"),
        ("12°30'.5", "", r"^12°30\.5' or 12°30'05\?"),
        ("12 .5", "", r"^12\.5 or 12 05\?"),
        ("12:.5", "", r"^12\.5: or 12:05\?"),
        ("41°.3 S", "NS", r"^41\.3° S or 41°03 S\?"),
        ("nan", "", "degrees such as"),
        ("inf", "", "degrees such as"),
        ("1e999", "", "degrees such as"),
        ("1_0", "", "degrees such as"),
        ("", "", "degrees such as"),
        ("1" * 50, "", "degrees such as"),
        ("Vega", "", "degrees such as"),
    ],
)
def test_what_is_no_angle_is_answered_by_what_would_be_right(
    text: str, sides: str, message: str
) -> None:
    with pytest.raises(AngleError, match=message):
        parse_angle_deg(text, sides=sides)


def test_a_column_of_angles_tells_which_cells_are_wrong_and_leaves_empty_ones_out() -> None:
    values, errors, all_decimal = parse_angles_deg(["1.5", " ", "4O", "12 30", "nan", "inf", "1_0"])
    np.testing.assert_array_equal(values, [1.5, np.nan, np.nan, 12.5, np.nan, np.nan, np.nan])
    assert sorted(errors) == [2, 4, 5, 6]
    assert not all_decimal
    assert parse_angles_deg(["1.5", "-2"])[2]
    assert parse_angles_deg(["1.5", ""])[2]
    assert parse_angles_deg(["1,5", "2"], decimal_comma=True)[2]


@pytest.mark.parametrize(
    ("degrees", "minutes_text", "seconds_text"),
    [
        (THREE_FIGURES, "123°45.5′", "123°45′30″"),
        (-0.5, "−0°30.0′", "−0°30′00″"),
        (59.999999, "60°00.0′", "60°00′00″"),
        (-1e-9, "0°00.0′", "0°00′00″"),
        (359.9999999, "360°00.0′", "360°00′00″"),
    ],
)
def test_an_angle_is_written_with_a_true_minus_and_never_with_sixty_minutes(
    degrees: float, minutes_text: str, seconds_text: str
) -> None:
    assert format_dm(degrees) == minutes_text
    assert format_dms(degrees) == seconds_text


def test_an_azimuth_that_rounds_to_a_full_turn_is_written_as_zero() -> None:
    assert format_dm(359.9999999, full_turn=True) == "0°00.0′"
    assert format_dm(12.5, decimals=0) == "12°30′"
    assert format_dms(12.50001, decimals=2) == "12°30′00.04″"


@REPEATABLE
@given(st.floats(-360, 360))
def test_a_written_angle_reads_back_to_its_last_decimal(degrees: float) -> None:
    assert parse_angle_deg(format_dm(degrees, 3)) == pytest.approx(degrees, abs=0.51e-3 / 60)
    assert parse_angle_deg(format_dms(degrees, 1)) == pytest.approx(degrees, abs=0.51e-1 / 3600)
    assert parse_angle_deg(repr(degrees)) == degrees


@REPEATABLE
@given(st.text(max_size=60))
def test_any_text_is_an_angle_or_an_angle_error(text: str) -> None:
    with contextlib.suppress(AngleError):
        assert np.isfinite(parse_angle_deg(text, decimal_comma=True, sides="NS"))


def test_azimuths_are_brought_into_one_turn_that_never_shows_360() -> None:
    turned = wrap_360_deg([-30.0, 0.0, 359.5, 360.0, 725.0, -1e-20])
    np.testing.assert_allclose(turned, [330.0, 0.0, 359.5, 0.0, 5.0, 0.0])


def test_separations_are_exact_for_tiny_and_for_opposite_directions() -> None:
    tiny_deg = 1e-9
    assert separation_arcmin(10, 40, 10, 40 + tiny_deg) == pytest.approx(60 * tiny_deg, rel=1e-5)
    assert separation_arcmin(350, 0, 10, 0) == pytest.approx(20 * 60)
    assert separation_arcmin(30, 20, 210, -20) == pytest.approx(180 * 60)
    assert separation_arcmin(0, 90, 123, 90) == pytest.approx(0, abs=1e-9)
    assert separation_arcmin([[1], [2]], 0, [3, 4, 5], 0).shape == (2, 3)


def test_direction_vectors_point_north_east_and_up() -> None:
    vectors = direction_vectors([0, 90, 45], [0, 0, 90])
    np.testing.assert_allclose(vectors, np.eye(3), atol=1e-15)
    assert direction_vectors(10.0, [20.0, 30.0]).shape == (2, 3)


def test_directions_survive_the_way_through_vectors() -> None:
    random = np.random.default_rng(3)
    azimuth, altitude = random.uniform(0, 360, 200), random.uniform(-89, 89, 200)
    back = directions_deg(2.5 * direction_vectors(azimuth, altitude))
    np.testing.assert_allclose(back, (azimuth, altitude), atol=1e-10)
