"""A plan in plain words, shared by the terminal's text and the sheet to print.

Read `plan.py` for what is worded, `figures.py` for the figures. Nothing is worked out here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pointmodel.base.angles import format_dm, format_dms
from pointmodel.base.compass import compass_word
from pointmodel.base.figures import figure, gain_words, miss_words
from pointmodel.base.times import format_utc_offset
from pointmodel.base.wording import join, sentence
from pointmodel.mount.terms import spoken

if TYPE_CHECKING:
    from pointmodel.planning.entrycard import EntryCard
    from pointmodel.planning.plan import PlanResult
    from pointmodel.planning.results import PlannedStar

STARS_TITLE = "Centre these, in this order"
STARS_HEAD = ("No.", "Star", "Direction", "Azimuth", "Height", "Magnitude", "Go-to then misses by")
MOST_REFUSED = 8
TOO_LIGHT = ("daylight", "twilight")
ALARMING = (*TOO_LIGHT, "sun", "sun_slew", "setting", "clocks_change", "zone")
UNKNOWN_ZONE = "not in the mount file: add time_zone under [site]"


def headline(result: PlanResult) -> str:
    """What to do first, and what it brings; that no star can be seen, where that is so."""
    for notice in result.warnings:
        if notice.code in TOO_LIGHT:
            return f"{sentence(notice.text)} The list below is for {clock_words(result)}."
    if result.stop_after == 0:
        now = miss_words(result.now_rms_arcmin)
        return f"Corrected go-tos miss by about {now} now. {stop_words(result)}"
    count, last = len(result.stars), result.expected[-1]
    first = result.stars[0]
    what = "this star" if count == 1 else f"these {count} stars, {first.target} first"
    now = miss_words(result.now_rms_arcmin)
    before = f"now by {now}" if result.after else f"a mount just set down by {now}"
    told = f"Centre {what}. Corrected go-tos then miss by about {miss_words(last.rms_arcmin)}"
    return f"{told} ({before})."


def star_rows(result: PlanResult) -> list[tuple[str, ...]]:
    """One row a star: its number, name, place, brightness and the miss to expect after it."""
    return [
        (
            str(star.order),
            star.target,
            compass_word(star.az_deg),
            azimuth_words(star),
            f"{star.alt_deg:.0f}°",
            figure(star.magnitude, 1),
            miss_words(step.rms_arcmin),
        )
        for star, step in zip(result.stars, result.expected, strict=True)
    ]


def azimuth_words(star: PlannedStar) -> str:
    """A star's azimuth in whole degrees."""
    return f"{round(star.az_deg) % 360}°"


def where_words(star: PlannedStar) -> str:
    """Direction, azimuth and height in one line."""
    fists = f"{round(star.alt_deg / 5.0) / 2.0:g} fists".replace(".5", "½").replace("0½", "½")
    return f"{compass_word(star.az_deg)} {azimuth_words(star)}, up {star.alt_deg:.0f}° = {fists}"


def finding_lines(result: PlanResult) -> list[str]:
    """Where to look for each star."""
    return [f"{star.order} {star.target}: {sentence(star.how_to_find)}" for star in result.stars]


def settling_words(result: PlanResult) -> str:
    """What is known of the mount after which star, and what stays unknown."""
    told = [
        f"{join([spoken(n) for n in star.settles])} with star {star.order}"
        for star in result.stars
        if star.settles
    ]
    text = f"What becomes known: {'; '.join(told)}." if told else ""
    left = [spoken(name) for name in result.expected[-1].not_determined]
    return f"{text} Not yet known by then: {join(left)}.".strip() if left else text


def stop_words(result: PlanResult) -> str:
    """When to stop."""
    last = result.stop_after
    if last is None:
        return f"Two more stars after these would gain {gain_words(result.more.gained_arcmin)}."
    if last == len(result.stars):
        return f"Then stop: two more stars would gain {gain_words(result.more.gained_arcmin)}."
    before = result.expected[last - 1].rms_arcmin if last else result.now_rms_arcmin
    later = result.expected[min(last + 1, len(result.stars) - 1)].rms_arcmin
    gain = f"two more would gain {gain_words(before - later)}"
    if last == 0:
        return f"You may stop: {gain}."
    rest = "The others show whether one of them was another star."
    return f"You may stop after star {last}: {gain}. {rest}"


def pair_lines(result: PlanResult) -> list[str]:
    """The best two alignment stars and what they are worth."""
    mount = "this mount" if result.after else "a typical mount"
    return [
        f"{pair.first}, then {pair.second}: go-tos of {mount} miss by about "
        f"{miss_words(pair.rms_arcmin)}."
        for pair in result.alignment_pairs
    ]


