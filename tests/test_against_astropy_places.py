"""Azimuths, altitudes and constellations of the bundled stars against astropy.coordinates.

With the same air and the same Earth: its measured orientation is put at zero, without a network.
astropy's planets come from the same series as ours and would prove nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from astropy import units as u
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_constellation
from astropy.time import Time
from astropy.utils import iers

from pointmodel.base.angles import separation_arcmin
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import apparent_places, azimuth_altitude
from pointmodel.sky.stars import star_table

ARCSEC_ARCMIN = 1.0 / 60.0
STARS_ARCSEC = 0.5
SITES = [Observer(-41.3, 146.2, 640.0), Observer(64.1, -21.9, 30.0), Observer(0.0, 179.9, 2400.0)]
DATES = ["2024-02-29T11:00:00", "2031-05-17T09:30:00", "2031-12-31T23:59:59"]
LETTERED_OVER_THE_BORDER = {
    5372,
    44248,
    46471,
}  # 2 UMi is in Cepheus, 10 UMa in Lynx, 41 Lyn in UMa


class _RoundEarth(iers.IERS):
    """An Earth whose UT1 is UTC and whose pole does not move."""

    def ut1_utc(self, jd1: Any, jd2: Any = 0.0, return_status: bool = False) -> Any:
        zero = np.zeros(np.shape(jd1)) * u.s
        return (zero, np.zeros(np.shape(jd1), dtype=int)) if return_status else zero

    def pm_xy(self, jd1: Any, jd2: Any = 0.0, return_status: bool = False) -> Any:
        zero = np.zeros(np.shape(getattr(jd1, "jd1", jd1))) * u.arcsec
        both = (zero, zero)
        return (*both, np.zeros(zero.shape, dtype=int)) if return_status else both


@pytest.fixture(autouse=True)
def _earth_without_measured_orientation() -> Iterator[None]:
    with (
        iers.conf.set_temp("auto_download", False),
        iers.earth_orientation_table.set(_RoundEarth()),
    ):
        yield


def _astropys(observer: Observer, date: str, pressure_hpa: float) -> tuple[Any, Any]:
    stars = star_table()
    distance = 1000 / np.maximum(stars.parallax_mas, 0.2) * u.pc
    moment = Time(date, scale="utc")
    sky = SkyCoord(
        ra=stars.ra_deg * u.deg,
        dec=stars.dec_deg * u.deg,
        distance=distance,
        pm_ra_cosdec=stars.pm_ra_mas_yr * u.mas / u.yr,
        pm_dec=stars.pm_dec_mas_yr * u.mas / u.yr,
        obstime=Time("J2000"),
    ).apply_space_motion(moment)
    frame = AltAz(
        obstime=moment,
        location=EarthLocation.from_geodetic(
            observer.longitude_deg, observer.latitude_deg, observer.elevation_m
        ),
        pressure=pressure_hpa * u.hPa,
        temperature=5 * u.deg_C,
        relative_humidity=0.5,
        obswl=0.55 * u.micron,
    )
    seen = sky.transform_to(frame)
    return seen.az.deg, seen.alt.deg


@pytest.mark.filterwarnings("ignore:.*dubious year")  # astropy's own, beyond its leap seconds
@pytest.mark.parametrize("pressure_hpa", [0.0, 930.0])
@pytest.mark.parametrize(("observer", "date"), list(zip(SITES, DATES, strict=True)))
def test_every_bundled_star_stands_where_astropy_has_it(
    observer: Observer, date: str, pressure_hpa: float
) -> None:
    stars = star_table()
    time_s = float(np.datetime64(date, "s").astype(int))
    place = apparent_places(
        stars.ra_deg,
        stars.dec_deg,
        time_s,
        pm_ra_mas_yr=stars.pm_ra_mas_yr,
        pm_dec_mas_yr=stars.pm_dec_mas_yr,
        parallax_mas=stars.parallax_mas,
    )
    az, alt = azimuth_altitude(
        *place, time_s, observer, pressure_hpa=pressure_hpa, temperature_c=5.0
    )
    off = separation_arcmin(az, alt, *_astropys(observer, date, pressure_hpa))
    up = alt > 5.0
    assert up.sum() > 300
    assert off[up].max() < STARS_ARCSEC * ARCSEC_ARCMIN


def test_every_star_lies_in_its_constellation() -> None:
    stars = star_table()
    places = SkyCoord(stars.ra_deg * u.deg, stars.dec_deg * u.deg)
    theirs = get_constellation(places, short_name=True)
    differing = {
        int(hip)
        for hip, ours, other in zip(stars.hip, stars.constellation, theirs, strict=True)
        if ours != other
    }
    assert differing == LETTERED_OVER_THE_BORDER
