"""The page for the phone in a real Chromium, with a laptop behind it: as a person uses it.

Needs Chromium and the extras `browser` and `phone`; skipped without. Axe-core judges what WCAG 2
asks and a machine can see. The laptop is a process that records into a new log.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench.phone_evening import Evening
from inchromium import IN_CHROMIUM, PHONE, complaints_of_axe, frames_while, launched, lights
from phonelaptop import (
    FIELD_ARCMIN,
    Laptop,
    LaptopApart,
    LaptopHere,
    circle,
    mount_toml,
    opened,
    stored,
    tap,
    unsent,
    waited,
)

from pointmodel.phone.words import NOT_FOUND
from pointmodel.recording.controller import ASK_PRESSES, ASK_STARS

pytest.importorskip("uvicorn", reason="the extra phone is not installed")
pytestmark = IN_CHROMIUM

DIALOGS = (
    "stars",
    "moved",
    "undo",
    "note",
    "more",
    "done",
    "typing",
    "site",
    "field",
    "eyepiece",
    "words",
    "doubt",
    "aligned",
    "presses",
    "before",
)
SCHEMES = ("red", "day", "dark")
RADIUS_ARCMIN = FIELD_ARCMIN / 2
SLIP_S = 1.1  # a second touch within a second is a slip of the glove


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with launched() as browser:
        yield browser


def begun(laptop: Any, mount: str) -> Any:
    """A laptop that records beside this mount file."""
    (laptop.folder / "mount.toml").write_text(mount, "utf-8")
    laptop.start()
    return laptop


@pytest.fixture(scope="module")
def lasting(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LaptopHere]:
    """One laptop for all tests that only look."""
    made = begun(LaptopHere(tmp_path_factory.mktemp("night")), mount_toml())
    yield made
    made.stop()


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[LaptopHere]:
    """A laptop with a new log; its eyepiece stands upright."""
    made = begun(LaptopHere(tmp_path), mount_toml())
    yield made
    made.stop()


@pytest.fixture
def bare(tmp_path: Path) -> Iterator[LaptopHere]:
    """A laptop that knows neither site nor eyepiece."""
    made = begun(LaptopHere(tmp_path), mount_toml(eyepiece="", site=False))
    yield made
    made.stop()


@pytest.fixture
def apart(tmp_path: Path) -> Iterator[LaptopApart]:
    """A laptop that can be killed."""
    made = begun(LaptopApart(tmp_path), mount_toml())
    yield made
    made.kill()


def phone_of(browser: Any) -> Any:
    return browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)


@pytest.fixture
def phone(chromium: Any) -> Iterator[Any]:
    """A phone with a page that is empty yet."""
    context = phone_of(chromium)
    yield context.new_page()
    context.close()


def show(page: Any, dialog: str) -> None:
    """Open a dialog as a person would, whatever is open."""
    page.evaluate("document.querySelectorAll('dialog[open]').forEach(one => one.close())")
    if page.locator(f"#buttons [data-open={dialog}]").count():
        page.tap(f"#buttons [data-open={dialog}]")
    elif page.locator(f"#more [data-open={dialog}]").count():
        page.tap("#buttons [data-open=more]")
        page.tap(f"#more [data-open={dialog}]")
    else:
        page.evaluate(f"document.getElementById('{dialog}').showModal()")
    assert page.locator(f"#{dialog}").is_visible()


def close(page: Any) -> None:
    page.evaluate("document.querySelectorAll('dialog[open]').forEach(one => one.close())")


def pair(page: Any, x: float, y: float) -> str:
    """Tap a star; the name of the star that was in hand."""
    star = str(page.locator("#star").inner_text())
    tap(page, x, y)
    page.wait_for_timeout(1000 * SLIP_S)
    return star


def kept(laptop: Laptop, pairs: int) -> list[dict[str, str]]:
    """The log's lines, once there are so many."""
    waited(lambda: len(laptop.rows()) >= pairs)
    assert len(laptop.rows()) == pairs
    return laptop.rows()


# ---- the page itself


