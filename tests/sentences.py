"""Every sentence that the program says over simulated nights, and how easily it reads.

`everything(seeds)` plays evenings of all kinds and lets every command speak: fit, level, check,
compare, plan, aim, simulate, record's remarks and refusals. Tables, headings and pictures are no
sentences: they are kept whole, as said by `WHOLE`.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pyphen
from bench.compare_figures import Plan, season
from bench.controllers import ENTRIES
from bench.controllers import night as told_controller
from bench.evening_kinds import KINDS, evening
from bench.figures import TO_NAME, made

import pointmodel as pm
from pointmodel.base.errors import InputError
from pointmodel.comparing.page import compare_html
from pointmodel.fitting.page import report_html
from pointmodel.planning.sheet import sheet_html
from pointmodel.reading.nightlog import read_log
from pointmodel.recording.remark import judge
from pointmodel.showing.textpage import TextPage

NOW_S = 1936782270.0
AT = "2031-05-17T21:04:30+10:00"
SITE = {"latitude": -41.3, "longitude": 146.2, "time_zone": "Australia/Hobart"}
WORD = re.compile(r"[^\s/—–→|]+")
LETTERS = re.compile(r"[A-Za-zÀ-ÿ]+")
END = re.compile(r"(?<=[.?!])[\"”)]?\s+(?=[\"“(A-Z0-9′−<])")
# names of files, columns and keys, and whatever holds a figure, are read as one sound
UNITS = {"mm", "min", "h", "s", "°", "′", "%", "az", "alt", "RMS", "UTC", "ICRS", "J2000"}
SPLIT = pyphen.Pyphen(lang="en_US")
WHOLE = "whole text"


@dataclass(frozen=True)
class Said:
    """A sentence, and who said it."""

    who: str
    text: str


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text: parted at full stops, question and exclamation marks."""
    for part in END.split(" ".join(text.split())):
        if LETTERS.search(part):
            yield part.strip()


def words(sentence: str) -> list[str]:
    """The words of a sentence: what stands between blanks, signs alone left out."""
    return [word for word in WORD.findall(sentence) if re.search(r"\w", word)]


@cache
def syllables(word: str) -> int:
    """Syllables of a word by pyphen; figures, units, names of files and keys count as one.

    Pyphen knows where a word may be broken, and so finds too few: by groups of vowels the same
    sentences come out five points harder.
    """
    bare = word.strip(".,;:?!()[]\"'“”")
    if bare in UNITS or re.search(r"[\d_=.\\]", bare):
        return 1
    return sum(len(SPLIT.positions(part)) + 1 for part in LETTERS.findall(bare)) or 1


def reading_ease(said: Iterable[str]) -> float:
    """Flesch's reading ease, pooled over sentences.

    R. Flesch, A new readability yardstick, Journal of Applied Psychology 32 (1948) 221:
    206.835 − 0.846 wl − 1.015 sl, wl syllables per 100 words, sl words per sentence.
    """
    parted = [words(sentence) for sentence in said]
    count = sum(map(len, parted))
    sounds = sum(syllables(word) for sentence in parted for word in sentence)
    return 206.835 - 0.846 * 100.0 * sounds / count - 1.015 * count / len(parted)


@contextmanager
def listening() -> Iterator[list[str]]:
    """Collect every paragraph and every item of a list that is set on a page of text."""
    heard: list[str] = []
    paragraph, bullets = TextPage.paragraph, TextPage.bullets

    def heard_paragraph(page: TextPage, told: str | None, bold: bool = False) -> None:
        heard.extend([told] if told else [])
        paragraph(page, told, bold)

    def heard_bullets(page: TextPage, title: str | None, items: Iterable[str]) -> None:
        rows = list(items)
        heard.extend(rows)
        bullets(page, title, rows)

    TextPage.paragraph, TextPage.bullets = heard_paragraph, heard_bullets  # type: ignore[method-assign]
    try:
        yield heard
    finally:
        TextPage.paragraph, TextPage.bullets = paragraph, bullets  # type: ignore[method-assign]


class _Paragraphs(HTMLParser):
    """The text of paragraphs, list items and captions of a page."""

    KEPT = frozenset({"p", "li", "figcaption", "dd"})
    PASSED = frozenset({"script", "style", "svg", "table"})

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._inside = 0
        self._passed = 0

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag in self.PASSED:
            self._passed += 1
        if tag in self.KEPT:
            self._inside += 1
            self.texts.append("")

    def handle_endtag(self, tag: str) -> None:
        if tag in self.PASSED:
            self._passed -= 1
        if tag in self.KEPT:
            self._inside -= 1

    def handle_data(self, data: str) -> None:
        if self._inside and not self._passed:
            self.texts[-1] += data


