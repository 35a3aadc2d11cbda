"""Solved images against the FITS papers: the worked example of a header, and the scales of time.

Source: M. R. Calabretta and E. W. Greisen, Representations of celestial coordinates in FITS, A&A
395 (2002) 1077, section 7.1: header of the first example and its pixel and sky values (from memory;
astropy's own WCS gives the same to the last figure printed). Scales of time: FITS Standard 4.0,
table 30; TAI − UTC = 37 s since 2017, TT − TAI = 32.184 s, TAI − GPS = 19 s.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from astropy.io import fits
from astropy.wcs import WCS

from pointmodel.reading.sights import mid_exposure_s, sight_of

EXAMPLE_1 = {
    "CRPIX1": 256.0, "CDELT1": -0.003, "CTYPE1": "RA---TAN", "CRVAL1": 45.83, "CUNIT1": "deg",
    "CRPIX2": 257.0, "CDELT2": 0.003, "CTYPE2": "DEC--TAN", "CRVAL2": 63.57, "CUNIT2": "deg",
    "CRPIX3": 1.0, "CDELT3": 7128.3, "CTYPE3": "VELOCITY", "CRVAL3": 500000.0, "CUNIT3": "m/s",
    "CRPIX4": 1.0, "CDELT4": 1.0, "CTYPE4": "STOKES", "CRVAL4": 1.0,
    "LONPOLE": 180.0, "RADESYS": "FK5", "EQUINOX": 2000.0,
    "DATE-OBS": "2031-05-17T11:04:30", "EXPTIME": 10.0,
}  # fmt: skip
CORNERS = {  # pixel: right ascension, declination
    (1, 2): (47.503264, 62.795111),
    (1, 512): (47.595581, 64.324332),
    (511, 512): (44.064419, 64.324332),
}
MICRODEG = 1e-6
FK5_TO_ICRS_DEG = 0.03 / 3600  # Feissel and Mignard 1998: within some 25 mas


def example(
    path: Path, size: int, corner: tuple[int, int] | None = None, system: str = "ICRS"
) -> Path:
    """The paper's example as a file of its own, `size` pixels wide.

    With `corner` the array is shifted so that this pixel is its middle. The paper's system is FK5;
    as ICRS nothing is left to convert.
    """
    unit = fits.PrimaryHDU(np.zeros((1, 2, size, size), dtype=np.uint8))
    for key, value in EXAMPLE_1.items():
        unit.header[key] = value
    unit.header["RADESYS"] = system
    if corner is not None:
        middle = (size + 1) / 2.0
        unit.header["CRPIX1"] += middle - corner[0]
        unit.header["CRPIX2"] += middle - corner[1]
    unit.writeto(path)
    return path


@pytest.mark.parametrize("corner", list(CORNERS))
def test_pixels_of_the_worked_example_look_where_the_paper_says(
    tmp_path: Path, corner: tuple[int, int]
) -> None:
    sight = sight_of(example(tmp_path / "corner.fits", 9, corner))
    ra_deg, dec_deg = CORNERS[corner]
    assert (sight.ra_deg, sight.dec_deg) == pytest.approx((ra_deg, dec_deg), abs=MICRODEG)


def test_the_example_s_own_system_is_within_milliarcseconds_of_icrs(tmp_path: Path) -> None:
    sight = sight_of(example(tmp_path / "corner.fits", 9, (1, 2), "FK5"))
    ra_deg, dec_deg = CORNERS[1, 2]
    across = (sight.ra_deg - ra_deg) * np.cos(np.radians(dec_deg))
    assert MICRODEG < np.hypot(across, sight.dec_deg - dec_deg) < FK5_TO_ICRS_DEG


def test_the_middle_of_an_image_is_between_its_first_and_last_pixel(tmp_path: Path) -> None:
    path = example(tmp_path / "whole.fits", 512)
    sight = sight_of(path)
    header = fits.getheader(path)
    del header["DATE-OBS"]  # astropy warns of what it makes of it
    there = WCS(header).celestial.all_pix2world(256.5, 256.5, 1)
    assert (sight.ra_deg, sight.dec_deg) == pytest.approx(tuple(map(float, there)), abs=1e-9)
    assert sight.ra_deg == pytest.approx(45.83 - 0.0015 / np.cos(np.radians(63.57)), abs=1e-5)


UTC_S = datetime(2031, 5, 17, 11, 4, 30, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("scale", "ahead_s"),
    [("UTC", 0.0), ("TAI", 37.0), ("TT", 69.184), ("TDB", 69.184), ("GPS", 18.0), ("UT1", 0.0),
     ("tt(tai)", 69.184)],
)  # fmt: skip
def test_the_scale_of_time_is_heeded(scale: str, ahead_s: float) -> None:
    header = {"DATE-AVG": "2031-05-17T11:04:30", "TIMESYS": scale}
    assert mid_exposure_s(header) == pytest.approx(UTC_S - ahead_s, abs=1e-3)


def test_the_middle_of_the_exposure_is_told_or_reckoned() -> None:
    start = {"DATE-OBS": "2031-05-17T11:04:30.25", "EXPTIME": 9.5}
    assert mid_exposure_s(start) == pytest.approx(UTC_S + 0.25 + 4.75, abs=1e-6)
    told = start | {"DATE-AVG": "2031-05-17T11:04:36Z"}
    assert mid_exposure_s(told) == pytest.approx(UTC_S + 6.0, abs=1e-6)
