"""The figures of simulated evenings: one for each thing promised, printed beside its target.

Read `evenings.py` first. Each figure is a generator of lines; the functions `one_…` under it look
at one evening and are what the tests run too. Rates of false findings take thirty times as many
nights as the others.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Any

import numpy as np
from bench.evening_kinds import FORMS, GOOD, KINDS, MEND_FILE, evening
from bench.evening_orders import BY_HAND, Answer, Outcome, answer, answer_to, outcome
from bench.evening_play import Evening
from bench.nights import night

import pointmodel as pm
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError

FALSE_TIMES = 30
TERMS = (
    "azimuth_index",
    "altitude_index",
    "collimation",
    "non_perpendicularity",
    "tilt_north",
    "tilt_east",
)
TURN_ARCMIN = 21600.0
# kinds of which something is asked: answered, they should be advised on like any other
ASKED = (
    "plain_silent",
    "zeroed_silent",
    "alignment_not_said_axes",
    "alignment_not_said_sky",
    "noted_after_press_exact",
    "synced_each",
    "synced_some",
    "columns_exchanged",
    *(f"{form}:{which}" for form in FORMS for which in ("centred", "both")),
)


def over(function: Callable[[int], Any], nights: int) -> list[Any]:
    """The function's value for each evening's seed, on all cores."""
    with ProcessPoolExecutor() as pool:
        return list(pool.map(function, range(nights), chunksize=4))


def rate(name: str, found: Any, target: str) -> str:
    """A line with a share and what it is to be."""
    found = list(found)
    return f"{name:52} {np.mean(found):.3f} of {len(found)}   (to reach: {target})"


# ---------------------------------------------------------------- first advice


def one_advice(kind: str, seed: int) -> Outcome:
    """What the first order of an evening is worth."""
    said = evening(kind, seed)
    return outcome(said, answer(said))


def first_advice(nights: int) -> Iterator[str]:
    """First advice over all kinds: right, wrong, harmful, and what is ordered."""
    sums = Counter[str]()
    for kind in KINDS:
        found = over(partial(one_advice, kind), nights)
        judged = Counter(one.judged for one in found)
        sums.update({word: count / nights for word, count in judged.items()})
        shares = "  ".join(
            f"{judged[word] / nights:5.2f}" for word in ("right", "wrong", "harmful")
        )
        orders = Counter(f"{one.order} ({one.judged})" for one in found).most_common(4)
        said = "; ".join(f"{order} {count / nights:.2f}" for order, count in orders)
        yield f"{kind:36} {shares}   {said}"
    shares = ", ".join(
        f"{word} {sums[word] / len(KINDS):.3f}" for word in ("right", "wrong", "harmful")
    )
    yield f"all kinds: {shares}   (to reach: harmful 0)"


def one_answered(kind: str, seed: int) -> Outcome:
    """What the first order is worth once the owner has answered every question rightly."""
    one = evening(kind, seed)
    return outcome(one, answer_to(one.text, one.told), answered=True)


def answered(nights: int) -> Iterator[str]:
    """First advice once every question is answered in the mount file: right, wrong, harmful."""
    for kind in ASKED:
        found = over(partial(one_answered, kind), nights)
        judged = Counter(one.judged for one in found)
        shares = "  ".join(
            f"{judged[word] / nights:5.2f}" for word in ("right", "wrong", "harmful")
        )
        orders = Counter(f"{one.order} ({one.judged})" for one in found).most_common(4)
        said = "; ".join(f"{order} {count / nights:.2f}" for order, count in orders)
        yield f"{kind:36} {shares}   {said}"


# ---------------------------------------------------------------- what the controller was told

UNSAID = ("alignment_not_said_axes", "alignment_not_said_sky", "plain_silent", "zeroed_silent")


def one_feet(kind: str, seed: int) -> bool:
    """Whether feet are ordered to be turned."""
    return answer(evening(kind, seed)).orders_feet


def alignment_not_said(nights: int) -> Iterator[str]:
    """Alignment not said: are feet ordered?"""
    for kind in UNSAID:
        yield rate(f"{kind}: feet ordered", over(partial(one_feet, kind), nights), "0")


def calls_good(said: Answer) -> bool:
    """Whether the mount is called good or healthy."""
    return said.fit is not None and (said.first == GOOD or said.likely("healthy"))


def asks(said: Answer, about: tuple[str, ...]) -> bool:
    """Whether the one question is about one of these keys of the mount file."""
    question = getattr(said.readings, "question", None)
    return question is not None and any(key in question.answer_in for key in about)


def one_after_press(kind: str, seed: int) -> tuple[bool, bool]:
    """Whether such a log is called good, and whether it is named or asked about."""
    said = answer(evening(kind, seed))
    named = said.named("readings_after_sync") or asks(said, ("presses", "noted"))
    return calls_good(said), named


def one_good(step_arcsec: float, seed: int) -> tuple[bool, bool]:
    """On a good mount zeroed on a star: is it falsely said that figures were noted after; asked?"""
    said = answer(evening("plain_good", seed, step_arcsec=step_arcsec, silent=("alignment",)))
    return said.taken_up("readings_after_sync"), asks(said, ("presses", "noted"))


def after_press(nights: int) -> Iterator[str]:
    """Readings noted after the press: called good, named or asked; falsely on good mounts."""
    for kind in ("noted_after_press_exact", "noted_after_press_jitter"):
        found = over(partial(one_after_press, kind), nights)
        yield rate(f"{kind}: called good", [good for good, _ in found], "0")
        yield rate(f"{kind}: named or asked", [named for _, named in found], "≥ .99")
    for step in (1.0, 36.0, 60.0, 360.0):
        found = over(partial(one_good, step), nights * FALSE_TIMES // 4)
        yield rate(f"good zeroed mount, display {step:g}″: named", [a for a, _ in found], "≤ .002")
        asked = "≤ .05" if step <= 60.0 else "not bound"
        yield rate(f"good zeroed mount, display {step:g}″: asked", [b for _, b in found], asked)


def lean_error_arcmin(fit: Any, truth: Any) -> float:
    """How far the lean that a fit finds is from the true one."""
    found = {term.name: term.value for term in fit.term_estimates}
    off = [found[name] - truth[name] for name in ("tilt_north", "tilt_east")]
    return float(np.hypot(*off))


def one_synced(kind: str, finding: str, seed: int, **changes: Any) -> dict[str, Any]:
    """Is the habit found, is the lean right, is what is ordered harmful?"""
    one = evening(kind, seed, **changes)
    said = answer(one)
    plain = pm.fit(one.plain_log)
    return {
        "found": said.taken_up(finding) or said.named(finding),
        "taken_up": said.taken_up(finding),
        "error": lean_error_arcmin(said.fit, one.terms),
        "plain_error": lean_error_arcmin(plain, one.terms),
        "judged": outcome(one, said).judged,
        "verdict": said.level.verdict,
        "plain_verdict": pm.level(plain).verdict,
    }


def lean_errors(found: list[dict[str, Any]]) -> str:
    """RMS and medians of the lean's errors, as it is and in the plain log."""
    own, plain = (np.array([one[key] for one in found]) for key in ("error", "plain_error"))
    ratio = np.sqrt(np.mean(own**2) / np.mean(plain**2))
    medians = f"medians {np.median(own):.2f}′ and {np.median(plain):.2f}′"
    return f"    lean error over the plain log's: RMS ratio {ratio:.2f}, {medians}"


