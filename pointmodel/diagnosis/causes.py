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
    far_open,
    held_words,
    in_table,
    is_ruled_out,
    look_alike_words,
    reach_of,
    size_of,
    unseen_words,
)
from pointmodel.diagnosis.faultwords import fault_words, realign_words
from pointmodel.diagnosis.happened import (
    REMEDIES_BY_KIND,
    happened_evidence,
    of_the_mount,
    order_of,
)
from pointmodel.diagnosis.lean import TILTS
from pointmodel.diagnosis.result import Cause, Verdict
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.results import SetAside
from pointmodel.estimate.sparse import FaultFinding
from pointmodel.mount.priors import EVENS, HEALTHY_BELOW, LIKELY_ABOVE, POSSIBLE_ABOVE
from pointmodel.mount.terms import TERMS
from pointmodel.reading.sitezone import site_slip

if TYPE_CHECKING:
    from pointmodel.diagnosis.alignmentfault import AlignmentFault

FEWEST_TO_BE_HEALTHY = 5
LOOSE_SIGMA_ARCMIN = 4.0
# choices: what the stars speak against, and a site far from every place of its own time zone
UNDER_SUSPICION, BY_ITS_ZONE = 0.01, 0.95
CLOCK_FITS_WITHIN_SIGMAS = 3.0
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
    """Return the case with the base's own lean in place of the one that wrong entries make."""
    apart = None if case.sky is None else case.sky.apart
    if apart is None:
        return case
    sd = np.sqrt(np.diag(apart.covariance))
    size = float(np.hypot(*apart.mean_arcmin))
    reach = NORMAL_95 * float(sd.max())
    own = tuple(
        FaultFinding(TILTS, apart.probability, apart.mean_arcmin, sd, size + reach)
        if finding.terms == TILTS
        else finding
        for finding in case.findings
    )
    lean = replace(case.lean, amount_arcmin=size, low=max(size - reach, 0.0), high=size + reach)
    return replace(case, findings=own, lean=lean, own_lean=True)


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
            text += (
                " This wrong entry alone looks like a lean of "
                f"{miss_words(sky.apart.seeming_arcmin)}."
            )
        weight = max(size, 1.0) if verdict == "likely" else suspect.probability
        cause = Cause(
            cause=suspect.cause,
            verdict=verdict,
            probability=suspect.probability,
            evidence=text,
            remedy=suspect.remedy,
        )
        ranked.append(_Ranked(cause, (_ORDER[verdict], -weight)))
    if sky.verdict == "agrees":
        out = (_ORDER["ruled_out"], 0.0)
        ranked += [
            _Ranked(
                Cause(
                    cause=code,
                    verdict="ruled_out",
                    probability=UNDER_SUSPICION,
                    evidence=sky.agreement,
                ),
                out,
            )
            for code in OF_ENTRIES
        ]
    elif sky.verdict == "cannot_tell":
        ranked += _what_a_lean_could_be(case)
    return ranked


def _of_site(case: Case) -> list[_Ranked]:
    """Return the slip in the mount file's site that its time zone betrays, unless the stars do."""
    slip = site_slip(case.mount)
    if slip is None or (case.sky is not None and case.sky.doubts_mount_file):
        return []
    text = f"{slip.text[0].upper()}{slip.text[1:]}."
    cause = Cause(
        cause="mount_file",
        verdict="likely",
        probability=BY_ITS_ZONE,
        evidence=text,
        remedy=f"{slip.order}.",
    )
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
    return not any(far_open(finding, case) for finding in telling)


def verdict_of(probability: float, *, ruled_out: bool = True) -> Verdict:
    """Return what a cause of this probability is called; without a sign of it, open or ruled out.

    `ruled_out`: all that it could still be is less than what matters.
    """
    if probability > LIKELY_ABOVE:
        return "likely"
    if probability > POSSIBLE_ABOVE:
        return "possible"
    return "ruled_out" if ruled_out else "open"


_ORDER: dict[Verdict, int] = {"likely": 0, "possible": 1, "open": 2, "ruled_out": 3}


def _code(finding: FaultFinding, case: Case) -> str:
    """Return the cause's code; after an alignment a rotation is an error of that alignment."""
    code = TERMS[finding.terms[0]].cause
    return "alignment" if case.mount.lean_is_hidden and code in ROTATIONS else code


def _of_finding(finding: FaultFinding, case: Case) -> _Ranked:
    code = _code(finding, case)
    verdict = verdict_of(finding.probability, ruled_out=is_ruled_out(finding, case))
    unseen = verdict in ("open", "ruled_out")
    size = size_of(finding, case)
    unknown = unseen and not in_table(finding, case)
    if unseen:
        evidence = unseen_words(finding, case, verdict)
    else:
        held = held_words(finding, case)
        sure = "" if held else f"; {certainty_words(finding.probability)}"
        evidence = f"{held or evidence_words(finding, case)}{sure}"
        if code == "alignment" and case.alignment is not None:
            evidence += f". {case.alignment[:1].upper()}{case.alignment[1:]}"
        evidence += look_alike_words(finding, case)
    matters = TERMS[finding.terms[0]].matters
    weight = float(np.hypot.reduce(finding.value)) / matters
    cause = Cause(
        cause=code,
        verdict=verdict,
        probability=finding.probability,
        evidence=evidence,
        remedy="" if unseen else _remedy(code, finding, case),
        size=None if unknown else size.value,
        low=None if unknown else size.low,
        high=reach_of(finding, case) if unknown else size.high,
        unit=size.unit,
        after_line=case.slip_after_line if code == "slip" and not unseen else None,
    )
    rank = -weight if verdict == "likely" else -finding.probability
    return _Ranked(cause, (_ORDER[verdict], rank))


