"""A log in a few lines at the prompt, and as a card in a notebook."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

import numpy as np

from pointmodel.base.angles import format_dm
from pointmodel.base.times import fixed_zone
from pointmodel.showing.cards import Card

if TYPE_CHECKING:
    from pointmodel.reading.night import NightLog

NOTHING = "—"


def log_card(log: NightLog) -> Card:
    """How many pairs, from when to when, of which mount; and the pairs, place by place."""
    count = len(log)
    incomplete = count - int(log.has_both.sum())
    told = [f"{count} line{'' if count == 1 else 's'} with a commanded place{_when(log)}."]
    if incomplete:
        told.append(f"Nothing was centred on {incomplete} of them.")
    of_mount = f" of {log.mount.name}" if log.mount.name else ""
    second = "Seen" if log.camera else "Centred"
    return Card(
        f"Log {log.name}{of_mount}",
        tuple(told),
        ("Line", "Target", "Commanded azimuth", "altitude", f"{second} azimuth", "altitude"),
        [_row(log, k) for k in range(count)],
        ".pairs is a frame; pm.fit(log) fits it",
    )


def _when(log: NightLog) -> str:
    times = log.time_s[np.isfinite(log.time_s)]
    if not times.size:
        return ""
    zone: tzinfo = log.mount.zone or fixed_zone(log.time_offset_s or 0.0)
    start, end = (datetime.fromtimestamp(float(t), zone) for t in (times.min(), times.max()))
    return f", {start:%Y-%m-%d %H:%M} to {end:%H:%M}"


def _row(log: NightLog, k: int) -> tuple[str, ...]:
    return (
        str(log.line[k]),
        log.target[k] or NOTHING,
        _place(log.commanded_az_deg[k], full_turn=True),
        _place(log.commanded_alt_deg[k]),
        _place(log.centred_az_deg[k], full_turn=True),
        _place(log.centred_alt_deg[k]),
    )


def _place(angle_deg: float, full_turn: bool = False) -> str:
    return format_dm(float(angle_deg), 1, full_turn) if np.isfinite(angle_deg) else NOTHING
