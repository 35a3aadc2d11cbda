"""From a matplotlib figure to SVG text that can stand inside a page, in any of its colour schemes.

Pictures themselves stand with what they show. A figure is drawn in placeholder colours, which
become CSS variables with a fallback; so one picture serves light, dark and night schemes, and a
file of its own as well. No picture refers to anything outside itself; words that a user supplied
stand only in its title and description, never among what is drawn.
"""

from __future__ import annotations

import logging
import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from io import StringIO
from typing import TYPE_CHECKING, Any

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.figures import clean
from pointmodel.base.wording import quoted

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#010203"
FAINT = "#020304"
BEFORE = "#030405"
AFTER = "#040506"
ASIDE = "#050607"

WIDTH_IN = 5.0  # a telephone's width at 72 points an inch
TEXT, SMALL = 10.5, 9.5

_VARIABLES = {
    INK: "var(--ink, #1d2430)",
    FAINT: "var(--faint, #8a93a1)",
    BEFORE: "var(--before, #b4541a)",
    AFTER: "var(--after, #14618c)",
    ASIDE: "var(--aside, #7a3b8f)",
}

_SETTINGS: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "pointmodel",
    "font.size": TEXT,
    "xtick.labelsize": TEXT,
    "ytick.labelsize": TEXT,
    "axes.labelsize": TEXT,
    "axes.facecolor": "none",
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.color": FAINT,
    "hatch.linewidth": 0.6,
    "text.color": INK,
    "xtick.color": FAINT,
    "ytick.color": FAINT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
}

# The drawing library keeps its settings in one place for the whole process.
_ONE_AT_A_TIME = threading.Lock()


@contextmanager
def drawing() -> Iterator[None]:
    """The project's own drawing settings, whatever the user's are; one thread at a time.

    Remarks of the drawing library (its font cache, its folders) are kept from the user.
    """
    log = logging.getLogger("matplotlib")
    with _ONE_AT_A_TIME:
        level = log.level
        log.setLevel(logging.ERROR)
        try:
            matplotlib = _drawing_library()
            usual: Any = matplotlib.rcParamsDefault
            settings: Any = {key: usual[key] for key in usual if not key.startswith("backend")}
            with matplotlib.rc_context(settings | _SETTINGS):
                yield
        finally:
            log.setLevel(level)


def _drawing_library() -> Any:
    """The module matplotlib. Raises InputError where the environment keeps it from loading."""
    try:
        import matplotlib
    except ValueError as error:  # of a backend that there is not
        backend = os.environ.get("MPLBACKEND")
        if backend is None:
            raise
        wanted = 'the name of a drawing backend, such as "agg", or no such variable at all'
        found = quoted(backend)
        raise InputError([Problem("MPLBACKEND", None, None, found, wanted)]) from error
    return matplotlib


def new_figure(width_in: float, height_in: float) -> Figure:
    """An empty figure of this size, inches, without a background."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in))
    figure.patch.set_visible(False)
    return figure


def svg_text(figure: Figure, key: str, title: str, description: str) -> str:
    """The figure as one `<svg>` element, described in words; `key` keeps its ids its own."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    FigureCanvasSVG(figure)
    buffer = StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(buffer, format="svg", metadata=nothing)
    drawn = buffer.getvalue()
    body = drawn[drawn.index(">", drawn.index("<svg")) + 1 :]
    box = re.search(r'viewBox="([^"]+)"', drawn)
    words = f'<title id="{key}-title">{_xml(title)}</title>'
    words += f'<desc id="{key}-desc">{_xml(description)}</desc>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box.group(1) if box else ""}" '
        f'role="img" aria-labelledby="{key}-title {key}-desc" '
        f'font-family="sans-serif" stroke-linejoin="round">{words}{_tidy(body, key)}'
    )


def _tidy(body: str, key: str) -> str:
    """Ids prefixed where used and dropped elsewhere, colours as variables, no stray style rules."""
    body = re.sub(r"<!--.*?-->|<metadata>.*?</metadata>|<style.*?</style>", "", body, flags=re.S)
    body = body.replace("xlink:href", "href").replace("<defs></defs>", "")
    used = set(re.findall(r'(?:url\(|href=")#([^)"]+)', body))
    body = re.sub(r' id="([^"]+)"', lambda m: f' id="{key}-{m[1]}"' if m[1] in used else "", body)
    body = re.sub(r'(url\(|href=")#', rf"\1#{key}-", body)
    for colour, variable in _VARIABLES.items():
        body = body.replace(colour, variable)
    body = re.sub(r' transform="rotate\(-0 [^"]*"|font-family: [^;"]*;? ?', "", body)
    body = re.sub(r"<[^>]+>", lambda tag: _short(tag[0]), body)
    return re.sub(r">\s+<", "><", body).strip()


def _short(tag: str) -> str:
    """A tag with its numbers to hundredths of a point and on one line."""
    rounded = re.sub(r"\d+\.\d{3,}", lambda number: f"{float(number[0]):.2f}", tag)
    return re.sub(r"\s+", " ", rounded)


def _xml(text: str) -> str:
    return escape(clean(text))
