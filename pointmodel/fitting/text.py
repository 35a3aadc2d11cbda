"""The terminal's text of a fit.

Read `showing/words.py` and `showing/textpage.py` first: words and rounding are in the one, widths
and wrapping in the other; this file says what stands where.
"""

from __future__ import annotations

from collections.abc import Iterable

from pointmodel.base import figures
from pointmodel.base.cautions import CAUTION_LINE
from pointmodel.base.wording import join, sentence
from pointmodel.diagnosis.result import Cause
from pointmodel.fitting import words
from pointmodel.fitting.showable import Showable
from pointmodel.levelling import words as levelwords
from pointmodel.readings.words import figures_read_words, question_words
from pointmodel.showing.textpage import TextPage


def fit_text(fit: Showable, *, width: int = 100, color: bool = False) -> str:
    """The whole fit as text, at most `width` columns wide, the sentence that matters first."""
    page = TextPage(width, color)
    for told in figures_read_words(fit.readings):
        page.paragraph(told)
    page.paragraph(fit.summary, bold=True)
    page.paragraph(question_words(fit.readings, fit.summary))
    page.paragraph(_what_was_read(fit))
    if fit.readings.stops:
        page.bullets("Remarks", words.remarks(fit))
        return page.text()
    page.paragraph(words.go_to_now(fit).sentence)
    page.paragraph(words.few_pairs_words(words.pairs_used(fit)))
    page.bullets("Remarks", words.remarks(fit))
    _show_set_aside(page, fit)
    page.bullets("What is behind it", _findings(fit.causes))
    page.heading("Level or not")
    page.paragraph(levelwords.verdict_words(fit.levelling))
    page.paragraph(levelwords.where_to_read_on(fit.levelling))
    _show_forecast(page, fit)
    _show_terms(page, fit)
    page.bullets(
        "What this night cannot tell apart",
        (f"{join(group.terms)}. {sentence(group.hint)}" for group in fit.inseparable),
    )
    page.heading("Noise")
    page.paragraph(" ".join((*words.noise_words(fit), words.cured_words(fit))))
    page.paragraph(f"Care: {CAUTION_LINE}")
    return page.text()


def _what_was_read(fit: Showable) -> str:
    mount = f" of {fit.log.mount.name}" if fit.log.mount.name else ""
    return f"{fit.log.name}{mount}: {words.pairs_words(fit)}."


def _show_set_aside(page: TextPage, fit: Showable) -> None:
    page.table(
        "Lines set aside",
        ("Line", "Target", "Misses by", "Most likely", "What it looks like"),
        [
            (
                str(aside.line),
                aside.target or "—",
                figures.miss_words(aside.miss_arcmin),
                words.cause_words(aside.cause),
                aside.hint,
            )
            for aside in fit.set_aside
        ],
    )


def _findings(causes: tuple[Cause, ...]) -> list[str]:
    """What may be wrong, a line each; all that is ruled out in one line at the end."""
    lines = [_finding(cause) for cause in causes if cause.verdict != "ruled_out"]
    ruled_out = [
        f"{words.cause_words(cause.cause)} ({cause.evidence})"
        for cause in causes
        if cause.verdict == "ruled_out"
    ]
    return [*lines, f"Ruled out: {'; '.join(ruled_out)}."] if ruled_out else lines


def _finding(cause: Cause) -> str:
    name = f"{words.cause_words(cause.cause)} ({words.VERDICT.get(cause.verdict, '?')})"
    told = (name, cause.evidence, cause.remedy)
    return " ".join(sentence(text) for text in told if text)


def _show_forecast(page: TextPage, fit: Showable) -> None:
    page.table(
        "How far go-tos will land from the target, over the open sky",
        words.FORECAST_HEAD,
        [
            (
                words.remedy_words(forecast.remedy),
                figures.miss_words(forecast.rms_arcmin),
                figures.miss_range_words(forecast.rms_low_arcmin, forecast.rms_high_arcmin),
                figures.miss_words(forecast.median_arcmin),
                figures.miss_words(forecast.p95_arcmin),
                figures.chance_words(forecast.chance_in_field),
            )
            for forecast in fit.forecasts
        ],
        right=5,
    )
    page.paragraph(words.realign_words(fit))


def _show_terms(page: TextPage, fit: Showable) -> None:
    page.table(
        "Terms (′ is a minute of arc, a sixtieth of a degree)",
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
    page.bullets("In words", _terms_in_words(fit))


def _terms_in_words(fit: Showable) -> Iterable[str]:
    for term in fit.term_estimates:
        if term.status != "not_determined":
            yield f"{words.term_title(term)}: {words.meaning(term)}. {words.remark(term)}"
    unknown = words.unknown_terms_words(fit)
    if unknown:
        yield unknown
