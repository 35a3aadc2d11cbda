"""What is wrong with the mount, with the evidence, and what to do about it.

Read `estimate/sparse.py` first: it says how probable each fault is. Here probabilities become
verdicts and sentences. From which probability on a cause is likely or possible stands in
`mount/priors.py`, how large a term must be to matter with the term in `terms.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.figures import figure, miss_words
from pointmodel.base.normal import NORMAL_95
from pointmodel.diagnosis.evidence import (
    Case,
    certainty_words,
    clock_words,
    evidence_words,
    limit_words,
    look_alike_words,
    open_arcmin,
    ruled_out_words,
)
from pointmodel.diagnosis.faultwords import fault_words, realign_words
from pointmodel.diagnosis.happened import REMEDIES_BY_KIND, happened_evidence, of_the_mount
from pointmodel.diagnosis.result import Cause, Verdict
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import SetAside
from pointmodel.estimate.sparse import FaultFinding
from pointmodel.mount.priors import EVENS, HEALTHY_BELOW, LIKELY_ABOVE, POSSIBLE_ABOVE
from pointmodel.mount.remedies import REMEDIES
from pointmodel.mount.terms import TERMS
from pointmodel.reading.sitezone import site_slip

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault

FEWEST_TO_BE_HEALTHY = 5
LOOSE_SIGMA_ARCMIN = 4.0
CLOCK_FITS_WITHIN_SIGMAS = 3.0
TILTS = ("tilt_north", "tilt_east")
OF_ENTRIES = ("clock_or_longitude", "latitude")


@dataclass(frozen=True)
class _Ranked:
    cause: Cause
    rank: tuple[int, float]


def causes(case: Case) -> tuple[Cause, ...]:
    """Return what the night shows to be wrong, best supported first; `healthy` stands alone.

    Likely causes come by size over the size that matters, then possible ones by probability, then
    what is ruled out. Lines set aside follow the faults of the mount: they are out of the fit
    already.
    """
    case = _with_own_lean(case)
    ranked = [_of_finding(finding, case) for finding in _worth_telling(case)]
    if case.fault is not None:
        ranked = [one for one in ranked if one.cause.cause != "alignment"]
        ranked.append(_of_alignment(case.fault, case))
    ranked += [_of_happened(one) for one in of_the_mount(case.happened)]
    ranked += [_of_line(pair) for pair in case.set_aside]
    ranked.append(_loose(case))
    ranked += _of_entries(case)
    ranked += _of_site(case)
    if _healthy(case):
        return (_healthy_cause(case),)
    return tuple(one.cause for one in sorted(ranked, key=lambda one: one.rank))


def _worth_telling(case: Case) -> Iterable[FaultFinding]:
    """Return one finding a cause: of two drifts the one that is more probable.

    On sinking ground everything drifts: that is told as one thing that happened.
    """
    best: dict[str, FaultFinding] = {}
    for finding in case.findings:
        cause = _code(finding, case)
        if _sinks(case) and cause in ("drift", "sinking"):
            continue
        if cause not in best or finding.probability > best[cause].probability:
            best[cause] = finding
    return best.values()


def _sinks(case: Case) -> bool:
    """Whether the ground gives way: then no foot is turned for the lean that there is now."""
    return any(one.kind == "sinking" and one.taken_up for one in case.happened)


def _with_own_lean(case: Case) -> Case:
    """Return the case with the base's own lean in place of the one that wrong entries feign."""
    apart = None if case.sky is None else case.sky.apart
    if apart is None:
        return case
    sd = np.sqrt(np.diag(apart.covariance))
    reach = float(np.hypot(*apart.mean_arcmin) + NORMAL_95 * sd.max())
    own = tuple(
        FaultFinding(TILTS, apart.probability, apart.mean_arcmin, sd, reach)
        if finding.terms == TILTS
        else finding
        for finding in case.findings
    )
    room = dict(zip(TILTS, np.abs(apart.mean_arcmin) + NORMAL_95 * sd, strict=True))
    return replace(case, findings=own, reach_arcmin={**case.reach_arcmin, **room})


def _of_entries(case: Case) -> list[_Ranked]:
    """Return what the commanded places say of the controller's clock and place."""
    sky = case.sky
    if sky is None:
        return _what_a_lean_could_be(case)
    ranked = []
    size = 0.0 if sky.apart is None else sky.apart.seeming_arcmin / TERMS[TILTS[0]].matters
    for suspect in sky.suspects:
        verdict: Verdict = "likely" if suspect.probability > EVENS else "possible"
        text = suspect.text
        if sky.apart is not None and suspect.cause in OF_ENTRIES:
            text += f" It feigns a lean of {miss_words(sky.apart.seeming_arcmin)}."
        weight = max(size, 1.0) if verdict == "likely" else suspect.probability
        cause = Cause(suspect.cause, verdict, text, suspect.remedy)
        ranked.append(_Ranked(cause, (_ORDER[verdict], -weight)))
    if sky.verdict == "agrees":
        out = (_ORDER["ruled_out"], 0.0)
        ranked += [_Ranked(Cause(c, "ruled_out", sky.agreement, ""), out) for c in OF_ENTRIES]
    elif sky.verdict == "cannot_tell":
        ranked += _what_a_lean_could_be(case)
    return ranked


