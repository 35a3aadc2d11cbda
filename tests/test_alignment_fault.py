"""The doctor of alignments: which star was truly centred, which badly, when nothing is wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench.alignments import Evening, Kind, What, evening

import pointmodel as pm
from pointmodel.diagnosis.alignmentfault import AlignmentFault, alignment_fault
from pointmodel.diagnosis.faultwords import fault_words, realign_words
from pointmodel.reading.nightlog import Event, NightLog


def found(log: NightLog) -> AlignmentFault | None:
    fit = pm.fit(log)
    sigmas = np.quantile(fit.solution.posterior.draws_sigma, [0.1, 0.3, 0.5, 0.7, 0.9])
    return alignment_fault(log, ~fit.pair_results.set_aside, sigmas)


def evenings(what: What, count: int, **options: object) -> list[tuple[Evening, object]]:
    made = [evening(seed, what, **options) for seed in range(count)]  # type: ignore[arg-type]
    return [(one, found(one.log)) for one in made]


@pytest.mark.parametrize("kind", ["rotation", "altitude_zero"])
def test_the_star_that_was_centred_instead_is_named_and_never_a_wrong_one(kind: Kind) -> None:
    # 226 of 240 evenings of `bench/alignments.py` name the star, the rest leave it open
    named = 0
    for one, fault in evenings("wrong_star", 12, kind=kind):
        if isinstance(fault, AlignmentFault) and fault.kind == "wrong_star":
            assert one.instead in fault.instead
            assert fault.place == one.place
            assert fault.stated == one.stated[one.place or 0]
            assert fault.off_deg == pytest.approx(one.off_deg, abs=0.1)
            named += fault.instead[0] == one.instead
    assert named >= 10


def test_a_right_alignment_is_not_blamed() -> None:
    assert all(fault is None for _, fault in evenings("right", 12))


def test_a_badly_centred_alignment_star_is_told_from_another_star() -> None:
    faults = [(one, fault) for one, fault in evenings("badly_centred", 12)]
    for one, fault in faults:
        if isinstance(fault, AlignmentFault) and fault.kind not in ("turned", "one_star"):
            assert (fault.kind, fault.place) == ("badly_centred", one.place)
    assert sum(isinstance(f, AlignmentFault) and f.place is not None for _, f in faults) >= 9


def test_a_stand_that_was_knocked_since_is_not_laid_on_a_star() -> None:
    kinds = [getattr(fault, "kind", None) for _, fault in evenings("knocked", 8)]
    assert "wrong_star" not in kinds
    assert kinds.count("turned") >= 6


def _without(log: NightLog, **changes: object) -> NightLog:
    return replace(log, **changes)  # type: ignore[arg-type]


def test_without_times_or_site_only_the_turn_of_the_sky_is_told() -> None:
    one = next(e for s in range(20) if (e := evening(s, "wrong_star")).off_deg > 5.0)
    for log in (
        _without(one.log, time_s=np.full(len(one.log), np.nan)),
        _without(one.log, mount=pm.read_log(one.log.pairs, {
            "mount": {"readout": "sky"}, "alignment": {"stars": list(one.stated)},
        }).mount),
    ):  # fmt: skip
        fault = found(log)
        assert fault is not None
        assert (fault.kind, fault.place, fault.instead) == ("turned", None, ())
        assert 2.0 < fault.turned_deg < 20.0
    right = evening(1, "right").log
    assert found(_without(right, time_s=np.full(len(right), np.nan))) is None


def test_only_what_came_before_the_first_event_speaks_of_the_alignment() -> None:
    log = evening(0, "wrong_star").log
    assert found(log) is not None
    zeroed = Event("zero_on_star", int(log.line[0]), 1)
    assert found(_without(log, events=(zeroed,))) is None


def test_what_went_wrong_and_what_to_do_are_whole_sentences() -> None:
    told = AlignmentFault(
        kind="wrong_star",
        probability=0.97,
        place=1,
        stated="Canopus",
        instead=("Sirius",),
        off_deg=36.3,
        turned_deg=6.8,
        about_deg=(120.0, 35.0),
    )
    assert fault_words(told) == (
        "The second alignment star was another star: Sirius, 36.3° from Canopus."
    )
    assert fault_words(replace(told, instead=("Sirius", "Adhara"))) == (
        "The second alignment star was not Canopus but another star: Sirius or Adhara."
    )
    assert fault_words(replace(told, kind="badly_centred", place=0, off_deg=1.24)) == (
        "The first alignment star, Canopus, was badly centred: it was off by about 1.2° or more."
    )
    assert fault_words(replace(told, kind="one_star")) == (
        "The second alignment star was another star (Sirius), or Canopus was badly centred."
    )
    assert fault_words(replace(told, kind="turned", place=None, off_deg=None)).startswith(
        "The alignment is turned by 6.8° about azimuth 120°, 35° up. One of its stars"
    )
    assert realign_words(("Achernar", "Canopus")).startswith(
        "Align again on Achernar, then Canopus"
    )
    assert "two stars that you are sure of" in realign_words(None)