def test_it_asks_nobody_else_and_nothing_complains(phone: Any, laptop: LaptopHere) -> None:
    asked: list[str] = []
    complaints: list[str] = []
    phone.on("request", lambda request: asked.append(request.url))
    phone.on("console", lambda message: complaints.append(message.text))
    phone.on("pageerror", lambda error: complaints.append(str(error)))
    opened(phone, laptop)
    pair(phone, 0.3, 0.2)
    for dialog in DIALOGS:
        show(phone, dialog)
    show(phone, "more")
    for scheme in SCHEMES:
        phone.check(f"#scheme-{scheme}", force=True)
    assert complaints == []
    assert {re.sub(r"^(http://[^/]+/).*", r"\1", one) for one in asked} == {laptop.address}


def test_the_token_stands_in_no_address_that_is_asked_for(phone: Any, laptop: LaptopHere) -> None:
    asked: list[Any] = []
    phone.on("request", lambda request: asked.append(request))
    opened(phone, laptop)
    pair(phone, 0.3, 0.2)
    token = laptop.link.partition("#")[2]
    assert not [one.url for one in asked if token in one.url.partition("#")[0]]
    assert not [one.url for one in asked if token in one.headers.get("referer", "")]
    sent = [one for one in asked if token in one.headers.get("authorization", "")]
    assert {one.url.partition("?")[0].removeprefix(laptop.address) for one in sent} == {
        "state", "entries"
    }  # fmt: skip


@pytest.mark.parametrize("scheme", SCHEMES)
def test_axe_finds_nothing_to_mend(phone: Any, lasting: LaptopHere, scheme: str) -> None:
    opened(phone, lasting)
    for dialog in ("", *DIALOGS):
        if dialog:
            show(phone, dialog)
        else:
            show(phone, "more")
            phone.check(f"#scheme-{scheme}", force=True)
            close(phone)
        assert complaints_of_axe(phone) == [], dialog


