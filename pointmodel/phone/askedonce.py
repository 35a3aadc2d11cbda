"""What the page asks for once: where the telescope stands, and how its eyepiece shows the sky.

Read `eyepiece.py` first. Answers are kept where those of the terminal are: in the mount file, where
that can be done safely, else in the log.
"""

from __future__ import annotations

import os

from pointmodel.base.figures import figure
from pointmodel.phone.eyepiece import Orientation, Shift, orientation_seen, orientation_words
from pointmodel.phone.eyepiecedoubt import (
    EyepieceDoubt,
    doubt_settled,
    eyepiece_doubt,
    take_offer,
)
from pointmodel.phone.messages import (
    NoMessageError,
    SentController,
    SentEyepiece,
    SentShift,
    SentSite,
)
from pointmodel.phone.pairs import altitude_deg, star_meant
from pointmodel.phone.words import BEFORE_THE_PRESS
from pointmodel.recording import controller
from pointmodel.recording.mountlines import toml_text
from pointmodel.recording.session import NEW_NUMBERS, RefusedError, Session

_WAYS_TO_TELL = ("right", "up", "turn_deg", "mirrored", "field_arcmin")
_BACK = ("left", "down")
NARROWEST_FIELD_ARCMIN = 2.0  # a choice: less is a figure in degrees
TOO_NARROW = "no eyepiece shows so little. Type arcminutes: 1° is 60′"


def settle_site(session: Session, told: SentSite) -> str:
    """Keep latitude and longitude; what was done, in words. Raises InputError, NotSavedError."""
    answers = {"latitude": toml_text(told.latitude), "longitude": toml_text(told.longitude)}
    return f"The site is noted in {_kept(session, 'site', answers)}."


def open_questions(session: Session) -> dict[str, str]:
    """What is not known of the controller and should be, as the terminal asks it, by key."""
    alignment = session.log.mount.alignment
    return {
        key: asked
        for key, asked, known in (
            ("stars", controller.ASK_STARS, alignment.stars),
            ("presses", controller.ASK_PRESSES, alignment.presses),
        )
        if known is None
    }


def settle_controller(session: Session, told: SentController, now_s: float) -> str:
    """Keep what was said of the controller; what was done, in words.

    Raises RefusedError for what is not understood, InputError and NotSavedError, and NoMessageError
    where nothing was said.
    """
    if told.stars is None and told.presses is None:
        raise NoMessageError("no answer")
    answers: dict[str, str] = {}
    if told.stars is not None and not controller.is_not_known(told.stars):
        stars = controller.stars_meant(told.stars)
        if stars is None:
            raise RefusedError(controller.NAMES_WANTED)
        answers["stars"] = controller.stars_value(
            tuple(star_meant(session, star, now_s) for star in stars)
        )
    if told.presses is not None and not controller.is_not_known(told.presses):
        presses = controller.presses_meant(told.presses)
        if presses is None:
            raise RefusedError(controller.PRESSES_WANTED)
        answers["presses"] = toml_text(presses)
    if not answers:
        return "Noted: not known."
    said = f"What you told of the controller is noted in {_kept(session, 'alignment', answers)}."
    is_press = answers.get("presses", toml_text("none")) != toml_text("none")
    return f"{said} {BEFORE_THE_PRESS}" if is_press else said


def settle_eyepiece(session: Session, told: SentEyepiece, now_s: float) -> str:
    """Keep the field, or turn and mirror, as told or as two presses show them.

    What was done, in words. Raises NoMessageError for anything else, EyepieceUnclearError where the
    presses do not tell, RefusedError where the picture turns with the tube and the star's height is
    not known, InputError and NotSavedError.
    """
    given = [name for name in _WAYS_TO_TELL if getattr(told, name) is not None]
    if given == ["field_arcmin"] and told.field_arcmin is not None:
        if told.field_arcmin < NARROWEST_FIELD_ARCMIN:
            raise RefusedError(TOO_NARROW)
        where = _kept(session, "optics", {"field_of_view": repr(told.field_arcmin)})
        return f"The field of {figure(told.field_arcmin, 0)}′ is noted in {where}."
    if given == ["right", "up"] and told.right is not None and told.up is not None:
        found = orientation_seen(_shift(told.right, "right"), _shift(told.up, "up")).orientation
        if told.side != "back":
            found = found.on_side(told.side, altitude_deg(session, told.target or "", now_s))
        return _put_right(session, doubt_settled(session, found), found)
    is_turn = given == ["turn_deg", "mirrored"]
    if is_turn and told.turn_deg is not None and told.mirrored is not None:
        return _told(session, Orientation(told.turn_deg % 360.0, told.mirrored, told.side))
    raise NoMessageError(f"neither presses nor a turn nor a field: {given}")


def _shift(told: SentShift, pressed: str) -> Shift:
    """The press of a key; raises NoMessageError for a way that it cannot have gone."""
    went = told.went or pressed
    if went not in {"right": ("right", "left"), "up": ("up", "down")}[pressed]:
        raise NoMessageError(f"{went} where {pressed} was pressed")
    return Shift(told.before, told.after, went in _BACK)


def _told(session: Session, told: Orientation) -> str:
    """Keep how the eyepiece stands; where that is what was offered, the taps are put right too."""
    doubt = eyepiece_doubt(session)
    return _put_right(session, doubt if doubt and doubt.offer == told else None, told)


def _put_right(session: Session, doubt: EyepieceDoubt | None, told: Orientation) -> str:
    """Keep how the eyepiece stands, and put the taps right where that was in doubt."""
    count = 0 if doubt is None else take_offer(session, doubt)
    if not count:
        return _keep(session, told)
    lines = "1 line is" if count == 1 else f"{count} lines are"
    return f"The eyepiece is {orientation_words(told)}: {lines} put right. {NEW_NUMBERS}"


def _keep(session: Session, found: Orientation) -> str:
    where = _kept(session, "eyepiece", found.answers)
    return f"The eyepiece is {orientation_words(found)}: noted in {where}."


def _kept(session: Session, table: str, answers: dict[str, str]) -> str:
    """Keep answers; the name of the file that holds them, without its folders."""
    return os.path.basename(session.keep_answers(table, answers))
