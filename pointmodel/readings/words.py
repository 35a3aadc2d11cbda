"""Sentences about what a log's figures mean.

What each finding says stands in `hypotheses.py`; here lines and what to write down are added.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pointmodel.base.errors import Notice
from pointmodel.base.wording import line_list
from pointmodel.reading.asread import COLUMN_FINDINGS
from pointmodel.reading.mountkeys import Side
from pointmodel.readings.hypotheses import HYPOTHESES, confirmed_by, worded
from pointmodel.readings.result import FindingName, Question, Readings

ANSWER_IN = {
    "synced_after_each": "[alignment] presses",
    "synced_after_some": "[alignment] presses",
    "readings_after_sync": "[alignment] noted",
}
SIDE_TAKEN: Mapping[Side, str] = {
    "centred": "Here it is taken to be those under “centred”",
    "commanded": "Here it is taken to be those under “commanded”",
    "both": "Here it is taken to be both",
}
LOG_AGAIN = (
    "Log again. Centre a star and write down what the display shows. Only then tell the "
    "controller “this is the star”, or do not tell it at all."
)


def said(
    name: FindingName,
    sides: Sequence[Side],
    lines: tuple[int, ...] = (),
    *,
    confirmed: bool = False,
) -> str:
    """Return what is said of a finding that is taken up, and how the owner settles it.

    `sides` are those that it may be about, likeliest first.
    """
    text = worded(HYPOTHESES[name].said, sides)
    if len(sides) > 1:
        text += f" The figures do not tell which of the two it is. {SIDE_TAKEN[sides[0]]}."
    if lines:
        text += f" They are in {line_list(list(lines))}."
    if confirmed:
        return f"{text} The mount file says so."
    return f"{text} If that is so, {confirmed_by(name, sides)}."


def asked(name: FindingName, sides: Sequence[Side]) -> Question:
    """Return the question that settles a finding."""
    hypothesis = HYPOTHESES[name]
    where = "[log] figures" if name in COLUMN_FINDINGS else ANSWER_IN[name]
    return Question(ask=worded(hypothesis.asked, sides), why=hypothesis.why, answer_in=where)


def empty_words(lines: tuple[int, ...], left: int) -> str:
    """Return what is said of figures that were noted after the press."""
    if not lines:
        return f"{HYPOTHESES['readings_after_sync'].said} {LOG_AGAIN}"
    return (
        f"On {line_list(list(lines))} the centred figures repeat the commanded ones. They were "
        "noted after you told the controller “this is the star”. These lines say nothing of the "
        f"mount and are left out. {left} lines remain. {LOG_AGAIN}"
    )


def no_mount_words(sigma_arcmin: float, nudged: bool = False) -> str:
    """Return the headline of a log that no model fits; `nudged`: it holds nudges."""
    look = (
        "Were right and left, or up and down, exchanged in the nudges?"
        if nudged
        else "Do the centred figures stand one line too high or too low?"
    )
    return (
        "No mount could have made these figures: the best fit leaves "
        f"{_size(sigma_arcmin)} in each direction. Do nothing at the telescope yet. "
        f"{look} Are the names those of other stars? Does each figure stand in its own column?"
    )


def _size(arcmin: float) -> str:
    return f"{arcmin:.0f}′" if arcmin < 90.0 else f"{arcmin / 60.0:.1f}°"


def figures_read_words(readings: Readings) -> tuple[str, ...]:
    """Return what is said first: how the figures were read; not what stands in the headline."""
    return tuple(one.text for one in readings.taken_up if one.text != readings.stops)


def figures_read_notices(readings: Readings) -> tuple[Notice, ...]:
    """Return what is said first as remarks, for documents and texts that have no place for it."""
    return tuple(
        Notice(one.finding, one.text)
        for one in readings.findings
        if one.taken_up or one.finding == "fits_no_mount"
    )
