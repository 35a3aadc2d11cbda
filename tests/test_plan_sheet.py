"""The sheet to print: what stands on it, in which size, and what it never overwrites."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner
from fakes import HOSTILE

import pointmodel as pm
from pointmodel.cli import command_line
from pointmodel.planning.sheet import FEWEST_LINES, sheet_html, sky_svg

MOUNT = Path(__file__).parent.parent / "data" / "mount.toml"
EVENING = "2031-05-17T20:00+10:00"
SVG = "{http://www.w3.org/2000/svg}"


@cache
def evening() -> pm.PlanResult:
    return pm.plan(MOUNT, EVENING)


class _Text(HTMLParser):
    """The visible words of a page, and the addresses it refers to."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.addresses: list[str] = []
        self.hidden = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("style", "script")
        self.addresses += [value or "" for name, value in attrs if name in ("href", "src")]

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def test_the_entry_card_comes_first_then_stars_then_lines_to_write_on() -> None:
    text = _Text(sheet_html(evening())).text
    titles = ("1. What to type", "2. Centre these stars", "3. Write down each star")
    assert [text.index(title) for title in titles] == sorted(text.index(t) for t in titles)


@pytest.mark.parametrize(
    "entry",
    [
        "41°18′00″ S",
        "41°18.00′ S",
        "−41.3000°",
        "146°12′00″ E",
        "146°12.00′ E",
        "+146.2000°",
        "17 May 2031",
        "M/D/Y 05/17/2031",
        "D/M/Y 17/05/2031",
        "Local time what your phone shows now",
        "UTC+10:00",
        "Summer time no",
        "Some controllers want west as +",
    ],
)
def test_the_card_has_every_notation_that_controllers_ask_for(entry: str) -> None:
    assert entry in _Text(sheet_html(evening())).text


def test_in_summer_time_the_zone_is_told_with_and_without_it() -> None:
    page = _Text(sheet_html(pm.plan(MOUNT, "2031-12-17T22:30"))).text
    assert "UTC+10:00 in summer UTC+11:00" in page
    assert "Summer time yes" in page


def test_minutes_of_arc_are_explained_with_the_eyepiece_that_is_used() -> None:
    text = _Text(sheet_html(evening())).text
    assert "′: a sixtieth of a degree; the Moon is 31′ wide. Your eyepiece shows 48′." in text


def test_every_star_is_listed_and_has_a_line_and_lines_are_left_over() -> None:
    page = sheet_html(evening())
    for star in evening().stars:
        assert page.count(star.target) >= 2
    assert page.count("<tr><td>") == FEWEST_LINES >= 10
    many = sheet_html(pm.plan(MOUNT, EVENING, stars=20))
    assert many.count("<tr><td>") == 22


def test_no_letter_is_smaller_than_twelve_points() -> None:
    page = sheet_html(evening())
    sizes = [float(size) for size in re.findall(r"font(?:-size)?: ?(?:\d+ )?([\d.]+)pt", page)]
    assert sizes
    assert min(sizes) >= 12.0
    # the picture is 86 mm wide and 232 of its own units; a point is 25.4/72 mm
    units = [float(size) for size in re.findall(r'font-size="([\d.]+)"', page)]
    assert min(units) * 86.0 / 232.0 >= 12.0 * 25.4 / 72.0


def test_in_print_it_is_black_on_white() -> None:
    printed = re.search(r"@media print \{ :root \{(.*?)\}", sheet_html(evening()))
    assert printed
    colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]+)", printed[1]))
    assert colours.pop("paper") == colours.pop("card") == "#fff"
    assert set(colours.values()) == {"#000"}
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", sky_svg(evening()))) <= {"#000", "#fff"}


def test_it_opens_in_the_scheme_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "tonight.html"
    assert command("--sheet", path, "--scheme", "red").exit_code == 0
    assert '<html lang="en" data-scheme="red">' in path.read_text("utf-8")
    assert 'data-scheme="auto"' in sheet_html(evening())


