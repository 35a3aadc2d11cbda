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
    assert len(pictures) == 3 + 11  # the dots of three chances, and the pictures
    for picture in pictures:
        root = ElementTree.fromstring(picture)
        assert root.get("role") == "img"
        assert root.get("aria-label") or root.get("aria-labelledby")


def test_no_id_of_the_page_is_used_twice(page: str) -> None:
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_screen_colours_can_be_chosen_without_a_script(page: str) -> None:
    choices = [radio["value"] for radio in Collected(page).of("input")]
    assert choices == ["auto", "day", "dark", "red"]
    for choice in choices[1:]:
        assert f":root:not([data-live]):has(#scheme-{choice}:checked)" in page


@cache
def colours_of(scheme: str) -> dict[str, str]:
    """The colours of a scheme by the name of their variable."""
    rule = re.search(rf'data-scheme="{scheme}"\][^{{]*\{{(.*?)\}}', page_of(), re.DOTALL)
    if scheme == "day":
        rule = re.search(r":root \{(.*?)\}", page_of(), re.DOTALL)
    assert rule
    return dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", rule[1]))


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, as WCAG 2.2 defines it (with relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return float(np.dot((0.2126, 0.7152, 0.0722), linear))

    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_formula_gives_the_ratios_that_are_published() -> None:
    # WCAG 2.2, "contrast ratio": 21 to 1 for black on white, 1 to 1 for no difference
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == 1.0
    assert contrast("#ff0000", "#000000") == pytest.approx(5.252)


@pytest.mark.parametrize("scheme", ["day", "dark", "red"])
@pytest.mark.parametrize("paper", ["paper", "card"])
def test_text_stands_out_in_every_scheme(scheme: str, paper: str) -> None:
    colours = colours_of(scheme)
    assert contrast(colours["ink"], colours[paper]) >= 5.0
    assert contrast(colours["soft"], colours[paper]) >= 4.5
    assert contrast(colours["aside"], colours[paper]) >= 4.5  # lines set aside, in the table
    for drawn in ("faint", "before", "after", "on"):
        # graphical objects: WCAG 2.2, success criterion 1.4.11
        assert contrast(colours[drawn], colours[paper]) >= 3.0, drawn


def test_the_red_scheme_lights_no_green_and_no_blue() -> None:
    colours = colours_of("red")
    assert len(colours) == 10
    assert all(colour[3:] == "0000" for colour in colours.values())


@pytest.mark.parametrize("scheme", ["day", "dark", "red"])
def test_a_page_opens_in_the_scheme_asked_for(scheme: Any) -> None:
    page = report_html(make_fit(), scheme)
    assert f'<html lang="en" data-scheme="{scheme}">' in page
    assert f'value="{scheme}" checked' in page
    theme = [m["content"] for m in Collected(page).of("meta") if m.get("name") == "theme-color"]
    assert theme == [colours_of(scheme)["paper"]]
    script = page[page.index("<script>") :]
    assert f'{scheme}: "{colours_of(scheme)["paper"]}"' in script.split("</script>")[0]


def test_colours_are_set_in_the_head_before_anything_is_painted(page: str) -> None:
    assert page.index("<script>") < page.index("<style>") < page.index("<body>")


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
    now = make_fit().advice.now_chance
    assert now is not None
    first = page[page.index('<svg viewBox="0 0 500 22"') :].split("</svg>")[0]
    assert first.count('class="in"') == round(now * 100)
    assert first.count("<circle") == 100


def test_without_a_field_of_view_no_chance_is_drawn() -> None:
    page = page_of(field=None)
    assert 'class="dots"' not in page
    assert "write yours as field_of_view" in page


def test_pairs_set_aside_are_marked_in_the_table(page: str) -> None:
    assert page.count('<tr class="set-aside">') == 2
    assert "Lines set aside" not in page_of(aside=0)


def test_what_cannot_be_told_apart_is_said_with_what_would_settle_it() -> None:
    words = Collected(page_of(pairs=3, aside=0)).words
    assert "Not known yet Centre one star above 60° altitude" in " ".join(words.split())


def test_a_log_without_times_has_a_page(page: str) -> None:
    fit = make_fit()
    log = SimpleNamespace(**{**vars(fit.log), "time_s": np.full(20, np.nan)})
    assert "2031-05-19 05:46 to 06:43 (UTC+10:00)" in page
    assert "2031" not in report_html(replace(fit, log=log))


def test_cautions_stand_on_the_page_before_the_feet(page: str) -> None:
    start, feet = page.index("Before you touch the mount"), page.index("Turn the feet")
    for danger in ("Sun", "clutch", "foot", "maker"):
        assert danger in page[start:feet]


def test_decision_comes_first_then_the_evidence_then_what_is_folded(page: str) -> None:
    advice = make_fit().advice
    assert advice.quick is not None
    told = [advice.headline, advice.quick.steps[0].text, *(step.text for step in advice.steps)]
    told += ["Lines set aside", "What the eyepiece shows", "What is behind it", "<details"]
    places = [page.index(one) for one in told]
    assert places == sorted(places)


def test_the_sign_for_minutes_of_arc_is_explained_where_it_first_stands(page: str) -> None:
    body = page[page.index("<main>") :]
    assert body.index("a sixtieth of a degree") < body.index("<h2>")


def test_each_step_says_what_go_to_is_after_it(page: str) -> None:
    words = re.sub(r"[ \n]+", " ", Collected(page).words)
    assert "Zero on a star.Then: typical miss 13′ (12′ to 15′), 97\u00a0% in the eyepiece." in words


def test_every_folded_part_is_named_in_the_contents_and_works_without_a_script(page: str) -> None:
    named = [a["href"] for a in Collected(page).of("a")]
    bodies = re.findall(r'<div class="body" id="([a-z]+)">', page)
    assert named == [f"#{one}" for one in bodies]
    assert len(bodies) == len(Collected(page).of("details")) == 8


def test_three_pairs_need_no_pictures_of_what_is_left() -> None:
    page = page_of(pairs=3, aside=0)
    assert "residuals-time" not in page
    assert "residuals-time" in page_of()


def test_a_single_star_is_told_in_a_sentence() -> None:
    words = " ".join(Collected(page_of(pairs=1, aside=0)).words.split())
    assert re.search(r"Achernar stood [\d.]+[′°] from the middle of the eyepiece", words)
    assert 'id="eyepiece-title"' not in page_of(pairs=1, aside=0)


def test_the_table_of_lines_shows_what_is_left_first_and_the_log_s_own_clock(page: str) -> None:
    table = page[page.index('<table class="figures">') :].split("</table>")[0]
    heads = re.findall(r'<th scope="col" class="\w+">([^<]*)', table)
    assert heads[:4] == ["Line", "Star", "Left over across (′)", "Left over in height (′)"]
    assert '<td class="name">05:46:40</td>' in table
    assert heads[-1] == "Ours"
    assert "Your note" in page_of(text="cold hands")


@pytest.mark.parametrize("pairs", [121, 2000])
def test_of_a_long_log_the_page_shows_the_first_the_worst_and_what_is_aside(pairs: int) -> None:
    page = page_of(pairs=pairs)
    table = page[page.index('<table class="figures">') :].split("</table>")[0]
    assert 40 < table.count("<tr") < 110
    assert f"of {pairs} lines are shown" in page
    assert table.count("set-aside") == 2
    assert len(page.encode()) < 1_000_000


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
