"""The ladder: remedies done one after another, what go-to is after them, which way is worth it.

Read `mount/remedies.py` and `forecasting/forecast.py` first. A way is a tuple of actions, at most
three, in the order in which a practitioner does them. Every way is forecast from the same draws, so
that ways compare well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from pointmodel.advising.grounds import Grounds
from pointmodel.diagnosis.lean import rotation_is_real
from pointmodel.forecasting.forecast import LEARNS_A_ZERO, TUBE_LEVEL_SD_ARCMIN
from pointmodel.forecasting.result import RemedyForecast
from pointmodel.forecasting.worth import WORTH_SHARE, chance_of, is_good, worth_it
from pointmodel.mount.remedies import ACTIONS, REMEDIES, minutes_for
from pointmodel.mount.terms import TERMS

Way = tuple[str, ...]
MOST_ACTIONS = 3
FAR_FIELDS = 2.0  # a go-to that misses by more fields is zeroed first: corrections are nudges
# a level on the tube cures an altitude zero so many times larger than what it leaves; a choice
START_LEVEL_TIMES = 5.0
NOTHING: Way = ()
CORRECTED: Way = ("apply_corrections",)
CURES_THE_BASE = ("tilt_north", "tilt_east")


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """The two ways chosen: the thorough one, empty where nothing is worth doing, and a quick one.

    `quick` is None where there is none besides the thorough way.
    """

    thorough: Way
    quick: Way | None


@dataclass(frozen=True)
class Ladder:
    """All ways for one night: `levels` whether feet may be turned, `aligned` on two stars.

    `first` is what must come before any way, such as steadying the base; `corrects` whether the
    places commanded are those of the log, so that they can be corrected.
    """

    grounds: Grounds
    levels: bool
    aligned: bool
    first: Way = ()
    corrects: bool = True

    def forecast(self, way: Way) -> RemedyForecast:
        """Return how go-to stands after a way, with what comes first; the table's where it has it.

        Of what comes first only an entry put right changes go-to.
        """
        return self._forecasts((way,))[way]

    def _forecasts(self, ways: Iterable[Way]) -> dict[Way, RemedyForecast]:
        first = tuple(one for one in self.first if one == "set_entry")
        done = {way: first + way for way in ways}
        found = self.grounds.forecasts_after(done.values())
        return {way: found[all_done] for way, all_done in done.items()}

    @cached_property
    def by_hand(self) -> dict[Way, RemedyForecast]:
        """Every way that hands do, the empty one first, each with its forecast."""
        return self._forecasts(self._ways())

    def _ways(self) -> Iterator[Way]:
        room = MOST_ACTIONS - len(self.first)
        endings = [ACTIONS[name] for name in ("zero_on_star", "realign") if self._offers(name)]
        if not any(ACTIONS[name].voids for name in self.first):
            yield NOTHING
        for count in range(room):
            for cures in combinations(self._cures(), count):
                for ending in endings:
                    if self._goes_with(cures, ending.name):
                        yield (*cures, ending.name)

    def _offers(self, ending: str) -> bool:
        """Whether a way may end so: one star says nothing to a controller aligned on two.

        Where an alignment hides the lean, aligning afresh cures only a turn that is real.
        """
        if ending == "zero_on_star":
            return not self.aligned
        hidden = self.grounds.mount.lean_is_hidden
        return not hidden or rotation_is_real(self.grounds.posterior)

    def _cures(self) -> list[str]:
        """Return the actions of hands that cure what is likely, in the order in which one works."""
        return [
            name for name, action in ACTIONS.items() if action.cures and self._makes_sense(name)
        ]

    def _makes_sense(self, name: str) -> bool:
        cures = ACTIONS[name].cures
        if set(cures) & set(CURES_THE_BASE):
            return self.levels
        if name == "start_level":
            off = abs(self.grounds.ground.outlook.model.values[1])
            return bool(off > START_LEVEL_TIMES * TUBE_LEVEL_SD_ARCMIN)
        if self.grounds.mount.drives_by_alignment:
            return False
        likely = [term for term in TERMS.values() if term.cause in self.grounds.likely]
        return any(
            term.name in cures
            or (term.cured_by is not None and name in REMEDIES[term.cured_by].actions)
            for term in likely
        )

    def _goes_with(self, cures: Way, ending: str) -> bool:
        """Whether these cures are ended so.

        A tube that starts level is for a controller aligned on two stars that learns no altitude
        zero from them: any other is zeroed on a star. What is cured otherwise is zeroed, or aligned
        again where it was.
        """
        if "start_level" in cures:
            learns = self.grounds.ground.solves in LEARNS_A_ZERO
            return self.aligned and not learns and ending == "realign"
        return not cures or ending == ("realign" if self.aligned else "zero_on_star")

    def minutes(self, way: Way) -> float:
        """Return how long a way takes, with what comes first."""
        return minutes_for((*self.first, *way), self.grounds.targets)

    @property
    def far_off(self) -> bool:
        """Whether go-to misses by so much that corrections must wait for a zero."""
        return not self._in_reach(self.grounds.now)

    @cached_property
    def corrected(self) -> Way | None:
        """The way with corrected positions; None where commands are, or may be, not what is logged.

        So it is with a controller that drives by an alignment. One that was pressed after every
        line is zeroed first: it is not known whether the last line was followed by a press too. A
        go-to that misses by more than two fields even then is no matter for nudges.
        """
        if not self.corrects or self.grounds.mount.drives_by_alignment:
            return None
        if not self.far_off and not self.grounds.pressed_each_line:
            return CORRECTED
        first = "realign" if self.aligned else "zero_on_star"
        after = self.grounds.forecast_of(first)
        return (first, *CORRECTED) if self._in_reach(after) else None

    def _in_reach(self, forecast: RemedyForecast) -> bool:
        return forecast.median_arcmin <= FAR_FIELDS * self.grounds.field_arcmin

    def chosen(self) -> Chosen:
        """Return the thorough way and a quick one."""
        thorough = self._thorough()
        return Chosen(thorough=thorough, quick=self._quick(thorough))

    def _thorough(self) -> Way:
        """Return the cheapest way that is as good as the best: by hand, else with corrections.

        As good as: within a fifth of the miss, or so near that the eyepiece does not show it.
        """
        found, field = self.by_hand, self.grounds.field_arcmin
        best = min(found.values(), key=lambda one: one.rms_arcmin)
        near = [
            way
            for way, one in found.items()
            if one.rms_arcmin <= (1.0 + WORTH_SHARE) * best.rms_arcmin
            or not worth_it(one, best, field)
        ]
        cheapest = min(near, key=self.minutes)
        if self.corrected is None or is_good(found[cheapest], field):
            return cheapest
        return (
            self.corrected
            if worth_it(found[cheapest], self.forecast(CORRECTED), field)
            else cheapest
        )

    def _quick(self, thorough: Way) -> Way | None:
        """Return the cheapest way after which nearly every target shows, if shorter; else None.

        Where none does: the one with the best gain in chance for each minute.
        """
        now, field = self.grounds.now, self.grounds.field_arcmin
        if is_good(now, field) or not thorough:
            return None
        ways = {way: one for way, one in self.by_hand.items() if way}
        if self.corrected is not None:
            ways[self.corrected] = self.forecast(self.corrected)
        enough = [way for way, one in ways.items() if is_good(one, field)]
        if enough:
            quick = min(enough, key=self.minutes)
        else:
            had = chance_of(now, field)
            quick = max(
                ways, key=lambda way: (chance_of(ways[way], field) - had) / self.minutes(way)
            )
        shorter = self.minutes(quick) < self.minutes(thorough)
        return quick if shorter and worth_it(now, ways[quick], field) else None
