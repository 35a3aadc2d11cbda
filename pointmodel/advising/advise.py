"""The one verdict on a night: what to do first, and what go-to is after each step.

Read `result.py`, `grounds.py` and `ladder.py` first. What comes first falls in a fixed order:
figures that say nothing; a base that moved; a wrong entry; too few stars; an alignment that went
wrong; a question whose answers lead to other advice; then the ladder of remedies. Unknown never
gives an order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pointmodel.advising import words
from pointmodel.advising.grounds import (
    FEWEST_AFTER_MOVE,
    Grounds,
    against_levelling,
)
from pointmodel.advising.ladder import Ladder, Way
from pointmodel.advising.result import Advice, LeftOut, Plan, State, Step
from pointmodel.estimate.inturn import Happened
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import chance_of, is_good
from pointmodel.mount.priors import EVENS
from pointmodel.mount.remedies import ACTIONS, REMEDIES, minutes_for
from pointmodel.readings.question import alignment_question
from pointmodel.readings.result import Question

VAGUE = 4.0  # times: a miss known no better than that, with nothing found, says nothing; a choice
LAST_FEW_LINES = 3  # with so few pairs lines set aside are worth centring again


def advise(grounds: Grounds) -> Advice:
    """Return the verdict."""
    if grounds.readings.stops is not None:
        return _figures_say_nothing(grounds)
    moved, sky = grounds.last_move, grounds.sky
    if moved is not None:
        return _moved(grounds, moved)
    if sky is not None and sky.correction is not None:
        return _wrong_entry(grounds)
    if _cannot_tell(grounds):
        return _too_few(grounds)
    if grounds.fault is not None:
        return _alignment_went_wrong(grounds)
    question = grounds.readings.question or _alignment_question(grounds)
    if question is not None:
        return _ask(grounds, question)
    return _mend(grounds)


def is_open_what_the_alignment_was(grounds: Grounds) -> bool:
    """Whether it is not known if the controller was aligned before the log."""
    return grounds.mount.alignment.state == "unknown"


@dataclass(frozen=True, kw_only=True)
class _Draft:
    """Steps before they are worded: the ladder that they come from, the two ways."""

    ladder: Ladder
    thorough: Way
    quick: Way | None


def _draft(grounds: Grounds, first: Way = ()) -> _Draft:
    """Return the ways chosen; a lean that a wrong clock could feign waits until that is cleared."""
    known = not is_open_what_the_alignment_was(grounds)
    free = known and against_levelling(grounds) is None
    aligned = grounds.mount.is_aligned
    ladder = Ladder(grounds, free, aligned, first, corrects=known)
    chosen = ladder.chosen()
    if "level" in chosen.thorough and grounds.cleared is None:
        ladder = Ladder(grounds, False, aligned, (*first, "check_entries"), corrects=known)
        chosen = ladder.chosen()
    return _Draft(ladder=ladder, thorough=chosen.thorough, quick=chosen.quick)


def _mend(grounds: Grounds, first: Way = ()) -> Advice:
    """Return what the ladder says; good where nothing need be done."""
    draft = _draft(grounds, first)
    checks = "check_entries" in draft.ladder.first
    if not draft.thorough and not checks and not first:
        return _nothing_to_do(grounds)
    plan = _plan(grounds, draft.ladder, (*draft.ladder.first, *draft.thorough))
    quick = None
    if draft.quick is not None:
        quick = _plan(grounds, draft.ladder, (*first, *draft.quick))
    elif checks and draft.thorough and not first:
        quick, plan = (
            _plan(grounds, draft.ladder, draft.thorough),
            _plan(grounds, draft.ladder, draft.ladder.first),
        )
    headline = words.mend_headline(grounds, plan, quick)
    return _advice(grounds, "mend", headline, plan, quick=quick)


def _nothing_to_do(grounds: Grounds) -> Advice:
    """Return that go-to is good, or that nothing here makes it better."""
    field, now = grounds.field_arcmin, grounds.now
    nothing = Plan(steps=())
    if is_good(now, field):
        return _advice(grounds, "good", words.good_headline(grounds), nothing)
    slack = [one for one in ("azimuth_backlash", "altitude_backlash") if one in grounds.likely]
    if slack or "loose_centring" in grounds.likely:
        action = "same_approach" if slack else "tighten"
        step = _without_figures(action, words.step_text(action, grounds))
        plan = Plan(steps=(step,))
        return _advice(grounds, "mend", words.play_headline(grounds, step), plan)
    step = _without_figures("log_again", words.step_text("log_again", grounds))
    return _advice(grounds, "log_again", words.no_remedy_headline(grounds), Plan(steps=(step,)))


def _plan(grounds: Grounds, ladder: Ladder, actions: Way) -> Plan:
    """Return the steps of a way with the figures after each, and how to use slack gears at its end.

    A step that changes nothing at the telescope leaves go-to as it was before it.
    """
    leading = tuple(name for name in actions if name in ladder.first)
    way = tuple(name for name in actions if name not in ladder.first)
    steps = []
    for k, name in enumerate(leading):
        known = None if name == "set_entry" else grounds.now
        steps.append(_step(grounds, name, known, actions[: k + 1]))
    for k, name in enumerate(way):
        done = way[: k + 1]
        # pressed after every line, perhaps after the last: how it stands is known once it is zeroed
        zeroed = any(ACTIONS[one].ends != "nothing" for one in done)
        told = zeroed or not grounds.pressed_each_line
        steps.append(_step(grounds, name, ladder.forecast(done) if told else None, done))
    slack = {"azimuth_backlash", "altitude_backlash"} & grounds.likely
    if slack and steps and len(steps) <= 2 and steps[-1].action != "apply_corrections":
        text = words.step_text("same_approach", grounds)
        steps.append(replace(steps[-1], action="same_approach", text=text, minutes=0.0))
    if "square_tube" in way:
        steps.append(_without_figures("log_again", words.SHORT_LOG))
    return Plan(steps=tuple(steps))


def _step(grounds: Grounds, name: str, found: RemedyForecast | None, done: Way) -> Step:
    text = words.step_text(name, grounds, done)
    if found is None:
        return _without_figures(name, text)
    return Step(
        action=name,
        text=text,
        minutes=minutes_for((name,), grounds.targets),
        rms_arcmin=found.rms_arcmin,
        rms_low_arcmin=found.rms_low_arcmin,
        rms_high_arcmin=found.rms_high_arcmin,
        chance_in_field=chance_of(found, grounds.field_arcmin),
    )


def _without_figures(name: str, text: str, lines: int = 1) -> Step:
    return Step(action=name, text=text, minutes=minutes_for((name,), lines=lines))


def _moved(grounds: Grounds, moved: Happened) -> Advice:
    """Return what to do about a base or tube that did not stay put; then the ladder, if it may."""
    first = "tighten" if moved.kind == "tube_shifted" else "steady_base"
    if moved.kind != "sinking" and moved.pairs_after >= FEWEST_AFTER_MOVE:
        found = _mend(grounds, (first,))
        return replace(found, headline=words.moved_headline(moved, found))
    steps = (
        _without_figures(first, words.moved_text(moved)),
        _without_figures("log_again", words.step_text("log_again", grounds)),
    )
    found = _advice(grounds, "mend", "", Plan(steps=steps), known=False)
    return replace(found, headline=words.moved_headline(moved, found))


def _wrong_entry(grounds: Grounds) -> Advice:
    """Return the entry to put right, in the controller or in the mount file, then the zero."""
    sky = grounds.sky
    assert sky is not None
    assert sky.correction is not None
    if sky.place_is_open:
        return _ask(grounds, _where_it_stood(sky.correction))
    headline = words.cut(sky.correction)
    if sky.blames_mount_file:
        step = _without_figures("mend_file", sky.correction)
        return _advice(grounds, "mend_file", headline, Plan(steps=(step,)))
    by_camera = grounds.cleared == "camera"  # then the lean is the base's own whatever was entered
    if grounds.ground.own_lean is None and not by_camera:
        actions = ("set_entry", "zero_on_star")
        steps = tuple(_without_figures(one, words.step_text(one, grounds)) for one in actions)
    else:
        levels = against_levelling(grounds) is None
        ladder = Ladder(grounds, levels, grounds.mount.is_aligned, ("set_entry",))
        steps = _plan(grounds, ladder, ("set_entry", *ladder.chosen().thorough)).steps
    if not by_camera and (sky.apart is None or sky.apart.probability > EVENS):
        steps += (_without_figures("log_again", words.LEAN_MAY_BE_THERE),)
    plan = Plan(steps=steps)
    return _advice(grounds, "mend", words.with_what_follows(headline, plan), plan)


def _too_few(grounds: Grounds) -> Advice:
    """Return that more stars are needed first; lines set aside are centred again, if few are left.

    With many lines and nothing to be seen in them, the log is begun again.
    """
    lines = grounds.lines_set_aside
    name = "recentre_lines" if lines and grounds.pairs_used <= LAST_FEW_LINES else "log_again"
    step = _without_figures(name, words.too_few_text(grounds, name), max(len(lines), 1))
    headline = words.too_few_headline(grounds)
    return _advice(grounds, "log_again", headline, Plan(steps=(step,)))


def _alignment_went_wrong(grounds: Grounds) -> Advice:
    ladder = Ladder(grounds, False, True)
    plan = _plan(grounds, ladder, ("realign",))
    return _advice(grounds, "mend", words.fault_headline(grounds, plan), plan)


def _ask(grounds: Grounds, question: Question) -> Advice:
    step = replace(
        _step(grounds, "answer_question", grounds.now, ()), text=words.answer_text(question)
    )
    if grounds.readings.stops is not None:
        step = _without_figures("answer_question", step.text)
    plan = Plan(steps=(step,))
    return _advice(
        grounds,
        "ask",
        words.cut(question.ask),
        plan,
        question=question,
        known=grounds.readings.stops is None,
    )


def _figures_say_nothing(grounds: Grounds) -> Advice:
    """Return what to do where no fit may speak; what explains the figures is put right first."""
    question, sky = grounds.readings.question, grounds.sky
    if question is not None:
        return _ask(grounds, question)
    if sky is not None and sky.place_is_open and sky.correction is not None:
        return _ask(grounds, _where_it_stood(sky.correction))
    again = _without_figures("log_again", words.step_text("log_again", grounds))
    steps: tuple[Step, ...] = (again,)
    state: State = "log_again"
    headline = words.cut(grounds.readings.stops or "")
    if grounds.readings.fits_no_mount and grounds.fault is not None:
        state = "mend"
        steps = (_without_figures("realign", words.step_text("realign", grounds)), again)
    elif grounds.readings.fits_no_mount and sky is not None and sky.correction is not None:
        action = "mend_file" if sky.blames_mount_file else "set_entry"
        state = "mend_file" if sky.blames_mount_file else "mend"
        steps = (_without_figures(action, sky.correction), again)
    return _advice(grounds, state, headline, Plan(steps=steps), known=False)


def _where_it_stood(correction: str) -> Question:
    """Return what to look up where only the telescope's true site tells which entry is wrong."""
    ask, _, why = correction.partition(". ")
    return Question(f"{ask}.", why, "[site]")