def of_page(page: str) -> list[str]:
    """The paragraphs, list items and captions of an HTML page."""
    parser = _Paragraphs()
    parser.feed(page)
    return [html.unescape(text) for text in parser.texts if text.strip()]


def spoken(who: str, result: Any) -> Iterator[Said]:
    """The sentences of a result's text, and the text whole."""
    with listening() as heard:
        whole = str(result)
    yield from said(who, heard)
    yield Said(WHOLE, " ".join(whole.split()))


def said(who: str, texts: Iterable[str]) -> Iterator[Said]:
    """The sentences of some texts."""
    for text in texts:
        yield from (Said(who, sentence) for sentence in sentences(text))


def of_fit(fit: pm.Fit, pages: bool) -> Iterator[Said]:
    """What fit and level say of a night, and the page."""
    yield from spoken("fit", fit)
    yield from spoken("level", pm.level(fit))
    if pages:
        yield from said("fit page", of_page(report_html(fit)))


def fits(seeds: range, pages: bool, every: int = 1) -> Iterator[Said]:
    """Nights of all kinds: evenings, single faults, one to five stars; only every so many."""
    for seed in seeds:
        for name in list(KINDS)[::every]:
            fit = _tried(lambda name=name, seed=seed: pm.fit(evening(name, seed).log))
            if isinstance(fit, list):
                yield from fit
            else:
                yield from of_fit(fit, pages and seed == 0)
        for fault, case in list(TO_NAME.items())[::every]:
            rng = np.random.default_rng([seed, len(fault)])
            log = made("usual", 20, seed, terms=case.terms(rng), **case.options).log
            yield from of_fit(pm.fit(log, mount={"alignment": {"stars": []}}), False)
        for pairs in (1, 2, 3, 4, 5)[::every]:
            for population in ("usual", "worse"):
                log = made(population, pairs, seed).log
                mount = {"site": SITE, "alignment": {"stars": [], "presses": "none"}}
                yield from of_fit(pm.fit(log, mount=mount), pages and seed == 0)


def checks(seeds: range, every: int = 1) -> Iterator[Said]:
    """What check says of controllers, right and wrong; only every so many."""
    for seed in seeds:
        for entry in ENTRIES[::every]:
            for stars in (1, 4):
                for swap in (False, True) if stars == 4 else (False,):
                    log = told_controller(seed, entry, stars=stars, swap_name=swap).log
                    yield from spoken("check", pm.check(log))


def comparisons(seeds: range) -> Iterator[Said]:
    """What compare says of seasons in which the tube moved, or nothing did."""
    for seed in seeds:
        for plan in (
            Plan(nights=2),
            Plan(nights=4, steps={"collimation": 12.0}),
            Plan(nights=4, steps={"non_perpendicularity": 9.0}),
            Plan(nights=4, steps={"tilt_north": 40.0}, pier=True),
            Plan(nights=3, pairs=6),
        ):
            result = pm.compare([night.log for night in season(plan, seed).nights])
            yield from spoken("compare", result)
            if seed == 0:
                yield from said("compare page", of_page(compare_html(result)))


def plans(seeds: range) -> Iterator[Said]:
    """What plan says on several evenings at several places, before and after a log."""
    for seed in seeds:
        log = made("usual", 3 + seed, seed).log
        for latitude in (-41.3, 0.0, 52.0, 69.0):
            mount = {"site": {**SITE, "latitude": latitude}}
            for at in (AT, "2031-12-20T16:00:00+10:00", "2031-06-21T23:50:00+10:00"):
                for after in (None, pm.fit(log)):
                    try:
                        result = pm.plan(mount, at=at, stars=3 + 2 * seed, after=after)
                    except InputError as error:
                        yield from refusal("plan", error)
                        continue
                    yield from spoken("plan", result)
                    if seed == 0:
                        yield from said("sheet", of_page(sheet_html(result)))


def aims(seeds: range) -> Iterator[Said]:
    """What aim says of all kinds of target."""
    targets = ["Achernar", "M 42", "Sun", "Venus", "Saturn", "Antares", "05:34:31 +22:00:52",
               "123.5,45", "10,89", "200,3"]  # fmt: skip
    moments = (AT, "2031-05-17T12:00:00+10:00", "2031-05-17T17:20:00+10:00")
    for seed in seeds:
        for name in ("usual", "worse"):
            log = made(name, 4 + 3 * seed, seed).log
            for mount in ({"site": SITE}, {}):
                fit = pm.fit(log, mount=mount)
                for at in moments:
                    for asked in (targets, targets[:1], targets[-3:]):
                        try:
                            yield from spoken("aim", pm.aim(fit, asked, at=at))
                        except InputError as error:
                            yield from refusal("aim", error)


