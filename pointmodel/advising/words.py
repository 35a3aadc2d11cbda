"""The sentences of the verdict: headline, steps, what is left out.

Read `result.py` for what they are for. Nothing is decided here. A headline has at most
`LONGEST_HEADLINE` characters; every order starts with what to press, turn or type.
"""

from __future__ import annotations

from pointmodel.advising.grounds import FEWEST_AFTER_MOVE, Grounds
from pointmodel.advising.ladder import Way
from pointmodel.advising.result import Advice, Plan, Step
from pointmodel.base.compass import place_in_words
from pointmodel.base.figures import miss_words
from pointmodel.base.wording import line_list, sentence
from pointmodel.diagnosis.faultwords import fault_words
from pointmodel.diagnosis.happened import AGAIN, REMEDIES_BY_KIND, what_happened
from pointmodel.estimate.inturn import Happened
from pointmodel.mount.remedies import ACTIONS
from pointmodel.readings.question import how_to_answer
from pointmodel.readings.result import Question

LONGEST_HEADLINE = 160
SAID_WITH_STEPS = ("log_again", "same_approach")
SAME_FIGURE = 0.9  # two misses nearer than a tenth read as one
LOG_THE_ZERO = "Add that star to the log, with zero_on_star in its column event."
NOT_NOW = "not before it is sure how the base stands"
SHORT_LOG = "Then log a few stars again: that shows how square the tube is now."
LEAN_MAY_BE_THERE = (
    "Then log a few stars again: besides the wrong entry the base may lean, and that shows then."
)
CHECK_ENTRIES = (
    "Compare the controller's date, time, time zone, summer time and site with a phone. A wrong "
    "entry would look like this lean. If all are right, write verified = true under [entered] in "
    "mount.toml and run this again. It then says how to level the base."
)
STEP_TEXTS = {
    "zero_on_star": (
        "Zero on a star: centre a bright star about halfway up, then tell the controller “this is "
        "the star” (sync)."
    ),
    "start_level": (
        "Switch the mount off. Lay a level on the tube and set it to 0°, then switch the mount on."
    ),
    "square_tube": (
        "Shim the tube in its saddle until it is square to its axis; go by the collimation below."
    ),
    "same_approach": (
        "End every move with the same two keys, such as right and up: the gears have slack."
    ),
    "apply_corrections": (
        "Send it to corrected positions: type what `pointmodel aim` prints for each target."
    ),
    "log_again": ("Log again: centre four or more bright stars, high and low, all around the sky."),
    "check_entries": CHECK_ENTRIES,
    "steady_base": "Tighten the leg clamps and the head. Keep feet and cables away from the legs.",
    "tighten": "Tighten the tube in its saddle, and both clutches.",
}


def step_text(name: str, grounds: Grounds, done: Way = ()) -> str:
    """Return what to do at one step, in whole sentences."""
    if name == "level":
        return grounds.level_order()
    if name == "realign":
        return realign_text(grounds)
    if name == "apply_corrections" and len(done) > 1:
        return f"{LOG_THE_ZERO} {STEP_TEXTS[name]}"
    if name == "set_entry" and grounds.sky is not None and grounds.sky.correction is not None:
        return grounds.sky.correction
    return STEP_TEXTS.get(name, sentence(ACTIONS[name].order))


def realign_text(grounds: Grounds) -> str:
    """Return on which stars to align: by name where site and time are known, else by place.

    Where it is not known what the controller works out from them, both figures are said.
    """
    named = grounds.realign_on()
    found = None if grounds.readings.stops else grounds.forecast_of("realign")
    if named is not None:
        text = f"Align again on {named[0]}, then {named[1]}."
    elif found is None or len(found.stars) < 2:
        text = "Align again on two bright stars far apart."
    else:
        first, second = (place_in_words(*star) for star in found.stars)
        text = f"Align again on two bright stars, one {first}, the other {second}."
    text += " Centre both with high power."
    other = None if found is None else found.with_altitude_zero_rms_arcmin
    if found is None or other is None or other > SAME_FIGURE * found.rms_arcmin:
        return text
    return f"{text} If yours also works out an altitude zero: {miss_words(other)}."


def way_words(way: Way) -> str:
    """Return a way in few words, without capital or full stop."""
    return ", then ".join(ACTIONS[name].order for name in way) or "leave it as it is"


def cut(text: str, longest: int = LONGEST_HEADLINE) -> str:
    """Return as many of the first sentences as fit; at least one, cut at a word if it must be."""
    kept = ""
    for part in _sentences(text):
        if kept and len(kept) + 1 + len(part) > longest:
            break
        kept = f"{kept} {part}".strip()
    if len(kept) <= longest:
        return kept
    return f"{kept[: longest - 1].rsplit(' ', 1)[0]}…"


def _sentences(text: str) -> list[str]:
    parts, start = [], 0
    for k in range(1, len(text)):
        if text[k] == " " and text[k - 1] in ".?!" and text[k + 1 : k + 2].isupper():
            parts.append(text[start:k])
            start = k + 1
    return [*parts, text[start:]]