def synced_each(nights: int) -> Iterator[str]:
    """Synced after each line, not logged: found, and the lean as from the plain log."""
    for lines in (3, 4, 6, 9, 12):
        function = partial(one_synced, "synced_each", "synced_after_each", lines=(lines, lines))
        found = over(function, nights)
        target = "≥ .98" if lines >= 4 else "not bound"
        yield rate(f"{lines} lines: found", [one["found"] for one in found], target)
        yield rate(f"{lines} lines: harmful", [one["judged"] == "harmful" for one in found], "0")
        yield lean_errors(found)


def synced_logged(nights: int) -> Iterator[str]:
    """Synced and logged as events: `level` answers as on the plain log."""
    found = over(partial(one_synced, "synced_each_logged", "none"), nights)
    unsure = ("cannot_tell", "ask")
    asked = [one for one in found if one["plain_verdict"] not in unsure]
    yield rate("level answers where it answers on the plain log",
               [one["verdict"] not in unsure for one in asked], "≥ .98")  # fmt: skip
    yield rate("verdict as on the plain log",
               [one["verdict"] == one["plain_verdict"] for one in found], "high")  # fmt: skip
    yield rate("harmful", [one["judged"] == "harmful" for one in found], "0")
    yield lean_errors(found) + "   (to reach: 1.5)"


def synced_some(nights: int) -> Iterator[str]:
    """Synced after some lines, not logged: found; never worse than unknown."""
    found = over(partial(one_synced, "synced_some", "synced_after_some"), nights)
    yield rate("8 to 12 lines: found", [one["found"] for one in found], "≥ .9")
    yield rate("harmful", [one["judged"] == "harmful" for one in found], "0")
    yield lean_errors(found)