def refused_lines(result: PlanResult) -> list[str]:
    """Bright stars that are not to be used, and why."""
    return [f"{one.target}: {one.reason}." for one in result.refused[:MOST_REFUSED]]


def pair_sentence(result: PlanResult) -> str:
    """The best two alignment stars in one sentence; nothing where there are none."""
    if not result.alignment_pairs:
        return ""
    best = result.alignment_pairs[0]
    return f"To align on two stars instead, take {best.first}, then {best.second}."


def source_words(result: PlanResult) -> str:
    """Which file site, horizon and zone are from; nothing where they are from none."""
    source = result.mount.source or ""
    return "" if source.startswith("<") or not source else f"Site, horizon and zone: {source}."


def alarm_lines(result: PlanResult) -> list[str]:
    """What must stand at the head of the sheet."""
    return [sentence(notice.text) for notice in result.warnings if notice.code in ALARMING]


def moment_words(result: PlanResult) -> str:
    """Date and local time of the plan."""
    local = result.entry_card.local
    return f"{local.day} {_MONTHS[local.month - 1]} {local.year}, {clock_words(result)}"


def clock_words(result: PlanResult) -> str:
    """Local time of the plan, with UTC said where that is what it is."""
    card = result.entry_card
    return f"{card.local:%H:%M}{'' if card.zone_known else ' UTC'}"


def marked_words(result: PlanResult) -> str:
    """What the picture marks beside stars."""
    names = [name for name, _, _ in result.picture.bodies]
    planets = [name for name in names if name != "Moon"]
    told = [f"Diamond{'s' if len(planets) > 1 else ''}: {join(planets)}."] if planets else []
    return " ".join(["Ring: the Moon.", *told] if "Moon" in names else told)


def card_cells(result: PlanResult) -> list[tuple[str, tuple[str, ...]]]:
    """What the controller asks for, and what to enter in each way that it may be asked."""
    card = result.entry_card
    rows: list[tuple[str, tuple[str, ...]]] = [
        ("Latitude", _angle_cells(card.latitude_deg, "N", "S")),
        ("Longitude", _angle_cells(card.longitude_deg, "E", "W")),
    ]
    if card.elevation_m is not None:
        rows.append(("Elevation", (f"{card.elevation_m:.0f} m",)))
    rows += [
        ("Date", date_cells(card)),
        ("Local time", ("what your phone shows now",)),
        ("Time zone", zone_cells(card)),
        ("Summer time", (summer_words(card),)),
    ]
    return rows


def card_rows(result: PlanResult) -> list[tuple[str, str]]:
    """The same as rows of two cells."""
    return [(title, " = ".join(cells)) for title, cells in card_cells(result)]


def _angle_cells(angle_deg: float, positive: str, negative: str) -> tuple[str, ...]:
    side, size = positive if angle_deg >= 0 else negative, abs(angle_deg)
    decimal = f"{'+' if angle_deg >= 0 else '−'}{size:.4f}°"
    return f"{format_dms(size)} {side}", f"{format_dm(size, 2)} {side}", decimal


def date_cells(card: EntryCard) -> tuple[str, ...]:
    """The date with the month spelt out, and in both orders."""
    local = card.local
    spelt = f"{local.day} {_MONTHS[local.month - 1]} {local.year}"
    return spelt, f"M/D/Y {local:%m/%d/%Y}", f"D/M/Y {local:%d/%m/%Y}"


_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def minutes_words(result: PlanResult) -> str:
    """What ′ means, with the eyepiece's field where it is known."""
    field = result.mount.optics.field_of_view_arcmin
    seen = "" if field is None else f" Your eyepiece shows {miss_words(field)}."
    return f"′: a sixtieth of a degree; the Moon is 31′ wide.{seen}"


def zone_cells(card: EntryCard) -> tuple[str, ...]:
    """The zone as controllers take it: without summer time, and what the clock shows with it."""
    if not card.zone_known:
        return (UNKNOWN_ZONE,)
    cells = [f"UTC{format_utc_offset(card.standard_offset_s)}"]
    if card.summer_time:
        cells.append(f"in summer UTC{format_utc_offset(card.utc_offset_s)}")
    if card.zone_name:
        cells.append(card.zone_name)
    return tuple(cells)


def summer_words(card: EntryCard) -> str:
    """Whether summer time holds on that date."""
    if card.summer_time is None:
        return "no: the zone above is what the clock shows" if card.zone_known else UNKNOWN_ZONE
    return "yes" if card.summer_time else "no"
