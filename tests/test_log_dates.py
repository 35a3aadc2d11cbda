"""Times of day without a date: whose day they are, and past midnight."""

from __future__ import annotations

import io
from datetime import date, time
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from logtexts import FIGURES, codes, log_of

import pointmodel as pm
from pointmodel.reading.dates import day_of, time_of_day

HOBART: dict[str, Any] = {"site": {"time_zone": "Australia/Hobart"}}
EVENING = HOBART | {"log": {"date": "2031-05-17"}}


def rows(times: list[str], before: str = "") -> str:
    return "".join(f"{before}{text},{10 * k},{20 + k},3,4\n" for k, text in enumerate(times))


def moments(log: pm.NightLog) -> list[str]:
    at = pd.to_datetime(log.time_s, unit="s", utc=True).tz_convert("Australia/Hobart")
    return [moment.strftime("%d %H:%M:%S") for moment in at]


def test_times_alone_are_of_the_night_that_begins_on_the_mount_file_s_date() -> None:
    times = ["21:04", "23:59:30", "9:04:30 pm", "0:10", "00:10:05", "6:00 am"]
    log = log_of(f"time,{FIGURES}\n{rows(times)}", EVENING)
    assert moments(log) == [
        "17 21:04:00", "17 23:59:30", "17 21:04:30", "18 00:10:00", "18 00:10:05", "18 06:00:00",
    ]  # fmt: skip
    assert codes(log) == ["time_backwards"]
    assert "next_day" not in codes(log)


def test_a_log_that_begins_before_noon_is_said_to_be_of_the_next_day() -> None:
    log = log_of(f"time,{FIGURES}\n{rows(['03:30', '3:40', '21:00'])}", EVENING)
    assert moments(log)[:2] == ["18 03:30:00", "18 03:40:00"]
    (told,) = [notice.text for notice in log.warnings if notice.code == "next_day"]
    assert told.startswith("lines 2 and 3: the date is taken as that of the evening, so these")


def test_a_time_keeps_its_own_zone_and_a_moment_its_own_date() -> None:
    log = log_of(f"time,{FIGURES}\n{rows(['21:04+00:00', '2030-01-01T05:00', '21:04Z'])}", EVENING)
    np.testing.assert_array_equal(log.time_s[[0, 2]], 1936818240.0)
    assert pd.Timestamp(log.time_s[1], unit="s").year == 2029


def test_a_time_in_another_zone_is_of_the_night_at_the_site() -> None:
    times = ["10:04Z", "13:30Z", "19:59Z", "23:00+13:00", "01:30+13:00"]
    log = log_of(f"time,{FIGURES}\n{rows(times)}", EVENING)
    assert moments(log) == [
        "17 20:04:00", "17 23:30:00", "18 05:59:00", "17 20:00:00", "17 22:30:00",
    ]  # fmt: skip
    assert "next_day" not in codes(log)


def test_a_column_of_dates_goes_first() -> None:
    text = f"date,time,{FIGURES}\n" + rows(["21:04"], "2031-05-20,") + rows(["21:04"], ",")
    assert moments(log_of(text, EVENING)) == ["20 21:04:00", "17 21:04:00"]
    assert moments(log_of(text.replace("2031-05-20", "2031/5/2"), EVENING))[0] == "02 21:04:00"


def test_past_midnight_the_evening_s_own_date_is_followed_by_the_next_day() -> None:
    times = ["21:04", "23:59", "00:03", "00:09"]
    log = log_of(f"date,time,{FIGURES}\n" + rows(times, "2031-05-17,"), HOBART)
    assert moments(log) == ["17 21:04:00", "17 23:59:00", "18 00:03:00", "18 00:09:00"]
    assert codes(log) == ["next_day"]
    assert "lines 4 and 5" in log.warnings[0].text
    true_dates = "".join(
        f"2031-05-{day},{text},{k},20,3,4\n"
        for k, (day, text) in enumerate(zip((17, 17, 18, 18), times, strict=True))
    )
    honest = log_of(f"date,time,{FIGURES}\n{true_dates}", HOBART)
    assert moments(honest) == moments(log)
    assert codes(honest) == []


def test_a_slip_of_minutes_is_no_midnight() -> None:
    log = log_of(f"date,time,{FIGURES}\n" + rows(["21:04", "20:59"], "2031-05-17,"), HOBART)
    assert moments(log) == ["17 21:04:00", "17 20:59:00"]
    assert codes(log) == ["time_backwards"]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (f"time,{FIGURES}\n21:04,1,2,3,4\n", "a column date, or date = "),
        (f"date,time,{FIGURES}\n17/05/2031,21:04,1,2,3,4\n", "a date such as 2031-05-17 in the"),
        (f"date,time,{FIGURES}\n2031-02-30,21:04,1,2,3,4\n", "a date such as 2031-05-17 in the"),
        (f"time,{FIGURES}\n24:04,1,2,3,4\n", "date and time such as"),
        (f"time,{FIGURES}\n13:04 pm,1,2,3,4\n", "date and time such as"),
    ],
)
def test_a_time_whose_day_nobody_knows_is_refused(text: str, wanted: str) -> None:
    with pytest.raises(pm.InputError, match=f"line 2, column time: .*{wanted}"):
        log_of(text, HOBART)


def test_the_commanded_time_has_the_same_evening() -> None:
    log = log_of(f"commanded_time,time,{FIGURES}\n23:58,00:03,10,20,11,21\n", EVENING)
    assert log.time_s[0] - log.commanded_time_s[0] == 300.0
    assert moments(log) == ["18 00:03:00"]


def test_a_sheet_s_own_dates_and_times_are_read() -> None:
    book = openpyxl.Workbook()
    book.active.append(["date", "time", *FIGURES.split(",")])
    book.active.append([date(2031, 5, 17), time(23, 50), 10, 20, 11, 21])
    book.active.append([date(2031, 5, 17), time(0, 10, 30), 50, 30, 51, 31])
    stream = io.BytesIO()
    book.save(stream)
    assert moments(log_of(stream.getvalue(), HOBART)) == ["17 23:50:00", "18 00:10:30"]


def test_times_and_days_are_read_by_their_notation() -> None:
    clock = time_of_day("12:04 am")
    assert clock is not None
    assert clock.on(date(2031, 5, 17)) == "2031-05-17T00:04"
    assert time_of_day("2031-05-17T21:04") is None
    assert time_of_day("21") is None
    assert day_of("2031-05-17T00:00:00") == date(2031, 5, 17)
    assert day_of("31-05-17") is None
