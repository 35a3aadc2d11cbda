"""The Sun over a site against the solar position report's example: `authorities/sky.py`."""

from __future__ import annotations

import pytest
from authorities import sky

from pointmodel.base.times import parse_moment
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.sky.bodies import sun_place
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import azimuth_altitude

REPORTS_UNCERTAINTY_DEG = 3e-4


def test_the_sun_stands_where_the_report_has_it() -> None:
    example = sky.NREL
    time_s = parse_moment(str(example["at"])).posix_s
    site = Observer(example["latitude"], example["longitude"], example["elevation_m"])
    sun = sun_place(time_s, site)
    air = (float(example["pressure_hpa"]), float(example["temperature_c"]))
    az, alt = azimuth_altitude(sun.ra_deg, sun.dec_deg, time_s, site)
    lifted = alt + refraction_lift_arcmin(alt, *air) / 60  # the report's own formula
    assert 90 - lifted == pytest.approx(example["zenith_angle"], abs=REPORTS_UNCERTAINTY_DEG)
    assert az == pytest.approx(example["azimuth"], abs=REPORTS_UNCERTAINTY_DEG)
    assert sun.dec_deg == pytest.approx(example["declination"], abs=REPORTS_UNCERTAINTY_DEG)
