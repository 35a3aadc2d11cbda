"""Pages in a real browser: nothing asked of a network, no word cut off, in the red nothing but red.

Needs Chromium and the extra `browser` (playwright, axe-playwright-python); skipped without.
Axe-core 4.x judges what WCAG 2 asks and a machine can see. Sheets are counted in PDFs that the
browser prints.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from inchromium import IN_CHROMIUM, PHONE, complaints_of_axe, frames_while, launched, lights

import pointmodel as pm

pytestmark = IN_CHROMIUM

DATA = Path(__file__).parents[1] / "data"
WIDTHS = (320, 360, 390, 600, 768, 1280, 2560)
SCHEMES = ("auto", "day", "dark", "red")
PAGES = ("usual", "healthy", "four stars", "one pair", "two thousand", "compare", "sheet")
OPEN_ALL = "document.querySelectorAll('details').forEach(fold => { fold.open = true; })"


@cache
def thousands() -> pm.Fit:
    """A night of two thousand pairs: a lean of half a degree, an arcminute of scatter."""
    rng = np.random.default_rng(12)
    az, alt = rng.uniform(0, 360, 2000), rng.uniform(15, 80, 2000)
    a, h = np.radians(az), np.radians(alt)
    x, y = rng.normal(0, 1.0, (2, 2000))
    return pm.fit({
        "commanded_az": az,
        "commanded_alt": alt,
        "centred_az": (az + (20 * np.sin(a) * np.tan(h) + x / np.cos(h)) / 60) % 360,
        "centred_alt": alt + (20 * np.cos(a) + y) / 60,
        "target": [f"star {k}" for k in range(2000)],
    })  # fmt: skip


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every kind of page, written once."""
    folder = tmp_path_factory.mktemp("pages")
    one = folder / "one.csv"
    one.write_text("".join((DATA / "leaning.csv").read_text("utf-8").splitlines(True)[:2]), "utf-8")
    mount = DATA / "mount.toml"
    fits = {
        "usual": pm.fit(DATA / "leaning.csv"),
        "healthy": pm.fit(DATA / "healthy.csv"),
        "four stars": pm.fit(DATA / "four-stars.csv"),
        "one pair": pm.fit(one, mount),
        "two thousand": thousands(),
    }
    written = {name: fit.report(folder / f"{name}.html") for name, fit in fits.items()}
    written["compare"] = pm.compare([DATA / "season"]).report(folder / "compare.html")
    plan = pm.plan(mount, "2031-05-17T20:00+10:00", stars=15)
    written["sheet"] = plan.sheet(folder / "sheet.html")
    for name in ("usual", "compare", "sheet"):
        made = {"usual": fits["usual"].report, "sheet": plan.sheet}.get(name)
        made = made or pm.compare([DATA / "season"]).report
        written[f"{name} in red"] = made(folder / f"{name}-red.html", "red")
    return written


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with launched() as browser:
        yield browser


@pytest.fixture
def phone(chromium: Any) -> Iterator[Any]:
    """A fresh page as wide as a telephone."""
    context = chromium.new_context(viewport=PHONE)
    yield context.new_page()
    context.close()


def opened(page: Any, path: Path, scheme: str | None = None) -> Any:
    page.goto(path.as_uri())
    if scheme is not None:
        page.check(f"#scheme-{scheme}", force=True)
    return page


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_for_nothing_and_complains_of_nothing(
    phone: Any, pages: dict[str, Path], name: str
) -> None:
    asked: list[str] = []
    complaints: list[str] = []
    phone.on("request", lambda request: asked.append(request.url))
    phone.on("console", lambda message: complaints.append(message.text))
    phone.on("pageerror", lambda error: complaints.append(str(error)))
    opened(phone, pages[name])
    for scheme in SCHEMES:
        phone.check(f"#scheme-{scheme}", force=True)
    phone.evaluate(OPEN_ALL)
    assert asked == [pages[name].as_uri()]
    assert complaints == []


