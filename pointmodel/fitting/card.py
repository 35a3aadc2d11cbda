"""A fit in a few lines at the prompt, and as a card in a notebook: advice, terms, a small sky.

Read `showing/cards.py` first. Nothing is worked out here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.fitting import words
from pointmodel.fitting.skymaps import Arrows, as_logged, sky_picture
from pointmodel.showing.cards import Card, html

if TYPE_CHECKING:
    from pointmodel.fitting.result import Fit

TERMS_HEAD = ("Term", "Value", "95 % range", "How sure")


def fit_card(fit: Fit) -> Card:
    """The advice with its steps, and the terms; no terms where the figures say nothing."""
    title = f"Fit of {fit.log.name}: {words.pairs_words(fit)}"
    advice = fit.advice
    told = [advice.headline]
    if advice.question is not None:
        asked = (advice.question.ask, advice.question.why)
        told += [text for text in asked if text not in advice.headline]
    told += [f"{k}. {step.text}" for k, step in enumerate(advice.steps, 1)]
    if fit.readings.stops:
        return Card(title, told, more=MORE)
    return Card(
        title,
        told,
        TERMS_HEAD,
        [
            (
                words.term_title(term),
                words.value_words(term),
                words.term_range_words(term),
                words.STATUS[term.status],
            )
            for term in fit.term_estimates
        ],
        MORE,
    )


def fit_html(fit: Fit) -> str:
    """The card with the small sky of misses as logged."""
    if fit.readings.stops:
        return html(fit_card(fit))
    return html(
        fit_card(fit), {"Misses as logged": sky_picture(fit, [Arrows("as logged", as_logged(fit))])}
    )


MORE = "print it for all of it; .terms, .pairs and .forecast are frames"
