"""How finely the times of a log were written, read off the times themselves."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO

import numpy as np
import pytest

import pointmodel as pm
from pointmodel.base.times import RESOLUTIONS_S, time_resolution_s

EVENING_S = 1_936_000_800.0  # a full hour


def moments_s(seed: int, count: int) -> np.ndarray:
    """Moments to the second, some minutes apart."""
    rng = np.random.default_rng(seed)
    return np.asarray(EVENING_S + np.round(np.cumsum(rng.uniform(90.0, 300.0, count))))


@pytest.mark.parametrize("count", [4, 8, 24])
@pytest.mark.parametrize("step_s", RESOLUTIONS_S)
@pytest.mark.parametrize("how", [np.floor, np.rint])
def test_the_step_is_found_whether_times_were_cut_or_rounded(
    count: int, step_s: float, how: Callable[..., np.ndarray]
) -> None:
    found = [time_resolution_s(step_s * how(moments_s(k, count) / step_s)) for k in range(50)]
    assert np.mean([one == step_s for one in found]) >= (0.8 if count == 4 else 0.98)
    assert all(one is not None and one >= step_s for one in found)


@pytest.mark.parametrize("count", [1, 2, 4, 8, 24])
def test_seconds_are_hardly_ever_taken_for_a_coarser_step(count: int) -> None:
    found = [time_resolution_s(moments_s(k, count)) for k in range(1000)]
    assert np.mean([one == 1.0 for one in found]) >= 0.97


def test_a_single_time_counts_as_it_is_written() -> None:
    assert time_resolution_s(np.array([EVENING_S + 240.0])) == 60.0
    assert time_resolution_s(np.array([EVENING_S + 270.0])) == 1.0
    assert time_resolution_s(np.array([EVENING_S + 243.0])) == 1.0


def test_minutes_with_one_time_to_the_second_among_eight_are_minutes() -> None:
    moments = 60.0 * np.floor(moments_s(1, 8) / 60.0)
    moments[3] += 23.0
    assert time_resolution_s(moments) == 60.0
    moments[[1, 5]] += 17.0
    assert time_resolution_s(moments) == 1.0


def test_lines_without_a_time_do_not_count() -> None:
    assert time_resolution_s(np.array([np.nan, EVENING_S + 7.0, np.nan])) == 1.0
    assert time_resolution_s(np.array([np.nan])) is None


@pytest.mark.parametrize(("seconds", "expected"), [("", 60.0), (":07", 1.0)])
def test_a_log_says_how_finely_its_times_were_written(seconds: str, expected: float) -> None:
    rows = [f"Spica,2031-05-17T20:{10 + 3 * k}{seconds}+10:00,20{k}.1,4{k}.2" for k in range(4)]
    text = "\n".join(["target,time,commanded_az,commanded_alt", *rows]) + "\n"
    assert pm.read_log(StringIO(text)).time_resolution_s == expected


def test_a_log_without_times_has_no_resolution() -> None:
    text = "commanded_az,commanded_alt\n20,40\n"
    assert pm.read_log(StringIO(text)).time_resolution_s is None
