"""Where on the Earth the telescope stands; nothing heavy is imported here."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Observer:
    """Where on the Earth (WGS84): latitude north, longitude east positive, degrees; height in m."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float = 0.0