def _cannot_tell(grounds: Grounds) -> bool:
    """Whether nothing is found, nothing is seen to be right, and the miss may be anything."""
    now = grounds.now
    return not grounds.likely and now.rms_high_arcmin > VAGUE * max(now.rms_low_arcmin, 1.0)


def _alignment_question(grounds: Grounds) -> Question | None:
    """Return what to ask of the alignment where it is not known and answers lead elsewhere."""
    if not is_open_what_the_alignment_was(grounds) or is_good(grounds.now, grounds.field_arcmin):
        return None
    free = against_levelling(grounds) is None
    not_aligned = Ladder(grounds, free, False).chosen()
    by_the_sky = grounds.mount.readout == "sky"
    aligned = Ladder(grounds, False, True, corrects=by_the_sky).chosen()
    if (not_aligned.thorough, not_aligned.quick) == (aligned.thorough, aligned.quick):
        return None
    return alignment_question(
        words.way_words(not_aligned.thorough), words.way_words(aligned.thorough)
    )


def _advice(
    grounds: Grounds,
    state: State,
    headline: str,
    plan: Plan,
    *,
    quick: Plan | None = None,
    question: Question | None = None,
    known: bool = True,
) -> Advice:
    now = grounds.now
    return Advice(
        state=state,
        headline=headline,
        question=question,
        steps=plan.steps,
        quick=quick,
        left_out=_left_out(grounds, plan, quick) if state in ("mend", "good") and known else (),
        now_rms_arcmin=now.rms_arcmin if known else None,
        now_chance=chance_of(now, grounds.field_arcmin) if known else None,
        field_arcmin=grounds.field_arcmin,
        field_assumed=grounds.mount.optics.field_of_view_arcmin is None,
    )


def _left_out(grounds: Grounds, plan: Plan, quick: Plan | None) -> tuple[LeftOut, ...]:
    """Return the remedies of the table that are not advised, each with what it would bring."""
    done = {*plan.actions, *(quick.actions if quick is not None else ())}
    end = plan.rms_arcmin if plan.rms_arcmin is not None else grounds.now.rms_arcmin
    found = []
    for remedy in REMEDIES.values():
        if not remedy.actions or set(remedy.actions) <= done:
            continue
        action = next(name for name in remedy.actions if name not in done)
        if action == "level" and against_levelling(grounds) not in (None, "no_lean"):
            found.append(LeftOut(action=action, why=words.NOT_NOW))
            continue
        rms = grounds.forecast_of(remedy.name).rms_arcmin
        found.append(LeftOut(action=action, why=words.left_out_words(rms, end, grounds)))
    return tuple(found)
