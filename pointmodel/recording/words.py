"""The words of the conversation: those understood at any question, and those said at the start."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from pointmodel.base.cautions import HOLD_THE_TUBE, SUN
from pointmodel.base.times import TimeTextError, parse_clock_s, parse_moment
from pointmodel.base.wording import nearest
from pointmodel.mount.events import EVENTS, logged_events
from pointmodel.reading.mountfile import MountFile
from pointmodel.recording.controller import state_words
from pointmodel.recording.remark import complete_pairs, pairs_words
from pointmodel.recording.session import Session, stamp

LEAVE = ("quit", "exit", "q")
WORDS = ("undo", "event", "note", "time", "pause", *LEAVE, "help", "?")
CAUTION = f"CAUTION: {SUN} {HOLD_THE_TUBE}"
HINT = "Any time: undo, event, note, time, pause, quit, ? for help."
HELP = (
    "A pair: the star (a few letters do; Enter takes the one offered), the place that the "
    "controller shows for it, and what the mount reads once it is centred.",
    "Figures: 123 45 41 30, or 123.75 41.5, or 123:45:30, 41:30:00. Behind them, if you like, the "
    "last motions: cw or ccw, up or down.",
    "undo: strikes the last entry; it stays in the log as a remark, and its figures are offered "
    "again.",
    f"{', '.join(logged_events())}: it happened now.",
    "note TEXT: goes with this pair; between pairs it stands alone.",
    "time 21:04:30: this pair's time, where it is not now.",
    "pause: waits. quit or Ctrl-D: ends. What has a line number is safe.",
)
LEAVING = "Nothing is lost. quit (or Ctrl-C again) ends; go on by answering."
RECENTRE = "To centre it again: undo; its figures are offered. Or go on."
_HALF_DAY = timedelta(hours=12)


def event_meant(text: str, exactly: bool = False) -> str | None:
    """The event that a word stands for; `exactly` only the log's own words, also with blanks."""
    word = re.sub(r"[\s\-]+", "_", text.strip().lower())
    if word in logged_events():
        return word
    if exactly or not word:
        return None
    meant = [name for name, kind in EVENTS.items() if word in kind.also_said]
    return meant[0] if meant else nearest(word, logged_events())


def moment_meant(text: str, now_s: float, mount: MountFile) -> float:
    """POSIX seconds of a full moment, or of a clock time within half a day of now.

    Raises TimeTextError.
    """
    if re.match(r"\d{4}-", text):
        return parse_moment(text, mount.zone).posix_s
    try:
        clock_s = parse_clock_s(text)
    except TimeTextError as error:
        raise TimeTextError(f"{error}, or a date and time") from None
    now = datetime.fromtimestamp(now_s, UTC).astimezone(mount.zone)
    meant = now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(seconds=clock_s)
    if meant - now > _HALF_DAY:
        meant -= timedelta(days=1)
    elif now - meant > _HALF_DAY:
        meant += timedelta(days=1)
    return meant.timestamp()


def opening_words(session: Session, now_s: float) -> Iterator[str]:
    """What to say before the first question, a paragraph each."""
    yield CAUTION
    if session.file.mended:
        yield f"{session.name}: {session.file.mended}."
    pairs, lines = complete_pairs(session.log), session.log.line
    if session.file.is_new:
        yield f"{session.name}: a new log."
    elif not pairs:
        yield f"{session.name}: no pairs yet."
    else:
        star = session.log.target[-1]
        last = f"line {int(lines[-1])}{f', {star}' if star else ''}"
        yield f"{session.name}: goes on; {pairs_words(pairs)}, last {last}."
    if session.mount.source is not None:
        yield f"Mount file: {session.mount.source}."
    if known := state_words(session.log.mount.alignment):
        yield f"{known}: stars, under [alignment] in {session.mount.source or session.name}."
    now = stamp(now_s, session.mount)
    yield f"Times are this computer's, now {now}; if wrong, type time 21:04:30."
    yield HINT
