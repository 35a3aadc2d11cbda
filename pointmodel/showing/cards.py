"""A result in a few lines at the prompt, and as a small card in a notebook.

`Card` holds what is said: one title, sentences with the one that matters first, one table. `brief`
sets it as text of at most `MOST_LINES` lines, `html` as a card that takes its ink from the notebook
around it, light or dark. Each room's `card.py` makes the card of its result.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from zlib import crc32

from pointmodel.base.figures import clean

Row = Sequence[str]

MOST_LINES = 12  # a bare name at the prompt must not push away what stood there
COLUMNS = 96  # what a notebook's cell and a usual terminal both hold
MOST_HEADLINE_LINES = 3
MOST_HTML_ROWS = 40
_GAP = "  "

# ink as the notebook has it; the other colours are readable on white and on black alike
_STYLE = (
    "max-width:62em;line-height:1.4;--ink:currentColor;--faint:#8a93a1;--before:#cf6a2c;"
    "--after:#2f8fc0;--aside:#a765bd;--paper:transparent"
)
_SIDE_BY_SIDE = "display:flex;flex-wrap:wrap;gap:1.5em;align-items:flex-start"
_CELL = "text-align:left;padding:.1em .8em .1em 0;vertical-align:top"


@dataclass(frozen=True)
class Card:
    """What a result says of itself in little room.

    `told` are whole sentences, the one that matters first. `head` is empty where `rows` need none;
    the last cell of a row that is shorter than the head may take the room that is left. `more` says
    where the rest is.
    """

    title: str
    told: Sequence[str]
    head: Row = ()
    rows: Sequence[Row] = ()
    more: str = ""


def brief(card: Card) -> str:
    """The card as at most `MOST_LINES` lines of `COLUMNS` columns; what finds no room is counted.

    The title and the first sentence always stand; then as many rows of the table as there is room.
    """
    lines = [_cut(clean(card.title)), *_headline(card.told)]
    ending = [_cut(clean(card.more))] if card.more else []
    room = MOST_LINES - len(lines) - len(ending)
    rows = _columns([card.head, *card.rows] if card.head and card.rows else card.rows)
    if len(rows) > room:
        kept = rows[: max(room - 1, 0)]
        rows = [*kept, f"… and {len(rows) - len(kept)} more lines"]
    return "\n".join([*lines, *rows, *ending])


def _headline(told: Sequence[str]) -> list[str]:
    if not told:
        return []
    lines = textwrap.wrap(clean(told[0]), COLUMNS, break_on_hyphens=False)
    if len(lines) <= MOST_HEADLINE_LINES:
        return lines
    return [*lines[: MOST_HEADLINE_LINES - 1], _cut(" ".join(lines[MOST_HEADLINE_LINES - 1 :]))]


def _cut(line: str) -> str:
    return line if len(line) <= COLUMNS else f"{line[: COLUMNS - 1].rstrip()}…"


def _columns(rows: Sequence[Row]) -> list[str]:
    """The rows with their cells set under one another, cut at the edge."""
    if not rows:
        return []
    cells = [[clean(cell) for cell in row] for row in rows]
    widest = max(map(len, cells))
    widths = [
        max(len(row[k]) for row in cells if len(row) > k + (len(row) < widest))
        for k in range(widest)
    ]
    padded = ([cell.ljust(widths[k]) for k, cell in enumerate(row)] for row in cells)
    return [_cut(_GAP.join(row).rstrip()) for row in padded]


def html(card: Card, pictures: Mapping[str, str] | None = None) -> str:
    """The card as one `<div>` for a notebook; pictures (SVG texts by caption) stand beside it.

    Every word is escaped; nothing outside is asked for.
    """
    parts = [f'<div style="opacity:.75">{_safe(card.title)}</div>']
    parts += [
        f'<p style="margin:.4em 0;font-weight:bold">{_safe(one)}</p>' for one in card.told[:1]
    ]
    parts += [f'<p style="margin:.4em 0">{_safe(one)}</p>' for one in card.told[1:]]
    shown = "".join(
        f'<div style="flex:0 1 20em;min-width:14em">{_safe(caption)}{_by_itself(picture)}</div>'
        for caption, picture in (pictures or {}).items()
    )
    body = f"{_table(card)}{shown}"
    if body:
        parts.append(f'<div style="{_SIDE_BY_SIDE}">{body}</div>')
    if card.more:
        parts.append(f'<div style="opacity:.75">{_safe(card.more)}</div>')
    return f'<div class="pointmodel" style="{_STYLE}">{"".join(parts)}</div>'


def _table(card: Card) -> str:
    if not card.rows:
        return ""
    shown = list(card.rows[:MOST_HTML_ROWS])
    head = "".join(f'<th style="{_CELL}">{_safe(cell)}</th>' for cell in card.head)
    wide = max(map(len, (card.head, *shown)))
    body = "".join(f"<tr>{_cells(row, wide)}</tr>" for row in shown)
    left = len(card.rows) - len(shown)
    rest = f"<caption>and {left} more lines</caption>" if left else ""
    return f"<table>{rest}{f'<tr>{head}</tr>' if head else ''}{body}</table>"


def _cells(row: Row, wide: int) -> str:
    """The cells of a row; the last one of a short row reaches to the table's edge."""
    spans = [""] * (len(row) - 1) + [f' colspan="{wide - len(row) + 1}"' if len(row) < wide else ""]
    return "".join(
        f'<td style="{_CELL}"{span}>{_safe(cell)}</td>'
        for cell, span in zip(row, spans, strict=True)
    )


def _by_itself(svg: str) -> str:
    """A picture whose ids are its own: a notebook holds many, of other fits too."""
    mark = f"p{crc32(svg.encode()):08x}-"
    marked = re.sub(r'( id="|url\(#| href="#)', rf"\g<1>{mark}", svg)
    return re.sub(
        r'aria-labelledby="([^"]*)"',
        lambda found: f'aria-labelledby="{" ".join(mark + one for one in found[1].split())}"',
        marked,
    )


def _safe(text: str) -> str:
    return escape(clean(text))