def good_headline(grounds: Grounds) -> str:
    """Go-to is good."""
    return f"Go-to is good: it misses by {miss_words(grounds.now.rms_arcmin)}. Leave it as it is."


def no_remedy_headline(grounds: Grounds) -> str:
    """Nothing here makes go-to better."""
    return (
        f"Go-to misses by {miss_words(grounds.now.rms_arcmin)}. No remedy that this log knows "
        "makes that much better."
    )


def play_headline(grounds: Grounds, step: Step) -> str:
    """Play in mount or stand is all that is left to mend."""
    return cut(f"Go-to misses by {miss_words(grounds.now.rms_arcmin)}. {step.text}")


def mend_headline(grounds: Grounds, plan: Plan, quick: Plan | None) -> str:
    """What to do, what it gains; the quick way first, if there is one."""
    now = miss_words(grounds.now.rms_arcmin)
    if plan.actions[:1] == ("check_entries",) and len(plan.steps) == 1:
        told = "Compare the controller's clock and site with a phone: the base seems to lean"
        if quick is None:
            return f"{told}. Go-to misses by {now}."
        return cut(f"{_plan_words(grounds, quick)}: {now} → {_after(quick)}. Then: {_lower(told)}.")
    if quick is None:
        return cut(f"{_plan_words(grounds, plan)}: go-to misses {now} → {_after(plan)}.")
    return cut(
        f"{_plan_words(grounds, quick)}: {now} → {_after(quick)}. "
        f"Or {_lower(_plan_words(grounds, plan))}: {_after(plan)}."
    )


def _plan_words(grounds: Grounds, plan: Plan) -> str:
    """Return a plan in few words with its minutes, capital first."""
    # the last is said with the steps: it changes nothing by itself
    orders = [_short(name, grounds) for name in plan.actions if name not in SAID_WITH_STEPS]
    text = ", then ".join(orders)
    by_hand = sum(one.minutes for one in plan.steps if one.action not in SAID_WITH_STEPS)
    return f"{text[:1].upper()}{text[1:]} ({minutes_words(by_hand)})"


def _short(name: str, grounds: Grounds) -> str:
    named = grounds.realign_on() if name == "realign" else None
    return f"align on {named[0]} and {named[1]}" if named is not None else ACTIONS[name].order


def _after(plan: Plan) -> str:
    return miss_words(plan.rms_arcmin)


def _lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def minutes_words(minutes: float) -> str:
    """Return minutes by torchlight, whole ones."""
    return f"{max(round(minutes), 1)} min" if minutes else "no time"


def with_what_follows(headline: str, plan: Plan) -> str:
    """Return an entry's order with what ends the steps after it, if there is room."""
    ends = [name for name in plan.actions if ACTIONS[name].ends != "nothing"]
    longer = f"{headline} Then {ACTIONS[ends[-1]].order}." if ends else headline
    return longer if len(longer) <= LONGEST_HEADLINE else headline


def moved_headline(moved: Happened, advice: Advice) -> str:
    """What happened to the mount, and the first thing to do about it."""
    return cut(f"{sentence(what_happened(moved))} {advice.steps[0].text}")


def moved_text(moved: Happened) -> str:
    """What to do about what happened, before the log is begun again."""
    order = REMEDIES_BY_KIND[moved.kind].removesuffix(AGAIN)
    few = moved.pairs_after < FEWEST_AFTER_MOVE and moved.kind != "sinking"
    return sentence(order) + (" The stars after it are too few to go by." if few else "")


def fault_headline(grounds: Grounds, plan: Plan) -> str:
    """The alignment that went wrong."""
    assert grounds.fault is not None
    order = plan.steps[0].text.partition(". ")[0]
    return cut(f"{order}. {fault_words(grounds.fault)}")


def too_few_headline(grounds: Grounds) -> str:
    """Nothing can be told from so few stars."""
    now = grounds.now
    ends = f"{miss_words(now.rms_low_arcmin)} to {miss_words(now.rms_high_arcmin)}"
    return f"Too few stars to say: go-to misses by {ends}. Centre one or two more stars first."


def too_few_text(grounds: Grounds, name: str) -> str:
    """Which stars to centre."""
    if name == "recentre_lines":
        lines = line_list(list(grounds.lines_set_aside))
        return f"Centre the stars of {lines} again, sure of their names, and add them to the log."
    return "Centre one or two more bright stars, one high and one low, and add them to the log."


def answer_text(question: Question) -> str:
    """The question as a step: how to write the answer down."""
    return question.why if question.answer_in == "[site]" else how_to_answer(question)


def left_out_words(rms_arcmin: float, end_arcmin: float, grounds: Grounds) -> str:
    """Why a remedy is not advised: it makes go-to worse, or gains too little over what is."""
    now = grounds.now.rms_arcmin
    if rms_arcmin >= now:
        return f"would leave {miss_words(rms_arcmin)}, no better than now"
    if rms_arcmin < end_arcmin:
        return f"would gain {miss_words(end_arcmin - rms_arcmin)} more"
    return f"would leave {miss_words(rms_arcmin)}"