def test_by_itself_it_lights_nothing_but_red(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    seen = {"opened": phone.screenshot()}
    phone.focus("#pad")
    phone.keyboard.press("ArrowRight")
    seen["with the cross"] = phone.screenshot()
    pair(phone, 0.3, 0.2)
    seen["with a pair"] = phone.screenshot()
    for dialog in DIALOGS:
        show(phone, dialog)
        seen[dialog] = phone.screenshot()
    for dialog, place in (("typing", "[name=across]"), ("note", "textarea"), ("stars", "#letters")):
        show(phone, dialog)
        phone.fill(f"#{dialog} {place}", "12")
        phone.focus(f"#{dialog} {place}")
        phone.keyboard.press("Control+a")
        seen[f"{dialog} typed"] = phone.screenshot()
    assert {name: lights(png) for name, png in seen.items() if lights(png) != (0, 0)} == {}
    assert phone.locator('meta[name="theme-color"]').get_attribute("content") == "#000000"


def test_no_frame_of_its_loading_is_other_than_red(phone: Any, lasting: LaptopHere) -> None:
    phone.goto("about:blank")
    opened(phone, lasting)
    frames = frames_while(phone, phone.reload, 1500)
    assert frames
    assert {lights(frame) for frame in frames} == {(0, 0)}


def test_other_colours_can_be_chosen_and_last_through_a_reload(
    phone: Any, lasting: LaptopHere
) -> None:
    opened(phone, lasting)
    show(phone, "more")
    phone.check("#scheme-day", force=True)
    phone.reload()
    assert phone.evaluate("document.documentElement.dataset.scheme") == "day"
    show(phone, "more")
    phone.check("#scheme-red", force=True)


@pytest.mark.parametrize(
    "size", [(320, 640), (360, 740), (390, 844), (600, 900), (844, 390), (1280, 800)]
)
def test_it_is_no_wider_than_its_window(
    phone: Any, lasting: LaptopHere, size: tuple[int, int]
) -> None:
    opened(phone, lasting)
    phone.set_viewport_size({"width": size[0], "height": size[1]})
    for dialog in ("", *DIALOGS):
        if dialog:
            show(phone, dialog)
        assert phone.evaluate("document.documentElement.scrollWidth") <= size[0], dialog
        if dialog:
            wide = phone.evaluate(f"document.getElementById('{dialog}').scrollWidth")
            assert wide <= size[0], dialog


def test_by_day_in_a_lying_phone_what_is_said_stands_above_the_buttons(
    phone: Any, tmp_path: Path
) -> None:
    night = mount_toml()
    longitude_deg = float(re.search(r"longitude = (\S+)", night)[1])  # type: ignore[index]
    day = night.replace(f"{longitude_deg:.2f}", f"{longitude_deg % 360.0 - 180.0:.2f}")
    made = begun(LaptopHere(tmp_path), day)
    phone.set_viewport_size({"width": 844, "height": 390})
    opened(phone, made)
    assert phone.locator("#sun").is_visible()
    said, buttons = (phone.locator(one).bounding_box() for one in ("#said-box", "#buttons"))
    assert said["height"] > 80.0
    assert said["y"] + said["height"] <= buttons["y"]
    view = phone.locator("#view").bounding_box()
    assert view["y"] + view["height"] <= 390.0
    assert phone.locator("#pad .edge").bounding_box()["height"] > 250.0
    made.stop()


def test_letters_twice_as_large_still_fit(phone: Any, lasting: LaptopHere) -> None:
    opened(phone, lasting)
    phone.evaluate("document.documentElement.style.fontSize = '200%'")
    for dialog in ("", *DIALOGS):
        if dialog:
            show(phone, dialog)
        assert phone.evaluate("document.documentElement.scrollWidth") <= PHONE["width"], dialog


def boxes(page: Any, selector: str) -> list[tuple[str, float, float, float, float]]:
    """What is seen of a selector: its words, left, top, width and height."""
    found = page.evaluate(
        """selector => Array.from(document.querySelectorAll(selector))
        .map(one => [one.textContent, one.getBoundingClientRect()])
        .filter(([_, box]) => box.width && box.height)
        .map(([words, box]) => [words, box.left, box.top, box.width, box.height])""",
        selector,
    )
    return [tuple(one) for one in found]


def test_all_that_a_pair_needs_stands_on_one_screen(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    for _ in range(2):
        for words, left, top, width, height in boxes(phone, "#star, #said, #pad, #night button"):
            assert left >= 0, words
            assert top >= 0, words
            assert left + width <= PHONE["width"], words
            assert top + height <= PHONE["height"], words
        assert phone.evaluate("document.documentElement.scrollHeight") <= PHONE["height"]
        pair(phone, 0.4, 0.1)


@pytest.mark.parametrize("width", [320, 390])
def test_everything_that_is_touched_is_as_large_as_a_glove_needs(
    phone: Any, lasting: LaptopHere, width: int
) -> None:
    opened(phone, lasting)
    phone.set_viewport_size({"width": width, "height": 844})
    touched = "button, .choice label, .scheme label, dialog input:not([type=radio]), textarea"
    for dialog in ("", *DIALOGS):
        if dialog:
            show(phone, dialog)
        for words, _, _, wide, high in boxes(phone, touched):
            assert high >= 47.9, (dialog, words)
            assert wide >= 47.9, (dialog, words)


def test_what_is_said_never_moves_the_eyepiece(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    before = phone.locator("#pad").bounding_box()
    phone.evaluate("document.getElementById('told').textContent = 'It fits. '.repeat(80)")
    assert phone.locator("#pad").bounding_box() == before


# ---- entering


def test_a_tap_is_a_pair_with_the_nudge_that_brings_the_star_to_the_middle(
    phone: Any, laptop: Laptop
) -> None:
    opened(phone, laptop)
    star = pair(phone, 0.5, -0.25)
    row = kept(laptop, 1)[0]
    assert row["target"] == star
    assert float(row["nudge_right"]) == pytest.approx(0.5 * RADIUS_ARCMIN, abs=0.25)
    assert float(row["nudge_up"]) == pytest.approx(-0.25 * RADIUS_ARCMIN, abs=0.25)
    assert re.fullmatch("[a-f][0-9a-f]{15}", row["entry_id"])


def test_beyond_the_circle_counts_and_so_do_whole_fields(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    phone.tap("[aria-label='Moved a field right']")
    phone.tap("[aria-label='Moved a field right']")
    phone.tap("[aria-label='Moved a field down']")
    assert phone.locator("#fields-label").inner_text() == "2 fields right, 1 field down"
    pair(phone, 1.2, 0.0)
    row = kept(laptop, 1)[0]
    assert float(row["nudge_right"]) == pytest.approx(
        2 * FIELD_ARCMIN + 1.2 * RADIUS_ARCMIN, abs=0.4
    )
    assert float(row["nudge_up"]) == pytest.approx(-FIELD_ARCMIN, abs=0.4)
    assert "field:" in phone.locator("#fields-label").inner_text()


def test_a_pair_takes_one_touch_and_another_star_two_more(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    tap(phone, 0.1, 0.1)
    kept(laptop, 1)
    phone.wait_for_timeout(1000 * SLIP_S)
    phone.tap("[data-open=stars]")
    other = phone.locator("#star-list button").nth(3)
    name = other.locator("b").inner_text()
    other.tap()
    tap(phone, 0.2, 0.1)
    assert [row["target"] for row in kept(laptop, 2)][-1] == name


def test_a_second_touch_at_once_is_no_second_pair(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    tap(phone, 0.1, 0.1)
    tap(phone, 0.1, 0.12)
    phone.wait_for_timeout(1500)
    kept(laptop, 1)


def test_a_finger_that_leaves_the_eyepiece_enters_nothing(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    (x, y), radius = circle(phone)
    phone.mouse.move(x, y)
    phone.mouse.down()
    phone.mouse.move(x, y + 3 * radius, steps=5)
    phone.mouse.up()
    phone.wait_for_timeout(500)
    assert laptop.rows() == []


def test_centred_already_is_a_pair_without_a_nudge(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    phone.tap("#centred")
    row = kept(laptop, 1)[0]
    assert float(row["nudge_right"]) == float(row["nudge_up"]) == 0


def test_centred_after_the_tube_was_moved_by_fields_is_a_nudge_of_those(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)
    phone.tap("#fields [data-right='-1']")
    phone.tap("#fields [data-up='1']")
    phone.tap("#fields [data-up='1']")
    phone.tap("#centred")
    row = kept(laptop, 1)[0]
    nudge = float(row["nudge_right"]), float(row["nudge_up"])
    assert nudge == (-FIELD_ARCMIN, 2 * FIELD_ARCMIN)


def test_the_answer_is_the_line_that_matters(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    for k in range(4):
        pair(phone, 0.1 * k, 0.1)
    kept(laptop, 4)
    waited(lambda: phone.locator("#told").inner_text().startswith("Line "))
    said = phone.locator("#told").inner_text()
    assert "4 pairs." in said
    assert laptop.told[-1] == f"From the phone: {said}"


def test_a_star_is_found_by_a_few_letters(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    phone.tap("[data-open=stars]")
    name = phone.locator("#star-list b").nth(5).inner_text()
    phone.fill("#letters", name[:4].lower())
    assert phone.locator("#star-list b").first.inner_text().lower().startswith(name[:4].lower())
    phone.keyboard.press("Enter")
    assert not phone.locator("#stars").is_visible()


def test_figures_can_be_typed(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    star = phone.locator("#star").inner_text()
    show(phone, "typing")
    phone.fill("[name=across]", "12,5")
    phone.fill("[name=along]", "4")
    phone.tap("#nudge-form label:has-text('left')")
    phone.tap("#nudge-form button")
    row = kept(laptop, 1)[0]
    assert (row["target"], row["nudge_right"], row["nudge_up"]) == (star, "-12.5", "4")


NUDGED = "target,time,commanded_az,commanded_alt,nudge_right,nudge_up,entry_id\n"
CENTRED = "target,time,commanded_az,commanded_alt,centred_az,centred_alt,entry_id\n"


def test_a_log_of_the_controllers_places_asks_for_that_of_the_star(
    phone: Any, tmp_path: Path
) -> None:
    made = LaptopHere(tmp_path)
    made.log.write_text(f"{NUDGED}Canopus,,120 10,45 20,2,3,\n", "utf-8")
    begun(made, mount_toml())
    opened(phone, made)
    tap(phone, 0.5, 0.0)
    phone.fill("[name=before_az]", "130")
    phone.fill("[name=before_az_minutes]", "30,5")
    phone.fill("[name=before_alt]", "41.5")
    phone.tap("#before-form button")
    row = kept(made, 2)[-1]
    assert (row["commanded_az"], row["commanded_alt"]) == ("130 30.5", "41.5")
    assert float(row["nudge_right"]) == pytest.approx(0.5 * RADIUS_ARCMIN, abs=0.25)
    made.stop()


def test_a_log_of_both_places_is_typed(phone: Any, tmp_path: Path) -> None:
    made = LaptopHere(tmp_path)
    made.log.write_text(f"{CENTRED}Canopus,,120 10,45 20,120 20,45 30,\n", "utf-8")
    begun(made, mount_toml())
    opened(phone, made)
    tap(phone, 0.5, 0.0)
    assert not phone.locator("#nudge-form").is_visible()
    figures = {
        "commanded_az": "205",
        "commanded_alt": "41.5",
        "centred_az": "206",
        "centred_alt": "41",
    }
    for name, figure in figures.items():
        phone.fill(f"[name={name}]", figure)
    phone.tap("#places-form button")
    row = kept(made, 2)[-1]
    assert {name: row[name] for name in figures} == figures
    made.stop()


def test_a_log_of_both_places_asks_for_no_eyepiece(phone: Any, tmp_path: Path) -> None:
    made = LaptopHere(tmp_path)
    made.log.write_text(f"{CENTRED}Canopus,,120 10,45 20,120 20,45 30,\n", "utf-8")
    begun(made, mount_toml(eyepiece=""))
    opened(phone, made)
    assert not phone.locator("#eyepiece").is_visible()
    tap(phone, 0.5, 0.0)
    assert phone.locator("#no-taps").is_visible()
    made.stop()


def test_of_a_refused_tap_nothing_is_to_be_undone(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    show(phone, "stars")
    phone.fill("#letters", "qqx")
    phone.tap("#by-name")
    phone.tap("#centred")
    waited(lambda: phone.locator("#told").inner_text().startswith("REFUSED: "))
    assert "wanted" not in (phone.locator("#undo-button").get_attribute("class") or "")


def test_a_figure_that_is_missing_is_asked_for(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    show(phone, "typing")
    phone.fill("[name=across]", "12")
    phone.tap("#nudge-form button")
    assert phone.locator("#typing-wrong").inner_text() == "A figure is missing, or is no number."
    assert laptop.rows() == []


def test_a_note_without_words_is_asked_for(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    show(phone, "note")
    phone.tap("#note-form button")
    assert phone.locator("#note-wrong").inner_text() == "Nothing is typed yet."


def test_what_happened_and_notes_stand_in_the_log(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    pair(phone, 0.1, 0.1)
    show(phone, "moved")
    phone.tap("[data-event=bump]")
    show(phone, "note")
    phone.fill("textarea", "Dew on the <b>finder</b>, wind")
    phone.tap("#note-form button")
    waited(lambda: not phone.locator("#note").is_visible())
    assert phone.locator("textarea").input_value() == ""
    waited(lambda: any("Dew on the <b>finder</b>, wind" in one for one in laptop.remarks()))
    assert [row["event"] for row in kept(laptop, 2)] == ["", "bump"]


def test_a_star_that_is_not_found_is_noted_and_another_proposed(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)
    star = phone.locator("#star").inner_text()
    phone.tap("#missing")
    waited(lambda: any(star in one for one in laptop.remarks()))
    waited(lambda: phone.locator("#star").inner_text() != star)


def test_undo_takes_a_line_back_and_offers_its_star_again(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    pair(phone, 0.1, 0.1)
    star = pair(phone, 0.1, 0.2)
    kept(laptop, 2)
    show(phone, "undo")
    phone.locator("#undo-list button").first.tap()
    waited(lambda: len(laptop.rows()) == 1)
    assert phone.locator("#star").inner_text() == star
    waited(lambda: phone.locator("#told").inner_text().startswith(f"Undone: {star}"))


def test_what_the_terminal_takes_back_is_no_longer_said_to_be_kept(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)
    star = pair(phone, 0.1, 0.1)
    kept(laptop, 1)
    laptop.session.undo()
    waited(lambda: phone.locator("#told").inner_text().startswith(f"Undone: {star}"))


def test_by_keys_alone_a_pair_is_entered(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    phone.focus("#pad")
    for _ in range(4):
        phone.keyboard.press("ArrowLeft")
    phone.keyboard.press("Enter")
    row = kept(laptop, 1)[0]
    assert float(row["nudge_right"]) == pytest.approx(-0.2 * RADIUS_ARCMIN, abs=0.1)


# ---- what is not known yet


def test_site_and_eyepiece_are_asked_first_and_kept(phone: Any, bare: LaptopHere) -> None:
    opened(phone, bare)
    assert phone.locator("#site").is_visible()
    phone.fill("[name=latitude]", "35")
    phone.tap("#site-form label:has-text('south')")
    phone.fill("[name=longitude]", "20.5")
    phone.tap("#site-form button")
    phone.locator("#eyepiece").wait_for(state="visible")
    mount = (bare.folder / "mount.toml").read_text("utf-8")
    assert re.search(r"latitude = \"?-35", mount)
    phone.tap("[data-side=back]")
    # the tube goes right, the star goes down; the tube goes up, the star goes right
    (x, y), radius = circle(phone, "#turn-pad")
    for right, up in ((0, 0), (0, -0.9), (0.9, -0.9)):
        phone.touchscreen.tap(x + right * radius, y - up * radius)
        phone.wait_for_timeout(50)
    phone.tap("#turn-form button")
    phone.locator("#eyepiece").wait_for(state="hidden")
    mount = (bare.folder / "mount.toml").read_text("utf-8")
    assert re.search(r"\[eyepiece\]\s+turn = 9\d|\[eyepiece\]\s+turn = 8\d", mount), mount


def test_what_the_controller_was_told_is_asked_where_it_is_not_known(
    phone: Any, tmp_path: Path
) -> None:
    told = 'stars = []\npresses = "none"\n'
    assert told in mount_toml()
    made = begun(LaptopHere(tmp_path), mount_toml().replace(told, ""))
    opened(phone, made)
    phone.locator("#aligned").wait_for(state="visible")
    assert phone.locator("#aligned-question").inner_text() == ASK_STARS
    phone.tap("#aligned [data-answer=no]")
    phone.locator("#presses").wait_for(state="visible")
    assert phone.locator("#presses-question").inner_text() == ASK_PRESSES
    phone.tap("#presses [data-answer='?']")
    phone.locator("#presses").wait_for(state="hidden")
    assert "stars = []" in (tmp_path / "mount.toml").read_text("utf-8")
    phone.reload()
    waited(lambda: "in night.csv" in phone.locator("#pairs").inner_text())
    phone.wait_for_timeout(500)
    assert not phone.locator("#presses").is_visible()
    made.stop()


def doubtful(phone: Any, laptop: LaptopHere, offer: dict[str, Any] | None) -> None:
    """Open the page as if the taps spoke against the eyepiece."""

    def doubt(route: Any) -> None:
        answer = route.fetch()
        if answer.status == 200:
            told = {"text": "Your taps fit a mirrored eyepiece.", "offer": offer}
            route.fulfill(response=answer, json={**answer.json(), "eyepiece_doubt": told})
        else:
            route.fulfill(response=answer)

    phone.route("**/state*", doubt)
    opened(phone, laptop)
    phone.locator("#doubt").wait_for(state="visible")
    assert phone.locator("#doubt-text").inner_text() == "Your taps fit a mirrored eyepiece."


def test_an_eyepiece_that_stands_otherwise_than_noted_is_put_right_at_a_touch(
    phone: Any, laptop: LaptopHere
) -> None:
    offer = {"turn_deg": 0.0, "mirrored": True, "side": "back"}
    doubtful(phone, laptop, offer)
    with phone.expect_request("**/eyepiece") as sent:
        phone.tap("#doubt-yes")
    assert sent.value.post_data_json == offer
    waited(lambda: "mirrored = true" in (laptop.folder / "mount.toml").read_text("utf-8"))
    waited(lambda: not phone.locator("#doubt").is_visible())


def test_where_it_is_not_known_how_the_eyepiece_stands_it_is_shown_again(
    phone: Any, laptop: LaptopHere
) -> None:
    doubtful(phone, laptop, None)
    assert not phone.locator("#doubt-yes").is_visible()
    phone.tap("#doubt [data-open=eyepiece]")
    assert phone.locator("#turn-side").is_visible()
    phone.tap("#eyepiece [data-close]")
    phone.wait_for_timeout(3000)
    assert not phone.locator("#doubt").is_visible()  # asked once


# ---- nothing is lost


def test_what_is_entered_without_a_connection_is_sent_once_in_order(
    phone: Any, laptop: Laptop
) -> None:
    opened(phone, laptop)
    phone.context.set_offline(True)
    stars = [pair(phone, 0.1 * k, 0.1) for k in range(3)]
    assert len(set(stars)) == 3
    assert unsent(phone) == 3
    phone.locator("#trouble").wait_for(state="visible")
    assert laptop.rows() == []
    phone.context.set_offline(False)
    assert [row["target"] for row in kept(laptop, 3)] == stars
    waited(lambda: stored(phone) == 0)


def test_of_several_entries_sent_at_once_the_last_answer_is_shown(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)
    phone.context.set_offline(True)
    pair(phone, 0.1, 0.1)
    phone.tap("#missing")
    phone.context.set_offline(False)
    waited(lambda: stored(phone) == 0)
    waited(lambda: phone.locator("#told").inner_text().endswith(NOT_FOUND))
    phone.wait_for_timeout(500)
    assert phone.locator("#told").inner_text().endswith(NOT_FOUND)


def test_a_pair_that_was_never_sent_is_taken_back_on_the_phone(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)
    phone.context.set_offline(True)
    first = pair(phone, 0.1, 0.1)
    second = pair(phone, 0.2, 0.1)
    show(phone, "undo")
    phone.locator("#undo-list button").first.tap()
    assert phone.locator("#told").inner_text() == f"Taken back: {second}. It was never sent."
    assert phone.locator("#star").inner_text() == second
    phone.context.set_offline(False)
    assert [row["target"] for row in kept(laptop, 1)] == [first]
    assert second not in laptop.log.read_text("utf-8")


def test_entries_wait_through_a_killed_laptop_and_go_to_its_log_by_the_new_link(
    phone: Any, apart: LaptopApart
) -> None:
    opened(phone, apart)
    pair(phone, 0.3, 0.1)
    kept(apart, 1)
    apart.kill()
    pair(phone, 0.1, 0.1)
    old = apart.link
    apart.start()
    assert apart.link != old
    waited(lambda: "Scan the new code" in phone.locator("#trouble").inner_text())
    assert unsent(phone) == 1
    phone.goto(apart.link)
    kept(apart, 2)
    waited(lambda: stored(phone) == 0)
    assert not phone.locator("#trouble").is_visible()


def test_a_reload_keeps_link_and_entries(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    phone.route("**/entries", lambda route: route.abort())
    pair(phone, 0.3, 0.1)
    assert unsent(phone) == 1
    phone.unroute("**/entries")
    phone.reload()
    kept(laptop, 1)
    waited(lambda: stored(phone) == 0)


def test_an_answer_that_is_lost_on_its_way_makes_no_second_line(
    phone: Any, laptop: LaptopHere
) -> None:
    opened(phone, laptop)

    def lose(route: Any) -> None:
        route.fetch()
        route.abort()

    phone.route("**/entries", lose, times=2)
    pair(phone, 0.3, 0.1)
    waited(lambda: stored(phone) == 0)
    kept(laptop, 1)


def test_undo_of_a_pair_whose_answer_was_lost_strikes_it(phone: Any, laptop: LaptopHere) -> None:
    opened(phone, laptop)
    lost: list[bool] = []

    def lose(route: Any) -> None:
        if not lost:
            lost.append(True)
            route.fetch()
        route.abort()

    phone.route("**/entries", lose)
    pair(phone, 0.3, 0.1)
    show(phone, "undo")
    phone.locator("#undo-list button").first.tap()
    phone.unroute("**/entries")
    waited(lambda: stored(phone) == 0)
    assert laptop.rows() == []
    waited(lambda: phone.locator("#told").inner_text().startswith("Undone: "))


def test_entries_of_another_log_stay_where_they_are(
    chromium: Any, phone: Any, apart: LaptopApart
) -> None:
    opened(phone, apart)
    apart.kill()
    pair(phone, 0.3, 0.1)
    (apart.folder / "other").mkdir()
    other = begun(LaptopApart(apart.folder / "other", apart.port), mount_toml())
    phone.goto(other.link)
    waited(lambda: "1 of another log" in phone.locator("#notices").inner_text())
    phone.wait_for_timeout(3000)
    assert other.rows() == []
    other.kill()
    apart.start()
    phone.goto(apart.link)
    kept(apart, 1)


def test_a_phone_that_may_not_store_says_so_and_sends_all_the_same(
    chromium: Any, laptop: Laptop
) -> None:
    context = phone_of(chromium)
    context.add_init_script("Storage.prototype.setItem = () => { throw new Error('full'); };")
    page = opened(context.new_page(), laptop)
    pair(page, 0.3, 0.1)
    kept(laptop, 1)
    assert "cannot store anything" in page.locator("#notices").inner_text()
    context.set_offline(True)
    pair(page, 0.2, 0.1)
    context.set_offline(False)
    kept(laptop, 2)
    context.close()


def test_no_pair_of_an_evening_with_faults_is_lost_or_stands_twice(
    chromium: Any, tmp_path: Path
) -> None:
    """Fifteen pairs; hundreds are in `bench/phone_evening.py`."""
    evening = Evening(chromium, tmp_path, seed=4)
    tally = evening.play(15, {"reload": 0.2, "offline": 0.15, "kill": 0.15})
    evening.laptop.kill()
    assert set(tally.faults) == {"reload", "offline", "kill"}
    assert len(tally.made) == tally.touches == 15
    assert (tally.lost, tally.twice, tally.strangers) == (0, 0, 0)


def test_two_phones_see_the_same_session(chromium: Any, phone: Any, laptop: LaptopHere) -> None:
    context = phone_of(chromium)
    other = opened(context.new_page(), laptop)
    opened(phone, laptop)
    pair(phone, 0.3, 0.1)
    waited(lambda: other.locator("#pairs").inner_text().startswith("1 pair "))
    pair(other, 0.1, 0.1)
    waited(lambda: phone.locator("#pairs").inner_text().startswith("2 pairs "))
    assert len({row["entry_id"] for row in kept(laptop, 2)}) == 2
    context.close()


def test_a_wrong_token_opens_nothing_and_is_told_what_to_do(phone: Any, laptop: LaptopHere) -> None:
    phone.goto(f"{laptop.address}#wrong")
    waited(lambda: "Scan the new code" in phone.locator("#trouble").inner_text())
    tap(phone, 0.1, 0.1)
    phone.tap("#buttons [data-open=moved]")
    assert not phone.locator("#moved").is_visible()  # nobody knows for which log that would be
    phone.tap("#buttons [data-open=more]")
    assert phone.locator("#more").is_visible()  # the colours may be chosen
    assert laptop.rows() == []