@pytest.mark.parametrize("name", PAGES)
def test_no_page_is_wider_than_its_window(phone: Any, pages: dict[str, Path], name: str) -> None:
    opened(phone, pages[name]).evaluate(OPEN_ALL)
    for scheme in SCHEMES:
        phone.check(f"#scheme-{scheme}", force=True)
        for width in WIDTHS:
            phone.set_viewport_size({"width": width, "height": 844})
            wide = phone.evaluate("document.documentElement.scrollWidth")
            assert wide <= width, (scheme, width)


@pytest.mark.parametrize("name", PAGES)
def test_letters_twice_as_large_still_fit(phone: Any, pages: dict[str, Path], name: str) -> None:
    opened(phone, pages[name]).evaluate(OPEN_ALL)
    phone.evaluate("document.documentElement.style.fontSize = '200%'")
    for width in (390, 768, 1280):
        phone.set_viewport_size({"width": width, "height": 844})
        assert phone.evaluate("document.documentElement.scrollWidth") <= width, width


@pytest.mark.parametrize("scheme", SCHEMES[1:])
@pytest.mark.parametrize("name", [name for name in PAGES if name != "two thousand"])
def test_axe_finds_nothing_to_mend(
    phone: Any, pages: dict[str, Path], name: str, scheme: str
) -> None:
    opened(phone, pages[name], scheme).evaluate(OPEN_ALL)
    assert complaints_of_axe(phone) == []


def frames_while_loading(page: Any, path: Path) -> list[bytes]:
    """Every frame that is painted from asking for a page to its end."""
    return frames_while(page, lambda: page.goto(path.as_uri()), 300)


@pytest.mark.parametrize("name", ["usual", "compare", "sheet"])
def test_a_page_made_for_the_red_lights_nothing_else_at_any_moment(
    phone: Any, pages: dict[str, Path], name: str
) -> None:
    # from one red page to another: what the browser shows between them counts too
    opened(phone, pages["sheet in red" if name != "sheet" else "usual in red"])
    frames = frames_while_loading(phone, pages[f"{name} in red"])
    assert frames
    phone.evaluate(OPEN_ALL)
    frames.append(phone.screenshot(full_page=True))
    phone.focus("#scheme-red")
    frames.append(phone.screenshot())
    assert {lights(frame) for frame in frames} == {(0, 0)}


def test_red_once_chosen_stays_on_every_page_from_its_first_paint(
    phone: Any, pages: dict[str, Path]
) -> None:
    opened(phone, pages["usual"], "red")
    frames = frames_while_loading(phone, pages["healthy"])
    assert {lights(frame) for frame in frames} == {(0, 0)}
    assert phone.evaluate("document.documentElement.dataset.scheme") == "red"
    assert phone.locator('meta[name="theme-color"]').first.get_attribute("content") == "#000000"


def test_a_red_page_is_not_black(phone: Any, pages: dict[str, Path]) -> None:
    from PIL import Image

    opened(phone, pages["usual in red"])
    drawn = np.asarray(Image.open(BytesIO(phone.screenshot())).convert("RGB"))
    assert drawn[..., 0].max() == 255
    assert np.mean(drawn[..., 0] > 200) > 0.02


def test_without_a_script_colours_are_chosen_and_parts_unfolded_all_the_same(
    chromium: Any, pages: dict[str, Path]
) -> None:
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    page = opened(context.new_page(), pages["usual"], "red")
    assert lights(page.screenshot()) == (0, 0)
    terms = page.locator("#terms")
    assert not terms.is_visible()
    page.click("summary:has-text('The terms')")
    assert terms.is_visible()
    page.emulate_media(media="print")
    assert page.locator("#engineer").is_visible()
    context.close()


def test_the_contents_line_unfolds_what_it_leads_to(phone: Any, pages: dict[str, Path]) -> None:
    opened(phone, pages["usual"])
    assert not phone.locator("#terms").is_visible()
    phone.click("nav a[href='#terms']")
    assert phone.locator("#terms").is_visible()


