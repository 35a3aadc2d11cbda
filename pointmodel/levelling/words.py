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
from pointmodel.levelling.stand import WAYS, Means, Stand, Way, rise_mm, turns
from pointmodel.mount.remedies import REMEDIES

if TYPE_CHECKING:
    from pointmodel.diagnosis.lean import Lean
    from pointmodel.levelling.feet import FootOrder
    from pointmodel.levelling.result import LevelResult

VERDICT_WORDS = {
    "level": "Level the base.",
    "realign": "Align again; leave the feet alone.",
    "leave": "Leave the feet alone.",
    "ask": "Answer one question first.",
    "cannot_tell": "Do not turn a foot yet.",
}
BY_WORDS: dict[Means | None, str] = {
    "screws": "",
    "legs": " with its legs",
    "plates": " with plates under its feet",
    None: "",
}
MOST_STEADY = 3  # a stand with more feet can rock
BUBBLE_SEES_ARCMIN = 30.0  # what the round bubble of a small stand shows (from memory)
# 1 mm in 1 m (common practice, no source)
ARCMIN_PER_MM_IN_1_M = 3.4377
GAIN_HEAD = ("The mount", "Typical miss", "In eyepiece", "Minutes")
FOOT_HEAD = "Foot (azimuth)"
WAY_WORDS: dict[Way, str] = {
    "lower_only": "Lower only",
    "raise_only": "Raise only",
    "least_travel": "Least work",
}
MEANS_TITLES: dict[Means, str] = {
    "screws": "Turn the screws of the feet",
    "legs": "Slide the legs (height, not length)",
    "plates": "Put firm plates under the feet",
}
# a right-hand screw moves away from who turns it clockwise, here down through the base (the
# right-hand screw rule; common practice, no source)
SCREW_TURNS = (
    "A common screw (right-hand thread) raises the base when you turn it clockwise, seen from "
    "above. Try a quarter turn first and watch."
)
HEIGHT_NOT_LENGTH = "A sloping leg lengthened by 10 mm lifts less than 10 mm: measure the height."


def verdict_words(result: LevelResult) -> str:
    """The verdict as an order, then its reason."""
    return f"{VERDICT_WORDS[result.verdict]} {result.reason}"


def level_order(lean: Lean, feet: tuple[FootOrder, ...], stand: Stand) -> str:
    """What to do to the base, in one sentence: each foot that moves, or the side to raise.

    By the way that is the steadiest of those that reach.
    """
    moved = [
        f"foot {number} {order_words(rise_mm(foot, stand.ways[0]))}"
        for number, foot in enumerate(feet, 1)
        if order_words(rise_mm(foot, stand.ways[0])) != order_words(0.0)
    ]
    if moved:
        return f"Level the base{BY_WORDS[stand.by]}: {join(moved)}."
    toward = lean.toward_az_deg or 0.0
    return (
        f"Level the base: raise its {compass_word(toward)} side (azimuth {toward:.0f}°). It is "
        f"{figure(lean.amount_arcmin / ARCMIN_PER_MM_IN_1_M, 1)} mm too low in each metre."
    )


def side_words(result: LevelResult) -> str | None:
    """Which side to raise, and how to find it without a compass; None unless to level."""
    stand, toward = result.stand, result.lean.toward_az_deg
    if result.verdict != "level" or stand is None or toward is None:
        return None
    return (
        f"The base is too low in the {compass_word(toward)} (azimuth {_whole(toward)}°): raise "
        "that side, or lower the side opposite. No compass? Send the tube to readout "
        f"{_whole(stand.side_reading_deg)}° in azimuth, low down: it points at the side to raise."
    )


def _whole(az_deg: float) -> int:
    return round(az_deg) % 360


def shown_feet(result: LevelResult) -> tuple[FootOrder, ...]:
    """The feet to show: none unless the verdict is to level."""
    return result.feet if result.verdict == "level" else ()


def shown_ways(result: LevelResult) -> tuple[Way, ...]:
    """The ways to show, the steadiest first: those that screws, legs or plates reach."""
    return WAYS if result.stand is None or not result.stand.ways else result.stand.ways


def shown_way(result: LevelResult) -> tuple[float, Way, bool]:
    """What the pictures show: the side to raise, degrees, one way, and whether by screws."""
    by_screws = result.stand is None or result.stand.by_screws
    return result.lean.toward_az_deg or 0.0, shown_ways(result)[0], by_screws


def picture_words(result: LevelResult) -> str:
    """What the picture of the feet shows."""
    way = WAY_WORDS[shown_ways(result)[0]].lower()
    return f"Seen from above, north up. The arrow points at the side to raise. Shown: {way}."


def feet_title(result: LevelResult) -> str:
    """What is to be done at the feet, over their table."""
    by = result.stand.by if result.stand is not None and result.stand.by else "screws"
    choose = ": choose ONE column" if len(shown_ways(result)) > 1 else ""
    return f"{MEANS_TITLES[by]}{choose}"


def feet_head(result: LevelResult) -> tuple[str, ...]:
    """The heads of the columns: the foot, then one for each way."""
    return (FOOT_HEAD, *(WAY_WORDS[way] for way in shown_ways(result)))


def feet_rows(result: LevelResult) -> list[tuple[str, ...]]:
    """One row a foot: where it stands, and what to do there by each way."""
    by_screws = result.stand is None or result.stand.by_screws
    return [
        (
            f"{number} ({_whole(foot.azimuth_deg)}°)",
            *(_order(foot, way, by_screws) for way in shown_ways(result)),
        )
        for number, foot in enumerate(shown_feet(result), 1)
    ]


