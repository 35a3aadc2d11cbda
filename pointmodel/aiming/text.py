"""The terminal's text of corrected positions.

Read `textpage.py` first. Everything comes from the document of the command; no number is born here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pointmodel.base import figures
from pointmodel.base.cautions import CAUTIONS
from pointmodel.base.wording import join, sentence
from pointmodel.showing.textpage import Row, TextPage

Document = Mapping[str, Any]

READY = ("ok", "extrapolated", "zero_first")
REFUSALS = {
    "sun": "too near the Sun",
    "below_horizon": "below the open horizon",
    "unreachable": "the axes cannot point there",
}
ZERO_FIRST = (
    "by name the mount would miss by more than two fields of the eyepiece. Zero the controller on "
    "a bright star first. Log that star on a line with the event zero_on_star, and ask again. Sent "
    "to the azimuth and altitude above, the mount needs no nudge."
)
HEAD = ("Target", "Azimuth", "Altitude", "Or by name, then nudge", "Typical miss", "In eyepiece")


def aim_text(document: Document, *, width: int = 100, color: bool = False) -> str:
    """The aim command's document as text, at most `width` columns wide."""
    page = TextPage(width, color)
    targets = document["targets"]
    ready = [target for target in targets if target["status"] in READY]
    refused = [target for target in targets if target["status"] not in READY]
    page.table(
        "Where to send the mount" if ready else None, HEAD, [target_row(target) for target in ready]
    )
    page.table(
        _equatorial_title(ready),
        ("Target", "Right ascension", "Declination"),
        [_equatorial_row(target) for target in ready if target.get("command_ra") is not None],
    )
    page.paragraph(_when(targets))
    page.bullets("How", (*(line for target in ready for line in _how(target)), *_zero_first(ready)))
    page.bullets("Not sent", (f"{_name(target)}: {refusal_words(target)}" for target in refused))
    remarks = document.get("warnings", ())
    page.bullets("Remarks", (sentence(notice["text"]) for notice in remarks))
    page.paragraph(CAUTIONS[0])
    return page.text()


def _name(target: Document) -> str:
    """The target as it was asked for, with what it was taken for where that is another word."""
    name, what = str(target.get("target") or "(unnamed)"), target.get("what")
    return name if what is None or what.casefold() == name.casefold() else f"{name} ({what})"


def target_row(target: Document) -> Row:
    """One target that is sent, under `HEAD`."""
    return (
        _name(target),
        figures.degrees_minutes(target["command_az_deg"], 1, full_turn=True),
        figures.degrees_minutes(target["command_alt_deg"], 1),
        "zero first"
        if target["status"] == "zero_first"
        else figures.nudge_words(target.get("nudge")),
        figures.miss_words(target["miss_rms_arcmin"]),
        figures.chance_words(target["chance_in_field"]),
    )


def _equatorial_title(ready: list[Document]) -> str:
    old = any(target.get("equinox") == "J2000" for target in ready)
    return f"Or as right ascension and declination, {'J2000' if old else 'of date'}"


def _equatorial_row(target: Document) -> Row:
    hours, minutes, seconds = str(target["command_ra"]).split(":")
    degrees, arcmin, arcsec = str(target["command_dec"]).replace("-", "−").split(":")
    return (_name(target), f"{hours}h{minutes}m{seconds}s", f"{degrees}°{arcmin}′{arcsec}″")


def _when(targets: list[Document]) -> str | None:
    """The moment for which places of the sky hold."""
    moments = [target["at"] for target in targets if target.get("what") and target.get("at")]
    if not moments:
        return None
    return (
        f"Places by name are for {moments[0].replace('T', ' ')}. The sky turns a quarter of a "
        "degree a minute. For another time ask again, or go by name and nudge."
    )


def _how(target: Document) -> Iterable[str]:
    approach = [str(way) for way in (target.get("approach") or {}).values() if way]
    if approach:
        yield f"{_name(target)}: let the mount arrive going {join(approach)}."
    if target["status"] == "extrapolated":
        reason = target.get("reason") or "no star was centred near there"
        yield f"{_name(target)}: less sure than the rest. {sentence(reason)}"


def _zero_first(ready: list[Document]) -> Iterable[str]:
    """What to do about targets too far off to be nudged to, once for all of them."""
    far = [target for target in ready if target["status"] == "zero_first"]
    if len(far) == 1:
        yield f"{_name(far[0])}: {sentence(far[0].get('reason') or ZERO_FIRST)}"
    elif far:
        yield f"{join([_name(target) for target in far])}: {ZERO_FIRST}"


def refusal_words(target: Document) -> str:
    """Why a target is not sent."""
    short = REFUSALS.get(target["status"], target["status"])
    reason = target.get("reason")
    return f"{short}. {sentence(reason)}" if reason else f"{short}."
