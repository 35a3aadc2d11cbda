"""What people call a target, and what they meant when they misspelt it."""

from __future__ import annotations

import pickle
import sys

import numpy as np
import pytest

from pointmodel.base.angles import AngleError, separation_arcmin
from pointmodel.base.errors import InputError
from pointmodel.base.times import parse_moment
from pointmodel.sky.observer import Observer
from pointmodel.sky.places import apparent_places
from pointmodel.sky.radec import parse_radec, parse_right_ascension_deg
from pointmodel.sky.targets import (
    did_you_mean,
    find_target,
    look_up,
    star_target,
    target_places,
)

MAY_2031_S = parse_moment("2031-05-17T21:04:30+10:00").posix_s

ACHERNAR = [
    "Achernar",
    "  ACHERNAR ",
    "alpha Eri",
    "Alpha-Eri",
    "α Eri",
    "αEri",
    "alf Eri",
    "alp Eri",
    "ALPHA ERIDANI",
    "alpha_eridani",
    "alpha Eridanus",
    "HIP 7588",
    "hip7588",
    "HIP007588",
]


@pytest.mark.parametrize("text", ACHERNAR)
def test_one_star_answers_to_every_spelling(text: str) -> None:
    assert find_target(text).hip == 7588


@pytest.mark.parametrize(
    ("text", "hip"),
    [
        ("alpha Centauri", 71683),
        ("α¹ Cen", 71683),
        ("alpha2 Cen", 71681),
        ("Rigil Kent", 71683),
        ("Toliman", 71681),
        ("θ² Tau", 20894),
        ("theta-2 Tauri", 20894),
        ("58 Ori", 27989),
        ("alpha Bootis", 69673),
        ("α Boötis", 69673),
        ("alpha CVn", 63125),
        ("Alpha Canum Venaticorum", 63125),
        ("o Cet", 10826),
        ("ksi Pup", 38170),
        ("North Star", 11767),
        ("gamma Velorum", 39953),
        ("Becrux", 62434),
        ("Benetnasch", 67301),
        ("β TrA", 77952),
        ("Alnair", 109268),
        ("Gienah", 59803),
    ],
)
def test_letters_numbers_and_older_names_find_their_star(text: str, hip: int) -> None:
    assert find_target(text).hip == hip


def test_a_star_comes_with_what_is_known_of_it() -> None:
    star = find_target("Achernar")
    assert (star.name, star.kind, star.also) == ("Achernar", "star", "α Eri, HIP 7588")
    assert star.magnitude == pytest.approx(0.45, abs=0.1)
    assert star.colour_index == pytest.approx(-0.16, abs=0.03)
    assert star.ra_deg == pytest.approx(24.4285, abs=1e-3)
    assert star.dec_deg == pytest.approx(-57.2367, abs=1e-3)
    assert star.pm_ra_mas_yr == pytest.approx(87, abs=2)


@pytest.mark.parametrize(
    ("text", "name", "kind"),
    [
        ("jupiter", "Jupiter", "planet"),
        ("NEPTUNE", "Neptune", "planet"),
        ("the Moon", "Moon", "moon"),
        ("Sun", "Sun", "sun"),
        ("M 42", "M 42", "deep_sky"),
        ("m42", "M 42", "deep_sky"),
        ("Messier 042", "M 42", "deep_sky"),
        ("orion nebula", "M 42", "deep_sky"),
        ("NGC 1976", "M 42", "deep_sky"),
        ("Bode's Galaxy", "M 81", "deep_sky"),
        ("bodes galaxy", "M 81", "deep_sky"),
        ("Pleiades", "M 45", "deep_sky"),
        ("IC 4725", "M 25", "deep_sky"),
        ("M110", "M 110", "deep_sky"),
    ],
)
def test_bodies_and_messier_objects_are_found(text: str, name: str, kind: str) -> None:
    target = find_target(text)
    assert (target.name, target.kind) == (name, kind)


def test_ngc_and_ic_numbers_come_from_the_optional_package() -> None:
    pytest.importorskip("pyongc")
    target = find_target("NGC 253")
    assert (target.name, target.kind) == ("NGC 253", "deep_sky")
    assert separation_arcmin(target.ra_deg, target.dec_deg, 11.888, -25.288) < 0.2
    assert "galaxy" in target.also
    with pytest.raises(InputError, match="a number that is in the NGC or IC"):
        find_target("NGC 99999")
    with pytest.raises(InputError, match="a number that is in the NGC or IC"):
        find_target("NGC 8976")


