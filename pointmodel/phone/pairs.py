"""From what the page sends of a star to the cells of a line, where this log can hold them.

Read `messages.py` and `eyepiece.py` first. A place or a nudge that is typed on the phone is read as
one that is typed at the terminal.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.wording import join
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.phone.eyepiece import Orientation, Tap, nudge_of, orientation_of, tapped_text
from pointmodel.phone.messages import SentCentred, SentNudge, SentPlaces, SentTap
from pointmodel.reading.columns import COMMANDED, TAPPED
from pointmodel.recording import names
from pointmodel.recording.askplaces import HOLDS_CENTRED, HOLDS_COMMANDED
from pointmodel.recording.entry import (
    EnteredNudge,
    EnteredPlace,
    parse_nudge,
    parse_place,
    take_motions,
    take_ways,
)
from pointmodel.recording.firstpair import suit_columns
from pointmodel.recording.session import RefusedError, Session

if TYPE_CHECKING:
    from pointmodel.reading.mountfile import MountFile

SentPair = SentTap | SentCentred | SentNudge | SentPlaces
HOLDS_NUDGES = "this log holds how far the tube was moved: tap the star, or type 12r 5u"
SITE_FIRST = "the site must be known first: type latitude and longitude"
NOT_A_STAR = "the picture turns with the tube, so a star is wanted whose place is known"
EYEPIECE_FIRST = "it is not known yet how the eyepiece stands: show it first which way is up"


def pair_cells(session: Session, entry: SentPair, at_s: float) -> dict[str, str]:
    """The cells of a pair by column name, some of them empty; a new log is given their columns.

    Raises RefusedError, NotSavedError, and EntryError for what cannot be read.
    """
    commanded = parse_place(entry.commanded) if entry.commanded else None
    if isinstance(entry, SentTap):
        stands_as(session)
    target = star_meant(session, entry.target, at_s, free=commanded is not None)
    if isinstance(entry, SentTap):
        alt_deg = None if commanded is None else commanded.alt_deg
        now = _stands_now(session, target, alt_deg, at_s)
        second, further = _of_tap(entry, now, session.mount)
    else:
        second, further = _second(entry, session.mount)
    _refuse_what_does_not_suit(session, second, commanded)
    is_first = session.may_choose_columns
    suit_columns(session, isinstance(second, EnteredNudge), commanded is not None)
    if isinstance(entry, SentTap):
        session.state_eyepiece()
    cells = {"target": target, "note": entry.note, **further}
    if commanded is not None and (is_first or COMMANDED[0] in session.file.layout.positions):
        cells |= commanded.cells("commanded")
    return cells | second.cells(session.file.layout.second)


def _second(
    entry: SentCentred | SentNudge | SentPlaces, mount: MountFile
) -> tuple[EnteredNudge | EnteredPlace, dict[str, str]]:
    """The nudge or the second place of a pair, and the last motions behind it."""
    field_arcmin = mount.optics.field_of_view_arcmin
    if isinstance(entry, SentCentred):
        return parse_nudge("0 0", None), {}
    if isinstance(entry, SentNudge):
        steps, rest = take_ways(entry.text)
        nudge = parse_nudge(steps or entry.text, field_arcmin)
        return nudge, take_motions(rest)[1]
    text, motions = take_motions(entry.centred)
    return parse_place(text), motions


def _of_tap(
    entry: SentTap, orientation: Orientation, mount: MountFile
) -> tuple[EnteredNudge | EnteredPlace, dict[str, str]]:
    """The nudge of a tap, and the cell that says where it was; `orientation` is that of now."""
    field_arcmin = mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN
    tap = Tap(entry.x, entry.y, entry.fields_right, entry.fields_up)
    return nudge_of(tap, orientation, field_arcmin), {TAPPED: tapped_text(tap, field_arcmin)}


def stands_as(session: Session) -> Orientation:
    """How the eyepiece stands. Raises RefusedError where that is not known."""
    orientation = orientation_of(session.mount.eyepiece)
    if orientation is None:
        raise RefusedError(EYEPIECE_FIRST)
    return orientation


def _stands_now(session: Session, target: str, alt_deg: float | None, at_s: float) -> Orientation:
    """How the eyepiece stands with the tube on a star. Raises RefusedError as `altitude_deg`."""
    orientation = stands_as(session)
    if orientation.side == "back":
        return orientation
    return orientation.at(altitude_deg(session, target, at_s) if alt_deg is None else alt_deg)


def altitude_deg(session: Session, target: str, at_s: float) -> float:
    """How high a named star stands. Raises RefusedError where that is not known."""
    place = names.overhead(target, session.mount, at_s)
    if place is None:
        raise RefusedError(SITE_FIRST if session.mount.place_deg is None else NOT_A_STAR)
    return place.alt_deg


def is_below(session: Session, target: str, at_s: float) -> bool:
    """Whether a named star was below the horizon; not where its place is not known."""
    place = names.overhead(target, session.mount, at_s)
    return place is not None and place.alt_deg < 0.0


def star_meant(session: Session, typed: str, at_s: float, free: bool = False) -> str:
    """The star that is meant; `free`: any name will do. Raises RefusedError where there is none."""
    found = names.complete(typed, session.mount, at_s)
    if found.found == "one":
        return found.name
    if found.found == "several":
        raise RefusedError(f"several stars begin with {typed}: {join(found.choices, 'or')}")
    if not free:
        meant = f": did you mean {join(found.choices, 'or')}?" if found.choices else ""
        raise RefusedError(f"{typed} is not a star I know{meant}")
    return typed


def _refuse_what_does_not_suit(
    session: Session, second: EnteredNudge | EnteredPlace, commanded: EnteredPlace | None
) -> None:
    """Raise RefusedError for a pair that the log has no columns for."""
    layout, chooses = session.file.layout, session.may_choose_columns
    nudged = isinstance(second, EnteredNudge)
    if not chooses and nudged != (layout.second == "nudge"):
        raise RefusedError(HOLDS_CENTRED if nudged else HOLDS_NUDGES)
    if commanded is None and not chooses and COMMANDED[0] in layout.positions:
        raise RefusedError(HOLDS_COMMANDED)
    if commanded is None and session.mount.place_deg is None:
        raise RefusedError(SITE_FIRST)