# ---------------------------------------------------------------- columns


def one_columns(kind: str, finding: str, seed: int) -> tuple[bool, bool, str]:
    """Is it named, is it taken up; what was said first."""
    said = answer(evening(kind, seed))
    return said.named(finding), said.taken_up(finding), said.sentence


def one_plain_findings(seed: int) -> tuple[str, ...]:
    """What is found about the figures of an honest log with names and times."""
    kinds = ("plain", "zeroed", "plain_good", "aligned_sky")
    return tuple(answer(evening(kinds[seed % 4], seed)).findings)


def columns_exchanged(nights: int) -> Iterator[str]:
    """Columns exchanged, with names and times: named; false findings on honest logs."""
    found = over(partial(one_columns, "columns_exchanged", "columns_exchanged"), nights)
    yield rate("named", [named for named, _, _ in found], "≥ .98")
    honest = over(one_plain_findings, nights * FALSE_TIMES)
    yield rate("honest logs: named exchanged",
               ["columns_exchanged" in names for names in honest], "≤ .001")  # fmt: skip
    yield rate("honest logs: anything found", [bool(names) for names in honest], "≤ .005")
    yield f"    {Counter(name for names in honest for name in names).most_common(4)}"


def forms(nights: int) -> Iterator[str]:
    """Azimuth backwards or from south, zenith distance, hours, radians, axes exchanged."""
    for form in FORMS:
        for which in ("centred", "commanded", "both"):
            found = over(partial(one_columns, f"{form}:{which}", form), nights)
            yield rate(f"{form}, {which}: named", [one[0] for one in found], "≥ .98")
            yield rate(f"{form}, {which}: taken up", [one[1] for one in found], "≥ .98")


# ---------------------------------------------------------------- moves


def moved_line(said: Answer) -> int | None:
    """The line of the log after which the base is said to have moved, None where it is not said."""
    cause = said.causes.get("moved")
    if cause is None or cause.verdict != "likely":
        return None
    line = getattr(cause, "after_line", None)
    lines = getattr(cause, "lines", ())
    return line if line is not None else lines[0] if lines else 0


def one_knock(seed: int, **changes: Any) -> tuple[bool, bool, str]:
    """Is the knock found, at the right line; how the first order is judged."""
    one = evening("knocked", seed, **changes)
    said = answer(one)
    line = moved_line(said)
    assert one.played.moved_after is not None
    return line is not None, line == one.played.moved_after + 1, outcome(one, said).judged


def one_still(population: str, seed: int) -> bool:
    """Is a move found in a night of a mount that did not move?"""
    rng = np.random.default_rng([seed, 53])
    fit = pm.fit(night(rng, population, int(rng.integers(6, 16))).log)  # type: ignore[arg-type]
    moves = {"moved", "sinking", "tube_shifted"}
    return any(cause.cause in moves and cause.verdict == "likely" for cause in fit.causes)