def remarks(seeds: range) -> Iterator[Said]:
    """What record says after each pair."""
    for seed in seeds:
        for population in ("usual", "worse"):
            for options in ({}, {"wrong_stars": 1}, {"pen_slips": 1}):
                log = made(population, 8, seed, **options).log
                before = None
                for pairs in range(1, 9):
                    part = log.select(np.arange(len(log)) < pairs)
                    before, told = judge(part, before, NOW_S)
                    yield from said("record", [told.text])


def simulations() -> Iterator[Said]:
    """What simulate says."""
    for options in ({}, {"wrong_stars": 1, "pen_slips": 1, "clutch_slip_arcmin": 20.0}):
        night = pm.simulate(seed=1, **options)
        yield from said("simulate", str(night).splitlines())


HEAD = "target,time,commanded_az,commanded_alt,centred_az,centred_alt"
BROKEN_LOGS = (
    "",
    "target\nAchernar\n",
    "10,20,30,40\n",
    "comanded_az,commanded_alt\n1,2\n",
    f"{HEAD}\na,21:04,45.6.7,4O.2,10,123\nb,,400,95,nan,inf\nc,2031-13-01T00:00Z,12,,3,4\n",
    f"{HEAD}\na,2031-05-17T21:04,1,2,1,2\n",
    f"{HEAD},event\na,,1,2,1,2,bmp\n",
    f"{HEAD},az_motion\na,,1,2,1,2,left\n",
    "commanded_ra,commanded_dec,centred_az,centred_alt\n1,2,3,4\n",
    "target,nudge_right,nudge_up\na,x,2\n",
)
BROKEN_MOUNTS: tuple[Any, ...] = (
    {"site": {"latitude": 146}},
    {"site": {"latitude": "41 x"}},
    {"sight": {"latitude": 1}},
    {"mount": {"latitude": 1}},
    {"feet": {"radius": 1}},
    {"feet": {"radius": -1, "azimuths": [1]}},
    {"horizon": {"profile": [[0, 100]]}},
    {"entered": {"date": "hello", "time": "25:00"}},
    {"site": {"time_zone": "Hobart", "utc_offset": "10"}},
    {"alignment": {"solves": "all"}},
    "no_such_file.toml",
)


def refusals() -> Iterator[Said]:
    """What is said of logs and mount files that cannot be read, and of wrong arguments."""
    tries: list[Any] = [
        *(lambda text=text: pm.fit(read_log(io.BytesIO(text.encode()))) for text in BROKEN_LOGS),
        *(lambda mount=mount: pm.read_mount(mount) for mount in BROKEN_MOUNTS),
        lambda: pm.fit("no_such_log.csv"),
        lambda: pm.plan({}, at=AT),
        lambda: pm.plan({"site": SITE}, at="yesterday"),
        lambda: pm.check(made("usual", 3, 0).log),
        lambda: pm.aim(pm.fit(made("usual", 5, 0).log), ["Achernr", "12:00", "x,y"], at=AT),
        lambda: pm.compare([made("usual", 5, 0).log]),
        lambda: pm.simulate(pairs=0),
    ]
    for trial in tries:
        found = _tried(trial)
        if isinstance(found, list):
            yield from found


def _tried(trial: Any) -> Any:
    try:
        return trial()
    except InputError as error:
        return list(refusal("refusal", error))


def refusal(who: str, error: InputError) -> Iterator[Said]:
    """What an error asks for, as sentences."""
    for problem in error.problems:
        yield from said(who, [f"Wanted {problem.wanted}."])


def everything(seeds: range, pages: bool = True, every: int = 1) -> list[Said]:
    """Every sentence of every command, each once for each who says it.

    With `every` above one only so many of the kinds of evenings and entries are played.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        heard = [
            *fits(seeds, pages, every),
            *checks(seeds, every),
            *comparisons(seeds),
            *plans(seeds),
            *aims(seeds),
            *remarks(seeds),
            *simulations(),
            *refusals(),
        ]
    return list(dict.fromkeys(heard))


def _main() -> None:
    told = [one for one in everything(range(1)) if one.who != WHOLE]
    print(f"{len(told)} sentences, reading ease {reading_ease(one.text for one in told):.1f}")
    by_who: dict[str, list[str]] = {}
    for one in told:
        by_who.setdefault(one.who, []).append(one.text)
    for who, texts in by_who.items():
        print(f"{who}: {len(texts)} sentences, reading ease {reading_ease(texts):.1f}")
    for one in sorted(told, key=lambda one: -len(words(one.text)))[:60]:
        print(f"{len(words(one.text)):3d} words, {one.who}: {one.text}")


if __name__ == "__main__":
    _main()
