"""A link as a code for a phone's camera, in letters that any terminal has."""

from __future__ import annotations

import io

import segno


def code_lines(link: str) -> list[str]:
    """Return the lines of a code, light where a block stands: for a dark terminal."""
    out = io.StringIO()
    segno.make(link, error="l", micro=False).terminal(out, compact=True)
    return out.getvalue().splitlines()
