"""The page of a comparison: self-contained, safe with any words, its panels true to the figures."""

from __future__ import annotations

import base64
import hashlib
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from comparefakes import make_change, make_comparison
from fakes import HOSTILE

from pointmodel.base.errors import InputError, Notice
from pointmodel.comparing.compare import CompareResult
from pointmodel.comparing.leans import Leans, lean_words
from pointmodel.comparing.page import compare_html, write_compare_page

SVG = "{http://www.w3.org/2000/svg}"
SMALL_PAGE_BYTES = 400_000


@cache
def page_of(nights: int = 5, changed_before: int | None = 4, **changes: Any) -> str:
    return compare_html(make_comparison(nights, changed_before, **changes))


def words_of(page: str) -> str:
    body = re.sub(r"<(style|script|svg).*?</\1>", "", page, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


def panel(page: str, title: str) -> ElementTree.Element:
    found = re.search(rf"<h3>{title}.*?(<svg.*?</svg>)", page, re.DOTALL)
    assert found
    return ElementTree.fromstring(found[1])


def dots(picture: ElementTree.Element) -> np.ndarray:
    """Places of the dots of nights, right and down, left out the ticks on the axes."""
    drawn = next(
        path.get("d") or ""
        for path in picture.iter(f"{SVG}path")
        if "--after" in (path.get("stroke") or "") and "h0" in (path.get("d") or "")
    )
    return np.array([(float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)h0", drawn)])


def dashed_across(picture: ElementTree.Element) -> list[float]:
    """Where upright dashed lines stand."""
    found = []
    for path in picture.iter(f"{SVG}path"):
        ends = re.findall(r"([\d.]+) ([\d.]+)", path.get("d") or "")
        upright = len(ends) == 2 and ends[0][0] == ends[1][0]
        if upright and path.get("stroke-dasharray"):
            found.append(float(ends[0][0]))
    return found


def test_the_sentence_comes_first_and_what_to_do_before_the_pictures() -> None:
    page = page_of()
    lead = re.search(r"<main>\s*<p class=\"lead\">([^<]*)", page)
    assert lead
    assert lead[1].replace("\u00a0", " ") == make_comparison().summary
    assert page.index("What to do") < page.index("What changed") < page.index("<svg")


def test_words_of_a_user_never_become_markup() -> None:
    page = page_of(text=HOSTILE)
    assert page.count("<script>") == 1
    assert "<script>alert" not in page
    assert page.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 5
    assert "\x1b" not in page


def test_no_word_of_a_user_is_drawn() -> None:
    for picture in re.findall(r"<svg.*?</svg>", page_of(text=HOSTILE), re.DOTALL):
        root = ElementTree.fromstring(picture)
        assert not any("script" in (text.text or "") for text in root.iter(f"{SVG}text"))


def test_the_page_asks_nothing_of_any_network() -> None:
    page = page_of()
    assert "http" not in re.sub(r'xmlns="http://www\.w3\.org/2000/svg"|http-equiv', "", page)
    assert not re.search(r"<(link|img|iframe|object|embed|base|form)\b", page)
    assert not re.search(r"@import|url\((?!#)", page)


def test_the_content_policy_lets_only_the_page_s_own_script_run() -> None:
    script = re.search(r"<script>(.*?)</script>", page_of(), re.DOTALL)
    assert script
    digest = base64.b64encode(hashlib.sha256(script[1].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in page_of()


def test_every_picture_is_well_formed_and_told_in_words() -> None:
    pictures = re.findall(r"<svg.*?</svg>", page_of(), re.DOTALL)
    assert len(pictures) == 9
    for picture in pictures:
        root = ElementTree.fromstring(picture)
        told = {node.get("id"): node.text for node in root if node.tag != f"{SVG}g"}
        labels = (root.get("aria-labelledby") or "").split()
        assert all(told[label] for label in labels)
        assert len(labels) == 2


def test_no_id_of_the_page_is_used_twice() -> None:
    ids = re.findall(r'\sid="([^"]+)"', page_of())
    assert len(ids) == len(set(ids))


def test_every_scheme_names_every_colour_that_is_used() -> None:
    used = set(re.findall(r"var\((--[a-z]+)", page_of()))
    schemes = re.findall(r"color-scheme: (?:light|dark);(.*?)\}", page_of(), re.DOTALL)
    assert len(schemes) >= 4
    for scheme in schemes:
        assert used <= set(re.findall(r"(--[a-z]+):", scheme))


def test_every_term_has_its_panel_with_a_dot_a_night_evenly_spaced() -> None:
    for title in ("Collimation", "Non-perpendicularity", "Altitude zero", "Azimuth zero"):
        across = dots(panel(page_of(), title))[:, 0]
        assert across.size == 5
        np.testing.assert_allclose(np.diff(across), across[1] - across[0], atol=0.11)


def points_per_minute(page: str, title: str, name: str) -> float:
    """How far apart a panel draws values that differ by 1′, all of them on a straight scale."""
    term = next(t for t in make_comparison().terms if t.name == name)
    down = dots(panel(page, title))[:, 1]
    values = np.array([night.value for night in term.by_night])
    slope, start = np.polyfit(values, down, 1)
    np.testing.assert_allclose(down, slope * values + start, atol=0.11)
    return float(-slope)


def test_terms_are_drawn_to_one_scale_and_the_azimuth_zero_to_its_own() -> None:
    altitude, steady, azimuth = (
        points_per_minute(page_of(), title, name)
        for title, name in (
            ("Altitude zero", "altitude_index"),
            ("Non-perpendicularity", "non_perpendicularity"),
            ("Azimuth zero", "azimuth_index"),
        )
    )
    assert altitude > 0
    assert steady == pytest.approx(altitude, rel=0.05)
    assert azimuth < altitude / 50
    assert "drawn to one scale" in page_of()


def test_a_step_that_the_shared_scale_would_hide_has_a_scale_of_its_own() -> None:
    season = make_comparison()
    huge = tuple(
        replace(t, by_night=tuple(
            replace(n, value=40 * n.value, low=40 * n.low, high=40 * n.high) for n in t.by_night
        )) if t.name == "tilt_north" else t
        for t in season.terms
    )  # fmt: skip
    page = compare_html(replace(season, terms=huge))
    assert np.ptp(dots(panel(page, "Collimation"))[:, 1]) > 20
    assert "drawn to one scale" not in page


def test_a_change_is_marked_between_its_nights_and_on_its_term_alone() -> None:
    picture = panel(page_of(), "Collimation")
    across = dots(picture)[:, 0]
    assert dashed_across(picture) == [pytest.approx((across[2] + across[3]) / 2, abs=0.11)]
    assert dashed_across(panel(page_of(), "Altitude zero")) == []


def test_a_change_that_is_not_dated_to_a_night_is_striped_over_all_it_may_lie_in() -> None:
    season = make_comparison(9, 6)
    ids = [night.id for night in season.nights]
    vague = compare_html(replace(season, changes=(make_change(ids, 6, after=3),)))
    assert "<pattern" in vague
    assert "<pattern" not in page_of()


def test_a_bar_too_long_for_its_panel_ends_in_an_arrow() -> None:
    season = make_comparison()
    name = "collimation"
    wide = tuple(
        replace(t, by_night=(replace(t.by_night[0], high=900.0), *t.by_night[1:]))
        if t.name == name
        else t
        for t in season.terms
    )
    page = compare_html(replace(season, terms=wide))
    arrows = [
        path.get("d") or ""
        for path in panel(page, "Collimation").iter(f"{SVG}path")
        if "--before" in (path.get("fill") or "")
    ]
    assert [drawn.count("Z") for drawn in arrows] == [1]
    assert np.ptp(dots(panel(page, "Collimation"))[:, 1]) > 10


def test_kinds_stand_in_words_beside_the_terms() -> None:
    words = words_of(page_of())
    assert "Collimation changed" in words
    assert "Non-perpendicularity the mount's own" in words.replace("&#39;", "'")
    assert "Altitude zero new each night" in words


def test_the_table_of_carry_over_underlines_what_lies_across_a_change() -> None:
    assert page_of().count('<td class="across">') == 2 * 3 * 2
    assert '<td class="across">' not in page_of(5, None)
    assert "Underlined" not in page_of(5, None)


def test_logs_left_out_are_told_above_the_pictures_and_other_remarks_below() -> None:
    warnings = (Notice("skipped", "left out: torn.csv"), Notice("other", "a small remark"))
    page = page_of(warnings=warnings)
    assert page.index("Left out: torn.csv.") < page.index("<svg")
    assert page.index("A small remark.") > page.rindex("</svg>")


def test_nights_without_times_are_numbered() -> None:
    picture = panel(page_of(timed=False), "Collimation")
    drawn = [text.text for text in picture.iter(f"{SVG}text")]
    assert {"1", "2", "3", "4", "5"} <= set(drawn)
    assert not any("Jan" in (text or "") for text in drawn)


@pytest.mark.parametrize("nights", [60, 1000])
def test_of_many_nights_the_page_stays_small_and_lists_none(nights: int) -> None:
    page = page_of(nights, 31)
    assert len(page.encode()) < SMALL_PAGE_BYTES
    assert "The terms on each night" not in page
    assert "To see every night: --json" in page
    texts = list(panel(page, "Altitude zero").iter(f"{SVG}text"))
    assert len(texts) < 20


def test_of_many_nights_every_one_is_still_drawn() -> None:
    paths = [
        path.get("d") or "" for path in panel(page_of(60, 31), "Altitude zero").iter(f"{SVG}path")
    ]
    assert max(path.count("M") for path in paths) == 60


def test_no_figure_of_the_page_is_nan_or_inf() -> None:
    season = make_comparison()
    nights = tuple(
        replace(n, sigma_arcmin=np.nan, before_rms_arcmin=np.inf, after_rms_arcmin=0.0)
        for n in season.nights
    )
    for page in (page_of(), compare_html(replace(season, nights=nights))):
        assert not re.search(
            r"\b(nan|inf|None)\b", re.sub(r"<style.*?</style>", "", page, flags=re.S)
        )


def test_a_page_of_its_own_making_is_replaced_and_any_other_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "reports" / "compare.html"
    season: CompareResult = make_comparison()
    assert write_compare_page(season, path) == path
    write_compare_page(replace(season, habits=("You level better now.",)), path)
    assert "You level better now." in path.read_text("utf-8")
    path.write_text("my own notes")
    with pytest.raises(InputError, match="did not write"):
        write_compare_page(season, path)
    assert path.read_text() == "my own notes"


def test_asking_for_the_text_loads_no_drawing_library() -> None:
    code = (
        "import sys, pointmodel.comparing.text, pointmodel.comparing.page; "
        "print([m for m in ('matplotlib', 'jinja2', 'pandas', 'scipy') if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_two_nights_do_not_tell_whether_a_leg_is_short() -> None:
    two = Leans(np.array([20.0, 21.0]), np.array([5.0, 4.0]))
    assert lean_words(two) == "So few nights do not tell whether a leg is short."
    three = Leans(np.array([20.0, 21.0, 20.5]), np.array([5.0, 4.0, 4.5]))
    assert "leans toward the north" in lean_words(three)
    round_about = Leans(np.array([20.0, -21.0, 1.0]), np.array([5.0, -4.0, 15.0]))
    assert "no leg is short" in lean_words(round_about)
