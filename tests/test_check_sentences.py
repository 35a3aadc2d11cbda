"""Every sentence that `check` says of simulated controllers: whole, and no order to set what is so.

All kinds of entry, right and wrong mount files, zones known and not, times to the minute, one star
and four. The controllers are those of `bench/controllers.py`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bench.check_figures import FILE_SLIPS, misstated, noted_coarsely
from bench.controllers import ENTRIES, ControllerNight, night, offsets_s
from test_check import Wrong, on_one_line, sent

import pointmodel as pm
from pointmodel.entries.result import CheckResult

SEEDS = range(3)
SENTENCE = re.compile(r"[A-Z][^\n]*[.?]")
ORDER = re.compile(r"\bset (the time zone|the longitude|the latitude|summer time) to ([^,.:]+)")
NEVER = (
    "nan",
    "None",
    " 0 s fast",
    " 0 s slow",
    " 0′ too far",
    "summer time to 1",
    "summer time to 2",
)


def logs_of(made: ControllerNight) -> Iterator[tuple[str, pm.NightLog]]:
    """The log as it is, with the zone unknown, with an offset, to the minute, by a wrong site."""
    site = {"latitude": made.site.latitude_deg, "longitude": made.site.longitude_deg}
    offset_h = offsets_s(made.site.zone, float(made.log.time_s[0]))[0] / 3600.0
    zone: dict[str, Any] = {"time_zone": made.site.zone}

    def by(told: dict[str, Any]) -> pm.NightLog:
        return replace(made.log, mount=pm.read_mount({"site": told}))

    yield "as it is", made.log
    yield "zone unknown", by(site)
    read_by_it = replace(made.log, time_offset_s=3600.0 * offset_h)
    mount = pm.read_mount({"site": {**site, "utc_offset": offset_h}})
    yield "offset", replace(read_by_it, mount=mount)
    yield "to the minute", noted_coarsely(made.log, 60.0, "cut")
    for slip in FILE_SLIPS:
        stated = misstated(site, slip, np.random.default_rng(3))
        if abs(stated["latitude"]) < 89.0 and abs(stated["longitude"]) <= 180.0:
            yield slip, by({**stated, **zone})


def results(entry: str) -> Iterator[tuple[str, CheckResult]]:
    """Every kind of log of one and of four stars, each of another night."""
    for seed in SEEDS:
        for stars in (1, 4):
            for k, (kind, log) in enumerate(logs_of(night(seed, entry, stars=stars))):
                if (k + stars) % len(SEEDS) == (seed + ENTRIES.index(entry)) % len(SEEDS):
                    yield f"{entry}, {seed}, {stars}, {kind}", pm.check(log)


def orders(remedy: str) -> dict[str, str]:
    """What is ordered to be set to what, without conditions."""
    return dict(ORDER.findall(re.sub(r"(If|Did|Look)\b[^.?]*[.?]", "", remedy)))


@pytest.mark.parametrize("entry", ENTRIES)
def test_every_sentence_is_whole_and_nothing_is_set_to_what_it_is(entry: str) -> None:
    for kind, result in results(entry):
        told = [result.remedy, result.reason, *(one.text for one in result.explanations)]
        for text in told:
            assert SENTENCE.fullmatch(text), (kind, text)
            assert not any(word in text for word in NEVER), (kind, text)
            assert not re.search(r"[.?] [a-z]|  |\.\.", text), (kind, text)
        for one in result.explanations:
            assert one.typed != one.meant or one.entry == "agrees", (kind, one)
        first = result.explanations[0]
        assert first.typed not in orders(result.remedy).values(), (kind, result.remedy)
        if result.verdict != "disagrees":
            assert not orders(result.remedy), (kind, result.remedy)
            assert "set the" not in result.remedy, (kind, result.remedy)


def test_a_clock_less_than_a_minute_off_is_told_to_the_second() -> None:
    typed = {"time": "20:00", "entered_at": "2031-05-17T20:00:20+10:00"}
    told = pm.check(sent(Wrong(-20.0), step_arcsec=1.0, entered=typed)).explanations[0]
    assert (told.entry, told.typed, told.meant) == ("clock", "20:00:00", "20:00:20")
    assert told.text == (
        "The controller's clock is 20 s slow: it shows 20:00:00 when it is 20:00:20."
    )


def test_a_latitude_less_than_a_minute_of_its_notation_off_is_told_more_finely() -> None:
    log = sent(Wrong(latitude_deg=0.3), step_arcsec=1.0, entered={"latitude": "41 S"})
    told = {one.entry: one for one in pm.check(log).explanations}["latitude"]
    assert told.typed == "41°00′00″ S"
    assert told.meant == "41°18′00″ S"


def test_summer_time_in_the_clock_is_set_by_the_clock() -> None:
    log = sent(Wrong(3600.0), start="2031-07-17T20:00:00+10:00")
    result = pm.check(log)
    assert result.explanations[0].brief == "clock an hour ahead, as in summer time"
    assert result.remedy.startswith(
        "In the controller's menu set the time again, from a phone: local time. Leave summer time "
        "at no."
    )


def test_an_entry_that_leaves_large_misses_is_not_called_likely() -> None:
    log = sent(Wrong(-3600.0 - 75.0), step_arcsec=1.0)
    result = pm.check(log)
    told = {one.entry: one for one in result.explanations if one.also is None}
    assert told["summer_time"].misfit_arcmin > 10.0
    assert told["summer_time"].verdict != "likely"
    if result.explanations[0].entry == "summer_time":
        assert "set summer time" not in result.remedy


@pytest.mark.parametrize("ahead_s", [-57.4, 57.4])
def test_a_year_off_never_beats_a_clock_a_minute_off(ahead_s: float) -> None:
    result = pm.check(sent(Wrong(ahead_s), step_arcsec=1.0))
    assert result.explanations[0].entry == "clock"
    minutes = pm.check(noted_coarsely(sent(Wrong(ahead_s)), 60.0, "cut"))
    assert all(one.entry != "date" or one.probability < 0.05 for one in minutes.explanations)


@pytest.mark.parametrize("how", ["cut", "rounded"])
def test_a_difference_that_times_to_the_minute_may_hide_blames_nobody(how: str) -> None:
    for ahead_s in (-20.0, 0.0, 20.0):
        result = pm.check(noted_coarsely(sent(Wrong(ahead_s)), 60.0, how))
        assert result.verdict == "agrees"
        assert "as far as times noted to the minute can show it" in on_one_line(str(result))


def test_a_wrong_site_in_the_mount_file_is_named_by_its_zone() -> None:
    log = sent(Wrong())
    for change, line in (
        ({"longitude": -146.2}, "longitude = 146.2"),
        ({"latitude": 41.3}, "latitude = -41.3"),
    ):
        site = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"} | change
        result = pm.check(replace(log, mount=pm.read_mount({"site": site})))
        first = result.explanations[0]
        assert (first.entry, first.verdict, result.verdict) == ("mount_file", "likely", "disagrees")
        assert first.in_mount_file == line.split()[0]
        assert f"write {line} under [site] in the mount file" in result.remedy
        assert "controller's menu" not in result.remedy


def test_without_a_zone_the_place_is_asked_for() -> None:
    log = sent(Wrong())
    site = {"latitude": -41.3, "longitude": -146.2}
    result = pm.check(replace(log, mount=pm.read_mount({"site": site})))
    assert on_one_line(str(result)).startswith(
        "The controller's entries do not go with the site in the mount file. The stars cannot "
        "tell which of them is wrong."
    )
    assert {"longitude_sign", "mount_file"} == {result.explanations[0].entry, *result.tied}
    assert result.remedy == (
        "Look up on a phone's map where the telescope stood. If it was at 41°18′ S, 146°12′ W, the "
        "mount file is right: in the controller's menu set the longitude to 146°12′ W. If it was "
        "at 41°18′ S, 146°12′ E, the controller is right: write longitude = 146.2 under [site] in "
        "the mount file. Then go to one star and check again."
    )


def test_what_was_typed_as_the_mount_file_has_it_speaks_for_both() -> None:
    wrong = Wrong(latitude_deg=1.5)
    typed = {one.entry: one for one in pm.check(
        sent(wrong, entered={"latitude": "41 18 S"})
    ).explanations}  # fmt: skip
    bare = {one.entry: one for one in pm.check(sent(wrong)).explanations}
    ratios = [
        found["mount_file"].probability / found["latitude"].probability for found in (typed, bare)
    ]
    assert ratios[0] == pytest.approx(ratios[1], rel=0.15)


@pytest.mark.parametrize("ahead_h", [0, 1])
def test_an_offset_without_a_name_speaks_of_the_longitude_too(ahead_h: int) -> None:
    site = {"latitude": -41.3, "longitude": -146.2, "utc_offset": 10 + ahead_h}
    result = pm.check(replace(sent(Wrong()), mount=pm.read_mount({"site": site})))
    assert result.explanations[0].entry == "mount_file"
    assert result.explanations[0].probability > (0.6 if ahead_h else 0.9)
    assert result.place_is_open == (result.explanations[0].probability < 0.9)


SUMMER = "2031-01-17T22:30:00+11:00"  # Hobart's clocks are an hour ahead of +10:00


def read_by(offset: str) -> pm.NightLog:
    """The log of a right controller in summer, its times read by this offset in the mount file."""
    log = sent(Wrong(), start=SUMMER)
    site = {"latitude": -41.3, "longitude": 146.2, "utc_offset": offset}
    stated_s = 3600.0 * float(offset[:3])
    return replace(
        log,
        time_s=log.time_s + 39600.0 - stated_s,
        time_offset_s=stated_s,
        mount=pm.read_mount({"site": site}),
    )


def test_an_offset_without_the_summer_hour_in_the_mount_file_is_weighed_too() -> None:
    assert pm.check(read_by("+11:00")).verdict == "agrees"
    result = pm.check(read_by("+10:00"))
    told = {one.entry: one for one in result.explanations if one.also is None}
    assert told["mount_file"].in_mount_file == "utc_offset"
    assert (told["mount_file"].typed, told["mount_file"].meant) == ("+10:00", "+11:00")
    assert {"summer_time", "mount_file"} <= {result.explanations[0].entry, *result.tied}
    assert result.remedy.startswith(
        "Look up on a phone how far from UTC clocks at the site were on 2031-01-17. If it was "
        "+10:00, the mount file is right: in the controller's menu set summer time to no. If it "
        'was +11:00, the controller is right: write utc_offset = "+11:00" under [site] in the '
        "mount file."
    )


def test_a_sign_of_the_offset_the_wrong_way_round_in_the_mount_file_is_named() -> None:
    result = pm.check(read_by("-11:00"))
    told = [one for one in result.explanations if one.entry == "mount_file"]
    assert told[0].in_mount_file == "utc_offset"
    assert told[0].probability > 0.1
    assert 'utc_offset = "+11:00"' in result.remedy