def _of_site(case: Case) -> list[_Ranked]:
    """Return the slip in the mount file's site that its time zone betrays, unless the stars do."""
    slip = site_slip(case.mount)
    if slip is None or (case.sky is not None and case.sky.doubts_mount_file):
        return []
    text = f"{slip.text[0].upper()}{slip.text[1:]}."
    cause = Cause("mount_file", "likely", text, f"{slip.order}.")
    return [_Ranked(cause, (_ORDER["likely"], -1.0))]


def _healthy(case: Case) -> bool:
    if case.sky is not None and case.sky.suspects:
        return False
    if site_slip(case.mount) is not None:
        return False
    rivals = [finding.probability for finding in case.findings]
    if case.pairs_used < FEWEST_TO_BE_HEALTHY or case.set_aside or of_the_mount(case.happened):
        return False
    if max([*rivals, case.loose_probability]) >= HEALTHY_BELOW:
        return False
    # collimation and non-perpendicularity may hide each other; the rest must have been seen to be
    # right
    telling = (
        f for f in case.findings if f.terms[0] not in ("collimation", "non_perpendicularity")
    )
    return all(open_arcmin(finding, case) is None for finding in telling)


def verdict_of(probability: float) -> Verdict:
    """Return what a cause of this probability is called."""
    if probability > LIKELY_ABOVE:
        return "likely"
    return "possible" if probability > POSSIBLE_ABOVE else "ruled_out"


_ORDER: dict[Verdict, int] = {"likely": 0, "possible": 1, "ruled_out": 2}


def _code(finding: FaultFinding, case: Case) -> str:
    """Return the cause's code; after an alignment a rotation is an error of that alignment."""
    code = TERMS[finding.terms[0]].cause
    return "alignment" if case.mount.lean_is_hidden and code in ROTATIONS else code


def _of_finding(finding: FaultFinding, case: Case) -> _Ranked:
    code = _code(finding, case)
    verdict = verdict_of(finding.probability)
    unseen_arcmin = open_arcmin(finding, case)
    if verdict == "ruled_out" and unseen_arcmin is not None:
        text = (
            f"not seen, but these stars cannot tell: up to {unseen_arcmin:.0f}′ could pass unseen"
        )
        return _Ranked(Cause(code, "possible", text, CENTRE_MORE), (_ORDER["possible"], 0.0))
    size = float(np.hypot.reduce(finding.value)) / TERMS[finding.terms[0]].matters
    if verdict == "ruled_out":
        evidence = ruled_out_words(finding, case)
    else:
        evidence = f"{evidence_words(finding, case)}; {certainty_words(finding.probability)}"
        if code == "alignment" and case.alignment is not None:
            evidence += f"; {case.alignment}"
        evidence += look_alike_words(finding, case)
    weight = size if verdict == "likely" else finding.probability
    remedy = "" if verdict == "ruled_out" else _remedy(code, finding, case)
    return _Ranked(Cause(code, verdict, evidence, remedy), (_ORDER[verdict], -weight))


CENTRE_MORE = "centre one or two more stars, low and high, well around the sky"
ROTATIONS = ("azimuth_zero", "not_level")


def _remedy(code: str, finding: FaultFinding, case: Case) -> str:
    """Return what cures a fault, and what that gains; corrections where nothing by hand does."""
    if code == "alignment":
        return _with_gain("realign", case)
    term = TERMS[finding.terms[0]]
    if term.cured_by is None:
        return f"{term.remedy}; meanwhile {_with_gain('apply_corrections', case)}"
    if code == "not_level" and _sinks(case):
        return REMEDIES_BY_KIND["sinking"]
    if code == "not_level" and case.feet_wait is not None:
        return case.feet_wait
    text = _with_gain(term.cured_by, case)
    if code == "not_level" and not case.clock_cleared:
        return f"first check the controller's clock; then {text}"
    return text


def alignment_cause(fault: AlignmentFault, realign_on: tuple[str, str] | None) -> Cause:
    """Return what went wrong when the controller was aligned, as a cause."""
    return Cause(
        "alignment",
        "likely",
        f"{fault_words(fault).rstrip('.')}; {certainty_words(fault.probability)}",
        realign_words(realign_on),
    )


