"""What the bench of taps measures on many nights, on a few: a fault would show by far."""

from __future__ import annotations

from bench.phone_figures import COUNTS, HABITS, doubts, play

NIGHTS = 8


def test_right_eyepieces_are_not_doubted_and_wrong_ones_are_found_at_eight_taps() -> None:
    said = [doubts("usual", "nothing", seed) for seed in range(NIGHTS)]
    assert not any(any(night["right"]) for night in said)
    at_eight = COUNTS.index(8)
    for wrong in ("exchanged", "exchanged, upside down"):
        found = [night[wrong][at_eight] for night in said]
        assert sum(doubt is not None for doubt in found) >= NIGHTS - 2, wrong


def test_a_night_of_taps_leaves_corrections_within_a_few_arcminutes() -> None:
    played = [play(HABITS[0], 8, "usual", seed) for seed in range(2)]
    for one in played:
        assert one.right
        assert not one.doubted
        assert one.miss_arcmin < 10.0
        assert one.miss_arcmin < 0.5 * one.before_arcmin
        assert sum(one.held) >= 4
