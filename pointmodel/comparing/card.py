"""A comparison of nights in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.comparing import tables as comparewords
from pointmodel.comparing.pictures import panels
from pointmodel.showing.cards import Card, html

if TYPE_CHECKING:
    from pointmodel.comparing.compare import CompareResult

MOST_PANELS = 2  # the terms that matter most: what changed stands first


def compare_card(result: CompareResult) -> Card:
    """What matters first, and the kind of every term."""
    return Card(
        f"Comparison of {comparewords.nights_words(result)}",
        (result.summary,),
        comparewords.TERMS_HEAD,
        [comparewords.term_row(term) for term in comparewords.ordered_terms(result)],
        "print it for all of it; .frame holds the terms, night by night",
    )


def compare_html(result: CompareResult) -> str:
    """The card with the small pictures of the terms that matter most."""
    drawn = panels(result).terms
    first = comparewords.ordered_terms(result)[:MOST_PANELS]
    return html(
        compare_card(result), {comparewords.TITLE[term.name]: drawn[term.name] for term in first}
    )
