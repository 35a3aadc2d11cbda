"""Checks of the arguments of `simulate`: all problems are found before any is told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np

from pointmodel.base.errors import InputError, Problem
from pointmodel.mount.terms import terms_of_the_mount
from pointmodel.simulation.night import NightOptions

# Largest size of a term that still describes a telescope, by unit; azimuth_index goes all around.
LARGEST = {"arcmin": 1800.0, "1": 5.0, "arcmin/deg": 10.0, "arcmin/h": 1800.0}
LARGEST_INDEX_ARCMIN = 10800.0
FIRST_YEAR, LAST_YEAR = 1971, 2200  # where precession and calendar are safe


class Checks:
    """Collects what is wrong with the arguments; each check hands back a usable value."""

    def __init__(self) -> None:
        """Begin with nothing wrong."""
        self.problems: list[Problem] = []

    def wrong(self, argument: str, found: str, wanted: str) -> None:
        """Note that an argument is wrong: what was found in it, in words, and what is wanted."""
        self.problems.append(Problem("simulate", None, argument, found, wanted))

    def finish(self) -> None:
        """Raise `InputError` if anything was wrong."""
        if self.problems:
            raise InputError(self.problems)

    def number(self, argument: str, value: Any, low: float, high: float) -> float:
        """Return a finite number within bounds."""
        if _is_number(value) and low <= value <= high:
            return float(value)
        self.wrong(argument, _shown(value), f"a number from {low:g} to {high:g}")
        return low

    def maybe(self, argument: str, value: Any, low: float, high: float) -> float | None:
        """Return a number within bounds, or None."""
        return None if value is None else self.number(argument, value, low, high)

    def whole(self, argument: str, value: Any, low: int, high: int) -> int:
        """Return a whole number within bounds."""
        if _is_number(value) and not isinstance(value, float) and low <= value <= high:
            return int(value)
        self.wrong(argument, _shown(value), f"a whole number from {low} to {high}")
        return low

    def choice(self, argument: str, value: Any, accepted: tuple[Any, ...]) -> Any:
        """Return one of the accepted words."""
        if isinstance(value, str) and value in accepted:
            return value
        self.wrong(argument, _shown(value), f"one of {', '.join(accepted)}")
        return accepted[0]

    def moment(self, argument: str, value: object) -> tuple[float, int]:
        """Return POSIX seconds and the zone's offset in seconds of an ISO 8601 moment."""
        try:
            moment = datetime.fromisoformat(str(value))
            offset = moment.utcoffset()
            if offset is not None and FIRST_YEAR <= moment.year <= LAST_YEAR:
                return moment.timestamp(), int(offset.total_seconds())
        except (ValueError, OverflowError):
            pass
        years = f"{FIRST_YEAR} to {LAST_YEAR}"
        wanted = (
            f"a moment in ISO 8601 with its zone, such as 2031-05-17T20:00:00+10:00, in {years}"
        )
        self.wrong(argument, _shown(value), wanted)
        return 0.0, 0

    def terms(self, terms: Any, clutch_slip_arcmin: Any) -> dict[str, float]:
        """Return the terms by name, with a slip of the azimuth clutch among them."""
        given = {} if terms is None else terms
        if not isinstance(given, Mapping):
            self.wrong("terms", _shown(given), "a mapping of term names to values")
            return {}
        checked = {name: self._term(name, value) for name, value in given.items()}
        slip = self.number("clutch_slip_arcmin", clutch_slip_arcmin, -1800.0, 1800.0)
        if slip and "azimuth_slip" in checked:
            self.wrong("clutch_slip_arcmin", f"{slip:g}", "this or the term azimuth_slip, not both")
        return checked | ({"azimuth_slip": slip} if slip else {})

    def _term(self, name: Any, value: Any) -> float:
        if not isinstance(name, str) or name not in terms_of_the_mount():
            self.wrong("terms", _shown(name), f"one of {', '.join(terms_of_the_mount())}")
            return 0.0
        index = name == "azimuth_index"
        most = LARGEST_INDEX_ARCMIN if index else LARGEST[terms_of_the_mount()[name].unit]
        return self.number(name, value, -most, most)

    def together(self, options: NightOptions) -> None:
        """Check what is right alone and wrong together."""
        if options.low_alt_deg >= options.high_alt_deg:
            self.wrong("low_alt_deg", f"{options.low_alt_deg:g}", "less than high_alt_deg")
        bad = options.wrong_stars + options.pen_slips
        if bad > options.pairs:
            found = f"{bad} bad lines with pen_slips"
            self.wrong("wrong_stars", found, f"at most {options.pairs} in all, the pairs")
        self._slip(options)
        sited = options.mount is not None and options.mount.place_deg is not None
        if not sited and (options.sidereal_error_min or options.latitude_error_deg):
            wanted = "a mount file with a site, for errors of what was entered"
            self.wrong("mount", "no site", wanted)
        if options.mount is not None and (
            options.mount.is_aligned or options.mount.readout == "sky"
        ):
            wanted = "one that reads its axes, not aligned on stars: only those are simulated"
            self.wrong("mount", "an aligned mount", wanted)

    def _slip(self, options: NightOptions) -> None:
        slips = any(options.terms.get(name) for name in ("azimuth_slip", "altitude_slip"))
        if slips and options.pairs < 2:
            self.wrong("pairs", str(options.pairs), "at least 2, for a slip between them")
        elif options.slip_after_pair is not None and options.slip_after_pair >= options.pairs:
            found = str(options.slip_after_pair)
            self.wrong("slip_after_pair", found, f"less than {options.pairs}, the pairs")


def _shown(value: object) -> str:
    """A value as an error quotes it, however long."""
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:79]}…"


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        return False
    return isinstance(value, int) or math.isfinite(value)