def knocks(nights: int) -> Iterator[str]:
    """A knock of 25′ or more: found, at the right line; false on nights that stood still."""
    for lines in ((8, 8), (9, 12)):
        found = over(partial(one_knock, lines=lines), nights)
        yield rate(f"{lines} lines: found", [one[0] for one in found], "≥ .97")
        yield rate(f"{lines} lines: at the right line", [one[1] for one in found], "≥ .95")
        yield rate(f"{lines} lines: harmful", [one[2] == "harmful" for one in found], "0")
    for population in ("usual", "varied", "worse"):
        false = over(partial(one_still, population), nights * FALSE_TIMES // 3)
        yield rate(f"{population} nights: a move found", false, "≤ .002")


def one_sinking(seed: int) -> tuple[bool, bool]:
    """Is the sinking named, are feet ordered?"""
    said = answer(evening("sinking", seed))
    return said.likely("sinking"), said.orders_feet


def sinking(nights: int) -> Iterator[str]:
    """Ground that sinks 60′ an hour over 40 minutes: named, no feet for the mean."""
    found = over(one_sinking, nights)
    yield rate("named", [named for named, _ in found], "≥ .9")
    yield rate("feet ordered", [feet for _, feet in found], "0")


# ---------------------------------------------------------------- times and entries


def blames_the_controller(one: Evening, said: Answer) -> bool:
    """Whether an entry of the controller is called wrong, by fit or by check."""
    blamed = any(said.likely(cause) for cause in ("clock_or_longitude", "latitude"))
    if said.first == "set_entry":
        return True
    try:
        checked = pm.check(one.log)
    except InputError:
        return blamed
    wrong = [e for e in checked.explanations if e.entry not in ("agrees", "mount_file")]
    likely = any(entry.verdict == "likely" for entry in wrong)
    return blamed or likely or (checked.verdict == "disagrees" and not names_file(checked))


def names_file(checked: Any) -> bool:
    """Whether the mount file is named as likely, or as one of what may be wrong."""
    return any(
        one.entry == "mount_file" and one.verdict != "ruled_out" for one in checked.explanations
    )


def one_minutes(kind: str, seed: int) -> bool:
    """Is a right controller blamed?"""
    one = evening(kind, seed)
    return blames_the_controller(one, answer(one))


def minutes(nights: int) -> Iterator[str]:
    """Minutes cut or rounded: is a right controller blamed?"""
    for times in ("cut", "rounded"):
        for lines in (4, 8):
            found = over(partial(one_minutes, f"minutes_{times}_{lines}"), nights)
            yield rate(f"{times}, {lines} lines: right controller blamed", found, "≤ .005")


def one_file(kind: str, seed: int) -> tuple[bool, bool, str]:
    """Is the mount file, or an entry of the controller, named; what is said first."""
    one = evening(kind, seed)
    try:
        checked = pm.check(one.log)
    except InputError as error:
        return "latitude" in str(error), False, str(error)
    likely = [e.entry for e in checked.explanations if e.verdict == "likely"]
    entries = any(entry not in ("agrees", "mount_file") for entry in likely)
    first = answer(one)
    return names_file(checked) or first.first == MEND_FILE, entries, first.sentence


def which_file(nights: int) -> Iterator[str]:
    """Wrong controller or wrong mount file: is the right one named, or both?"""
    found = over(partial(one_file, "wrong_entry"), nights)
    yield rate("controller wrong: controller named, or both", [one[1] for one in found], "≥ .95")
    yield rate("    the mount file named too", [one[0] for one in found], "–")
    for kind in (name for name in KINDS if name.startswith("mount_file_")):
        found = over(partial(one_file, kind), nights)
        yield rate(f"{kind}: mount file named, or both", [one[0] for one in found], "≥ .95")
        yield rate("    the controller named too", [one[1] for one in found], "–")
    found = over(partial(one_file, "plain"), nights)
    yield rate("both right: the mount file named", [one[0] for one in found], "≤ .005")
    yield rate("both right: the controller named", [one[1] for one in found], "≤ .005")


def one_doctor(kind: str, seed: int) -> tuple[bool, bool]:
    """Is the alignment called wrong, and the star named that truly was centred (or meant)?"""
    one = evening(kind, seed)
    said = answer(one)
    texts = [str(said.fit), *(cause.evidence for cause in said.causes.values())]
    star = one.played.taken_for or one.played.aligned_on[1]
    wrong = said.likely("alignment")
    return wrong, any(star in text for text in texts)


def doctor(nights: int) -> Iterator[str]:
    """A declared alignment with a wrong or badly centred second star: called wrong, star named."""
    for kind in ("aligned_wrong_star", "aligned_badly_centred"):
        found = over(partial(one_doctor, kind), nights)
        yield rate(f"{kind}: alignment called wrong", [one[0] for one in found], "≥ .95")
        yield rate(f"{kind}: the star named", [one[1] for one in found], "high")
    found = over(partial(one_doctor, "aligned_sky"), nights)
    yield rate("aligned well: called wrong", [one[0] for one in found], "low")


# ---------------------------------------------------------------- nothing fits; rough and fine logs


def one_hopeless(kind: str, seed: int) -> tuple[bool, bool, str]:
    """Is anything ordered by hand, is it said that nothing fits; what is said first."""
    one = evening(kind, seed)
    said = answer(one)
    by_hand = said.first in BY_HAND or said.first == GOOD or said.orders_feet
    if kind == "hopeless_radians" and said.taken_up("radians_not_degrees"):
        by_hand = said.orders_feet  # read as radians it is a log like any other
    refused = said.fit is None or said.named("fits_no_mount")
    return by_hand, refused, said.sentence


def hopeless(nights: int) -> Iterator[str]:
    """Hopeless logs: is anything ordered by hand, or called good?"""
    for kind in (name for name in KINDS if name.startswith("hopeless_")):
        found = over(partial(one_hopeless, kind), nights)
        yield rate(f"{kind}: ordered by hand", [one[0] for one in found], "0")
        yield rate(f"{kind}: said to fit no mount", [one[1] for one in found], "high")


def held(fit: Any, truth: Any) -> list[bool]:
    """Which 95 % intervals of the six terms hold the truth."""
    answers = []
    for estimate in fit.term_estimates[: len(TERMS)]:
        true = truth[estimate.name]
        turns = 0.0
        if estimate.name == "azimuth_index":
            turns = TURN_ARCMIN * round((estimate.value - true) / TURN_ARCMIN)
        answers.append(bool(estimate.low <= true + turns <= estimate.high))
    return answers


def one_loose(said: str, seed: int) -> tuple[list[bool], FloatArray]:
    """Which intervals hold on a coarse set-up, and how wide they are."""
    one = evening("loose_said" if said == "centring" else "loose_low_power", seed)
    mount = dict(one.mount)
    if said == "field":
        mount["optics"] = {"field_of_view": 150.0}  # an eyepiece of low power
    fit = pm.fit(pm.read_log(_file(one.text), mount))
    wide = np.array([term.high - term.low for term in fit.term_estimates[: len(TERMS)]])
    return held(fit, one.terms), wide


def _file(text: str) -> Any:
    return io.StringIO(text)


def loose(nights: int) -> Iterator[str]:
    """Three stars, centring 5′, coarse set-up: do the intervals hold?"""
    for said, target in (("nothing", "≥ .87"), ("centring", "≥ .92"), ("field", "≥ .92")):
        found = over(partial(one_loose, said), nights)
        each = " ".join(f"{share:.2f}" for share in np.mean([one[0] for one in found], axis=0))
        yield rate(f"{said} stated: intervals hold", np.ravel([one[0] for one in found]), target)
        yield f"    each term {each}"


def one_label(kind: str, seed: int) -> tuple[float, bool]:
    """Residual over the noise, and whether the flexure is found."""
    one = evening(kind, seed)
    said = answer_to(one.text, one.mount)
    if said.fit is None:
        return float("nan"), False
    noise_arcmin = np.sqrt(2.0) * one.script.sigma_arcmin
    taken = any(term.name == "tube_flexure" for term in said.fit.term_estimates)
    return said.fit.residual_rms_arcmin / noise_arcmin, taken


def labels(nights: int) -> Iterator[str]:
    """A published-style log: commanded to 0.1°, offsets to 0.1″, 20″ of flexure, 130 lines."""
    for kind in ("coarse_labels", "coarse_label_nudges"):
        found = over(partial(one_label, kind), max(nights // 5, 10))
        ratio = float(np.median([one[0] for one in found]))
        yield f"{kind}: residual over the noise {ratio:.3f}   (to reach: ≤ 1.05)"
        yield rate(f"{kind}: flexure found", [one[1] for one in found], "1")


def one_nudges(seed: int) -> tuple[float, float] | None:
    """Largest difference of the six terms from the axis log's, in standard errors; miss ratio."""
    one = evening("nudges", seed)
    said = answer(one)
    if said.fit is None:
        return None
    axis = pm.fit(evening("nudges", seed, form="centred").log)
    differences = []
    for ours, theirs in zip(said.fit.term_estimates[:6], axis.term_estimates[:6], strict=True):
        size = np.hypot(ours.standard_error, theirs.standard_error)
        differences.append(abs(ours.value - theirs.value) / size)
    errors = [lean_error_arcmin(fit, one.terms) for fit in (said.fit, axis)]
    return max(differences), errors[0] - errors[1]


def nudges(nights: int) -> Iterator[str]:
    """A nudge log of a night gives the same terms as its axis log."""
    found = [one for one in over(one_nudges, nights) if one is not None]
    yield f"nudge logs read: {len(found)} of {nights}"
    if found:
        same = [one[0] < 2.5 for one in found]
        yield rate("all six terms within 2.5 standard errors", same, "≥ .95")
        more = float(np.median([one[1] for one in found]))
        yield f"    lean error more than the axis log's: median {more:.2f}′"


FIGURES: dict[str, Callable[[int], Iterator[str]]] = {
    "first_advice": first_advice,
    "answered": answered,
    "alignment_not_said": alignment_not_said,
    "after_press": after_press,
    "synced_each": synced_each,
    "synced_logged": synced_logged,
    "synced_some": synced_some,
    "columns_exchanged": columns_exchanged,
    "forms": forms,
    "knocks": knocks,
    "sinking": sinking,
    "minutes": minutes,
    "which_file": which_file,
    "doctor": doctor,
    "hopeless": hopeless,
    "loose": loose,
    "labels": labels,
    "nudges": nudges,
}
