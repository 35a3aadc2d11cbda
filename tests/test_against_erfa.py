"""Places and sidereal time against the published test values of SOFA and ERFA.

Figures and where they come from: `authorities/sky.py`.
"""

from __future__ import annotations

import erfa
import numpy as np
import pytest
from authorities import sky

from pointmodel.base.angles import separation_arcmin
from pointmodel.sky.clock import sidereal_time_deg
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import (
    apparent_places,
    azimuth_altitude,
    catalogue_places,
    horizontal_places,
    hour_angles_and_declinations,
    places_of_date,
)

ARCSEC = 1.0 / 3600.0
ROUNDING_DEG = 1e-11
TT_FOR_UT_ARCSEC = 5e-4  # SOFA's test gives one date for both; 65 s of precession and nutation
RADIAL_VELOCITY_ARCSEC = 0.01  # SOFA's star moves along the line of sight, which is left out here
POLAR_MOTION_ARCSEC = 0.5  # likewise
TT_MINUS_UTC_2012_S = 67.184
POSIX_ZERO_JD = 2440587.5
MAS = 180 * 3.6e6 / np.pi


def _time_s(day: float, fraction: float = 0.0) -> float:
    return (day - POSIX_ZERO_JD + fraction) * 86400.0


def _off_arcsec(place: tuple[np.ndarray, np.ndarray], other: tuple[float, float]) -> float:
    return float(separation_arcmin(*place, *other)) * 60


def test_azimuth_and_altitude_are_sofas() -> None:
    given, wanted = sky.SOFA_HD2AE
    found = horizontal_places(*np.degrees(given))
    np.testing.assert_allclose(found, np.degrees(wanted), rtol=0, atol=ROUNDING_DEG)


def test_hour_angle_and_declination_are_sofas() -> None:
    given, wanted = sky.SOFA_AE2HD
    found = hour_angles_and_declinations(*np.degrees(given))
    np.testing.assert_allclose(found, np.degrees(wanted), rtol=0, atol=ROUNDING_DEG)


def test_separation_is_sofas() -> None:
    given, wanted = sky.SOFA_SEPS
    found = separation_arcmin(*np.degrees(given)) / 60
    assert found == pytest.approx(np.degrees(wanted), abs=ROUNDING_DEG)


def test_sidereal_time_is_sofas() -> None:
    time_s = _time_s(sky.SOFA_SIDEREAL_JD)
    tolerance = TT_FOR_UT_ARCSEC * ARCSEC
    assert sidereal_time_deg(time_s) == pytest.approx(np.degrees(sky.SOFA_GST06A), abs=tolerance)


def test_the_installed_refraction_constants_are_sofas() -> None:
    given, wanted = sky.SOFA_REFCO
    np.testing.assert_allclose(erfa.refco(*given), wanted, rtol=1e-12)


def test_a_star_is_carried_to_the_date_as_sofa_does_it() -> None:
    star = sky.SOFA_CATALOGUE
    day, fraction = sky.SOFA_TT_JD
    place = apparent_places(
        np.degrees(star["rc"]),
        np.degrees(star["dc"]),
        _time_s(day, fraction) - TT_MINUS_UTC_2012_S,
        pm_ra_mas_yr=star["pr"] * MAS * np.cos(star["dc"]),
        pm_dec_mas_yr=star["pd"] * MAS,
        parallax_mas=star["px_arcsec"] * 1000,
    )
    ra, dec = sky.SOFA_ATCIQ
    wanted = (np.degrees(ra - erfa.eo06a(day, fraction)), np.degrees(dec))
    assert _off_arcsec(place, wanted) < RADIAL_VELOCITY_ARCSEC


def test_a_place_of_date_is_carried_back_as_sofa_does_it() -> None:
    (ra, dec), wanted = sky.SOFA_ATICQ
    day, fraction = sky.SOFA_TT_JD
    ra_of_date = np.degrees(ra - erfa.eo06a(day, fraction))
    time_s = _time_s(day, fraction) - TT_MINUS_UTC_2012_S
    place = catalogue_places(ra_of_date, np.degrees(dec), time_s)
    assert _off_arcsec(place, (np.degrees(wanted[0]), np.degrees(wanted[1]))) < 1e-4


def test_a_low_refracted_place_is_sofas_and_leads_back() -> None:
    example = sky.SOFA_ATIOQ
    day, fraction = example["utc_jd"]
    time_s = _time_s(day, fraction) + example["ut1_minus_utc_s"]
    site = Observer(
        np.degrees(example["latitude"]), np.degrees(example["longitude"]), example["elevation_m"]
    )
    air = {name: example[name] for name in ("pressure_hpa", "temperature_c")}
    ra = np.degrees(example["cirs"][0] - erfa.eo06a(day, fraction + TT_MINUS_UTC_2012_S / 86400))
    dec = np.degrees(example["cirs"][1])
    az, alt = azimuth_altitude(ra, dec, time_s, site, **air)
    wanted = np.degrees((example["azimuth"], np.pi / 2 - example["zenith_distance"]))
    assert _off_arcsec((az, alt), tuple(wanted)) < POLAR_MOTION_ARCSEC
    assert _off_arcsec(places_of_date(az, alt, time_s, site, **air), (ra, dec)) < 0.01
