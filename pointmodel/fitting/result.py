"""One fit as the user holds it: it answers everything asked of a night.

Forecasts, causes, pictures and pages are made on first use, so that asking only for terms stays
quick. `fit.py` makes it from a log."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pointmodel.advising.advise import advise
from pointmodel.advising.causes import with_steps
from pointmodel.advising.grounds import Grounds
from pointmodel.advising.result import Advice
from pointmodel.base.arrays import FloatArray
from pointmodel.base.errors import InputError, Notice, Problem
from pointmodel.base.rows import ResultRows
from pointmodel.diagnosis.causes import LOOSE_SIGMA_ARCMIN, alignment_cause, causes
from pointmodel.diagnosis.evidence import Case
from pointmodel.diagnosis.faultwords import fault_words, realign_words
from pointmodel.diagnosis.lean import Lean, lean_of
from pointmodel.diagnosis.result import Cause
from pointmodel.diagnosis.together import azimuth_together
from pointmodel.estimate import reported as findings
from pointmodel.estimate import sparse
from pointmodel.estimate.fromlog import hours_since_first, observations_of
from pointmodel.estimate.inturn import Happened
from pointmodel.estimate.profile import Profile
from pointmodel.estimate.results import Inseparable, Noise, PairResults, SetAside, TermEstimate
from pointmodel.estimate.segments import Segment
from pointmodel.estimate.solve import Solution
from pointmodel.estimate.sparse import FaultFinding
from pointmodel.fitting.plotting import FitPlots
from pointmodel.forecasting.forecast import Ground, forecasts, sky_forecast
from pointmodel.forecasting.machine import MountModel, readings_for
from pointmodel.forecasting.outlook import Outlook, at_targets, open_sky
from pointmodel.forecasting.result import RemedyForecast, SkyForecast
from pointmodel.levelling.feet import FootOrder, hand_errors_arcmin
from pointmodel.levelling.level import Setting, cleared_by, feet_to_turn, level_verdict
from pointmodel.levelling.result import LevelResult
from pointmodel.levelling.stand import Stand
from pointmodel.levelling.words import level_order
from pointmodel.mount.priors import EVENS
from pointmodel.mount.remedies import TARGETS_AN_EVENING
from pointmodel.mount.term import Term
from pointmodel.mount.terms import N_STANDARD, TERMS
from pointmodel.reading.nightlog import NightLog
from pointmodel.readings.result import Readings
from pointmodel.readings.words import figures_read_notices

if TYPE_CHECKING:
    import pandas as pd
    from lmfit.model import ModelResult

    from pointmodel.diagnosis.alignmentfault import AlignmentFault
    from pointmodel.diagnosis.skyevidence import SkyEvidence
    from pointmodel.fitting.asked import AskedTerms
    from pointmodel.fitting.breakdown import Breakdown
    from pointmodel.fitting.landings import Landing
    from pointmodel.mount.starfix import StarFixKind
    from pointmodel.showing.pages import Scheme

# why no foot may be turned yet, as the remedy of a base that leans
ALIGNMENT_FIRST = (
    "turn no foot yet: it is not known whether the controller was aligned before this log (stars, "
    "under [alignment] in mount.toml)"
)


# a sky believed to be turned by many hours or degrees is more than a lean: the fit cannot follow
ENTRY_FIRST = (
    "This entry is so far off that the log says nothing else of the mount. Log again after that."
)


FIGURES_FIRST = "turn no foot yet: it is not sure how to read the figures of this log"


EVEN_QUANTILES = (0.1, 0.3, 0.5, 0.7, 0.9)  # five sizes of the noise that are equally probable


# the same where the fit knows nothing of it: ln of portable mounts' noise is 1.3′ ± .8
USUAL_SIGMAS_ARCMIN = np.array([0.5, 0.9, 1.3, 2.0, 3.6])


@dataclass(frozen=True, eq=False)
class Fit(FitPlots):
    """What one night says of its mount.

    `log` holds the complete pairs. `segments` are its parts between events, each with the
    estimator's solution; terms, forecasts and causes are those of the last one, which has learnt
    from the earlier ones; `parts` say what happened before each, logged or not, `happened` what was
    found that nobody logged. The figures of segments are those of the readout at the log's end,
    where zeroings on a star that is known were taken out. `profile` is what the fit started from,
    if anything; `targets` how many the owner looks at this evening. `figures` says what the
    figures mean: `log` is read so, `as_written` is not. `own` are terms of the user's own, `asked`
    what was asked for in place of the estimator's choice. Angles are degrees, terms and misses
    arcminutes.
    """

    log: NightLog
    segments: tuple[tuple[NightLog, Solution], ...]
    profile: Profile | None
    warnings: tuple[Notice, ...]
    parts: tuple[Segment, ...]
    happened: tuple[Happened, ...]
    as_written: NightLog
    figures: Readings
    targets: int = TARGETS_AN_EVENING
    own: tuple[Term, ...] = ()
    asked: AskedTerms | None = None

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Come back from a pickle; terms of a user's own are known again."""
        self.__dict__.update(state)
        TERMS.know(*self.own)

    @property
    def solution(self) -> Solution:
        """The estimator's solution for the last segment."""
        return self.segments[-1][1]

    @property
    def last_segment(self) -> NightLog:
        """The pairs after the last event: the whole log where there was none."""
        return self.segments[-1][0]

    @property
    def pairs_read(self) -> int:
        """How many complete pairs the log has."""
        return len(self.as_written)

    @property
    def pairs_used(self) -> int:
        """How many of them were not set aside."""
        return len(self.log) - len(self.set_aside)

    @cached_property
    def term_estimates(self) -> tuple[TermEstimate, ...]:
        """The six terms and the further ones that the night supports."""
        return findings.term_estimates(self.solution, self.last_segment)

    @cached_property
    def noise(self) -> Noise:
        """The noise an axis."""
        return findings.noise(self.solution, self.log.mount.optics.centring_error_arcmin)

    @cached_property
    def pair_results(self) -> PairResults:
        """What the fit says of each pair, each with the terms of its own segment."""
        found = findings.joined([
            findings.pair_results(solution, log) for log, solution in self.segments
        ])  # fmt: skip
        if not any(part.pressed for part in self.parts):
            return found
        before = findings.misses_as_logged(observations_of(self.log))
        return replace(found, before_x_arcmin=before[:, 0], before_y_arcmin=before[:, 1])

    @cached_property
    def set_aside(self) -> ResultRows[SetAside]:
        """The pairs that were left out, each with its reason; the star that it probably was."""
        aside = findings.set_aside(self.pair_results)
        if aside and _entries_show(self.log):
            from pointmodel.diagnosis.skyevidence import with_probable_stars

            aside = with_probable_stars(aside, self.pair_results, self.log, self.sky_evidence)
        return ResultRows.of(SetAside, aside)

    @property
    def residual_rms_arcmin(self) -> float:
        """Radial RMS of what is left at the pairs used."""
        pairs = self.pair_results
        return findings.radial_rms(
            pairs.residual_x_arcmin, pairs.residual_y_arcmin, ~pairs.set_aside
        )

    @property
    def before_rms_arcmin(self) -> float:
        """Radial RMS of the misses as logged at the pairs used."""
        pairs = self.pair_results
        return findings.radial_rms(pairs.before_x_arcmin, pairs.before_y_arcmin, ~pairs.set_aside)

    @cached_property
    def inseparable(self) -> tuple[Inseparable, ...]:
        """Combinations of terms that these stars cannot tell apart."""
        targets = self.outlook.targets
        return findings.inseparable(self.solution, targets, -self.outlook.corrected.slope)

    @cached_property
    def breakdown(self) -> Breakdown:
        """The fit taken apart for pictures and tables: what each term adds to each miss."""
        from pointmodel.fitting.breakdown import breakdown_of

        return breakdown_of(self)

    @cached_property
    def landings(self) -> tuple[Landing, ...]:
        """Where the log's stars land in the eyepiece: as logged, after the steps advised."""
        from pointmodel.fitting.breakdown import landings_of

        quick = self.advice.quick
        done_quickly = None if quick is None else quick.actions
        return landings_of(self, done_quickly, self.advice.actions)

    @cached_property
    def model(self) -> MountModel:
        """The fitted mount as it stands at the end of the log."""
        needed = {TERMS[name].needs for name in self._further_names}
        mount = self.log.mount
        posterior = self.solution.posterior
        return MountModel(
            values=posterior.mean,
            columns=posterior.columns[N_STANDARD:],
            az_motion=1.0 if "az_motion" in needed else 0.0,
            alt_motion=1.0 if "alt_motion" in needed else 0.0,
            hours=float(hours_since_first(self.last_segment)[-1]),
            azimuth_origin_deg=mount.azimuth_origin_deg,
            pressure_hpa=mount.pressure_hpa,
            temperature_c=mount.temperature_c,
        )

    @property
    def _further_names(self) -> tuple[str, ...]:
        posterior = self.solution.posterior
        return tuple(posterior.columns[c].name for c in posterior.chosen[N_STANDARD:])

    @cached_property
    def outlook(self) -> Outlook:
        """The fitted mount with what is uncertain about it, over the open sky."""
        posterior, optics = self.solution.posterior, self.log.mount.optics
        return Outlook(
            model=self.model,
            deviation=posterior.draws - posterior.mean,
            scatter_arcmin=posterior.draws_sigma,
            scatter_known=optics.centring_error_arcmin is not None,
            targets=open_sky(self.log.mount),
            field_of_view_arcmin=optics.field_of_view_arcmin,
        )

    @cached_property
    def ground(self) -> Ground:
        """What forecasts start from."""
        feet, sky = self.log.mount.feet, self.sky_evidence
        apart = None if sky is None else sky.apart
        count = self.outlook.deviation.shape[0]
        return Ground(
            outlook=self.outlook,
            solves=self.log.mount.alignment.solves,
            aligned_on=self._aligned_on,
            level_error=None
            if feet is None
            else hand_errors_arcmin(feet, count, self._feet_to_turn[1].by_screws),
            own_lean=None if apart is None else (apart.mean_arcmin, apart.covariance),
        )

    @cached_property
    def forecasts(self) -> tuple[RemedyForecast, ...]:
        """How far go-tos will land from their targets with each remedy."""
        return forecasts(self.ground)

    @property
    def _aligned_on(self) -> tuple[tuple[float, float], ...] | None:
        """Where the stars stood through which go-tos go, where figures do not; () if unknown."""
        if not self.log.mount.drives_by_alignment:
            return None
        times = self.log.time_s[np.isfinite(self.log.time_s)]
        if not times.size:
            return ()
        from pointmodel.forecasting.realignstars import places_of_stars

        stars = self.log.mount.alignment.stars or ()
        return places_of_stars(stars, self.log.mount, float(times.min()))

    @cached_property
    def sky_forecast(self) -> SkyForecast:
        """The expected miss over the open sky with corrections applied."""
        return sky_forecast(self.outlook)

    @cached_property
    def causes(self) -> ResultRows[Cause]:
        """What the log shows to be wrong, best supported first; none where figures say nothing.

        Each that a step of the advice cures names that step.
        """
        return ResultRows.of(Cause, with_steps(self._found_causes, self.advice))

    @cached_property
    def _found_causes(self) -> tuple[Cause, ...]:
        if not self.figures.stops:
            return causes(self._case)
        fault = self.alignment_fault
        return () if fault is None else (alignment_cause(fault, self.realign_on),)

    @cached_property
    def lean(self) -> Lean:
        """The lean of the azimuth axis."""
        return lean_of(self.solution.posterior)

    @cached_property
    def sky_evidence(self) -> SkyEvidence | None:
        """What names, times and place say of the controller's entries, where the log has them."""
        if not _entries_show(self.log):
            return None
        from pointmodel.diagnosis.skyevidence import sky_evidence

        return sky_evidence(self.log, self.solution.posterior)

    def stale(self) -> bool:
        """Whether commands noted long before the centring explain what no mount does."""
        suspects = () if self.sky_evidence is None else self.sky_evidence.suspects
        return any(one.cause == "stale_command" and one.probability > EVENS for one in suspects)

    @cached_property
    def _case(self) -> Case:
        posterior = self.solution.posterior
        table = {term.name: term for term in self.term_estimates}
        return Case(
            findings=self.sparse_findings,
            loose_probability=self._loose_probability,
            sigma_arcmin=self.noise.sigma_arcmin,
            sigma_high_arcmin=self.noise.high,
            set_aside=self.set_aside,
            forecasts=self.forecasts,
            mount=self.log.mount,
            slip_after_line=next((t.after_line for t in self.term_estimates if t.after_line), None),
            inseparable=bool(self.inseparable),
            table=table,
            lean=self.lean,
            together=azimuth_together(self.model, posterior.covariance, table),
            pairs_used=self.pairs_used,
            sky=self.sky_evidence,
            alignment=alignment_words(self.log.mount.alignment.stars or ()),
            true_places=self.log.clock_cleared_by in ("almanac", "camera"),
            happened=self.happened,
            feet_wait=self._feet_wait,
            fault=self.alignment_fault,
            realign_on=self.realign_on if self.log.mount.lean_is_hidden else None,
        )

    @property
    def _feet_wait(self) -> str | None:
        """Why no foot may be turned yet, None where one may."""
        if self.figures.feet_wait is not None:
            return FIGURES_FIRST
        return ALIGNMENT_FIRST if self.log.mount.alignment.state == "unknown" else None

    @cached_property
    def alignment_fault(self) -> AlignmentFault | None:
        """What went wrong when the controller was aligned before the log, where that shows."""
        figures = self.figures
        if not self.log.mount.lean_is_hidden or (figures.stops and not figures.fits_no_mount):
            return None
        from pointmodel.diagnosis.alignmentfault import alignment_fault

        if not figures.fits_no_mount:
            sigmas = np.quantile(self.segments[0][1].posterior.draws_sigma, EVEN_QUANTILES)
            return alignment_fault(self.log, ~self.pair_results.set_aside, sigmas)
        # an altitude zero that came of a wrong star is like no mount; the log is judged by itself
        every = np.ones(len(self.log), dtype=bool)
        fault = alignment_fault(self.log, every, USUAL_SIGMAS_ARCMIN)
        return None if fault is None or fault.place is None else fault

    @cached_property
    def realign_on(self) -> tuple[str, str] | None:
        """The names of two stars to align on now, where site and time are known."""
        times = self.log.time_s[np.isfinite(self.log.time_s)]
        if not times.size or self.log.mount.observer is None:
            return None
        from pointmodel.forecasting.realignstars import best_named_pair

        learns_zero = self.log.mount.alignment.solves in ("altitude_zero", "full")
        kind: StarFixKind = "altitude_zero" if learns_zero else "rotation"
        return best_named_pair(self.outlook, self.log.mount, float(times.max()), kind)

    @cached_property
    def _figures(self) -> Readings:
        """What the figures mean; what explains them where no mount does is said in its place."""
        if not self.figures.fits_no_mount:
            return self.figures
        text = self._behind_no_mount
        if text is None:
            return self.figures
        return replace(
            self.figures,
            findings=tuple(
                replace(one, text=text) if one.finding == "fits_no_mount" else one
                for one in self.figures.findings
            ),
        )

    @property
    def _behind_no_mount(self) -> str | None:
        """What explains figures that no mount could have made: an alignment, a wrong entry."""
        fault, sky = self.alignment_fault, self.sky_evidence
        if fault is not None:
            return f"{fault_words(fault)} {realign_words(self.realign_on)}"
        if sky is None or sky.correction is None:
            return None
        return f"{sky.correction} {ENTRY_FIRST}"

    @cached_property
    def readings(self) -> Readings:
        """What the figures mean, with the one question to the owner where its answer matters."""
        return replace(self._figures, question=self._figures.question or self.advice.question)

    @cached_property
    def sparse_findings(self) -> tuple[FaultFinding, ...]:
        """How probable each fault is, and how large."""
        return sparse.findings(self.solution.candidate.result, self.solution.posterior)

    @property
    def _loose_probability(self) -> float:
        sigma = np.hypot(
            self.solution.posterior.draws_sigma, self.log.mount.optics.centring_error_arcmin or 0.0
        )
        return float(np.mean(sigma > LOOSE_SIGMA_ARCMIN))

    @property
    def summary(self) -> str:
        """One sentence: what to do first, and what it gains."""
        return self.advice.headline

    @cached_property
    def advice(self) -> Advice:
        """The one verdict: what to do, and what go-to is after each step."""
        return advise(self.grounds())

    def grounds(self, clock_cleared_by: str | None = None) -> Grounds:
        """Return what the verdict rests on.

        `clock_cleared_by` "check" says that the controller's clock and site were found to agree
        with the stars; left out, the log itself is asked, and the mount file. Raises InputError for
        any other word.
        """
        mount = self.log.mount
        return Grounds(
            mount=mount,
            posterior=self.solution.posterior,
            lean=self.lean,
            ground=self.ground,
            forecasts=self.forecasts,
            causes=self._found_causes,
            lines_set_aside=tuple(pair.line for pair in self.set_aside),
            pairs_used=self.pairs_used,
            happened=self.happened,
            readings=self._figures,
            sky=self.sky_evidence,
            cleared=cleared_by(self.log, self.sky_evidence, clock_cleared_by),
            fault=self.alignment_fault,
            realign_on=lambda: self.realign_on,
            level_order=lambda: level_order(self.lean, *self._feet_to_turn),
            pressed_each_line=self._pressed_each_line,
            targets=self.targets,
        )

    @cached_property
    def _feet_to_turn(self) -> tuple[tuple[FootOrder, ...], Stand]:
        return feet_to_turn(self.log.mount.feet, self.solution.posterior, self.model)

    @property
    def _pressed_each_line(self) -> bool:
        """Whether “this is the star” was pressed after every line, but perhaps the last."""
        if any(one.finding.startswith("synced_after") for one in self.figures.taken_up):
            return True
        presses = sum(len(part.pressed) for part in self.parts)
        return presses >= max(len(self.log) - 1, 1)

    @cached_property
    def levelling(self) -> LevelResult:
        """Whether to level the base, realign or leave it."""
        return level_verdict(self.setting, self.grounds(), self.advice)

    @property
    def setting(self) -> Setting:
        """What goes with a verdict on levelling."""
        return Setting(
            inputs=self.inputs,
            warnings=(*figures_read_notices(self._figures), *self.warnings),
            log=self.log,
            sigma_arcmin=self.noise.sigma_arcmin,
            expected=self.outlook,
        )

    @property
    def inputs(self) -> tuple[str, ...]:
        """Paths that the fit was made from: the log's, the mount file's; "-" for stdin.

        What came from memory (a frame, a dict) has no path and is left out.
        """
        sources = (self.log.source, self.log.mount.source)
        return tuple(str(s) for s in sources if s is not None and not str(s).startswith("<"))

    def aim(self, az_deg: Any, alt_deg: Any) -> tuple[FloatArray, FloatArray]:
        """Return what to command, degrees, so that these directions end up centred.

        Directions stand in the frame of the log's `commanded`; arrays of any shape that broadcast.
        Raises InputError where no reading reaches a direction (too near the mount's own zenith),
        and for altitudes beyond ±90°.

        >>> import numpy as np
        >>> import pointmodel as pm
        >>> fit = pm.fit(pm.simulate(seed=1, terms={"altitude_index": 30.0}).log)
        >>> az_deg, alt_deg = fit.aim(np.array([10.0, 200.0]), 45.0)
        >>> (alt_deg > 45.0).tolist()
        [True, True]
        """
        az, alt = np.broadcast_arrays(np.asarray(az_deg, float), np.asarray(alt_deg, float))
        _check_directions(az, alt)
        command_az, command_alt, reachable = readings_for(self.model, az.ravel(), alt.ravel())
        if not reachable.all():
            raise InputError(
                Problem("<targets>", None, None, f"azimuth {a:.2f}°, altitude {h:.2f}°", _ZENITH)
                for a, h in zip(az.ravel()[~reachable], alt.ravel()[~reachable], strict=True)
            )
        return command_az.reshape(az.shape), command_alt.reshape(az.shape)

    def expected_at(self, az_deg: FloatArray, alt_deg: FloatArray) -> Outlook:
        """Return the outlook for given targets (k,), degrees, in place of the open sky."""
        return at_targets(self.outlook, az_deg, alt_deg)

    @property
    def terms(self) -> pd.DataFrame:
        """The terms as a frame, index = term name."""
        from pointmodel.fitting.frames import terms_frame

        return terms_frame(self.term_estimates)

    @property
    def pairs(self) -> pd.DataFrame:
        """One row a pair, index = the frame's own where the log was one, else line of the log."""
        from pointmodel.fitting.frames import pairs_frame

        return pairs_frame(self.pair_results, self.as_written)

    @property
    def forecast(self) -> pd.DataFrame:
        """The forecasts as a frame, index = remedy."""
        from pointmodel.fitting.frames import forecast_frame

        return forecast_frame(self.forecasts)

    @cached_property
    def lmfit(self) -> ModelResult:
        """The final model run through lmfit: data, best fit, residuals in arcminutes on the sky.

        Parameters bear the terms' names; standard errors are those of the stated noise.
        """
        if self.asked is not None:
            return self.asked.result
        from pointmodel.fitting.asked import chosen_by_lmfit

        return chosen_by_lmfit(self.solution, self.last_segment)

    def to_dict(self) -> dict[str, Any]:
        """Return the fit document: plain types only, equal to the command's JSON."""
        from pointmodel.fitting.document import fit_document

        return fit_document(self)

    def report(self, path: str | Path, scheme: Scheme = "auto") -> Path:
        """Write the report page; returns its path. Replaces only a page of its own log.

        `scheme` is what it opens in: day, dark, red, or auto.
        """
        from pointmodel.fitting.page import write_report
        from pointmodel.reading.whichlog import identity

        return write_report(self, Path(path), scheme, identity(self.as_written))

    def residuals(self, path: str | Path) -> Path:
        """Write every line with its residuals as CSV; returns the path.

        Replaces only a file of its own making.
        """
        from pointmodel.fitting.pairtable import write_residuals

        return write_residuals(self, Path(path))

    def save(self, path: str | Path) -> Path:
        """Write the fit document with the log in it, so that `load_fit` can bring the fit back."""
        from pointmodel.fitting.saved import save_fit

        return save_fit(self, Path(path))

    def __str__(self) -> str:
        """Return the command's text."""
        from pointmodel.fitting.text import fit_text

        return fit_text(self)

    def __repr__(self) -> str:
        """Return a few lines: what matters first. `str` gives all of it."""
        from pointmodel.fitting.card import fit_card
        from pointmodel.showing.cards import brief

        return brief(fit_card(self))

    def _repr_html_(self) -> str:
        """Return the same as a card for a notebook."""
        from pointmodel.fitting.card import fit_html

        return fit_html(self)


