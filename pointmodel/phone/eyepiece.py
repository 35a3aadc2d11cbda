"""From a tap on a drawn eyepiece to a nudge of the tube, and how the eyepiece stands to the sky.

The sky is told as right and up, as seen by someone who stands behind the tube: the nudge that
would centre the star. An eyepiece shows it turned, and through a diagonal mirrored as well:

    place in the eyepiece = R(turn) · diag(−1 if mirrored else 1, 1) · place on the sky

with the turn counter-clockwise. Places in the eyepiece are in radii of its circle, x to the right
and y up. Who looks in at the tube's side, as at a reflector, sees the picture turn as the tube goes
up, one degree a degree: to who stands at its left, the front end rises on the left, clockwise. The
tube moves, the star moves against it: so two short moves show turn and mirror.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.reading.mountfile import Eyepiece, TubeSide
from pointmodel.recording.entry import EnteredNudge

Spot = tuple[float, float]

TAP_ERROR_RADII = 0.12  # one sigma an axis: .06 of the field, a finger's tap by eye; a choice
TURN_STEP_DEG = 5.0  # to which a turn is rounded: that adds 2 % to what taps leave of error
# A turn that taps leave surer than this is taken; worse, the star is to be moved farther: a nudge
# of a whole field comes out wrong by a sixth of it at one sigma. A choice.
WORST_TURN_ERROR_DEG = 10.0
SQUARE_SIGMAS = 2.6  # of a hundred pairs of moves that are square, one seems not to be
FARTHEST_FROM_SQUARE_DEG = 45.0  # beyond, which way up and down lie cannot be told from the mirror
_FINE_FIELD_ARCMIN = 10.0  # below this, a tenth of an arcminute is coarser than a tap

TOO_SHORT = (
    "The star moved too little to tell. Begin with the star near the rim, and move it across more "
    "of the circle"
)
ALONG_ONE_LINE = (
    "Both moves lie along one line. Press right alone and tap, then press up alone and tap"
)
NOT_SQUARE = (
    "The two moves are not square to one another. Choose a star lower than 60°, and tap again "
    "where it stands before and after each press"
)


class EyepieceUnclearError(ValueError):
    """Two moves do not tell how the eyepiece stands; the message says what to do, in sentences."""


@dataclass(frozen=True)
class Orientation:
    """How the sky stands in the eyepiece: mirrored left to right or not, then turned.

    `turn_deg` is counter-clockwise; where one looks in at a `side` of the tube, with a level tube.
    """

    turn_deg: float
    mirrored: bool
    side: TubeSide = "back"

    @property
    def matrix(self) -> FloatArray:
        """What takes (right, up) on the sky to (x, y) in the eyepiece of a level tube, (2, 2)."""
        return np.asarray(self.matrices(np.zeros(1))[0])

    def matrices(self, alt_deg: FloatArray) -> FloatArray:
        """The same with the tube so high, altitudes (n,): shape (n, 2, 2)."""
        turn = np.radians(self.turn_deg + _TURNS_WITH_TUBE[self.side] * alt_deg)
        cos, sin = np.cos(turn), np.sin(turn)
        side = -1.0 if self.mirrored else 1.0
        return np.stack([np.stack([side * cos, -sin], -1), np.stack([side * sin, cos], -1)], -2)

    def at(self, alt_deg: float) -> Orientation:
        """This one with the tube so high, as it would be told of an eyepiece at the back end."""
        turn_deg = self.turn_deg + _TURNS_WITH_TUBE[self.side] * alt_deg
        return Orientation(turn_deg % 360.0, self.mirrored)

    def on_side(self, side: TubeSide, alt_deg: float) -> Orientation:
        """This one, seen with the tube so high, told of an eyepiece at a side of the tube."""
        turn_deg = self.turn_deg - _TURNS_WITH_TUBE[side] * alt_deg
        return Orientation(turn_deg % 360.0, self.mirrored, side)

    @property
    def answers(self) -> dict[str, str]:
        """The keys of [eyepiece] in a mount file, with values as TOML has them."""
        mirrored = "true" if self.mirrored else "false"
        turn = f"{round(self.turn_deg, 1) % 360.0:g}"
        return {"turn": turn, "mirrored": mirrored, "side": f'"{self.side}"'}

    def turned(self, by_deg: float, exchanged: bool = False) -> Orientation:
        """This one turned farther, and with the other mirror where `exchanged`."""
        return Orientation((self.turn_deg + by_deg) % 360.0, self.mirrored != exchanged, self.side)


_TURNS_WITH_TUBE: dict[TubeSide, float] = {"back": 0.0, "left": -1.0, "right": 1.0}


def orientation_of(eyepiece: Eyepiece | None) -> Orientation | None:
    """Return how a mount file says that the eyepiece stands; None where it does not."""
    if eyepiece is None or eyepiece.turn_deg is None or eyepiece.mirrored is None:
        return None
    return Orientation(eyepiece.turn_deg, eyepiece.mirrored, eyepiece.side or "back")


@dataclass(frozen=True)
class Tap:
    """Where the star stood in the eyepiece, in radii of its circle; beyond 1 it was outside.

    Before that the tube had been moved by `fields_right` and `fields_up` whole fields of the
    eyepiece toward the star.
    """

    x: float
    y: float
    fields_right: float = 0.0
    fields_up: float = 0.0


@dataclass(frozen=True)
class Shift:
    """The star tapped before and after one press that moved the tube.

    `backwards`: the tube went left, or down, where right, or up, was pressed.
    """

    before: Spot
    after: Spot
    backwards: bool = False

    @property
    def tube(self) -> complex:
        """How the tube went, as seen in the eyepiece: against the star; x + iy in radii."""
        went = complex(*self.before) - complex(*self.after)
        return -went if self.backwards else went


@dataclass(frozen=True)
class SeenOrientation:
    """The orientation that two moves show, and one sigma of its turn before rounding, degrees."""

    orientation: Orientation
    turn_error_deg: float


def orientation_words(orientation: Orientation) -> str:
    """Return how an eyepiece stands, in words."""
    mirrored = "mirrored, and " if orientation.mirrored else ""
    turned = f"{mirrored}turned by {orientation.turn_deg:.0f}°"
    if orientation.side == "back":
        return turned
    return f"{turned} with a level tube, seen from its {orientation.side} side"


def nudge_of(tap: Tap, orientation: Orientation, field_arcmin: float) -> EnteredNudge:
    """Return how far the tube has to go, or went, to centre the star that was tapped.

    `orientation` is that at the star's altitude, `field_arcmin` the eyepiece's true field, the
    width of its circle.
    """
    seen = orientation.matrix.T @ np.array([tap.x, tap.y])  # of a rotation, mirrored or not
    moved = np.array([tap.fields_right, tap.fields_up])
    right, up = (field_arcmin * (0.5 * seen + moved)).tolist()
    texts = nudge_texts((right, up), field_arcmin)
    return EnteredNudge(float(texts[0]), float(texts[1]), texts[0], texts[1])


def tapped_text(tap: Tap, field_arcmin: float) -> str:
    """Return where in the eyepiece the star was tapped, as a log keeps it: arcminutes, x and y.

    So a line can be put right when it turns out that the eyepiece stands otherwise.
    """
    radius = 0.5 * field_arcmin
    return " ".join(nudge_texts((radius * tap.x, radius * tap.y), field_arcmin))


def nudge_texts(steps_arcmin: Sequence[float], field_arcmin: float) -> list[str]:
    """Return steps on the sky as a log has them, no finer than a tap tells."""
    decimals = 1 if field_arcmin >= _FINE_FIELD_ARCMIN else 2
    return [f"{round(step, decimals) + 0.0:.{decimals}f}" for step in steps_arcmin]


def orientation_seen(right: Shift, up: Shift) -> SeenOrientation:
    """Return turn and mirror from a press of right and a press of up.

    The columns of the matrix are the ways the tube went. Up gives the turn; right lies a quarter
    turn clockwise of it, or counter-clockwise where the eyepiece mirrors. Both ways count by their
    length: the longer is the surer. Raises EyepieceUnclearError.
    """
    side, above = right.tube, up.tube
    apart_deg = _check_apart(side, above)
    mirrored = apart_deg < 0.0
    expected = side * (-1j if mirrored else 1j)  # where up should lie, as right tells
    turn = math.degrees(_phase(abs(above) * above + abs(side) * expected)) - 90.0
    error_deg = math.degrees(_angle_error(math.hypot(abs(side), abs(above))))
    if error_deg > WORST_TURN_ERROR_DEG:
        raise EyepieceUnclearError(f"{TOO_SHORT}.")
    rounded = TURN_STEP_DEG * round(turn / TURN_STEP_DEG) % 360.0
    return SeenOrientation(Orientation(rounded, mirrored), error_deg)


def _check_apart(side: complex, above: complex) -> float:
    """How far up lies counter-clockwise of right, degrees; near 90, or −90 where mirrored."""
    if min(abs(side), abs(above)) < 3.0 * math.sqrt(2.0) * TAP_ERROR_RADII:
        raise EyepieceUnclearError(f"{TOO_SHORT}.")
    apart_deg = math.degrees(_phase(above / side))
    error_deg = math.degrees(math.hypot(_angle_error(abs(side)), _angle_error(abs(above))))
    skew_deg = abs(abs(apart_deg) - 90.0)
    if skew_deg <= min(SQUARE_SIGMAS * error_deg, FARTHEST_FROM_SQUARE_DEG):
        return apart_deg
    along = skew_deg > 90.0 - SQUARE_SIGMAS * error_deg
    raise EyepieceUnclearError(f"{ALONG_ONE_LINE if along else NOT_SQUARE}.")


def _angle_error(length: float) -> float:
    """One sigma of the direction of a way between two taps, radians."""
    return math.sqrt(2.0) * TAP_ERROR_RADII / length


def _phase(way: complex) -> float:
    return math.atan2(way.imag, way.real)