def _order(foot: FootOrder, way: Way, by_screws: bool) -> str:
    turned = turns_words(turns(foot, way)) if by_screws else ""
    return order_words(rise_mm(foot, way), by_screws) + (f" ({turned})" if turned else "")


def feet_remarks(result: LevelResult) -> list[str]:
    """What to know beside the orders: how to do it, what is left, what the mount file lacks."""
    if result.verdict != "level":
        return []
    if not result.feet:
        return [_without_feet(result)]
    remarks = [*_means_words(result), _found_by_readout(result), _left_words(result)]
    if result.screw_pitch_mm is None and (result.stand is None or result.stand.by == "screws"):
        remarks.append("To see turns of the screws, write screw_pitch under [feet] in mount.toml.")
    if len(result.feet) > MOST_STEADY:
        remarks.append("At the end see that every foot carries its share.")
    return [remark for remark in remarks if remark]


def _without_feet(result: LevelResult) -> str:
    amount = result.lean.amount_arcmin / ARCMIN_PER_MM_IN_1_M
    return (
        f"How much: {figure(amount, 0 if amount >= 9.5 else 1)} mm for each metre between the low "
        "side and the side opposite. To see it foot by foot, write radius and azimuths under "
        "[feet] in mount.toml."
    )


def _means_words(result: LevelResult) -> list[str]:
    """How to do it with what the stand has."""
    stand = result.stand
    if stand is None or stand.by is None:
        return []
    travel = stand.screw_travel_mm
    reach = ""
    if travel is not None:
        assumed = " (taken as usual; yours: screw_travel under [feet])"
        reach = f"{figure(travel, 0)} mm each way{assumed if stand.travel_assumed else ''}"
    if stand.by == "screws":
        short = len(stand.ways) < len(WAYS)
        return [
            SCREW_TURNS,
            *([f"Other ways are left out: a screw goes {reach}."] if short else []),
        ]
    then = "Afterwards log three stars and ask again: what is left is for the screws."
    first = {
        "legs": HEIGHT_NOT_LENGTH,
        "plates": "Plates must be firm and must not slide. Moving the stand to flatter ground "
        "does as well.",
    }[stand.by]
    return [first, f"The screws alone are too short: they go {reach}. {then}"] if reach else [first]


def _found_by_readout(result: LevelResult) -> str:
    """At which readouts the tube points at the feet."""
    if result.stand is None or not result.stand.foot_readings_deg:
        return ""
    at = [f"{_whole(reading)}°" for reading in result.stand.foot_readings_deg]
    numbers = [str(number) for number in range(1, len(at) + 1)]
    return f"The tube points at feet {join(numbers)} at azimuth readouts {join(at)}."


def _left_words(result: LevelResult) -> str:
    error = max(foot.uncertainty_mm for foot in result.feet)
    return (
        f"About {miss_words(result.expected_lean_after_arcmin)} of lean is left if you set each "
        f"foot to the nearest {_hand(result)}. The figures are good to {_mm(error)}."
    )


def _hand(result: LevelResult) -> str:
    by_screws = result.stand is None or result.stand.by_screws
    step = _mm(result.hand_step_mm or 0.0)
    turned = by_screws and result.screw_pitch_mm is not None
    return f"eighth of a turn ({step})" if turned else step


def _mm(size: float) -> str:
    """Millimetres as a hand can use them, never finer than a tenth."""
    return f"{figure(max(size, 0.1), 1 if size < 9.95 else 0)} mm"


def confirm_steps(result: LevelResult) -> list[str]:
    """How a bubble, then two or three stars, show whether the base is level now."""
    if len(result.confirm_at) < 2:
        return []
    first, *others = (place_in_words(*place) for place in result.confirm_at)
    bubble = []
    if result.lean.amount_arcmin > BUBBLE_SEES_ARCMIN:
        bubble = [
            "Look at a bubble level on the base: it must be near the middle now. If it is farther "
            "out than before, undo all of it: it went the wrong way."
        ]
    return [
        *bubble,
        f"Zero the mount on a star {first}.",
        f"Go to a star {others[0]}. Each 1′ of lean left shows there as a 2′ miss.",
        *(f"Go to a star {place}. It shows lean left to the sides." for place in others[1:]),
    ]


def doubt_words(result: LevelResult) -> str | None:
    """What to do once the entries were compared; None where that is not the question."""
    if result.verdict != "cannot_tell" or not result.lean.is_real or is_feigned(result):
        return None
    return (
        "Are all entries right? Then write verified = true under [entered] in mount.toml and ask "
        "again. You then see which foot to turn, and how far."
    )


def is_feigned(result: LevelResult) -> bool:
    """Whether wrong entries make the lean, or part of it: levelling is no cure."""
    return all(gain.remedy != "level" for gain in result.gain)


def cleared_words(result: LevelResult) -> str:
    """What clears clock and site of looking like the lean."""
    return {
        "verified": "Clock and site were compared with a phone, so they cannot look like a lean.",
        "check": "Clock and site agree with the stars, so they cannot look like a lean.",
        "almanac": (
            "The commanded places are true ones, whatever the controller's clock and site. So "
            "these cannot look like a lean."
        ),
        "camera": (
            "The camera saw the true sky, whatever the controller's clock and site. So these "
            "cannot look like a lean."
        ),
        "alignment": "",
        None: "",
    }[result.clock_cleared_by]


def field_words(result: LevelResult) -> str:
    """Which field the chances are counted for."""
    field = miss_words(result.field_of_view_arcmin)
    if not result.field_assumed:
        return f"Eyepiece: {field} across."
    return (
        f"An eyepiece {field} across is assumed. Yours: write field_of_view under [optics] in "
        "mount.toml."
    )


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
    return f"Direction of the lean: azimuth {ends}. Such ranges hold the truth 95 times in 100."