def _of_alignment(fault: AlignmentFault, case: Case) -> _Ranked:
    """Return it with what aligning again gains; it comes before all else."""
    cause = alignment_cause(fault, case.realign_on)
    told = f"{cause.remedy} Then go-to misses {_gain('realign', case)}"
    return _Ranked(replace(cause, remedy=told), (_ORDER["likely"], -np.inf))


def _with_gain(code: str, case: Case) -> str:
    remedy = REMEDIES[code]
    return f"{remedy.order} ({remedy.minutes} min): go-to misses {_gain(code, case)}"


def _gain(code: str, case: Case) -> str:
    by_code = {forecast.remedy: forecast.rms_arcmin for forecast in case.forecasts}
    gain = f"{miss_words(by_code['none'])} → {miss_words(by_code[code])}"
    return gain if by_code[code] < by_code["none"] else f"{gain}, alone it gains nothing"


def _what_a_lean_could_be(case: Case) -> list[_Ranked]:
    """Return the clock and the latitude as possible causes of a lean, while nothing clears them."""
    lean = next(finding for finding in case.findings if finding.terms == TILTS)
    if case.clock_cleared or lean.probability <= POSSIBLE_ABOVE:
        return []
    north, east = (float(part) for part in lean.value)
    place = case.mount.place_deg
    remedy = (
        "compare the controller's date, time, zone, summer time and place with a phone, or put a "
        "bubble level on the base"
    )
    ranked = []
    if abs(north) < CLOCK_FITS_WITHIN_SIGMAS * float(lean.sd[0]) + 0.05 * abs(east):
        ranked.append(("clock_or_longitude", clock_words(east, place)))
    if abs(east) < CLOCK_FITS_WITHIN_SIGMAS * float(lean.sd[1]) + 0.05 * abs(north):
        way = "too far south" if north > 0 else "too far north"
        size = f"{figure(abs(north) / 60.0, 2)}°"
        ranked.append(
            ("latitude", f"a latitude entered {size} {way} would look the same as this lean")
        )
    if not ranked:
        text = (
            "clock or longitude and latitude, both wrong at once, would look the same as this lean"
        )
        ranked.append(("clock_or_longitude", text))
    return [
        _Ranked(
            Cause(code, "possible", text, remedy), (_ORDER["possible"], -0.5 * lean.probability)
        )
        for code, text in ranked
    ]


def _of_line(pair: SetAside) -> _Ranked:
    remedies = {
        "wrong_star": "centre that star again, sure of its name, or strike the line out",
        "log_typo": "correct the figure if it is certain, or strike the line out",
    }
    verdict: Verdict = "likely" if pair.probability_bad > LIKELY_ABOVE else "possible"
    evidence = f"line {pair.line}: {pair.hint} ({certainty_words(pair.probability_bad)})"
    rank = (_ORDER[verdict], 0.0 if verdict == "likely" else -pair.probability_bad)
    return _Ranked(Cause(pair.cause, verdict, evidence, remedies[pair.cause]), rank)


def _of_happened(one: Happened) -> _Ranked:
    """Return what happened unlogged as a cause; it comes before what is steadily wrong."""
    likely = one.taken_up and one.probability > LIKELY_ABOVE
    verdict: Verdict = "likely" if likely else "possible"
    cause = Cause(
        cause=one.kind,
        verdict=verdict,
        evidence=happened_evidence(one),
        remedy=REMEDIES_BY_KIND[one.kind],
        after_line=one.after_line,
    )
    return _Ranked(cause, (_ORDER[verdict], -np.inf if likely else -one.probability))


def _loose(case: Case) -> _Ranked:
    verdict = verdict_of(case.loose_probability)
    sigma = figure(case.sigma_arcmin, 1)
    if verdict == "ruled_out":
        most = f"{LOOSE_SIGMA_ARCMIN:.0f}′"
        evidence = f"centrings scatter by {sigma}′ an axis, not more than {most}"
        remedy = ""
    else:
        evidence = (
            f"centrings scatter by {sigma}′ an axis; {certainty_words(case.loose_probability)}"
        )
        remedy = "centre with a higher power and a cross-hair; look for play in mount and stand"
    size = case.sigma_arcmin / LOOSE_SIGMA_ARCMIN
    weight = size if verdict == "likely" else case.loose_probability
    return _Ranked(Cause("loose_centring", verdict, evidence, remedy), (_ORDER[verdict], -weight))


def _healthy_cause(case: Case) -> Cause:
    now = next(forecast for forecast in case.forecasts if forecast.remedy == "none")
    lean = next(finding for finding in case.findings if finding.terms[0] == "tilt_north")
    evidence = (
        f"go-tos miss by {miss_words(now.rms_arcmin)} (RMS), centrings scatter by "
        f"{figure(case.sigma_arcmin, 1)}′ an axis, and no fault that matters is there (a lean "
        f"beyond {limit_words(lean)} is ruled out)"
    )
    return Cause("healthy", "likely", evidence, "nothing need be done")
