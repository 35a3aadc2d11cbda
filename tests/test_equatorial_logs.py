"""Logs in right ascension and declination, and commanded places noted before the centring."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers
from hypothesis import given, settings
from hypothesis import strategies as st
from logtexts import FIGURES, codes, log_of
from test_against_astropy_places import _RoundEarth

import pointmodel as pm
from pointmodel.base.angles import separation_arcmin
from pointmodel.base.arrays import FloatArray
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.places import carried_forward
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import (
    apparent_places,
    azimuth_altitude,
    catalogue_places,
    horizontal_places,
    places_of_date,
)

ARCSEC_ARCMIN = 1 / 60
SITE = {"latitude": -41.3, "longitude": 146.2, "elevation": 640, "utc_offset": "+10:00"}
MOUNT: dict[str, Any] = {"site": SITE, "weather": {"pressure": 940, "temperature": 5}}
OBSERVER = Observer(-41.3, 146.2, 640.0)
AT_S = 1936782270.0  # 2031-05-17T21:04:30+10:00
EQUATORIAL = "time,commanded_ra,commanded_dec,centred_ra,centred_dec"
AT = "2031-05-17T21:04:30"


def hours(ra_deg: float) -> str:
    """A right ascension as `h:m:s`, to a tenth of a second."""
    tenths = round(ra_deg / 15 * 36000) % 864000
    return f"{tenths // 36000}:{tenths // 600 % 60:02d}:{tenths % 600 / 10:04.1f}"


def degrees(dec_deg: float) -> str:
    """A declination as `d:m:s`."""
    seconds = round(abs(dec_deg) * 3600)
    sign = "-" if dec_deg < 0 else "+"
    return f"{sign}{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def moment(time_s: float) -> str:
    return datetime.fromtimestamp(time_s, UTC).isoformat()


def equatorial_text(
    time_s: FloatArray, *places_deg: tuple[FloatArray, FloatArray], header: str = EQUATORIAL
) -> str:
    """A log in right ascension and declination of date, of azimuths and altitudes over the site."""
    columns = [list(map(moment, time_s.tolist()))]
    for az_deg, alt_deg in places_deg:
        ra_deg, dec_deg = places_of_date(az_deg, alt_deg, time_s, OBSERVER)
        columns += [list(map(hours, ra_deg.tolist())), list(map(degrees, dec_deg.tolist()))]
    return "\n".join([header, *(",".join(row) for row in zip(*columns, strict=True)), ""])


def off_arcmin(log: pm.NightLog, az_deg: Any, alt_deg: Any) -> FloatArray:
    return separation_arcmin(log.commanded_az_deg, log.commanded_alt_deg, az_deg, alt_deg)


# Right ascension and declination ---------------------------------------------------------------


def test_places_of_date_become_the_azimuths_and_altitudes_they_came_from() -> None:
    az_deg, alt_deg = np.array([10.0, 200.0, 359.9]), np.array([20.0, 75.0, 45.0])
    time_s = AT_S + np.array([0.0, 600.0, 7200.0])
    text = equatorial_text(time_s, (az_deg, alt_deg), (az_deg + 1, alt_deg - 1))
    log = log_of(text, MOUNT)
    assert off_arcmin(log, az_deg, alt_deg).max() < 1.5 * ARCSEC_ARCMIN  # a tenth of a second: 1.5″
    centred = separation_arcmin(
        log.centred_az_deg, log.centred_alt_deg, np.mod(az_deg + 1, 360), alt_deg - 1
    )
    assert centred.max() < 1.5 * ARCSEC_ARCMIN
    assert (log.commanded_equatorial, log.centred_equatorial, log.camera) == (True, True, False)
    assert log.warnings == ()


@pytest.mark.parametrize(
    ("ra", "dec"),
    [
        ("5:34:31.9", "+22:00:52"),
        ("5h34m31.9s", "22 0 52"),
        ("5h34.5317m", "22°0′52″"),
        ("05 34 31.9", "+22 00 52"),
        ("83.63292", "22.014444"),
    ],
)
def test_hours_and_degrees_are_told_apart(ra: str, dec: str) -> None:
    time_s = AT_S - 4 * 3600  # it stands in the north-west then
    log = log_of(f"time,commanded_ra,commanded_dec\n{moment(time_s)},{ra},{dec}\n", MOUNT)
    place = azimuth_altitude(83.63292, 22.014444, time_s, OBSERVER)
    assert off_arcmin(log, *place)[0] < 0.5 * ARCSEC_ARCMIN


def test_a_frame_holds_degrees_and_is_left_as_it_was() -> None:
    frame = pd.DataFrame({
        "time": [pd.Timestamp(AT_S, unit="s", tz="UTC")],
        "commanded_ra": [200.5],
        "commanded_dec": [-11.25],
    })  # fmt: skip
    before = frame.copy(deep=True)
    log = pm.read_log(frame, MOUNT)
    pd.testing.assert_frame_equal(frame, before)
    assert off_arcmin(log, *azimuth_altitude(200.5, -11.25, AT_S, OBSERVER))[0] < 1e-6


def test_the_equinox_is_told_by_line_or_by_the_mount_file() -> None:
    header = "time,commanded_ra,commanded_dec,equinox"
    text = f"{header}\n{AT},200.5,-11.25,J2000\n{AT},200.5,-11.25,date\n{AT},200.5,-11.25,\n"
    of_date = azimuth_altitude(200.5, -11.25, AT_S, OBSERVER)
    old = azimuth_altitude(*apparent_places(200.5, -11.25, AT_S), AT_S, OBSERVER)
    apart = float(separation_arcmin(*of_date, *old))
    assert 20 < apart < 30  # 31 years of precession
    np.testing.assert_allclose(off_arcmin(log_of(text, MOUNT), *of_date), [apart, 0, 0], atol=1e-6)
    told = MOUNT | {"mount": {"equinox": "J2000"}}
    np.testing.assert_allclose(off_arcmin(log_of(text, told), *old), [0, apart, 0], atol=1e-6)
    with pytest.raises(pm.InputError, match='line 2, column equinox: read "B1950"; wanted date or'):
        log_of(text.replace("J2000", "B1950", 1), MOUNT)


@pytest.mark.filterwarnings("ignore:.*dubious year")  # astropy's own, beyond its leap seconds
def test_astropy_puts_a_j2000_place_where_the_log_has_it() -> None:
    text = f"time,commanded_ra,commanded_dec,equinox\n{AT},13:25:11.6,-11:09:41,J2000\n"
    log = log_of(text, MOUNT)
    with (
        iers.conf.set_temp("auto_download", False),
        iers.earth_orientation_table.set(_RoundEarth()),
    ):
        here = EarthLocation.from_geodetic(146.2, -41.3, 640.0)
        frame = AltAz(obstime=Time(AT_S, format="unix", scale="utc"), location=here)
        theirs = SkyCoord("13h25m11.6s", "-11d09m41s").transform_to(frame)
    apart = off_arcmin(log, theirs.az.to_value(u.deg), theirs.alt.to_value(u.deg))
    assert apart[0] < 0.5 * ARCSEC_ARCMIN


def test_a_night_in_right_ascension_fits_to_the_same_terms() -> None:
    made = pm.simulate(seed=4, pairs=16, mount=MOUNT, readout_step_arcsec=0.0)
    log = made.log
    text = equatorial_text(
        log.time_s,
        (log.commanded_az_deg, log.commanded_alt_deg),
        (log.centred_az_deg, log.centred_alt_deg),
    )
    again = log_of(text, MOUNT)
    plain, equatorial = (
        pm.fit(one).terms.loc[:, ["value", "standard_error"]] for one in (log, again)
    )
    off = (equatorial["value"] - plain["value"]).abs() / plain["standard_error"]
    assert off[:6].max() < 0.1


def test_a_place_beside_an_azimuth_and_altitude_is_lifted_by_the_air() -> None:
    az_deg, alt_deg = np.array([30.0, 120.0]), np.array([12.0, 50.0])
    header = "time,commanded_ra,commanded_dec,centred_az,centred_alt"
    text = equatorial_text(np.full(2, AT_S), (az_deg, alt_deg), header=header.rsplit(",", 2)[0])
    lines = text.strip().split("\n")
    mixed = "\n".join([header, f"{lines[1]},30,12", f"{lines[2]},,", ""])
    log = log_of(mixed, MOUNT)
    lift = refraction_lift_arcmin(alt_deg, 940, 5)
    assert lift[0] > 4
    np.testing.assert_allclose((log.commanded_alt_deg - alt_deg) * 60, lift, atol=0.02)
    assert (log.commanded_equatorial, log.centred_equatorial) == (True, False)


def test_a_picture_s_place_is_what_the_mount_saw_through_the_air() -> None:
    az_deg, alt_deg = np.array([30.0]), np.array([12.0])
    old = catalogue_places(*places_of_date(az_deg, alt_deg, AT_S, OBSERVER), AT_S)
    text = (
        "time,commanded_az,commanded_alt,seen_ra,seen_dec,equinox\n"
        f"{AT},30.5,12.2,{hours(old[0][0])},{degrees(old[1][0])},J2000\n"
    )
    log = log_of(text, MOUNT)
    assert log.camera
    assert (log.commanded_equatorial, log.centred_equatorial) == (False, True)
    lifted = alt_deg + refraction_lift_arcmin(alt_deg, 940, 5) / 60
    assert separation_arcmin(log.star_az_deg, log.star_alt_deg, az_deg, lifted)[0] < 0.03
    assert log.reading_az_deg[0] == 30.5


def test_azimuth_and_altitude_go_first_where_both_are_there() -> None:
    text = f"time,commanded_az,commanded_alt,commanded_ra,commanded_dec\n{AT},30,40,5h,-20\n"
    log = log_of(text, {})
    assert (log.commanded_az_deg[0], log.commanded_equatorial) == (30.0, False)


def test_what_equatorial_columns_need_is_told_with_line_and_column() -> None:
    text = f"{EQUATORIAL}\n{AT}+10:00,5h,-20,5h,-20\n,6h,-20,6h,-20\n{AT},7h,-20,7h,-20\n"
    with pytest.raises(pm.InputError, match="latitude and longitude under") as caught:
        log_of(text, {})
    found = [(at.line, at.column, at.found) for at in caught.value.problems]
    assert found == [
        (1, "commanded_ra", "commanded and centred in ra, dec"),
        (3, "time", "nothing"),
        (4, "time", f'"{AT}"'),
    ]
    assert "the time of the centring" in caught.value.problems[1].wanted
    assert "a zone behind the time, such as +10:00, or" in caught.value.problems[2].wanted
    with pytest.raises(pm.InputError, match="latitude and longitude under"):
        log_of(text, {"site": {"latitude": -41.3, "utc_offset": "+10:00"}})


def test_a_wrong_mount_file_is_not_blamed_twice() -> None:
    with pytest.raises(pm.InputError, match=r"site\.latitude") as caught:
        log_of(f"{EQUATORIAL}\n{AT},5h,-20,5h,-20\n", {"site": {"latitude": 95}})
    assert [at.column for at in caught.value.problems] == ["site.latitude"]


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ("25h,-20,5h,-20", "commanded_ra", "a right ascension in hours"),
        ("5h,-95,5h,-20", "commanded_dec", "a declination from -90 to"),
        ("5h,,5h,-20", "commanded_dec", "a figure, since commanded_ra has one"),
        (",,5h,-20", "commanded_az", "figures, since centred_ra and centred_dec need"),
    ],
)
def test_wrong_cells_are_named(row: str, column: str, wanted: str) -> None:
    with pytest.raises(pm.InputError, match=f"line 2, column {column}: .*wanted {wanted}"):
        log_of(f"{EQUATORIAL}\n{AT},{row}\n", MOUNT)


def test_places_under_the_ground_are_asked_about() -> None:
    log = log_of(f"time,commanded_ra,commanded_dec\n{AT},5h,+70\n", MOUNT)
    assert codes(log) == ["below_horizon"]
    assert "line 2 stood below the horizon" in log.warnings[0].text


def test_the_pairs_read_back_as_azimuths_and_altitudes() -> None:
    log = log_of(f"{EQUATORIAL}\n{AT},12h,-20,12:01:00,-20:10\n", MOUNT)
    again = pm.read_log(log.pairs, MOUNT)
    assert not again.commanded_equatorial
    np.testing.assert_allclose(again.centred_alt_deg, log.centred_alt_deg)


CELLS = ["", "Antares", "12'", "0.5 f", "21:04", "2031-05-17", "5h", "-20", "23:59:59.9", "360",
         "90", "-90", "2031-05-17T21:04", "1900-01-01T00:00Z",
         "2200-12-31T23:59Z", "J2000", "date", "nan", "25h", "12:60"]  # fmt: skip
COLUMNS = ["target", "date", "nudge_right", "nudge_up", "centred_az", "centred_alt", "time",
           "commanded_time", "equinox", "commanded_az", "commanded_alt", "commanded_ra",
           "commanded_dec", "centred_ra", "centred_dec", "seen_ra", "seen_dec"]  # fmt: skip


@settings(derandomize=True, deadline=None)
@given(st.data())
def test_any_cells_are_a_log_or_an_input_error(data: st.DataObject) -> None:
    header = data.draw(st.lists(st.sampled_from(COLUMNS), unique=True, min_size=3))
    row = st.tuples(*[st.sampled_from(CELLS)] * len(header)).map(",".join)
    rows = data.draw(st.lists(row, max_size=4))
    with contextlib.suppress(pm.InputError):
        log = log_of("\n".join([",".join(header), *rows, ""]), MOUNT)
        assert np.isfinite([log.commanded_az_deg, log.commanded_alt_deg]).all()
        assert (np.abs(log.commanded_alt_deg) <= 90).all()
        assert (np.isfinite(log.centred_az_deg) == np.isfinite(log.centred_alt_deg)).all()


# Commanded places noted before the centring ------------------------------------------------------


def test_a_place_is_carried_forward_as_the_sky_turns() -> None:
    ra_deg, dec_deg = np.array([200.0, 150.0, 30.0]), np.array([-20.0, 5.0, -85.0])
    early = azimuth_altitude(ra_deg, dec_deg, AT_S, OBSERVER)
    seconds = np.array([30.0, 600.0, -3600.0])
    late = azimuth_altitude(ra_deg, dec_deg, AT_S + seconds, OBSERVER)
    carried = carried_forward(*early, seconds, OBSERVER.latitude_deg)
    assert separation_arcmin(*carried, *late).max() < 0.2 * ARCSEC_ARCMIN


def stale_text(seconds: float) -> str:
    """Commands for two stars by azimuth and altitude, noted before they were centred."""
    ra_deg, dec_deg = np.array([200.0, 150.0]), np.array([-20.0, 5.0])
    early = azimuth_altitude(ra_deg, dec_deg, AT_S - seconds, OBSERVER)
    rows = [
        f"{moment(AT_S - seconds)},{moment(AT_S)},{az:.6f},{alt:.6f},{az:.6f},{alt:.6f}"
        for az, alt in zip(*early, strict=True)
    ]
    return "\n".join([f"commanded_time,time,{FIGURES}", *rows, ""])


def test_commanded_places_belong_to_the_moment_of_the_centring() -> None:
    late = azimuth_altitude(np.array([200.0, 150.0]), np.array([-20.0, 5.0]), AT_S, OBSERVER)
    log = log_of(stale_text(150.0), {"site": {"latitude": -41.3}})
    assert off_arcmin(log, *late).max() < 0.2 * ARCSEC_ARCMIN
    assert codes(log) == ["carried_forward"]
    assert "up to 2.5 min off the pair's time (lines 2 and 3)" in log.warnings[0].text
    az_deg, alt_deg, noted_s = log.noted_places
    np.testing.assert_allclose([az_deg, alt_deg], [log.centred_az_deg, log.centred_alt_deg])
    np.testing.assert_array_equal(noted_s, AT_S - 150.0)
    np.testing.assert_array_equal(log.commanded_time_s, AT_S)  # where they stand now
    assert log.select([False, True]).noted_places[0] == az_deg[1]


def test_carried_places_are_not_carried_twice() -> None:
    log = log_of(stale_text(150.0), MOUNT)
    again = pm.read_log(log.pairs, MOUNT)
    np.testing.assert_allclose(again.commanded_az_deg, log.commanded_az_deg)
    assert again.noted is None


def test_without_a_latitude_what_it_costs_is_said() -> None:
    log = log_of(stale_text(150.0))
    assert codes(log) == ["stale_command"]
    assert "the sky turns 15′ a minute. Write latitude under [site]" in log.warnings[0].text
    assert log.noted is None
    np.testing.assert_array_equal(log.noted_places[2], AT_S - 150.0)
    assert codes(log_of(stale_text(15.0))) == []
    assert log_of(stale_text(0.0), MOUNT).noted is None


def test_a_command_noted_after_the_centring_is_asked_about() -> None:
    assert codes(log_of(stale_text(-100.0), MOUNT)) == ["carried_forward", "commanded_later"]


def test_a_clock_or_longitude_wrong_in_the_controller_costs_the_carrying_nothing() -> None:
    hour, dec, seconds = np.array([20.0, -60.0]), np.array([-30.0, 10.0]), np.array([180.0, 180.0])
    believed_hour = hour + 15.0  # its clock an hour fast
    noted = horizontal_places(believed_hour, dec, -41.3)
    later = horizontal_places(believed_hour + 180 * 15.041 / 3600, dec, -41.3)
    carried = carried_forward(*noted, seconds, -41.3)
    assert separation_arcmin(*carried, *later).max() < 0.01
    one_degree_off = carried_forward(*noted, seconds, -40.3)
    assert 0.3 < separation_arcmin(*one_degree_off, *later).max() < 0.9


def test_stale_commands_give_the_true_terms_once_carried() -> None:
    made = pm.simulate(seed=11, pairs=14, mount=MOUNT, mount_class="usual")
    log = made.log
    ages_s = np.random.default_rng(1).uniform(60, 240, len(log))
    early = carried_forward(log.commanded_az_deg, log.commanded_alt_deg, -ages_s, -41.3)
    frame = log.pairs.assign(
        commanded_az=early[0],
        commanded_alt=early[1],
        commanded_time=log.pairs["time"] - pd.to_timedelta(ages_s, unit="s"),
    )
    true = np.array([made.terms[name] for name in pm.fit(log).terms.index[:6]])
    carried = pm.fit(frame, mount=MOUNT).terms[:6]
    stale = pm.fit(frame.drop(columns="commanded_time"), mount=MOUNT).terms[:6]
    np.testing.assert_allclose(carried["value"], pm.fit(log).terms["value"][:6], atol=0.02)
    assert ((carried["low"] <= true) & (true <= carried["high"])).sum() >= 5
    assert np.abs(stale["value"] - true).max() > 10


def test_two_moments_of_which_one_has_a_zone_are_not_compared() -> None:
    header = f"commanded_time,time,{FIGURES}"
    with pytest.raises(pm.InputError, match=r"line 2, column commanded_time: .*wanted a zone"):
        log_of(f"{header}\n{AT},{AT}+10:00,1,2,3,4\n")
    with pytest.raises(pm.InputError, match=r"line 2, column time: .*wanted a zone behind"):
        log_of(f"{header}\n{AT}+10:00,{AT},1,2,3,4\n")
    assert codes(log_of(f"{header}\n{AT},{AT},1,2,3,4\n")) == ["time_without_zone"]


def test_an_equatorial_place_does_not_age() -> None:
    text = f"commanded_time,time,commanded_ra,commanded_dec\n2031-05-17T20:00,{AT},200.0,-20\n"
    log = log_of(text, MOUNT)
    assert off_arcmin(log, *azimuth_altitude(200.0, -20.0, AT_S, OBSERVER))[0] < 1e-6
    assert (log.noted, codes(log)) == (None, [])
    assert log.noted_places[2][0] == AT_S


def test_the_sky_is_not_loaded_for_a_log_that_needs_none() -> None:
    code = (
        "import io, sys; from pointmodel.reading.nightlog import read_log; "
        f"read_log(io.StringIO('{FIGURES},time\\n1,2,3,4,{AT}\\n')); "
        "print('erfa' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "False"