def test_without_the_optional_package_the_message_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "pyongc", None)
    with pytest.raises(
        InputError, match=r'pip install "pointmodel\[deepsky\]".*or right ascension'
    ):
        find_target("NGC 253")
    assert find_target("NGC 224").name == "M 31"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Acherner", "Achernar"),
        ("Betelguese", "Betelgeuse"),
        ("Rigle", "Rigel"),
        ("Fomalhout", "Fomalhaut"),
        ("Zubenelganubi", "Zubenelgenubi"),
        ("Saturm", "Saturn"),
        ("vaga", "Vega"),
        ("Alpha Cigni", "alpha Cygni"),
        ("gamma Velorun", "gamma2 Velorum"),
        ("Orion nebla", "Orion Nebula"),
        ("alpah Eri", "alpha Eri"),
        ("zubenel", "Zubenelgenubi"),
    ],
)
def test_a_misspelt_name_is_answered_with_the_one_that_was_meant(text: str, meant: str) -> None:
    assert meant in did_you_mean(text)
    assert look_up(meant) is not None
    with pytest.raises(InputError, match=f"did you mean .*{meant}"):
        find_target(text)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", "a star .Achernar, alpha Eri"),
        ("   ", "a star .Achernar, alpha Eri"),
        ("qqqqqqqq", "a star .Achernar, alpha Eri"),
        ("123.5,45", "a star .Achernar, alpha Eri"),
        ("M 111", "a Messier number from 1 to 110"),
        ("M 0", "a Messier number from 1 to 110"),
        ("HIP 3", "bundled stars"),
        ("Pluto", "one of the planets Mercury, Venus"),
        ("25:00:00 +10", "a right ascension in hours"),
        ("5h34m +91", "a declination from -90 to"),
        ("5h34m +10:75", "minutes below 60"),
        ("1e5 +3", "a right ascension in hours"),
        ("x" * 5000, "a star .Achernar, alpha Eri"),
    ],
)
def test_what_is_no_target_is_refused_with_what_would_be_right(text: str, wanted: str) -> None:
    with pytest.raises(InputError, match=wanted) as caught:
        find_target(text, "night.csv", 7)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("night.csv", 7, "target")
    assert look_up(text) is None


@pytest.mark.parametrize(
    "text",
    [
        "05:34:31 +22:00:52",
        "05:34:31, +22:00:52",
        "05:34:31 22:00:52",
        "5h34m31s +22d00m52s",
        "5h 34m 31s, +22° 00′ 52″",
        "05 34 31 +22 00 52",
        "5ʰ34ᵐ31ˢ +22°00'52\"",
        "RA 05:34:31 Dec +22:00:52",
        "05:34:31 +22:00:52 J2000",
        "05:34:31 +22:00:52 (ICRS)",
        "5h34.51667m, +22 0.8667",
        "83.62917 +22.01444",
    ],
)
def test_right_ascension_and_declination_are_read_as_people_write_them(text: str) -> None:
    target = find_target(text)
    assert (target.kind, target.of_date) == ("radec", False)
    assert separation_arcmin(target.ra_deg, target.dec_deg, 83.6291667, 22.0144444) * 60 < 0.1


@pytest.mark.parametrize("mark", ["of date", "(of date)", "JNow", ", of  date"])
def test_a_place_marked_of_date_is_taken_as_it_stands(mark: str) -> None:
    target = find_target(f"05:34:31 -00:30 {mark}")
    assert target.of_date
    assert target.dec_deg == -0.5
    ra, dec = target_places([target], MAY_2031_S)
    assert (ra[0], dec[0]) == (target.ra_deg, target.dec_deg)


@pytest.mark.parametrize(
    ("text", "ra_deg"),
    [("5h", 75.0), ("5:30", 82.5), ("83.5", 83.5), ("0:00:04", 1 / 60), ("23h59m60", None)],
)
def test_a_right_ascension_is_in_hours_only_where_it_is_written_so(
    text: str, ra_deg: float | None
) -> None:
    if ra_deg is None:
        with pytest.raises(AngleError, match="hours such as"):
            parse_right_ascension_deg(text)
    else:
        assert parse_right_ascension_deg(text) == pytest.approx(ra_deg)


def test_a_decimal_comma_is_read_where_the_log_has_them() -> None:
    assert parse_right_ascension_deg("5h34,5m", decimal_comma=True) == pytest.approx(83.625)


@pytest.mark.parametrize("text", ["123.5,45", "123.5, -45", "hello", "12", "", "12 13"])
def test_other_texts_are_no_right_ascension_and_declination(text: str) -> None:
    assert parse_radec(text) is None


def test_places_of_a_mixed_list_are_those_of_its_members() -> None:
    observer = Observer(-41.3, 146.2, 640.0)
    names = ["Moon", "Sirius", "05:00 +10 of date", "Jupiter", "Moon", "M 42", "Sun", "Sirius"]
    targets = [find_target(name) for name in names]
    time_s = MAY_2031_S + 600.0 * np.arange(len(names))
    ra, dec = target_places(targets, time_s, observer)
    for k, target in enumerate(targets):
        alone = target_places([target], time_s[k], observer)
        np.testing.assert_allclose((ra[k], dec[k]), np.ravel(alone), rtol=0, atol=1e-9)
    assert ra[0] != ra[4]


def test_a_star_is_carried_with_its_own_motion() -> None:
    star = find_target("Rigil Kentaurus")
    (ra,), (dec,) = target_places([star], MAY_2031_S)
    still = apparent_places(star.ra_deg, star.dec_deg, MAY_2031_S)
    assert 100 < separation_arcmin(ra, dec, *still) * 60 < 130  # 3.7″ a year


def test_an_empty_list_has_no_places() -> None:
    ra, dec = target_places([], MAY_2031_S)
    assert ra.shape == dec.shape == (0,)


def test_targets_travel_between_processes() -> None:
    target = star_target(0)
    assert pickle.loads(pickle.dumps(target)) == target