def _entries_show(log: NightLog) -> bool:
    """Whether commanded places betray what the controller was told.

    That needs names, times and the site, places that no alignment has turned, and figures that the
    controller worked out from its clock.
    """
    if log.mount.lean_is_hidden or log.mount.place_deg is None or not log.shows_entries:
        return False
    timed = np.isfinite(log.time_s) | np.isfinite(log.commanded_time_s)
    return any(name and here for name, here in zip(log.target, timed.tolist(), strict=True))


def alignment_words(stars: tuple[str, ...]) -> str | None:
    """Return how good a choice the stars of an alignment were, None without one."""
    if len(stars) < 2:
        return None
    from pointmodel.diagnosis.alignmentstars import alignment_star_words

    return alignment_star_words(stars)


_ZENITH = "a direction farther from the mount's own zenith: no reading reaches this one"


def _check_directions(az_deg: FloatArray, alt_deg: FloatArray) -> None:
    wrong = ~(np.isfinite(az_deg) & np.isfinite(alt_deg) & (np.abs(alt_deg) <= 90.0))
    if wrong.any():
        raise InputError(
            Problem("<targets>", None, None, f"azimuth {a}, altitude {h}", "degrees, −90 to 90 up")
            for a, h in zip(az_deg[wrong], alt_deg[wrong], strict=True)
        )
