"""At the prompt and in a notebook: a few lines and a card in place of everything."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from html import unescape
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pytest
from fakes import HOSTILE

import pointmodel as pm
from pointmodel.mount.terms import spoken
from pointmodel.showing.cards import COLUMNS, MOST_LINES, Card, brief, html

DATA = Path(__file__).parents[1] / "data"
LEANING = DATA / "leaning.csv"
AT = "2031-05-19T22:00+10:00"

RESULTS: dict[str, Callable[[], Any]] = {
    "fit": lambda: pm.fit(LEANING),
    "level": lambda: pm.level(pm.fit(LEANING)),
    "check": lambda: pm.check(DATA / "healthy.csv"),
    "aim": lambda: pm.aim(pm.fit(LEANING), ["Antares", "M 7", "Sirius", "123.5,45"], at=AT),
    "plan": lambda: pm.plan(DATA / "mount.toml", at=AT),
    "compare": lambda: pm.compare(DATA / "season"),
    "log": lambda: pm.read_log(LEANING),
    "simulate": lambda: pm.simulate(seed=1),
}


@pytest.fixture(scope="module", params=RESULTS.values(), ids=RESULTS.keys())
def result(request: pytest.FixtureRequest) -> Any:
    return request.param()


def test_a_bare_name_shows_a_few_lines(result: Any) -> None:
    lines = repr(result).splitlines()
    assert 4 <= len(lines) <= 12
    assert max(map(len, lines)) <= COLUMNS
    assert not re.search(r"\b(nan|inf|None|array)\b", repr(result))


def test_print_gives_the_command_s_text_as_before(result: Any) -> None:
    if not isinstance(result, pm.NightLog):
        assert str(result) != repr(result)


def test_a_notebook_shows_a_card_that_asks_for_nothing_outside(result: Any) -> None:
    card = result._repr_html_()
    root = ElementTree.fromstring(card.replace("&nbsp;", " "))
    assert root.tag == "div"
    assert not re.search(r"<script|<style|<link|<img|@import", card)
    assert "http" not in card.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(r">(nan|inf|None)<", card)


def test_a_fit_shows_what_to_do_the_terms_and_a_small_sky() -> None:
    fit = pm.fit(LEANING)
    for shown in (repr(fit), re.sub(r"<[^>]+>", " ", fit._repr_html_())):
        told = " ".join(shown.split())
        assert fit.summary in told
        for name in fit.terms.index:
            assert spoken(name).capitalize() in told
    card = fit._repr_html_()
    assert "<svg" in card
    assert fit.advice.steps
    for step in fit.advice.steps:
        assert step.text in unescape(card)


def test_pictures_of_two_fits_in_one_notebook_share_no_id() -> None:
    cards = [pm.fit(DATA / f"{name}.csv")._repr_html_() for name in ("leaning", "healthy")]
    first, second = (set(re.findall(r' id="([^"]+)"', card)) for card in cards)
    assert first
    assert not first & second
    for card in cards:
        ids = set(re.findall(r' id="([^"]+)"', card))
        assert set(re.findall(r'(?:url\(|href=")#([^)"]+)', card)) <= ids
        for labels in re.findall(r'aria-labelledby="([^"]+)"', card):
            assert set(labels.split()) <= ids


def test_a_fit_of_figures_that_say_nothing_of_the_mount_says_that_and_gives_no_terms() -> None:
    frame = pm.simulate(seed=3, pairs=9).log.pairs
    frame["centred_az"] = (frame["commanded_az"] * 7.0 + 13.0) % 360.0
    frame["centred_alt"] = (frame["commanded_alt"] * 3.0) % 90.0
    fit = pm.fit(frame)
    assert fit.readings.stops
    assert "collimation" not in repr(fit)
    assert "collimation" not in fit._repr_html_()


def test_what_finds_no_room_at_the_prompt_is_counted() -> None:
    card = Card("title", ("told",), ("a", "b"), [(str(k), "x") for k in range(40)], "more")
    lines = brief(card).splitlines()
    assert len(lines) == MOST_LINES
    assert lines[2].split() == ["a", "b"]
    kept = sum(line.endswith("x") for line in lines)
    assert f"… and {40 - kept} more lines" in lines


def test_a_long_first_sentence_is_cut_and_a_long_last_cell_moves_no_column() -> None:
    card = Card("title", ("word " * 200,), ("a", "b", "c"), [("1", "2", "3"), ("1", "y" * 300)])
    lines = brief(card).splitlines()
    assert len(lines) == 7
    assert lines[3].endswith("…")
    assert lines[-2] == "1  2  3"
    assert len(lines[-1]) == COLUMNS


def test_words_of_a_user_s_can_do_no_harm_in_a_notebook() -> None:
    card = html(Card(HOSTILE, (HOSTILE,), (HOSTILE,), [(HOSTILE,)], HOSTILE))
    ElementTree.fromstring(card)
    assert "<script" not in card
    assert "\x1b" not in brief(Card(HOSTILE, (HOSTILE,), (HOSTILE,), [(HOSTILE,)], HOSTILE))


class Notebook:
    """A made-up notebook: it remembers what it was asked to show."""

    def __init__(self) -> None:
        self.shown: list[str] = []

    def install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        shell = SimpleNamespace(kernel=object())
        display = SimpleNamespace(HTML=str, display=self.display)
        monkeypatch.setitem(sys.modules, "IPython", SimpleNamespace(get_ipython=lambda: shell))
        monkeypatch.setitem(sys.modules, "IPython.display", display)

    def display(self, html: str, display_id: bool) -> SimpleNamespace:
        self.shown.append(html)
        return SimpleNamespace(update=self.shown.append)


@pytest.fixture(scope="module")
def nights() -> list[pm.NightLog]:
    return [pm.simulate(seed=seed, pairs=4).log for seed in range(9)]


def test_a_notebook_shows_how_far_a_season_has_come(
    nights: list[pm.NightLog], monkeypatch: pytest.MonkeyPatch
) -> None:
    notebook = Notebook()
    notebook.install(monkeypatch)
    pm.compare(nights)
    assert re.findall(r"(\d+) of 9 nights", " ".join(notebook.shown)) == [*"0123456789"]
    assert notebook.shown[-1] == ""
    notebook.shown.clear()
    pm.compare(nights, progress=False)
    pm.compare(nights[:3])
    assert notebook.shown == []


def test_outside_a_notebook_no_bar_is_shown(
    nights: list[pm.NightLog], capfd: pytest.CaptureFixture[str]
) -> None:
    pm.compare(nights, progress=True)  # standard error is no terminal here
    told = capfd.readouterr()
    assert (told.out, told.err) == ("", "")


def test_the_package_lists_its_public_names_and_no_others() -> None:
    assert dir(pm) == sorted(pm.__all__)
    assert {"check", "plan", "compare", "fit", "InputError"} <= set(dir(pm))
    assert all(hasattr(pm, name) for name in dir(pm))


def test_the_package_says_its_version() -> None:
    from importlib.metadata import version

    assert pm.__version__ == version("pointmodel")
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = pm.nothing
