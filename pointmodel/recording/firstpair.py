"""The first pair of a log decides what its columns hold, whichever door it comes through.

Read `session.py` first.
"""

from __future__ import annotations

from pointmodel.reading.columns import CENTRED, COMMANDED, NUDGE
from pointmodel.recording.session import Session


def suit_columns(session: Session, nudged: bool, commanded: bool) -> None:
    """Give a log that holds no pair yet the columns for one; any other stays as it is.

    `nudged`: the pair holds a nudge, else a centred place; `commanded`: and the controller's place.
    Raises NotSavedError, and RefusedError where the log cannot be read.
    """
    if not session.may_choose_columns:
        return
    positions = session.file.layout.positions
    wanted, other = (NUDGE, CENTRED) if nudged else (CENTRED, NUDGE)
    names = {old: new for old, new in zip(other, wanted, strict=True) if old in positions}
    if not commanded:
        names |= {name: "" for name in COMMANDED if name in positions}
    if names:
        session.choose_columns(names)
