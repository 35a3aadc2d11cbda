"""What the page shows of a session, as plain types: made anew only where something has changed.

Read `session.py` in `recording/` first. All words are those that the terminal says.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable
from dataclasses import asdict
from functools import lru_cache
from typing import Any

from pointmodel.advising.result import Step
from pointmodel.advising.text import now_words
from pointmodel.base.compass import compass_word
from pointmodel.base.documents import as_dict
from pointmodel.base.trace import trace
from pointmodel.base.wording import sentence
from pointmodel.mount.events import logged_events
from pointmodel.mount.remedies import USUAL_FIELD_ARCMIN
from pointmodel.phone.askedonce import open_questions
from pointmodel.phone.eyepiece import orientation_of
from pointmodel.phone.eyepiecedoubt import eyepiece_doubt
from pointmodel.phone.words import LOOK_AGAIN, on_the_page
from pointmodel.planning.finding import fists_words
from pointmodel.planning.upnow import stars_up
from pointmodel.reading.columns import COMMANDED, ENTRY_ID
from pointmodel.reading.mountfile import MountFile
from pointmodel.reading.whichlog import file_identity
from pointmodel.recording.advicewords import advice_lines, after_words
from pointmodel.recording.logfile import NotSavedError
from pointmodel.recording.nextstep import NextStep
from pointmodel.recording.remark import complete_pairs
from pointmodel.recording.session import RefusedError, Session
from pointmodel.recording.words import CAUTION, left_words, undone_words
from pointmodel.sky.sunguard import sun_notices

MOST_STARS = 60
MOST_RECENT = 5
AS_LONG_S = 120.0  # so long the sky counts as the same: it turns by half a degree
Document = dict[str, Any]


class View:
    """What a session looks like on the page; `clock` gives POSIX seconds."""

    def __init__(self, session: Session, clock: Callable[[], float]) -> None:
        """Nothing is looked at yet. The version of another run is never one of this."""
        self._session, self._clock = session, clock
        self._run = secrets.token_hex(4)
        self._made: Document = {}
        self.log_key = file_identity(session.file.path)

    def state(self, since: str = "") -> Document | None:
        """What the page shows now; None where its version is `since`."""
        with self._session.turn:
            now_s = self._clock()
            version = f"{self._run}.{self._session.version}.{int(now_s // AS_LONG_S)}"
            if version == since:
                return None
            if self._made.get("version") != version:
                self._made = as_dict({"version": version, **self._state(now_s)})
            return self._made

    def _state(self, now_s: float) -> Document:
        session = self._session
        step = session.next_step(now_s)
        return {
            "log": os.path.basename(session.name),
            "log_key": self.log_key,
            "pairs": complete_pairs(session.log),
            **_means(session),
            "questions": open_questions(session),
            **_next(session, step),
            "stars": _stars(session.mount, int(now_s // AS_LONG_S)),
            "last": _last(session),
            **_advice(session),
            "notices": [sentence(notice.text) for notice in session.notices()],
            "cautions": [CAUTION],
            "sun": _sun(session, now_s),
            "eyepiece_doubt": _doubt(session),
            "recent": _recent(session),
        }


def _means(session: Session) -> Document:
    """What the log can hold, and what eyepiece and site are known."""
    layout, mount = session.file.layout, session.log.mount
    eyepiece = orientation_of(mount.eyepiece)
    return {
        "events": logged_events(),
        "second": "either" if session.may_choose_columns else layout.second,
        "commanded": COMMANDED[0] in layout.positions and not session.may_choose_columns,
        "site_known": mount.place_deg is not None,
        "field_arcmin": mount.optics.field_of_view_arcmin or USUAL_FIELD_ARCMIN,
        "field_known": mount.optics.field_of_view_arcmin is not None,
        "eyepiece": {
            "known": eyepiece is not None,
            "turn_deg": 0.0 if eyepiece is None else eyepiece.turn_deg,
            "mirrored": eyepiece is not None and eyepiece.mirrored,
            "side": "back" if eyepiece is None else eyepiece.side,
        },
    }


def _doubt(session: Session) -> Document | None:
    """What the taps say against the eyepiece, and how it may stand instead."""
    try:
        doubt = eyepiece_doubt(session)
    except Exception:  # as in the session: entering must go on
        trace()
        return None
    if doubt is None:
        return None
    return {"text": doubt.text, "offer": None if doubt.offer is None else asdict(doubt.offer)}


def _next(session: Session, step: NextStep) -> Document:
    """The star to go to, or that one may stop; of a doubtful pair its star again."""
    if _is_doubtful(session):
        star = session.log.target[-1] if len(session.log) else ""
        return {"next": {"star": star or None, "text": LOOK_AGAIN}, "may_stop": False}
    told = {"star": step.star, "text": on_the_page(step.text)} if step.text else None
    return {"next": told, "may_stop": step.may_stop}


@lru_cache(maxsize=2)
def _stars(mount: MountFile, slot: int) -> list[Document]:
    """The stars that may be gone to; `slot` is the time in steps of `AS_LONG_S`."""
    return [
        {
            "name": star.target,
            "az_deg": round(star.az_deg, 2),
            "alt_deg": round(star.alt_deg, 2),
            "fists": fists_words(star.alt_deg),
            "direction": compass_word(star.az_deg),
            "how_to_find": star.how_to_find,
            "magnitude": round(star.magnitude, 2),
        }
        for star in stars_up(mount, (slot + 0.5) * AS_LONG_S, MOST_STARS)
    ]


def _last(session: Session) -> Document | None:
    """The last answer, whichever door it was given at; else what was taken back since."""
    last, struck = session.last, session.struck
    if struck is not None:
        told = f"{undone_words(struck)} {left_words(session.log)}"
        return {"line": struck.line, "told": told, "alarm": False}
    if last is None:
        return None
    return {"line": last.line, "told": on_the_page(last.told), "alarm": last.remark.alarm}


def _advice(session: Session) -> Document:
    """How go-to stands and what to do, wherever the terminal would say it.

    Of a doubtful pair nothing, nor of an event: one pair more is wanted first.
    """
    last = session.last
    is_open = last is not None and last.remark.advice is None
    advice = None if is_open else session.advice  # the newest: more may have been told since
    if advice is None:
        return {"known": "", "headline": None, "steps": [], "quick": None, "advice": []}
    return {
        "known": on_the_page(now_words(advice)),
        "headline": advice.headline,
        "steps": _steps(advice.steps),
        "quick": None if advice.quick is None else _steps(advice.quick.steps),
        "advice": advice_lines(advice),
    }


def _is_doubtful(session: Session) -> bool:
    """Whether the last answer was that its pair is to be looked at again."""
    return session.last is not None and session.last.remark.is_doubtful


def _steps(steps: tuple[Step, ...]) -> list[Document]:
    return [
        {"text": step.text, "minutes": step.minutes, "after": after_words(step)} for step in steps
    ]


def _sun(session: Session, now_s: float) -> str | None:
    """What is to be said of the Sun."""
    told = [on_the_page(sentence(one.text)) for one in sun_notices(session.sun(now_s))]
    return " ".join(told) or None


def _recent(session: Session) -> list[Document]:
    """The last entries, which may be taken back."""
    try:
        lines = session.recent(MOST_RECENT)
    except (NotSavedError, RefusedError):
        trace()
        return []
    return [
        {"line": one.line, "entry_id": one.cells.get(ENTRY_ID), "what": one.name} for one in lines
    ]
