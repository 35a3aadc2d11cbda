"""What the terminal says of its own keys, as it is said to someone who has the page."""

from __future__ import annotations

from pointmodel.advising.text import WRITE_FIELD
from pointmodel.recording.nextstep import TO_END
from pointmodel.recording.remark import DID_IT_MOVE
from pointmodel.sky.sunguard import GIVE_SITE

NOT_FOUND = (
    "is noted as not found. Look with the lowest power, and along the tube. Else choose another "
    "star."
)
TAKE_IT_BACK = "Then press “Undo”."
BEFORE_THE_PRESS = "Tap each star before you tell the controller that this is the star."
LOOK_AGAIN = (
    "Look again. If the tap was wrong, press “Undo”, then tap again. Else go on with “Another "
    "star”."
)
OTHER_LOG = "This was meant for another log."
_ON_THE_PAGE = {
    f" {TO_END}": "",
    WRITE_FIELD: "tell yours under “More”",
    GIVE_SITE: "Press “More”, and tell where the telescope stands.",
    DID_IT_MOVE: (
        "Did something move? Press “Something moved”, or go back to an earlier star: it tells."
    ),
}


def on_the_page(text: str) -> str:
    """Return what the terminal says as the page says it."""
    for typed, pressed in _ON_THE_PAGE.items():
        text = text.replace(typed, pressed)
    return text
