"""Spellings: names squeezed to what matters in them, Bayer's letters and the constellations."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Mapping
from functools import cache

from pointmodel.sky.stars import constellations

_LONGEST_NAME = 60  # letters; no name, in words or figures, has half as many
LONGEST_TARGET = 2 * _LONGEST_NAME  # with marks and blanks; what is longer is no target
_NEAR_ENOUGH = 0.72
_AS_NEAR = 0.1
_SHORTEST_BEGINNING = 3
GREEK = {
    "α": "alpha",
    "β": "beta",
    "γ": "gamma",
    "δ": "delta",
    "ε": "epsilon",
    "ζ": "zeta",
    "η": "eta",
    "θ": "theta",
    "ι": "iota",
    "κ": "kappa",
    "λ": "lambda",
    "μ": "mu",
    "ν": "nu",
    "ξ": "xi",
    "ο": "omicron",
    "π": "pi",
    "ρ": "rho",
    "σ": "sigma",
    "τ": "tau",
    "υ": "upsilon",
    "φ": "phi",
    "χ": "chi",
    "ψ": "psi",
    "ω": "omega",
}
_SHORT = {  # beside the first three letters; as catalogues and hand controllers have them
    "alf": "α",
    "tet": "θ",
    "lamda": "λ",
    "ksi": "ξ",
    "mu.": "μ",
    "my": "μ",
    "ny": "ν",
    "omikron": "ο",
    "ypsilon": "υ",
}


def squeezed(text: str) -> str:
    """A name without case, accents, blanks and marks: `Alpha Eridani` and `alpha-eridani` are one.

    Superscript figures become plain ones.
    """
    parts = unicodedata.normalize("NFKD", text[:LONGEST_TARGET]).casefold()
    return "".join(letter for letter in parts if letter.isalnum())


@cache
def _letters() -> dict[str, str]:
    """Letters by every way to write them."""
    words = {word[:3]: letter for letter, word in GREEK.items()}
    words |= {word: letter for letter, word in GREEK.items()}
    words |= {letter: letter for letter in GREEK}
    return words | _SHORT


@cache
def _abbreviations() -> dict[str, str]:
    """Abbreviations of constellations, in lower case, by every squeezed spelling of theirs."""
    return {
        squeezed(spelling): row.abbreviation.casefold()
        for row in constellations()
        for spelling in row
    }


@cache
def _genitives() -> dict[str, str]:
    return {row.abbreviation: row.genitive for row in constellations()}


def parse_designation(key: str) -> str | None:
    """The key of a Bayer or Flamsteed designation, `α1 cen` or `61 cyg`, from a squeezed text.

    None where the text is none. Latin letters are taken as they stand.
    """
    for cut in range(1, len(key) - 2):
        constellation = _abbreviations().get(key[cut:])
        if constellation is None:
            continue
        mark = key[:cut]
        if mark.isdecimal():
            return f"{mark.lstrip('0')} {constellation}"
        letter = mark.rstrip("0123456789")
        index = mark[len(letter) :].lstrip("0")
        if letter in _letters() or len(letter) == 1:
            return f"{_letters().get(letter, letter)}{index} {constellation}"
    return None


def bayer_in_words(bayer: str, abbreviation: str) -> tuple[str, str]:
    """`α1`, `Cen` as `alpha1 Cen` and `alpha1 Centauri`."""
    letter = f"{GREEK.get(bayer[0], bayer[0])}{bayer[1:]}"
    return f"{letter} {abbreviation}", f"{letter} {_genitives()[abbreviation]}"


def near_names(text: str, names_by_key: Mapping[str, str], at_most: int) -> tuple[str, ...]:
    """The names whose squeezed spelling comes nearest to that of a text, the nearest first."""
    key = squeezed(text)
    near = difflib.get_close_matches(key, list(names_by_key), n=at_most, cutoff=_NEAR_ENOUGH)
    if not near and len(key) >= _SHORTEST_BEGINNING:
        near = [known for known in names_by_key if known.startswith(key)][:at_most]
    likeness = [difflib.SequenceMatcher(None, found, key).ratio() for found in near]
    kept = [f for f, like in zip(near, likeness, strict=True) if like > likeness[0] - _AS_NEAR]
    return tuple(dict.fromkeys(names_by_key[found] for found in kept))
