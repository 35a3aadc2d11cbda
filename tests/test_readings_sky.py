"""Both columns misread alike: the fit is as good as before, and the sky decides."""

from __future__ import annotations

import numpy as np
import pytest
from bench.controllers import night
from bench.evening_kinds import FORMS, evening

import pointmodel as pm
from pointmodel.entries.columnsky import read_by_the_sky


def findings(fit: pm.Fit) -> list[tuple[str, str, bool]]:
    return [(one.finding, one.side, one.taken_up) for one in fit.readings.findings]


def test_exchanged_columns_are_named_by_fit_and_check_and_nothing_is_blamed() -> None:
    for seed in range(4):
        log = evening("columns_exchanged", seed).log
        assert findings(pm.fit(log)) == [("columns_exchanged", "both", True)]
        checked = pm.check(log)
        assert checked.warnings[0].code == "columns_exchanged"
        assert checked.verdict == "agrees"


@pytest.mark.parametrize("form", FORMS)
def test_both_columns_misread_alike_are_named_where_stars_and_times_are_there(form: str) -> None:
    one = evening(f"{form}:both", 3)
    assert findings(pm.fit(one.log)) == [(form, "both", True)]


def test_which_of_two_columns_counts_backwards_is_told_by_the_sky() -> None:
    for side in ("commanded", "centred"):
        one = evening(f"azimuth_counted_backwards:{side}", 5)
        assert findings(pm.fit(one.log)) == [("azimuth_counted_backwards", side, True)]
        alone = pm.fit(evening(f"azimuth_counted_backwards:{side}", 5, names=False).log)
        assert "do not tell" in alone.readings.findings[0].text


def test_right_logs_and_wrong_clocks_are_left_as_they_are() -> None:
    for seed, kind in enumerate(("plain", "plain_good", "zeroed", "wrong_entry", "minutes_cut_8")):
        assert read_by_the_sky(evening(kind, seed).log) is None
    for seed, entry in enumerate(("clock", "latitude_sign", "am_pm", "longitude", "agrees")):
        assert read_by_the_sky(night(seed, entry, stars=5, centred=True).log) is None


def test_stars_in_one_corner_of_the_sky_are_not_taken_for_hours() -> None:
    for seed in range(4):
        corner = evening("plain", seed, az_range_deg=(1.0, 22.0), names=False, times="none")
        assert corner.log.commanded_az_deg.max() < 24.0
        assert findings(pm.fit(corner.log)) == []
        hours = evening("hours_not_degrees:both", seed, names=False, times="none")
        assert findings(pm.fit(hours.log)) == [("hours_not_degrees", "both", True)]


def test_what_the_owner_says_of_both_columns_counts_for_check_as_well() -> None:
    one = evening("columns_exchanged", 1)
    told = one.log.mount.to_dict() | {"log": {"figures": {"both": "columns_exchanged"}}}
    checked = pm.check(one.log, told)
    assert checked.warnings[0].code == "columns_exchanged"
    assert checked.verdict == "agrees"
    fit = pm.fit(one.log, told)
    assert fit.readings.feet_wait is None
    assert np.array_equal(fit.log.commanded_az_deg, one.log.centred_az_deg)
