"""Words and figures of the verdict on levelling, shared by the terminal text and the page.

Read `level.py` first. Foot orders are worded only where the verdict is to level.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from pointmodel.base.compass import compass_word, place_in_words
from pointmodel.base.figures import chance_words, figure, miss_words
from pointmodel.base.wording import join
from pointmodel.levelling.picture import order_words, turns_words
from pointmodel.mount.remedies import REMEDIES

if TYPE_CHECKING:
    from pointmodel.diagnosis.lean import Lean
    from pointmodel.levelling.feet import FootOrder
    from pointmodel.levelling.result import LevelResult

VERDICT_WORDS = {
    "level": "Level the base.",
    "realign": "Realign; leave the feet alone.",
    "leave": "Leave the feet alone.",
    "ask": "Answer one question first.",
    "cannot_tell": "Do not turn a foot yet.",
}
MM_IN_A_METRE = 1.0 / 3.4377  # 1 mm in a metre is 3.4377′
MOST_STEADY = 3  # a stand with more feet can rock
GAIN_HEAD = ("The mount", "Typical miss", "In eyepiece", "Minutes")
FEET_HEAD = ("Foot (azimuth)", "Lower only", "Raise only", "Least travel", "Give or take")
FEET_TITLE = "Turn the feet, by any one of three ways (in brackets: turns of the screw)"
PICTURE_WORDS = "Seen from above, north up. The arrow: the way the axis leans. Shown: lower only."


def verdict_words(result: LevelResult) -> str:
    """The verdict as an order, then its reason."""
    return f"{VERDICT_WORDS[result.verdict]} {result.reason}"


def level_order(lean: Lean, feet: tuple[FootOrder, ...]) -> str:
    """What to do to the base, in one sentence: each foot that moves, or the side to raise.

    Feet are lowered rather than raised: a lower stand is a steadier one.
    """
    moved = [
        f"foot {number} {order_words(foot.lower_only_mm)}"
        for number, foot in enumerate(feet, 1)
        if order_words(foot.lower_only_mm) != order_words(0.0)
    ]
    if moved:
        return f"Level the base: {join(moved)}."
    toward = lean.toward_az_deg or 0.0
    return (
        f"Level the base: raise its {compass_word(toward)} side (azimuth {toward:.0f}°). It is "
        f"{figure(lean.amount_arcmin * MM_IN_A_METRE, 1)} mm too low in each metre."
    )


def shown_feet(result: LevelResult) -> tuple[FootOrder, ...]:
    """The feet to show: none unless the verdict is to level."""
    return result.feet if result.verdict == "level" else ()


def feet_rows(result: LevelResult) -> list[tuple[str, ...]]:
    """One row a foot: where it stands, what to do there by each way, and how far that is known."""
    return [
        (
            f"{number} ({figure(foot.azimuth_deg, 0)}°)",
            _order(foot.lower_only_mm, foot.lower_only_turns),
            _order(foot.raise_only_mm, foot.raise_only_turns),
            _order(foot.least_travel_mm, foot.least_travel_turns),
            f"{figure(foot.uncertainty_mm, 1)} mm",
        )
        for number, foot in enumerate(shown_feet(result), 1)
    ]


def _order(rise_mm: float, turns: float | None) -> str:
    turned = turns_words(turns)
    return order_words(rise_mm) + (f" ({turned.partition(' turn')[0]})" if turned else "")


def feet_remarks(result: LevelResult) -> list[str]:
    """What to know beside the orders: totals, what is left, what is missing in the mount file."""
    if result.verdict != "level":
        return []
    if not result.feet:
        return [
            "Which foot by how much: state the feet's radius and true azimuths under [feet] in the "
            "mount file."
        ]
    totals = (
        sum(abs(getattr(foot, f"{way}_mm")) for foot in result.feet)
        for way in ("lower_only", "raise_only", "least_travel")
    )
    lower, raised, least = (figure(total, 1) for total in totals)
    remarks = [
        f"In all: {lower} mm lower only, {raised} mm raise only, {least} mm least travel.",
        f"Lean left after that: about {figure(result.expected_lean_after_arcmin, 1)}′, with each "
        f"foot set to the nearest {_hand(result)}.",
    ]
    if result.screw_pitch_mm is None:
        remarks.append("For turns of the screws, state screw_pitch under [feet] in the mount file.")
    if len(result.feet) > MOST_STEADY:
        remarks.append("At the end see that every foot carries its share.")
    return remarks


def _hand(result: LevelResult) -> str:
    step = f"{figure(result.hand_step_mm, 1)} mm"
    return step if result.screw_pitch_mm is None else f"eighth of a turn ({step})"


def confirm_steps(result: LevelResult) -> list[str]:
    """How two or three stars show whether the base is level now."""
    if len(result.confirm_at) < 2:
        return []
    first, *others = (place_in_words(*place) for place in result.confirm_at)
    steps = [f"Zero the mount on a star {first}.", f"Go to a star {others[0]}"]
    steps[1] += ": a minute of lean left that way shows there as about two of miss."
    return steps + [
        f"Then go to one {place}: it shows the other direction." for place in others[1:]
    ]


def doubt_words(result: LevelResult) -> str | None:
    """What to do once the entries were compared; None where that is not the question."""
    if result.verdict != "cannot_tell" or not result.lean.is_real or is_feigned(result):
        return None
    return (
        "All entries right? Then put verified = true under [entered] in the mount file and ask "
        "again: the feet and how far to turn them are shown then."
    )


def is_feigned(result: LevelResult) -> bool:
    """Whether wrong entries make the lean, or part of it: levelling is no cure."""
    return all(gain.remedy != "level" for gain in result.gain)


def cleared_words(result: LevelResult) -> str:
    """What clears clock and place of looking like the lean."""
    return {
        "verified": "Clock and place were compared with a phone, so they are not what leans.",
        "check": "Clock and place agree with the stars, so they are not what leans.",
        "almanac": (
            "The commanded places are true ones, whatever the controller's clock and place: they "
            "are not what leans."
        ),
        "camera": (
            "The camera saw the true sky, whatever the controller's clock and place: they are not "
            "what leans."
        ),
        "alignment": "",
        None: "",
    }[result.clock_cleared_by]


def field_words(result: LevelResult) -> str:
    """Which field the chances are counted for."""
    field = miss_words(result.field_of_view_arcmin)
    if not result.field_assumed:
        return f"Eyepiece: {field} across."
    return f"An eyepiece {field} across is assumed: state field_of_view in the mount file."


def gain_rows(result: LevelResult) -> Iterable[tuple[str, ...]]:
    """One row a remedy: what go-tos do after it, and the minutes that it takes."""
    return [
        (
            REMEDIES[gain.remedy].once_done,
            miss_words(gain.rms_arcmin),
            chance_words(gain.chance_in_field),
            str(gain.minutes) if gain.minutes else "—",
        )
        for gain in result.gain
    ]


def direction_words(result: LevelResult) -> str:
    """The limits of the lean's direction, and what limits are."""
    lean = result.lean
    if lean.toward_low is None or lean.toward_high is None or result.verdict == "realign":
        return ""
    if is_feigned(result):
        return ""
    ends = f"{lean.toward_low:.0f}° to {lean.toward_high:.0f}°"
    return f"Direction of the lean: azimuth {ends}. Such ranges hold the truth 19 times in 20."


def where_to_read_on(result: LevelResult) -> str | None:
    """Which command shows the feet; None where there are none to turn."""
    if result.verdict != "level":
        return None
    return "Which foot by how much: pointmodel level, with this log."