def test_with_forced_colours_words_and_the_chosen_scheme_can_be_seen(
    phone: Any, pages: dict[str, Path]
) -> None:
    phone.emulate_media(forced_colors="active")
    opened(phone, pages["usual"])
    colours = phone.evaluate(
        "(({color, backgroundColor}) => [color, backgroundColor])(getComputedStyle(document.body))"
    )
    assert colours[0] != colours[1]
    label = "input:checked + label"
    assert phone.eval_on_selector(label, "one => getComputedStyle(one).borderTopWidth") == "3px"
    assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


@pytest.mark.parametrize(
    ("name", "screens"), [("healthy", 5.0), ("usual", 7.0), ("four stars", 5.0), ("one pair", 3.0)]
)
def test_how_many_screens_of_a_phone_a_report_takes(
    phone: Any, pages: dict[str, Path], name: str, screens: float
) -> None:
    opened(phone, pages[name])
    tall = phone.evaluate("document.documentElement.scrollHeight")
    assert tall / PHONE["height"] <= screens


def test_the_decision_stands_on_the_first_screen(phone: Any, pages: dict[str, Path]) -> None:
    opened(phone, pages["usual"])
    last = phone.locator(".todo .steps li").last.bounding_box()
    assert last["y"] + last["height"] <= PHONE["height"]


def test_what_is_left_over_is_seen_first_in_the_table_of_lines(
    phone: Any, pages: dict[str, Path]
) -> None:
    opened(phone, pages["usual"]).evaluate(OPEN_ALL)
    cell = phone.locator("#pairs tbody tr td:nth-child(4)").first.bounding_box()
    assert cell["x"] + cell["width"] <= PHONE["width"]


def test_letters_of_pictures_are_twelve_pixels_high_on_a_phone(
    phone: Any, pages: dict[str, Path]
) -> None:
    opened(phone, pages["usual"]).evaluate(OPEN_ALL)
    phone.set_viewport_size({"width": 320, "height": 640})
    sizes = phone.evaluate(
        "Array.from(document.querySelectorAll('figure svg text')).map(text => {"
        " const svg = text.ownerSVGElement;"
        " return parseFloat(getComputedStyle(text).fontSize)"
        " * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width; })"
    )
    assert len(sizes) > 100
    assert min(sizes) >= 12


def printed_pages(page: Any, path: Path, paper: str) -> int:
    page.goto(path.as_uri())
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper)))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    ("name", "most"),
    [("healthy", 4), ("usual", 4), ("two thousand", 8), ("sheet", 2), ("usual in red", 4)],
)
def test_how_many_sheets_a_page_prints_on(
    phone: Any, pages: dict[str, Path], name: str, most: int, paper: str
) -> None:
    assert 1 <= printed_pages(phone, pages[name], paper) <= most


def test_two_thousand_pairs_open_within_a_second(phone: Any, pages: dict[str, Path]) -> None:
    assert pages["two thousand"].stat().st_size < 1_000_000
    opened(phone, pages["two thousand"])
    took_ms = phone.evaluate(
        "(([one]) => one.loadEventEnd - one.startTime)(performance.getEntriesByType('navigation'))"
    )
    assert took_ms <= 1000


def test_nothing_on_the_sheet_lies_over_anything_else_on_the_narrowest_phone(
    phone: Any, pages: dict[str, Path]
) -> None:
    opened(phone, pages["sheet"])
    phone.set_viewport_size({"width": 320, "height": 640})
    boxes = phone.evaluate(
        "Array.from(document.querySelectorAll('h1,h2,p,li>b,.card th,.card td span,.after'))"
        ".filter(one => one.offsetParent && one.getBoundingClientRect().width > 2)"
        ".map(one => { const b = one.getBoundingClientRect();"
        " return [b.left, b.top, b.right, b.bottom]; })"
    )
    assert len(boxes) > 40
    for k, one in enumerate(boxes):
        assert one[0] >= 0
        assert one[2] <= 320
        for other in boxes[k + 1 :]:
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            assert across <= 1 or down <= 1, (one, other)