def test_it_asks_for_nothing_from_outside_and_runs_only_the_pages_own_script() -> None:
    page = sheet_html(evening())
    assert _Text(page).addresses == []
    assert page.count("<script>") == 1
    assert "default-src 'none'" in page
    assert re.findall(r"url\((?!#)", page) == []


def test_names_of_a_user_are_escaped() -> None:
    mount = {"mount": {"name": HOSTILE}, "site": {"latitude": 3.0, "longitude": 4.0}}
    page = sheet_html(pm.plan(mount, EVENING))
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def marks(result: pm.PlanResult) -> dict[str, tuple[float, float]]:
    """The letters of the picture by what they say: x to the right, y down."""
    root = ElementTree.fromstring(sky_svg(result))
    return {
        str(text.text): (float(text.get("x", "")), float(text.get("y", "")))
        for text in root.iter(f"{SVG}text")
    }


def test_the_picture_is_the_sky_as_one_looks_up() -> None:
    found = marks(evening())
    assert found["E"][0] < -90.0 < 90.0 < found["W"][0]
    assert found["N"][1] < -90.0 < 90.0 < found["S"][1]
    for star in evening().stars:
        x, _ = found[str(star.order)]
        if 60.0 < star.az_deg < 120.0:
            assert x < 0.0
        if 240.0 < star.az_deg < 300.0:
            assert x > 0.0
    assert "East is then left, as you look up" in _Text(sheet_html(evening())).text


def test_numbers_of_the_picture_keep_their_distance() -> None:
    found = [place for told, place in marks(evening()).items() if told.isdigit()]
    for k, (x, y) in enumerate(found):
        for other_x, other_y in found[k + 1 :]:
            assert abs(x - other_x) + abs(y - other_y) > 8.0


def test_what_the_horizon_hides_is_striped() -> None:
    assert "url(#hidden)" in sky_svg(evening())
    assert "Striped" in sheet_html(evening())
    open_sky = pm.plan({"site": {"latitude": 3.0, "longitude": 4.0}}, EVENING)
    assert "url(#hidden)" not in sky_svg(open_sky)
    assert "Striped" not in sheet_html(open_sky)


def test_by_day_the_sheet_says_so_at_its_head() -> None:
    text = _Text(sheet_html(pm.plan(MOUNT, "2031-12-17T12:00"))).text
    assert text.index("The Sun is up: no star can be seen") < text.index("1. What to type")


def test_cautions_stand_on_the_sheet() -> None:
    text = _Text(sheet_html(evening())).text
    assert "certified filter over the front of the telescope" in text
    assert "The maker's manual, local rules and qualified people come before" in text


def command(*args: Any) -> Any:
    return CliRunner().invoke(
        command_line, ["plan", "--mount", str(MOUNT), "--at", EVENING, *map(str, args)]
    )


def test_the_command_writes_the_sheet_and_replaces_its_own(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "tonight.html"
    told = command("--sheet", path)
    assert told.exit_code == 0
    assert f"The sheet to print: {path}" in told.stdout
    first = path.read_text(encoding="utf-8")
    assert command("--sheet", path, "--stars", 3).exit_code == 0
    assert path.read_text(encoding="utf-8") != first
    assert [p.name for p in path.parent.iterdir()] == ["tonight.html"]


def test_a_file_that_is_not_ours_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "notes.html"
    path.write_text("my notes")
    with pytest.raises(pm.InputError, match="a file that this program did not write"):
        evening().sheet(path)
    assert path.read_text() == "my notes"
    with pytest.raises(pm.InputError, match="something that is not a file"):
        evening().sheet(tmp_path)


def test_where_the_system_refuses_the_reason_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(pm.InputError, match="a place to write to"):
        evening().sheet(tmp_path / "file" / "sheet.html")


def test_json_with_a_sheet_names_it(tmp_path: Path) -> None:
    told = command("--sheet", tmp_path / "s.html", "--json")
    assert told.exit_code == 0
    assert '"sheet": ' in told.stdout
