"""Words shared by the messages about input: quoting what was read, near misses, lists of lines."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence

from pointmodel.base.trace import trace

_LONGEST_QUOTE = 60
# Letters in an angle, a time, a date or an offset: what people write has at most forty. What
# is longer is refused unread: patterns with several optional parts take the square of its length.
LONGEST_FIGURE = 64


def quoted(value: object) -> str:
    """What was read, text in quotes, shortened, with nothing that a terminal would obey."""
    text = value if isinstance(value, str) else _shown(value)
    if not text:
        return "nothing"
    if len(text) > _LONGEST_QUOTE:
        text = text[: _LONGEST_QUOTE - 1] + "…"
    return f'"{printable(text)}"' if isinstance(value, str) else printable(text)


def printable(text: str) -> str:
    """A text whose control characters are spelt out."""
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text)


def _shown(value: object) -> str:
    try:
        return repr(value)
    except Exception:  # whatever a foreign object's repr, or a huge integer's, may raise
        trace()
        return f"a {type(value).__name__}"


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word that `word` is probably a slip of, None if there is none."""
    found = difflib.get_close_matches(word[:_LONGEST_QUOTE], list(known), n=1, cutoff=cutoff)
    return found[0] if found else None


def one_of(words: Sequence[str], meant: str | None = None) -> str:
    """`a, b or c`, with the word that was probably meant in front."""
    text = join(words, "or")
    return f"{meant} (did you mean that?), or another of {text}" if meant else text


def join(words: Sequence[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def line_list(lines: Sequence[int], at_most: int = 5) -> str:
    """`line 3`, `lines 3, 4 and 9`, `lines 1, 2, 3, 4, 5 and 12 more`."""
    shown = [str(line) for line in lines[:at_most]]
    if len(lines) > at_most:
        shown.append(f"{len(lines) - at_most} more")
    return f"{'line' if len(lines) == 1 else 'lines'} {join(shown)}"


def one_after_another(*parts: str | None) -> str | None:
    """The parts that there are as one remark of several sentences; None where there are none."""
    told = [part for part in parts if part]
    return ". ".join([*told[:1], *(part[:1].upper() + part[1:] for part in told[1:])]) or None


def sentence(text: str) -> str:
    """The text with a capital at its head and a full stop at its end."""
    return capital(ended(text))


def capital(text: str) -> str:
    """The text with a capital at its head."""
    return text[:1].upper() + text[1:]


def ended(text: str) -> str:
    """The text with a full stop at its end, where it has none."""
    text = text.strip()
    return text + ("" if text.endswith((".", "!", "?", ":")) else ".")
