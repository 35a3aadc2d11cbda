"""The terminal's text of a fit: first the decision, then what it rests on.

Read `advising/text.py`, `words.py` and `showing/textpage.py` first: words and rounding are in the
middle one, widths and wrapping in the last; this file says what stands where.
"""

from __future__ import annotations

from collections.abc import Iterable

from pointmodel.advising.text import show_advice
from pointmodel.base import figures
from pointmodel.base.cautions import CAUTION_LINE
from pointmodel.base.wording import ended, sentence
from pointmodel.diagnosis.result import Cause
from pointmodel.fitting import words
from pointmodel.fitting.showable import Showable
from pointmodel.levelling import words as levelwords
from pointmodel.levelling.picture import feet_lines
from pointmodel.readings.words import figures_read_words
from pointmodel.showing.textpage import TextPage


def fit_text(fit: Showable, *, width: int = 100, color: bool = False, whole: bool = False) -> str:
    """The fit as text, at most `width` columns wide, the decision on the first screen.

    `whole` adds what a usual screen leaves out: what is ruled out, every term in words, the verdict
    on levelling with its reason, the remedies that are not advised.
    """
    page = TextPage(width, color)
    for told in figures_read_words(fit.readings):
        page.paragraph(told)
    show_advice(page, fit.advice)
    if fit.readings.stops:
        page.paragraph(_what_was_read(fit))
        page.paragraph(fit.readings.stops if fit.readings.stops != fit.advice.headline else None)
        page.bullets("Remarks", words.remarks(fit))
        return page.text()
    page.bullets(None, _set_aside(fit))
    page.bullets(None, _not_known_yet(fit))
    page.rule()
    page.paragraph(" ".join((_what_was_read(fit), *words.remarks(fit))))
    page.bullets("What is behind it", _findings(fit.causes, whole))
    _show_forecast(page, fit, whole)
    _show_terms(page, fit)
    noise = words.noise_words(fit)
    noise_told = (*noise, words.cured_words(fit)) if whole else noise[:1]
    page.paragraph(" ".join((*noise_told, words.NOT_THE_MIRRORS)))
    if whole:
        _show_the_rest(page, fit)
    page.paragraph(f"Care: {CAUTION_LINE} {_where_to_read_on(fit, whole)}")
    return page.text()


def _where_to_read_on(fit: Showable, whole: bool) -> str:
    """Which commands tell more."""
    feet = "The feet: pointmodel level." if "level" in fit.advice.actions else None
    rest = None if whole else "Everything else: fit --all."
    return " ".join(filter(None, (feet, rest)))


def _what_was_read(fit: Showable) -> str:
    mount = f" of {fit.log.mount.name}" if fit.log.mount.name else ""
    return f"{fit.log.name}{mount}: {words.pairs_words(fit)}."


def _set_aside(fit: Showable) -> list[str]:
    """The lines set aside, one each: what they probably are."""
    return [
        f"Line {aside.line}{f' ({aside.target})' if aside.target else ''} is set aside: "
        f"{ended(aside.hint or words.cause_words(aside.cause))}"
        for aside in fit.set_aside
    ]


def _not_known_yet(fit: Showable) -> list[str]:
    """What the night leaves open, and what would settle it."""
    told = [sentence(group.hint) for group in fit.inseparable]
    few = words.few_pairs_words(words.pairs_used(fit))
    return [*told, few] if few else told


def _findings(causes: tuple[Cause, ...], whole: bool) -> list[str]:
    """What may be wrong, a line each; what is open in one line, what is ruled out if asked."""
    found = [cause for cause in causes if cause.verdict in ("likely", "possible")]
    # single lines of the log stand above already
    lines = [_finding(cause) for cause in found if whole or not cause.lines]
    left_open = [cause for cause in causes if cause.verdict == "open"]
    if left_open:
        lines.append(_open_words(left_open))
    if whole:
        lines += [
            f"Ruled out: {words.cause_words(cause.cause)}. {sentence(cause.evidence)}"
            for cause in causes
            if cause.verdict == "ruled_out"
        ]
    return lines


def _open_words(causes: list[Cause]) -> str:
    """What these stars would not have shown, in one line."""
    named = (
        sentence(f"{words.cause_words(cause.cause)}: {words.most_words(cause)}") for cause in causes
    )
    return " ".join(("No sign of these, but these stars cannot rule them out.", *named))


def _finding(cause: Cause) -> str:
    name = f"{words.cause_words(cause.cause)} ({words.VERDICT.get(cause.verdict, '?')})"
    told = (name, cause.evidence, cause.remedy)
    return " ".join(sentence(text) for text in told if text)


def _show_forecast(page: TextPage, fit: Showable, whole: bool) -> None:
    rows = [
        (
            words.remedy_words(forecast.remedy),
            figures.miss_words(forecast.rms_arcmin),
            figures.miss_range_words(forecast.rms_low_arcmin, forecast.rms_high_arcmin),
            figures.chance_words(forecast.chance_in_field),
            figures.miss_words(forecast.p95_arcmin),
        )
        for forecast in fit.forecasts
    ]
    columns = len(words.FORECAST_HEAD) - (0 if whole else 1)
    page.table(
        "How far go-tos will land from the target, over the open sky",
        words.FORECAST_HEAD[:columns],
        [row[:columns] for row in rows],
        right=columns - 1,
    )
    if whole:
        page.paragraph(words.realign_words(fit))


def _show_terms(page: TextPage, fit: Showable) -> None:
    page.table(
        "Terms",
        ("Term", "Value", "95 % range", "How sure"),
        [
            (
                words.term_title(term),
                words.value_words(term),
                words.term_range_words(term),
                words.STATUS.get(term.status, term.status),
            )
            for term in fit.term_estimates
        ],
    )


def _show_the_rest(page: TextPage, fit: Showable) -> None:
    """What a usual screen leaves out."""
    page.bullets("Not advised", (words.left_out_words(one) for one in fit.advice.left_out))
    page.heading("Level or not")
    page.paragraph(levelwords.verdict_words(fit.levelling))
    feet = levelwords.shown_feet(fit.levelling)
    if feet:
        page.picture(feet_lines(feet, *levelwords.shown_way(fit.levelling)))
        page.paragraph(levelwords.picture_words(fit.levelling))
    page.bullets("Terms in words", _terms_in_words(fit))


def _terms_in_words(fit: Showable) -> Iterable[str]:
    for term in fit.term_estimates:
        if term.status != "not_determined":
            yield f"{words.term_title(term)}: {words.meaning(term)}. {words.remark(term)}"
    unknown = words.unknown_terms_words(fit)
    if unknown:
        yield unknown
