"""Directions as one says them: the eight points of the compass, a place on the sky in words."""

from __future__ import annotations

import numpy as np

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def place_in_words(az_deg: float, alt_deg: float) -> str:
    """Return a place on the sky as one would say it: `75° up in the south-east (azimuth 135°)`."""
    toward = COMPASS[int(np.floor(az_deg / 45.0 + 0.5)) % 8]
    return f"{alt_deg:.0f}° up in the {toward} (azimuth {az_deg:.0f}°)"


def compass_word(az_deg: float) -> str:
    """Return the nearest of the eight points of the compass."""
    return COMPASS[int(np.floor(az_deg / 45.0 + 0.5)) % 8]
