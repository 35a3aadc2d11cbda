"""The page: self-contained, safe with any words, and replacing only pages of its own making."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from fakes import HOSTILE, make_fit

from pointmodel.base.errors import InputError
from pointmodel.fitting.page import report_html, write_report


class Collected(HTMLParser):
    """Tags with their attributes, and the words between them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data

    def of(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@cache
def page_of(**changes: Any) -> str:
    return report_html(make_fit(**changes))


@pytest.fixture
def page() -> str:
    return page_of()


@pytest.fixture
def hostile_page() -> str:
    return page_of(text=HOSTILE)


def test_the_summary_is_the_first_paragraph_of_the_page(page: str) -> None:
    lead = re.search(r"<main>\s*<p class=\"lead\">([^<]*)", page)
    assert lead
    assert lead[1] == make_fit().advice.headline


def test_words_of_a_user_never_become_markup(hostile_page: str) -> None:
    scripts = Collected(hostile_page).of("script")
    assert len(scripts) == 1
    assert "<script>alert" not in hostile_page
    assert hostile_page.count("&lt;script&gt;alert(1)&lt;/script&gt;") > 20
    assert "\x1b" not in hostile_page


def test_words_of_a_user_cannot_leave_an_attribute() -> None:
    text = '" onload="x" style="y'
    tags = Collected(page_of(text=text)).tags
    assert not any("onload" in attributes for _, attributes in tags)


def test_names_with_broken_characters_can_be_written(tmp_path: Path) -> None:
    written = write_report(make_fit(text="nächte\udcff\x00"), tmp_path / "night.html")
    assert "nächte\ufffd" in written.read_text("utf-8")


def test_the_page_asks_nothing_of_any_network(page: str) -> None:
    assert "http" not in re.sub(r'xmlns="http://www\.w3\.org/2000/svg"|http-equiv', "", page)
    collected = Collected(page)
    for tag in ("link", "img", "iframe", "object", "embed", "base", "form", "audio", "video"):
        assert not collected.of(tag)
    for _, attributes in collected.tags:
        assert "src" not in attributes
        assert (attributes.get("href") or "#").startswith("#")
    assert not re.search(r"@import|url\((?!#)", page)


def test_the_content_policy_lets_only_the_page_s_own_script_run(page: str) -> None:
    policy = next(
        meta["content"]
        for meta in Collected(page).of("meta")
        if meta.get("http-equiv") == "Content-Security-Policy"
    )
    script = re.search(r"<script>(.*?)</script>", page, re.DOTALL)
    assert script
    assert policy
    digest = base64.b64encode(hashlib.sha256(script[1].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none'")


def test_every_picture_of_the_page_is_well_formed_and_described(hostile_page: str) -> None:
    pictures = re.findall(r"<svg.*?</svg>", hostile_page, re.DOTALL)
    assert len(pictures) == 10
    for picture in pictures:
        root = ElementTree.fromstring(picture)
        assert root.get("role") == "img"
        assert root.get("aria-label") or root.get("aria-labelledby")


def test_no_id_of_the_page_is_used_twice(page: str) -> None:
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_screen_colours_can_be_chosen_without_a_script(page: str) -> None:
    choices = [radio["value"] for radio in Collected(page).of("input")]
    assert choices == ["auto", "light", "dark", "night"]
    for choice in choices[1:]:
        assert f":root:has(#scheme-{choice}:checked)" in page


def test_the_night_scheme_lights_no_green_and_no_blue(page: str) -> None:
    night = re.search(r"#scheme-night:checked\) \{(.*?)\}", page, re.DOTALL)
    assert night
    colours = re.findall(r"#([0-9a-f]{3,6})\b", night[1])
    assert len(colours) >= 9
    assert all(set(colour[len(colour) // 3 :]) == {"0"} for colour in colours)


def test_every_scheme_names_every_colour_that_is_used(page: str) -> None:
    used = set(re.findall(r"var\((--[a-z]+)", page))
    for scheme in re.findall(r"color-scheme: (?:light|dark);(.*?)\}", page, re.DOTALL):
        assert used <= set(re.findall(r"(--[a-z]+):", scheme))


@pytest.mark.parametrize("pairs", [1, 3, 20])
@pytest.mark.parametrize("field", [None, 48.0])
def test_no_figure_of_the_page_is_nan_or_inf(pairs: int, field: float | None) -> None:
    words = Collected(page_of(pairs=pairs, aside=0, field=field)).words
    assert not re.search(r"\b(nan|inf|None)\b", words)


def test_chances_are_drawn_as_filled_circles(page: str) -> None:
    now = next(f for f in make_fit().forecasts if f.remedy == "none")
    assert now.chance_in_field is not None
    first = page[page.index('<svg viewBox="0 0 250 42"') :].split("</svg>")[0]
    assert first.count('class="in"') == round(now.chance_in_field * 100)
    assert first.count("<circle") == 100


def test_without_a_field_of_view_no_chance_is_drawn() -> None:
    page = page_of(field=None)
    assert 'class="dots"' not in page
    assert "write field_of_view" in page


def test_pairs_set_aside_are_marked_in_the_table(page: str) -> None:
    assert page.count('<tr class="set-aside">') == 2
    assert "Lines set aside" not in page_of(aside=0)


def test_what_cannot_be_told_apart_is_said_with_what_would_settle_it() -> None:
    words = Collected(page_of(pairs=3, aside=0)).words
    assert "azimuth_index and collimation. Centre one star above 60°" in " ".join(words.split())


def test_a_log_without_times_has_a_page(page: str) -> None:
    fit = make_fit()
    log = SimpleNamespace(**{**vars(fit.log), "time_s": np.full(20, np.nan)})
    assert "2031-05-18" in page
    assert "UTC" not in report_html(replace(fit, log=log))


def test_cautions_stand_on_the_page(page: str) -> None:
    for danger in ("Sun", "clutch", "foot", "maker"):
        assert danger in page[page.index("Before you touch the mount") :]


def test_the_page_is_written_whole_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "reports" / "ridge.html"
    assert write_report(make_fit(), path) == path
    assert path.read_text("utf-8").rstrip().endswith("</html>")
    assert [entry.name for entry in path.parent.iterdir()] == ["ridge.html"]


def test_a_page_of_its_own_making_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "ridge.html"
    write_report(make_fit(), path)
    write_report(make_fit(text="another night"), path)
    assert "another night" in path.read_text("utf-8")


@pytest.mark.parametrize(
    "content", ["", "notes", "<!-- generator pointmodel -->", "x" * 5000 + "pointmodel"]
)
def test_a_file_of_another_making_is_left_alone(tmp_path: Path, content: str) -> None:
    path = tmp_path / "ridge.html"
    path.write_text(content)
    with pytest.raises(InputError, match="did not write"):
        write_report(make_fit(), path)
    assert path.read_text() == content


def test_a_folder_in_the_page_s_place_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not a file"):
        write_report(make_fit(), tmp_path)


def test_a_place_that_cannot_be_written_to_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "reports").write_text("a file where a folder is wanted")
    with pytest.raises(InputError, match="wanted a place to write to"):
        write_report(make_fit(), tmp_path / "reports" / "ridge.html")
    with pytest.raises(InputError, match="wanted a place to write to"):
        write_report(make_fit(), tmp_path / ("n" * 300 + ".html"))


def test_a_page_that_cannot_be_put_in_place_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pointmodel.showing.pages.os.replace", refuse)
    with pytest.raises(InputError, match="Permission denied"):
        write_report(make_fit(), tmp_path / "ridge.html")
    assert not list(tmp_path.iterdir())
