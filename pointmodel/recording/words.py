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
from pointmodel.reading.nightlog import NightLog
from pointmodel.recording.controller import state_words
from pointmodel.recording.remark import complete_pairs, pairs_words
from pointmodel.recording.session import Session, Undone, stamp

LEAVE = ("quit", "exit", "q")
WORDS = ("back", "undo", "redo", "drop", "event", "note", "time", "pause", *LEAVE, "help", "?")
CAUTION = f"CAUTION: {SUN} {HOLD_THE_TUBE}"
HINT = "At any question you may type: back, undo, note, time, pause, quit. Type ? for help."
ARCMINUTE = "Distances are in arcminutes: 1′ is a sixtieth of a degree, and the Moon is 31′ wide."
HOW = (
    "For each star: send the telescope to it, and centre it with the slow keys. Then type here "
    "what the controller says and what the mount reads."
)
NO_READOUT = (
    "If the mount has no display, type how far you moved the tube to the star: 12r 5u is 12 "
    "arcminutes right and 5 up, seen from behind the tube (l is left, d is down)."
)
NO_COMMANDED = "If the controller shows no azimuth and altitude, type none."
HELP = (
    "A pair: type the star (a few letters do), what the controller says, and what the mount reads "
    "with the star centred. Enter takes what stands in brackets.",
    "Figures: type 123 45 41 30, or 123.75 41.5, or 123:45:30, 41:30:00. Behind them you may type "
    "the last motions: cw or ccw, up or down.",
    f"{NO_READOUT} {NO_COMMANDED}",
    "back: goes to the question before.",
    "drop: forgets the pair that you are typing.",
    "undo: takes back the last line; its figures are offered again. undo 7: takes back line 7. "
    "redo 7: brings it back. Nothing is ever deleted.",
    f"{', '.join(logged_events())}: type it when it has happened.",
    "note TEXT: goes with this pair; between pairs it stands alone.",
    "time 21:04:30: sets when this pair was centred, if that is not now.",
    "pause: waits. quit or Ctrl-D: ends. What has a line number is safe.",
)
LEAVING = "Nothing is lost. Type quit (or Ctrl-C again) to end. Or go on with your answer."
FIRST_QUESTION = "This is the first question. To take back the last line, type undo."
RECENTRE = "To centre it again, type undo: its figures are offered. Or go on."
_HALF_DAY = timedelta(hours=12)
_SHORTEST_SLIP = 4


def is_word(typed: str) -> bool:
    """Whether a text is a word of the conversation: then it is obeyed, and never a name."""
    return first_word(typed) in WORDS or event_meant(typed, exactly=True) is not None


def first_word(typed: str) -> str:
    """The first word of a text as it is held against `WORDS`."""
    return typed.partition(" ")[0].rstrip(".!,").lower()


def word_meant(typed: str) -> str | None:
    """The word of the conversation that a text is probably a slip of; None: none."""
    word = typed.strip().lower()
    if len(word) < _SHORTEST_SLIP or " " in word:
        return None
    said = {also: name for name in logged_events() for also in EVENTS[name].also_said}
    if word in said:
        return said[word]
    return nearest(word, (*(w for w in WORDS if len(w) >= _SHORTEST_SLIP), *logged_events()), 0.74)


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


BELOW_HORIZON = "is below the horizon by this computer's clock. Is it another star?"


def undone_words(undone: Undone) -> str:
    """What is said of a line that was struck."""
    return f"Undone: {undone.name}, line {undone.line}. It stays in the log as a remark."


def left_words(log: NightLog) -> str:
    """How many pairs a log holds after one was struck."""
    return f"{pairs_words(complete_pairs(log))} left."


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
        yield f"{session.name} goes on. It holds {pairs_words(pairs)}. The last is {last}."
    if session.mount.source is not None:
        yield f"Mount file: {session.mount.source}."
    if known := state_words(session.log.mount.alignment):
        yield f"{known}: set stars under [alignment] in {session.mount.source or session.name}."
    now = stamp(now_s, session.mount)
    yield f"Each pair gets this computer's time, now {now}."
    yield "If that is wrong, type the right one before each pair, such as time 21:04:30."
    if not pairs:
        yield HOW
    yield ARCMINUTE
    yield HINT
