"""Comparisons with made-up figures, so that text and page are tried without fitting anything."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from pointmodel.base.errors import Notice
from pointmodel.comparing.compare import CompareResult
from pointmodel.comparing.results import (
    CarryOver,
    Change,
    ComparedNight,
    ComparedTerm,
    Interval,
    NightValue,
    TermChance,
)
from pointmodel.estimate.profile import Profile
from pointmodel.mount.terms import STANDARD_NAMES

KINDS = {
    "azimuth_index": "setup",
    "altitude_index": "setup",
    "collimation": "changed",
    "non_perpendicularity": "mount",
    "tilt_north": "setup",
    "tilt_east": "setup",
}
SCATTER = {"azimuth_index": 5000.0, "altitude_index": 14.0, "tilt_north": 11.0, "tilt_east": 11.0}
STEP = 12.0
START = datetime(2032, 1, 12, 19, 10, tzinfo=UTC)


def make_comparison(
    nights: int = 5, changed_before: int | None = 4, **changes: Any
) -> CompareResult:
    """A season: the tube reseated before the night of this number (from 1), None for no change.

    `changes` replace fields of the result; `text` stands for every word that a user supplies.
    """
    text = changes.pop("text", None)
    kinds = KINDS | changes.pop("kinds", {})
    timed = changes.pop("timed", True)
    if changed_before is None and "collimation" in kinds:
        kinds["collimation"] = (
            "mount" if kinds["collimation"] == "changed" else kinds["collimation"]
        )
    days = [START + timedelta(days=7 * k) for k in range(nights)]
    ids = [text + str(k) if text else f"{day:%Y-%m-%d}" for k, day in enumerate(days)]
    rng = np.random.default_rng(5)
    made: dict[str, Any] = {
        "inputs": tuple(f"{one}.csv" for one in ids),
        "warnings": (
            Notice("mount_file", f"the mount file beside the log is used: {text or 'mount.toml'}"),
        ),
        "nights": tuple(
            ComparedNight(
                one,
                day.isoformat() if timed else None,
                day.timestamp() if timed else None,
                14 - k % 2,
                14,
                *rng.uniform((0.7, 600.0, 0.9), (1.2, 5000.0, 1.5)).tolist(),
            )
            for k, (one, day) in enumerate(zip(ids, days, strict=True))
        ),
        "terms": tuple(
            _term(name, kinds[name], ids, changed_before, rng) for name in STANDARD_NAMES
        ),
        "changes": () if changed_before is None else (make_change(ids, changed_before),),
        "carry_over": _carry_over(ids, changed_before) if nights <= 12 else (),
        "profile": Profile(STANDARD_NAMES, np.zeros(6), np.eye(6), 0.0, 0.2, nights),
        "summary": "Collimation moved by 12.0′ ± 1.5′ between the 3rd and the 4th night.",
        "habits": ("You level to about 12′.",),
        "is_aligned": False,
    }
    return CompareResult(**(made | changes))


def make_change(ids: list[str], before: int, after: int | None = None, **changes: Any) -> Change:
    """A step of collimation before the night of this number."""
    made: dict[str, Any] = {
        "after": ids[(before - 1 if after is None else after) - 1],
        "before": ids[before - 1],
        "term": "collimation",
        "difference": STEP,
        "low": STEP - 2.9,
        "high": STEP + 2.9,
        "probability_unchanged": 0.004,
        "probability_this_term": 0.93,
        "alternatives": (TermChance("non_perpendicularity", 0.07),),
        "likely_event": "tube reseated in its saddle, or mirrors adjusted?",
    }
    return Change(**(made | changes))


def _term(
    name: str, kind: Any, ids: list[str], changed_before: int | None, rng: np.random.Generator
) -> ComparedTerm:
    base = {"collimation": 7.5, "non_perpendicularity": -4.2}.get(name, 0.0)
    scatter = SCATTER.get(name, 0.2)
    value = base + scatter * rng.uniform(-1.5, 1.5, len(ids))
    if kind == "changed" and changed_before is not None:
        value[changed_before - 1 :] += STEP
    half = 5.0 if name in ("collimation", "non_perpendicularity") else 0.8
    others = [one for one in ("mount", "setup", "changed") if one != kind]
    sure = 0.4 if kind == "cannot_tell" else 0.95
    chances = [(kind, sure)] if kind != "cannot_tell" else []
    chances += [(one, (1 - sure * bool(chances)) / len(others)) for one in others]
    by_night = tuple(
        NightValue(one, float(v), float(v) - half, float(v) + half)
        for one, v in zip(ids, value, strict=True)
    )
    last = float(value[-1])
    return ComparedTerm(
        name,
        "arcmin",
        kind,
        max(chance for _, chance in chances),
        tuple(chances),  # type: ignore[arg-type]
        by_night,
        Interval(last, last - half, last + half),
        Interval(scatter, 0.5 * scatter, 2 * scatter),
    )


def _carry_over(ids: list[str], changed_before: int | None) -> tuple[CarryOver, ...]:
    def across(k: int, m: int) -> bool:
        return changed_before is not None and min(k, m) < changed_before - 1 <= max(k, m)

    return tuple(
        CarryOver(ids[k], ids[m], 3.0 + 0.01 * (k + m) if across(k, m) else 1.2 + 0.01 * (k + m))
        for k in range(len(ids))
        for m in range(len(ids))
        if k != m
    )
