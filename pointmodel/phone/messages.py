"""What the page may send, with the bounds of every figure and text; all else is no message.

A message is read whole or not at all: unknown keys, figures beyond their bounds and texts beyond
their lengths are refused by `read_message`.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

import msgspec
from msgspec import Meta, Struct

LONGEST_BODY = 64 * 1024  # bytes: twenty entries with notes are a tenth of it
OLDEST_S = 172_800.0  # two days: what a phone kept over a lost evening still comes in
MOST_ENTRIES = 20

EntryId = Annotated[str, Meta(pattern=r"^[0-9a-f]{16}\Z")]
Age = Annotated[float, Meta(ge=0.0, le=OLDEST_S)]
Name = Annotated[str, Meta(min_length=1, max_length=60)]
Text = Annotated[str, Meta(max_length=300)]
Radii = Annotated[float, Meta(ge=-20.0, le=20.0)]
Fields = Annotated[float, Meta(ge=-50.0, le=50.0)]
Line = Annotated[int, Meta(ge=1, le=1_000_000)]


class Message(Struct, frozen=True, forbid_unknown_fields=True):
    """What every message is like."""


class Sent(Message, tag_field="kind", frozen=True, kw_only=True):
    """An entry: its id, made by the page, and how long ago it was made, seconds."""

    id: EntryId
    age_s: Age = 0.0


class SentTap(Sent, tag="tap", frozen=True, kw_only=True):
    """A tap where the star stands, in radii of the drawn eyepiece, x to the right and y up.

    `fields_right` and `fields_up` are how many fields the tube was moved before. `commanded` is the
    controller's place, for a log that has such columns.
    """

    target: Name
    x: Radii
    y: Radii
    fields_right: Fields = 0.0
    fields_up: Fields = 0.0
    commanded: Text = ""
    note: Text = ""


class SentCentred(Sent, tag="centred", frozen=True, kw_only=True):
    """The star stood in the middle of the eyepiece."""

    target: Name
    commanded: Text = ""
    note: Text = ""


class SentNudge(Sent, tag="nudge", frozen=True, kw_only=True):
    """How far the tube was moved, as it is typed: `12r 5u`."""

    target: Name
    text: Text
    commanded: Text = ""
    note: Text = ""


class SentPlaces(Sent, tag="places", frozen=True, kw_only=True):
    """Both places of a pair as they are typed: `123 45 41 30`."""

    target: Name
    commanded: Text
    centred: Text
    note: Text = ""


class SentEvent(Sent, tag="event", frozen=True, kw_only=True):
    """Something that happened to the mount, by its name in a log."""

    event: Name
    note: Text = ""


class SentNote(Sent, tag="note", frozen=True, kw_only=True):
    """A remark."""

    text: Annotated[str, Meta(min_length=1, max_length=300)]


class SentMissing(Sent, tag="missing", frozen=True, kw_only=True):
    """A star that is not to be found in the eyepiece."""

    target: Name


class SentUndo(Sent, tag="undo", frozen=True, kw_only=True):
    """An entry to be taken back, by its id, or by its line and what the page showed there.

    Lines have other numbers once others were put right above them.
    """

    entry_id: EntryId | None = None
    line: Line | None = None
    what: Name | None = None


AnyEntry = (
    SentTap | SentCentred | SentNudge | SentPlaces | SentEvent | SentNote | SentMissing | SentUndo
)


class SentEntries(Message, frozen=True, kw_only=True):
    """Entries in the order in which they were made; `log_key` says of which log."""

    entries: Annotated[list[AnyEntry], Meta(min_length=1, max_length=MOST_ENTRIES)]
    log_key: Annotated[str, Meta(max_length=64)] | None = None


class SentSite(Message, frozen=True, kw_only=True):
    """Where the telescope stands, as typed or as the phone has it."""

    latitude: Name
    longitude: Name


class SentController(Message, frozen=True, kw_only=True):
    """What the controller was aligned on, and whether it is told after each centring, as typed."""

    stars: Text | None = None
    presses: Text | None = None


Spot = tuple[Radii, Radii]


class SentShift(Message, frozen=True, kw_only=True):
    """Where the star was tapped before and after one press, and which way the tube went."""

    before: Spot
    after: Spot
    went: Literal["right", "left", "up", "down"] | None = None


class SentEyepiece(Message, frozen=True, kw_only=True):
    """Two presses that show how the eyepiece stands; or that, as it was offered; or its field.

    `side`: where on the tube one looks in; `target`: the star that the presses were made on.
    """

    id: EntryId | None = None
    right: SentShift | None = None
    up: SentShift | None = None
    turn_deg: Annotated[float, Meta(ge=-360.0, le=360.0)] | None = None
    mirrored: bool | None = None
    side: Literal["back", "left", "right"] = "back"
    target: Name | None = None
    field_arcmin: Annotated[float, Meta(gt=0.0)] | None = None


_M = TypeVar("_M")


class NoMessageError(ValueError):
    """What came is none of the page's messages."""


def read_message(body: bytes, kind: type[_M]) -> _M:
    """Read a message of a kind. Raises NoMessageError."""
    try:
        return msgspec.json.decode(body, type=kind)
    except (msgspec.DecodeError, UnicodeError, RecursionError) as error:
        raise NoMessageError(str(error)) from None
