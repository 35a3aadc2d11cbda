"""The page for the phone as it is handed out: whole, the same for everybody, nothing inline."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from pointmodel.mount.events import EVENTS, logged_events
from pointmodel.phone.page import page_files

STATIC = Path(__file__).parents[1] / "pointmodel" / "phone" / "static"
FILES = page_files()
SHELL = FILES["/"].body.decode()
SCRIPTS = sorted(path for path in FILES if path.endswith(".js"))


class Tags(HTMLParser):
    """Every tag with its attributes, and the words within scripts and styles."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inline = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] in ("script", "style"):
            self.inline += data.strip()


def tags() -> Tags:
    read = Tags()
    read.feed(SHELL)
    return read


def test_all_that_the_page_asks_for_is_handed_out_with_it() -> None:
    asked = {
        value
        for _, attributes in tags().tags
        for name, value in attributes.items()
        if name in ("src", "href")
    }
    for path in SCRIPTS:
        asked |= set(re.findall(r'from "([^"]+)"', FILES[path].body.decode()))
    assert asked == set(FILES) - {"/"}


def test_every_file_of_the_folder_is_handed_out_as_it_is() -> None:
    for path in STATIC.iterdir():
        assert FILES[f"/{path.name}"].body == path.read_bytes()


def test_nothing_of_a_script_or_a_style_stands_in_the_page_itself() -> None:
    read = tags()
    assert read.inline == ""
    names = {name for _, attributes in read.tags for name in attributes}
    assert not {name for name in names if name == "style" or name.startswith("on")}


def test_the_page_is_the_same_for_everybody() -> None:
    assert page_files() == FILES


@pytest.mark.parametrize("path", sorted(FILES))
def test_no_file_of_the_page_names_an_address_elsewhere(path: str) -> None:
    text = FILES[path].body.decode()
    assert set(re.findall(r"https?://[^\"'\s]+", text)) <= {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("path", SCRIPTS)
def test_data_never_become_markup_or_code(path: str) -> None:
    text = FILES[path].body.decode()
    for way in (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
    ):
        assert way not in text


def test_every_event_that_a_log_may_hold_can_be_pressed_in_plain_words() -> None:
    for name in logged_events():
        assert f'data-event="{name}">{EVENTS[name].happened}<' in SHELL
        assert len(EVENTS[name].happened.split()) > 2


def test_it_opens_in_the_red() -> None:
    assert '<html lang="en" data-scheme="red">' in SHELL
    assert '<meta name="theme-color" content="#000000">' in SHELL
    assert "--ink: #ff0000" in FILES["/scheme.css"].body.decode()