ROTATIONS = ("azimuth_zero", "not_level")


def _remedy(code: str, finding: FaultFinding, case: Case) -> str:
    """Return what to do about a fault that no step of the advice cures, or why a step must wait.

    What the ladder of remedies cures is said with its steps.
    """
    if code == "alignment":
        return ""
    term = TERMS[finding.terms[0]]
    if code == "not_level" and _sinks(case):
        return REMEDIES_BY_KIND["sinking"]
    if code == "not_level" and case.feet_wait is not None:
        return case.feet_wait
    return term.remedy if term.cured_by is None else ""


def alignment_cause(fault: AlignmentFault, realign_on: tuple[str, str] | None) -> Cause:
    """Return what went wrong when the controller was aligned, as a cause."""
    return Cause(
        cause="alignment",
        verdict="likely",
        probability=fault.probability,
        evidence=f"{fault_words(fault).rstrip('.')}; {certainty_words(fault.probability)}",
        remedy=realign_words(realign_on),
    )


def _of_alignment(fault: AlignmentFault, case: Case) -> _Ranked:
    """Return it; it comes before all else."""
    return _Ranked(alignment_cause(fault, case.realign_on), (_ORDER["likely"], -np.inf))


def _what_a_lean_could_be(case: Case) -> list[_Ranked]:
    """Return the clock and the latitude as possible causes of a lean, while nothing clears them."""
    lean = next(finding for finding in case.findings if finding.terms == TILTS)
    if case.clock_cleared or lean.probability <= POSSIBLE_ABOVE:
        return []
    north, east = (float(part) for part in lean.value)
    place = case.mount.place_deg
    remedy = (
        "compare the controller's date, time, zone, summer time and site with a phone, or put a "
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
            Cause(
                cause=code,
                verdict="possible",
                probability=0.5 * lean.probability,
                evidence=text,
                remedy=remedy,
            ),
            (_ORDER["possible"], -0.5 * lean.probability),
        )
        for code, text in ranked
    ]


def _of_line(pair: SetAside) -> _Ranked:
    remedies = {
        "wrong_star": "centre that star again, sure of its name, or delete the line",
        "log_typo": "correct the figure if you are sure, or delete the line",
    }
    verdict: Verdict = "likely" if pair.probability_bad > LIKELY_ABOVE else "possible"
    evidence = f"line {pair.line}: {pair.hint} ({certainty_words(pair.probability_bad)})"
    rank = (_ORDER[verdict], 0.0 if verdict == "likely" else -pair.probability_bad)
    cause = Cause(
        cause=pair.cause,
        verdict=verdict,
        probability=pair.probability_bad,
        evidence=evidence,
        remedy=remedies[pair.cause],
        size=pair.miss_arcmin,
        unit="arcmin",
        lines=(pair.line,),
    )
    return _Ranked(cause, rank)


def _of_happened(one: Happened) -> _Ranked:
    """Return what happened unlogged as a cause; it comes before what is steadily wrong."""
    likely = one.taken_up and one.probability > LIKELY_ABOVE
    verdict: Verdict = "likely" if likely else "possible"
    cause = Cause(
        cause=one.kind,
        verdict=verdict,
        probability=one.probability,
        evidence=happened_evidence(one),
        remedy=order_of(one),
        after_line=one.after_line,
    )
    return _Ranked(cause, (_ORDER[verdict], -np.inf if likely else -one.probability))


def _loose(case: Case) -> _Ranked:
    quiet = case.sigma_high_arcmin < LOOSE_SIGMA_ARCMIN
    verdict = verdict_of(case.loose_probability, ruled_out=quiet)
    sigma, most = miss_words(case.sigma_arcmin), f"{LOOSE_SIGMA_ARCMIN:.0f}′"
    remedy = ""
    evidence = f"one centring is off by about {sigma} in each direction"
    if verdict == "ruled_out":
        evidence += f", not more than {most}"
    elif verdict == "open":
        evidence += f"; up to {miss_words(case.sigma_high_arcmin)} could be"
    else:
        evidence += f"; {certainty_words(case.loose_probability)}"
        remedy = "centre with a higher power and a cross-hair, and look for play in mount and stand"
    size = case.sigma_arcmin / LOOSE_SIGMA_ARCMIN
    weight = size if verdict == "likely" else case.loose_probability
    cause = Cause(
        cause="loose_centring",
        verdict=verdict,
        probability=case.loose_probability,
        evidence=evidence,
        remedy=remedy,
        size=case.sigma_arcmin,
        high=case.sigma_high_arcmin,
        unit="arcmin",
    )
    return _Ranked(cause, (_ORDER[verdict], -weight))


def _healthy_cause(case: Case) -> Cause:
    now = next(forecast for forecast in case.forecasts if forecast.remedy == "none")
    rivals = max(finding.probability for finding in case.findings)
    evidence = (
        f"go-tos miss by {miss_words(now.rms_arcmin)}, one centring is off by about "
        f"{miss_words(case.sigma_arcmin)} in each direction, and no fault that matters is there. "
        f"A lean of more than {miss_words(case.lean.high)} is ruled out"
    )
    return Cause(
        cause="healthy",
        verdict="likely",
        probability=1.0 - max(rivals, case.loose_probability),
        evidence=evidence,
    )
