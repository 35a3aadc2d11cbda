"""What a night's log holds, with its times, its mount file and its notices."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest
from logtexts import (
    AT_21_04_30,
    FIGURES,
    HOBART,
    NIGHT,
    assert_is_the_night,
    codes,
    log_of,
)

import pointmodel as pm
from pointmodel.base.errors import InputError
from pointmodel.reading.nightlog import Event, read_log

# What a log holds -----------------------------------------------------------------------------


def test_a_camera_log_tells_star_and_reading_the_other_way_round() -> None:
    log = log_of("commanded_az,commanded_alt,seen_az,seen_alt\n10,20,11,21\n")
    assert log.camera
    assert (log.star_az_deg[0], log.star_alt_deg[0]) == (11, 21)
    assert (log.reading_az_deg[0], log.reading_alt_deg[0]) == (10, 20)
    assert "seen_az" in log.pairs
    eyepiece = log_of(f"{FIGURES}\n10,20,11,21\n")
    assert (eyepiece.star_az_deg[0], eyepiece.reading_az_deg[0]) == (10, 11)


def test_commanded_places_alone_make_a_log() -> None:
    log = log_of("commanded_az,commanded_alt\n10,20\n30,40\n")
    assert not log.has_both.any()
    assert len(log) == 2


def test_a_selection_keeps_every_event_before_the_right_pair() -> None:
    log = log_of(NIGHT)
    chosen = log.select([False, True, True])
    assert chosen.target == ("Canopus", "Sirius")
    assert chosen.line.tolist() == [4, 7]
    assert chosen.events == (
        Event("bump", 4, 0, note="low, in haze"),
        Event("clutch", 6, 1),
        Event("power_cycle", 8, 2),
    )
    assert [event.before_pair for event in log.select([True, False, False]).events] == [1, 1, 1]
    assert len(log.select(np.zeros(3, dtype=bool))) == 0
    with pytest.raises(ValueError, match="a mask of shape"):
        log.select([0, 1])


def test_a_log_is_read_only_and_stays_so_through_a_pickle() -> None:
    log = log_of(NIGHT)
    for held in (log, pickle.loads(pickle.dumps(log)), log.select([True, True, True])):
        assert_is_the_night(held)
        with pytest.raises(ValueError, match="read-only"):
            held.time_s[0] = 0.0
        with pytest.raises(AttributeError, match="cannot assign"):
            held.name = "x"  # type: ignore[misc]


def test_several_events_may_stand_in_one_cell() -> None:
    log = log_of("commanded_az,commanded_alt,event\n1,2,Zero-on-star + RELEVELLED\n")
    assert log.events == (Event("zero_on_star", 2, 0), Event("relevelled", 2, 0))


# Mount file and times -------------------------------------------------------------------------


def test_a_mount_file_beside_the_log_is_used_and_said_so(tmp_path: Path) -> None:
    (tmp_path / "night.csv").write_text(NIGHT, encoding="utf-8")
    (tmp_path / "mount.toml").write_text('[mount]\nname = "beside"\n')
    (tmp_path / "other.toml").write_text('[mount]\nname = "other"\n')
    log = read_log(tmp_path / "night.csv")
    assert log.mount.name == "beside"
    assert codes(log) == ["mount_file"]
    assert read_log(tmp_path / "night.csv", tmp_path / "other.toml").mount.name == "other"
    assert read_log(tmp_path / "night.csv", {}).warnings == ()


def test_problems_of_log_and_mount_file_come_together() -> None:
    with pytest.raises(InputError, match="field_of_view") as caught:
        log_of(f"{FIGURES}\n1,99,3,4\n", {"optics": {"field_of_view": -1}})
    assert len(caught.value.problems) == 2
    with pytest.raises(InputError, match="field_of_view"):
        log_of(NIGHT, {"optics": {"field_of_view": -1}})


@pytest.mark.parametrize(
    "text",
    [
        "2031-05-17T21:04:30+10:00",
        "2031-05-17T11:04:30Z",
        "2031-05-17 11:04:30 utc",
        "2031-05-17 21:04:30.000 +1000",
        "2031-05-17 21:04:30",
        "2031-05-17T07:04:30−04:00",
    ],
)
def test_times_are_read_with_their_zone_or_in_the_mount_files(text: str) -> None:
    log = log_of(f"{FIGURES},time,commanded_time\n1,2,3,4,{text},{text}\n", HOBART)
    assert log.time_s[0] == log.commanded_time_s[0] == AT_21_04_30
    assert log.warnings == ()


def test_times_of_unknown_zone_keep_their_order_and_raise_a_notice() -> None:
    log = log_of(f"{FIGURES},time\n1,2,3,4,2031-05-17 21:00\n2,2,3,4,2031-05-17 21:07\n")
    assert np.diff(log.time_s)[0] == 420
    assert codes(log) == ["time_without_zone"]


def test_times_at_a_change_of_clocks_are_in_doubt() -> None:
    log = log_of(f"{FIGURES},time\n1,2,3,4,2031-04-06 02:30\n", HOBART)
    assert codes(log) == ["clock_change"]


def test_times_that_go_backwards_are_named() -> None:
    stamps = ["21:00", "21:05", "20:55", "21:10"]
    rows = "".join(f"{n},2,3,4,2031-05-17 {stamp}Z\n" for n, stamp in enumerate(stamps))
    log = log_of(f"{FIGURES},time\n{rows}")
    assert [notice.text for notice in log.warnings] == ["time goes backwards at line 4"]


# Suspicions -----------------------------------------------------------------------------------

MINUTES = (
    "45.30,12.15,46.01,12.20\n33.59,10.05,34.1,10\n12.2,31.1,13.45,31.59\n88.44,33.01,89.5,33\n"
)


def test_three_lines_are_enough_to_ask_whether_minutes_were_typed_as_decimals() -> None:
    assert codes(log_of(f"{FIGURES}\n{MINUTES.split(chr(10) + '88')[0]}\n")) == [
        "minutes_as_decimals"
    ]


def test_few_logs_in_decimals_are_asked_whether_they_hold_minutes() -> None:
    asked = [
        "minutes_as_decimals"
        in codes(pm.read_log(night.log.pairs.drop(columns=["time", "commanded_time"]).round(2)))
        for night in (pm.simulate(seed=seed, pairs=3) for seed in range(60))
    ]
    assert sum(asked) <= 3


def test_figures_whose_fractions_never_reach_60_are_asked_about() -> None:
    log = log_of(f"{FIGURES}\n{MINUTES}")
    assert codes(log) == ["minutes_as_decimals"]
    for harmless in (
        MINUTES.replace("33.59", "33.60"),
        MINUTES.replace("31.59", "31.60"),
        MINUTES.split("\n88")[0].replace("33.59", "34").replace("31.1", "31"),  # four: too few
        MINUTES.replace("12.2,", "12 20,").split("\n88")[0],  # three, the azimuths having minutes
        "".join(f"{10 * n}.5,{n}.25,{10 * n}.5,{n}.25\n" for n in range(8)),
        "".join(f"{10 * n},{n},{10 * n}.3,{n}.25\n" for n in range(8)),
    ):
        assert codes(log_of(f"{FIGURES}\n{harmless}")) == []


def test_a_pair_that_stands_on_two_lines_is_kept_and_named() -> None:
    log = log_of(f"{FIGURES}\n1,2,3,4\n5,6,7,8\n1.0,2,3 0,4\n9,1,,\n9,1,,\n")
    assert len(log) == 5
    assert codes(log) == ["duplicate_pair"]
    assert "lines 2 and 4." in log.warnings[0].text


def test_lines_without_figures_and_unknown_columns_are_passed_over_and_named() -> None:
    log = log_of(f"target,{FIGURES},seeing,\nVega,,,,\nA,1,2,3,4,good,\n")
    assert log.target == ("A",)
    assert codes(log) == ["unknown_columns", "no_figures"]
    assert '"seeing"' in log.warnings[0].text
    assert "line 2" in log.warnings[1].text
