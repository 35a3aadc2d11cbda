"""Solved images beside a log: which line each belongs to, what they become, and what is refused."""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from astropy.io import fits
from logtexts import codes

import pointmodel as pm
from pointmodel.base.angles import separation_arcmin
from pointmodel.mount.term import refraction_lift_arcmin
from pointmodel.reading.sights import sights_in
from pointmodel.simulation.mount import pointed_deg
from pointmodel.sky.places import Observer, catalogue_places, places_of_date

MOUNT: dict[str, Any] = {
    "site": {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
}
OBSERVER = Observer(-41.3, 146.2)
HEADER = "target,time,commanded_az,commanded_alt"
AT_S = datetime(2031, 5, 17, 11, 4, 30, tzinfo=UTC).timestamp()


def image(folder: Path, name: str, ra: float, dec: float, mid_s: float, **further: Any) -> Path:
    """A small solved image; `further` keywords replace, None takes one away."""
    folder.mkdir(exist_ok=True)
    unit = fits.PrimaryHDU(np.zeros((5, 8), dtype=np.uint8))
    start = datetime.fromtimestamp(mid_s - 5.0, UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")
    keys: dict[str, Any] = {
        "CTYPE1": "RA---TAN", "CTYPE2": "DEC--TAN", "CRPIX1": 4.5, "CRPIX2": 3.0,
        "CRVAL1": ra, "CRVAL2": dec, "CD1_1": -2e-4, "CD1_2": 1e-5, "CD2_1": 1e-5, "CD2_2": 2e-4,
        "RADESYS": "ICRS", "DATE-OBS": start, "EXPTIME": 10.0,
    }  # fmt: skip
    for key, value in (keys | further).items():
        if value is not None:
            unit.header[key] = value
    path = folder / name
    unit.writeto(path, overwrite=True)
    return path


def log_file(folder: Path, rows: list[str], header: str = HEADER) -> Path:
    path = folder / "night.csv"
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return path


def at(seconds: float) -> str:
    return datetime.fromtimestamp(AT_S + seconds, UTC).isoformat()


def icrs_of(az_deg: Any, alt_deg: Any, time_s: Any) -> tuple[Any, Any]:
    """ICRS places that are seen there through usual air, degrees."""
    low = np.asarray(alt_deg, dtype=float)
    for _ in range(6):
        low = alt_deg - refraction_lift_arcmin(low) / 60
    return catalogue_places(*places_of_date(az_deg, low, time_s, OBSERVER), time_s)


def test_an_image_tells_where_the_telescope_looked_on_the_line_nearest_in_time(
    tmp_path: Path,
) -> None:
    az_deg, alt_deg = np.array([30.0, 200.0]), np.array([40.0, 65.0])
    ra_deg, dec_deg = icrs_of(az_deg, alt_deg, AT_S + np.array([0.0, 300.0]))
    image(tmp_path / "sky", "a.fits", ra_deg[1], dec_deg[1], AT_S + 300.0 + 40.0)
    image(tmp_path / "sky", "b.FIT", ra_deg[0], dec_deg[0], AT_S - 30.0)
    rows = [f"x,{at(0)},30.5,40.2", f"y,{at(300)},200.5,65.1", f"z,{at(600)},10,50"]
    log = pm.read_log(log_file(tmp_path, rows), MOUNT, images=tmp_path / "sky")
    assert log.camera
    assert not log.nudged
    assert log.has_both.tolist() == [True, True, False]
    apart = separation_arcmin(log.star_az_deg[:2], log.star_alt_deg[:2], az_deg, alt_deg)
    assert apart.max() < 0.05
    assert codes(log) == ["images"]
    assert log.warnings[0].text == "images show where the telescope looked on lines 2 and 3"


def test_what_belongs_to_no_line_is_listed(tmp_path: Path) -> None:
    sky = tmp_path / "sky"
    image(sky, "near.fits", 200.0, -30.0, AT_S + 20.0)
    image(sky, "second.fits", 201.0, -30.0, AT_S + 60.0)
    image(sky, "late.fits", 202.0, -30.0, AT_S + 200.0)
    image(sky, "unsolved.fits", 0, 0, AT_S, CTYPE1=None, CTYPE2=None)
    image(sky, "timeless.fits", 200, -30, AT_S, **{"DATE-OBS": None})
    image(sky, "endless.fits", 200, -30, AT_S, EXPTIME=None)
    image(sky, "local.fits", 200, -30, AT_S, TIMESYS="LOCAL")
    image(sky, "dated.fits", 200, -30, AT_S, **{"DATE-OBS": "17/05/31"})
    (sky / "broken.fits").write_bytes(b"SIMPLE  = nothing of the kind")
    (sky / "notes.txt").write_text("not looked at")
    log = pm.read_log(log_file(tmp_path, [f"x,{at(0)},30,40"]), MOUNT, images=str(sky))
    text = log.warnings[0].text
    assert text.startswith("images show where the telescope looked on line 2. Images not used: ")
    for told in (
        "second.fits: line 2 has a nearer image",
        "late.fits: no line within 2 min of it",
        "unsolved.fits: its header holds no place on the sky (it was not solved)",
        "timeless.fits: its header holds no time (DATE-OBS)",
        "endless.fits: its header does not say how long the exposure was (EXPTIME)",
        'local.fits: its times are in a scale that is not known here ("LOCAL")',
        'dated.fits: its time "17/05/31" is no date and time',
        "broken.fits: ",
    ):
        assert told in text
    assert "notes" not in text


def test_other_frames_are_brought_to_icrs(tmp_path: Path) -> None:
    galactic = {"CTYPE1": "GLON-TAN", "CTYPE2": "GLAT-TAN", "RADESYS": None}
    image(tmp_path / "sky", "milky.fits", 0.0, 0.0, AT_S, **galactic)
    old = {"RADESYS": "FK5", "EQUINOX": 1975.0}
    image(tmp_path / "sky", "old.fits", 266.0, -28.9, AT_S, **old)
    milky, precessed = sights_in(tmp_path / "sky")[0]
    # the galactic centre's place: Reid and Brunthaler 2004, appendix (J2000)
    assert (milky.ra_deg, milky.dec_deg) == pytest.approx((266.40500, -28.93617), abs=2e-4)
    assert 0.3 < precessed.ra_deg - 266.0 < 0.5  # 25 years of precession


def test_the_equinox_of_the_log_is_not_that_of_the_images(tmp_path: Path) -> None:
    image(tmp_path / "sky", "a.fits", 200.0, -30.0, AT_S)
    path = log_file(tmp_path, [f"x,{at(0)},30,40"])
    places = [
        pm.read_log(path, MOUNT | {"mount": {"equinox": equinox}}, images=tmp_path / "sky")
        for equinox in ("date", "J2000")
    ]
    assert places[0].star_az_deg[0] == places[1].star_az_deg[0]


def test_a_night_of_images_gives_the_terms_of_the_night(tmp_path: Path) -> None:
    made = pm.simulate(seed=3, pairs=14, mount=MOUNT, sigma_arcmin=0.02, readout_step_arcsec=0.0)
    log = made.log
    commanded = log.commanded_az_deg, log.commanded_alt_deg
    looked = pointed_deg(*commanded, made.terms, made.circumstances)
    ra_deg, dec_deg = icrs_of(*looked, log.time_s)
    rows = []
    for k, time_s in enumerate(log.time_s.tolist()):
        image(tmp_path / "sky", f"{k:02}.fits", ra_deg[k], dec_deg[k], time_s + 8.0)
        moment = datetime.fromtimestamp(time_s, UTC).isoformat()
        az_deg, alt_deg = log.commanded_az_deg[k], log.commanded_alt_deg[k]
        rows.append(f"{log.target[k]},{moment},{az_deg:.6f},{alt_deg:.6f}")
    found = pm.fit(pm.read_log(log_file(tmp_path, rows), MOUNT, images=tmp_path / "sky"))
    for name, value in found.terms["value"][:6].items():
        assert value == pytest.approx(made.terms[name], abs=0.15)


@pytest.mark.parametrize(
    ("header", "row", "wanted"),
    [
        (f"{HEADER},seen_az,seen_alt", f"x,{at(0)},30,40,31,41", "or no --images"),
        (f"{HEADER},nudge_right,nudge_up", f"x,{at(0)},30,40,3,4", "or no --images"),
        ("target,time,centred_az,centred_alt", f"Sirius,{at(0)},30,40", "commanded_alt too"),
        (HEADER, "x,2031-05-17T21:04:30,30,40", "wanted a zone behind the time"),
        (HEADER, f"x,{at(900)},30,40", "whose times are those of the log"),
    ],
)
def test_images_that_cannot_go_with_a_log_are_refused(
    tmp_path: Path, header: str, row: str, wanted: str
) -> None:
    image(tmp_path / "sky", "a.fits", 200.0, -30.0, AT_S)
    mount = {"site": {"latitude": -41.3, "longitude": 146.2}}
    with pytest.raises(pm.InputError, match=wanted):
        pm.read_log(log_file(tmp_path, [row], header), mount, images=tmp_path / "sky")


def test_centred_figures_beside_images_go_unused(tmp_path: Path) -> None:
    image(tmp_path / "sky", "a.fits", 200.0, -30.0, AT_S)
    header = f"{HEADER},centred_az,centred_alt"
    log = pm.read_log(
        log_file(tmp_path, [f"x,{at(0)},30,40,31,41"], header), MOUNT, images=tmp_path / "sky"
    )
    assert log.camera
    assert log.star_az_deg[0] != 31


def test_a_folder_without_images_is_refused(tmp_path: Path) -> None:
    path = log_file(tmp_path, [f"x,{at(0)},30,40"])
    for folder, found in ((tmp_path, "no image in it"), (tmp_path / "no", "no folder of that")):
        with pytest.raises(pm.InputError, match=f"{found}.*solved images in it"):
            pm.read_log(path, MOUNT, images=folder)


def test_without_the_package_it_is_said_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    image(tmp_path / "sky", "a.fits", 200.0, -30.0, AT_S)
    path = log_file(tmp_path, [f"x,{at(0)},30,40"])
    monkeypatch.setitem(sys.modules, "astropy.wcs", None)
    with pytest.raises(pm.InputError, match=r'pip install "pointmodel\[images\]"'):
        pm.read_log(path, MOUNT, images=tmp_path / "sky")


def test_the_command_fits_a_log_with_its_images(tmp_path: Path) -> None:
    rows = []
    for k in range(6):
        az_deg, alt_deg = 60.0 * k, 25.0 + 8 * k
        ra, dec = icrs_of(az_deg + 0.3, alt_deg + 0.1, AT_S + 300.0 * k)
        image(tmp_path / "sky", f"{k}.fits", float(ra), float(dec), AT_S + 300.0 * k)
        rows.append(f"star {k},{at(300.0 * k)},{az_deg},{alt_deg}")
    path = log_file(tmp_path, rows)
    (tmp_path / "mount.toml").write_text("[site]\nlatitude = -41.3\nlongitude = 146.2\n")
    command = [sys.executable, "-m", "pointmodel", "fit", str(path), "--no-report", "--json"]
    done = subprocess.run(
        [*command, "--images", str(tmp_path / "sky")], capture_output=True, text=True, check=True
    )
    document = json.loads(done.stdout)
    assert document["pairs"]["used"] == 6
    assert done.stderr == ""
    assert "images" in [notice["code"] for notice in document["warnings"]]
    for words in (["level", str(path)], ["aim", str(path), "123.5,45"]):
        told = [*command[:3], *words, "--json", "--images", str(tmp_path / "sky")]
        done = subprocess.run(told, capture_output=True, text=True, check=True)
        assert json.loads(done.stdout)["schema"].startswith(f"pointmodel.{words[0]}/")
    both = subprocess.run(
        [*command[:-1], "--images", "x", "--watch"], capture_output=True, text=True
    )
    assert both.returncode == 2
    assert "--watch reads no images" in both.stderr


def test_a_damaged_header_is_listed_and_breaks_nothing(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    sky = tmp_path / "sky"
    image(sky, "whole.fits", 200.0, -30.0, AT_S)
    (sky / "packed.fits.gz").write_bytes(gzip.compress((sky / "whole.fits").read_bytes()))
    whole = (sky / "whole.fits").read_bytes()
    end = whole.find(b"END     ")
    for k in range(60):
        damaged = bytearray(whole)
        for place in rng.integers(0, end, 4).tolist():
            damaged[place] = int(rng.choice(list(b" 0A-.='/\xff\x00")))
        (sky / f"damaged{k:02}.fits").write_bytes(damaged)
    sights, silent = sights_in(sky)
    assert len(sights) + len(silent) == 62
    assert {"whole.fits", "packed.fits.gz"} <= {sight.file for sight in sights}
    assert len(silent) > 10


def camera_night(error_min: float, **terms: float) -> pm.Fit:
    """A night whose camera saw the true sky while the controller's clock was wrong."""
    told = MOUNT | {"alignment": {"stars": []}, "feet": {"radius": 430, "azimuths": [0, 120, 240]}}
    night = pm.simulate(seed=9, pairs=14, mount=told, sidereal_error_min=error_min, terms=terms)
    log, rng = night.log, np.random.default_rng(1)
    commanded = log.commanded_az_deg, log.commanded_alt_deg
    az_deg, alt_deg = pointed_deg(*commanded, night.terms, night.circumstances)
    noise_deg = rng.normal(0.0, 0.5 / 60.0, (2, az_deg.size))
    frame = log.pairs.drop(columns=["centred_az", "centred_alt"]).assign(
        seen_az=az_deg + noise_deg[0] / np.cos(np.radians(alt_deg)), seen_alt=alt_deg + noise_deg[1]
    )
    return pm.fit(frame, mount=told)


def test_a_wrong_clock_is_named_but_no_lean_where_a_camera_saw_the_sky() -> None:
    upright = camera_night(4.0, tilt_north=0.0, tilt_east=0.0)
    assert upright.sky_evidence is not None
    assert upright.sky_evidence.verdict == "disagrees"
    assert upright.sky_evidence.apart is None
    level = pm.level(upright)
    assert (level.verdict, level.clock_cleared_by) == ("leave", "camera")
    leaning = pm.level(camera_night(4.0, tilt_north=45.0, tilt_east=0.0, altitude_index=40.0))
    assert leaning.verdict == "level"
    assert leaning.lean.amount_arcmin == pytest.approx(45.0, abs=1.5)
    assert "The camera saw the true sky" in " ".join(str(leaning).split())


def test_a_camera_clears_no_clock_where_the_readings_were_made_by_it(tmp_path: Path) -> None:
    image(tmp_path / "sky", "a.fits", 200.0, -30.0, AT_S)
    header = "target,time,commanded_ra,commanded_dec"
    log = pm.read_log(
        log_file(tmp_path, [f"x,{at(0)},13:20:00,-30.5"], header), MOUNT, images=tmp_path / "sky"
    )
    assert log.clock_cleared_by is None
    log = pm.read_log(log_file(tmp_path, [f"x,{at(0)},30,40"]), MOUNT, images=tmp_path / "sky")
    assert log.clock_cleared_by == "camera"
