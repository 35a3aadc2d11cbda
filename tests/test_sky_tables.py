"""The bundled tables: complete, in order, and where other catalogues have their objects."""

from __future__ import annotations

import csv
from importlib import resources
from importlib.resources.abc import Traversable

import numpy as np
import pytest

from pointmodel.base.angles import separation_arcmin
from pointmodel.simulation.sky import bright_stars
from pointmodel.sky.names import parse_designation, squeezed
from pointmodel.sky.stars import colour_word, constellations, messier_objects, star_table
from pointmodel.sky.targets import find_target, look_up

ROUNDED_ARCMIN = 0.1  # the simulator's list is written to a thousandth of a degree, from memory
MESSIER_ARCMIN = 1.5  # written to 0.1 minute of right ascension and 1′: rounding alone reaches 0.9′
# clusters and nebulae on whose middle the two sources differ by more, arcminutes
WIDE_OBJECTS = {7: 2, 8: 2, 16: 2, 24: 3, 26: 2, 29: 2, 36: 3, 45: 7, 50: 2, 78: 3, 93: 2}


def _table(name: str) -> Traversable:
    return resources.files("pointmodel.sky").joinpath("tables", name)


@pytest.mark.parametrize("name", ["stars.csv", "messier.csv", "constellations.csv"])
def test_each_table_says_where_it_comes_from(name: str) -> None:
    lines = _table(name).read_text("utf-8").splitlines()
    head = " ".join(line for line in lines[:12] if line.startswith("#"))
    assert "from memory" in head.lower()
    assert all(len(line) < 130 for line in lines)
    if name != "constellations.csv":
        assert "SOURCES.md" in head
        assert "ICRS" in head
    rows = csv.reader(line for line in lines if not line.startswith("#"))
    assert len({len(row) for row in rows}) == 1


def test_the_sources_carry_the_licence_they_must() -> None:
    text = _table("SOURCES.md").read_text("utf-8")
    assert "Redistributions of source code must retain" in text
    assert f"{len(star_table())} stars" in text


def test_the_stars_are_finite_distinct_and_brightest_first() -> None:
    stars = star_table()
    assert len(set(stars.hip.tolist())) == len(stars)
    assert (np.diff(stars.magnitude) >= 0).all()
    assert (stars.magnitude <= 3.5).sum() > 280
    assert np.isfinite([stars.ra_deg, stars.dec_deg, stars.pm_ra_mas_yr, stars.parallax_mas]).all()
    assert ((stars.ra_deg >= 0) & (stars.ra_deg < 360) & (np.abs(stars.dec_deg) <= 90)).all()
    with pytest.raises(ValueError, match="read-only"):
        stars.ra_deg[0] = 0.0


def test_no_two_stars_share_a_proper_name_or_a_label() -> None:
    stars = star_table()
    names = [squeezed(name) for name in stars.name if name]
    assert len(set(names)) == len(names) > 350
    assert len(set(stars.label)) == len(stars.label)


def test_every_label_and_other_name_finds_its_own_star() -> None:
    stars = star_table()
    for row, label in enumerate(stars.label):
        assert find_target(label).hip == stars.hip[row], label
        for other in stars.other_names[row]:
            found = look_up(other)
            assert found is not None, other
            assert found.hip == stars.hip[row], other


def test_every_letter_finds_its_own_star() -> None:
    stars = star_table()
    for row, (bayer, constellation) in enumerate(
        zip(stars.bayer, stars.constellation, strict=True)
    ):
        if bayer and ord(bayer[0]) > 127:
            assert find_target(f"{bayer} {constellation}").hip == stars.hip[row]


def test_the_simulators_own_list_from_memory_agrees() -> None:
    names, ra_deg, dec_deg = bright_stars()
    for name, ra, dec in zip(names, ra_deg, dec_deg, strict=True):
        star = find_target(name)
        assert separation_arcmin(star.ra_deg, star.dec_deg, ra, dec) < ROUNDED_ARCMIN, name


def test_the_brightest_stars_of_every_season_are_named() -> None:
    stars = star_table()
    unnamed = [
        label for name, label in zip(stars.name[:40], stars.label[:40], strict=True) if not name
    ]
    assert unnamed == ["γ² Vel"]
    assert stars.label[:4] == ("Sirius", "Canopus", "Arcturus", "Rigil Kentaurus")


def test_there_are_eighty_eight_constellations_all_in_use() -> None:
    known = {row.abbreviation for row in constellations()}
    assert len(constellations()) == len(known) == 88
    assert set(star_table().constellation) <= known
    assert all(len(abbreviation) == 3 for abbreviation in known)
    spellings = [squeezed(word) for row in constellations() for word in (row.name, row.genitive)]
    for word in spellings:
        assert parse_designation(f"alpha{word}") is not None


def test_the_messier_objects_are_numbered_through() -> None:
    assert [item.number for item in messier_objects()] == list(range(1, 111))
    names = [squeezed(name) for item in messier_objects() for name in item.names]
    assert len(set(names)) == len(names)
    assert all(0 < item.magnitude < 12 for item in messier_objects())


def test_messier_objects_stand_where_the_ngc_has_them() -> None:
    ongc = pytest.importorskip("pyongc.ongc")
    for item in messier_objects():
        number = 5866 if item.number == 102 else None  # there M 102 is held to be M 101 again
        theirs = ongc.Dso(f"NGC{number}" if number else f"M{item.number}")
        off = separation_arcmin(item.ra_deg, item.dec_deg, *np.degrees(theirs.rad_coords))
        assert off < WIDE_OBJECTS.get(item.number, MESSIER_ARCMIN), f"M {item.number}: {off:.1f}"


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("Spica", "blue-white"),
        ("Vega", "white"),
        ("Procyon", "yellow-white"),
        ("Capella", "yellow"),
        ("Arcturus", "orange"),
        ("Betelgeuse", "red"),
    ],
)
def test_colours_are_what_observers_call_them(name: str, word: str) -> None:
    colour = find_target(name).colour_index
    assert colour is not None
    assert colour_word(colour) == word


def test_an_unknown_colour_has_no_word() -> None:
    assert colour_word(float("nan")) == ""
